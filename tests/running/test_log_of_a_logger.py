"""The log of a logger, drifts on their own, and visits."""

import numpy as np
import pandas as pd
import pytest
from test_log import GPM, KWH, hours

from hydrokit.errors import HydrokitError
from hydrokit.running.clogging import clogging
from hydrokit.running.drift import gauge_changes, slow_drifts
from hydrokit.running.healthy import half_sample_mode
from hydrokit.running.log import read_log
from hydrokit.running.log_events import log_history
from hydrokit.running.visits import best_interval, clogged_loss, time_left, visit_interval

# --- a synthetic logger -----------------------------------------------------------------------

FULL, WATTS, PRESSURE, CLEAN = (
    {2: 112.0, 4: 209.0},
    {2: 1760.0, 4: 3060.0},
    {2: 67.5, 4: 61.0},
    240.0,
)


def synthetic(years=1.0, minutes=30, seed=1, clog=0.05):
    """A logger's readings of a plant whose screen clogs in autumn and is cleaned by day."""
    random = np.random.RandomState(seed)
    time = pd.date_range(
        "2019-07-01", periods=int(years * 365.25 * 1440 / minutes), freq=f"{minutes}min"
    )
    day = time.day_of_year.to_numpy()
    jets = np.where((day > 330) | (day < 100), 2, 4)
    full, watts, pressure = (
        np.where(jets == 2, each[2], each[4]) for each in (FULL, WATTS, PRESSURE)
    )
    rate = (
        np.where(
            (day > 272) & (day < 310), clog, np.where((day > 100) & (day < 272), clog / 12, 0.0)
        )
        * minutes
        / 1440
    )
    blocked, cleans, due, now = np.zeros(len(time)), [], None, 0.0
    hour = time.hour.to_numpy()
    for index in range(len(time)):
        now = min(now + rate[index], 0.95)
        blocked[index] = now
        if due is None and CLEAN * (1 - now) < 0.9 * full[index]:
            due = index + int(random.uniform(0.2, 2.5) * 1440 / minutes)
        if due is not None and index >= due and 8 <= hour[index] < 18:
            now, due = 0.0, None
            cleans.append(min(index + 1, len(time) - 1))
    share = np.minimum(CLEAN * (1 - blocked) / full, 1.0)
    power = watts * share**3 * (1 + 0.007 * random.standard_normal(len(time)))
    psi = pressure * share**2 * (1 + 0.015 * random.standard_normal(len(time)))
    volts = 240 * (1 + 0.007 * random.standard_normal(len(time)))
    lost = float(np.sum(watts * (1 - share**3))) * minutes * 60
    return {
        "time": time,
        "jets": jets,
        "psi": psi,
        "volts": volts,
        "amps": power / volts,
        "cleans": time[cleans],
        "lost": lost,
        "share": share,
    }


def logged(made, path):
    with open(path, "w", encoding="utf-8") as file:
        file.write("time,jets [-],pressure [psi],volts [V],amps [A]\n")
        file.writelines(
            f"{time:%Y-%m-%d %H:%M},{jets},{psi:.1f},{volts:.0f},{amps:.2f}\n"
            for time, jets, psi, volts, amps in zip(
                made["time"], made["jets"], made["psi"], made["volts"], made["amps"]
            )
        )
    return path


@pytest.fixture(scope="module")
def logger(tmp_path_factory):
    made = synthetic()
    return made, log_history(read_log(logged(made, tmp_path_factory.mktemp("log") / "log.csv")))


def test_a_logger_without_spilling_or_needle_finds_every_seeded_cleaning(logger):
    made, found = logger
    moments = [event.start for event in found.of("clean")]
    assert len(made["cleans"]) >= 5
    assert all(min(hours(moment, each) for each in moments) <= 24 for moment in made["cleans"])
    assert all(min(hours(moment, each) for moment in made["cleans"]) <= 24 for each in moments)


def test_a_logger_finds_nothing_that_was_not_seeded(logger):
    _, found = logger
    assert not found.of(
        "sudden drop", "frazil", "ice stop", "stop", "no load", "low though spilling"
    )
    assert gauge_changes(found) == () and slow_drifts(found) == ()


def test_energy_lost_is_what_was_lost(logger):
    """Spell by spell. Where the jets were closed at last, creek and screen cannot be told apart, and only what closing brings counts."""
    made, found = logger
    time, watts = made["time"].to_numpy(), np.where(made["jets"] == 2, WATTS[2], WATTS[4])
    true_w = watts * (1 - made["share"] ** 3)
    seen = 0.0
    for event in found.of("clogging", "too many jets"):
        inside = (time >= event.start) & (time <= event.end)
        seen += true_w[inside].sum() * 1800
        if event.kind == "clogging":
            assert event.energy_j == pytest.approx(true_w[inside].sum() * 1800, rel=0.06)
    # What is lost within the noise, while the flow is hardly short, cannot be seen.
    assert seen == pytest.approx(made["lost"], rel=0.02)


def test_clogging_rate_of_the_logger(logger):
    _, found = logger
    clogs = clogging(found, {count: flow * GPM for count, flow in FULL.items()}, CLEAN * GPM)
    assert clogs.rate_in((10,)) == pytest.approx(0.05, rel=0.1)
    # From the clean screen's spare, before its water no longer fills four jets: (1 - 209/240)/0.05 days.
    assert clogs.grace_s(found) / 86400 == pytest.approx((1 - 209 / 240) / 0.05, rel=0.35)


@pytest.mark.slow
def test_five_years_of_ten_minutes(tmp_path):
    import time

    made = synthetic(years=5, minutes=10)
    path = logged(made, tmp_path / "log.csv")
    begin = time.process_time()
    found = log_history(read_log(path))
    spent = time.process_time() - begin
    assert len(found.log) > 262_000 and spent < 10
    moments = [event.start for event in found.of("clean")]
    assert all(min(hours(moment, each) for each in moments) <= 24 for moment in made["cleans"])


# --- drifts on their own ------------------------------------------------------------------------


def drifting(tmp_path, kind, size, seed=4, offset=0.0):
    """Two years of weekly healthy readings at 1 to 4 jets whose plant changes from half way on; solved by hand."""
    random = np.random.RandomState(seed)
    head, k = 50.0, 0.14 / (1 - 0.14) / 16  # loss of 14 % at four jets, in heads of four unit jets
    rows = []
    for number, time in enumerate(pd.date_range("2022-01-03 08:00", periods=208, freq="84h")):
        jets = 1 + number % 4
        share = max((number - 104) / 104, 0.0) * size
        area = jets + (
            share if kind == "one jet worn" else jets * share if kind == "all jets worn" else 0.0
        )
        loss = k * (1 + share if kind == "loss grown" else 1.0)
        # Q²(loss + 1/area²) = H with the jets' head (Q/area)²
        net = head / (1 + loss * area**2)
        power = (
            25.0
            * area
            * net**1.5
            / 10
            * (1 - share if kind == "machine losing" else 1.0)
            * (1 + 0.01 * random.standard_normal())
        )
        bar = net * 0.0980665 * (1 + 0.01 * random.standard_normal()) + (
            offset if 60 < number < 140 else 0.0
        )
        rows.append(f"{time:%Y-%m-%d %H:%M}, {jets}, {bar:.2f}, {power:.0f}, yes, steady")
    path = tmp_path / "log.csv"
    path.write_text(
        "time, jets, pressure [bar], watts [W], spilling, needle\n" + "\n".join(rows) + "\n",
        encoding="utf-8",
    )
    return log_history(read_log(path, head * 9806.65, 4))


@pytest.mark.parametrize(
    "kind, size",
    [("one jet worn", 0.3), ("all jets worn", 0.08), ("loss grown", 0.8), ("machine losing", 0.06)],
)
def test_each_slow_change_is_told_from_the_others_with_its_size(tmp_path, kind, size):
    (drift,) = slow_drifts(drifting(tmp_path, kind, size))
    assert drift.kind == kind and abs(drift.size - size) < max(5 * drift.sd, 0.12 * size)


def test_nothing_drifts_in_a_steady_plant(tmp_path):
    for seed in range(3):
        found = drifting(tmp_path, "none", 0.0, seed)
        assert slow_drifts(found) == () and gauge_changes(found) == ()


@pytest.mark.parametrize("offset", [-0.3, 0.25])
def test_a_gauge_that_jumps_is_found_beside_a_worn_jet(tmp_path, offset):
    found = drifting(tmp_path, "one jet worn", 0.3, offset=offset)
    (off,) = [event for event in gauge_changes(found) if event.kind == "gauge off"]
    assert off.size == pytest.approx(offset * 1e5, abs=8e3)
    assert hours(off.start, "2022-08-05") < 24 * 12 and hours(off.end, "2023-05-08") < 24 * 12
    assert [each.kind for each in slow_drifts(found)] == ["one jet worn"]


# --- visits -----------------------------------------------------------------------------------


def test_interval_of_a_linear_loss_is_the_closed_form():
    for cost, price, growth in [(3, 0.1, 20), (8, 0.32, 150), (40, 0.2, 600)]:
        closed = visit_interval.si(cost, price / KWH, growth / 86400)
        found = best_interval(
            lambda seconds, growth=growth: growth / 86400 * seconds, cost, price / KWH
        )
        assert found.interval_s == pytest.approx(closed, rel=2e-4) and not found.longest


def test_interval_of_a_bent_loss_against_a_fine_search():
    def lost(seconds):
        return clogged_loss.si(seconds, 3000.0, 0.05 / 86400, 1.15)

    days = np.arange(0.5, 15, 0.001)
    wasted = np.cumsum(lost(days * 86400)) * 0.001 * 86400
    cost = (8 + 0.32 / KWH * wasted) / days
    found = best_interval(lost, 8, 0.32 / KWH)
    assert found.interval_s / 86400 == pytest.approx(days[np.argmin(cost)], rel=0.01)
    assert found.cost_rate * 86400 == pytest.approx(cost.min(), rel=0.005)


def test_no_loss_is_never_worth_a_walk():
    assert best_interval(lambda seconds: 0 * seconds, 8, 0.32 / KWH).longest
    with pytest.raises(HydrokitError, match="price above zero"):
        best_interval(lambda seconds: seconds, 8, 0.0)
    with pytest.raises(HydrokitError, match="above the healthy one"):
        time_left("62 psi", "61 psi")


def test_half_sample_mode_finds_the_ridge_under_a_tail():
    random = np.random.RandomState(2)
    ridge, tail = (
        3000 * (1 + 0.01 * random.standard_normal(400)),
        3000 * random.uniform(0.1, 1, 300) ** 1.5,
    )
    assert half_sample_mode(np.concatenate([ridge, tail])) == pytest.approx(3000, rel=0.015)
