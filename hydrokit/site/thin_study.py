"""A new study for one case: the few keys that matter there, each example value marked until it is
replaced."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta
from itertools import islice
from pathlib import Path

from ..errors import Finding
from ..sentences import series_text
from .example_units import example_in
from .schema import LISTS, SECTIONS

__all__ = ["CASES", "MARK", "examples_left", "thin_files"]

MARK = "example: replace"
_LINES_READ = 200  # of a file in which marks are looked for: an example has no more

# Section (behind it which entry of a list) and key -> its value in metric and in US units; one
# value where they are alike.
_Rows = list[tuple[str, str, tuple[str, ...]]]
_SITE: _Rows = [
    ("[site]", "name", ('"My creek"',)),
    ("[site]", "altitude", ('"400 m"', '"1300 ft"')),
]
_PIPE: _Rows = [
    ("[penstock]", "length", ('"250 m ± 10 m"', '"800 ft ± 30 ft"')),
    ("[[penstock.pipe]]", "size", ('"PVC-U SDR 21 110 mm"', '"4 in PVC Sch 40"')),
]
_JETS: _Rows = [
    ("[turbine]", "kind", ('"pelton"',)),
    ("[turbine]", "jets", ("2",)),
    ("[turbine]", "jet_diameter", ('"14 mm"', '"0.5 in"')),
]
_GAUGE: _Rows = [
    ("[penstock]", "static_pressure", ('"4.5 bar ± 0.1 bar"', '"65 psi ± 1 psi"')),
    *_PIPE,
    *_JETS,
    ("[[reading]] shut", "jets", ("0",)),
    ("[[reading]] shut", "pressure", ('"4.5 bar"', '"65 psi"')),
    ("[[reading]] running", "jets", ("2",)),
    ("[[reading]] running", "pressure", ('"4.1 bar"', '"62 psi"')),
    ("[[reading]] running", "volts", ('"230 V"', '"120 V"')),
    ("[[reading]] running", "amps", ('"7.6 A"', '"13.2 A"')),
    ("[[reading]] running", "spilling", ("true",)),
]
_PLANNED: _Rows = [
    ("[penstock]", "head", ('"46 m ± 0.5 m"', '"150 ft ± 2 ft"')),
    *_PIPE,
    *_JETS,
    ("[loads]", "demand", ('"500 kWh"',)),
    ("[costs]", "value", ('"0.25 per kWh"',)),
]
# Case -> whether the plant exists, what it is for, and its keys.
CASES: dict[str, tuple[str, str, _Rows]] = {
    "gauge-only": (
        "existing",
        "A plant that runs, a pressure gauge, and one bucket",
        [*_SITE, ("[stream]", "bucket", ('"sheet_bucket.csv"',)), *_GAUGE],
    ),
    "planned": (
        "planned",
        "A plant that is planned, and a few gaugings",
        [*_SITE, ("[stream]", "gaugings", ('"gaugings.csv"',)), *_PLANNED],
    ),
    "neighbour": (
        "planned",
        "A plant that is planned, a short record of the creek, and a long one of a creek nearby",
        [
            *_SITE,
            ("[site]", "catchment", ('"9 km^2"', '"3.5 mi^2"')),
            ("[stream]", "record", ('"flow.csv"',)),
            ("[stream]", "neighbour_record", ('"neighbour.csv"',)),
            ("[stream]", "neighbour_catchment", ('"38 km^2"', '"15 mi^2"')),
            *_PLANNED,
        ],
    ),
    "log": (
        "existing",
        "A plant that runs and has a log of its readings",
        [*_SITE, *_GAUGE, ("[readings]", "log", ('"sheet_log.csv"',))],
    ),
}
_HEAD = """# {title}: the keys that matter first. hydrokit explain KEY tells of each, and of all others.
# Values carry their unit in quotes; behind ± stands one standard deviation.
# Put your own value for each example, and take "# example: replace" away with it; hydrokit check lists what is left.
"""


def thin_files(case: str, units: str) -> dict[str, str]:
    """The site file of a case and the sheets it names: file name to text.

    Parameters
    ----------
    case : str
        One of :data:`CASES`.
    units : {"metric", "us"}
        Of the examples.
    """
    named = {values[0].strip('"') for _, _, values in CASES[case][2]}
    sheets = {name: text for name, text in _sheets(units).items() if name in named}
    return {"site.toml": _site_text(case, units), **sheets}


def _site_text(case: str, units: str) -> str:
    work, title, rows = CASES[case]
    by_section: dict[str, list[str]] = {"[site]": []}
    for section, key, values in rows:
        value = values[-1] if units == "us" else values[0]
        keys = {**SECTIONS, **LISTS}[section.split()[0].strip("[]")]
        meaning = example_in(keys[key].meaning, units)
        file = keys[key].kind == "file"
        mark = "" if file else f"  # {MARK}"
        by_section.setdefault(section, []).append(
            f"{key} = {value}{mark}; {meaning}" if mark else f"{key} = {value}  # {meaning}"
        )
    by_section["[site]"] += [f'stage_of_work = "{work}"', f'display = "{units}"']
    return _HEAD.format(title=title) + "".join(
        f"\n{section.split()[0]}\n" + "\n".join(lines) + "\n"
        for section, lines in by_section.items()
    )


def _sheets(units: str) -> dict[str, str]:
    us = units == "us"
    flow, factor = ("gpm", 15.85) if us else ("L/s", 1.0)
    return {
        "sheet_bucket.csv": (
            f"# {MARK} these fills; the day, and the stage where one was read, in the first row "
            "of a visit\n"
        )
        + (
            "date,stage [ft],volume [gal],time [s]\n2026-06-01,,5,2.3\n,,5,2.2\n,,5,2.4\n"
            if us
            else "date,stage [m],volume [L],time [s]\n2026-06-01,,20,2.4\n,,20,2.3\n,,20,2.5\n"
        ),
        "gaugings.csv": f"# {MARK} these gaugings; the stage may stay empty\n"
        + (
            "date,stage [ft],flow [gpm],method\n2026-03-14,,220,bucket\n2026-08-30,,80,bucket\n"
            if us
            else "date,stage [m],flow [L/s],method\n2026-03-14,,14,bucket\n2026-08-30,,5,bucket\n"
        ),
        "flow.csv": _record(date(2024, 10, 1), 365, f"flow [{flow}]", 14 * factor, 0.0),
        "neighbour.csv": _record(date(2020, 10, 1), 5 * 365, f"flow [{flow}]", 60 * factor, 0.4),
        "sheet_log.csv": f"# {MARK} these readings\n"
        + (
            "time,jets,pressure [psi],volts [V],amps [A],spilling,needle,air "
            "[degF],note\n2026-01-10 08:00,2,62,120,13.2,yes,steady,34,\n2026-02-10 "
            "08:00,2,62,120,13.1,yes,steady,30,\n2026-03-10 "
            "08:00,2,61.8,120,13.2,yes,steady,41,\n"
            if us
            else (
                "time,jets,pressure [bar],volts [V],amps [A],spilling,needle,air "
                "[degC],note\n2026-01-10 08:00,2,4.1,230,7.6,yes,steady,1,\n2026-02-10 "
                "08:00,2,4.1,230,7.5,yes,steady,-1,\n2026-03-10 "
                "08:00,2,4.1,230,7.6,yes,steady,5,\n"
            )
        ),
    }


def _record(first: date, days: int, title: str, mean: float, wave: float) -> str:
    """A daily record that nobody could take for a creek's own."""
    rows = "".join(
        f"{first + timedelta(each)},{mean * (1 + 0.6 * math.cos(2 * math.pi * (each - 150) / 365) + 0.2 * math.sin(each / 9 + wave)):.1f}\n"
        for each in range(days)
    )
    return f"# {MARK} this record\ndate,{title}\n{rows}"


# --- what is left of them -------------------------------------------------------------------


def examples_left(files: Iterable[Path]) -> tuple[Finding, ...]:
    """The marks of examples that still stand in a study's files, as one finding; empty where none is left."""
    left = []
    for path in sorted(files, key=lambda each: (each.suffix != ".toml", each.name)):
        lines = _marked(path)
        if lines:
            left.append(
                f"{path.name} line{'s' * (len(lines) > 1)} {series_text([str(each) for each in lines])}"
            )
    if not left:
        return ()
    return (
        Finding(
            "caution",
            "examples",
            (
                f"values that are not yours yet count like any other: {'; '.join(left)}; put in "
                f'your own, and take "# {MARK}" away with each'
            ),
        ),
    )


def _marked(path: Path) -> list[int]:
    with open(path, encoding="utf-8", errors="replace") as handle:
        return [
            number
            for number, line in enumerate(islice(handle, _LINES_READ), 1)
            if MARK in line.partition("#")[2].lower() and '"# ' + MARK not in line
        ]
