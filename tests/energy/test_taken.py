"""Water taken at the creek and water used at the jets: two quantities, told apart everywhere."""

import numpy as np
import pandas as pd
import pytest
from odd_studies import LEAKS, opened
from small_study import changed

from hydrokit.energy.cases import year_kwh
from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.worth import deciding_flows, given_up
from hydrokit.energy.year import annual_energy
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.rights import fixed, licence, resolve_rights
from hydrokit.study.build.days import fed_steps
from hydrokit.works.rated import Rated

DAYS = pd.date_range("2018-10-01", "2021-09-30")
CREEK = pd.Series(
    0.013 + 0.009 * np.cos(2 * np.pi * (np.arange(len(DAYS)) - 60) / 365.25), DAYS, name="flow_m3s"
)
LEAT = Rated(np.inf, 0.12, "leat", lost_m3s=0.0005)
JETS = Chain(
    Penstock(MeasuredLoss(2e4), 50.0),
    FixedJets((0.0125,) * 3, 0.95),
    Runner(steady(0.6)),
    supply=(LEAT,),
)
NEEDLE = Chain(
    Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.010), Runner(steady(0.6)), supply=(LEAT,)
)
WATTS_PER_M3S = 999.70 * 9.80665 * 50.0 * 0.6


@pytest.mark.parametrize(
    "chain",
    [
        JETS,
        NEEDLE,
        JETS.replace(schedule={1: 2, 2: 1}),
        JETS.replace(supply=(LEAT, Rated(0.009, 0.0, "rack"))),
    ],
)
def test_what_the_creek_must_offer(chain):
    """analytic: the jets' flow, the seepage, and the share that leaks, one on the other; less of it would be missed, more would not."""
    curves = chain.curves()
    for month, curve, most in zip(range(1, 13), curves, chain.most_taken()):
        full = float(chain.at_si(1.0, month).used_m3s)
        assert curve.most_used_m3s == pytest.approx(full)
        assert curve.most_taken_m3s == pytest.approx(
            (full + 0.0005) / 0.88, rel=1e-9
        ) and most == pytest.approx(curve.most_taken_m3s, rel=1e-9)
        assert curve.power_si(most) == pytest.approx(
            curve.power_si(1.0), rel=1e-9
        ) and curve.power_si(0.99 * most) < curve.power_si(most)


def by_hand(keep, rate=np.inf):
    """independent: kWh a year of the needle machine behind the leat, day by day."""
    usable = np.clip(CREEK.to_numpy() - keep, 0, rate)
    used = np.minimum(np.maximum(usable * 0.88 - 0.0005, 0.0), 0.010)
    return float((WATTS_PER_M3S * used * 0.024).sum() / 3)


def test_rules_are_priced_with_what_leaks_on_the_way():
    found = given_up(CREEK, resolve_rights([fixed("3 L/s")], "15 L/s", CREEK), NEEDLE.curves())
    assert [found.kwh, found.free_kwh] == pytest.approx(
        [by_hand(0.003, 0.015), by_hand(0.0)], rel=1e-5
    )  # what the straight lines of the curve leave
    assert [each.kwh for each in found.prices] == pytest.approx(
        [by_hand(0.0, 0.015) - found.kwh, by_hand(0.003) - found.kwh], rel=1e-4, abs=0.05
    )
    weight = deciding_flows(CREEK, resolve_rights([fixed("3 L/s")]), NEEDLE.curves())
    assert weight.total_kwh > 0


@pytest.mark.slow
@pytest.mark.parametrize("rights", [{"ramp": "1 m^3/s/day"}, {"licence_volume": "9000000 m^3"}])
def test_a_limit_that_never_limits_changes_nothing(tmp_path, rights):
    """With a leak above the forebay: not the energy, not its uncertainty, not what a change is worth."""
    plain, limited = (
        changed(tmp_path / "plain", part=[LEAKS]),
        changed(tmp_path / "limited", part=[LEAKS], rights=rights),
    )
    assert limited.year.annual_kwh == pytest.approx(plain.year.annual_kwh, rel=1e-9)
    assert limited.energy_uncertainty.base.annual_kwh == pytest.approx(
        plain.energy_uncertainty.base.annual_kwh, rel=1e-9
    )
    assert limited.sizing.best.kwh == pytest.approx(plain.sizing.best.kwh, rel=1e-9)
    for of in ("base", "end"):
        assert getattr(limited.upgrades, of)["useful_kwh"] == pytest.approx(
            getattr(plain.upgrades, of)["useful_kwh"], rel=1e-9
        )
    third_jet = [
        year_kwh(study.demand_w)(study.changes[0].apply(study.base_case))["kwh"]
        for study in (limited, plain)
    ]
    assert third_jet[0] == pytest.approx(third_jet[1], rel=1e-9)
    assert limited.energy_uncertainty.percentiles("mean").loc["annual", "P50"] == pytest.approx(
        plain.energy_uncertainty.percentiles("mean").loc["annual", "P50"], rel=1e-4
    )


def test_a_volume_that_limits_is_drawn_down_by_what_each_plant_takes(tmp_path):
    """independent: a third jet takes more a day, so the licensed volume is gone sooner; worked out day by day."""
    study = changed(tmp_path, rights={"licence_volume": "150000 m^3"}, part=[LEAKS])
    wider = study.changes[0].apply(study.base_case)
    for case in (study.base_case, wider):
        most = max(case.chain.most_taken())
        month = np.asarray(study.record.index.month)
        asked = np.minimum(
            np.minimum(np.maximum(study.record.to_numpy() - 0.003, 0.0), 0.020), most
        )
        left, year, allowed = 0.0, None, []
        for flow, day in zip(asked, study.record.index):
            if year != day.year + (day.month >= 10):
                year, left = day.year + (day.month >= 10), 150000 / 86400
            allowed.append(min(flow, left))
            left -= allowed[-1]
        np.testing.assert_allclose(case.water.to_numpy(), allowed, atol=1e-12)
        power = np.array(
            [float(case.chain.at_si(flow, int(each)).power_w) for flow, each in zip(allowed, month)]
        )
        assert annual_energy(case.water, case.chain.curves()).annual_kwh == pytest.approx(
            power[:730].sum() * 0.024 / 2, rel=2e-4
        )
    assert wider.water.sum() <= study.base_case.water.sum() * (1 + 1e-9) and max(wider.water) > max(
        study.base_case.water
    )


def test_the_walk_knows_what_leaks_on_the_way(tmp_path):
    """Nothing remembered, a walk day by day gives the energy of the weights; 2e-4 for the curves."""
    study = opened(tmp_path, "leak")
    assert study.day_by_day.remembered.free_kwh.sum() == pytest.approx(
        study.year.gross_annual_kwh - study.year.pond_kwh.sum(), rel=2e-4
    )


def test_a_forebay_refills_from_surplus(tmp_path):
    """analytic: 20 L/s and 0 in turn through a machine of 10 L/s behind a leat: what the jets leave of the wet day fills the pond for the dry one."""
    days = pd.date_range("2020-10-01", "2022-09-30")
    text = "date,flow [L/s]\n" + "".join(
        f"{day.date()},{40 if number % 2 == 0 else 0}\n" for number, day in enumerate(days)
    )
    machine = {
        "kind": "francis",
        "jets": None,
        "jet_kind": None,
        "jet_diameter": None,
        "design_flow": "10 L/s",
        "efficiency": None,
        "minimum_flow": "0 %",
    }
    common = {
        "turbine": machine,
        "rights": {"licence": None},
        "upgrade": None,
        "sizing": None,
        "operation": None,
    }
    study = changed(
        tmp_path,
        {"flow": text},
        part=[LEAKS, {"kind": "forebay", "area": "864 m^2", "depth": "0.5 m"}],
        **common,
    )
    won = -study.day_by_day.remembered.cost_kwh["pond"].sum()
    # 432 m3 are half a day of 10 L/s: on each dry day half the flow of a wet one
    half = float(study.plant.at_si(1.0).used_m3s) / 2
    assert float(study.day_by_day.remembered.free_kwh.sum()) > 0 and half == pytest.approx(
        0.005, rel=0.02
    )
    per_day = float(study.plant.replace(supply=()).at_si(0.005).power_w) * 0.024
    assert won == pytest.approx(365.25 / 2 * per_day, rel=0.01)


def test_the_lattice_reaches_the_largest_plant_behind_a_leak():
    """Jets 9 % larger than they stand take more from the creek: the most energy of the draws is theirs, not that of a capped grid."""
    creek = pd.Series(0.05, DAYS, name="flow_m3s")
    found = energy_uncertainty(
        creek,
        resolve_rights([]),
        JETS,
        Uncertainties(rating=0, head=0, loss=0, efficiency=0, jet_area=0.03, outage=0),
        draws=400,
    )
    factor = float(found.factors["jet_area"].max())
    largest = JETS.factors(jet_area=factor)
    assert found.years_kwh.sum(axis=2).mean(axis=1).max() == pytest.approx(
        annual_energy(creek, largest.curves()).annual_kwh, rel=1e-4
    )


def test_days_fed_are_counted_behind_the_leak(tmp_path):
    """One count on 02 and 05: days on which all jets are fed are those at full flow, stops and the hand that sets them left out."""
    study = opened(tmp_path, "leak", rights={"licence": None}, intake=None)
    (*_, (count, full, days)) = fed_steps(study)
    assert count == study.plant.jets.count and full == pytest.approx(
        float(study.plant.at_si(1.0).used_m3s)
    )
    assert 20 < days < 345 and days == pytest.approx(
        float(study.year.alone.days_full.sum()), abs=0.6
    )
    assert study.jet_plan.days[:, 0].sum() == pytest.approx(
        float(study.year.alone.days_stopped.sum()), abs=0.6
    )


def test_each_plant_of_the_draws_uses_up_the_volume_by_what_it_takes():
    """independent: plants drawn with jets of other sizes, each through its own rights; and the middle of them is the plant as it stands."""
    rights = resolve_rights([fixed("2 L/s")], licence("25 L/s", volume="110000 m^3"))
    unknown = Uncertainties(rating=0.05, head=0, loss=0, efficiency=0, jet_area=0.05, outage=0)
    found = energy_uncertainty(CREEK, rights, JETS, unknown, draws=60)
    base = annual_energy(rights.usable_series(CREEK, JETS.most_taken()), JETS.curves())
    assert found.base.annual_kwh == pytest.approx(base.annual_kwh, rel=1e-9)
    unbound = annual_energy(
        resolve_rights([fixed("2 L/s")], "25 L/s").usable_series(CREEK), JETS.curves()
    )
    assert base.annual_kwh < 0.95 * unbound.annual_kwh, "the volume limits"
    apart = []
    for made, flow, area in zip(
        found.years_kwh.sum(axis=2).mean(axis=1), found.factors["flow"], found.factors["jet_area"]
    ):
        plant = JETS.factors(jet_area=area)
        apart.append(
            made
            / annual_energy(
                rights.usable_series(CREEK * flow, plant.most_taken()), plant.curves()
            ).annual_kwh
            - 1
        )
    assert np.sqrt(np.mean(np.square(apart))) < 1e-3 and np.max(np.abs(apart)) < 3e-3
