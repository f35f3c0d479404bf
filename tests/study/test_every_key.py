"""Every key of the site file, moved once, changes what is answered or is spoken of: no key is silently without effect."""

from __future__ import annotations

import copy
import random
import re
import tomllib
from datetime import date

import numpy as np
import odd_studies
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.display import Cautions, Picture, Words
from hydrokit.report.pages import common
from hydrokit.report.registers import input_table, permit_table
from hydrokit.report.sketch_map import survey_parts
from hydrokit.site.places import places
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
from hydrokit.study.opening import open_study
from hydrokit.study.questions import questions

_AMOUNT = re.compile(r"^(-?\d+(?:\.\d+)?)(.*)$")
# Where a key can act at all: (odd study that has what it belongs to, sections changed first).
_BASE = {
    "diversion": ("line that runs", {}),
    "diversion.stretch": ("line that runs", {"diversion": {"inside_diameter": None, "roughness": None, "size": "PE100 SDR 17 250 mm", "stretch": [{"name": "over rock", "from": "20 m", "to": "30 m", "span": "5 m"}]}}),
    "penstock.stretch": ("plain", {"penstock": {"stretch": [{"name": "pipe bridge", "from": "60 m", "to": "70 m", "span": "2 m"}]}}),
    "penstock.bend": ("plain", {"penstock": {"bend": [{"at": "60 m", "angle": "20 deg"}]}}),
    "machine": ("several machines", {}),
    "inverter": ("heated house", {}),
    "battery": ("heated house", {"battery": {"voltage": "48 V", "charge": "300 Ah", "depth": "50 %", "efficiency": "80 %", "day_use": ["100 W"] * 20 + ["900 W"] * 4}}),
    "ballast": ("three phases", {"ballast": {"stages": 3}}),
    "room": ("heated house", {"loads": {"heated_ua": None}, "room": [{"name": "kitchen", "walls": "38 m^2", "u_walls": "0.4 W/m^2/K", "windows": "4 m^2", "u_windows": "1.6 W/m^2/K", "doors": "2 m^2", "u_doors": "2 W/m^2/K", "roof": "25 m^2", "u_roof": "0.2 W/m^2/K", "floor": "25 m^2", "u_floor": "0.5 W/m^2/K", "volume": "60 m^3", "air_changes": 0.5}]}),
    "loads.night": ("heated house", {"loads": {"heated_ua": None, "night": [{"power": "2.5 kW", "inside": "19 degC", "outside": "-6 degC", "hours": "8 h", "date": date(2026, 1, 18)}]}}),
    "circuit": ("three phases", {}),
    "transformer": ("plain", {"transformer": [{"name": "step-up", "at": "powerhouse", "rating": "10 kW", "no_load_loss": "40 W", "full_load_loss": "180 W"}]}),
    "reading": ("plain", {"reading": [{"jets": count, "pressure": f"{bar} bar", "volts": "230 V", "amps": f"{amps} A", "spilling": True} for count, bar, amps in ((2, 3.18, 12.9), (1, 3.55, 7.6), (0, 3.73, 0))]}),
    "readings.change": ("plain", {"readings": {"change": [{"date": date(2023, 8, 4), "what": "runner"}]}, "reading": [{"jets": count, "pressure": f"{bar} bar", "watts": f"{watts} W", "spilling": True, "date": date(2022, 7, 4)} for count, bar, watts in ((2, 3.18, 2960), (1, 3.55, 1750), (0, 3.73, 0))]}),
    "costs.replacement": ("plain", {"costs": {"replacement": [{"name": "bearings", "cost": 600, "every": 8}]}}),
    "operation": ("pond and visits", {"operation": {"freezes_below": "2 degC", "thaws_above": "3 degC"}}),
    "part": ("plain", {"part": [{"kind": "forebay", "name": "forebay", "area": "40 m^2", "depth": "0.5 m"}]}),
    "weir": ("plain", {"stream": {"weir": "weir.csv"}, "weir": {"kind": "v-notch", "angle": "90 deg", "channel_width": "1.5 m", "crest_height": "0.3 m", "head_uncertainty": "2 mm"}}),
    "electrical": ("plain", {"electrical": {"supply": "grid", "electrode": "40 ohm", "residual_current": "100 mA"}}),
    "safeguard": ("plain", {"safeguard": [{"subject": "guards", "status": "planned"}]}),
    "survey": ("plain", {"survey": {"points": "points.csv"}}),
    "source": ("plain", {"source": [{"of": ["penstock"], "by": "the owner"}]}),
    "permit": ("plain", {"permit": [{"subject": "building", "status": "granted"}]}),
    "stream.reach": ("plain", {"stream": {"reach": [{"name": "ditch", "above": "8.2 L/s ± 0.3 L/s", "below": "7.4 L/s ± 0.3 L/s"}]}}),
}  # fmt: skip
_SALT = {
    "stream": {
        "salt": "salt.csv",
        "salt_mass": "0.5 kg",
        "salt_background": "84 uS/cm",
        "salt_calibration": "cal.csv",
        "salt_solution": "2 g/L",
        "salt_sample": "1 L",
    }
}
_STAGED = {"stream": {"record": None, "record_uncertainty": None, "stage": "stage.csv"}}
_BASE |= {
    "stream.shift": ("plain", {"stream": _STAGED["stream"] | {"shift": [{"from": date(2022, 3, 14), "by": "-85 mm", "why": "moved"}]}}),
    "stream.gap": ("plain", {"stream": _STAGED["stream"] | {"stage": "gappy.csv", "gap": [{"from": date(2022, 5, 11), "to": date(2022, 5, 16), "why": "battery"}]}}),
    "stream.leave_out": ("plain", {"stream": _STAGED["stream"] | {"leave_out": [{"from": date(2022, 6, 2), "to": date(2022, 6, 4), "why": "silted"}]}}),
}  # fmt: skip
# The same for single keys.
KEY_BASE = {
    ("site", "coldest"): ("plain", {"stream": {"temperature": None}}),
    ("stream", "record_uncertainty"): ("plain", {}),
    ("circuit", "locked_rotor"): ("plain", {"circuit": [{"name": "pump", "power": "800 W", "kind": "motor"}]}),
    ("circuit", "starter"): ("plain", {"circuit": [{"name": "pump", "power": "800 W", "kind": "motor"}]}),
    ("ballast", "heats"): ("plain", {"ballast": {"tank": "200 L"}}),
    ("ballast", "tank"): ("plain", {"ballast": {"heats": "water"}}),
    ("circuit", "begins"): ("plain", {"circuit": [{"name": "fridge", "power": "200 W", "kind": "motor", "length": "15 m", "size": "1.5 mm2"}]}),
    ("stream", "neighbour_record"): ("transferred", {}),
    ("stream", "neighbour_catchment"): ("transferred", {"site": {"catchment": "2 km^2"}, "stream": {"neighbour_catchment": "6 km^2", "extension": "area"}}),
    ("stream", "neighbour_altitude"): ("transferred", {"site": {"catchment": "2 km^2"}}),
    ("stream", "neighbour_rainfall"): ("transferred", {"site": {"catchment": "2 km^2"}, "stream": {"neighbour_catchment": "6 km^2"}}),
    ("site", "catchment"): ("plain", {}),
    ("site", "rainfall"): ("plain", {"site": {"catchment": "2 km^2"}}),
    ("stream", "extension"): ("transferred", {}),
    ("stream", "stage"): ("plain", _STAGED),
    ("stream", "ice_stages"): ("plain", {"stream": _STAGED["stream"] | {"ice_months": [1, 2]}}),
    ("stream", "ice_months"): ("plain", _STAGED),
    ("stream", "suspect_stages"): ("plain", {"stream": _STAGED["stream"] | {"stage": "spiky.csv"}}),
    ("stream", "fill_gaps"): ("plain", {"stream": {"record": "gaps.csv", "fill_gaps": 1}}),
    ("stream", "pieces"): ("plain", {"stream": {"gaugings": "many.csv"}}),
    ("stream", "control"): ("plain", {"stream": {"gaugings": "few.csv"}}),
    ("stream", "float_section"): ("plain", {"stream": {"float": "float.csv", "float_section": "section.csv"}}),
    ("stream", "float_bed"): ("plain", {"stream": {"float": "float.csv", "float_section": "section.csv"}}),
    ("stream", "float_coefficient"): ("plain", {"stream": {"float": "float.csv", "float_section": "section.csv"}}),
    ("stream", "float"): ("plain", {"stream": {"float_section": "section.csv"}}),
    ("stream", "bucket_beside"): ("plain", {"stream": {"bucket": "bucket.csv"}}),
    ("stream", "slope_area"): ("plain", {"stream": {"slope_area_manning": "0.05 ± 0.01"}}),
    ("stream", "flood_date"): ("transferred", {"stream": {"slope_area": "flood.csv", "slope_area_manning": "0.05 ± 0.01", "flood_date": date(2022, 3, 12)}, "intake": {"weir_length": "3 m"}}),
    ("stream", "slope_area_manning"): ("plain", {"stream": {"slope_area": "flood.csv", "slope_area_manning": "0.05 ± 0.01"}}),
    ("stream", "weir"): ("plain", {"weir": {"kind": "v-notch", "angle": "90 deg"}}),
    ("stream", "lowest_known_flow"): ("thin", {}),
    ("stream", "regional_skew_error"): ("transferred", {"stream": {"regional_skew": 0.1}}),
    ("stream", "regional_skew"): ("transferred", {}),
    ("stream", "width"): ("thin", {}), ("stream", "depth"): ("thin", {"stream": {"width": "2 m", "slope": "3 %"}}), ("stream", "slope"): ("thin", {"stream": {"width": "2 m", "depth": "0.2 m"}}),
    **{("stream", key): ("plain", _SALT) for key in ("salt", "salt_mass", "salt_calibration", "salt_solution", "salt_sample", "salt_background", "salt_background_after", "salt_tail")},
    **{("loads", key): ("heated house", {}) for key in ("heated_ua", "inside_temperature", "base_power", "fuel")},
    ("loads", "stove"): ("heated house", {"loads": {"fuel": "seasoned firewood"}}),
    ("loads", "heat_need"): ("no demand", {}),
    ("intake", "weir_crest"): ("plain", {"intake": {"weir_length": "3 m", "flood": "2 m^3/s", "banks": "0.8 m"}}),
    ("intake", "banks"): ("plain", {"intake": {"weir_length": "3 m", "flood": "2 m^3/s"}}),
    ("intake", "flood"): ("plain", {"intake": {"weir_length": "3 m"}}),
    ("intake", "life"): ("transferred", {}), ("intake", "flood_risk"): ("transferred", {}),
    ("intake", "notch_width"): ("plain", {"intake": {"weir_length": "3 m", "notch_depth": "100 mm"}}),
    ("intake", "notch_depth"): ("plain", {"intake": {"weir_length": "3 m"}}),
    ("penstock", "gauge_height"): ("plain", {"penstock": {"static_pressure": "3.7 bar"}}),
    ("penstock", "gauge_zero"): ("plain", {"penstock": {"profile": None, "length": "160 m", "static_pressure": "3.7 bar", "gauge_zero": "0.1 bar"}}),
    ("penstock", "length"): ("plain", {"penstock": {"profile": None, "head": "38 m", "length": "160 m"}}),
    ("penstock", "head"): ("plain", {"penstock": {"profile": None, "head": "38 m", "length": "160 m"}}),
    ("penstock", "insulation"): ("plain", {}),
    ("penstock", "vents"): ("plain", {"penstock": {"profile": "humped.csv"}}),
    ("turbine", "design_flow"): ("francis", {}), ("turbine", "minimum_flow"): ("francis", {}), ("turbine", "cavitation"): ("francis", {}), ("turbine", "speed"): ("francis", {}),
    ("cable", "loss"): ("plain", {"cable": {"size": None}}),
    ("cable", "phases"): ("three phases", {}),
    ("readings", "log"): ("log and no record", {}),
    ("readings", "metered_at"): _BASE["reading"],
    ("reading", "needle"): ("plain", {"site": {"stage_of_work": "existing"}, "reading": [{"jets": 2, "pressure": "2.7 bar", "watts": "2100 W", "spilling": False, "date": date(2022, 7, 4)}]}),
    ("readings", "power_factor"): ("three phases", {}),
    **{("costs", key): ("plain", {"costs": {"loan_years": 15}}) for key in ("loan_rate", "loan_share", "loan_kind", "cover_p50", "cover_p90", "cover_p99")},
    ("plan", "design_flow"): ("sizing decides", {}), ("plan", "jets"): ("sizing decides", {"plan": {"design_flow": "9 L/s"}}),
    ("costs", "labour_rate"): ("plain", {"costs": {"labour_visits": 20}}),
    ("costs", "labour_visits"): ("plain", {"costs": {"labour_rate": "12 per h"}}),
    ("costs", "labour_hours"): ("plain", {"costs": {"labour_rate": "12 per h", "labour_visits": 20}}),
    ("costs", "inflation"): ("plain", {"costs": {"loan_years": 15, "loan_rate": "6 %"}}),
    ("costs", "tax_rate"): ("plain", {"costs": {"loan_years": 15}}),
    ("costs", "depreciation_years"): ("plain", {"costs": {"tax_rate": "20 %"}}),
    ("costs", "first_value"): ("plain", {"costs": {"first_energy": "900 kWh"}}),
    ("costs", "first_energy"): ("plain", {"costs": {"first_value": "0.6 per kWh"}}),
    ("costs", "visit"): ("log and no record", {}),
    ("costs", "replaces"): ("plain", {}),
    ("sizing", "aim"): ("sizing decides", {}), ("sizing", "flat_within"): ("sizing decides", {"sizing": {"flows": [f"{each / 4} L/s" for each in range(36, 61)]}}),
    ("outage", "planned_months"): ("plain", {"outage": {"planned_days": 10}}),
    ("penstock.pipe", "rating"): ("plain", {"penstock": {"pipe": [{"inside_diameter": "130 mm", "roughness": "0.01 mm"}]}}),
    ("penstock.pipe", "inside_diameter"): ("plain", {"penstock": {"pipe": [{"inside_diameter": "130 mm", "roughness": "0.01 mm"}]}}),
    ("penstock.pipe", "roughness"): ("plain", {"penstock": {"pipe": [{"inside_diameter": "130 mm", "roughness": "0.01 mm"}]}}),
    ("diversion", "rating"): ("line that runs", {"diversion": {"outlet": "gated", "rating": "0.4 bar"}}),
    ("upgrade", "capacity"): ("plain", {"intake": {"capacity": "8 L/s"}}),
    ("upgrade", "clogged"): ("plain", {"intake": {"capacity": "12 L/s", "clogged": {"october": "60 %"}}}),
    ("generator", "reactance"): ("plain", {"circuit": [{"name": "fridge", "power": "200 W", "kind": "motor", "length": "15 m", "size": "1.5 mm2"}]}),
    ("penstock.stretch", "snow"): ("plain", {"penstock": {"stretch": [{"name": "in the wood", "from": "60 m", "to": "70 m", "snow": "0.3 m"}]}}),
    ("diversion.stretch", "snow"): ("line that runs", {"diversion": {"stretch": [{"name": "in the wood", "from": "20 m", "to": "30 m", "snow": "0.3 m"}]}}),
    ("diversion", "size"): ("line that runs", {"diversion": {"inside_diameter": None, "roughness": None, "size": "PE100 SDR 17 200 mm"}}),
    ("diversion", "outlet_crest"): ("line that runs", {"diversion": {"outlet": "upturned", "outlet_crest": "302.3 m"}}),
}  # fmt: skip
_RULES = {
    "class": {"rule": "tennant", "class": "good"},
    "exceedance": {"rule": "percentile", "exceedance": "95 %"},
    "share": {"rule": "share of mean", "share": "10 %"},
}
KEY_BASE |= {
    ("rights.residual", key): ("plain", {"rights": {"residual": [rule]}})
    for key, rule in _RULES.items()
}
# Words of a list of the project's own, which a move must stay within.
_OTHER_WORD = {
    "size": ["25 mm2", "10 mm2", "PVC-U PN 10 125 mm"],
    "cable_size": ["25 mm2"],
    "lining": ["boards planed"],
    "class": ["poor"],
    "fuel": ["heating oil"],
    "pipe": ["PVC-U PN 10 160 mm"],
    "kind": ["kaplan"],
}
_GAUGED = "date,stage [m],flow [L/s],uncertainty [%],method\n"
_SHEETS = {
    "few.csv": _GAUGED + "2022-01-11,0.15,6.75,5,bucket\n2022-02-11,0.25,18.75,5,bucket\n2022-03-11,0.3,27,5,bucket\n",
    "many.csv": _GAUGED + "".join(f"2022-{1 + each // 2:02d}-{10 + each},{0.1 + 0.02 * each:.2f},{(300 if each < 8 else 420) * (0.1 + 0.02 * each) ** 2:.2f},5,bucket\n" for each in range(16)),
    "gaps.csv": "".join(line for number, line in enumerate(small_study.FILES["flow.csv"].splitlines(keepends=True)) if number not in (40, 41, 42, 43, 44, 300, 301)),
    "sheet_current_meter.csv": "distance [m],depth [m],velocity [m/s]\n0,0,0\n0.4,0.2,0.3\n0.8,0.25,0.4\n1.2,0.2,0.3\n1.6,0,0\n",
    "salt.csv": "time [s],conductivity [uS/cm]\n" + "".join(f"{5 * each},{84 + 60 * np.exp(-((each - 14) ** 2) / 40):.1f}\n" for each in range(24)),
    "cal.csv": "added [mL],conductivity [uS/cm]\n0,84\n5,104\n10,124\n15,144\n",
    "points.csv": "name,x [m],y [m]\npond,0,0\nhouse,40,90\n",
    "bucket.csv": "volume [L],time [s]\n20,2.1\n20,2.2\n20,2.0\n",
    "float.csv": "length [m],time [s]\n6,14\n6,15\n6,14.5\n",
    "section.csv": "station [m],across [m],depth [m]\n0,0,0\n0,0.8,0.25\n0,1.6,0\n6,0,0\n6,0.8,0.22\n6,1.6,0\n",
    "weir.csv": "head [mm]\n101\n102\n100\n",
    "flood.csv": "station [m],level [m],across [m],depth [m]\n" + "".join(f"{x},{10 - 0.03 * x},{across},{depth}\n" for x in (0, 12, 25) for across, depth in ((0, 0), (1, 0.6), (2, 0.7), (3, 0))),
    "stage.csv": "date,stage [m]\n" + "".join(f"{line.split(',')[0]},{(float(line.split(',')[1]) / 300) ** 0.5:.3f}\n" for line in small_study.FILES["flow.csv"].splitlines()[1:]),
    "humped.csv": "chainage [m],elevation [m]\n0,300\n2,299.3\n130,280\n163,284\n240,262\n",
    "spiky.csv": "",
    "gappy.csv": "",
    "maker.csv": "flow [%],efficiency [%]\n40,60\n80,74\n100,70\n",
    "cable_prices.csv": "size,price [money/m]\n10 mm2,4\n16 mm2,6\n25 mm2,9\n",
    "readings.csv": "date,jets,pressure [bar],volts [V],amps [A],spilling\n2022-07-04,0,3.73,230,0,yes\n2022-07-04,1,3.55,230,7.6,yes\n2022-07-04,2,3.18,230,12.9,yes\n",
}  # fmt: skip
_SHEETS["spiky.csv"] = re.sub(r"(2022-03-12),[\d.]+", r"\1,4.12", _SHEETS["stage.csv"])
_SHEETS["gappy.csv"] = re.sub(r"2022-05-1[1-6],.*\n", "", _SHEETS["stage.csv"])
_FILE_OF = {
    "current_meter": "sheet_current_meter.csv", "salt": "salt.csv", "salt_calibration": "cal.csv", "bucket": "bucket.csv", "float": "float.csv", "float_section": "section.csv", "weir": "weir.csv",
    "slope_area": "flood.csv", "stage": "stage.csv", "efficiency_table": "maker.csv", "cables": "cable_prices.csv", "file": "readings.csv", "points": "points.csv",
}  # fmt: skip
_PARTS = {
    "line": ("line that runs", None),
    "inclined screen": ("plain", {"kind": "inclined screen", "name": "it", "rating": "25 L/s", "length": "0.5 m", "width": "0.6 m", "gap": "1 mm", "wire": "1.5 mm", "slope": "45 deg"}),
    "forebay": ("plain", {"kind": "forebay", "name": "it", "area": "40 m^2", "depth": "0.5 m", "grain": "0.2 mm", "silt": "0.5 kg/m^3", "silt_depth": "0.3 m", "standpipe": "60 mm", "standpipe_fall": "1.2 m", "bank": "0.3 m"}),
}  # fmt: skip


def _everything():
    for section, keys in SECTIONS.items():
        for key in keys:
            yield (section,), key, keys[key]
    for name, keys in LISTS.items():
        for key in keys:
            if (name, key) != ("part", "kind"):
                yield (*name.split("."), 0), key, keys[key]
    for kind, keys in PART_KINDS.items():
        for key in keys:
            yield ("part", kind), key, keys[key]


CASES = {".".join(map(str, (*path, key))): (path, key, told) for path, key, told in _everything()}
_ORDER = random.Random(11).sample(sorted(CASES), len(CASES))
# In every test run; in the long tests, one key of each section, list and kind of part; all with -m deep.
OFTEN = set(_ORDER[:1])
NOW_AND_THEN = set({CASES[name][0]: name for name in reversed(_ORDER)}.values()) - OFTEN


def _merged(base, change):
    """The base with changes; None takes a key out."""
    if not isinstance(base, dict) or not isinstance(change, dict):
        return copy.deepcopy(change)
    merged = {key: copy.deepcopy(value) for key, value in base.items()}
    for key, value in change.items():
        merged[key] = _merged(merged.get(key), value)
    return {key: value for key, value in merged.items() if value is not None}


def site_of(path, key):
    """A site file in which this key can act, and the files beside it."""
    if path[0] == "part" and path[1:] and path[1] in PART_KINDS:
        name, entry = _PARTS.get(path[1], ("plain", None))
        if entry is None and path[1] != "line":
            entry = {"kind": path[1], "name": "it"} | {
                each: tomllib.loads(f"x = {told.example}")["x"]
                for each, told in PART_KINDS[path[1]].items()
                if told.required
            }
            if path[1] == "channel":
                entry |= {"width": "0.4 m", "depth": "0.4 m", "lining": "concrete"}
        change = {} if entry is None else {"part": [entry]}
    else:
        section = ".".join(each for each in path if isinstance(each, str))
        name, change = KEY_BASE.get((section, key), _BASE.get(section, ("plain", {})))
    sections, files = copy.deepcopy(odd_studies.sections_of(name))
    return _merged(_merged(small_study.SITE, sections), change), files


def moves(told, held):
    """Values to move a key to: its example and others near, other choices."""
    kind = told.kind
    if kind == "choice":
        return [each for each in told.choices if each != held]
    if kind == "yes/no":
        return [not held] if isinstance(held, bool) else [True, False]
    if kind == "months":
        return [[6, 7], [1, 2]]
    example = tomllib.loads(f"x = {told.example}")["x"] if told.example else None
    found = [example]
    for value in (held, example):
        found += [_scaled(value, by) for by in (1.25, 0.8, 1.6, 0.4)]
    return [each for each in found if each is not None and each != held]


def _other_words(key, held):
    return [each for each in _OTHER_WORD.get(key, ()) if each != held]


def _scaled(value, by):
    if isinstance(value, bool) or value is None:
        return None
    if isinstance(value, int):
        return value + (1 if by > 1 else -1)
    if isinstance(value, float):
        return value * by
    if isinstance(value, list):
        return [_scaled(each, by) for each in value]
    if isinstance(value, dict):
        return {key: _scaled(each, by) for key, each in value.items()}
    if isinstance(value, date):
        return date(value.year - 1, value.month, value.day)
    if isinstance(value, str):
        amount = _AMOUNT.match(value.split("±")[0].strip())
        return f"{float(amount[1]) * by:.6g}{amount[2]}" if amount else f"another {value}"
    return value


def speaks(study):
    """What a study says, in layers from quick to slow: answers and findings first, then every page, section by section."""
    yield repr((study.results(), sorted(map(str, study.findings()))))
    yield repr(
        [
            (key, study.answer(key).value, study.answer(key).low, study.answer(key).high)
            for key in questions()
            if study.answer(key) is not None
        ]
    )
    yield str(common.understood(study, study.view()))
    yield str(permit_table(study))
    yield str(input_table(study))
    yield "".join(getattr(each, "text", "") for each in survey_parts(study, study.view()))
    for _, _, section in small_study.page_sections():
        shown = section(study, study.view())
        assert isinstance(shown, (Words, Picture, Cautions)) or hasattr(shown, "rows")
        yield (
            shown.text
            if isinstance(shown, Words)
            else shown.alt
            if isinstance(shown, Picture)
            else repr(shown)
        )


def written(folder, site, files):
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (
        small_study.FILES | _SHEETS | {f"{name}.csv": text for name, text in files.items()}
    ).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    (folder / "site.toml").write_text(small_study.toml(site), encoding="utf-8")
    return folder


def place_of(site, path):
    """The section or entry a key stands in, made where it is not there."""
    if path[0] == "part" and len(path) > 1 and isinstance(path[1], str):
        return next(each for each in site["part"] if each["kind"] == path[1])
    held = site
    for step in path:
        if step == 0:
            continue
        if isinstance(held, list):
            held = held[0]
        if step not in held:
            held[step] = [{}] if path[-1] == 0 and step == path[-2] else {}
        held = held[step]
    return held[0] if isinstance(held, list) else held


@pytest.fixture(scope="module")
def said_before(tmp_path_factory):
    """What is said before a move, layer by layer, worked out once for all keys that stand in the same site file."""
    held = {}

    def said(site, files):
        name = repr((site, files))
        if name not in held:
            study = open_study(written(tmp_path_factory.mktemp("before"), site, files))
            study.read()
            held[name] = ([], speaks(study))
        return held[name]

    return said


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(
            name,
            marks=()
            if name in OFTEN
            else pytest.mark.slow
            if name in NOW_AND_THEN
            else pytest.mark.deep,
        )
        for name in sorted(CASES)
    ],
)
def test_a_key_acts_or_is_spoken_of(tmp_path, said_before, name):
    path, key, told = CASES[name]
    site, files = site_of(path, key)
    held = place_of(site, path).get(key)
    first, layers = said_before(site, files)
    tried = []
    if told.kind == "file":
        candidates = [_FILE_OF.get(key, held)]
    else:
        candidates = _other_words(key, held) + moves(told, held)
    for number, value in enumerate(candidates):
        other = copy.deepcopy(site)
        place_of(other, path)[key] = value
        folder = written(tmp_path / f"after{number}", other, files)
        if told.kind == "file" and value == held:  # another content instead of another name
            lines = (folder / held).read_text(encoding="utf-8").splitlines(keepends=True)
            kept = lines[: -max(1, len(lines) // 3)]  # one line of a long record changes little
            (folder / held).write_text("".join(kept), encoding="utf-8")
        try:
            after = open_study(folder)
            after.read()
        except InputError as error:
            tried.append(f"{value!r}: {error}")
            continue
        for level, layer in enumerate(speaks(after)):
            if level == len(first):
                first.append(next(layers))
            if layer != first[level]:
                return
        tried.append(f"{value!r}: nothing moved")
    refused = [each for each in tried if not each.endswith("nothing moved")]
    assert (
        tried
        and len(refused) == len(tried)
        and any(key in each or str(held) in each for each in refused)
    ), f"{name}: no page, answer or finding knows of it: {tried}"


def test_no_key_of_the_schema_is_left_out():
    """The cases come from the schema itself; of every section and kind of part one is moved in the long tests."""
    told = {(each.part or each.section, each.name) for each in places()} - {("part", "kind")}
    of_a_case = {(path[-1] if path[0] == "part" and len(path) > 1 and path[-1] != 0 else ".".join(each for each in path if each != 0), key) for path, key, _ in CASES.values()}  # fmt: skip
    assert of_a_case == told and len(CASES) > 400
    assert {CASES[name][0] for name in NOW_AND_THEN | OFTEN} == {
        path for path, _, _ in CASES.values()
    }


@pytest.mark.slow
def test_nothing_is_moved_where_no_key_is(tmp_path, said_before):
    """The comparison above can fail: the same site file in another folder says the same, to the last page."""
    site, files = site_of(("turbine",), "jets")
    first, layers = said_before(site, files)
    again = list(speaks(open_study(written(tmp_path / "again", site, files))))
    first.extend(layers)
    assert first == again
