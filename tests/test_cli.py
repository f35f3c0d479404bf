"""The command line: exit codes, sentences, and no traceback unless asked for."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import types
import urllib.error
import urllib.request
from pathlib import Path

import pytest
import toy

from hydrokit import cli
from hydrokit.errors import Finding, InputError, Mistake, RunError, UnitsError
from hydrokit.lab import home
from hydrokit.report import pdf
from hydrokit.runner import endings, terminal
from hydrokit.site import folders

ROOT = Path(cli.__file__).resolve().parents[1]


@pytest.fixture(autouse=True)
def quick_start(monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)


@pytest.fixture
def study(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return toy.study(tmp_path / "studies" / "creek")


@pytest.fixture
def stub(monkeypatch):
    """What the verbs call, to be changed by each test."""
    module = types.ModuleType("hydrokit.study.opening")
    module.open_study = toy.open_toy
    module.check_study = lambda path: toy.open_toy(Path(path)).findings()
    monkeypatch.setitem(sys.modules, "hydrokit.study.opening", module)
    return module


def use_notebooks(monkeypatch, tmp_path, **sources):
    folder = toy.notebooks(tmp_path / "nb", **sources)
    monkeypatch.setattr(folders, "notebook_folder", lambda: folder)


# ---------------------------------------------------------------- check and new


def test_check_lists_findings_and_ends_with_zero(stub, study, capsys):
    assert cli.main(["check", "studies/creek"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "studies/creek: sound; 1 problem, 1 caution, 1 note",
        "  note: record: 12 years of days (Toy creek).",
        "  problem: rights: No residual flow is given.",
        "  caution: rating: One reading below 8 L/s.",
    ]


def test_check_lists_every_mistake_of_every_study_and_ends_with_two(stub, study, capsys):
    def broken(path):
        raise InputError(
            [
                Mistake(f"{path}/site.toml", "[pipe] length", "no unit"),
                Mistake(f"{path}/flow.csv", "line 3", "no date"),
            ]
        )

    stub.check_study = broken
    assert cli.main(["check", "a", "b"]) == 2
    assert capsys.readouterr().out.splitlines() == [
        "a: 2 mistakes",
        "  a/site.toml: [pipe] length: no unit",
        "  a/flow.csv: line 3: no date",
        "b: 2 mistakes",
        "  b/site.toml: [pipe] length: no unit",
        "  b/flow.csv: line 3: no date",
    ]


def test_new_says_what_to_do_next(monkeypatch, study, capsys):
    made = []
    module = types.ModuleType("hydrokit.site.new_study")
    module.write_new_study = lambda path, units: made.append((path, units))
    monkeypatch.setitem(sys.modules, "hydrokit.site.new_study", module)
    assert cli.main(["new", "studies/mine", "--units", "us"]) == 0
    assert made == [(Path("studies/mine"), "us")]
    assert "hydrokit check studies/mine" in capsys.readouterr().out


# ---------------------------------------------------------------- run


@pytest.mark.slow
def test_run_tells_its_progress_and_where_the_report_is(stub, study, tmp_path, monkeypatch, capsys):
    use_notebooks(monkeypatch, tmp_path, _01_one="print('display is', repr(display))", _02_two="2")
    assert (
        cli.main(["run", "studies/creek", "--notebooks", "01", "--display", "us", "--accept"]) == 0
    )
    lines = capsys.readouterr().out.splitlines()
    assert re.fullmatch(r"01 one +\d+\.\d s", lines[0])
    assert lines[1:] == [
        "studies/creek: 1 notebook run; 1 problem, 1 caution, 1 note",
        "no accepted results yet; these are now",
        "open studies/creek/reports/index.html",
    ]
    page = (study / "reports" / "01_one.html").read_text(encoding="utf-8")
    assert "display is &#x27;us&#x27;" in page or "display is 'us'" in page


@pytest.mark.slow
def test_run_goes_on_with_the_next_study_and_ends_with_the_worst(
    stub, study, tmp_path, monkeypatch, capsys
):
    use_notebooks(monkeypatch, tmp_path, _01_one="1", _02_two="2")
    assert cli.main(["run", "studies/none", "studies/creek", "--notebooks", "01"]) == 2
    said = capsys.readouterr()
    assert "studies/none: there is no such study" in said.err
    assert "open studies/creek/reports/index.html" in said.out


def test_what_moved_is_told(capsys):
    from hydrokit.runner.results import Move
    from hydrokit.runner.run import RunOutcome

    outcome = RunOutcome(
        Path("s"),
        Path("s/reports"),
        ("a",),
        findings=(),
        moves=(Move("year.energy_kwh", 100.0, 110.0),),
        compared=True,
        accepted=False,
    )
    endings.tell_outcome("s", outcome)
    assert capsys.readouterr().out.splitlines() == [
        "s: 1 notebook run; nothing to remark",
        "1 headline number moved against the accepted results:",
        "  year.energy_kwh: 100 -> 110 (+10.00%)",
        "--accept makes these the accepted results",
        "open s/reports/index.html",
    ]


# ---------------------------------------------------------------- verbs of other names


@pytest.mark.parametrize("old, new", [("trust", "verify"), ("screen", "sift")])
def test_an_old_verb_says_the_new_one(old, new, capsys):
    assert cli.main([old, "creeks.csv"]) == 2
    said = capsys.readouterr()
    assert (
        said.out == ""
        and said.err
        == f"The verb '{old}' is now called '{new}': hydrokit {new} --help says what it takes.\n"
    )
    assert old not in [verb.name for verb in cli.VERBS] and new in [verb.name for verb in cli.VERBS]


# ---------------------------------------------------------------- errors


@pytest.mark.parametrize(
    "error, code, said",
    [
        (InputError(Mistake("site.toml", "[a]", "no unit")), 2, "site.toml: [a]: no unit"),
        (UnitsError("flow has no units"), 2, "flow has no units"),
        (RunError("02 two stopped"), 1, "02 two stopped"),
        (KeyboardInterrupt(), 1, "Stopped; the last good reports are as they were."),
        (
            ZeroDivisionError("by zero"),
            1,
            "hydrokit met an error it did not expect (ZeroDivisionError: by zero); --debug shows where.",
        ),
    ],
)
def test_errors_are_sentences_with_their_exit_code(stub, capsys, error, code, said):
    def fail(path):
        raise error

    stub.check_study = fail
    assert endings.told_in_one_line(error) == code
    capsys.readouterr()
    if not isinstance(error, InputError):
        assert cli.main(["check", "x"]) == code
        assert capsys.readouterr().err == said + "\n"
        with pytest.raises(type(error)):
            cli.main(["check", "x", "--debug"])


def test_a_wrong_word_is_bad_input(capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(["rum"])
    assert stop.value.code == 2
    assert "invalid choice" in capsys.readouterr().err


def test_no_verb_at_all_lists_the_verbs(capsys):
    assert cli.main([]) == 2
    told = capsys.readouterr()
    assert not told.err and all(f"\n    {each.name} " in told.out for each in cli.VERBS)


def test_a_paper_without_a_print_is_bad_input(stub, study, capsys):
    assert cli.main(["run", "studies/creek", "--paper", "Letter"]) == 2
    assert "write --pdf --paper Letter" in capsys.readouterr().err


def test_pdf_without_a_browser_is_said_before_anything_runs(
    stub, study, tmp_path, monkeypatch, capsys
):
    use_notebooks(monkeypatch, tmp_path, _01_one="1")
    monkeypatch.setattr(pdf, "NAMES", ())
    monkeypatch.setattr(pdf, "PLACES", ())
    assert cli.main(["run", "studies/creek", "--pdf"]) == 2
    told = capsys.readouterr().err
    assert "--pdf: this needs Chromium, Chrome or Edge, and none of them was found" in told
    assert told.count("\n") == 1
    assert not (study / "reports").exists()


# ---------------------------------------------------------------- in a process of its own


def command(*words):
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return [sys.executable, "-m", "hydrokit.cli", *words], environment


def test_the_command_line_is_light_until_a_verb_needs_more(tmp_path):
    code = (
        "import sys; from hydrokit import cli\n"
        "try: cli.main(['--help'])\nexcept SystemExit: pass\n"
        "heavy = {'numpy', 'pandas', 'matplotlib', 'IPython', 'nbformat', 'papermill', 'jupyter_client', 'jupyterlab'}\n"
        "sys.stderr.write(str(sorted(heavy & set(sys.modules))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=command()[1], capture_output=True, text=True, timeout=60
    )
    assert done.stderr == "[]" and "new" in done.stdout and "check" in done.stdout


def test_jupyter_builds_no_grammar_of_web_addresses_at_its_start():
    """It took two seconds of every verb that makes a page."""
    assert "jsonschema" in sys.modules and "rfc3987_syntax" not in sys.modules


@pytest.mark.parametrize(
    "wish",
    ["SIGINT", *(pytest.param(each, marks=pytest.mark.slow) for each in ("SIGTERM", "SIGHUP"))],
)
def test_an_interrupted_run_says_so_and_leaves_the_old_reports(study, tmp_path, wish):
    """Ctrl-C, or a session that closes, while a notebook works: one sentence, no traceback, nothing left over."""
    if sys.platform == "win32":
        pytest.skip("Ctrl-C cannot be sent to another process here")
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1", _02_two="import time\ntime.sleep(30)")
    (study / "reports").mkdir()
    (study / "reports" / "index.html").write_text("old", encoding="utf-8")
    driver = (
        "import signal, sys, types, toy, pathlib\n"
        "from hydrokit import cli\nfrom hydrokit.site import folders\nfrom hydrokit.runner import kernel\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler); signal.signal(signal.SIGHUP, signal.SIG_DFL)  # a job in the background is born deaf to them\n"
        "kernel.EXTENSIONS = toy.EXTENSIONS\n"
        "stub = types.ModuleType('hydrokit.study.opening'); stub.open_study = toy.open_toy\n"
        "sys.modules['hydrokit.study.opening'] = stub\n"
        f"folders.notebook_folder = lambda: pathlib.Path({str(nbs)!r})\n"
        f"sys.exit(cli.main(['run', {str(study)!r}]))\n"
    )
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(ROOT), str(Path(__file__).parent)]),
    }
    process = subprocess.Popen(
        [sys.executable, "-c", driver],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline().startswith("01 one")
    time.sleep(0.5)
    process.send_signal(getattr(signal, wish))
    out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (1, "Stopped; the last good reports are as they were.\n")
    assert (study / "reports" / "index.html").read_text(encoding="utf-8") == "old"
    assert sorted(each.name for each in study.iterdir()) == [
        ".hydrokit-lock",
        "reports",
        "site.toml",
    ]


@pytest.mark.slow
def test_lab_serves_this_machine_only_and_wants_its_token(tmp_path):
    words, environment = command("lab", "--no-browser", "--port", "18888")
    environment.pop("JUPYTER_TOKEN", None)
    process = subprocess.Popen(
        words,
        env=environment,
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    patience = threading.Timer(60, process.kill)
    patience.start()
    try:
        said = ""
        while not (found := re.search(r"http://127\.0\.0\.1:(\d+)/lab\S*\?token=(\w+)", said)):
            line = process.stdout.readline()
            assert line, said
            said += line
        port, token = found.groups()
        for _ in range(100):  # the address is told a moment before it is served
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", int(port))) == 0:
                    break
            time.sleep(0.1)
        with urllib.request.urlopen(
            f"http://127.0.0.1:{port}/api/contents?token={token}", timeout=30
        ) as answer:
            assert "content" in json.load(answer)
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(f"http://127.0.0.1:{port}/api/contents", timeout=30)
        assert len(token) >= 32
    finally:
        patience.cancel()
        process.terminate()
        process.communicate(timeout=30)


def test_lab_points_at_the_study_and_opens_the_notebooks(study, monkeypatch, capsys):
    pytest.importorskip("jupyterlab")
    from jupyterlab.labapp import LabApp

    seen = []
    monkeypatch.setattr(cli, "lab_home", lambda: study.parents[1])
    monkeypatch.setattr(
        LabApp, "launch_instance", classmethod(lambda cls, options: seen.extend(options))
    )
    assert cli.main(["lab", "studies/creek", "--no-browser"]) == 0
    assert "set to studies/creek" in capsys.readouterr().out
    assert "--StudyContents.study=studies/creek" in seen
    assert "--ip=127.0.0.1" in seen and f"--ServerApp.root_dir={study.parents[1]}" in seen


def test_an_installed_package_lends_its_notebooks_to_the_working_folder(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    kept = toy.notebooks(tmp_path / "package", _01_one="1")
    monkeypatch.setattr(folders, "checkout", lambda: None)
    monkeypatch.setattr(folders, "notebook_folder", lambda: kept)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert home.lab_home() == tmp_path
    assert (tmp_path / "notebooks" / "01_one.ipynb").is_file()
    assert "yours to change" in capsys.readouterr().out
    (tmp_path / "notebooks" / "01_one.ipynb").write_text("mine", encoding="utf-8")
    home.lab_home()
    assert (tmp_path / "notebooks" / "01_one.ipynb").read_text(encoding="utf-8") == "mine"


def test_found_browsers_are_tried_in_order(monkeypatch, tmp_path):
    monkeypatch.setattr(
        pdf.shutil,
        "which",
        lambda name: f"/bin/{name}" if name in ("google-chrome", "msedge") else None,
    )
    assert pdf.find_browser() == "/bin/google-chrome"
    here = tmp_path / "chrome.exe"
    here.write_text("", encoding="utf-8")
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.setattr(pdf, "PLACES", (str(here),))
    assert pdf.find_browser() == str(here)


def test_a_program_in_the_working_folder_is_not_the_browser(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        pdf.shutil,
        "which",
        lambda name: (
            str(tmp_path / name)
            if name == "chromium"
            else "/bin/chrome"
            if name == "chrome"
            else None
        ),
    )
    assert pdf.find_browser() == "/bin/chrome"


def test_findings_count_by_weight():
    findings = [
        Finding("note", "a", "b"),
        Finding("caution", "a", "b"),
        Finding("caution", "a", "b"),
    ]
    assert terminal.tally(findings) == "2 cautions, 1 note"
