"""The months against their demand, the losses and the sets of machines, counted another way."""

import numpy as np
import pytest
import shared


@pytest.fixture(scope="module")
def opened():
    made = {}

    def get(name):
        if name not in made:
            made[name] = shared.odd(name)
        return made[name]

    return get


def test_seasons_are_sums_of_the_months_that_pages_show(opened):
    study = opened("plain")
    found = study.year_by_month
    by_month = [
        study.answer(f"days.{state}").value for state in ("full", "part", "underfed", "stopped")
    ]
    for season, months in ((found.winter, study.winter), (found.year, range(1, 13))):
        assert season.days == pytest.approx(
            [sum(days[month - 1] for month in months) for days in by_month]
        )
    assert sum(found.year.days) == pytest.approx(365.25, abs=0.3)
    assert found.year.demand_kwh == pytest.approx(study.answer("demand.annual").value, rel=1e-12)
    assert found.year.useful_kwh == pytest.approx(study.answer("demand.met").value, rel=1e-9)
    assert found.met_share == pytest.approx(found.year.useful_kwh / found.year.demand_kwh)
    assert found.dry_days.sum() + found.days_out == pytest.approx(found.year.days[3])


def test_the_short_month_has_the_largest_gap_between_demand_and_p90(opened):
    study = opened("plain")
    gaps = [
        study.answer("demand.month").month(month).value
        - study.answer("energy.month.p90").month(month).value
        for month in range(1, 13)
    ]
    month = study.year_by_month.short_month
    assert (month is None) == (max(gaps) <= 0)
    assert month is None or gaps[month - 1] == max(gaps)


def test_without_demand_nothing_is_short(opened):
    found = opened("no demand").year_by_month
    assert found.demand_kwh is None and found.short_month is None and found.met_share is None


def test_losses_lie_between_gross_and_net(opened):
    study = opened("pond and visits")
    found = study.operating_losses
    lost = sum(each.year_kwh for each in found.steps)
    gross, net = (study.answer(f"energy.{name}").value for name in ("gross", "net"))
    assert gross - lost == pytest.approx(net, rel=1e-9)
    for each in found.steps:
        assert each.kwh[each.worst_month - 1] == each.worst_kwh == max(each.kwh)
        assert each.year_kwh == pytest.approx(study.answer(f"energy.lost.{each.name}").value)
        assert found.of(each.name) is each


def test_each_set_of_machines_gives_most_where_it_is_said_to(opened):
    study = opened("several machines")
    found = study.machine_sets
    assert sum(each.share for each in found.sets) == pytest.approx(1.0)
    assert found.busiest.kwh == max(each.kwh for each in found.sets)
    for number, each in enumerate(found.sets):
        if np.isnan(each.from_m3s):
            continue
        high = each.to_m3s if np.isfinite(each.to_m3s) else 1.05 * each.from_m3s
        middle = study.plant.running().at_si((each.from_m3s + high) / 2)
        assert int(middle.opening) == number
        assert float(middle.power_w) <= each.most_w * (1 + 1e-9)
    assert opened("plain").machine_sets is None


def test_steps_from_p50_to_p90_add_up(opened):
    study = opened("plain")
    *sources, whole = study.uncertainty_steps
    made = study.energy_uncertainty
    assert whole.one_year_kwh == pytest.approx(made.annual_kwh(50) - made.annual_kwh(90))
    assert sum(each.one_year_kwh for each in sources) == pytest.approx(whole.one_year_kwh, rel=0.02)
