"""More loss never gives more kWh, more water or less loss never fewer, and what is bought dearer or larger costs more."""

from __future__ import annotations

from typing import Any

import odd_studies
import pytest
import small_study

COSTS = small_study.SITE["costs"]
CABLES = {"cables": "size,price [money/m]\n10 mm2,7\n16 mm2,9\n25 mm2,13\n"}
LINE = odd_studies.sections_of("line that runs")[0]["diversion"]
INVERTER = {"rating": "4 kW", "idle": "20 W", "efficiency": "94 %"}
DIRECT = {"cable": {"voltage": "48 V", "phases": "dc", "size": "70 mm2"}}
IRON = {"at": "powerhouse", "rating": "10 kW", "no_load_loss": "40 W", "full_load_loss": "180 W"}
# Left out, the rating follows the most water the plant can take, and with it what the generator loses at any load.
RATED = {"generator": {"rating": "4 kW"}}
PIPE = {"inside_diameter": "130 mm", "roughness": "0.01 mm"}
LEAT = odd_studies.sections_of("leak")[0]["part"]


def _leat(**changes: Any) -> dict[str, Any]:
    return {"part": [LEAT[0] | changes, LEAT[1]]}


# what is lost -> (odd study, with the smaller loss, with the larger)
LOSES: dict[str, tuple[str, dict[str, Any], dict[str, Any]]] = {
    "stops": ("plain", {"outage": {"unplanned": "2 %"}}, {"outage": {"unplanned": "4 %"}}),
    "planned stops": ("plain", {"outage": {"planned_days": 4}}, {"outage": {"planned_days": 9}}),
    "clogging": ("plain", {"intake": {"capacity": "12 L/s", "clogged": "5 %"}} | RATED, {"intake": {"capacity": "12 L/s", "clogged": "60 %"}} | RATED),
    "intake": ("plain", {"intake": {"capacity": "12 L/s"}} | RATED, {"intake": {"capacity": "6 L/s"}} | RATED),
    "roughness": ("plain", {"penstock": {"pipe": [PIPE]}}, {"penstock": {"pipe": [PIPE | {"roughness": "0.3 mm"}]}}),
    "bore": ("plain", {"penstock": {"pipe": [PIPE]}}, {"penstock": {"pipe": [PIPE | {"inside_diameter": "110 mm"}]}}),
    "fittings": ("plain", {"penstock": {"pipe": [PIPE]}}, {"penstock": {"pipe": [PIPE | {"fittings": 6}]}}),
    "inlet": ("plain", {"penstock": {"entry": 0.1}}, {"penstock": {"entry": 3}}),
    "runner": ("plain", {}, {"turbine": {"efficiency": "68 %"}}),
    "generator": ("plain", {}, {"generator": {"efficiency": "78 %"}}),
    "constant loss": ("plain", {"generator": {"constant_loss": "20 %"}}, {"generator": {"constant_loss": "60 %"}}),
    "cable's length": ("plain", {}, {"cable": {"length": "240 m"}}),
    "cable's size": ("plain", {}, {"cable": {"size": "6 mm2"}}),
    "cable's metal": ("plain", {}, {"cable": {"material": "aluminium"}}),
    "iron of the transformer": ("plain", {"transformer": [IRON]}, {"transformer": [IRON | {"no_load_loss": "80 W"}]}),
    "copper of the transformer": ("plain", {"transformer": [IRON]}, {"transformer": [IRON | {"full_load_loss": "400 W"}]}),
    "idle inverter": ("plain", {"inverter": INVERTER} | DIRECT, {"inverter": INVERTER | {"idle": "80 W"}} | DIRECT),
    "inverter": ("plain", {"inverter": INVERTER} | DIRECT, {"inverter": INVERTER | {"efficiency": "88 %"}} | DIRECT),
    "residual flow": ("plain", {}, {"rights": {"residual": [{"rule": "fixed", "flow": "6 L/s"}]}}),
    "licence": ("plain", {"rights": {"licence": "14 L/s"}}, {"rights": {"licence": "11 L/s"}}),
    "volume": ("plain", {"rights": {"licence_volume": "250000 m^3"}}, {"rights": {"licence_volume": "150000 m^3"}}),
    "ramp": ("plain", {"rights": {"ramp": "2 L/s/day"}}, {"rights": {"ramp": "0.02 L/s/day"}}),
    "leat": ("leak", _leat(loss="4 %"), _leat(loss="30 %")),
    "line to the pond": ("line that runs", {}, {"diversion": LINE | {"inside_diameter": "60 mm"}}),
    "minimum flow": ("francis", {"turbine": {"minimum_flow": "20 %"}}, {"turbine": {"minimum_flow": "70 %"}}),
    "visits": ("pond and visits", {"operation": {"visit_days": 1}}, {"operation": {"visit_days": 30}}),
    "frost": ("pond and visits", {"operation": {"stops_per_winter": 1, "freezes_below": "2 degC"}}, {"operation": {"stops_per_winter": 6, "freezes_below": "2 degC"}}),
}  # fmt: skip
_OFTEN = ("stops", "generator", "residual flow")


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name in _OFTEN else pytest.mark.slow) for name in LOSES],
)
def test_more_loss_gives_fewer_kwh(tmp_path, name):
    odd, less, more = LOSES[name]
    little, much = (
        odd_studies.opened(tmp_path / str(number), odd, **changes)
        for number, changes in enumerate((less, more))
    )
    for key in ("energy.net", "energy.annual.p50"):
        assert little.answer(key).value > much.answer(key).value, key


# what is bought -> (small or cheap, large or dear, files)
BUYS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, str]]] = {
    "generator": ({"generator": {"rating": "4 kW"}}, {"generator": {"rating": "8 kW"}}, {}),
    "cable": ({"costs": COSTS | {"cables": "cables.csv"}, "cable": {"size": "10 mm2"}}, {"costs": COSTS | {"cables": "cables.csv"}, "cable": {"size": "25 mm2"}}, CABLES),
    "longer cable": ({"costs": COSTS | {"cable": "9 per m"}}, {"costs": COSTS | {"cable": "9 per m"}, "cable": {"length": "90 m"}}, {}),
    "pipe": ({"penstock": {"pipe": [{"size": "PVC-U PN 10 125 mm"}]}}, {}, {}),
    "jets": ({"costs": COSTS | {"per_jet": 100}, "turbine": {"jets": 1}}, {"costs": COSTS | {"per_jet": 100}}, {}),
    "laying": ({"costs": COSTS | {"laying": "5 per m"}}, {"costs": COSTS | {"laying": "9 per m"}}, {}),
    "contingency": ({"costs": COSTS | {"contingency": "5 %"}}, {"costs": COSTS | {"contingency": "20 %"}}, {}),
    "whatever its size": ({}, {"costs": COSTS | {"fixed": 6000}}, {}),
}  # fmt: skip


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name == "generator" else pytest.mark.slow) for name in BUYS],
)
def test_more_bought_costs_more(tmp_path, name):
    less, more, files = BUYS[name]
    cheap, dear = (
        small_study.changed(tmp_path / str(number), files, **changes)
        for number, changes in enumerate((less, more))
    )
    assert cheap.answer("money.capital").value < dear.answer("money.capital").value


@pytest.mark.slow
@pytest.mark.parametrize("key", ["no_load_loss", "full_load_loss"])
def test_a_worse_transformer_makes_no_plant_cheaper(tmp_path, key):
    """What is bought by its power is what is installed, not what is left at the loads."""
    good, bad = (
        small_study.changed(tmp_path / str(number), transformer=[entry])
        for number, entry in enumerate((IRON, IRON | {key: "400 W"}))
    )
    assert bad.answer("money.capital").value == good.answer("money.capital").value


# what the plant costs each year, or brings -> whether more of it is better for the owner
YEARLY: dict[str, tuple[Any, Any, int]] = {
    "yearly": ("1 %", "4 %", -1),
    "insurance": (50, 200, -1),
    "abstraction_fee": (50, 200, -1),
    "land_rent": (50, 200, -1),
    "standing_charge": (50, 200, -1),
    "removal": (500, 5000, -1),
    "residual_value": (500, 5000, 1),
    "grant": (500, 5000, 1),
    "value": ("0.2 per kWh", "0.3 per kWh", 1),
    "export": ("0.01 per kWh", "0.05 per kWh", 1),
    "discount_rate": ("3 %", "9 %", -1),
    "building_months": (2, 30, -1),
}


@pytest.mark.slow
@pytest.mark.parametrize("key", YEARLY)
def test_what_costs_more_is_worth_less(tmp_path, key):
    low, high, sign = YEARLY[key]
    one, other = (
        small_study.changed(tmp_path / str(number), costs=COSTS | {key: value})
        for number, value in enumerate((low, high))
    )
    assert (other.answer("money.npv").value - one.answer("money.npv").value) * sign > 0
