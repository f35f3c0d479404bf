"""Texts with which a new study begins: the keys of its first sections, and its sheets."""

from __future__ import annotations

from typing import Any

__all__ = ["SHEETS", "START"]

# What a new study starts with: the least that gives an answer today. Everything else is there, out-commented.
START: dict[str, dict[str, Any]] = {
    "metric": {
        "site": {
            "name": '"My creek"',
            "place": '"where it is"',
            "stage_of_work": '"existing"',
            "altitude": '"400 m"',
            "water_temperature": '"8 degC"',
            "display": '"metric"',
            "currency": '"money"',
        },
        "stream": {"gaugings": '"gaugings.csv"'},
        "penstock": {
            "static_pressure": '"4.5 bar ± 0.1 bar"',
            "length": '"250 m ± 10 m"',
            "entry": "1.5",
        },
        "penstock.pipe": {"size": '"PVC-U SDR 21 110 mm"'},
        "turbine": {
            "kind": '"pelton"',
            "jets": "2",
            "jet_kind": '"conical nozzle"',
            "jet_diameter": '"14 mm"',
        },
        "generator": {"kind": '"permanent magnet"', "water_to_wire": '"55 % ± 5 %"'},
        "reading": [
            {"jets": "0", "pressure": '"4.5 bar"'},
            {
                "jets": "1",
                "pressure": '"4.4 bar"',
                "volts": '"230 V"',
                "amps": '"4.2 A"',
                "spilling": "true",
            },
            {
                "jets": "2",
                "pressure": '"4.1 bar"',
                "volts": '"230 V"',
                "amps": '"7.6 A"',
                "spilling": "true",
            },
        ],
    },
    "us": {
        "site": {
            "name": '"My creek"',
            "place": '"where it is"',
            "stage_of_work": '"existing"',
            "altitude": '"1300 ft"',
            "water_temperature": '"46 degF"',
            "display": '"us"',
            "currency": '"money"',
        },
        "stream": {"gaugings": '"gaugings.csv"'},
        "penstock": {
            "static_pressure": '"65 psi ± 1 psi"',
            "length": '"800 ft ± 30 ft"',
            "entry": "1.5",
        },
        "penstock.pipe": {"size": '"4 in PVC Sch 40"'},
        "turbine": {
            "kind": '"pelton"',
            "jets": "2",
            "jet_kind": '"conical nozzle"',
            "jet_diameter": '"0.5 in"',
        },
        "generator": {"kind": '"permanent magnet"', "water_to_wire": '"55 % ± 5 %"'},
        "reading": [
            {"jets": "0", "pressure": '"65 psi"'},
            {
                "jets": "1",
                "pressure": '"64 psi"',
                "volts": '"120 V"',
                "amps": '"7 A"',
                "spilling": "true",
            },
            {
                "jets": "2",
                "pressure": '"62 psi"',
                "volts": '"120 V"',
                "amps": '"13.2 A"',
                "spilling": "true",
            },
        ],
    },
}


SHEETS = {
    "gaugings.csv": {
        "metric": "# One line a gauging. Stage may stay empty. Uncertainty: one standard deviation; "
        "empty takes the usual of the method.\n"
        "# The line below is an example: replace it.\ndate, stage [m], flow [L/s], "
        "uncertainty [%], method, ice\n2026-06-01, , 8.4, 4, example, no\n",
        "us": "# One line a gauging. Stage may stay empty. Uncertainty: one standard deviation; "
        "empty takes the usual of the method.\n"
        "# The line below is an example: replace it.\ndate, stage [ft], flow [gpm], "
        "uncertainty [%], method, ice\n2026-06-01, , 130, 4, example, no\n",
    },
    "sheet_bucket.csv": {
        "metric": (
            "# Bucket: at least three fills; the day, and the stage where one was read, in the "
            "first row of a visit. Name it in site.toml: [stream] bucket = "
            '"sheet_bucket.csv"\ndate, stage [m], volume [L], time [s]\n'
        ),
        "us": (
            "# Bucket: at least three fills; the day, and the stage where one was read, in the "
            "first row of a visit. Name it in site.toml: [stream] bucket = "
            '"sheet_bucket.csv"\ndate, stage [ft], volume [gal], time [s]\n'
        ),
    },
    "sheet_current_meter.csv": {
        "metric": (
            "# Current meter: from bank to bank, edges with depth 0. [stream] current_meter = "
            '"sheet_current_meter.csv"\ndate, stage [m], distance [m], depth [m], velocity '
            "[m/s]\n"
        ),
        "us": (
            "# Current meter: from bank to bank, edges with depth 0. [stream] current_meter = "
            '"sheet_current_meter.csv"\ndate, stage [ft], distance [ft], depth [ft], velocity '
            "[ft/s]\n"
        ),
    },
    "sheet_salt.csv": {
        "metric": (
            "# Salt: a reading every 5 s from before the salt comes until it has passed. [stream] "
            "salt, salt_mass, salt_background\ndate, stage [m], time [s], conductivity [uS/cm]\n"
        ),
        "us": (
            "# Salt: a reading every 5 s from before the salt comes until it has passed. [stream] "
            "salt, salt_mass, salt_background\ndate, stage [ft], time [s], conductivity [uS/cm]\n"
        ),
    },
    "sheet_float.csv": {
        "metric": (
            "# Floats: one row a run, spread from bank to bank. [stream] float = "
            '"sheet_float.csv", with float_section and float_bed\ndate, stage [m], length [m], '
            "time [s]\n"
        ),
        "us": (
            "# Floats: one row a run, spread from bank to bank. [stream] float = "
            '"sheet_float.csv", with float_section and float_bed\ndate, stage [ft], length [ft], '
            "time [s]\n"
        ),
    },
    "sheet_section.csv": {
        "metric": (
            "# Section the floats cross, edge to edge; more than one by their stations. [stream] "
            'float_section = "sheet_section.csv"\nstation [m], across [m], depth [m]\n'
        ),
        "us": (
            "# Section the floats cross, edge to edge; more than one by their stations. [stream] "
            'float_section = "sheet_section.csv"\nstation [ft], across [ft], depth [ft]\n'
        ),
    },
    "sheet_weir.csv": {
        "metric": (
            "# Weir plate: a head over its point or crest in each row; describe the plate under "
            '[weir]. [stream] weir = "sheet_weir.csv"\ndate, stage [m], head [mm]\n'
        ),
        "us": (
            "# Weir plate: a head over its point or crest in each row; describe the plate under "
            '[weir]. [stream] weir = "sheet_weir.csv"\ndate, stage [ft], head [in]\n'
        ),
    },
    "sheet_flood.csv": {
        "metric": (
            "# Flood marks: depth of the bed below the mark, section by section. [stream] "
            'slope_area = "sheet_flood.csv", with slope_area_manning\nstation [m], level [m], '
            "across [m], depth [m]\n"
        ),
        "us": (
            "# Flood marks: depth of the bed below the mark, section by section. [stream] "
            'slope_area = "sheet_flood.csv", with slope_area_manning\nstation [ft], level [ft], '
            "across [ft], depth [ft]\n"
        ),
    },
    "sheet_penstock.csv": {
        "metric": (
            "# Survey: first station is the water level, last the jets. [penstock] profile = "
            '"sheet_penstock.csv"\nchainage [m], elevation [m]\n'
        ),
        "us": (
            "# Survey: first station is the water level, last the jets. [penstock] profile = "
            '"sheet_penstock.csv"\nchainage [ft], elevation [ft]\n'
        ),
    },
    "sheet_log.csv": {
        "metric": (
            '# Log: whenever you pass the powerhouse. [readings] log = "sheet_log.csv"\ntime, '
            "jets, pressure [bar], volts [V], amps [A], spilling, needle, air [degC], note\n"
        ),
        "us": (
            '# Log: whenever you pass the powerhouse. [readings] log = "sheet_log.csv"\ntime, '
            "jets, pressure [psi], volts [V], amps [A], spilling, needle, air [degF], note\n"
        ),
    },
}
