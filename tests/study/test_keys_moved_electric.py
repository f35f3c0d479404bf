"""Each key of loads, wires, generator and costs, moved once, changes an answer or raises a finding; names are shown."""

import copy
from functools import cache
from pathlib import Path
from typing import Any, Iterator

import numpy as np
import pytest
import small_study
from small_study import SITE
from test_every_key import KEY_BASE
from test_money_terms import COSTS

from hydrokit.report.pages.p06 import electrician, warmth, wires
from hydrokit.site.schema import LISTS, SECTIONS
from hydrokit.study.opening import open_study
from hydrokit.study.questions import questions

BASE: dict[str, Any] = copy.deepcopy(SITE)
BASE |= {
    "cable": {"length": "60 m", "size": "16 mm2", "voltage": "400 V", "phases": "three", "material": "copper"},
    "generator": {"kind": "synchronous", "efficiency": "85 % ± 2 %", "rating": "5 kW", "reactance": 0.2},
    "circuit": [
        {"name": "house", "power": "800 W", "kind": "other", "length": "20 m", "size": "10 mm2", "voltage": "230 V", "phases": "one", "power_factor": 0.9, "phase": "1", "drop": "3 %", "material": "copper", "begins": "cable end"},
        {"name": "pump", "kind": "motor", "power": "400 W", "power_factor": 0.8, "length": "40 m", "size": "10 mm2", "phases": "three"},
    ],
    "transformer": [{"name": "step-up", "at": "powerhouse", "rating": "6 kW", "no_load_loss": "30 W", "full_load_loss": "90 W"}],
    "ballast": {"stages": 3, "rule": "generator", "pattern": "doubling", "voltage": "400 V", "power": "6 kW"},
    "room": [{"name": "kitchen", "walls": "30 m^2", "u_walls": "0.5 W/m^2/K", "windows": "4 m^2", "u_windows": "2 W/m^2/K", "doors": "2 m^2", "u_doors": "2 W/m^2/K", "roof": "20 m^2", "u_roof": "0.3 W/m^2/K", "floor": "20 m^2", "u_floor": "0.6 W/m^2/K", "volume": "50 m^3", "air_changes": 0.6}],
    "loads": {"demand": "300 kWh", "base_power": "100 W", "inside_temperature": "19 degC", "fuel": "white oak", "stove": "63 %", "night": [{"power": "1.5 kW", "inside": "20 degC", "outside": "-2 degC", "hours": "8 h", "date": "<2022-01-18>"}]},
    "costs": SITE["costs"] | {
        "per_jet": 100, "laying": "10 per m", "cable": "9 per m", "cables": "cables.csv", "yearly": "2 %", "life": 20, "heat_value": "0.08 per kWh", "export": "0.05 per kWh", "replaces": "oil",
        "loan_years": 12, "loan_rate": "5 %", "visit": 8, "uncertainty": "15 %", "replacement": [{"name": "bearings", "cost": 600, "every": 7}],
    },
    "electrical": {"supply": "island"},  # for all its price of export
    "sizing": None, "upgrade": None,
}  # fmt: skip
FILES = {
    "cables": "size,price [money/m]\n10 mm2,7\n16 mm2,9\n",
    "other": "size,price [money/m]\n16 mm2,12\n",
    "dear": "size,price [money/m]\nPVC-U PN 10 140 mm,15\n",
}
INVERTED = {
    "cable": {"length": "60 m", "size": "50 mm2", "voltage": "120 V", "phases": "dc"},
    "circuit": [
        {
            "name": "house",
            "power": "800 W",
            "voltage": "230 V",
            "phases": "one",
            "length": "20 m",
            "size": "6 mm2",
        }
    ],
    "inverter": {"rating": "4 kW", "idle": "20 W", "efficiency": "94 %"},
    "transformer": None,
    "generator": {"kind": "permanent magnet", "efficiency": "85 %"},
    "battery": {
        "voltage": "48 V",
        "charge": "50 Ah",
        "depth": "50 %",
        "efficiency": "85 %",
        "day_use": ["300 W"] * 20 + ["4.5 kW"] * 2 + ["300 W"] * 2,
    },
}
WHOLE = {"generator": {"kind": "synchronous", "water_to_wire": "60 %"}}
HEATED = {"loads": {"base_power": "100 W", "heated_ua": "90 W/K"}, "room": None}
MOTOR = {"circuit": [BASE["circuit"][1]]}
TANK = {"ballast": {"heats": "water", "tank": "200 L"}}
GRID = {
    "electrical": {
        "supply": "grid",
        "fault_level": "200 kVA",
        "electrode": "40 ohm",
        "residual_current": "30 mA",
        "earthing": "tt",
    }
}
LOSS = {
    "cable": {"length": "60 m", "voltage": "230 V", "phases": "one", "loss": "3 %"},
    "circuit": None,
}

# section, key -> new value, what else differs from the base on both sides
MOVED: dict[tuple[str, str], tuple[Any, dict]] = {
    **{("cable", key): (value, {}) for key, value in {"length": "90 m", "size": "10 mm2", "material": "aluminium", "voltage": "380 V", "phases": "one"}.items()},
    ("cable", "laid"): ("overhead", {}),
    ("generator", "apparent_rating"): ("7 kVA", {}),
    ("generator", "speed"): ("free", {}),
    ("circuit", "locked_rotor"): ("4 kVA", MOTOR),
    ("circuit", "starter"): ("star-delta", MOTOR),
    ("ballast", "sharing"): ("each phase", {}),
    ("ballast", "heats"): ("air", TANK),
    ("ballast", "tank"): ("300 L", TANK),
    **{("electrical", key): (value, GRID) for key, value in {"supply": "island", "fault_level": "400 kVA", "electrode": "90 ohm", "residual_current": "300 mA", "earthing": "it"}.items()},
    ("cable", "loss"): ("6 %", LOSS),
    **{("generator", key): (value, {}) for key, value in {"kind": "induction", "efficiency": "80 %", "rating": "4 kW", "reactance": 0.3, "constant_loss": "25 %"}.items()},
    ("generator", "water_to_wire"): ("55 %", WHOLE),
    **{("circuit", key): (value, {}) for key, value in {"name": "barn", "power": "900 W", "kind": "motor", "length": "40 m", "size": "16 mm2", "material": "aluminium", "voltage": "220 V", "phases": "three", "power_factor": 0.7, "drop": "1 %", "begins": "powerhouse", "phase": "2"}.items()},
    **{("transformer", key): (value, {}) for key, value in {"name": "big one", "at": "loads", "rating": "3 kW", "no_load_loss": "60 W", "full_load_loss": "200 W"}.items()},
    **{("inverter", key): (value, INVERTED) for key, value in {"rating": "3 kW", "idle": "60 W", "efficiency": "90 %"}.items()},
    **{("battery", key): (value, INVERTED) for key, value in {"voltage": "24 V", "charge": "500 Ah", "depth": "80 %", "efficiency": "70 %", "day_use": ["200 W"] * 24}.items()},
    **{("ballast", key): (value, {}) for key, value in {"power": "1 kW", "stages": 2, "rule": "battery code", "pattern": "equal", "voltage": "230 V"}.items()},
    **{("loads", key): (value, {}) for key, value in {"demand": "400 kWh", "base_power": "300 W", "inside_temperature": "22 degC", "fuel": "propane", "stove": "80 %"}.items()},
    ("loads", "heated_ua"): ("120 W/K", HEATED),
    **{("loads.night", key): (value, {}) for key, value in {"power": "2 kW", "inside": "22 degC", "outside": "-9 degC", "hours": "4 h", "date": "<2023-02-01>"}.items()},
    **{("room", key): (value, {"loads": {"demand": "300 kWh"}}) for key, value in {
        "name": "hall", "ua": "70 W/K", "walls": "40 m^2", "u_walls": "0.9 W/m^2/K", "windows": "6 m^2", "u_windows": "3 W/m^2/K", "doors": "4 m^2", "u_doors": "3 W/m^2/K", "roof": "30 m^2", "u_roof": "0.6 W/m^2/K",
        "floor": "30 m^2", "u_floor": "0.9 W/m^2/K", "volume": "90 m^3", "air_changes": 1.2}.items()},
    **{("costs", key): (value, {}) for key, value in {
        "fixed": 6000, "per_power": "1500 per kW", "pipes": "dear.csv", "per_jet": 300, "laying": "20 per m", "cables": "other.csv", "yearly": "4 %", "life": 30, "discount_rate": "6 %",
        "value": "0.3 per kWh", "heat_value": "0.2 per kWh", "export": "0.1 per kWh", "replaces": "wood", "loan_years": 20, "loan_rate": "9 %", "uncertainty": "30 %"}.items()},
    ("costs", "cable"): ("15 per m", {"costs": BASE["costs"] | {"cables": None}}),
    ("costs", "visit"): (20, {"site": SITE["site"] | {"stage_of_work": "existing"}}),
    **{("costs.replacement", key): (value, {}) for key, value in {"name": "belts", "cost": 900, "every": 4}.items()},
}  # fmt: skip
# Texts are no numbers: they are shown.
SHOWN = {
    ("circuit", "name"),
    ("transformer", "name"),
    ("room", "name"),
    ("loads.night", "date"),
    ("costs", "replaces"),
    ("costs.replacement", "name"),
    ("loads", "fuel"),
    ("loads", "stove"),
}
# These act in tables of the pages alone: cables to lay, meters to hang, resistors, what a walk or a loan takes.
IN_TABLES = {
    ("cable", "laid"),
    ("electrical", "earthing"),
    ("circuit", "drop"),
    ("ballast", "stages"),
    ("ballast", "pattern"),
    ("ballast", "voltage"),
    ("circuit", "length"),
    ("circuit", "size"),
    ("circuit", "material"),
    ("battery", "depth"),
    ("battery", "voltage"),
    ("battery", "efficiency"),
    ("battery", "charge"),
    ("costs", "loan_years"),
    ("costs", "loan_rate"),
    ("costs", "visit"),
    ("circuit", "begins"),
}


def _put(site: dict, section: str, key: str, value: Any) -> dict:
    site = copy.deepcopy(site)
    parent, _, child = section.partition(".")
    place = site[parent] if not child else site[parent][child]
    (place[0] if isinstance(place, list) else place)[key] = value
    if (section, key) == ("room", "ua"):
        site["room"][0] = {"name": "kitchen", "ua": value}
    return site


def _opened(folder: Path, site: dict) -> Any:
    site = {
        name: {key: each for key, each in section.items() if each is not None}
        if isinstance(section, dict)
        else section
        for name, section in site.items()
        if section is not None
    }
    made = small_study.write(folder, site, **FILES)
    text = (made / "site.toml").read_text(encoding="utf-8")
    (made / "site.toml").write_text(
        text.replace('"<', "").replace('>"', ""), encoding="utf-8"
    )  # dates stand without quotes
    return open_study(made)


def _answers(study: Any) -> Iterator[str]:
    """Results, findings, answers: what is quick to work out first, so that one who sees a move need not go on."""
    yield repr(study.results())
    yield repr(sorted((each.where, each.message) for each in study.findings()))
    for key in questions():
        found = study.answer(key)
        parts = () if found is None else (found.value, found.low, found.high)
        yield repr((key, [np.asarray(part).tolist() for part in parts]))


def _pages(study: Any) -> Iterator[str]:
    """What the pages say of wires, warmth and money, section by section."""
    view = study.view()
    for page in (electrician, wires, warmth, *small_study.page_modules("p07")):
        for name in page.__all__:
            if name not in ("references", "cash_figure", "heat_figure", "conductor_name"):
                yield repr(getattr(page, name)(study, view))


class _Said:
    """What is said of a study before the move: each thing worked out once, and only as far as somebody asks."""

    def __init__(self, study: Any) -> None:
        self._more = {_answers: _answers(study), _pages: _pages(study)}
        self._said: dict[Any, list[str]] = {_answers: [], _pages: []}

    def moved_by(self, study: Any, told: Any) -> bool:
        """Whether another study tells anything otherwise."""
        said = self._said[told]
        for place, each in enumerate(told(study)):
            if place == len(said):
                said.append(next(self._more[told], ""))
            if said[place] != each:
                return True
        return False


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    @cache
    def made(name: str) -> _Said:
        case = next(
            changes for (section, key), (_, changes) in MOVED.items() if repr(changes) == name
        )
        return _Said(_opened(tmp_path_factory.mktemp("base"), BASE | case))

    return lambda changes: made(repr(changes))


QUICK = {
    "sharing",
    "locked_rotor",
    "fault_level",
    "date",
}  # the rest when there is time


@pytest.mark.parametrize(
    "section, key",
    [pytest.param(*each, marks=() if each[1] in QUICK else pytest.mark.slow) for each in MOVED],
    ids=str,
)
def test_a_key_moved_once_is_told(tmp_path, base, section, key):
    value, changes = MOVED[section, key]
    moved = _opened(tmp_path / "moved", _put(BASE | changes, section, key, value))
    told = _pages if (section, key) in SHOWN | IN_TABLES else _answers
    assert base(changes).moved_by(moved, told)


@pytest.mark.slow
def test_a_key_that_moves_to_itself_moves_nothing(tmp_path, base):
    """The comparison above can fail: the same study told twice says the same."""
    same = _opened(tmp_path / "same", BASE)
    assert not base({}).moved_by(same, _answers) and not base({}).moved_by(same, _pages)


def test_every_key_of_these_sections_is_moved():
    mine = ("electrical", "cable", "generator", "inverter", "battery", "ballast", "costs")
    lists = ("circuit", "transformer", "room", "loads.night", "costs.replacement")
    for name in (*mine, "loads", *lists):
        keys = SECTIONS[name] if name in SECTIONS else LISTS[name]
        # The year-by-year table and the terms of a loan are moved with every other key, beside what they need.
        elsewhere = {*COSTS, *(key for section, key in KEY_BASE if section == name)}
        lacking = [key for key in keys if (name, key) not in MOVED and key not in elsewhere]
        assert not lacking, f"[{name}] {lacking}"
