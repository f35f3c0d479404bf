"""The year of a plant that has a log: the log is the first evidence, and what it made lies inside what is stated."""

from datetime import datetime, timedelta

import numpy as np
import odd_studies
import pytest
import shared
from small_study import changed

from hydrokit.report.comparison import candidate
from hydrokit.report.pages.p05 import today, year
from hydrokit.report.pages.p07 import money
from hydrokit.report.pages.p09 import seasons
from hydrokit.running.log import read_log
from hydrokit.running.log_events import log_history
from hydrokit.running.log_year import log_year
from hydrokit.stream.record import MONTH_NAMES
from hydrokit.study.build.winter import power_by_month
from hydrokit.study.opening import open_study


def log_text(years=3, every=3.0, low=0.0):
    """Readings every few days: 2 kW in summer, 1 kW in winter, each year weaker by a share; a week a year at half power."""
    lines, at = (
        ["time,jets,pressure [bar],watts [W],spilling,needle,air [degC],note"],
        datetime(2018, 1, 1),
    )
    while at < datetime(2018 + years, 1, 1, 12):
        watts = (2000 if 4 <= at.month <= 9 else 1000) * (1 - low * (at.year - 2018))
        clogged = at.month == 11 and at.day <= 9
        lines.append(
            f"{at:%Y-%m-%d %H:%M},{2 if watts > 1500 else 1},{3.5 * (0.63 if clogged else 1):.3f},{watts * (0.5 if clogged else 1):.1f},{'no' if clogged else 'yes'},{'fluctuates' if clogged else 'steady'},5,"
        )
        if (
            clogged and (at + timedelta(days=every)).day > 9
        ):  # brushed on the last day, and read again an hour later
            lines.append(
                f"{at + timedelta(hours=1):%Y-%m-%d %H:%M},1,3.500,{watts:.1f},yes,steady,5,cleaned"
            )
        at += timedelta(days=every)
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "log.csv"
    path.write_text(log_text(), encoding="utf-8")
    return log_history(read_log(path, 3.7e5, 2))


def by_hand(log):
    """Joule by joule: the mean of two neighbouring readings for the time between them."""
    total = 0.0
    for number in range(len(log) - 1):
        total += (
            (log.power_w[number] + log.power_w[number + 1])
            / 2
            * (log.seconds[number + 1] - log.seconds[number])
        )
    return total / 3.6e6


def test_the_year_is_what_the_readings_add_up_to(made):
    found = log_year(made)
    assert found.annual_kwh * made.years == pytest.approx(by_hand(made.log), rel=2e-3)
    assert len(found.years_kwh) == 3 and found.years_kwh.mean() == pytest.approx(
        found.annual_kwh, rel=2e-3
    )
    # April at 2 kW, 720 hours, but for the rise from winter's watts in its first days.
    assert found.monthly_kwh[4] == pytest.approx(744 * 2.0, rel=1e-3) and found.monthly_kwh[
        0
    ] == pytest.approx(744.0, rel=1e-3)


def test_what_a_fault_took_stands_apart(made):
    found = log_year(made)
    # Three readings at half of 1 kW, three days apart: 500 W for six days, and part of the three before and after.
    assert 0.5 * 24 * 6 < found.fault_kwh < 0.5 * 24 * 12
    assert found.healthy_kwh == pytest.approx(found.annual_kwh + found.fault_kwh)


def test_the_interval_holds_every_year_and_narrows_with_years(tmp_path):
    spread = []
    for years in (1, 2, 6):
        path = tmp_path / f"{years}.csv"
        path.write_text(log_text(years, low=0.02), encoding="utf-8")
        found = log_year(log_history(read_log(path, 3.7e5, 2)))
        low, high = found.range_kwh
        assert len(found.years_kwh) == years and np.all(
            (low <= found.years_kwh) & (found.years_kwh <= high)
        )
        assert (
            found.exceeded_kwh(0.99)
            < found.exceeded_kwh(0.9)
            < found.exceeded_kwh(0.75)
            < found.annual_kwh
            == found.exceeded_kwh(0.5)
        )
        spread.append(found.single_sd)
    assert spread[0] > spread[1] > spread[2]
    # One year says nothing of how years differ: the usual 20 % for a year and its mean, meters and readings besides.
    assert spread[0] == pytest.approx(0.2 * np.sqrt(2), rel=0.05)


def test_a_month_nobody_read_is_not_known(tmp_path):
    kept = [
        line for line in log_text(1).splitlines() if not line.startswith(("2018-06", "2018-07"))
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    found = log_year(log_history(read_log(path, 3.7e5, 2)))
    assert (
        np.isnan(found.monthly_kwh[[5, 6]]).all()
        and np.isfinite(found.monthly_kwh[[0, 3, 8]]).all()
        and np.isnan(found.annual_kwh)
    )


def test_pressure_alone_tells_the_energy_of_a_known_plant(tmp_path):
    text = "\n".join(
        line
        if number == 0
        else ",".join("" if place == 3 else cell for place, cell in enumerate(line.split(",")))
        for number, line in enumerate(log_text(1).splitlines())
    )
    path = tmp_path / "log.csv"
    path.write_text(text + "\n", encoding="utf-8")
    found = log_year(
        log_history(read_log(path, 3.7e5, 2), {1: (3.5e5, 1000.0), 2: (3.5e5, 2000.0)})
    )
    assert found.from_pressure and found.annual_kwh > 0


# --- through the study ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def logged():
    return shared.odd("log and no record")


def test_the_log_comes_before_the_bracket_everywhere(logged):
    found = logged.answer("energy.log")
    assert found.value == pytest.approx(by_hand(logged.log) / logged.history.years, rel=0.02)
    assert (
        found.low <= logged.log_year.years_kwh.min()
        and logged.log_year.years_kwh.max() <= found.high
    )
    assert (
        "bracket" in found.set_aside[0].source
        and not logged.bracket.low_kwh <= found.value <= logged.bracket.high_kwh
    )
    assert any(
        each.where == "bracket" and "the log is used" in each.message for each in logged.findings()
    )
    assert (
        logged.answer("energy.annual.p50").value
        == found.value
        > logged.answer("energy.annual.p90").value
    )
    assert (
        logged.money.energy.made_kwh == found.value
        and logged.results()["log"]["annual_kwh"] == found.value
    )
    view = logged.view("metric")
    shown = view.shown(found)
    for words in (
        today.headline(logged, view),
        year.headline(logged, view),
        today.bracket_words(logged, view),
    ):
        assert shown in words.marked
    assert "Set aside" in str(
        today.bracket_words(logged, view)
    ) and "lies somewhere between" not in str(year.headline(logged, view))


def test_the_comparison_takes_its_year_from_the_log(logged):
    found = candidate(logged)
    assert (
        found.comparable
        and found.p50_kwh == logged.answer("energy.log").value
        and np.isnan(found.low_kwh)
    )


def test_no_month_is_filled_that_the_log_does_not_hold(tmp_path):
    odd_studies.opened(tmp_path, "log and no record")
    lines = (tmp_path / "log.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "log.csv").write_text(
        "\n".join([lines[0], *(line for line in lines[1:] if line[5:7] not in ("02", "03", "04"))])
        + "\n",
        encoding="utf-8",
    )
    made = open_study(tmp_path)
    power, source = power_by_month(made)
    assert (
        np.isnan(power[[1, 2]]).all() and np.isfinite(power[[6, 7]]).all() and source == "the log"
    )
    assert (
        made.answer("energy.log") is None
        and made.money is not None
        and made.money.energy.source == "a few gaugings"
    )


def test_a_year_the_log_made_lies_inside_the_range_of_the_record_or_widens_it():
    made = shared.odd("record and log")
    found = made.answer("energy.annual.p50")
    assert (
        found.low <= made.log_year.years_kwh.min() and made.log_year.years_kwh.max() <= found.high
    )
    assert any("the range is widened" in each.message for each in made.findings())


def test_the_usual_variability_of_years_stands_once():
    """Records too short to tell, and logs, lean on the same number; the register of assumptions shows it."""
    from hydrokit.energy import outlook
    from hydrokit.running import log_year as by_log

    assert not hasattr(by_log, "USUAL_VARIABILITY") and by_log.FEW_YEARS_SD is outlook.FEW_YEARS_SD
    study = shared.odd("log and no record")
    assert study.answer("assumed.years_sd").value == outlook.FEW_YEARS_SD


CABLE = {"cable": {"size": "4 mm2", "length": "60 m", "voltage": "230 V"}}


def test_energy_of_the_log_and_of_money_are_counted_at_the_same_place(tmp_path):
    """By hand: a copper cable of 4 mm², 60 m out and back, takes I²R of the watts that were read ahead of it."""
    ahead, behind = (
        odd_studies.opened(
            tmp_path / place.split()[0],
            "log and no record",
            readings={"metered_at": place},
            **CABLE,
        )
        for place in ("sending end", "receiving end")
    )
    metered = ahead.answer("energy.log.metered").value
    assert metered == pytest.approx(behind.answer("energy.log").value, rel=1e-9)
    # watts of the log lie at 230 V times 12.9 A or less; 2 x 60 m of 4 mm² have some 0.5 ohm
    watts = 230 * 12.9
    lost = (watts / 230) ** 2 * 2 * 60 * 0.0172 / 4 / watts
    share = 1 - ahead.answer("energy.log").value / metered
    assert 0.7 * lost < share < 1.2 * lost
    for study in (ahead, behind):
        made = study.answer("energy.log").value
        assert study.answer("energy.annual.p50").value == made
        assert study.money.energy.made_kwh == pytest.approx(made, rel=1e-9)
        assert study.use.made_kwh.sum() == pytest.approx(made, rel=1e-9)
        assert study.money.energy.single_kwh.max() <= study.log_year.exceeded_kwh(0.01) * 1.001
    view = ahead.view("metric")
    words = today.headline(ahead, view)
    assert "at the loads" in words.text and "at the sending end" in words.text
    assert view.shown(ahead.answer("energy.log.metered")) in words.marked
    assert "counted at the loads" in money.pay_words(ahead, view).text
    assert "at the meter, at the sending end" in seasons.log_words(ahead, view).text
    assert "at the receiving end" not in today.headline(behind, view).text


def test_each_month_and_each_mean_is_held_against_the_log():
    made = shared.odd("record and log")
    monthly, found = made.log_year.monthly_kwh, made.answer("energy.month.p50")
    assert (found.low <= monthly).all() and (monthly <= found.high).all()
    levels = made.energy_uncertainty.percentiles(levels=(95, 5)).loc[list(range(1, 13))]
    low, high = (levels[name].to_numpy() for name in ("P95", "P5"))
    outside = (monthly < low) | (monthly > high)
    assert outside.any()  # the log of this study was kept on another creek than its record tells of
    told = " ".join(each.message for each in found.findings)
    for month, name in enumerate(MONTH_NAMES):
        assert (name in told) == bool(outside[month])
    assert all(each in made.findings() for each in found.findings)
    # a mean year: both are uncertain, and told apart only where the two intervals do not meet
    low, high = (made.log_year.exceeded_kwh(each, mean=True) for each in (0.95, 0.05))
    for key in ("energy.mean.p50", "energy.ten_years.p50"):
        answer = made.answer(key)
        apart = high < answer.low or answer.high < low
        assert bool(answer.findings) == apart


def test_a_record_of_the_same_water_agrees_with_its_log(tmp_path):
    """A log written from the very plant and record: no month, no year and no mean is said to lie outside."""
    plain = shared.odd("plain")
    power = plain.plant.at_si(plain.usable.to_numpy()).power_w * 0.99
    open_jets = plain.plant.at_si(plain.usable.to_numpy()).jets_open
    lines = ["time,jets,pressure [bar],watts [W],spilling,needle,air [degC],note"] + [
        f"{day:%Y-%m-%d} 12:00,{int(jets)},{3.5 - 0.2 * jets:.2f},{watts:.1f},yes,steady,5,"
        for day, jets, watts in zip(plain.usable.index, open_jets, power)
    ]
    site = {"site": {"stage_of_work": "existing"}, "readings": {"log": "log.csv"}}
    both = changed(tmp_path / "both", {"log": "\n".join(lines) + "\n"}, **site)
    assert both.log_year.annual_kwh == pytest.approx(both.year.annual_kwh, rel=0.02)
    for key in ("annual", "month", "mean", "ten_years"):
        assert both.answer(f"energy.{key}.p50").findings == ()
