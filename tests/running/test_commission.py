"""Commissioning on plants whose truth is known: what is found, how surely, and what cannot be told."""

import math
from dataclasses import replace

import numpy as np
import pytest

from hydrokit.errors import HydrokitError
from hydrokit.plant.parts import FixedJets, MeasuredLoss, steady
from hydrokit.running.commission import commission
from hydrokit.running.epochs import Change
from hydrokit.running.missing import missing_watts
from hydrokit.running.reading import Reading, reading
from hydrokit.works.pipe import Line, Pipe

G, RHO = 9.80665, 999.7
JETS = FixedJets((0.0125,) * 4, 0.95)
LINE = Line((Pipe(0.1, 340.0, 1e-5, fittings=1.5),))


def truth(jets, head=48.0, loss=7.0e4, area=1.0, efficiency=0.55):
    """Closed form of a plant whose pipe loses with the square: pressure [Pa], flow [m³/s], watts. Nothing of hydrokit."""
    a = jets * area * 0.95 * math.pi / 4 * 0.0125**2
    if jets == 0:
        return RHO * G * head, 0.0, math.nan
    flow = math.sqrt(head / (loss + 1 / (2 * G * a * a)))
    at_jets = head - loss * flow**2
    return RHO * G * at_jets, flow, efficiency * RHO * G * flow * at_jets


def readings(
    rng=None, pressure_sd=0.01, power_sd=0.02, counts=(0, 1, 2, 3, 4), flow_at=None, **plant
):
    """What gauge and meters show of that plant, with noise if a generator is given."""
    head = plant.get("head", 48.0)
    seen = []
    for jets in counts:
        pressure, flow, watts = truth(jets, **plant)
        if rng is not None:
            pressure += pressure_sd * RHO * G * head * rng.standard_normal()
            watts *= math.exp(power_sd * rng.standard_normal())
        seen.append(
            Reading(
                jets, pressure, watts, flow_m3s=flow if jets == flow_at else math.nan, spilling=True
            )
        )
    return seen


def fit(seen, **options):
    return commission(seen, JETS, **{"density_kgm3": RHO, **options})


# --- exact readings -------------------------------------------------------------------------


def test_exact_readings_give_the_plant_back():
    """analytic: the closed form above; wide priors leave 1e-3."""
    found = fit(readings())
    assert found.estimate["head"] == pytest.approx(48.0, rel=1e-4)
    assert found.estimate["loss"] == pytest.approx(7.0e4, rel=1e-3)
    assert found.estimate["jet_area"] == pytest.approx(1.0, rel=1e-3)
    assert found.efficiency == pytest.approx(0.55, rel=1e-3)
    for place, jets in enumerate(found.jets):
        pressure, flow, watts = truth(int(jets))
        assert found.pressure_pa[place] == pytest.approx(pressure, rel=1e-4)
        assert found.flow_m3s[place] == pytest.approx(flow, rel=1e-3)
        assert found.power_w[place] == pytest.approx(watts, rel=1e-3)
    assert max(abs(miss) for *_, miss in found.residuals) < 0.02
    assert found.findings == ()
    assert found.water_to_wire == pytest.approx(
        found.power_w[-1] / (RHO * G * found.flow_m3s[-1] * 48.0), rel=1e-3
    )


def test_loss_as_a_factor_on_a_known_pipe():
    plant = fit(readings(), line=MeasuredLoss(5.0e4))
    assert plant.estimate["loss"] == pytest.approx(1.4, rel=1e-3)
    assert plant.has_line and not any("were not given" in str(text) for text in plant.cannot_tell)


def test_gauge_height_zero_and_bore_are_taken_off():
    """A gauge 2 m above the jets that reads 0.1 bar with nothing on it, in a pipe of 60 mm."""
    seen = []
    for each, (_, flow, _) in zip(readings(), (truth(jets) for jets in range(5))):
        velocity = (flow / (math.pi / 4 * 0.06**2)) ** 2 / (2 * G)
        seen.append(replace(each, pressure_pa=each.pressure_pa - RHO * G * (2.0 + velocity) + 1e4))
    found = fit(seen, gauge_height_m=2.0, zero_error_pa=1e4, gauge_bore_m=0.06)
    assert found.estimate["head"] == pytest.approx(48.0, rel=1e-3)
    assert found.estimate["loss"] == pytest.approx(7.0e4, rel=2e-3)
    assert fit(seen).estimate["head"] < 47.5


def test_fitted_plant_gives_the_same_watts():
    found = fit(readings(efficiency=0.5), line=LINE)
    for place, jets in enumerate(found.jets):
        assert float(found.plant.at_si(np.inf, jets=int(jets)).power_w) == pytest.approx(
            found.power_w[place], rel=1e-6
        )
    assert found.plant.curve().rated_w == pytest.approx(found.power_w.max(), rel=1e-6)


def test_efficiency_that_falls_with_few_jets_is_seen():
    falling = [
        replace(each, power_w=each.power_w * (1.0 if not each.jets else (each.jets / 4) ** 0.12))
        for each in readings()
    ]
    found = fit(falling)
    assert found.estimate["few_jets"] == pytest.approx(0.12, abs=0.01)
    assert found.power_w[0] == pytest.approx(falling[1].power_w, rel=0.01)


# --- intervals ------------------------------------------------------------------------------


@pytest.mark.parametrize("runs", [60, pytest.param(600, marks=pytest.mark.slow)])
@pytest.mark.parametrize("flow_at", [None, 4], ids=["watts only", "flow measured"])
def test_intervals_hold_the_truth_at_their_stated_rate(flow_at, runs):
    """Synthetic truth, jets off by their own 3 %: nine of ten intervals at 90 % should hold; within 3.5 binomial errors."""
    rng = np.random.default_rng(11)
    held = dict.fromkeys(("head", "loss", "jet_area", "efficiency"), 0)
    watts = 0
    for _ in range(runs):
        area = math.exp(0.03 * rng.standard_normal())
        seen = readings(rng, area=area, flow_at=flow_at)
        if flow_at:
            seen[flow_at] = replace(
                seen[flow_at],
                flow_m3s=seen[flow_at].flow_m3s * math.exp(0.05 * rng.standard_normal()),
            )
        found = fit(seen)
        for name, value in (
            ("head", 48.0),
            ("loss", 7.0e4),
            ("jet_area", area),
            ("efficiency", 0.55),
        ):
            low, high = found.interval(name, 0.9)
            held[name] += low <= value <= high
        true = truth(4, area=area)[2]
        watts += abs(found.power_w[3] - true) <= 1.645 * found.power_sd_w[3]
    error = 3.5 * math.sqrt(0.9 * 0.1 * runs)
    for name, count in {**held, "watts": watts}.items():
        assert abs(count - 0.9 * runs) < error, f"{name}: {count} of {runs}"


def test_a_measured_flow_unties_jets_and_machine():
    without, with_flow = fit(readings()), fit(readings(flow_at=4), flow_sd=0.01)
    width = lambda found, name: math.log(found.interval(name)[1] / found.interval(name)[0])
    for name in ("jet_area", "efficiency"):
        assert width(with_flow, name) < 0.6 * width(without, name)
    # watts and pressure know the product of flow and efficiency in both cases
    product = without.covariance[2, 2] + without.covariance[3, 3] + 2 * without.covariance[2, 3]
    assert math.sqrt(product) < 0.7 * math.sqrt(without.covariance[3, 3])
    assert any("flow and efficiency" in str(text) for text in without.cannot_tell)
    assert not any("flow and efficiency" in str(text) for text in with_flow.cannot_tell)


def test_uncertainty_goes_on_to_the_year():
    unsure = fit(readings(), line=LINE).uncertainties(rating=0.2)
    assert unsure.rating == 0.2
    assert unsure.jet_area == pytest.approx(0.03, rel=0.1)
    tied = {(a, b): r for a, b, r in unsure.correlated}
    assert tied[("efficiency", "jet_area")] < -0.6


# --- what cannot be told, what is refused ---------------------------------------------------


def test_what_the_readings_cannot_separate_is_said():
    assert any(
        "bore of the jets and their coefficient" in str(text)
        for text in fit(readings()).cannot_tell
    )
    one_count = fit(readings(counts=(0, 4)))
    assert any("trapped air" in str(text) for text in one_count.cannot_tell)
    no_watts = fit([replace(each, power_w=math.nan) for each in readings()])
    assert any("no watts" in str(text) for text in no_watts.cannot_tell)
    assert math.isnan(no_watts.efficiency) and np.all(np.isnan(no_watts.power_w))
    assert no_watts.flow_m3s[3] == pytest.approx(truth(4)[1], rel=1e-3)
    no_shut_off = fit(readings(counts=(1, 2, 3, 4)))
    assert any("everything shut" in str(text) for text in no_shut_off.cannot_tell)
    assert no_shut_off.estimate["head"] == pytest.approx(48.0, rel=5e-3)
    assert no_shut_off.interval("head")[1] > fit(readings()).interval("head")[1]


def test_running_pressure_above_static_is_refused():
    seen = readings()
    seen[2] = replace(seen[2], pressure_pa=1.1 * seen[0].pressure_pa)
    with pytest.raises(
        HydrokitError,
        match=r"reading 3 has a running pressure of 5\.18 bar with 2 jets open, above the 4\.71 bar with everything shut",
    ):
        fit(seen)
    seen[2] = replace(seen[2], pressure_pa=1.01 * seen[0].pressure_pa)
    assert any("within the gauge's error" in each.message for each in fit(seen).findings)


def test_readings_while_the_pond_was_low_are_left_out():
    seen = readings()
    low = replace(
        seen[4],
        pressure_pa=0.5 * seen[4].pressure_pa,
        power_w=0.2 * seen[4].power_w,
        spilling=False,
    )
    found = fit([*seen[:4], low])
    assert any("reading 5 left out" in each.message for each in found.findings)
    assert found.power_w[3] == pytest.approx(truth(4)[2], rel=0.01)
    assert any(
        "do not say whether the forebay spilled" in each.message
        for each in fit([replace(each, spilling=None) for each in seen]).findings
    )


def test_scatter_beyond_what_was_stated_widens_the_intervals():
    seen = readings()
    seen[3] = replace(seen[3], pressure_pa=seen[3].pressure_pa * 1.06)
    found, clean = fit(seen), fit(readings())
    text = next(each.message for each in found.findings if "scatter" in each.message)
    assert "reading 4: pressure" in text
    assert found.interval("head")[1] - found.interval("head")[0] > 1.5 * (
        clean.interval("head")[1] - clean.interval("head")[0]
    )


def test_an_efficiency_above_one_is_a_problem_not_a_result():
    found = fit([replace(each, power_w=2.0 * each.power_w) for each in readings()])
    assert any(
        each.level == "problem" and "give an efficiency of 1" in each.message
        for each in found.findings
    )


@pytest.mark.parametrize(
    "seen, jets, message",
    [
        ([Reading(5, 1e5)], JETS, "reading 1 has 5 jets open, but there are 4"),
        ([Reading(0, 4e5)], JETS, "one with jets open"),
        ([Reading(3, 4e5)], JETS, "two numbers of jets"),
        ([Reading(0, -1.0), Reading(1, 4e5)], JETS, "needs a gauge pressure, zero or more"),
        ([Reading(0, 5e5), Reading(1, 4e5, -3.0)], JETS, "has a power of -3"),
        ([Reading(0, 5e5), Reading(1, 4e5)], FixedJets((0.01, 0.02)), "differ in bore"),
    ],
)
def test_readings_that_cannot_be_are_refused(seen, jets, message):
    with pytest.raises(HydrokitError, match=message):
        commission(seen, jets)


def test_reading_takes_what_people_write():
    assert reading(2, "60 psi", volts="48 V", amps="20 A").power_w == pytest.approx(960.0)
    assert reading(
        1, "4 bar", volts="230 V", amps="5 A", power_factor="80 %"
    ).power_w == pytest.approx(920.0)
    assert math.isnan(reading(0, "5 bar").power_w)
    assert reading(4, "4 bar", flow="200 gpm").flow_m3s == pytest.approx(0.0126, rel=1e-2)


# --- missing watts --------------------------------------------------------------------------


def test_missing_watts_are_split_between_pipe_and_machine():
    """analytic: against a pipe with half the loss and a machine of 70 %."""
    found = fit(readings(), line=MeasuredLoss(3.5e4))
    missing = missing_watts(found, 0.70)
    for place, jets in enumerate(missing.jets):
        now, clean, healthy = (
            truth(int(jets))[2],
            truth(int(jets), loss=3.5e4)[2],
            truth(int(jets), loss=3.5e4, efficiency=0.7)[2],
        )
        assert missing.missing_w[place] == pytest.approx(healthy - now, rel=5e-3)
        assert missing.pipe_w[place] == pytest.approx(clean - now, rel=2e-2, abs=1.0)
        assert missing.machine_w[place] == pytest.approx(healthy - clean, rel=1e-2)
    np.testing.assert_allclose(missing.pipe_w + missing.machine_w, missing.missing_w)


def test_missing_watts_without_a_known_pipe_or_without_watts():
    missing = missing_watts(fit(readings()), 0.7)
    assert np.all(np.abs(missing.pipe_w) < 1e-6)
    assert any("that of a healthy pipe" in each.message for each in missing.findings)
    with pytest.raises(HydrokitError, match="no watts were read"):
        missing_watts(fit([replace(each, power_w=math.nan) for each in readings()]), 0.7)
    with pytest.raises(HydrokitError, match="between 0 and 1"):
        missing_watts(fit(readings()), 1.2)


def test_jets_that_only_run_together():
    joined = FixedJets((0.0125,) * 4, 0.95, valves=False)
    found = commission(readings(counts=(0, 4)), joined, MeasuredLoss(7.0e4), density_kgm3=RHO)
    assert np.all(np.isnan(found.flow_m3s[:3]))
    assert found.power_w[3] == pytest.approx(truth(4)[2], rel=1e-2)
    assert found.plant.runner.part_load.best == pytest.approx(
        steady(found.efficiency).best, rel=1e-6
    )


# --- readings of other days -----------------------------------------------------------------


def dated(seen, day):
    return [replace(each, day=day, name=f"{each.jets} open") for each in seen]


def test_a_later_visit_to_a_faulty_plant_does_not_bend_the_baseline():
    """A blocked jet reads as one jet less (closed form): the healthy plant stays that of the first day."""
    good = dated(readings(), "2026-05-02")
    alone = fit(good)
    faulty = dated([replace(readings(counts=(1,))[0], jets=2)], "2026-09-14")
    found = fit(good + faulty)
    assert found.pressure_pa == pytest.approx(alone.pressure_pa, rel=1e-9)
    assert found.power_w == pytest.approx(alone.power_w, rel=1e-9)
    (finding,) = found.findings
    assert finding.level == "note" and "commissioned on 2026-05-02" in finding.message
    assert {name for name, *_ in found.residuals} == {f"{jets} open" for jets in range(5)} | {
        "jets"
    }
    assert found.days == ("2026-05-02",)


def test_two_slightly_faulty_visits_never_join():
    """A valve takes 8 m at full flow from the second day on: too little for a strange day, and no part of the card."""
    good = dated(readings(), "2026-05-02")
    faulty = [
        each
        for day in ("2026-06-20", "2026-07-20")
        for each in dated(readings(counts=(0, 3, 4), loss=7.0e4 + 8.0 / 0.0105**2), day)
    ]
    assert fit(good + faulty).pressure_pa == pytest.approx(fit(good).pressure_pa, rel=1e-9)


def marked(seen):
    return [replace(each, commissioning=True) for each in seen]


def test_the_last_marked_day_is_the_commissioning_whatever_else_was_read():
    """By the owner's word: the machine has lost a tenth by the second commissioning, and a third visit is none."""
    first, second = dated(readings(), "2026-05-02"), dated(readings(efficiency=0.495), "2027-05-02")
    visit = dated(readings(efficiency=0.3), "2027-08-02")
    assert fit(marked(first) + second + visit).efficiency == pytest.approx(0.55, rel=1e-3)
    found = fit(marked(first) + marked(second) + visit)
    assert found.efficiency == pytest.approx(0.495, rel=1e-3) and found.days == ("2027-05-02",)
    assert found.findings == ()


def test_a_commissioning_may_take_two_days_of_a_week():
    seen = marked(dated(readings(counts=(0, 1)), "2026-05-02"))
    seen += marked(dated(readings(counts=(3, 4)), "2026-05-04"))
    found = fit(seen + dated(readings(loss=2.0e5), "2026-05-30"))
    assert found.days == ("2026-05-02", "2026-05-04")
    assert found.estimate["loss"] == pytest.approx(7.0e4, rel=5e-3)


def test_a_marked_day_that_is_too_little_is_refused_by_its_date():
    seen = dated(readings(), "2026-05-02") + marked(dated(readings(counts=(4,)), "2027-05-02"))
    with pytest.raises(HydrokitError, match="on 2027-05-02, which is marked"):
        fit(seen)


def test_a_change_since_makes_the_plant_less_sure_until_it_is_commissioned_again():
    """Variances add: the runner is uncertain by its own 5 % besides what the readings left."""
    good = marked(dated(readings(), "2026-05-02"))
    changes = [Change("2026-08-01", "runner"), Change("2026-01-01", "jet")]
    alone, found = fit(good), fit(good, changes=changes)
    assert found.changes == (Change("2026-08-01", "runner"),)
    assert found.covariance[3, 3] == pytest.approx(alone.covariance[3, 3] + 0.05**2)
    assert found.covariance[2, 2] == pytest.approx(alone.covariance[2, 2])
    assert np.all(found.power_sd_w > alone.power_sd_w)
    assert "the runner on 2026-08-01" in found.findings[0].message
    again = fit(good + marked(dated(readings(), "2026-09-01")), changes=changes)
    assert again.changes == () and again.findings == ()


def test_a_dead_machine_and_a_dry_pipe_are_readings_and_no_part_of_the_healthy_plant():
    dead, dry = replace(readings()[4], power_w=0.0), Reading(0, 0.0)
    found = fit([*readings(), dead, dry])
    assert found.power_w == pytest.approx(fit(readings()).power_w, rel=1e-9)
    assert "reading 6 and reading 7 left out: nothing ran" in found.findings[0].message


def test_of_two_full_days_that_differ_the_first_is_the_healthy_plant():
    """The machine has lost a tenth of its efficiency by the second day, and none is marked."""
    found = fit(dated(readings(efficiency=0.495), "2027-05-02") + dated(readings(), "2026-05-02"))
    assert found.efficiency == pytest.approx(0.55, rel=1e-3)
    assert "commissioned on 2026-05-02" in found.findings[0].message


def test_a_reading_a_day_is_taken_until_each_number_of_jets_was_read():
    """One reading a day: no day shows the plant by itself; what comes after is no part of it."""
    seen = [
        each
        for number, reading in enumerate(readings(counts=(0, 1, 2, 4, 4)))
        for each in dated([reading], f"2026-05-{number + 1:02}")
    ]
    seen[2] = replace(seen[2], power_w=0.7 * seen[2].power_w, pressure_pa=0.8 * seen[2].pressure_pa)
    found = fit(seen)
    assert len(found.days) == 4 and len({name for name, *_ in found.residuals}) == 5
    assert any("scatter" in each.message for each in found.findings)


def test_lines_of_one_file_are_told_together():
    """As a reader names them: the file once, then its lines."""
    from hydrokit.running.commission import _listed

    assert _listed([f"readings.csv line {each}" for each in (9, 10, 11)]) == (
        "readings.csv lines 9, 10 and 11"
    )
    assert _listed(["a.csv line 4", "b.csv line 5"]) == "a.csv line 4 and b.csv line 5"
    assert _listed(["readings.csv line 4"]) == "readings.csv line 4"
