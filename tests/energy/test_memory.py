"""What yesterday costs, against days walked by hand and plain loops."""

import numpy as np
import pandas as pd
import pytest

from hydrokit.energy.day_state import DAY_S
from hydrokit.energy.days import simulate_days
from hydrokit.energy.habits import Habits
from hydrokit.energy.memory import drawn_stops, remember, stop_costs
from hydrokit.energy.year import Outages
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.works.rated import Rated

JET = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,), 0.95), Runner(steady(0.6)))
JETS = Chain(Penstock(MeasuredLoss(2e4), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
NEEDLE = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.010), Runner(steady(0.6)))
FROST = Habits(freezes_below_degc=-3.0, thaws_above_degc=0.0)
YEARS = pd.date_range("2018-10-01", "2022-09-30")


def flows(value, dates=YEARS):
    return pd.Series(np.broadcast_to(np.asarray(value, dtype=float), len(dates)), dates)


def creek(seed=3, dates=YEARS):
    """A creek of storms and dry spells, made without the package."""
    noise, level = np.random.default_rng(seed).gamma(0.4, 0.006, len(dates)), 0.004
    made = []
    for each in noise:
        level = 0.9 * level + each * 0.4
        made.append(level)
    return pd.Series(made, dates)


def cold_spells(dates=YEARS, first=10, last=19):
    """+5 °C, but −8 °C on ten days of each January."""
    air = pd.Series(5.0, dates)
    air[(dates.month == 1) & (dates.day >= first) & (dates.day <= last)] = -8.0
    return air


# --- habits that were added -----------------------------------------------------------------


def test_many_days_at_once_are_the_days_one_by_one():
    """Where only frost remembers, months are worked out whole; a least gain too small to matter forces the walk."""
    usable, air = creek(), cold_spells()
    usable.iloc[[470, 471, 480]] = np.nan  # in January
    stops = np.random.default_rng(1).random((3, len(usable))) < 0.02
    for habits in (
        Habits(),
        FROST,
        Habits(freezes_below_degc=-3.0, thaws_above_degc=0.0, under_fed_freezes=True),
    ):
        whole = simulate_days(usable, JETS, habits, air, stops)
        each = simulate_days(
            usable, JETS, Habits(**vars(habits) | {"least_gain": 1e-12}), air, stops
        )
        np.testing.assert_allclose(whole.power_w, each.power_w, rtol=1e-9)
        assert (whole.frozen == each.frozen).all() and (whole.power_w[:, :].shape == stops.shape)


def test_a_lasting_thaw_is_a_mean_of_the_days_before():
    """By hand: −8, then 3, −8, 3, 3, 3; one warm day thaws at once; three together have a mean above 0 on the last of three warm ones."""
    usable = flows(0.01, pd.date_range("2020-01-01", periods=8))
    air = np.array([-8.0, -8, 3, -8, 3, 3, 3, 3])
    stops = np.arange(8) == 1
    at_once = simulate_days(
        usable, JET, Habits(freezes_below_degc=-5.0, thaws_above_degc=0.0), air, stops
    )
    lasting = simulate_days(
        usable, JET, Habits(freezes_below_degc=-5.0, thaws_above_degc=0.0, thaw_days=3), air, stops
    )
    assert np.flatnonzero(at_once.frozen).tolist() == [1]
    # means of three up to each day: -8, -8, -4.3, -4.3, -0.7, -0.7, 3, 3: nobody knows on day 4 that it will stay warm
    assert np.flatnonzero(lasting.frozen).tolist() == [1, 2, 3, 4, 5]
    # a cold day after warm ones thaws nothing, whatever their mean
    snap = simulate_days(
        usable.iloc[:5],
        JET,
        Habits(freezes_below_degc=-5.0, thaws_above_degc=0.0, thaw_days=5),
        np.array([9.0, 9, 9, -6, -6]),
        np.arange(5) == 3,
    )
    assert np.flatnonzero(snap.frozen).tolist() == [3, 4]


def test_a_day_without_a_measurement_freezes_nothing():
    usable = flows(0.01, pd.date_range("2020-01-01", periods=5)).copy()
    usable.iloc[1] = np.nan
    found = simulate_days(usable, JET, Habits(freezes_below_degc=-5.0), np.full(5, -9.0))
    assert not found.frozen.any() and np.isnan(found.power_w[1]) and (found.power_w[2:] > 0).all()


def test_a_pond_carries_one_day_into_the_next():
    """analytic: 2q and 0 in turn through a machine of at most q: with a pond of a day's q it runs every day, without it every other."""
    dates = pd.date_range("2020-01-01", periods=20)
    usable = flows(np.tile([0.020, 0.0], 10), dates)
    without, full = (
        simulate_days(usable, NEEDLE),
        simulate_days(usable, NEEDLE, Habits(pond_m3=0.010 * DAY_S)),
    )
    half = simulate_days(usable, NEEDLE, Habits(pond_m3=0.005 * DAY_S))
    assert without.used_m3s.mean() == pytest.approx(0.005)
    np.testing.assert_allclose(full.used_m3s, 0.010, rtol=1e-9)
    np.testing.assert_allclose(half.used_m3s, np.tile([0.010, 0.005], 10), rtol=1e-9)


def test_a_pond_makes_no_water():
    usable, held = creek(), 0.003 * DAY_S
    found = simulate_days(usable, JETS, Habits(pond_m3=held))
    came = np.cumsum(usable.to_numpy()) * DAY_S
    assert (np.cumsum(found.used_m3s) * DAY_S <= came + held + 1e-6).all()
    assert found.kwh.sum() >= simulate_days(usable, JETS).kwh.sum() * (1 - 1e-9)
    # no pond, no difference
    np.testing.assert_allclose(
        simulate_days(usable, JETS, Habits(pond_m3=1e-9)).power_w,
        simulate_days(usable, JETS).power_w,
        rtol=1e-5,
    )


def test_what_the_screen_and_the_way_take_comes_before_the_pond():
    """A screen that passes q cannot fill the pond with more; a tenth seeps away before it."""
    narrow = NEEDLE.replace(supply=(Rated(0.008, 0.0, "screen"), Rated(np.inf, 0.1, "open ground")))
    usable = flows(np.tile([0.020, 0.0], 10), pd.date_range("2020-01-01", periods=20))
    found = simulate_days(usable, narrow, Habits(pond_m3=0.1 * DAY_S))
    assert found.used_m3s.sum() == pytest.approx(10 * 0.9 * 0.008 + 0.1, rel=1e-9)


# --- a year that remembers ------------------------------------------------------------------


def test_each_memory_by_a_plain_loop():
    """independent: the plant of one jet is a number a day; frost, stops and thaw in a loop of Python."""
    usable, air = creek() + 0.004, cold_spells()
    found = remember(usable, JET, FROST, air, stops_a_year=2.0, draws=5, seed=7)
    power = simulate_days(usable, JET).power_w
    cold = air.to_numpy() <= -3
    chance = 2.0 * len(usable) / 365.25 / cold.sum()
    stops = drawn_stops(usable.index, air, -3.0, 2.0, 5, 7, 10)
    assert (
        not stops[:, ~cold].any()
        and abs(stops.sum(axis=0).mean() - 5 * chance * cold.mean()) < 0.01
    )
    lost = np.zeros(12)
    for draw in stops:
        frozen = False
        for day, stop in enumerate(draw):
            frozen = (frozen and not air.iloc[day] > 0) or bool(
                cold[day] and (stop or power[day] <= 0)
            )
            if frozen and not stop:
                lost[usable.index[day].month - 1] += power[day] * 0.024
    np.testing.assert_allclose(found.cost_kwh["frost"], lost / 5 / 4, rtol=1e-9, atol=1e-9)
    assert (
        found.stops == pytest.approx(stops.sum() / 5 / (len(usable) / 365.25))
        and "all" not in found.cost_kwh
    )
    assert found.years_kwh.shape == (5, 4) and found.years_kwh.mean() == pytest.approx(
        found.cost_kwh["frost"].sum()
    )


@pytest.mark.slow
def test_costs_are_against_the_year_without_memory():
    usable, air = creek(), cold_spells()
    outages = Outages(unplanned=0.1)
    found = remember(
        usable,
        JETS,
        Habits(
            least_gain=0.1,
            visit_days=5,
            ramp_m3s_per_day=0.001,
            freezes_below_degc=-3.0,
            thaws_above_degc=0.0,
            pond_m3=80.0,
        ),
        air,
        1.0,
        outages,
        draws=4,
    )
    free = simulate_days(usable, JETS)
    assert found.free_kwh.sum() == pytest.approx(free.kwh.sum() / 4 * 0.9)
    assert list(found.cost_kwh) == ["ramp", "jets", "pond", "frost"]
    assert (
        (found.cost_kwh["jets"].sum() > 0)
        and found.cost_kwh["ramp"].sum() > 0
        and found.cost_kwh["frost"].sum() > 0
        and found.cost_kwh["pond"].sum() < 0
    )
    assert found.changes < found.free_changes
    # one after the other, so that they add up to what is left
    slow, hands = (
        Habits(ramp_m3s_per_day=0.001),
        Habits(ramp_m3s_per_day=0.001, least_gain=0.1, visit_days=5),
    )
    ramped, walked = (
        simulate_days(usable, JETS, slow),
        simulate_days(usable, JETS, hands, first_visit=np.arange(5)),
    )
    assert found.cost_kwh["jets"].sum() == pytest.approx(
        (ramped.kwh.sum() - walked.kwh.sum(axis=(1, 2)).mean()) / 4 * 0.9
    )
    assert found.lost_kwh.sum() == pytest.approx(
        found.free_kwh.sum() - found.kept.kwh.sum() / 4 * 0.9
    )
    assert sum(each.sum() for each in found.kept.days.values()) == pytest.approx(len(usable))


def test_the_same_seed_gives_the_same_and_more_draws_the_same_mean():
    usable, air = creek(), cold_spells()
    one, two = (
        remember(usable, JET, FROST, air, 1.0, draws=20, seed=4).cost_kwh["frost"] for _ in range(2)
    )
    assert (one == two).all()
    few, many = (remember(usable, JET, FROST, air, 1.0, draws=draws, seed=5) for draws in (40, 400))
    error = many.years_kwh.std() / np.sqrt(40 * 4)
    assert few.cost_kwh["frost"].sum() == pytest.approx(many.cost_kwh["frost"].sum(), abs=4 * error)


def test_a_record_without_a_whole_month_is_refused():
    with pytest.raises(HydrokitError, match="no mean year"):
        remember(flows(0.01, pd.date_range("2020-01-01", "2020-06-30")), JET, Habits(visit_days=3))
    with pytest.raises(HydrokitError, match="daily air temperature"):
        remember(flows(0.01), JET, FROST)


# --- one stop -------------------------------------------------------------------------------


def test_one_stop_by_hand():
    """analytic: full power, ten cold days each January: a stop on the k-th costs it and those that follow, 1 to 10 days."""
    found = stop_costs(flows(0.02), JET, FROST, cold_spells())
    day_kwh = float(JET.at_si(0.02).power_w) * 0.024
    assert (
        found.worst_month == 1
        and found.frosty[0] == pytest.approx(10 / 31)
        and found.frosty[1:].sum() == 0
    )
    assert found.days[0] == pytest.approx(5.5) and found.days_long[0] == pytest.approx(9.1)
    assert [found.kwh[0], found.kwh_long[0], found.kwh_most[0]] == pytest.approx(
        [5.5 * day_kwh, 9.1 * day_kwh, 10 * day_kwh]
    )
    assert np.isnan(found.kwh[1:]).all()


def test_a_stop_costs_nothing_that_was_not_to_be_had():
    """Stops that happen anyway take their share; a plant without water loses nothing."""
    half = stop_costs(flows(0.02), JET, FROST, cold_spells(), Outages(unplanned=0.5))
    assert half.kwh[0] == pytest.approx(
        stop_costs(flows(0.02), JET, FROST, cold_spells()).kwh[0] / 2
    )
    dry = stop_costs(flows(0.0), JET, FROST, cold_spells())
    assert dry.kwh_most[0] == 0 and dry.days[0] == 0


def test_without_frost_there_is_nothing_to_tell():
    found = stop_costs(flows(0.02), JET, FROST, np.full(len(YEARS), 9.0))
    assert found.worst_month is None and np.isnan(found.kwh).all() and found.frosty.sum() == 0


# --- visits ---------------------------------------------------------------------------------


def walked_by_hand(power, every, gain, first):
    """independent: power of each number of jets by day; the jets are those of the first day until somebody comes and finds it worth a change."""
    open_, changes, made = int(np.argmax(power[:, 0])), 0, []
    for day in range(power.shape[1]):
        if (day - first) % every == 0:
            best = int(np.argmax(power[:, day]))
            if power[best, day] > power[open_, day] * (1 + gain):
                changes += power[open_, day] > 0 and day > 0 and power[open_, day - 1] > 0
                open_ = best
        made.append(power[open_, day])
    return np.array(made)


@pytest.mark.parametrize("every, gain", [(7, 0.1), (3, 0.0), (1, 0.08), (40, 0.0)])
def test_visits_come_on_their_days(every, gain):
    """A quiet spell does not make the operator look each day afterwards: by hand, day by day, for every day of the first visit."""
    usable = creek()
    power = np.array([JETS.at_si(usable.to_numpy(), jets=count).power_w for count in (1, 2, 3, 4)])
    habits = Habits(visit_days=every, least_gain=gain)
    found = simulate_days(usable, JETS, habits, first_visit=habits.phases)
    assert found.power_w.shape == (min(every, 30), len(usable))
    for first, made in zip(habits.phases, found.power_w):
        np.testing.assert_allclose(
            made, walked_by_hand(power, every, gain, first), rtol=1e-3, atol=0.5
        )
    # a pond too small to hold anything forces the walk day by day
    slow = simulate_days(
        usable,
        JETS,
        Habits(visit_days=every, least_gain=gain, pond_m3=1e-12),
        first_visit=habits.phases,
    )
    np.testing.assert_allclose(slow.power_w, found.power_w, rtol=1e-3, atol=0.5)
    changed = np.flatnonzero(
        (found.jets_open[:, 1:] != found.jets_open[:, :-1])
        & (found.jets_open[:, 1:] > 0)
        & (found.jets_open[:, :-1] > 0)
        & (found.power_w[:, :-1] > 0)
    )
    assert (
        every == 1
        or len(changed) == 0
        or set(
            np.unique(
                (changed % (len(usable) - 1) + 1 - habits.phases[changed // (len(usable) - 1)])
                % every
            )
        )
        <= {0}
    )


def test_a_quiet_spell_does_not_bring_the_operator_sooner():
    """analytic: steady for 25 days, then more water on the 26th; visits every 7 days fall on days 0, 7, 14, 21, 28: the second jet opens on day 28."""
    usable = flows(0.0035, pd.date_range("2020-01-01", periods=40)).copy()
    usable.iloc[26:] = 0.02
    found = simulate_days(usable, JETS, Habits(visit_days=7))
    assert np.flatnonzero(np.diff(found.jets_open))[0] + 1 == 28


def test_states_of_the_days_add_up():
    usable = creek()
    usable.iloc[100:110] = np.nan
    found = simulate_days(usable, JETS, Habits(visit_days=5), first_visit=np.arange(5))
    counted = sum(found.days_in(state) for state in range(4))
    assert (counted.sum(axis=(1, 2)) == len(usable) - 10).all()
    # nothing remembered: the states of the plant curve
    free = simulate_days(usable, JETS)
    np.testing.assert_array_equal(
        free.state[~usable.isna()], JETS.curve().state_si(usable.dropna())
    )
