"""Runs at once, killed, recovered."""

import errno
import os
import shutil
import subprocess
import sys
import time

import pytest
import toy
from test_run import HERE, go, leftovers, old_reports, start

from hydrokit.errors import RunError
from hydrokit.site import folders
from hydrokit.site import whole as build_whole


@pytest.fixture(autouse=True)
def quick_start(monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)


@pytest.fixture
def study(tmp_path):
    return toy.study(tmp_path / "studies" / "creek")


# ---------------------------------------------------------------- two at once, killed, recovered


@pytest.mark.slow
def test_two_runs_of_one_study_at_once(study, tmp_path):
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1")
    first = start(study, nbs)
    while not leftovers(study):
        assert first.poll() is None, first.stderr.read()
        time.sleep(0.02)
    with pytest.raises(RunError, match="Another run of creek is going on"):
        go(study, nbs)
    out, err = first.communicate(timeout=60)
    assert first.returncode == 0 and out.endswith("done\n") and err == ""


def kill_when(study, nbs, moment):
    """Start a run, kill it without warning when ``moment(lines so far)`` is true; whether it was in time."""
    process = start(study, nbs)
    try:
        seen = ""
        while process.poll() is None and not moment(seen):
            seen += process.stdout.readline() if moment.__name__ == "after_a_notebook" else ""
            time.sleep(0.01)
        alive = process.poll() is None
        process.kill()
    finally:
        process.communicate(timeout=60)
    return alive


def while_building(study):
    def building(_):
        return bool(leftovers(study))

    return building


def after_a_notebook(seen):
    return "01 one" in seen


@pytest.mark.slow
@pytest.mark.parametrize("when", ["building", "running"])
def test_a_killed_run_leaves_the_last_good_reports(study, tmp_path, when):
    before = old_reports(study)
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1", _02_two="import time\ntime.sleep(30)")
    assert kill_when(study, nbs, while_building(study) if when == "building" else after_a_notebook)
    assert toy.all_bytes(study / "reports") == before
    assert leftovers(study) != []
    outcome = go(study, nbs, notebooks=["01"])
    assert leftovers(study) == []
    assert "Toy creek" in outcome.index.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_kernel_stopped_at_once_says_nothing(tmp_path):
    """Bad input ends a run while its kernel is still starting; no thread of it may complain."""
    code = "import toy\nfrom hydrokit.runner.kernel import Kernel\nfor _ in range(8):\n    with Kernel(toy.Path('.')): pass"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), str(HERE.parent)])}
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_threads_of_a_run_never_import_one_library_at_once(study, tmp_path):
    """Of two that do, one may meet it half imported, and the run ends in an error of that library's."""
    code = """
import sys, toy
from hydrokit.runner import run
def beside(work):
    print({"hydrokit.report.html", "hydrokit.report.story_figure", "nbconvert.exporters"} - set(sys.modules))
    sys.exit()
run._in_background = beside
run.run_study(sys.argv[1], folder=toy.Path(sys.argv[2]), open_study=toy.open_toy)
"""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), str(HERE.parent)])}
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1")
    command = [sys.executable, "-c", code, str(study), str(nbs)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout, done.stderr) == (0, "set()\n", "")


@pytest.mark.parametrize("exchange", [True, False])
def test_swapping_in_with_and_without_the_systems_exchange(study, monkeypatch, exchange):
    if not exchange:
        monkeypatch.setattr(folders, "_exchange", lambda one, other: False)
    old_reports(study)
    with folders.building(study) as built:
        (built / "index.html").write_text("new", encoding="utf-8")
        folders.swap_in(built, study)
    # what hydrokit did not write is there still
    assert toy.all_bytes(study / "reports") == {
        "index.html": b"new",
        "results.toml": b"the old results.toml\n",
    }
    assert leftovers(study) == []


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="the exchange in one step is Linux's"
)
def test_linux_exchanges_in_one_step(study):
    old_reports(study)
    with folders.building(study) as built:
        assert folders._exchange(built, study / "reports")
        assert (built / "01_one.html").is_file() and not list((study / "reports").iterdir())


def test_a_stop_between_the_two_renames_is_mended(study):
    before = old_reports(study)
    (study / "reports").rename(study / ".reports-old-1")
    shutil.copytree(study / ".reports-old-1", study / ".reports-building-1")
    (study / ".reports-building-1" / "index.html").write_text("half", encoding="utf-8")
    (study / ".reports-building-results.toml-1").write_text("half", encoding="utf-8")
    folders.recover(study)
    assert toy.all_bytes(study / "reports") == before
    assert leftovers(study) == []


def test_a_failed_second_rename_puts_the_old_set_back(study, monkeypatch):
    before = old_reports(study)
    monkeypatch.setattr(folders, "_exchange", lambda one, other: False)
    with folders.building(study) as built, pytest.raises(OSError):
        built.rmdir()  # so that the second rename cannot succeed
        folders.swap_in(built, study)
    assert toy.all_bytes(study / "reports") == before


def test_writing_whole_leaves_the_old_file_when_it_fails(tmp_path, monkeypatch):
    path = tmp_path / "results.toml"
    build_whole.write_whole(path, "old\n")
    monkeypatch.setattr(
        os, "fsync", lambda handle: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full"))
    )
    with pytest.raises(OSError):
        build_whole.write_whole(path, "new\n")
    assert path.read_bytes() == b"old\n" and [each.name for each in tmp_path.iterdir()] == [
        "results.toml"
    ]
