"""What passes and what runs: a measurement before its formula, a line that air stops, one answer on every page."""

import re

import numpy as np
import pandas as pd
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import ladder as build_ladder
from hydrokit.report.pages.p03 import line_air
from hydrokit.report.pages.p03 import section as long_section
from hydrokit.report.pages.p09 import schedule
from hydrokit.study import keyed
from hydrokit.study.build.ladder import limiting, rungs
from hydrokit.works.diversion import carried
from hydrokit.works.falling import falling_line
from hydrokit.works.filling import filling, flow_with_pockets

DRILLED = {
    "kind": "drilled pipe",
    "name": "creek screen",
    "holes": 330,
    "hole": "9 mm",
    "head": "100 mm",
    "clogged": {"october": "40 %"},
}
# A high point below the pond between two deep dips, and an end that water seals: filled from the top, air locks it.
DIPS = "chainage [m],elevation [m]\n0,305\n5,304.3\n40,295\n60,303.5\n80,290\n100,303\n"
LINE = {
    "profile": "diversion.csv",
    "inside_diameter": "110 mm",
    "roughness": "0.03 mm",
    "outlet": "upturned",
    "outlet_crest": "303.2 m",
}


def study(folder, files=(), **sections):
    return small_study.changed(folder, files, **sections)


# --- a measured capacity ----------------------------------------------------------------------


def test_a_measured_intake_goes_before_the_formula_of_its_screen(tmp_path):
    plain = study(tmp_path / "formula", part=[DRILLED], intake={"capacity": "6 L/s"})
    formula = min(float(part.capacity_si()) for part in plain.supply)
    # 330 holes of 9 mm under 100 mm: 0.61 · 0.020994 m² · √(2 g 0.1), worked by hand.
    assert (
        formula
        == pytest.approx(0.61 * 330 * np.pi / 4 * 0.009**2 * np.sqrt(2 * 9.80665 * 0.1), rel=1e-9)
        and formula > 0.017
    )
    measured = study(tmp_path / "measured", part=[DRILLED], intake={"capacity": "6 L/s ± 0.5 L/s"})
    assert min(float(part.capacity_si()) for part in measured.supply) == 0.006
    assert measured.plant.at_si(np.inf).used_m3s <= 0.006
    told = measured.answer("capacity.intake")
    assert told.value == 0.006 and told.set_aside[0].value == pytest.approx(formula)
    assert any(
        f"the formula of the creek screen gives {100 * (formula / 0.006 - 1):.0f} % more"
        in each.message
        for each in measured.findings()
    )
    assert measured.year.annual_kwh < 0.6 * plain.year.annual_kwh


def test_a_measured_intake_that_passes_more_than_the_formula_lifts_it(tmp_path):
    made = study(tmp_path, part=[DRILLED], intake={"capacity": "30 L/s ± 2 L/s"})
    screen = made.supply[0]
    assert (
        screen.capacity_si() == 0.030
        and screen.name == "creek screen"
        and screen.hole_area_m2 == pytest.approx(330 * np.pi / 4 * 0.009**2)
    )
    # What October's leaves take is the formula's share: bare holes pass in proportion to what is open.
    assert made.plant.reaching_si(10)[1]["creek screen"] == pytest.approx(0.6 * 0.030)
    assert screen.head_loss_si(0.030) == pytest.approx(0.1, rel=1e-6)


def test_an_intake_measured_as_calculated_is_no_finding(tmp_path):
    made = study(tmp_path, part=[DRILLED], intake={"capacity": "16 L/s ± 1 L/s"})
    assert made.answer("capacity.intake").findings == ()


def test_only_screens_that_pass_less_are_lifted(tmp_path):
    wide = DRILLED | {"name": "wide screen", "holes": 900}
    made = study(tmp_path, part=[DRILLED, wide], intake={"capacity": "30 L/s ± 2 L/s"})
    assert [float(part.capacity_si()) for part in made.supply] == pytest.approx(
        [0.030, 0.61 * 900 * np.pi / 4 * 0.009**2 * np.sqrt(2 * 9.80665 * 0.1)], rel=1e-9
    )


# --- a line that air stops --------------------------------------------------------------------


def test_a_line_that_cannot_run_gives_no_energy(tmp_path):
    made = study(tmp_path, {"diversion": DIPS}, diversion=LINE)
    assert made.line_air.filling.stalls_m is not None and made.line_air.line.full_bore_m3s > 0.01
    assert (
        made.plant.at_si(np.inf).power_w == 0
        and made.year.annual_kwh == 0
        and made.money.energy.kwh == 0
    )
    told = made.answer("capacity.line")
    assert told.value == 0 and told.set_aside[0].value == made.line_air.line.full_bore_m3s
    assert any(
        each.level == "problem" and "cannot run as it is laid" in each.message
        for each in made.findings()
    )
    assert limiting(made).part == "diversion line" and limiting(made).flow_m3s == 0


def test_a_line_vented_where_it_must_be_gives_what_passes_its_pockets(tmp_path):
    locked = study(tmp_path / "locked", {"diversion": DIPS}, diversion=LINE)
    vents = [
        f"{np.interp(each, locked.diversion.distance_m, locked.diversion.chainage_m):.3f} m"
        for each in locked.line_air.filling.vents_m
    ]
    made = study(tmp_path / "vented", {"diversion": DIPS}, diversion=LINE | {"vents": vents})
    assert made.answer("capacity.line").value == pytest.approx(
        flow_with_pockets(made.diversion_line).flow_m3s
    )
    assert made.year.annual_kwh > 0


def test_water_that_was_seen_at_the_jets_overrules_the_levels(tmp_path):
    read = "date,jets,pressure [bar],watts [W],spilling\n2024-06-01,0,3.70,0,yes\n2024-06-01,1,3.55,1500,yes\n2024-06-01,2,3.10,2600,yes\n"
    made = study(
        tmp_path,
        {"diversion": DIPS, "readings": read},
        diversion=LINE,
        readings={"file": "readings.csv"},
        site={"stage_of_work": "existing"},
    )
    assert made.line_air.filling.stalls_m is not None and made.plant.at_si(np.inf).power_w > 0
    assert any("readings show water at the jets" in each.message for each in made.findings())


def test_pockets_that_stay_hold_the_flow_back_and_an_unprimed_inlet_governs():
    line = falling_line(
        ["0 m", "40 m", "60 m", "80 m", "300 m"],
        ["99.5 m", "97.5 m", "98.6 m", "97.6 m", "97 m"],
        "100 mm",
        "0.03 mm",
        "100 m",
        crest_level="98 m",
    )
    assert filling(line).starts
    found = carried(line)
    assert (
        found.how == "with pockets"
        and found.flow_m3s == flow_with_pockets(line).flow_m3s < found.full_bore_m3s
    )
    steep = falling_line(["0 m", "100 m"], ["99.9 m", "70 m"], "150 mm", "0.03 mm", "100 m")
    assert carried(steep, 0.004).how == "unprimed" and carried(steep, 0.004).flow_m3s == 0.004
    assert carried(steep, 0.004, primed=True).flow_m3s == steep.full_bore_m3s


@pytest.mark.slow
def test_a_line_that_stalls_still_shows_every_page(tmp_path):
    made = study(tmp_path, {"diversion": DIPS}, diversion=LINE)
    view = made.view("metric")
    for name, section, show in small_study.page_sections():
        assert show(made, view) is not None, (name, section)


# --- water in a month, and the jets to open ---------------------------------------------------


def shown_months(section, key):
    """Month -> number as a table shows it for a question by month."""
    return {
        int(name.rsplit(".", 1)[1]): number
        for name, number in re.findall(
            r'<data value="([a-z0-9_.]+)">([^<]*)</data>', section._repr_html_()
        )
        if name.startswith(key)
    }


def test_a_record_gives_each_month_its_median_day(tmp_path):
    made = study(tmp_path)
    natural = (
        pd.read_csv(tmp_path / "flow.csv", parse_dates=["date"]).set_index("date").iloc[:, 0] / 1000
    )
    by_hand = (natural - 0.003).clip(lower=0.0, upper=0.020).groupby(natural.index.month).median()
    np.testing.assert_allclose(made.answer("water.usable").value, by_hand, rtol=1e-9)
    np.testing.assert_allclose(
        made.answer("water.usable_mean").value,
        (natural - 0.003).clip(lower=0.0, upper=0.020).mean(),
        rtol=1e-9,
    )


def test_one_bucket_is_one_month(tmp_path):
    made = study(
        tmp_path,
        {"gaugings": "date,stage [m],flow [L/s],uncertainty [%],method\n2022-07-11,,9,8,bucket\n"},
        stream=dict.fromkeys(
            ("record", "record_uncertainty", "temperature", "cease_to_flow", "control")
        )
        | {"gaugings": "gaugings.csv"},
    )
    water = made.monthly_flow
    assert np.flatnonzero(np.isfinite(water.usable_m3s)).tolist() == [6] and water.usable_m3s[
        6
    ] == pytest.approx(0.006)
    jets = made.answer("jets.open").value
    assert np.isfinite(jets[6]) and np.isnan(np.delete(jets, 6)).all()
    words = str(schedule.month_words(made, made.view("metric")))
    assert "January" in words and "nothing is known" in words and "factor of two" not in words
    assert [row[1] for row in build_ladder.months_table(made, made.view("metric")).rows].count(
        "not known"
    ) == 11


@pytest.mark.parametrize("name", ["plain", "log and no record", "leak", "thin"])
def test_every_page_opens_the_same_jets_on_the_same_water(name):
    made = shared.odd(name)
    view = made.view("metric")
    for key in ("jets.open.", "water.usable."):
        one, other = (
            shown_months(section(made, view), key)
            for section in (build_ladder.months_table, schedule.month_table)
        )
        assert one and {month: number.split()[0] for month, number in one.items()} == {
            month: number.split()[0] for month, number in other.items()
        }
    jets = made.answer("jets.open").value
    for month, count in (
        (each.month, int(each.job.split()[3]))
        for each in made.jobs
        if each.job.startswith("Close down to")
    ):
        assert jets[month - 1] == count < jets[month - 2]
    if (
        name == "log and no record"
    ):  # what stood open and was fed came at least, where nobody gauged the creek
        water, log = made.monthly_flow, made.log
        august = log.time.astype("datetime64[M]").astype(int) % 12 == 7
        assert water.at_least[7] and jets[7] == np.median(log.jets[august])


def test_gaugings_go_before_what_the_jets_used_unless_that_was_more():
    made = shared.odd("log and no record")
    water = made.monthly_flow
    assert water.source[0] in ("gaugings", "at least what the log shows at the jets")
    both = water.known & np.isfinite(water.usable_m3s)
    used = float(made.plant.at_si(np.inf).used_m3s)
    assert np.all(water.usable_m3s[water.at_least] <= used * (1 + 1e-9)) and np.all(
        water.natural_m3s[both] > water.usable_m3s[both]
    )


# --- the ladder -------------------------------------------------------------------------------


def test_a_licence_that_is_less_than_every_part_limits_and_is_named(tmp_path):
    tight = study(tmp_path / "tight", rights={"licence": "9 L/s"})
    assert (
        limiting(tight).part == "licence"
        and limiting(tight).flow_m3s <= 0.030
        and tight.answer("limiting.component").value == "licence"
    )
    assert [each.clean_m3s for each in rungs(tight) if each.kind == "licence"] == [
        pytest.approx(0.009)
    ]
    # Just above what the jets take it is the next limit, before intake and penstock.
    full = float(np.max(tight.plant.running().full_m3s))
    near = study(tmp_path / "near", rights={"licence": f"{1050 * full:.4f} L/s"})
    assert (limiting(near).part, limiting(near).next_part) == ("jets", "licence")
    months = [tight.answer(f"limiting.month.{month}").value for month in range(1, 13)]
    assert "licence" in months and set(months) <= {"licence", "creek"}


def test_what_passes_more_than_the_penstock_brings_is_never_next(tmp_path):
    made = study(
        tmp_path,
        intake={"capacity": "95 L/s"},
        rights={"licence": None},
        part=[{"kind": "orifice", "name": "sluice", "diameter": "300 mm", "head": "0.3 m"}],
    )
    most = made.plant.penstock.most_power_flow_si(1.0)
    assert most < 0.05 and all(float(part.capacity_si()) > most for part in made.supply)
    assert limiting(made).part == "jets" and limiting(made).next_part == "penstock"


def test_days_on_which_nothing_may_be_taken_are_counted(tmp_path):
    made = study(tmp_path, rights={"residual": [{"rule": "hands-off", "flow": "8 L/s"}]})
    natural = pd.read_csv(tmp_path / "flow.csv").iloc[:, 1]
    none = 365.25 * float((natural <= 8).mean())
    assert (
        none > 18
        and f"on {none:.0f} days nothing may be taken" in rungs(made)[0].remark
        and rungs(made)[0].low_m3s == 0
    )


@pytest.mark.parametrize(
    "name, keys",
    [
        ("line that runs", {"capacity.line", "limiting.component", "limiting.next"}),
        ("plain", {"limiting.component", "limiting.next", "capacity.jets", "jets.open.1"}),
    ],
)
def test_pages_print_these_numbers_under_the_key_of_their_question(name, keys):
    """In the words as in the tables: the line, what limits and what next, the jets of a month."""
    made = shared.odd(name)
    view, found = made.view(), {}
    for part in (
        build_ladder.ladder_words,
        build_ladder.ladder_table,
        line_air.regime_words,
        long_section.section_words,
        schedule.month_words,
    ):
        shown = part(made, view)
        text = (
            shown.marked
            if hasattr(shown, "marked")
            else " ".join(str(cell) for row in getattr(shown, "rows", ()) for cell in row)
        )
        for key, number in keyed.keys(text):
            found.setdefault(key, set()).add(number)
    assert keys <= set(found)
    for key, numbers in found.items():
        root, _, month = key.rpartition(".")
        answer = made.answer(root).month(int(month)) if root == "jets.open" else made.answer(key)
        assert numbers == {keyed.plain(view.shown(answer))}, key
