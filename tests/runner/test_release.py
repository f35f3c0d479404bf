"""What a person gets who installs hydrokit: notebooks lent and kept, demos, checks; and all of it from a wheel."""

import json
import os
import re
import subprocess
import sys
import sysconfig
import tomllib
import urllib.request
import venv
import zipfile
from pathlib import Path

import pytest
import toy

import hydrokit
from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.files import text_hash
from hydrokit.runner import lending, run
from hydrokit.site import folders
from hydrokit.site.moved_keys import keys_of, told_changes, told_files
from hydrokit.study.opening import check_study, open_study

ROOT = Path(__file__).resolve().parents[2]


# ---------------------------------------------------------------- notebooks lent


@pytest.fixture
def installed(tmp_path, monkeypatch):
    """hydrokit as if it were installed: three notebooks and a lesson, and a home that remembers."""
    kept = toy.notebooks(
        tmp_path / "package", _01_one="print('first, as it came')", _02_two="2", _03_three="3"
    )
    toy.notebook(kept / "start.ipynb")
    (kept / "lessons").mkdir()
    toy.notebook(kept / "lessons" / "01_measure.ipynb")
    monkeypatch.setattr(folders, "checkout", lambda: None)
    monkeypatch.setattr(folders, "notebook_folder", lambda: kept)
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "state"))
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.chdir(home)
    return kept


def changed(path, text):
    path.write_text(path.read_text(encoding="utf-8").replace("as it came", text), encoding="utf-8")


@pytest.mark.slow
def test_run_uses_the_notebooks_that_the_person_changed(installed, tmp_path):
    lending.lend(Path.cwd(), lambda line: None)
    assert Path("notebooks/lessons/01_measure.ipynb").is_file()
    study = toy.study(tmp_path / "home" / "studies" / "creek")
    changed(Path("notebooks/01_one.ipynb"), "as I like it")
    toy.notebook(Path("notebooks/12_mine.ipynb"), toy.code("print('a question of my own')"))
    said = []
    reports = run.run_study(study, open_study=toy.open_toy, progress=said.append).reports
    assert "as I like it" in (reports / "01_one.html").read_text(
        encoding="utf-8"
    ) and "of my own" in (reports / "12_mine.html").read_text(encoding="utf-8")
    assert sorted(each.name for each in reports.glob("[01]*.html")) == [
        "01_one.html",
        "02_two.html",
        "03_three.html",
        "12_mine.html",
    ]
    assert [line.split(":")[0] for line in said if "your own" in line] == ["01 one", "12 mine"]


@pytest.mark.slow
def test_notebooks_that_came_with_a_download_are_never_run(installed, tmp_path):
    """A folder called notebooks beside the study, with or without a memory forged into it."""
    study = toy.study(tmp_path / "home" / "zip" / "studies" / "creek")
    for home in (study.parents[1], study.parent, Path.cwd()):
        (home / "notebooks").mkdir()
        toy.notebook(home / "notebooks" / "01_one.ipynb", toy.code("raise SystemExit('run')"))
        (home / "notebooks" / ".hydrokit.json").write_text(
            json.dumps({"files": {}}), encoding="utf-8"
        )
    said = []
    lending.lend(Path.cwd(), said.append)
    assert "was not made by hydrokit" in said[0]
    reports = run.run_study(study, open_study=toy.open_toy).reports
    assert "first, as it came" in (reports / "01_one.html").read_text(encoding="utf-8")


def test_after_an_upgrade_the_new_notebooks_are_offered(installed, monkeypatch):
    lending.lend(Path.cwd(), lambda line: None)
    changed(Path("notebooks/01_one.ipynb"), "as I like it")
    Path("notebooks/03_three.ipynb").unlink()
    for name in ("01_one", "02_two", "03_three"):
        toy.notebook(installed / f"{name}.ipynb", toy.code("'of the new version'"))
    toy.notebook(installed / "04_four.ipynb", toy.code("'of the new version'"))
    monkeypatch.setattr(hydrokit, "__version__", "9.9")
    said = []
    lending.lend(Path.cwd(), said.append)
    text = {
        each.relative_to("notebooks").as_posix(): each.read_text(encoding="utf-8")
        for each in Path("notebooks").rglob("*.ipynb")
    }
    assert (
        "as I like it" in text["01_one.ipynb"]
        and "of the new version" in text["new in 9.9/01_one.ipynb"]
    )
    assert (
        "of the new version" in text["02_two.ipynb"]
        and "of the new version" in text["04_four.ipynb"]
    )
    assert "03_three.ipynb" not in text and "new in 9.9/02_two.ipynb" not in text
    assert (
        "are those of hydrokit 9.9 now" in said[0]
        and "beside 01_one.ipynb, which you changed" in said[1]
    )
    again = []
    lending.lend(Path.cwd(), again.append)
    assert again == []


def test_a_home_that_is_shut_is_told_and_nothing_breaks(installed, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", "/dev/null/x")
    monkeypatch.setenv("HOME", "/dev/null/x")
    said = []
    lending.lend(Path.cwd(), said.append)
    assert "run will not know of them" in said[1] and Path("notebooks/01_one.ipynb").is_file()


# ---------------------------------------------------------------- demos


def test_every_demo_can_be_fetched_and_stands_by_itself(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "--demo", "list"]) == 0
    names = [line.split(":")[0] for line in capsys.readouterr().out.splitlines()]
    assert {"alder-burn", "hazel-beck", "saltfern-creek"} == set(names)
    for name in ("alder-burn", "hazel-beck", "saltfern-creek"):
        assert cli.main(["new", "--demo", name]) == 0
        assert check_study(tmp_path / "studies" / name)
        assert ".." not in (tmp_path / "studies" / name / "site.toml").read_text(encoding="utf-8")
        assert not list((tmp_path / "studies" / name).glob("*.py"))
        # What was accepted stands for this copy: no input has changed, no file is gone.
        made = tmp_path / "studies" / name
        accepted = tomllib.loads((made / "results.toml").read_text("utf-8"))["run"]
        keys = keys_of(tomllib.loads((made / "site.toml").read_text("utf-8")))
        assert told_changes(accepted["keys"], keys) == []
        read = open_study(made).inputs() | {
            each: text_hash(made / each) for each in accepted["inputs"]
        }
        assert told_files(accepted["inputs"], read, keys) == []
    assert [each.name for each in tmp_path.iterdir()] == ["studies"]
    capsys.readouterr()
    assert (
        cli.main(["new", "--demo", "alder-burn"]) == 2
        and "is there already" in capsys.readouterr().err
    )
    assert (
        cli.main(["new", "--demo", "../../etc"]) == 2
        and "there is no demo" in capsys.readouterr().err
    )
    assert cli.main(["new"]) == 2 and "hydrokit new studies/mine" in capsys.readouterr().err


def test_a_demo_that_is_not_here_is_offered(tmp_path, monkeypatch):
    monkeypatch.setattr(folders, "checkout", lambda: None)
    monkeypatch.setattr(folders, "demo_folder", lambda: ROOT / "studies")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(
        InputError, match="fetch that demo with: hydrokit new studies/alder-burn --demo alder-burn"
    ):
        folders.find_study("studies/alder-burn")


# ---------------------------------------------------------------- the package


def test_what_a_run_needs_and_what_only_tests_need():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = {re.match(r"[\w-]+", each)[0]: each for each in project["dependencies"]}
    assert not {"nbval", "pytest", "coverage"} & set(needed) and needed["nbconvert"].startswith(
        "nbconvert>=7.16.5"
    )
    assert {"nbval", "pytest", "coverage"} <= {
        re.match(r"[\w-]+", each)[0] for each in project["optional-dependencies"]["test"]
    }
    assert hydrokit.__version__ >= "0.2.0" and f"## {hydrokit.__version__}" in (
        ROOT / "CHANGELOG.md"
    ).read_text(encoding="utf-8")


def built_wheel(folder):
    """The wheel of this checkout, or the reason why it cannot be built here."""
    copy = folder / "source"
    done = subprocess.run(["git", "-C", str(ROOT), "ls-files", "-z"], capture_output=True)
    names = (
        done.stdout.decode().split("\0")
        if done.returncode == 0
        else [
            each.relative_to(ROOT).as_posix()
            for each in ROOT.rglob("*")
            if ".venv" not in each.parts and ".git" not in each.parts
        ]
    )
    for name in names:
        if name and (ROOT / name).is_file():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            (copy / name).write_bytes((ROOT / name).read_bytes())
    out = folder / "dist"
    said = ""
    for command in (
        ["uv", "build", "--wheel", "--out-dir", str(out), str(copy)],
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "--wheel-dir", str(out), str(copy)],
    ):
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=300)
        except FileNotFoundError:
            continue
        if done.returncode == 0:
            return next(out.glob("*.whl"))
        said = done.stderr
    if (
        re.search(
            r"network|dns|resolve|connect|No module named pip|fetch|retr", said, re.IGNORECASE
        )
        or not said
    ):
        pytest.skip(f"no wheel can be built here without the network: {said[-200:]}")
    raise AssertionError(said)


@pytest.fixture(scope="module")
def stranger(tmp_path_factory):
    """A fresh environment with the wheel in it, which borrows the libraries of this one; and an empty folder."""
    folder = tmp_path_factory.mktemp("stranger")
    wheel = built_wheel(folder)
    venv.create(folder / "env", with_pip=False)
    inside = Path(
        sysconfig.get_path(
            "purelib", vars={"base": str(folder / "env"), "platbase": str(folder / "env")}
        )
    )
    with zipfile.ZipFile(wheel) as packed:
        assert not [
            name for name in packed.namelist() if "reports/" in name or name.endswith(".pyc")
        ]
        packed.extractall(inside)
    (inside / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    empty = folder / "empty"
    empty.mkdir()
    return folder / "env", empty


def command(stranger, *words, **options):
    env, empty = stranger
    python = env / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PYTHON", "HYDROKIT"))
    }
    environment |= {
        "JUPYTER_PATH": str(Path(sys.prefix) / "share" / "jupyter"),
        "HOME": str(empty.parent / "home"),
        "XDG_STATE_HOME": str(empty.parent / "home" / "state"),
    }
    return {
        "args": [str(python), "-P", "-m", "hydrokit", *words],
        "cwd": empty,
        "env": environment,
        **options,
    }


def do(stranger, *words):
    done = subprocess.run(**command(stranger, *words), capture_output=True, text=True, timeout=900)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.slow
def test_everything_works_from_a_wheel_in_an_empty_folder(stranger):
    env, empty = stranger
    assert do(stranger, "--version").strip() == f"hydrokit {hydrokit.__version__}"
    do(stranger, "new", "studies/mine")
    assert "sound" in do(stranger, "check", "studies/mine")
    said = do(stranger, "run", "studies/mine")
    assert (
        "open studies/mine/reports/index.html" in said
        and (empty / "studies/mine/reports/index.html").is_file()
    )
    assert "alder-burn" in do(stranger, "new", "--demo", "list")
    do(stranger, "new", "--demo", "hazel-beck")
    assert "sound" in do(stranger, "check", "studies/hazel-beck")
    do(stranger, "parts", "studies/mine")
    verified = do(stranger, "verify", "studies/mine")
    assert re.search(r"all \d{3,} checks agree", verified)
    place = subprocess.run(
        **command(stranger)
        | {
            "args": [
                command(stranger)["args"][0],
                "-P",
                "-c",
                "import hydrokit; print(hydrokit.__file__)",
            ]
        },
        capture_output=True,
        text=True,
    ).stdout
    assert str(env) in place


@pytest.mark.slow
def test_lab_of_a_wheel_lends_notebooks_and_lessons_and_run_uses_those_changed(stranger):
    import socket
    import time

    pytest.importorskip("jupyterlab")
    env, empty = stranger
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    ready = command(stranger, "lab", "--no-browser", f"--port={port}")
    ready["env"] |= {"JUPYTER_TOKEN": "t"}
    with open(empty.parent / "lab.log", "w") as log:
        server = subprocess.Popen(**ready, stdout=log, stderr=log)
    try:
        for _ in range(240):
            try:
                with urllib.request.urlopen(
                    f"http://127.0.0.1:{port}/api/contents/notebooks/lessons?token=t", timeout=5
                ) as answer:
                    assert len(json.load(answer)["content"]) >= 6
                break
            except OSError:
                assert server.poll() is None, (empty.parent / "lab.log").read_text()
                time.sleep(0.5)
        else:
            raise AssertionError((empty.parent / "lab.log").read_text())
    finally:
        server.terminate()
        server.communicate(timeout=30)
    mine = next((empty / "notebooks").glob("02_*.ipynb"))
    book = json.loads(mine.read_text(encoding="utf-8"))
    book["cells"].append(
        {
            "cell_type": "markdown",
            "id": "mine",
            "metadata": {},
            "source": ["## My own remark\n", "\n", "It rained."],
        }
    )
    mine.write_text(json.dumps(book), encoding="utf-8")
    if not (empty / "studies" / "mine").is_dir():
        do(stranger, "new", "studies/mine")
    assert "your own, from" in do(stranger, "run", "--notebooks", "02", "studies/mine")
    assert "It rained." in (empty / "studies" / "mine" / "reports" / f"{mine.stem}.html").read_text(
        encoding="utf-8"
    )


def test_no_demo_of_another_name():
    with pytest.raises(InputError, match="there is no demo 'alder-bum'; did you mean 'alder-burn'"):
        from hydrokit.site.new_study import write_demo

        write_demo("x", "alder-bum")
