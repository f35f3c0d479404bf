"""The sheets to print: one sheet each on either paper, the pages' digits, every valve; and the calendar by its standard."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import numpy as np
import odd_studies
import pytest
import shared
import short_demos
import small_study

from hydrokit.report.pages.p09.told import alike
from hydrokit.report.prints.calendar_file import calendar_text
from hydrokit.report.prints.print_set import CALENDAR, print_set, sheets_of
from hydrokit.report.prints.sheet import fitted
from hydrokit.report.prints.valves import drain_and_fill, emergency_card
from hydrokit.study.build.penstock_pressures import high_points
from hydrokit.study.opening import open_study

NOW = datetime(2026, 11, 29, 6, 42, tzinfo=UTC)
# A penstock that rises twice on its way down, and one that rises a dozen times.
RISING = "chainage [m],elevation [m]\n0,300\n2,299.3\n40,289\n60,291\n90,280\n110,283\n150,262\n"
MANY = (
    "chainage [m],elevation [m]\n0,300\n2,299.3\n"
    + "".join(f"{10 + 20 * n},{297 - 2 * n}\n{20 + 20 * n},{298 - 2 * n}\n" for n in range(14))
    + "320,262\n"
)


@pytest.fixture(scope="module")
def plant():
    return shared.odd("pond and visits")


@pytest.fixture(scope="module")
def rising(tmp_path_factory):
    return small_study.changed(tmp_path_factory.mktemp("rising"), {"penstock": RISING})


def text_of(body):
    return " ".join(re.sub(r"<[^>]*>", " ", re.sub(r"</?data[^>]*>", "", body)).split())


def one(study, name, system="metric"):
    return next(each for each in sheets_of(study, study.view(system)) if each.name == name)


def test_every_file_stands_alone_and_holds_no_markup_of_a_name(tmp_path):
    study = small_study.changed(tmp_path, site={"name": '<img src="x">', "place": "</title><b>"})
    made = print_set(study, study.view(), now=NOW)
    assert {
        "print_gauge_card.html",
        "print_log.html",
        "print_emergency.html",
        "print_winter.html",
        "print_drain_penstock.html",
        "print_fill_penstock.html",
        "print_spares.html",
        "print_electrician.html",
        "print_electrician_2.html",
        CALENDAR,
    } == {each.file for each in made}
    for each in made:
        if each.file.endswith(".html"):
            assert not re.search(r"(src|href)=[^&]|https?:|@import|url\(|<script|<img", each.text)
            assert "2026-11-29 with hydrokit" in each.text


@pytest.mark.parametrize("system, paper", [("metric", "A4"), ("us", "Letter")])
def test_paper_follows_the_reader_unless_told(plant, system, paper):
    view = plant.view(system)
    assert f"size: {paper};" in print_set(plant, view, now=NOW)[0].text
    assert "size: Letter;" in print_set(plant, view, "Letter", NOW)[0].text


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_gauge_card_has_the_cards_figures_the_readers_unit_first(plant, system):
    view, card = plant.view(system), plant.card
    other = plant.view("us" if system == "metric" else "metric")
    body = one(plant, "gauge_card", system).body
    rows = [text_of(each) for each in re.findall(r"<tr>(.*?)</tr>", body)][1 : 2 + len(card.rows)]
    figures = [(card.shut_off_pa, card.shut_alarm_pa)]
    figures += [(row.pressure_pa, row.alarm_pa) for row in card.rows]
    for row, (pressure, alarm) in zip(rows, figures):
        for pascals in (pressure, alarm):
            mine = view.amount(pascals, "gauge pressure", unit=False)
            assert row.index(mine) < row.index(other.amount(pascals, "gauge pressure"))
    last = card.rows[-1]
    assert view.amount(last.close_pa, "gauge pressure", unit=False) in rows[-1]
    assert "close a jet below" in body and "watts under theirs" in body
    assert "Read it when" not in body and "the forebay spills" in one(plant, "gauge_card").about


def test_the_alarm_with_everything_shut_is_three_deviations_below(plant):
    card = plant.card
    spread = (card.shut_off_high_pa - card.shut_off_pa) / 1.6448536  # of 90 %
    assert card.shut_alarm_pa == pytest.approx(card.shut_off_pa - 3 * spread, rel=1e-6)


def test_a_plant_without_forebay_is_not_asked_whether_it_spills(rising):
    said = " ".join(
        f"{each.about} {text_of(each.body)}" for each in sheets_of(rising, rising.view())
    )
    assert "forebay spill" not in said and "water is left over at the intake" in said


def test_every_high_point_has_its_vent_opened_before_water_goes_or_comes(rising):
    view, tops = rising.view(), high_points(rising)
    assert len(tops) == 2
    for name, before in (
        ("drain_penstock", "Open the drain at the foot"),
        ("fill_penstock", "Open the upper valve a crack"),
    ):
        said = text_of(one(rising, name).body)
        for each in tops:
            at = said.index(f"at {view.text(each.at_m, 'length', 3)}")
            assert at < said.index(before)
    card = text_of(emergency_card(rising, view)[0].body)
    places = ", ".join(view.text(each.at_m, "length", 3) for each in tops)
    assert f"high points at {places}" in card


def test_steps_are_numbered_from_one_on_each_sheet_in_order(rising):
    for sheet in drain_and_fill(rising, rising.view()):
        numbers = [int(each) for each in re.findall(r'<td class="step">(\d+)</td>', sheet.body)]
        assert numbers == list(range(1, len(numbers) + 1)) and numbers


def test_the_emergency_card_names_order_valves_times_and_lines_for_numbers(rising):
    view = rising.view()
    said = text_of(emergency_card(rising, view)[0].body)
    slow = view.text(rising.answer("closing_time").value, "time", 2)
    assert f"no faster than {slow}, with the load still on" in said
    stop, start = said.index("no faster than"), said.index("Open the first jet slowly")
    assert said.index("Open the breaker once the runner stands") in range(stop, start)
    shown = view.amount(rising.card.rows[0].pressure_pa, "gauge pressure")
    assert f"settle at {shown}." in said
    assert said.index("Expect more on the gauge than below") < said.index(f"settle at {shown}")
    # who stops in an emergency writes nothing down; a pipe that was emptied is filled by its own sheet
    assert "Write down the gauge" not in said and "fill it by its own sheet" in said
    for name in ("upper valve", "valve at the foot", "drain at the foot", "Licensed electrician"):
        assert name in said


def test_a_line_of_many_high_points_goes_on_to_further_sheets_and_loses_none(tmp_path):
    study = small_study.changed(tmp_path, {"penstock": MANY})
    view = study.view()
    sheets = [each for each in drain_and_fill(study, view) if each.name.startswith("fill")]
    assert len(sheets) > 1 and sheets[1].title.endswith(f"sheet 2 of {len(sheets)}")
    said = " ".join(text_of(each.body) for each in sheets)
    tops = high_points(study)
    assert len(tops) > 10
    for each in tops:  # opened before, shut after
        assert said.count(f"at {view.text(each.at_m, 'length', 3)}") == 2


def test_rows_are_parted_in_order_and_none_is_lost():
    rng = np.random.default_rng(4)
    for _ in range(50):
        rows = [
            (str(n), "word " * int(rng.integers(1, 60))) for n in range(int(rng.integers(1, 90)))
        ]
        parts = fitted((1.0, 9.0), rows, 150.0)
        assert [row for _, part in parts for row in part] == rows
        assert all(7.5 <= size <= 10.5 for size, _ in parts)


def test_a_creek_without_frost_has_no_winter_plan(tmp_path):
    warm = re.sub(
        r",(-?[\d.]+)\n",
        lambda found: f",{float(found[1]) + 15:.1f}\n",
        small_study.FILES["temperature.csv"],
    )
    study = small_study.changed(tmp_path / "warm", {"temperature": warm})
    assert "winter" not in [each.name for each in sheets_of(study, study.view())]
    study = small_study.changed(tmp_path / "told", site={"frost": "none"})
    assert "winter" not in [each.name for each in sheets_of(study, study.view())]


def test_a_sheet_for_the_creek_names_its_own_dangers_and_a_place_in_words():
    """What is far from any machine warns of water and not of wires."""
    study = shared.odd("line that stalls")
    fill = text_of(one(study, "fill_diversion").body)
    assert "Electrical work" not in fill and "Do not wade" in fill
    assert "at the pipe inlet" in fill and "at 0 " not in fill


def test_both_ends_of_a_band_have_as_many_decimals():
    assert [alike(20.2, 21.0), alike(6.11, 6.4), alike(2170.0, 2680.0), alike(99.8, 101.2)] == [
        ("20.2", "21.0"),
        ("6.11", "6.40"),
        ("2,170", "2,680"),
        ("100", "101"),
    ]


def test_spares_are_of_the_sizes_of_this_plant(plant):
    said = text_of(one(plant, "spares").body)
    assert "20 mm bore" in said and "140 mm PVC-U PN 10" in said and "to 5 bar" in said


# --- the calendar -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def events(plant):
    from icalendar import Calendar

    text = calendar_text(plant, plant.view(), NOW)
    return list(Calendar.from_ical(text).walk("VEVENT"))


def test_the_file_keeps_to_lines_and_parts_of_its_standard(plant):
    """published: RFC 5545, 3.1 (lines of at most 75 octets, ended by CR LF), 3.4, 3.6 and 3.6.1."""
    raw = calendar_text(plant, plant.view(), NOW).encode()
    lines = raw.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""]
    assert all(len(line) <= 75 for line in lines) and raw.count(b"\n") == raw.count(b"\r\n")
    unfolded = raw.replace(b"\r\n ", b"").decode().splitlines()
    assert (
        unfolded.count("VERSION:2.0") == 1
        and sum(each.startswith("PRODID:") for each in unfolded) == 1
    )
    count = unfolded.count("BEGIN:VEVENT")
    for name in ("UID:", "DTSTAMP:20261129T064200Z", "DTSTART;VALUE=DATE:", "RRULE:FREQ="):
        assert sum(each.startswith(name) for each in unfolded) == count > 5


def test_each_job_comes_in_its_months_and_in_no_others(plant, events):
    """published: RFC 5545, 3.3.10 and 3.8.5.3, by dateutil's own reading of them; DTSTART is the first of the set."""
    from dateutil.rrule import rrulestr

    found = {}
    for event in events:
        start = event.decoded("dtstart")
        assert start >= NOW.date() and event.decoded("dtend").toordinal() == start.toordinal() + 1
        rule = rrulestr(
            event["rrule"].to_ical().decode(), dtstart=datetime.combine(start, datetime.min.time())
        )
        days = rule.between(datetime(2026, 11, 28), datetime(2029, 11, 29), inc=True)
        assert days[0].date() == start
        found.setdefault(str(event["summary"]), set()).update(each.month for each in days)
        if "YEARLY" in str(event["rrule"]["freq"]):
            assert len(days) == 3 * len({each.month for each in days}), "once a year in each month"
    wanted = {}
    for job in plant.jobs:
        wanted.setdefault(f"{job.job} ({plant.name})", set()).add(job.month)
    assert found == wanted


def test_what_is_done_by_a_date_stands_on_it(plant, events):
    due = next(job for job in plant.jobs if job.due)
    event = next(each for each in events if str(each["summary"]).startswith(due.job))
    start = event.decoded("dtstart")
    assert (start.month, start.day) == (
        (date(2023, 1, 1).toordinal() + round(due.value) - 1) and _month_day(due.value)
    )


def _month_day(day):
    found = date.fromordinal(date(2023, 1, 1).toordinal() + round(day) - 1)
    return found.month, found.day


def test_entries_keep_their_identity_from_run_to_run(plant, events):
    from icalendar import Calendar

    later = calendar_text(plant, plant.view("us"), datetime(2027, 3, 1, tzinfo=UTC))
    again = {str(each["uid"]) for each in Calendar.from_ical(later).walk("VEVENT")}
    own = [str(each["uid"]) for each in events]
    assert len(set(own)) == len(own) and set(own) == again


def test_a_name_with_commas_and_semicolons_is_read_back(tmp_path):
    from icalendar import Calendar

    study = small_study.changed(tmp_path, site={"name": "Beck, upper; \\n lower"})
    read = Calendar.from_ical(calendar_text(study, study.view(), NOW))
    assert all(str(each["summary"]).endswith(f"({study.name})") for each in read.walk("VEVENT"))


# --- on paper -----------------------------------------------------------------------------------

_LOOK = """() => {
  const light = text => { const c = text.match(/[\\d.]+/g).map(Number);
    const part = v => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
    return { of: 0.2126 * part(c[0]) + 0.7152 * part(c[1]) + 0.0722 * part(c[2]), clear: c[3] === 0 }; };
  const ground = node => { for (; node; node = node.parentElement) {
      const found = light(getComputedStyle(node).backgroundColor); if (!found.clear) return found.of; } return 1; };
  let least = 99, contrast = 99, wide = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) { const node = walk.currentNode; if (!node.textContent.trim()) continue;
    const style = getComputedStyle(node.parentElement);
    least = Math.min(least, parseFloat(style.fontSize) * 0.75);
    const [a, b] = [light(style.color).of, ground(node.parentElement)];
    contrast = Math.min(contrast, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)); }
  for (const cell of document.querySelectorAll('td, th, .fill span')) wide = Math.max(wide, cell.scrollWidth - cell.clientWidth);
  const parted = []; // words that break within themselves
  for (const cell of document.querySelectorAll('td, th')) { const nodes = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
    while (nodes.nextNode()) for (const word of nodes.currentNode.textContent.matchAll(/[A-Za-z]+/g)) { const range = document.createRange();
      range.setStart(nodes.currentNode, word.index); range.setEnd(nodes.currentNode, word.index + word[0].length);
      if (new Set([...range.getClientRects()].map(each => Math.round(each.top))).size > 1) parted.push(word[0]); } }
  const size = found => [...document.querySelectorAll(found)].map(each => parseFloat(getComputedStyle(each).fontSize) * 0.75);
  return { least, contrast, wide, parted, figures: size('.card b'),
    rows: [...document.querySelectorAll('.lines tbody tr')].map(each => each.getBoundingClientRect().height * 25.4 / 96) };
}"""


@pytest.fixture(scope="module")
def browser():
    import shutil

    sync = pytest.importorskip("playwright.sync_api")
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        pytest.skip("no browser on this machine")
    with sync.sync_playwright() as run:
        with run.chromium.launch(executable_path=found, args=["--no-sandbox"]) as opened:
            yield opened.new_page()


def on_paper(browser, study, system):
    """Each sheet of a study in the browser: its name, the sheets of A4 and of Letter that it takes, what is seen."""
    for sheet in print_set(study, study.view(system), now=NOW):
        if sheet.file == CALENDAR:
            continue
        browser.set_content(sheet.text)
        browser.emulate_media(media="print")
        counts = [
            browser.pdf(format=paper, prefer_css_page_size=False).count(b"/Type /Page\n")
            for paper in ("A4", "Letter")
        ]
        yield sheet.file, counts, browser.evaluate(_LOOK)


def holds(browser, study, system):
    for name, counts, seen in on_paper(browser, study, system):
        assert counts == [1, 1], name
        assert seen["least"] >= 7 and seen["contrast"] >= 4.5 and seen["wide"] <= 1, (name, seen)
        assert not seen["parted"], name
        if name == "print_log.html":
            assert len(seen["rows"]) >= 20 and min(seen["rows"]) >= 8 - 0.1
        if name == "print_gauge_card.html":
            # Read at arm's length: capitals of a two hundredth of 0.7 m at the least, 3.5 mm or 14 pt.
            assert max(seen["figures"]) >= (24 if len(study.card.rows) < 6 else 17)
            assert min(seen["figures"]) >= 14


@pytest.mark.slow
@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", short_demos.NAMES)
def test_each_sheet_is_one_sheet_of_either_paper(browser, tmp_path, name, system):
    holds(browser, open_study(short_demos.without(tmp_path, name)), system)


@pytest.mark.slow
def test_long_lists_and_eight_jets_stay_on_their_sheets(browser, tmp_path):
    study = small_study.changed(
        tmp_path,
        {"penstock": MANY},
        turbine={"jets": 8, "jet_diameter": "10 mm"},
        # without a vent on each high point the air of fourteen takes nearly all of the head
        penstock=small_study.SITE["penstock"] | {"vents": [f"{20 * n} m" for n in range(1, 15)]},
        part=[odd_studies.RACK, odd_studies.POND],
    )
    holds(browser, study, "us")


@pytest.mark.deep
@pytest.mark.parametrize("name", odd_studies.NAMES)
def test_odd_studies_keep_to_one_sheet(browser, tmp_path, name):
    study = odd_studies.opened(tmp_path, name)
    for system in ("metric", "us"):
        for sheet, counts, seen in on_paper(browser, study, system):
            assert counts == [1, 1], sheet
            assert seen["least"] >= 7 and seen["contrast"] >= 4.5 and seen["wide"] <= 1, sheet
            assert not seen["parted"], sheet
