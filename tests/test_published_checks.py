"""The verification page: every check shown as it came out, and failures not to be missed."""

import json
from pathlib import Path

import pytest

from hydrokit import published
from hydrokit.errors import InputError, RunError
from hydrokit.published import (
    STANDINGS,
    Check,
    Outcome,
    published_folder,
    read_checks,
    run_checks,
)
from hydrokit.report.pages import verification as page
from hydrokit.runner import single

ROOT = Path(__file__).resolve().parents[1]
NOTEBOOK = ROOT / "notebooks" / "verification" / "every_check.ipynb"

GOOD = """
[[check]]
id = "ten-metres"
call = "hydrokit.water:head_to_pressure"
inputs = { head = ["10 m", "20 m"], temperature = "10 degC" }
expected = ["98.04 kPa", "196.07 kPa"]
rtol = 0.001
why = "0.1 %: rounded"
source = "rho g h with 999.7 kg/m3 <b>&</b>"
kind = "analytic"
how = "computed"

[[check]]
id = "wrong"
call = "hydrokit.water:head_to_pressure"
inputs = { head = "10 m" }
expected = "99 kPa"
atol = "0.5 kPa"
why = "a value that is not true"
source = "nobody"
kind = "published"
how = "read"

[[check]]
id = "broken"
call = "hydrokit.water:head_to_pressure"
inputs = { head = "10 psi" }
expected = "99 kPa"
rtol = 0.1
why = "a pressure is no head"
source = "nobody"
kind = "from memory"
how = "from memory"
"""


@pytest.fixture
def folder(tmp_path):
    """A small folder of checks: two good ones, one that fails, one that stops with an error."""
    made = tmp_path / "published"
    made.mkdir()
    (made / "ground.toml").write_text(GOOD, encoding="utf-8")
    return made


def test_a_check_that_fails_or_stops_is_an_outcome_like_the_others(folder):
    good, wrong, broken = run_checks(folder)
    assert good.passed and good.deviation < 1e-3 and 0 < good.used < 1
    assert not wrong.passed and wrong.deviation == pytest.approx(1 - 98.0366 / 99, rel=1e-3)
    assert wrong.used == pytest.approx((99 - 98.0366) / 0.5, rel=1e-3)
    assert not broken.passed and broken.error.startswith("UnitsError: ") and broken.found is None


def test_the_headline_names_what_fails_and_counts_what_does_not(folder):
    outcomes = run_checks(folder)
    told = str(page.headline(outcomes))
    assert "**2 of 3 checks fail**" in told and "1 printed values that were read" in told
    assert "all 1 checks agree" in str(
        page.headline(outcomes[:1])
    ) and "No function rests on memory alone" in str(page.headline(outcomes[:1]))
    assert "Only memory stands behind hydrokit.water:head_to_pressure" in str(
        page.headline(outcomes[2:])
    )


def test_evidence_is_counted_by_what_it_is_worth():
    """A value worked from a formula, a table read again and a number worked by us are no printed values."""
    checks = read_checks(published_folder())
    by_standing = {}
    for each in checks:
        by_standing.setdefault(each.standing, []).append(each)
    assert set(by_standing) <= set(STANDINGS) <= set(page._MEANING) & set(page._COUNTED)
    assert all(each.how.startswith("read") for each in by_standing["printed"])
    assert {each.how for each in by_standing["published formula"]} <= {"computed", "code"}
    assert all("itself" in each.why or "copied" in each.why for each in by_standing["table copied"])
    assert not any(each.how == "computed" for each in by_standing["other program"])
    told = str(page.headline([Outcome(each, passed=True) for each in checks]))
    for name, inside in by_standing.items():
        assert f"{len(inside)} {page._COUNTED[name]}" in told
    assert sum(map(len, by_standing.values())) == len(checks)


def test_the_bore_of_the_demos_own_metric_pipe_does_not_rest_on_memory():
    (row,) = (each for each in read_checks(published_folder()) if each.id == "pe100-bores")
    assert "250 mm PE100 SDR 17" in row.inputs["names"] and row.standing == "other program"


def test_failing_rows_are_marked_in_words_and_in_looks(folder):
    outcomes = run_checks(folder)
    shown = page.checks_of(outcomes, "ground")._repr_html_()
    assert (
        shown.count("hk-mark") == 2
        and "FAILS: wrong" in shown
        and "FAILS: broken" in shown
        and "FAILS: ten" not in shown
    )
    assert "&lt;b&gt;&amp;&lt;/b&gt;" in shown and "<b>" not in shown
    failed = page.failures(outcomes)
    assert [row[0] for row in failed.rows] == ["FAILS: wrong", "FAILS: broken"]
    assert "UnitsError" in failed.rows[1][3]
    assert "2 FAIL" in repr(page.counts_table(outcomes))


def test_a_row_says_all_that_the_table_knows(folder):
    (row, *_) = [page._row(each) for each in run_checks(folder)]
    name, computed, expected, ours, off, allowed, evidence = row
    assert (name, computed) == (
        "ten-metres",
        "head to pressure: head 10, 20 m; temperature 10 degC",
    )
    assert expected == "98.04, 196.07 kPa" and ours == "98.037, 196.074 kPa"
    assert off.endswith(" %") and allowed == "0.1 %: rounded"
    assert evidence == "analytic, calculated apart from hydrokit: rho g h with 999.7 kg/m3 <b>&</b>"


@pytest.mark.parametrize(
    "value, shown",
    [
        (["1 m", "2 m"], "1, 2 m"), (["1 m", "2 ft"], "1 m, 2 ft"), ([1, 2.5], "1, 2.5"), (0.1, "0.1"), (["a"] * 9, ", ".join(["a"] * 8) + ", … (9 in all)"),
        ({"one": [1, 2]}, "one = 1, 2"), ([], ""), ([[1, 2], [3, 4]], "1, 2, 3, 4"),
    ],
)  # fmt: skip
def test_lists_do_not_run_away(value, shown):
    assert page._listed(value) == shown


def test_where_zero_is_expected_the_deviation_is_told_by_the_tolerance():
    check = Check(
        "a",
        "topic",
        "m:f",
        inputs={},
        expected=["0 m", "1 m"],
        source="s",
        why="w",
        kind="analytic",
        how="computed",
        atol="1 mm",
    )
    assert page._deviation(Outcome(check, deviation=0.0005, used=0.5)) == "50 % of what is allowed"
    assert page._deviation(Outcome(check)) == "no result"


def test_rows_without_evidence_are_refused(folder):
    (folder / "bad.toml").write_text(
        GOOD.replace('kind = "analytic"', 'kind = "hearsay"').replace("rtol = 0.001", ""),
        encoding="utf-8",
    )
    with pytest.raises(InputError) as error:
        read_checks(folder)
    assert "hearsay" in str(error.value) and "no tolerance" in str(error.value)


def test_every_topic_of_ours_has_a_room_and_every_room_a_cell():
    outcomes = [Outcome(check) for check in read_checks(published_folder())]
    with published._importable(published_folder().parent):
        for name in {each.check.call.partition(":")[0] for each in outcomes}:
            __import__(name)
    rooms = page.topics_by_room(outcomes)
    assert (
        {"gauging", "record", "rating"} <= set(rooms["stream"])
        and "money" in rooms["energy"]
        and "turbine" in rooms["plant"]
    )
    assert sorted(topic for topics in rooms.values() for topic in topics) == sorted(
        {each.check.topic for each in outcomes}
    )
    cells = "".join(
        "".join(cell["source"])
        for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    )
    assert all(f'page.checks_of(outcomes, "{room}")' in cells for room in page.ROOMS)
    # whatever a table holds can be shown
    for each in outcomes:
        assert all(
            isinstance(cell, str) and cell for cell in page._row(Outcome(each.check, error="x"))
        )


def test_the_notebook_is_stripped():
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    assert not any(cell.get("outputs") or cell.get("execution_count") for cell in cells)
    assert sum("parameters" in cell["metadata"].get("tags", []) for cell in cells) == 1


def test_a_run_of_a_study_does_not_pick_it_up():
    from hydrokit.site.folders import notebook_folder, notebooks_in

    assert NOTEBOOK not in notebooks_in(notebook_folder())


@pytest.mark.slow
def test_the_page_is_made_by_a_kernel_and_stands_by_itself(folder):
    told, text = single.verification_page(str(folder))
    assert told.startswith("On this machine 2 of 3 checks fail")
    assert "Content-Security-Policy" in text and "<script" not in text and "http-equiv" in text
    assert "FAILS: wrong" in text and "FAILS: broken" in text and "&lt;b&gt;&amp;&lt;/b&gt;" in text
    assert 'href="index.html"' not in text  # no other page belongs to it
    assert text.count('src="data:image/png;base64,') == 1


def test_a_package_without_its_checks_says_so(monkeypatch):
    monkeypatch.setattr(published, "checkout", lambda: None)
    with pytest.raises(RunError, match="published checks are not there; install hydrokit anew"):
        single.verification_page()


@pytest.mark.slow
def test_all_of_ours_agree_here(tmp_path, monkeypatch, capsys):
    from hydrokit import cli

    monkeypatch.chdir(tmp_path)
    assert cli.main(["verify"]) == 0
    said = capsys.readouterr().out
    checks = read_checks(published_folder())
    assert f"all {len(checks)} checks agree" in said and "open verification.html" in said
    text = Path("verification.html").read_text(encoding="utf-8")
    assert "FAILS: " not in text
    for check in checks[::25]:
        assert f"<td>{check.id}</td>" in text
