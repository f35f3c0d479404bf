"""A neighbour's study from an existing one, and the sheets to print."""

import re
import shutil
import tomllib
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.site.example_units import example_in
from hydrokit.site.field_pages import field_pages
from hydrokit.site.new_study import (
    _FILES,
    _statements,
    site_text,
    write_new_study,
    write_study_from,
)
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
from hydrokit.site.site_file import read_site_file
from hydrokit.site.values import value_of
from hydrokit.site.whole import BUILDING
from hydrokit.study.opening import check_study, open_study
from hydrokit.units import Q_
from hydrokit.works.pipe_sizes import pipe_size

SHARED = {
    section: {name for name, key in keys.items() if key.shared_with_neighbour}
    for section, keys in SECTIONS.items()
}
ROOT = Path(__file__).resolve().parents[2]
DEMOS = sorted(each.parent.name for each in ROOT.glob("studies/*/site.toml"))


@pytest.fixture
def home(tmp_path):
    """The demos' site files and what they name, and the shared data."""
    shutil.copytree(
        ROOT / "studies", tmp_path / "studies", ignore=shutil.ignore_patterns("reports", ".*")
    )
    (tmp_path / "data").mkdir()
    shutil.copy(ROOT / "data" / "long-gauge.csv", tmp_path / "data")
    return tmp_path


# --- the template ---------------------------------------------------------------------------

OTHERS = {
    "metric": r"ft|in|gpm|psi|degF|gal|lb|AWG|mi\^2|acre_ft",
    "us": r"m|mm|L/s|bar|degC|kg|mm2|km\^2|m\^2|m\^3",
}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_example_of_the_template_can_be_used_and_is_in_the_readers_units(tmp_path, units):
    text = site_text(units).partition("[site]")[2]
    left = re.search(
        rf'\d ({OTHERS[units]})["\] ]|\[({OTHERS[units]})\]|per ({OTHERS[units]})"', text
    )
    assert not left, left
    assert ("°F" if units == "metric" else "°C") not in text
    tables = [*SECTIONS.items(), *LISTS.items(), *PART_KINDS.items()]
    tried = 0
    for name, keys in tables:
        for key, about in keys.items():
            if about.kind in ("text", "file", "word", "choice", "texts"):
                continue
            value = tomllib.loads("x = " + example_in(about.example, units))["x"]
            value_of(value, about, f"{name} {key}")
            tried += 1
    assert tried > 80
    for size in set(re.findall(r'^#? ?(?:size|pipe) = "(.*?)"', text, re.M)):
        if size.endswith(("AWG", "mm2")):
            continue
        assert pipe_size(size).inside > Q_("1 in")


# --- from another study ---------------------------------------------------------------------


@pytest.mark.parametrize("demo", DEMOS)
def test_it_keeps_prices_and_machine_and_nothing_of_the_other_creek(home, demo):
    other, made = home / "studies" / demo, home / "studies" / "west_fork"
    count = write_study_from(made, other)
    before, after = read_site_file(other / "site.toml"), read_site_file(made / "site.toml")
    assert (
        dict(after.costs) == dict(before.costs)
        and after["uncertainty"] == before["uncertainty"]
        and after["outage"] == before["outage"]
    )
    assert (
        after["turbine"]["kind"] == before["turbine"]["kind"]
        and after["generator"]["kind"] == before["generator"]["kind"]
    )
    assert after["site"]["name"] == "West fork" and after["site"]["stage_of_work"] == "planned"
    assert (
        after["site"]["display"] == before["site"]["display"]
        and after["site"]["winter"] == before["site"]["winter"]
    )
    for name in LISTS:
        assert not after[name]
    for section in SECTIONS:
        assert set(after[section]) <= SHARED[section] | {"name", "stage_of_work"}
    text = (made / "site.toml").read_text(encoding="utf-8")
    assert text.count("# measure anew: ") >= count > 15
    # every value of the other creek still stands there to be seen
    for section in ("stream", "penstock", "intake"):
        for key in set(before[section]) - SHARED[section]:
            assert re.search(rf"^# measure anew: {key} = ", text, re.M), key
    assert (made / "print_gauging.html").is_file() and (made / "gaugings.csv").is_file()


@pytest.mark.parametrize("demo", DEMOS)
def test_it_passes_the_check_as_it_stands(home, demo, monkeypatch, capsys):
    monkeypatch.chdir(home)
    assert cli.main(["new", "studies/west", "--from", f"studies/{demo}"]) == 0
    said = capsys.readouterr().out
    assert re.match(
        rf"\d+ values of studies/{demo} must be measured anew; they are marked so\.", said
    )
    assert not [each for each in check_study("studies/west") if each.level == "problem"]
    assert (
        cli.main(["new", "studies/west", "--from", f"studies/{demo}"]) == 2
    )  # it is there already
    study = open_study("studies/west")
    assert study.plant is None and study.record is None


def test_files_that_are_kept_come_along(home):
    write_study_from(home / "studies" / "west", home / "studies" / "hazel-beck")
    made = home / "studies" / "west"
    assert (made / "pipe_prices.csv").read_bytes() == (
        home / "studies" / "hazel-beck" / "pipe_prices.csv"
    ).read_bytes()
    assert (
        tomllib.loads((made / "site.toml").read_text(encoding="utf-8"))["stream"][
            "neighbour_record"
        ]
        == "../../data/long-gauge.csv"
    )
    # elsewhere the shared gauge cannot be reached: it is marked, not left dangling
    write_study_from(home / "far" / "away" / "west", home / "studies" / "hazel-beck")
    text = (home / "far" / "away" / "west" / "site.toml").read_text(encoding="utf-8")
    assert '# measure anew: neighbour_record = "../../data/long-gauge.csv"' in text
    check_study(home / "far" / "away" / "west")


def test_values_over_several_lines_and_remarks(tmp_path):
    other = tmp_path / "old"
    other.mkdir()
    (other / "site.toml").write_text(
        '# of the old creek\n[site]\nname = "Old"\n[loads]\ndemand = [  # by month\n'
        + '  "100 kWh",\n' * 12
        + "]\n[costs]\n# by a dealer\nfixed = 9000  # offer of May\n",
        encoding="utf-8",
    )
    assert write_study_from(tmp_path / "new", other) == 1
    text = (tmp_path / "new" / "site.toml").read_text(encoding="utf-8")
    assert (
        '# measure anew: demand = [  # by month\n#   "100 kWh",\n' in text
        and "fixed = 9000  # offer of May" in text
        and "# by a dealer" in text
    )
    assert "of the old creek" not in text and open_study(tmp_path / "new").demand_w is None


@pytest.mark.parametrize(
    "text",
    [
        'site = { name = "x", altitude = "30 m" }\n',
        '[site]\nname = "x"\n[penstock]\nhead = "3 m"\n\n[ "stream" ]\ncease_to_flow = "1 m"\n',
        '[site]\nname = "x"\nwinter = [1]\n"altitude" = "3 m"\n',
    ],
)
def test_a_file_written_otherwise_is_refused_or_wholly_marked(tmp_path, text):
    other = tmp_path / "old"
    other.mkdir()
    (other / "site.toml").write_text(text, encoding="utf-8")
    try:
        write_study_from(tmp_path / "new", other)
    except InputError as error:
        assert "line of its own" in str(error) and not (tmp_path / "new").exists()
    else:
        site = read_site_file(tmp_path / "new" / "site.toml")
        assert not site["penstock"] and not site["stream"] and "altitude" not in site["site"]


@pytest.mark.parametrize(
    "named",
    ["../creek/prices.csv", "more/../../creek/prices.csv", "site.toml", "./site.toml", "link.csv"],
)
def test_a_strangers_file_name_leads_to_no_file_of_ones_own(tmp_path, monkeypatch, named):
    """`new --from` a download: a name that leads out and in again leads elsewhere from the new study."""
    other, mine = tmp_path / "downloads" / "creek", tmp_path / "person" / "creek"
    (other / "more").mkdir(parents=True)
    mine.mkdir(parents=True)
    (mine / "prices.csv").write_text("my own", encoding="utf-8")
    prices = "size,price [money/m]\nPVC-U PN 10 140 mm,10\n"
    (other / "prices.csv").write_text(prices, encoding="utf-8")
    (other / "link.csv").symlink_to(tmp_path / "person" / "creek" / "prices.csv")
    site = f'[site]\nname = "Theirs"\n[costs]\npipes = "{named}"\nfixed = 5000\n'
    (other / "site.toml").write_text(site, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "person")
    write_study_from("mine", other)
    assert (mine / "prices.csv").read_text(encoding="utf-8") == "my own"
    assert {each.name for each in Path().iterdir()} == {"mine", "creek"}
    made = tomllib.loads(Path("mine", "site.toml").read_text(encoding="utf-8"))
    assert made["site"]["name"] == "Mine" and made["costs"] == {"fixed": 5000}


def test_a_new_study_is_made_whole_or_not_at_all(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    full = OSError(28, "No space left on device")
    left = tmp_path / f"{BUILDING}mine-1"
    (left / "old").mkdir(parents=True)  # of an attempt that was killed
    with monkeypatch.context() as shut:
        shut.setattr(Path, "write_text", lambda *_, **__: (_ for _ in ()).throw(full))
        with pytest.raises(InputError, match="mine: cannot be written .No space left"):
            write_new_study("mine")
    assert list(tmp_path.iterdir()) == []
    # An empty folder that one stands in stays the same folder.
    (tmp_path / "here" / f"{BUILDING}new-1").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "here")
    write_new_study(".")
    assert Path("site.toml").is_file() and not list(Path().glob(f"{BUILDING}*"))
    with pytest.raises(InputError, match="is there already and not empty"):
        write_new_study(".")


def test_a_broken_study_is_told_and_none_is_made(tmp_path):
    other = tmp_path / "old"
    other.mkdir()
    (other / "site.toml").write_text('[site]\nname = "x"\naltitude = 3\n', encoding="utf-8")
    with pytest.raises(InputError, match="altitude"):
        write_study_from(tmp_path / "new", other)
    assert not (tmp_path / "new").exists()


def test_keys_that_are_kept_are_keys():
    assert all(key in SECTIONS[section] for section, keys in SHARED.items() for key in keys)
    assert {
        ("costs", "pipes"),
        ("costs", "cables"),
        ("stream", "neighbour_record"),
        ("turbine", "efficiency_table"),
    } == set(_FILES)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.text(alphabet="[]{}\"'#=,\\ \nab1", max_size=60))
def test_statements_are_the_text_cut_in_parts(text):
    value = "x = " + '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    whole = f"# one\n{value}\ny = [\n  1,\n  2, # two\n]\n[t]\nz = '''\n{text.replace(chr(39), '')}'''\n"
    parts = list(_statements(whole))
    assert "\n".join(parts).rstrip("\n") == whole.rstrip("\n")
    assert len([part for part in parts if part.startswith(("x", "y", "[t]", "z"))]) == 4


# --- sheets to print ------------------------------------------------------------------------


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize(
    "units, own, other",
    [
        ("metric", ["[m]", "[bar]", "[°C]", "[L]"], ["[ft", "[psi", "[°F", "[gal", "inch"]),
        ("us", ["[ft]", "[psi]", "[°F]", "[gal]"], ["[m]", "[bar", "[°C", "[L]", "centimetre"]),
    ],
)
def test_sheets_stand_by_themselves_in_one_system_of_units(units, own, other):
    pages = field_pages(units)
    assert set(pages) == {
        "print_gauging.html",
        "print_floats.html",
        "print_flood.html",
        "print_survey.html",
        "print_log.html",
        "print_salt.html",
    }
    whole = "".join(pages.values())
    assert all(each in whole for each in own)
    for name, text in pages.items():
        assert not [
            each for each in other if each in re.sub(r"<style>.*?</style>", "", text, flags=re.S)
        ], name
        tags = Tags()
        tags.feed(text)
        assert not [
            tag
            for tag, attributes in tags.tags
            if tag in ("script", "img", "link", "iframe")
            or "href" in attributes
            or "src" in attributes
        ]
        assert "default-src 'none'" in text and text.count("<tr>") >= 15


def test_the_columns_are_those_of_the_sheets_they_are_typed_into(tmp_path):
    write_new_study(tmp_path / "mine", "metric")
    for name, sheet in (
        ("print_log.html", "sheet_log.csv"),
        ("print_salt.html", "sheet_salt.csv"),
        ("print_floats.html", "sheet_section.csv"),
        ("print_flood.html", "sheet_flood.csv"),
        ("print_survey.html", "sheet_penstock.csv"),
    ):
        titles = re.sub(r"<[^>]*>", " ", (tmp_path / "mine" / name).read_text(encoding="utf-8"))
        header = [
            line
            for line in (tmp_path / "mine" / sheet).read_text(encoding="utf-8").splitlines()
            if not line.startswith("#")
        ][0]
        for column in header.split(","):
            word = column.split("[")[0].strip()
            assert word in titles or word in ("note", "spilling"), word
    check_study(tmp_path / "mine")


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_sheet_is_one_page(tmp_path, paper):
    from pypdf import PdfReader

    from hydrokit.errors import RunError
    from hydrokit.report.pdf import find_browser, print_pages

    try:
        browser = find_browser()
    except RunError as error:
        pytest.skip(str(error))
    for name, text in field_pages("us").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    print_pages(browser, tmp_path, paper)
    for pdf in tmp_path.glob("*.pdf"):
        assert len(PdfReader(pdf).pages) == 1, pdf.name
