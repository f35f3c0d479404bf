"""Names that would upset a terminal, folders that are not as usual, tables that are too much: a sentence each."""

import copy
import csv
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
import small_study
from test_nothing_run import in_a_shell

from hydrokit import cli
from hydrokit.energy.first_look import Creek, Sifted
from hydrokit.errors import InputError, RunError, printable
from hydrokit.report import many_creeks
from hydrokit.report.display import csv_text, escape_markdown
from hydrokit.report.marking import markdown
from hydrokit.runner import endings, single, spread
from hydrokit.runner import sifted as batch
from hydrokit.site import whole
from hydrokit.study.opening import check_study
from hydrokit.study.view import View

ODD = "a\x1b[31mb\rc\nd\x07e\u202ef\u2066g\u200bh\x9bi\u2028j\ufeffk"
TURNED = (
    "a\nb\u202ec\u2066d\u200be\u2028f\ufeffg"  # a site file may hold these, control characters not
)
HEADER = "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\n"
posix = pytest.mark.skipif(os.name == "nt", reason="such names are not possible there")


# ---------------------------------------------------------------- the terminal


def assert_plain(text):
    assert all(each.isprintable() for line in text.split("\n") for each in line), repr(text)


@pytest.fixture(scope="module")
def odd(tmp_path_factory):
    """Studies whose names, parts and folders hold what moves a cursor or turns text round."""
    home = tmp_path_factory.mktemp("odd")
    site = copy.deepcopy(small_study.SITE)
    site["site"] |= {"name": TURNED, "place": TURNED}
    site["part"] = [{"kind": "inclined screen", "name": TURNED, "rating": "14 L/s"}]
    site["upgrade"][0]["name"] = TURNED
    text = small_study.toml(site)
    for name in ("one", "two" if os.name == "nt" else "t\x1b[2Jw\r\no\u202e"):
        small_study.write(home / "studies" / name, text)
    site["site"]["name"] = ODD
    small_study.write(home / "studies" / "bad", small_study.toml(site))
    row = ", 46, 380, 30, one/flow.csv, 38, 20, 10\n"
    # (control characters are refused in a CSV; what turns text round is not)
    (home / "studies" / "creeks.csv").write_text(
        f"{HEADER}Al\u202eder\u2066{row}", encoding="utf-8"
    )
    return home / "studies"


@posix
@pytest.mark.parametrize(
    "verb", ["check", "parts", "compare", "sift", "refused", "not there", "bad"]
)
def test_nothing_odd_reaches_the_terminal(odd, monkeypatch, capsys, verb):
    monkeypatch.chdir(odd)
    other = next(each.name for each in odd.iterdir() if each.name.startswith("t"))
    words = {
        "check": ["check", "one", other],
        "parts": ["parts", other],
        "compare": ["compare", "one", other],
        "sift": ["sift", "creeks.csv", "--workers", "1"],
        "refused": ["parts", other, "--out", f"{other}/site.toml"],
        "not there": ["run", f"{other}x{ODD}".replace("\0", "")],
        "bad": ["check", "bad"],
    }[verb]
    code = cli.main(words)
    said = capsys.readouterr()
    assert code == (2 if verb in ("refused", "not there", "bad") else 0)
    assert_plain(said.out + said.err)
    assert (said.out + said.err).strip()


@pytest.mark.parametrize("word", [f"--{ODD}", f"-{ODD}"], ids=["long", "short"])
@pytest.mark.parametrize("verb", ["check", "lab", ""])
def test_a_word_that_is_no_option_is_told_in_printable_letters(capsys, verb, word):
    """The shell puts names of a stranger's files there: ``hydrokit check *``."""
    with pytest.raises(SystemExit) as ended:
        cli.main([each for each in (verb, "x" if verb else "", word, word) if each])
    said = capsys.readouterr()
    assert ended.value.code == 2 and said.err
    assert_plain(said.out + said.err)


def test_a_message_of_ours_is_one_line(capsys):
    endings.told_in_one_line(RunError(f"02 two stopped: {ODD}"))
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and said.isascii()
    assert printable("plain ≤ 3 m³/s 谷") == "plain ≤ 3 m³/s 谷"


# ---------------------------------------------------------------- pages and tables


@pytest.mark.parametrize(
    "text",
    [
        "https://example.org/x",
        "see http://example.org",
        "www.example.org",
        "<https://example.org>",
        "mailto:a@example.org",
        "[x](https://example.org)",
    ],
)
def test_an_address_in_a_name_is_text(text):
    page = markdown(f"The creek {escape_markdown(text)} gives **12 L/s**.")
    assert "<a" not in page and "example.org" in page and "<strong>12 L/s</strong>" in page


def test_a_bare_address_in_a_notebook_is_text_and_a_link_a_link():
    assert "<a" not in markdown(
        "https://example.org/x"
    ) and '<a href="https://example.org/x">' in markdown("[the source](https://example.org/x)")


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "＝1+1",
        "＋1",
        "＠x",
        "－1",
        "a;=1+1",
        "a; =1+1",
        "+1",
        "@x",
        "-x",
        "\t=1",
        "\u200b=1",
    ],
)
def test_no_cell_is_a_formula_wherever_a_spreadsheet_parts_it(text):
    for cell in re.split(r"[;\t]", csv_text(text)):
        assert not re.match(r"\s*[=+@＝＋＠－-]", cell), cell


# ---------------------------------------------------------------- folders


@posix
def test_a_folder_that_is_not_utf8_is_told_before_anything_runs(tmp_path, monkeypatch, capsys):
    place = os.path.join(os.fsencode(tmp_path), b"cr\xe9ek")
    try:
        os.mkdir(place)
    except OSError:
        pytest.skip("this disk refuses such names")
    small_study.write(Path(os.fsdecode(place)))
    for verb in ("check", "run", "parts"):
        assert cli.main([verb, os.fsdecode(place)]) == 2
        said = capsys.readouterr()
        assert "not UTF-8 text here; rename it" in said.out + said.err
        assert_plain(said.out + said.err)


@posix
@pytest.mark.parametrize(
    "setting",
    [
        pytest.param({"LANG": "C"}, marks=pytest.mark.slow),
        pytest.param({"LC_ALL": "C"}, marks=pytest.mark.slow),
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    ],
    ids=["LANG", "LC_ALL", "forced"],
)
def test_accents_in_a_plain_locale(tmp_path, setting):
    small_study.write(tmp_path / "Übach")
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("LC_", "LANG", "PYTHON"))
    } | setting
    done = subprocess.run(
        [sys.executable, "-m", "hydrokit", "check", "Übach".encode()],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        timeout=120,
    )
    said = (done.stdout + done.stderr).decode("utf-8", "replace")
    assert done.returncode in (0, 2) and "Traceback" not in said and "did not expect" not in said
    assert done.returncode == 0 or "set LANG=C.UTF-8" in said


@posix
def test_links_that_lead_to_themselves_and_a_working_folder_that_is_gone(
    tmp_path, monkeypatch, capsys
):
    os.symlink("loop", tmp_path / "loop")
    assert cli.main(["check", str(tmp_path / "loop")]) == 2
    assert "there is no such study" in capsys.readouterr().out
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    for verb in ("check", "run", "parts", "compare"):
        assert cli.main([verb, "."]) == 2
        assert (
            capsys.readouterr().err
            == "The working folder is gone; change to one that is there, and try again.\n"
        )


@posix
@pytest.mark.parametrize(
    "words",
    [
        ("check", "."),
        ("parts", "."),
        pytest.param(("compare", "."), marks=pytest.mark.slow),
        ("lab", "--no-browser"),
    ],
    ids=lambda words: words[0],
)
def test_a_home_that_is_shut(tmp_path, words):
    small_study.write(tmp_path / "creek")
    shut = {
        name: ""
        for name in ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "MPLCONFIGDIR", "JUPYTER_RUNTIME_DIR")
    }
    done = in_a_shell(tmp_path / "creek", *words, HOME="/dev/null/nobody", **shut)
    if words[0] == "lab":
        assert done.returncode == 2 and re.fullmatch(
            r"/dev/null/nobody/\S+: this folder cannot be made .* let HOME be a folder that can be written\n",
            done.stderr,
        )
    else:
        assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.slow
@posix
def test_a_run_asks_nothing_of_a_home_that_is_shut(tmp_path, monkeypatch):
    import toy

    from hydrokit.runner import run

    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)
    monkeypatch.setenv("HOME", "/dev/null/nobody")
    study = toy.study(tmp_path / "creek")
    assert run.run_study(
        study, folder=toy.notebooks(tmp_path / "nb", _01_one="1"), open_study=toy.open_toy
    ).index.is_file()


# ---------------------------------------------------------------- sifting


def sifted(folder, text, *words):
    (folder / "creeks.csv").write_text(text, encoding="utf-8")
    return cli.main(["sift", str(folder / "creeks.csv"), "--workers", "1", *words])


def test_every_mistake_of_a_table_whatever_its_kind(tmp_path, capsys):
    (tmp_path.parent / "outside.csv").write_text(small_study.FILES["flow.csv"], encoding="utf-8")
    small_study.write(tmp_path)
    rows = [
        "A, x, 380, 30, flow.csv, 38, 20, 10",
        "B, 46, 380, 30, ../outside.csv, 38, 20, 10",
        "C, 46, 380, 30, /dev/zero, 38, 20, 10",
        "D, 46, , 30, flow.csv, 38, 20, 10",
        "E, 46, 380, 30, none.csv, 38, 20, 10",
        ", 46, 380, 30, flow.csv, 38, 20, 10",
        "G, 46, 30, 30, flow.csv, 38, 20, 10",
        "H, 46, 380, 30, flow.csv, 38, much, 10",
    ]
    assert sifted(tmp_path, HEADER + "\n".join(rows) + "\n") == 2
    said = capsys.readouterr().err.splitlines()
    for part in (
        "line 2: 'x' in the column 'head'",
        "'../outside.csv' leaves the study",
        "'/dev/zero' leaves the study",
        "line 5: the column 'length' is empty",
        "no file 'none.csv'",
        "line 7: the column 'name' is empty",
        "line 8: the pipe is shorter",
        "line 9: 'much' in the column 'licence'",
    ):
        assert sum(part in line for line in said) == 1, (part, said)
    assert len(said) == 8


@posix
def test_a_device_for_a_table_is_refused_at_once(capsys, tmp_path):
    began = time.monotonic()
    os.mkfifo(tmp_path / "pipe")
    for path in ("/dev/zero", str(tmp_path / "pipe")):
        assert cli.main(["sift", path, "--workers", "1", "--out", str(tmp_path / "out.csv")]) == 2
        assert "this is a device or a pipe; a file is needed" in capsys.readouterr().err
    assert time.monotonic() - began < 5


@pytest.mark.parametrize(
    "address",
    [
        "foo bar",
        "",
        "tcp://",
        "127.0.0.1",
        "http://x:80",
        "tcp://a:99999",
        "tcp://127.0.0.1:1",
        "tcp://192.0.2.1:8786",
    ],
)
def test_a_cluster_that_is_none_is_told_within_ten_seconds(tmp_path, capfd, address):
    pytest.importorskip("distributed")
    small_study.write(tmp_path)
    began = time.monotonic()
    code = sifted(
        tmp_path, HEADER + "A, 46, 380, 30, flow.csv, 38, 20, 10\n", "--cluster=" + address
    )
    assert not address or time.monotonic() - began < 10  # without one the table is worked out
    said = capfd.readouterr().err
    assert (
        code in ((0,) if address == "" else (1, 2))
        and said.count("\n") == (address != "")
        and "Traceback" not in said
    )


def test_a_cluster_without_workers_says_so(tmp_path, capfd, monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(spread, "_SECONDS", 1)
    with distributed.LocalCluster(
        n_workers=0,
        processes=False,
        dashboard_address=None,
        host="127.0.0.1",
        protocol="tcp",
        silence_logs=50,
    ) as none:
        with (
            pytest.raises(RunError, match="has no workers; start some with: dask worker tcp://"),
            spread.cluster(none.scheduler_address)(),
        ):
            pass


def test_no_processes_is_told(tmp_path, capsys):
    small_study.write(tmp_path)
    (tmp_path / "creeks.csv").write_text(
        HEADER + "A, 46, 380, 30, flow.csv, 38, 20, 10\n", encoding="utf-8"
    )
    assert cli.main(["sift", str(tmp_path / "creeks.csv"), "--workers", "0"]) == 2
    assert "at least one process must do the work" in capsys.readouterr().err


def test_rows_are_on_the_disk_as_they_come_and_in_order(tmp_path, monkeypatch):
    monkeypatch.setattr(batch, "_TELL_EVERY", 0.0)
    said = []
    growing = batch.Growing(tmp_path / "out.csv", View("metric"), said.append)
    found = [
        Sifted(Creek(name, 46.0, 380.0, catchment_m2=1e6, neighbour_catchment_m2=1e6), reason="dry")
        for name in "abcd"
    ]

    def names():
        return [
            row[0]
            for row in csv.reader(
                (tmp_path / "out.part.csv").read_text(encoding="utf-8").splitlines()
            )
        ]

    growing.take(found[0], 4)
    assert names() == ["name", "a"]
    growing.take(found[1], 4)
    assert names() == ["name", "a", "b"] and said == ["1 of 4 creeks", "2 of 4 creeks"]
    growing.close()  # stopped here
    again = batch.Growing(tmp_path / "out.csv", View("metric"), said.append)
    for each in found:
        again.take(each, 4)
    again.close()
    text = (tmp_path / "out.part.csv").read_text(encoding="utf-8")
    assert text == many_creeks.table_text(found, View("metric"))
    assert single.put(tmp_path / "out.csv", again.path).read_text(encoding="utf-8") == text
    assert not again.path.exists()
    (tmp_path / "out.part.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="hydrokit did not write this file"):
        batch.Growing(tmp_path / "out.csv", View("metric"), said.append)


# ---------------------------------------------------------------- much


@pytest.mark.slow
def test_many_gaugings_take_time_in_proportion_to_their_number(tmp_path):
    def seconds(count):
        rows = "".join(
            f"{1900 + i % 120}-{1 + i % 12:02d}-{1 + i % 28:02d},{0.05 + 0.35 * (i * 7919 % count) / count:.4f},{300 * (0.05 + 0.35 * (i * 7919 % count) / count) ** 2:.3f},5,bucket\n"
            for i in range(count)
        )
        small_study.write(
            tmp_path, gaugings="date,stage [m],flow [L/s],uncertainty [%],method\n" + rows
        )
        began = time.process_time()
        check_study(tmp_path)
        return time.process_time() - began

    seconds(500)
    few, many = (
        seconds(25_000),
        seconds(100_000),
    )  # one fit each: more would show a bend of their rounding
    assert many < 8 * few  # four times as many


def test_no_warning_of_a_library_reaches_the_terminal(monkeypatch, capsys, tmp_path):
    import warnings

    import numpy as np

    def warns(path):
        warnings.warn("divide by zero", RuntimeWarning, stacklevel=1)
        np.log(np.zeros(1))
        return []

    monkeypatch.setattr("hydrokit.study.opening.check_study", warns)
    assert cli.main(["check", "x"]) == 0
    assert capsys.readouterr().err == ""


def test_what_a_killed_run_left_goes_with_the_next_thing_that_is_written(tmp_path):
    study = small_study.write(tmp_path / "creek")
    (study / f"{whole.BUILDING}99").mkdir()
    (study / f"{whole.BUILDING}99" / "01_x.html").write_text("half", encoding="utf-8")
    (study / f"{whole.BUILDING}parts.csv-99").write_text("half", encoding="utf-8")
    assert cli.main(["parts", str(study)]) == 0
    assert not [each for each in study.iterdir() if each.name.startswith(whole.BUILDING)]
