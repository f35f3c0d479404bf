"""A new study: a site file with every key explained, and sheets ready for the field."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..errors import InputError, Mistake
from ..files import shown_path
from .schema import LISTS, PART_KINDS, SECTIONS, Key

__all__ = ["write_new_study"]

# What a new study starts with: the least that gives an answer today. Everything else is there, out-commented.
_START = {
    "metric": {
        "site": {"name": '"My creek"', "place": '"where it is"', "stage_of_work": '"existing"', "altitude": '"400 m"', "water_temperature": '"8 degC"', "display": '"metric"', "currency": '"money"'},
        "stream": {"gaugings": '"gaugings.csv"'},
        "penstock": {"static_pressure": '"4.5 bar ± 0.1 bar"', "length": '"250 m ± 10 m"', "entry": "1.5"},
        "penstock.pipe": {"size": '"PVC-U PN 10 110 mm"'},
        "turbine": {"kind": '"pelton"', "jets": "2", "jet_kind": '"conical nozzle"', "jet_diameter": '"14 mm"'},
        "generator": {"kind": '"permanent magnet"', "water_to_wire": '"55 % ± 5 %"'},
        "reading": [
            {"jets": "0", "pressure": '"4.5 bar"'},
            {"jets": "1", "pressure": '"4.4 bar"', "volts": '"230 V"', "amps": '"4.2 A"', "spilling": "true"},
            {"jets": "2", "pressure": '"4.1 bar"', "volts": '"230 V"', "amps": '"7.6 A"', "spilling": "true"},
        ],
    },
    "us": {
        "site": {"name": '"My creek"', "place": '"where it is"', "stage_of_work": '"existing"', "altitude": '"1300 ft"', "water_temperature": '"46 degF"', "display": '"us"', "currency": '"money"'},
        "stream": {"gaugings": '"gaugings.csv"'},
        "penstock": {"static_pressure": '"65 psi ± 1 psi"', "length": '"800 ft ± 30 ft"', "entry": "1.5"},
        "penstock.pipe": {"size": '"4 in PVC Sch 40"'},
        "turbine": {"kind": '"pelton"', "jets": "2", "jet_kind": '"conical nozzle"', "jet_diameter": '"0.5 in"'},
        "generator": {"kind": '"permanent magnet"', "water_to_wire": '"55 % ± 5 %"'},
        "reading": [
            {"jets": "0", "pressure": '"65 psi"'},
            {"jets": "1", "pressure": '"64 psi"', "volts": '"120 V"', "amps": '"7 A"', "spilling": "true"},
            {"jets": "2", "pressure": '"62 psi"', "volts": '"120 V"', "amps": '"13.2 A"', "spilling": "true"},
        ],
    },
}  # fmt: skip

_HEAD = """# The site file of a study. Every key hydrokit knows stands here; those behind a # are not used yet.
# Values carry their unit in quotes: "42 m", "138 ft", "350 gpm", "4.5 bar", "72 psi", "95 %".
# After ± (or +/-) stands one standard deviation: "46.2 m ± 0.3 m".
# Write behind each value how it was measured; you will want to know in a year.
# The numbers below are examples. Replace them by yours, then: hydrokit check, hydrokit run.
"""

_SHEETS = {
    "gaugings.csv": {
        "metric": "# One line a gauging. Stage may stay empty. Uncertainty: one standard deviation; empty takes the usual of the method.\n"
        "# The line below is an example: replace it.\ndate, stage [m], flow [L/s], uncertainty [%], method, ice\n2026-06-01, , 8.4, 4, bucket, no\n",
        "us": "# One line a gauging. Stage may stay empty. Uncertainty: one standard deviation; empty takes the usual of the method.\n"
        "# The line below is an example: replace it.\ndate, stage [ft], flow [gpm], uncertainty [%], method, ice\n2026-06-01, , 130, 4, bucket, no\n",
    },
    "sheet_bucket.csv": {
        "metric": "# Bucket: at least three fills. Name it in site.toml: [stream] bucket = \"sheet_bucket.csv\"\nvolume [L], time [s]\n",
        "us": "# Bucket: at least three fills. Name it in site.toml: [stream] bucket = \"sheet_bucket.csv\"\nvolume [gal], time [s]\n",
    },
    "sheet_current_meter.csv": {
        "metric": "# Current meter: from bank to bank, edges with depth 0. [stream] current_meter = \"sheet_current_meter.csv\"\ndistance [m], depth [m], velocity [m/s]\n",
        "us": "# Current meter: from bank to bank, edges with depth 0. [stream] current_meter = \"sheet_current_meter.csv\"\ndistance [ft], depth [ft], velocity [ft/s]\n",
    },
    "sheet_salt.csv": {
        "metric": "# Salt: a reading every 5 s from before the salt comes until it has passed. [stream] salt, salt_mass, salt_background\ntime [s], conductivity [uS/cm]\n",
        "us": "# Salt: a reading every 5 s from before the salt comes until it has passed. [stream] salt, salt_mass, salt_background\ntime [s], conductivity [uS/cm]\n",
    },
    "sheet_penstock.csv": {
        "metric": "# Survey: first station is the water level, last the jets. [penstock] profile = \"sheet_penstock.csv\"\nchainage [m], elevation [m]\n",
        "us": "# Survey: first station is the water level, last the jets. [penstock] profile = \"sheet_penstock.csv\"\nchainage [ft], elevation [ft]\n",
    },
    "sheet_log.csv": {
        "metric": "# Log: whenever you pass the powerhouse. [readings] log = \"sheet_log.csv\"\ntime, jets, pressure [bar], volts [V], amps [A], spilling, needle, air [degC], note\n",
        "us": "# Log: whenever you pass the powerhouse. [readings] log = \"sheet_log.csv\"\ntime, jets, pressure [psi], volts [V], amps [A], spilling, needle, air [degF], note\n",
    },
}  # fmt: skip


def write_new_study(path: Any, units: str = "metric") -> None:
    """Write a new study's folder: site file and field sheets. It passes the check as it stands.

    Parameters
    ----------
    path : path
        A folder that does not exist yet, or is empty.
    units : {"metric", "us"}

    Raises
    ------
    InputError
        The folder holds something already, or cannot be written.
    """
    folder = Path(path)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(Mistake(shown_path(folder), "", "is there already and not empty; choose a new name"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "site.toml").write_text(site_text(units), encoding="utf-8", newline="\n")
        for name, text in _SHEETS.items():
            (folder / name).write_text(text[units], encoding="utf-8", newline="\n")
    except OSError as error:
        raise InputError(Mistake(shown_path(folder), "", f"cannot be written ({error.strerror or error})")) from None


def site_text(units: str = "metric") -> str:
    """The site file of a new study, every key with its line of explanation."""
    start = _START[units]
    blocks = [_HEAD]
    for name, keys in SECTIONS.items():
        if keys:
            blocks.append(_block(f"[{name}]", keys, start.get(name)))
        for full in (each for each in LISTS if each.startswith(name + ".")):
            blocks.append(_block(f"[[{full}]]", LISTS[full], start.get(full)))
    for name in (each for each in LISTS if "." not in each):
        given = start.get(name)
        if name == "part":
            blocks += [_block("[[part]]", {"kind": Key("text", "what it is", f'"{kind}"'), "name": LISTS["part"]["name"], **keys}, None) for kind, keys in PART_KINDS.items()]
        elif isinstance(given, list):
            blocks += [_block(f"[[{name}]]", LISTS[name] if not number else {}, values) for number, values in enumerate(given)]
        else:
            blocks.append(_block(f"[[{name}]]", LISTS[name], None))
    return "\n".join(blocks)


def _block(title: str, keys: dict[str, Key], given: dict[str, str] | None) -> str:
    """One section: the keys in use, then the others behind a #; wholly behind # where none is used."""
    if given is None:
        lines = [f"# {title}"] + [f"# {key} = {about.example or '...'}  # {about.about}" for key, about in keys.items()]
        return "\n".join(lines) + "\n"
    lines = [title]
    for key, value in given.items():
        about = f"  # {keys[key].about}" if key in keys else ""
        lines.append(f"{key} = {value}{about}")
    lines += [f"# {key} = {about.example or '...'}  # {about.about}" for key, about in keys.items() if key not in given]
    return "\n".join(lines) + "\n"
