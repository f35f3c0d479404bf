"""The log: what people write wrongly, what happened, what it cost, what drifts; against seeded truth.

The plants behind the synthetic logs are written out here from the orifice law and import nothing
from hydrokit.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydrokit.errors import InputError
from hydrokit.running.clogging import clogging, self_cleaning
from hydrokit.running.drift import gauge_changes, slow_drifts
from hydrokit.running.healthy import reference
from hydrokit.running.history import CAUSES
from hydrokit.running.log import longest_rising, read_log
from hydrokit.running.log_events import log_history

SALTFERN = Path(__file__).resolve().parents[2] / "studies" / "saltfern-creek"
PSI, GPM, KWH = 6894.757, 3.785411784e-3 / 60, 3.6e6
STATIC = 71 * PSI
AT_REST = 58 * PSI  # of the demo


def hours(a, b):
    return abs((np.datetime64(a) - np.datetime64(b)) / np.timedelta64(1, "h"))


# --- the invented log of the demo -------------------------------------------------------------


@pytest.fixture(scope="module")
def saltfern():
    return log_history(read_log(SALTFERN / "log.csv", AT_REST, 4))


@pytest.fixture(scope="module")
def truth():
    table = pd.read_csv(SALTFERN / "events_truth.csv", comment="#", parse_dates=["start", "end"])
    return {kind: rows for kind, rows in table.groupby("event")}


def test_reads_every_line_without_complaint(saltfern):
    lines = [
        line
        for line in (SALTFERN / "log.csv").read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    assert len(saltfern.log) == len(lines) - 1 and saltfern.log.troubles == ()
    # Readings that stand a few psi above the static pressure are a gauge that is off, not slips of the pen.
    assert np.nanmax(saltfern.log.pressure_pa) > AT_REST


def test_seeded_cleanings_are_found_within_a_day_and_no_others(saltfern, truth):
    found = [event.start for event in saltfern.of("clean")]
    seeded = truth["brushed"]["start"]
    for each in found:
        assert min(hours(moment, each) for moment in seeded) <= 24
    # one of them moves less water than the creek rose and fell by that day
    missed = [moment for moment in seeded if min(hours(moment, each) for each in found) > 24]
    assert len(seeded) >= 12 and len(missed) <= 1


@pytest.mark.parametrize(
    "seeded, kind",
    [
        ("slide", "sudden drop"),
        ("breaker tripped", "no load"),
        ("regulator low", "low though spilling"),
    ],
)
def test_seeded_faults_are_named_and_placed_within_a_day(saltfern, truth, seeded, kind):
    (event,) = saltfern.of(kind)
    (row,) = truth[seeded].itertuples()
    assert hours(event.start, row.start) <= 24 and hours(event.end, row.end) <= 24


def test_ice_in_the_flume_stops_the_plant(saltfern, truth):
    (event,) = saltfern.of("ice stop")
    first, last = truth["flume icing"].iloc[0], truth["flume iced"].iloc[0]
    assert hours(event.start, first.start) <= 24 and hours(event.end, last.end) <= 24
    # by hand: what the jets that stood open the day before gave, for as long
    before = np.flatnonzero(saltfern.log.time < np.datetime64(first.start))[-1]
    days = (last.end - first.start) / pd.Timedelta(days=1)
    assert event.energy_j / KWH == pytest.approx(
        days * 24 * saltfern.log.power_w[before] / 1000, rel=0.06
    )


def test_the_gauge_that_salt_air_made_read_high_is_found_and_its_replacement(saltfern, truth):
    off, *changes = sorted(gauge_changes(saltfern), key=lambda event: event.kind != "gauge off")
    (row,) = truth["gauge high"].itertuples()
    assert off.kind == "gauge off" and [each.kind for each in changes] == ["gauge changed"] * 2
    assert hours(off.start, row.start) <= 24 and hours(off.end, row.end) <= 24
    assert off.size == pytest.approx(row.size * PSI, abs=0.5 * PSI)


def test_the_worn_jet_is_found_with_its_size(saltfern, truth):
    (drift,) = (each for each in slow_drifts(saltfern) if not each.repaired)
    (row,) = truth["jet worn"].itertuples()
    assert drift.kind == "one jet worn"
    assert 100 * drift.size == pytest.approx(row.size, abs=4)
    assert hours(drift.start, row.start) < 24 * 60
    assert drift.watts_share[1] > 2 * drift.watts_share[2] > 2 * drift.watts_share[4]


def test_clogging_by_season_in_the_share_of_the_clean_screen(saltfern, truth):
    flows = {
        1: 119 * GPM,
        2: 231 * GPM,
        3: 335 * GPM,
        4: 427 * GPM,
    }  # of the true plant, by the law of its jets
    clogs = clogging(saltfern, flows, 610 * GPM)
    assert {11, 12} <= set(clogs.season) <= {3, 10, 11, 12}
    for row in truth["needles"].itertuples():
        inside = [
            rate
            for event, rate in clogs.spells
            if row.start <= pd.Timestamp(event.start)
            and pd.Timestamp(event.end) <= row.end + pd.Timedelta(days=1)
        ]
        # the creek rises and falls meanwhile, so that single spells scatter
        assert 100 * np.mean(inside) == pytest.approx(row.size, rel=0.1)
    spared = self_cleaning(saltfern, 0.2)
    cleans = len(saltfern.of("clean"))
    assert spared.energy_j == pytest.approx(
        0.8 * clogs.energy_by_month_j.sum()
    ) and spared.visits == pytest.approx(0.8 * cleans / saltfern.years)


def test_energy_made_and_lost_adds_up_by_month(saltfern):
    table = saltfern.monthly()
    lost = saltfern.lost_j()
    for kind, value in lost.items():
        assert table[kind].sum() == pytest.approx(value, rel=1e-9)
    log = saltfern.log
    known = np.isfinite(log.power_w)
    assert table["made_j"].sum() == pytest.approx(
        np.trapezoid(log.power_w[known], log.seconds[known]), rel=1e-9
    )
    assert table["cleans"].sum() == len(saltfern.of("clean"))


def test_a_stop_by_hand_with_pressure_on_is_no_ice(saltfern):
    gauges, dry = saltfern.of("shut off")
    assert gauges.days < 0.1 and gauges.energy_j < 5 * KWH
    assert dry.days > 5 and "creek too low" in dry.note


def test_every_cause_is_explained(saltfern):
    assert {event.kind for event in saltfern.events} <= {*CAUSES, "clean", "jets changed"}


# --- slips ------------------------------------------------------------------------------------

HEAD = (
    "time, jets [-], pressure [{unit}], volts [V], amps [A], spilling, needle, air [degF], note\n"
)


def written(tmp_path, rows, unit="psi", head=HEAD):
    path = tmp_path / "log.csv"
    path.write_text(head.format(unit=unit) + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def plain(count=12, start=1, jets=2, psi=67.5, volts=240, amps=7.4, **change):
    """Healthy rows, one a day; `change` gives single cells by row number."""
    rows = []
    for index in range(count):
        cells = {
            "time": f"2024-03-{start + index:02d} 08:00",
            "jets": jets,
            "psi": psi,
            "volts": volts,
            "amps": amps,
            "spilling": "yes",
            "needle": "steady",
            "air": 40,
            "note": "",
        }
        cells.update(change.get(f"row{index}", {}))
        rows.append(", ".join(str(each) for each in cells.values()))
    return rows


SLIPS = [
    ({"row3": {"amps": 238}}, "volts in the amps column", (5,)),
    ({"row3": {"volts": 7.4, "amps": 240}}, "volts and amps in each other's column", (5,)),
    ({"row4": {"psi": -12}, "row6": {"psi": -3}}, "negative pressure", (6, 8)),
    ({"row2": {"psi": "about 60"}}, "text in the column 'pressure'", (4,)),
    ({"row2": {"amps": "7,4"}}, None, ()),
    ({"row5": {"time": "2023-03-06 08:00"}}, "clock jump", (7,)),
    ({"row5": {"time": "2026-03-06 08:00"}}, "clock jump", (7,)),
    ({"row5": {"time": "2024-03-05 08:00"}}, "clock jump", (7,)),
    ({"row1": {"time": ""}}, "no time", (3,)),
    ({"row7": {"jets": 9}}, "jets that cannot be open", (9,)),
    ({"row7": {"jets": ""}}, "jets not written down", (9,)),
    ({"row8": {"psi": 465}}, "a pressure that reads like kPa in a column headed psi", (10,)),
    ({"row8": {"psi": 95}}, "a pressure more than a tenth above", (10,)),
    ({"row9": {"needle": "green"}}, "a word not known in the column 'needle'", (11,)),
    ({"row9": {"spilling": "a bit"}}, "text in the column 'spilling'", (11,)),
]


@pytest.mark.parametrize(
    "change, says, lines",
    [each for each in SLIPS if each[1]],
    ids=[each[1] for each in SLIPS if each[1]],
)
def test_each_slip_is_a_sentence_and_a_list_of_lines(tmp_path, change, says, lines):
    log = read_log(written(tmp_path, plain(**change)), STATIC, 4)
    (trouble,) = log.troubles
    assert trouble.kind.startswith(says) and trouble.lines == lines
    assert str(lines[0]) in trouble.sentence and trouble.done
    assert trouble.sentence in log.findings[0].message


def test_a_good_log_has_no_troubles_and_what_was_mended_is_right(tmp_path):
    assert read_log(written(tmp_path, plain()), STATIC, 4).troubles == ()
    swapped = read_log(written(tmp_path, plain(row3={"volts": 7.4, "amps": 240})), STATIC, 4)
    assert swapped.power_w[3] == pytest.approx(240 * 7.4) and swapped.volts[3] == 240
    lost = read_log(written(tmp_path, plain(row3={"amps": 238})), STATIC, 4)
    assert np.isnan(lost.power_w[3]) and np.isnan(lost.amps[3]) and lost.volts[3] == 240
    kilopascal = read_log(written(tmp_path, plain(row8={"psi": 465})), STATIC, 4)
    assert kilopascal.pressure_pa[8] == pytest.approx(465e3, rel=1e-3)


@pytest.mark.parametrize(
    "unit, written_as, factor",
    [
        ("bar", 67.5, PSI),
        ("psi", 4.65, 1e5),
        ("psi", 465, 1e3),
        ("bar", 465, 1e3),
        ("kPa", 67.5, PSI),
    ],
)
def test_a_whole_column_in_another_unit_than_its_header_is_refused_with_the_reason(
    tmp_path, unit, written_as, factor
):
    meant = {PSI: "psi", 1e5: "bar", 1e3: "kPa"}[factor]
    with pytest.raises(InputError, match=rf"read like {meant}; write pressure \[{meant}\]") as told:
        read_log(written(tmp_path, plain(psi=written_as), unit), STATIC, 4)
    assert f"under [{unit}]" in str(told.value)
    with pytest.raises(InputError, match=f"read like {meant}"):
        read_log(written(tmp_path, plain(psi=written_as), unit), known_pa=STATIC)
    right = read_log(written(tmp_path, plain(psi=written_as), meant), STATIC, 4)
    np.testing.assert_allclose(right.pressure_pa, written_as * factor, rtol=1e-3)


@pytest.mark.parametrize("how", ["newest first", "shuffled"])
def test_lines_in_another_order_are_sorted_with_a_note(tmp_path, how):
    """The same readings and the same events as in order; a clock that jumped is still told."""
    rows = [line for line in (SALTFERN / "log.csv").read_text().splitlines() if line[0] != "#"]
    head, rows = rows[0], rows[1:]
    kept = log_history(read_log(SALTFERN / "log.csv", AT_REST, 4))
    mixed = rows[::-1]
    if how == "shuffled":
        np.random.RandomState(4).shuffle(mixed)
    path, notes = tmp_path / "log.csv", []
    path.write_text("\n".join([head, *mixed]) + "\n", encoding="utf-8")
    found = log_history(read_log(path, AT_REST, 4, notes=notes))
    assert len(found.log) == len(rows) and found.log.troubles == ()
    assert [(e.kind, e.start, e.end) for e in found.events] == [
        (e.kind, e.start, e.end) for e in kept.events
    ]
    (note,) = notes
    assert ("newest first" if how == "newest first" else "sorted") in note.message
    if how == "newest first":
        jumped = [head, *mixed]
        jumped[5] = "2019" + jumped[5][4:]
        path.write_text("\n".join(jumped) + "\n", encoding="utf-8")
        (trouble,) = read_log(path, AT_REST, 4).troubles
        assert trouble.kind.startswith("clock jump") and trouble.lines == (6,)


def test_notes_may_hold_commas_and_inches_and_dates_their_points(tmp_path):
    rows = plain(row3={"note": "cleaned, twice, well"}, row5={"note": '2" valve, leaks'})
    rows = [f"{row[8:10]}.03.2024{row[10:]}" for row in rows]
    log = read_log(written(tmp_path, rows), STATIC, 4)
    assert log.troubles == () and len(log) == 12
    assert log.note[3] == "cleaned, twice, well" and log.note[5] == '2" valve, leaks'
    assert log.time[0] == np.datetime64("2024-03-01T08:00")


def test_a_little_above_static_and_a_little_below_zero_are_noise(tmp_path):
    rows = plain(
        jets=1,
        psi=70.5,
        row2={"psi": 72.5},
        row3={"psi": 71.5},
        row5={"jets": 0, "psi": -0.5, "amps": 0, "volts": 0},
    )
    log = read_log(written(tmp_path, rows), STATIC, 4)
    assert log.troubles == () and log.pressure_pa[5] == 0


def test_an_under_fed_reading_is_not_taken_for_another_unit(tmp_path):
    """A frozen screen leaves a few psi; that is bad news, not a slip."""
    log = read_log(
        written(tmp_path, plain(row4={"psi": 4.7, "amps": 0.2, "volts": 231})), STATIC, 4
    )
    assert log.troubles == () and log.pressure_pa[4] == pytest.approx(4.7 * PSI)


def test_a_clock_set_back_in_the_middle_keeps_the_longer_part(tmp_path):
    rows = plain(9) + plain(3, start=1, jets=2)
    log = read_log(written(tmp_path, rows), STATIC, 4)
    (trouble,) = log.troubles
    assert len(log) == 9 and trouble.lines == (11, 12, 13)


def test_longest_rising_against_brute_force():
    random = np.random.RandomState(3)
    from itertools import combinations

    for _ in range(40):
        values = random.randint(0, 9, 8)
        best = max(
            (
                len(pick)
                for size in range(9)
                for pick in combinations(range(8), size)
                if all(values[a] < values[b] for a, b in zip(pick, pick[1:]))
            ),
            default=0,
        )
        found = longest_rising(values)
        assert (
            len(found) == best and np.all(np.diff(values[found]) > 0) and np.all(np.diff(found) > 0)
        )


def test_a_decimal_comma_is_told_with_its_line(tmp_path):
    with pytest.raises(InputError, match="line 4.*fields where the header has 9"):
        read_log(written(tmp_path, plain(row2={"amps": "7,4"})), STATIC, 4)


def test_a_log_without_a_usable_line_is_refused(tmp_path):
    with pytest.raises(InputError, match="no reading with a time and a number of jets"):
        read_log(written(tmp_path, plain(2, row0={"time": ""}, row1={"time": ""})), STATIC, 4)


def test_watts_alone_and_pressure_alone_will_do(tmp_path):
    watts = read_log(
        written(
            tmp_path,
            [f"2024-03-{day:02d} 08:00, 2, 1776" for day in range(1, 9)],
            head="time, jets, watts [W]\n",
        )
    )
    assert reference(watts).basis == "watts" and np.isnan(watts.static_pa)
    pressure = read_log(
        written(
            tmp_path,
            [f"2024-03-{day:02d} 08:00, 2, {67 if day != 4 else 40}" for day in range(1, 9)],
            head="time, jets, pressure [psi]\n",
        )
    )
    found = log_history(pressure)
    (event,) = found.of("short of water")
    assert found.reference.basis == "pressure" and event.size == pytest.approx(
        1 - (40 / 67) ** 0.5, abs=0.01
    )
    assert slow_drifts(found) == () and gauge_changes(found) == ()
