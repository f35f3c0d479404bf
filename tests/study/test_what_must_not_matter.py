"""What must not move an answer: the unit in which a key is written, and the order of entries that are no order of the water."""

from __future__ import annotations

import copy
import re
from datetime import date
from typing import Any

import numpy as np
import odd_studies
import pytest
import small_study

from hydrokit.study.opening import open_study
from hydrokit.study.questions import questions
from hydrokit.units import Q_

_OTHER = {"m": "ft", "mm": "in", "L/s": "gpm", "m^3/s": "cfs", "bar": "psi", "kW": "hp", "W": "hp", "degC": "degF", "km^2": "mi^2", "m^2": "ft^2", "kWh": "MJ", "s": "min", "deg": "rad", "kVA": "VA", "W/K": "Btu/h/delta_degF", "V": "kV", "A": "mA", "L": "gal", "h": "min"}  # fmt: skip
_AMOUNT = re.compile(r"^(-?\d+(?:\.\d+)?) (\S+)$")
ROOM = {"walls": "38 m^2", "u_walls": "0.4 W/m^2/K", "windows": "4 m^2", "u_windows": "1.6 W/m^2/K", "volume": "60 m^3", "air_changes": 0.5}  # fmt: skip
READ = [{"jets": count, "pressure": f"{bar} bar", "watts": f"{watts} W", "spilling": True, "commissioning": True, "date": date(2022, 7, 4)} for count, bar, watts in ((0, 3.73, 0), (1, 3.55, 1750), (2, 3.18, 2960))]  # fmt: skip
# name -> (odd study, sections changed)
STUDIES: dict[str, tuple[str, dict[str, Any]]] = {
    "plain": ("plain", {}),
    "line and pond": ("line that runs", {"diversion": {"source_level": "305.4 m", "cover": "0.3 m"}}),
    "three phases": ("three phases", {"transformer": [{"at": "powerhouse", "rating": "10 kW", "no_load_loss": "40 W", "full_load_loss": "180 W"}], "outage": {"planned_days": 3}}),
    "read": ("plain", {"site": {"stage_of_work": "existing"}, "reading": READ, "penstock": {"gauge_height": "0.4 m"}}),
    "heated": ("heated house", {"loads": {"base_power": "200 W", "heated_ua": None}, "room": [{"name": "kitchen"} | ROOM]}),
    "leaves": ("screens and leaves", {"operation": {"freezes_below": "-2 degC", "visit_days": 7, "stops_per_winter": 1}}),
}  # fmt: skip


def otherwise(value: Any) -> Any:
    """The same in the units of other people, to the last digit."""
    if isinstance(value, dict):
        return {key: otherwise(each) for key, each in value.items()}
    if isinstance(value, list):
        return [otherwise(each) for each in value]
    found = _AMOUNT.match(value) if isinstance(value, str) else None
    if found is None or found[2] not in _OTHER:
        return value
    other = _OTHER[found[2]]
    return f"{float(Q_(float(found[1]), found[2]).m_as(other))!r} {other}"


def site_of(name: str) -> tuple[dict[str, Any], dict[str, str]]:
    odd, changes = STUDIES[name]
    sections, files = odd_studies.sections_of(odd)
    site = copy.deepcopy(small_study.SITE)
    for layer in (sections, changes):
        for section, change in copy.deepcopy(layer).items():
            held = site.get(section)
            site[section] = held | change if isinstance(held, dict) and isinstance(change, dict) else change  # fmt: skip
    taken = {
        section: {key: each for key, each in held.items() if each is not None}
        if isinstance(held, dict)
        else held
        for section, held in site.items()
        if held is not None
    }
    return taken, files


def numbers(folder: Any, site: dict[str, Any], files: dict[str, str]) -> dict[str, np.ndarray]:
    """Every number that a study answers with, and its findings."""
    study = open_study(small_study.write(folder, site, **files))
    found: dict[str, Any] = {}
    for key in questions():
        told = study.answer(key)
        if told is not None and not isinstance(told.value, str):
            parts = (told.value, told.low, told.high)
            found[key] = np.concatenate([np.ravel(each).astype(float) for each in parts])
    found["findings"] = sorted(str(each) for each in study.findings())
    return found


def _alike(one: dict[str, Any], other: dict[str, Any], findings: bool = True) -> None:
    assert set(one) == set(other) and len(one) > 40
    for key, value in one.items():
        if key != "findings":
            np.testing.assert_allclose(other[key], value, rtol=1e-9, atol=1e-12, err_msg=key)
    if findings:
        assert one["findings"] == other["findings"]


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name == "plain" else pytest.mark.slow) for name in STUDIES],
)
def test_the_units_of_the_keys_do_not_matter(tmp_path, name):
    site, files = site_of(name)
    turned = otherwise(site)
    assert turned != site
    _alike(
        numbers(tmp_path / "one", site, files),
        numbers(tmp_path / "other", turned, files),
    )


RULES = [{"rule": "fixed", "flow": "3 L/s"}, {"rule": "percentile", "exceedance": "95 %", "months": [5, 6]}, {"rule": "share of mean", "share": "15 %"}]  # fmt: skip
# what is listed -> (study, entries in which no order of the water is)
LISTED: dict[str, tuple[str, dict[str, Any]]] = {
    "upgrade": ("plain", {"upgrade": [{"name": "a third jet", "cost": 200, "jets": 3}, {"name": "a wider pipe", "cost": 900, "pipe": "PVC-U PN 10 160 mm"}, {"name": "fewer stops", "cost": 30, "unplanned": "0 %"}, {"name": "more water", "cost": 300, "extra_flow": "1 L/s"}], "outage": {"unplanned": "4 %"}}),
    "reading": ("read", {}),
    "room": ("heated", {"room": [{"name": "kitchen"} | ROOM, {"name": "hall", "ua": "40 W/K"}, {"name": "loft", "ua": "25 W/K"}]}),
    "loads.night": ("heated", {"room": None, "loads": {"heated_ua": None, "night": [{"power": "2.5 kW", "inside": "19 degC", "outside": "-6 degC"}, {"power": "2.1 kW", "inside": "20 degC", "outside": "1 degC"}, {"power": "2.9 kW", "inside": "18 degC", "outside": "-9 degC"}]}}),
    "rights.residual": ("plain", {"rights": {"licence": "20 L/s", "residual": RULES}}),
    "costs.replacement": ("plain", {"costs": small_study.SITE["costs"] | {"replacement": [{"name": "bearings", "cost": 600, "every": 8}, {"name": "runner", "cost": 900, "every": 15}, {"name": "belts", "cost": 60, "every": 3}]}}),
    "transformer": ("three phases", {"transformer": [{"at": "powerhouse", "rating": "10 kW", "no_load_loss": "40 W", "full_load_loss": "180 W"}, {"at": "loads", "rating": "8 kW", "no_load_loss": "30 W", "full_load_loss": "150 W"}]}),
    "penstock.stretch": ("plain", {"penstock": small_study.SITE["penstock"] | {"stretch": [{"name": "pipe bridge", "from": "60 m", "to": "70 m", "span": "2 m"}, {"name": "field", "from": "80 m", "to": "120 m", "cover": "0.5 m"}]}}),
    "penstock.bend": ("plain", {"penstock": small_study.SITE["penstock"] | {"bend": [{"at": "60 m", "angle": "20 deg"}, {"at": "20 m", "angle": "45 deg"}, {"at": "100 m", "angle": "11 deg"}]}}),
    "permit": ("plain", {"permit": [{"subject": "building", "status": "granted"}, {"subject": "electrical", "status": "refused"}, {"subject": "dam or weir", "status": "not yet asked"}]}),
}  # fmt: skip


@pytest.mark.parametrize(
    "listed",
    [
        pytest.param(name, marks=() if name in ("rights.residual",) else pytest.mark.slow)
        for name in LISTED
    ],
)
def test_the_order_of_entries_does_not_matter(tmp_path, listed):
    """The answers, to the last digits; findings may number the entries otherwise."""
    name, changes = LISTED[listed]
    site, files = site_of(name)
    for section, change in copy.deepcopy(changes).items():
        held = site.get(section)
        site[section] = held | change if isinstance(held, dict) and isinstance(change, dict) else change  # fmt: skip
    site = {
        section: {key: each for key, each in held.items() if each is not None}
        if isinstance(held, dict)
        else held
        for section, held in site.items()
        if held is not None
    }
    turned = copy.deepcopy(site)
    *place, last = listed.split(".")
    held = turned
    for step in place:
        held = held[step]
    held[last] = held[last][::-1]
    assert turned != site
    _alike(
        numbers(tmp_path / "one", site, files),
        numbers(tmp_path / "other", turned, files),
        findings=False,
    )
