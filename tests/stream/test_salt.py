"""Salt: conductivity, calibration, slug, mixing, dose."""

import numpy as np
import pytest

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.stream.bucket import bucket
from hydrokit.stream.conductivity import conductivity_at_25, relative_calibration, salt_calibration
from hydrokit.stream.salt import mixing_check, salt_dose, salt_slug, solution_slug
from hydrokit.units import Q_

FLOW, MASS, FACTOR = 0.035, 0.15, 4.86  # m³/s, kg, kg/m³ per S/m
TIME = np.arange(0, 900, 2.0)


def pulse(time, tail=60.0, arrival=120.0):
    """Excess conductivity in S/m of the slug above: a gamma-shaped pulse of known area."""
    shape = (
        np.where(time > arrival, (time - arrival) * np.exp(-(time - arrival) / tail), 0.0) / tail**2
    )
    return MASS / FACTOR / FLOW * shape


def slug(excess, level=0.0100, time=TIME, **options):
    options = {
        "background": Q_(0.0100, "S/m"),
        "calibration": Q_(FACTOR, "kg/m^2/S"),
        "mass": Q_(MASS, "kg"),
    } | options
    return salt_slug(Q_(time, "s"), Q_(level + excess, "S/m"), **options)


def messages(result, level=None):
    return " | ".join(each.message for each in result.findings if level in (None, each.level))


def test_slug_finds_the_flow_that_made_the_pulse():
    """Analytic: a pulse of known area."""
    assert slug(pulse(TIME)).flow_m3s == pytest.approx(FLOW, rel=1e-3)


def test_uneven_steps_and_lost_readings_change_little():
    random = np.random.default_rng(5)
    kept = np.sort(random.choice(len(TIME), 250, replace=False))
    assert slug(pulse(TIME[kept]), time=TIME[kept]).flow_m3s == pytest.approx(FLOW, rel=5e-3)
    lost = np.where(np.arange(len(TIME)) % 40 == 7, np.nan, pulse(TIME))
    found = slug(lost)
    assert found.flow_m3s == pytest.approx(FLOW, rel=5e-3) and "missing" in messages(found)


def test_drift_is_taken_off_by_the_readings_before_and_after():
    drift = 0.0100 + 0.0004 * TIME / TIME[-1]
    untold = slug(pulse(TIME), level=drift)
    told = salt_slug(
        Q_(TIME, "s"),
        Q_(drift + pulse(TIME), "S/m"),
        Q_(MASS, "kg"),
        Q_([0.0100, 0.0104], "S/m"),
        Q_(FACTOR, "kg/m^2/S"),
    )
    assert told.flow_m3s == pytest.approx(FLOW, rel=1e-3)
    assert untold.flow_m3s < 0.97 * FLOW


def test_without_a_background_the_first_readings_stand_for_it():
    assert slug(pulse(TIME), level=0.0123).flow_m3s != pytest.approx(FLOW, rel=0.01)
    found = salt_slug(
        Q_(TIME, "s"),
        Q_(0.0123 + pulse(TIME), "S/m"),
        Q_(MASS, "kg"),
        calibration=Q_(FACTOR, "kg/m^2/S"),
    )
    assert found.flow_m3s == pytest.approx(FLOW, rel=1e-3)


def test_a_log_broken_off_is_a_problem_and_the_tail_mends_it():
    """Independent: the tail that was cut off is known, here an exact exponential."""
    time = np.arange(0, 200, 2.0)
    peak = MASS / FACTOR / FLOW / 90
    excess = np.where(
        time < 60,
        0.0,
        np.where(time < 120, peak * (time - 60) / 60, peak * np.exp(-(time - 120) / 60)),
    )
    excess = excess * 90 / (30 + 60)  # rising triangle of 30 s and an endless tail of 60 s
    cut = slug(excess, time=time)
    assert cut.flow_m3s > 1.15 * FLOW and "ends" in messages(cut, "problem")
    assert cut.details["tail_share"] == pytest.approx(
        60 * np.exp(-78 / 60) / (90 - 60 * np.exp(-78 / 60)), rel=0.02
    )
    assert slug(excess, time=time, tail="exponential").flow_m3s == pytest.approx(FLOW, rel=0.01)


def test_parts_of_the_uncertainty():
    found = slug(
        pulse(TIME), calibration_uncertainty="3 %", mass_uncertainty="1 %", mixing_uncertainty="4 %"
    )
    assert (
        found.parts["calibration"] == 0.03
        and found.parts["mass"] == 0.01
        and found.parts["mixing"] == 0.04
    )
    area = MASS / FACTOR / FLOW
    assert found.parts["background"] == pytest.approx(0.5e-4 * np.ptp(TIME) / area, rel=1e-2)
    assert found.uncertainty == pytest.approx(
        np.sqrt(sum(each**2 for each in found.parts.values()))
    )
    assert any("eggs" in each for each in found.cautions)


def test_usual_factor_is_told():
    assert "usual factor" in messages(slug(pulse(TIME), calibration=None), "note")


@pytest.mark.parametrize(
    "excess, time, sentence",
    [
        (pulse(TIME)[TIME > 150], TIME[TIME > 150], "already in the pulse"),
        (pulse(TIME)[::20], TIME[::20], "readings in the pulse"),
        (pulse(TIME) - 0.001 * (TIME > 500), TIME, "below the background"),
        (pulse(TIME) * 0.05, TIME, "low pulse"),
    ],
)
def test_poor_logs_are_told(excess, time, sentence):
    assert sentence in messages(slug(excess, time=time))


@pytest.mark.parametrize(
    "excess, time, options, sentence",
    [
        (0 * TIME, TIME, {}, "no pulse"),
        (pulse(TIME), TIME[::-1], {}, "times must rise"),
        (pulse(TIME), np.where(TIME < 300, TIME, TIME - 250), {}, "passed midnight"),
        (pulse(TIME), TIME, {"background": Q_([1, 2, 3], "S/m")}, "one before and one after"),
        (pulse(TIME), TIME, {"tail": "guess"}, "tail must be"),
        (pulse(TIME)[:3], TIME[:3], {}, "five readings"),
        (pulse(TIME)[:30], TIME[:20], {}, "a time for each"),
    ],
)
def test_slug_refuses(excess, time, options, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        slug(excess, time=time, **options)


def test_solution_and_salt_find_the_same():
    """The same slug told as 1 L of a solution of 150 g/L: k is the factor over that strength."""
    dry = slug(pulse(TIME))
    wet = solution_slug(
        Q_(TIME, "s"),
        Q_(0.01 + pulse(TIME), "S/m"),
        "1 L",
        Q_(FACTOR / 150, "m/S"),
        Q_(0.01, "S/m"),
    )
    assert wet.flow_m3s == pytest.approx(dry.flow_m3s, rel=1e-9)


def test_two_probes_show_the_mixing():
    one, other = slug(pulse(TIME)), slug(0.95 * pulse(TIME))
    both = mixing_check(one, other)
    assert both.flow_m3s == pytest.approx((one.flow_m3s + other.flow_m3s) / 2)
    assert both.parts["mixing"] == pytest.approx(
        (other.flow_m3s - one.flow_m3s) / 2 / both.flow_m3s
    )
    assert "agree" in messages(both) and "one probe" not in messages(both)
    assert "had not mixed" in messages(mixing_check(one, slug(0.8 * pulse(TIME))), "problem")
    assert mixing_check(one, one).parts["mixing"] == 0.01
    with pytest.raises(HydrokitError, match="two salt-slug"):
        mixing_check(one, bucket("10 L", ["5 s"] * 3))


def test_dose_and_slug_are_each_other_s_inverse():
    found = slug(pulse(TIME))
    rise, passage = Q_(found.details["peak_sm"], "S/m"), Q_(found.details["passage_s"], "s")
    assert salt_dose(found.flow, rise, passage, Q_(FACTOR, "kg/m^2/S")).mass_kg == pytest.approx(
        MASS, rel=1e-9
    )


def test_dose_warns_of_chloride():
    """0.6066 of the salt is chloride (atomic weights)."""
    assert "860" in messages(salt_dose("20 L/s", "3000 uS/cm"), "problem")
    assert "230" in messages(salt_dose("20 L/s", "1000 uS/cm"), "caution")
    mild = salt_dose("20 L/s", "100 uS/cm")
    assert [each.level for each in mild.findings] == ["note"]
    assert mild.chloride_kgm3 == pytest.approx(0.0486 * 35.453 / (22.990 + 35.453), rel=1e-4)
    with pytest.raises(HydrokitError, match="above zero"):
        salt_dose("0 L/s")


def test_calibration_is_a_straight_line_or_says_so():
    added = Q_([0, 5, 10, 15, 20], "mL")
    bent = salt_calibration(added, Q_([80, 130, 160, 180, 190], "uS/cm"), "2 g/L", "0.5 L")
    assert "do not lie on a line" in messages(bent)
    with pytest.raises(HydrokitError, match="does not rise"):
        salt_calibration(added, Q_([200, 180, 160, 140, 120], "uS/cm"), "2 g/L", "0.5 L")
    with pytest.raises(HydrokitError, match="from 0 upwards"):
        salt_calibration(Q_([5, 10, 15], "mL"), Q_([100, 110, 120], "uS/cm"), "2 g/L", "0.5 L")
    with pytest.raises(HydrokitError, match="at least three"):
        relative_calibration(Q_([0, 10], "mL"), Q_([100, 110], "uS/cm"), "10 mL", "1 L", "1 L")


def test_calibration_uncertainty_is_that_of_the_slope():
    """Independent: scipy.stats.linregress."""
    from scipy.stats import linregress

    found = salt_calibration(
        Q_([0, 5, 10, 15, 20], "mL"),
        Q_([84.7, 124.9, 163.8, 202, 239], "uS/cm"),
        "1990 mg/L",
        "0.5 L",
    )
    line = linregress(found.conductivity_sm, found.concentration)
    assert found.factor_si == pytest.approx(line.slope, rel=1e-12)
    assert found.uncertainty == pytest.approx(line.stderr / line.slope, rel=1e-9)
    assert found.r_squared == pytest.approx(line.rvalue**2, rel=1e-12)


def test_conductivity_at_25_is_itself_at_25():
    assert conductivity_at_25("100 uS/cm", "25 degC").m_as("uS/cm") == pytest.approx(100)
    assert conductivity_at_25("100 uS/cm", "77 degF").m_as("uS/cm") == pytest.approx(100)
    with pytest.warns(RangeWarning):
        conductivity_at_25("100 uS/cm", "-2 degC")
