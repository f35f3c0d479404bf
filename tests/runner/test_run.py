"""Runs: whole sets or none, known parameters only, and a sentence for whatever goes wrong."""

import errno
import os
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import pytest
import toy

from hydrokit.errors import InputError, RunError
from hydrokit.runner import run
from hydrokit.runner.results import moved, to_toml
from hydrokit.site import folders

HERE = Path(__file__).parents[1]
DRIVER = """
import sys
import toy
from hydrokit.runner import kernel
from hydrokit.runner.run import run_study
kernel.EXTENSIONS = toy.EXTENSIONS
run_study(sys.argv[1], folder=toy.Path(sys.argv[2]), open_study=toy.open_toy, progress=lambda line: print(line, flush=True))
print("done", flush=True)
"""


@pytest.fixture(autouse=True)
def quick_start(monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)


@pytest.fixture
def study(tmp_path):
    return toy.study(tmp_path / "studies" / "creek")


def go(study, folder, **options):
    return run.run_study(study, folder=folder, **{"open_study": toy.open_toy, **options})


def start(study, folder):
    """The same run in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), str(HERE.parent)])}
    command = [sys.executable, "-c", DRIVER, str(study), str(folder)]
    return subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def old_reports(study):
    """Reports of an earlier day, and their bytes."""
    reports = study / "reports"
    reports.mkdir()
    for name in ("index.html", "01_one.html", "results.toml"):
        (reports / name).write_text(f"the old {name}\n", encoding="utf-8")
    return toy.all_bytes(reports)


def leftovers(study):
    return [each.name for each in study.iterdir() if each.name.startswith(".reports")]


# ---------------------------------------------------------------- a whole run


def test_a_run_leaves_the_whole_set_and_says_what_it_did(study, tmp_path):
    nbs = toy.notebooks(
        tmp_path / "nb",
        _01_one=toy.PICTURE,
        _02_two="print(study, display)\nx = 1",
        _03_three="assert 'x' not in dir()",
    )
    lines = []
    outcome = go(study, nbs, progress=lines.append, accept=True)
    assert sorted(each.name for each in outcome.reports.iterdir()) == [
        ".hydrokit.json",
        "01_one.html",
        "02_two.html",
        "03_three.html",
        "index.html",
        "results.toml",
    ]
    assert outcome.reports == study / "reports" and outcome.index.is_file()
    assert [line.split()[0] for line in lines] == ["01", "02", "03"]
    assert all(line.endswith(" s") for line in lines)
    assert leftovers(study) == []
    results = tomllib.loads((outcome.reports / "results.toml").read_text(encoding="utf-8"))
    assert results["year"] == {"energy_kwh": 12345.68, "months": [1.5, 2.5]}
    assert results["run"]["inputs"] == toy.open_toy(study).inputs()
    assert results["run"]["hydrokit"] and results["run"]["time"].endswith("UTC")
    assert (study / "results.toml").read_bytes() == (outcome.reports / "results.toml").read_bytes()
    assert outcome.accepted and not outcome.compared


@pytest.mark.slow
def test_the_study_is_named_without_this_machines_folders(study, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    nbs = toy.notebooks(
        tmp_path / "nb",
        _01_one="import os\nprint(study, repr(display), os.getcwd() == os.path.realpath(os.getcwd()))",
    )
    outcome = go(study, nbs)
    page = (outcome.reports / "01_one.html").read_text(encoding="utf-8")
    assert "studies/creek '' True" in page
    assert str(tmp_path) not in page + outcome.index.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_second_run_says_what_moved_and_accepting_is_a_choice(study, tmp_path):
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1")
    accepted = b"[run]\ntime = 'then'\n\n[year]\nenergy_kwh = 12000.0\nmonths = [1.5, 2.5]\n[site]\nname = 'Toy creek'\njets = 4\n"
    (study / "results.toml").write_bytes(accepted)
    outcome = go(study, nbs)
    assert [str(move) for move in outcome.moves] == ["year.energy_kwh: 12,000 -> 12,346 (+2.88%)"]
    assert outcome.compared and not outcome.accepted
    assert (study / "results.toml").read_bytes() == accepted


@pytest.mark.slow
def test_chosen_notebooks_only(study, tmp_path):
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1", _02_two="2", _03_three="3")
    assert go(study, nbs, notebooks=["3", "01_one"]).notebooks == ("01_one", "03_three")
    with pytest.raises(
        InputError, match="there is no notebook '9'; there are: 01_one, 02_two, 03_three"
    ):
        go(study, nbs, notebooks=["9"])


def test_no_study_is_bad_input(tmp_path):
    toy.study(tmp_path / "creek")
    with pytest.raises(InputError, match="did you mean 'creek'"):
        folders.find_study(tmp_path / "crek")
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="no site.toml"):
        folders.find_study(tmp_path / "empty")


# ---------------------------------------------------------------- what goes wrong

FAILURES = {
    "a cell that raises": (
        "raise KeyError('flow')",
        RunError,
        r"^01 one stopped in code cell 2: KeyError: 'flow'$",
    ),
    "a bare error": ("assert False", RunError, "^01 one stopped in code cell 2: AssertionError$"),
    "our own sentence": (
        "from hydrokit.errors import UnitsError\nraise UnitsError('flow has no units')",
        RunError,
        "^01 one stopped in code cell 2: flow has no units$",
    ),
    "bad input": (
        "from hydrokit.errors import InputError, Mistake\n"
        "raise InputError([Mistake('site.toml', '[pipe] length', 'no unit'), Mistake('flow.csv', 'line 3', 'no date')])",
        InputError,
        "^site.toml: \\[pipe\\] length: no unit\nflow.csv: line 3: no date$",
    ),
    "code that is no code": (
        "x = = 1",
        RunError,
        "^01 one stopped in code cell 2: SyntaxError: invalid syntax",
    ),
}


@pytest.fixture(scope="module")
def kernel(tmp_path_factory):
    """One kernel for the tests that need no whole run."""
    from hydrokit.runner.kernel import Kernel

    with Kernel(tmp_path_factory.mktemp("home")) as kernel:
        yield kernel


def alone(kernel, tmp_path, source):
    """One notebook of one cell, in the kernel as a run would use it."""
    from hydrokit.runner import notebooks

    parameters = {"study": "creek", "display": ""}
    path = toy.notebook(tmp_path / "01_one.ipynb", toy.code(source))
    kernel.make_fresh()
    return notebooks.run_notebook(
        "01 one", notebooks.read_notebook(path, parameters), parameters, kernel
    )


@pytest.mark.parametrize("source, kind, said", FAILURES.values(), ids=FAILURES)
def test_a_failing_cell_is_told_in_a_sentence(kernel, tmp_path, source, kind, said):
    with pytest.raises(kind, match=said):
        alone(kernel, tmp_path, source)


def test_a_notebook_leaves_nothing_behind_for_the_next(kernel, tmp_path):
    spoil = """
import os, warnings, sys, matplotlib, matplotlib.pyplot as plt
plt.figure(); matplotlib.rcParams["lines.linewidth"] = 99
os.chdir("/"); os.environ["LEFT"] = "1"; os.environ.pop("PATH")
warnings.simplefilter("error"); sys.path.insert(0, "/nowhere"); left = 1
"""
    look = """
import os, warnings, sys, matplotlib, matplotlib.pyplot as plt
assert "left" not in globals() and plt.get_fignums() == [] and matplotlib.rcParams["lines.linewidth"] != 99
assert os.getcwd() != "/" and "LEFT" not in os.environ and "PATH" in os.environ
assert "/nowhere" not in sys.path and not any(each[0] == "error" and each[2] is Warning for each in warnings.filters)
assert get_ipython().execution_count == 4, get_ipython().execution_count
"""
    alone(kernel, tmp_path, spoil)
    alone(kernel, tmp_path, look)


@pytest.mark.slow
@pytest.mark.parametrize(
    "source, said",
    [
        ("raise KeyError('flow')", "02 two stopped in code cell 2"),
        ("import os\nos._exit(1)", "02 two: the kernel died in code cell 2"),
    ],
)
def test_a_failed_run_leaves_the_old_reports(study, tmp_path, source, said):
    before = old_reports(study)
    with pytest.raises(RunError, match=said):
        go(study, toy.notebooks(tmp_path / "nb", _01_one="1", _02_two=source))
    assert toy.all_bytes(study / "reports") == before
    assert leftovers(study) == []


def test_unknown_parameters_are_refused(study, tmp_path):
    nbs = tmp_path / "nb"
    nbs.mkdir()
    path = toy.notebook(nbs / "01_one.ipynb")
    path.write_text(
        path.read_text(encoding="utf-8").replace("display = ", "displai = "), encoding="utf-8"
    )
    before = old_reports(study)
    with pytest.raises(
        RunError,
        match="01 one has no parameter 'display'; did you mean 'displai'.; it takes: study, displai",
    ):
        go(study, nbs)
    assert toy.all_bytes(study / "reports") == before


@pytest.mark.parametrize(
    "cell", ["study = 'a'\ndisplay = study", "study: str = 'a'", "for x in y: pass", "study = ("]
)
def test_the_parameters_are_plain_literals(study, tmp_path, cell, monkeypatch):
    nbs = tmp_path / "nb"
    nbs.mkdir()
    monkeypatch.setattr(toy, "PARAMETERS", cell)
    toy.notebook(nbs / "01_one.ipynb")
    with pytest.raises(RunError, match="01 one: the cell of parameters may hold only"):
        go(study, nbs)


def test_mistakes_of_the_site_file_stop_a_run_before_any_notebook(study, tmp_path):
    from hydrokit.errors import Mistake

    def broken(folder):
        raise InputError(Mistake("site.toml", "[site]", "no name"))

    lines = []
    with pytest.raises(InputError, match="no name"):
        go(
            study,
            toy.notebooks(tmp_path / "nb", _01_one="1"),
            open_study=broken,
            progress=lines.append,
        )
    assert lines == [] and leftovers(study) == [] and not (study / "reports").exists()


def test_a_broken_accepted_file_is_bad_input(study, tmp_path):
    (study / "results.toml").write_text("year = [", encoding="utf-8")
    with pytest.raises(InputError, match="results.toml"):
        go(study, toy.notebooks(tmp_path / "nb", _01_one="1"))


@pytest.mark.parametrize(
    "number, said",
    [
        (errno.ENOSPC, "The disk is full"),
        (errno.EROFS, "may not be written"),
        (errno.EACCES, "may not be written"),
        (errno.EIO, "Input/output error"),
    ],
)
def test_what_the_system_refuses_is_told_in_a_sentence(tmp_path, number, said):
    assert said in folders.in_one_sentence(OSError(number, os.strerror(number), "a file"), tmp_path)


@pytest.mark.slow
def test_a_disk_that_refuses_leaves_the_old_reports(study, tmp_path, monkeypatch):
    before = old_reports(study)

    def refuse(path, text):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))

    monkeypatch.setattr(run, "_write", refuse)
    with pytest.raises(RunError, match="01_one.html may not be written"):
        go(study, toy.notebooks(tmp_path / "nb", _01_one="1"))
    assert toy.all_bytes(study / "reports") == before
    assert leftovers(study) == []


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="folders have no such rights on this system")
def test_a_read_only_folder_is_told_in_a_sentence():
    here = Path(run.__file__).resolve()
    if os.geteuid() == 0 and not all(each.stat().st_mode & 0o001 for each in here.parents):
        pytest.skip(
            "only its owner can read this checkout, and root has to become somebody else for this test"
        )
    with tempfile.TemporaryDirectory() as home:
        os.chmod(home, 0o755)
        study = toy.study(Path(home, "creek"))
        before = old_reports(study)
        nbs = toy.notebooks(Path(home, "nb"), _01_one="1")
        study.chmod(0o555)
        user = os.geteuid()
        if user == 0:
            os.seteuid(65534)  # nobody: root would be let in all the same
        try:
            with pytest.raises(RunError, match="may not be written"):
                go(study, nbs)
        finally:
            if user == 0:
                os.seteuid(0)
            study.chmod(0o755)
        assert toy.all_bytes(study) == {
            "site.toml": b"name = 'Toy creek'\n",
            **{f"reports/{k}": v for k, v in before.items()},
        }


@pytest.mark.slow
@pytest.mark.skipif(
    not os.path.isdir("/dev/shm") or os.geteuid() != 0, reason="needs root to mount a small disk"
)
def test_a_really_full_disk(study, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "none", str(disk)], capture_output=True
    ).returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        small = toy.study(disk / "creek")
        before = old_reports(small)
        (disk / "filler").write_bytes(b"x" * 30_000)
        with pytest.raises(RunError, match="The disk is full"):
            go(small, toy.notebooks(tmp_path / "nb", _01_one=toy.PICTURE, _02_two=toy.PICTURE))
        assert toy.all_bytes(small / "reports") == before
        assert leftovers(small) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


# ---------------------------------------------------------------- results


def test_results_read_back_as_they_were_written():
    values = {
        "top": 1,
        "a table": {
            "text": 'q"u\\o\te\n\x7f\x01 谷',
            "yes": True,
            "list": [1.0, 2.5],
            "deep": {"x": 1e-9, "big": 1.5e22},
        },
        "empty": {},
        "odd": {"": "empty key", "dotted.key": -0.25},
    }
    assert tomllib.loads(to_toml(values)) == values


def test_floats_keep_seven_figures_and_stay_floats():
    assert (
        to_toml({"a": 1234567.89, "b": 2.0, "c": 1 / 3})
        == "a = 1234568.0\nb = 2.0\nc = 0.3333333\n"
    )
    assert tomllib.loads(to_toml({"a": float("inf")})) == {"a": float("inf")}


def test_what_is_not_plain_is_refused():
    with pytest.raises(TypeError, match="year.energy is NoneType"):
        to_toml({"year": {"energy": None}})


def test_what_moved():
    old = {"run": {"time": "then"}, "a": {"x": 100.0, "list": [1.0, 2.0], "gone": 3}, "text": "one"}
    new = {
        "run": {"time": "now"},
        "a": {"x": 100.00005, "list": [1.0, 2.5], "new": True},
        "text": "two",
    }
    assert [str(each) for each in moved(old, new)] == [
        "a.list[2]: 2 -> 2.5 (+25.00%)",
        "a.gone: 3 (gone)",
        "text: one -> two",
        "a.new: True (new)",
    ]
    assert moved({"x": float("nan")}, {"x": float("nan")}) == ()
    assert [each.share for each in moved({"x": -2.0, "y": 0.0}, {"x": -1.0, "y": 1.0})] == [
        0.5,
        None,
    ]


@pytest.mark.slow
def test_the_kernel_tells_what_the_study_knows(tmp_path):
    """The results of a whole run come from the kernel, as JSON: nothing may be lost on the way."""
    import json

    import small_study

    from hydrokit.runner.fresh import answers
    from hydrokit.study.opening import open_study

    path = small_study.write(tmp_path / "small")
    told, study = json.loads(answers(str(path), "us")), open_study(path)
    known = study.told("us")
    assert (
        told["results"] == study.results()
        and told["inputs"] == study.inputs()
        and len(told["inputs"]) > 3
    )
    assert [tuple(each) for each in told["findings"]] == [
        (each.level, each.where, each.message) for each in known
    ]


def kernel_loads_too(source, tmp_path, monkeypatch):
    """The kernel has this module among its extensions."""
    (tmp_path / "loaded_too.py").write_text(source + "\ndef load_ipython_extension(shell): pass\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", ("loaded_too", *toy.EXTENSIONS))


@pytest.mark.slow
def test_a_kernel_that_dies_at_its_start_is_started_again(study, tmp_path, monkeypatch):
    """Another program took its port in between: nobody hears of it."""
    died = tmp_path / "died"
    code = f"import os, pathlib\nif not os.path.exists({str(died)!r}):\n    pathlib.Path({str(died)!r}).touch()\n    os._exit(1)\n"
    kernel_loads_too(code, tmp_path, monkeypatch)
    nbs = toy.notebooks(tmp_path / "nb", _01_one="print('alive')")
    go(study, nbs)
    assert died.exists() and "alive" in (study / "reports" / "01_one.html").read_text("utf-8")


@pytest.mark.slow
def test_a_kernel_that_always_dies_is_told(study, tmp_path, monkeypatch):
    kernel_loads_too("import os\nos._exit(1)\n", tmp_path, monkeypatch)
    nbs = toy.notebooks(tmp_path / "nb", _01_one="1")
    with pytest.raises(RunError, match="kernel"):
        go(study, nbs)
