"""Studies of odd shape, each quick to work out: what one page says of them every other page must say too."""

from __future__ import annotations

import copy
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import small_study

__all__ = ["NAMES", "opened", "sections_of"]

FRANCIS = {"kind": "francis", "design_flow": "12 L/s", "efficiency": "80 %", "minimum_flow": "40 %"}
PAIR = [{"name": "big", "design_flow": "10 L/s"}, {"name": "small", "design_flow": "4 L/s"}]
STALLS = (
    "chainage [m],elevation [m]\n0,305\n5,304.3\n20,303\n30,304.9\n60,301.5\n80,304.9\n100,302\n"
)
FALLS = (
    "chainage [m],elevation [m]\n0,305\n5,304.3\n20,303\n30,303.9\n60,301.5\n80,303.2\n100,302\n"
)
LINE = {
    "profile": "diversion.csv",
    "inside_diameter": "230 mm",
    "roughness": "0.03 mm",
    "outlet": "free",
}
LEAKS = {
    "kind": "channel",
    "name": "leat",
    "length": "150 m",
    "slope": "0.2 %",
    "width": "0.4 m",
    "depth": "0.35 m",
    "lining": "concrete",
    "loss": "12 %",
}
POND = {"kind": "forebay", "name": "forebay", "area": "40 m^2", "depth": "0.5 m"}
RACK = {
    "kind": "trash rack",
    "name": "fine rack",
    "bar": "6 mm",
    "gap": "12 mm",
    "width": "0.3 m",
    "depth": "0.2 m",
    "head": "5 mm",
    "clogged": {"october": "40 %", "november": "30 %"},
}
TWO_PIPES = [{"size": "PVC-U PN 10 160 mm", "length": "70 m"}, {"size": "PVC-U PN 10 125 mm"}]
THREE = {"size": "6 mm2", "voltage": "400 V", "phases": "three"}
CIRCUITS = [
    {"name": "house", "power": "2.5 kW", "voltage": "230 V", "phases": "one", "length": "20 m"},
    {
        "name": "pump",
        "power": "1 kW",
        "kind": "motor",
        "voltage": "230 V",
        "phases": "one",
        "length": "15 m",
    },
]
HOUSE = {"demand": None, "heated_ua": "90 W/K", "base_power": "500 W"}


@cache
def _log() -> str:
    """Two years of visits to a plant of two jets that runs well, but for a screen that clogs each November."""
    lines = ["time,jets,pressure [bar],volts [V],amps [A],spilling,needle,air [degC],note"]
    day = datetime(2021, 10, 3, 8, 0)
    for visit in range(104):
        clogged = day.month == 11
        jets, amps = (1, 7.6) if clogged or visit % 9 == 4 else (2, 12.9)
        pressure = 3.55 if jets == 1 else 3.18
        lines.append(
            f"{day:%Y-%m-%d %H:%M},{jets},{pressure + 0.01 * (visit % 3 - 1):.2f},230,{amps + 0.1 * (visit % 4 - 1.5):.2f},{'no' if clogged else 'yes'},steady,{8 - 9 * ((visit % 52) in range(8, 20)):.0f},"
        )
        day += timedelta(days=7)
    return "\n".join(lines) + "\n"


def _neighbour() -> str:
    days = [date(2011, 10, 1) + timedelta(each) for each in range(4383)]
    flow = dict(line.split(",") for line in small_study.FILES["flow.csv"].splitlines()[1:])
    values = [float(each) for each in flow.values()]
    return "date,flow [L/s]\n" + "".join(
        f"{day},{3.1 * values[number % 365] * (1 + 0.25 * ((number // 365) % 5 - 2) / 2):.2f}\n"
        for number, day in enumerate(days)
    )


def _weekly() -> str:
    """The record of one read once a week."""
    head, *rows = small_study.FILES["flow.csv"].splitlines()
    return "\n".join([head, *rows[::7]]) + "\n"


# name -> (sections changed, files changed); None takes a section or a key out.
_ODD: dict[str, tuple[dict[str, Any], dict[str, str]]] = {
    "plain": ({}, {}),
    "thin": ({"stream": {key: None for key in ("record", "record_uncertainty", "temperature", "cease_to_flow", "control")}}, {"gaugings": "date,stage [m],flow [L/s],uncertainty [%],method\n2022-07-11,,9,8,bucket\n"}),
    "log and no record": ({"site": {"stage_of_work": "existing"}, "stream": {"record": None, "record_uncertainty": None}, "readings": {"log": "log.csv"}}, {"log": _log()}),
    "record and log": ({"site": {"stage_of_work": "existing"}, "readings": {"log": "log.csv"}}, {"log": _log()}),
    "several machines": ({"turbine": {"kind": "francis", "jets": None, "jet_kind": None, "jet_diameter": None, "efficiency": None}, "machine": PAIR, "upgrade": None}, {}),
    "two pipe sizes": ({"penstock": {"pipe": TWO_PIPES}}, {}),
    "line that stalls": ({"diversion": LINE | {"source_level": "305 m"}, "part": [{"kind": "line"}, POND]}, {"diversion": STALLS}),
    "line that runs": ({"diversion": LINE | {"vents": ["30 m"]}, "part": [{"kind": "line"}, POND]}, {"diversion": FALLS}),
    "no demand": ({"loads": None}, {}),
    "three phases": ({"cable": THREE, "circuit": CIRCUITS}, {}),
    "pond and visits": ({"part": [POND], "operation": {"jet_dead_band": "10 %", "visit_days": 7, "stops_per_winter": 1}}, {}),
    "leak": ({"part": [LEAKS, POND]}, {}),
    "transferred": ({"stream": {"neighbour_record": "neighbour.csv"}}, {"neighbour": _neighbour()}),
    "francis": ({"turbine": {"jets": None, "jet_kind": None, "jet_diameter": None} | FRANCIS, "upgrade": None}, {}),
    "spear": ({"turbine": {"jet_kind": "spear", "jet_diameter": None, "design_flow": "14 L/s"}, "upgrade": None}, {}),
    "volume and ramp": ({"rights": {"licence_volume": "300000 m^3", "ramp": "2 L/s/day"}}, {}),
    "no residual": ({"rights": {"residual": None}}, {}),
    "jets of two bores": ({"site": {"stage_of_work": "existing"}, "turbine": {"jet_diameter": ["12 mm", "20 mm"]}, "reading": [{"jets": 0, "pressure": "3.6 bar"}, {"jets": 1, "pressure": "3.4 bar"}, {"jets": 2, "pressure": "3.2 bar", "watts": "2100 W"}]}, {}),
    "read once a week": ({}, {"flow": _weekly()}),
    "US reader": ({"site": {"display": "us"}}, {}),
    "heated house": ({"loads": HOUSE, "inverter": {"rating": "3 kW", "idle": "30 W", "efficiency": "93 %"}, "cable": {"voltage": "48 V", "phases": "dc", "size": "70 mm2"}}, {}),
    "screens and leaves": ({"part": [{"kind": "screen", "name": "creek screen", "area": "0.2 m^2", "open": "40 %", "head": "30 mm", "clogged": {"october": "60 %"}}, POND, RACK]}, {}),
    "sizing decides": ({"turbine": {"jet_diameter": None}, "sizing": {"flows": ["6 L/s", "10 L/s", "14 L/s"], "jets": [1, 2, 3]}}, {}),
}  # fmt: skip
NAMES = list(_ODD)


def sections_of(name: str) -> tuple[dict[str, Any], dict[str, str]]:
    """What an odd study changes in the small one: its sections, and its files without their ending."""
    return copy.deepcopy(_ODD[name])


def opened(folder: Path, name: str, **changes: Any) -> Any:
    """One of the odd studies, with further sections changed."""
    sections, files = copy.deepcopy(_ODD[name])
    for section, change in changes.items():
        held = sections.get(section)
        sections[section] = (
            held | change if isinstance(held, dict) and isinstance(change, dict) else change
        )
    return small_study.changed(folder, files, **sections)
