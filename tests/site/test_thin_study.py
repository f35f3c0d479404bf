"""The thin path: few keys, each example marked, and told until it is replaced."""

import re
import tomllib

import pytest

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.runner import beginning
from hydrokit.site.new_study import write_thin_study
from hydrokit.site.thin_study import CASES, MARK
from hydrokit.study.opening import check_study


def left(folder):
    return [str(each) for each in check_study(folder) if each.where == "examples"]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("case", CASES)
def test_a_new_thin_study_is_sound_and_tells_every_example_once(tmp_path, case, units):
    write_thin_study(tmp_path / "mine", case, units)
    lines = (tmp_path / "mine" / "site.toml").read_text().split("\n")
    (told,) = left(tmp_path / "mine")
    numbers = [
        int(each) for each in re.findall(r"\d+", told.partition("site.toml")[2].partition(";")[0])
    ]
    assert numbers == [number for number, line in enumerate(lines, 1) if f" # {MARK}" in line]
    assert ".csv line 1" in told
    keys = [line for line in lines if re.match(r"\w+ = ", line)]
    assert len(keys) <= 18


def test_what_is_replaced_is_told_no_more(tmp_path):
    write_thin_study(tmp_path / "mine", "gauge-only")
    for path in (tmp_path / "mine").glob("s*.*"):
        text = path.read_text().replace(f"# {MARK}", "# mine")
        path.write_text(text.replace('take "# mine"', f'take "# {MARK}"'))
    assert left(tmp_path / "mine") == []


def test_a_gauge_and_a_bucket_give_a_bracket(tmp_path):
    """The whole path: from the bucket's day to two figures for the year."""
    from hydrokit.study.opening import open_study

    write_thin_study(tmp_path / "mine", "gauge-only", "us")
    study = open_study(tmp_path / "mine")
    assert study.bracket is not None and 0 < study.bracket.low_kwh < study.bracket.high_kwh
    assert study.baseline is not None


def test_the_command_line_writes_it_and_refuses_two_beginnings(tmp_path, capsys):
    assert cli.main(["new", str(tmp_path / "a"), "--for", "log"]) == 0
    assert "log" in tomllib.loads((tmp_path / "a" / "site.toml").read_text())["readings"]
    with pytest.raises(SystemExit) as ended:
        cli.main(["new", str(tmp_path / "b"), "--for", "log", "--from", str(tmp_path / "a")])
    assert ended.value.code == 2 and "not allowed with" in capsys.readouterr().err
    with pytest.raises(InputError):
        write_thin_study(tmp_path / "a", "log")


def test_every_case_is_a_choice_of_the_command_line():
    import argparse

    parser = argparse.ArgumentParser()
    beginning.arguments(parser)
    (choices,) = [each.choices for each in parser._actions if each.dest == "case"]
    assert list(choices) == list(CASES)
