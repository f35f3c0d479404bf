"""One value of a kWh: sizes, changes and the page on money ask the same object."""

import numpy as np
import pytest
from small_study import changed

from hydrokit.energy.valuing import valued

SIZES = {"flows": ["5 L/s", "8 L/s", "12 L/s", "16 L/s"], "jets": [1, 2]}
COSTS = {"value": "0.2 per kWh"}
FREE = {"jet_diameter": None}
HOUSE = {"demand": None, "heated_ua": "90 W/K", "base_power": "500 W"}


def test_what_a_kwh_earns_by_hand():
    """6,000 of 10,000 kWh meet the demand, a quarter of them as heat; of the rest a tenth heats and the others are sold."""
    found = valued(0.20, 0.06, 0.10, heat_share=0.25, warming_share=0.1)
    assert found.earns(6000.0, 10000.0) == pytest.approx(
        4500 * 0.20 + 1500 * 0.10 + 400 * 0.10 + 3600 * 0.06
    )
    assert found.counted_kwh(6000.0, 10000.0) == pytest.approx(10000)
    assert valued(0.20, heat_money_per_kwh=0.10, warming_share=0.1).counted_kwh(
        6000.0, 10000.0
    ) == pytest.approx(6400)
    assert valued(0.20).earns(6000.0, 10000.0) == pytest.approx(1200)
    assert valued(None, 0.06, demand_known=False).earns(500.0, 500.0) == pytest.approx(30)
    assert valued(0.20, 0.06, demand_known=False).earns(500.0, 500.0) == pytest.approx(100)
    assert not valued(None, 0.06).known and not valued(None).known


@pytest.mark.parametrize("turbine", [{}, FREE])
def test_sizes_follow_the_value_of_a_kwh_that_the_page_on_money_shows(tmp_path, turbine):
    plain, sold = (
        changed(tmp_path / name, turbine=turbine, sizing=SIZES, costs=COSTS | more)
        for name, more in (("plain", {}), ("sold", {"export": "0.15 per kWh"}))
    )
    for study, export in ((plain, 0.0), (sold, 0.15)):
        found, case, energy = study.sizing, study.money.case, study.money.energy
        assert found.aim == "worth" and energy.made_kwh > 1.2 * energy.kwh
        np.testing.assert_allclose(
            found.worth_money,
            0.2 * found.useful_kwh + export * (found.kwh - found.useful_kwh) - found.yearly_money,
            rtol=1e-9,
        )
        assert found.earning.earns(energy.kwh, energy.made_kwh) == pytest.approx(
            case.income_money, rel=1e-9
        )
        # the order of any two designs is that of what the page on money would say of them
        one, other = found.design((0, 0, 0)), found.design((1, 3, 1))
        earned = [
            case.value_money_per_kwh * study.valuing.counted_kwh(each.useful_kwh, each.kwh)
            if export == 0
            else float(study.valuing.earns(each.useful_kwh, each.kwh))
            for each in (one, other)
        ]
        cost = [float(found.yearly_money[each.index]) for each in (one, other)]
        assert np.sign(one.worth_money - other.worth_money) == np.sign(
            earned[0] - cost[0] - earned[1] + cost[1]
        )
    # what is left over earns now, so that a larger plant pays
    assert sold.sizing.best.flow_m3s > plain.sizing.best.flow_m3s
    assert sold.sizing.best.worth_money > plain.sizing.best.worth_money


def test_changes_are_valued_by_the_same_object(tmp_path):
    study = changed(tmp_path, costs=COSTS | {"export": "0.15 per kWh"})
    search = study.upgrades.search
    assert (search.value, search.spare) == (
        study.valuing.used_money_per_kwh,
        study.valuing.left_money_per_kwh,
    )


def test_where_all_is_sold_sizes_and_changes_count_with_the_price_of_sale(tmp_path):
    study = changed(
        tmp_path, loads=None, sizing=SIZES, costs={"value": None, "export": "0.15 per kWh"}
    )
    assert study.money.case.name == "all sold"
    assert study.sizing.aim == "worth"
    np.testing.assert_allclose(
        study.sizing.worth_money, 0.15 * study.sizing.kwh - study.sizing.yearly_money, rtol=1e-9
    )
    assert study.upgrades.search.value == pytest.approx(0.15)


def test_heat_has_its_value_in_sizes_as_in_money(tmp_path):
    """A plant that is described knows what heats; one that the sweep chooses finds it day by day, a little off: no stops yet."""
    costs = COSTS | {"heat_value": "0.05 per kWh"}
    told = changed(tmp_path / "told", loads=HOUSE, sizing=SIZES, costs=costs)
    energy = told.money.energy
    value = told.money.case.value_money_per_kwh
    assert 0.05 < value < 0.2
    assert told.sizing.earning.used_money_per_kwh == pytest.approx(value, rel=1e-9)
    assert told.sizing.earning.earns(energy.kwh, energy.made_kwh) == pytest.approx(
        told.money.worth_money, rel=1e-9
    )
    free = changed(tmp_path / "free", turbine=FREE, loads=HOUSE, sizing=SIZES, costs=costs)
    assert free.sizing.earning.used_money_per_kwh == pytest.approx(
        free.money.case.value_money_per_kwh, rel=0.01
    )
