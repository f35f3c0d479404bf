"""Nothing that lies beside a study is imported, run or taken for settings."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import small_study
import toy

from hydrokit.lab.live import LabKernels
from hydrokit.runner import run
from hydrokit.runner.kernel import Kernels

ROOT = Path(__file__).resolve().parents[2]
# What a run imports, or would if it were there; and what the tools around a kernel read or run at their start.
NAMES = [
    "pandas", "pint", "statistics", "numpy", "scipy", "matplotlib", "IPython", "ipykernel", "ipykernel_launcher", "papermill", "nbformat", "json", "random", "hydrokit", "toy",
    "sitecustomize", "usercustomize", "numexpr", "bottleneck", "orjson", "psutil", "debugpy", "pyarrow", "conftest", "multiprocessing", "distributed", "uvloop", "appnope", "evil",
    "ipython_config", "ipython_kernel_config", "jupyter_config", "jupyter_server_config", "matplotlib_inline", "rfc3987_syntax", "winreg", "antigravity",
]  # fmt: skip


def booby_trap(folder, mark):
    """Lay modules and settings into a folder that leave a mark where they are run."""
    folder.mkdir(parents=True, exist_ok=True)
    trap = f"import os\nos.makedirs({str(mark)!r}, exist_ok=True)\nopen(os.path.join({str(mark)!r}, '{{}}'), 'w').close()\n"
    for name in NAMES:
        (folder / f"{name}.py").write_text(trap.format(name), encoding="utf-8")
    startup = folder / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00.py").write_text(trap.format("startup"), encoding="utf-8")
    (folder / "evil.pth").write_text("import evil\n", encoding="utf-8")
    (folder / "matplotlibrc").write_text(
        "backend: module://evil\nfont.size: 40\naxes.facecolor: red\n", encoding="utf-8"
    )
    (folder / "papermill.yaml").write_text("engine: evil\n", encoding="utf-8")
    (folder / ".env").write_text("PYTHONSTARTUP=evil.py\nPYTHONPATH=.\n", encoding="utf-8")
    template = folder / "template"
    template.mkdir()
    (template / "conf.json").write_text('{"base_template": "evil"}', encoding="utf-8")
    (template / "page.html.j2").write_text("replaced", encoding="utf-8")


def marks(mark):
    return sorted(each.name for each in mark.iterdir()) if mark.is_dir() else []


@pytest.fixture
def mark(tmp_path):
    return tmp_path / "somewhere else" / "marks"


@pytest.mark.parametrize(
    "where",
    [
        "all of them",
        *(
            pytest.param(each, marks=pytest.mark.slow)
            for each in ("working folder", "beside the study", "in the study")
        ),
    ],
)
def test_a_run_imports_nothing_that_lies_about(tmp_path, monkeypatch, mark, where):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)
    study = toy.study(tmp_path / "zip" / "studies" / "creek")
    folders = {
        "working folder": tmp_path / "zip",
        "beside the study": study.parent,
        "in the study": study,
    }
    trapped = list(folders.values()) if where == "all of them" else [folders[where]]
    for each in trapped:
        booby_trap(each, mark)
    monkeypatch.chdir(trapped[0])
    look = "import sys, os, statistics, pandas, pint, matplotlib\nprint('size', matplotlib.rcParams['font.size'], '' in sys.path, os.getcwd() in sys.path)\ntry:\n    import evil\nexcept ImportError:\n    print('not found')"
    outcome = run.run_study(
        study, folder=toy.notebooks(tmp_path / "nb", _01_one=look), open_study=toy.open_toy
    )
    page = (outcome.reports / "01_one.html").read_text(encoding="utf-8")
    assert "size 10.0 False False" in page and "not found" in page
    assert marks(mark) == []


def in_a_shell(folder, *words, **more):
    """A command of hydrokit as a stranger types it."""
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith("PYTHON")
    } | more
    script = Path(sys.executable).with_name("hydrokit")
    command = [str(script)] if script.is_file() else [sys.executable, "-P", "-m", "hydrokit"]
    return subprocess.run(
        [*command, *words], cwd=folder, env=environment, capture_output=True, text=True, timeout=600
    )


@pytest.mark.parametrize(
    "words",
    [
        pytest.param(("check", "."), marks=pytest.mark.slow),
        ("parts", "."),
        pytest.param(("compare", ".", "../other"), marks=pytest.mark.slow),
        pytest.param(("sift", "creeks.csv", "--workers", "2"), marks=pytest.mark.slow),
    ],
    ids=lambda words: words[0],
)
def test_no_verb_imports_what_lies_about(tmp_path, mark, words):
    study = small_study.write(tmp_path / "studies" / "creek")
    small_study.write(tmp_path / "studies" / "other")
    row = ", 46, 380, 30, flow.csv, 38, 20, 10\n"
    (study / "creeks.csv").write_text(
        "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\nAlder"
        + row
        + "Beck"
        + row,
        encoding="utf-8",
    )
    booby_trap(study, mark)
    booby_trap(study.parent, mark)
    done = in_a_shell(study, *words)
    assert (done.returncode, done.stderr) == (0, "")
    assert marks(mark) == []


def test_the_module_run_by_name_takes_the_working_folder_off_the_path(tmp_path, mark):
    booby_trap(tmp_path, mark)
    for each in ("hydrokit.py", "sitecustomize.py", "usercustomize.py", "json.py"):
        (tmp_path / each).unlink()  # those that Python itself imports before a line of ours is run
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith("PYTHON")
    }
    done = subprocess.run(
        [sys.executable, "-m", "hydrokit", "--version"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (0, "") and done.stdout.startswith("hydrokit ")
    assert marks(mark) == []


def test_a_kernel_of_lab_imports_nothing_that_lies_about(tmp_path, mark, monkeypatch):
    """The kernel as JupyterLab starts it, in the folder of the notebook."""
    from jupyter_client.manager import KernelManager

    booby_trap(tmp_path, mark)
    monkeypatch.setenv("PYTHONPATH", ".")
    manager = KernelManager(kernel_name="python3", kernel_spec_manager=LabKernels())
    manager.start_kernel(cwd=str(tmp_path))
    client = manager.client()
    try:
        client.start_channels()
        client.wait_for_ready(timeout=60)
        reply = client.execute_interactive(
            "import statistics, pandas, hydrokit, sys, os\nassert os.getcwd() not in sys.path and '' not in sys.path and '.' not in sys.path",
            timeout=60,
        )
        assert reply["content"]["status"] == "ok", reply["content"]
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    assert marks(mark) == []


def test_lab_starts_these_kernels(tmp_path, monkeypatch, capsys):
    pytest.importorskip("jupyterlab")
    from jupyterlab.labapp import LabApp

    from hydrokit import cli

    seen = []
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        LabApp, "launch_instance", classmethod(lambda cls, options: seen.extend(options))
    )
    monkeypatch.setenv("JUPYTER_CONFIG_PATH", "")  # put back afterwards
    assert cli.main(["lab", "--no-browser"]) == 0
    settings = Path(os.environ["JUPYTER_CONFIG_PATH"], "labconfig", "page_config.json")
    assert "announcements" in settings.read_text(encoding="utf-8")
    assert "--ServerApp.kernel_spec_manager_class=hydrokit.lab.live.LabKernels" in seen
    assert issubclass(LabKernels, Kernels)
    assert os.environ["PYTHONSAFEPATH"] == "1"
