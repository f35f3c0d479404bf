"""The two bars of a run: against the shell, and against one kernel reused by hand.

All three ways run the same notebooks on the same study and leave one HTML page a notebook; each is
timed whole, as a command, with the file cache warm. The notebooks are the real ones on a demo study
where both are there, else seven invented ones of about the same weight.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
import toy

from hydrokit.site import folders

ROOT = Path(toy.__file__).resolve().parents[1]
DEMO = "studies/alder-burn"
WORK = [
    "import numpy as np, pandas as pd\nimport matplotlib.pyplot as plt\nfrom scipy import special, optimize\nfrom hydrokit.units import Q_",
    "days = pd.Series(np.random.default_rng(1).gamma(2, 5, 15000), pd.date_range('1980', periods=15000))\nmonthly = days.groupby(days.index.month).quantile([.1, .5, .9]).unstack()",
    "figure, axes = plt.subplots()\naxes.plot(np.sort(days)[::-1])\nplt.show()",
    "root = [optimize.brentq(lambda x: special.gammainc(2, x) - p, 0, 50) for p in np.linspace(.01, .99, 200)]",
    "figure, axes = plt.subplots()\naxes.fill_between(monthly.index, monthly[.1], monthly[.9])\nplt.show()",
    "monthly",
]
BY_HAND = """
import sys
from pathlib import Path
import papermill
from jupyter_client.manager import KernelManager
from jupyter_core.utils import run_sync
from nbconvert import HTMLExporter
from papermill.clientwrap import PapermillNotebookClient

class Reuse(papermill.engines.Engine):
    manager = client = None
    @classmethod
    def execute_managed_notebook(cls, nb_man, kernel_name, **kw):
        if cls.manager is None:
            cls.manager = KernelManager(kernel_name=kernel_name); cls.manager.start_kernel()
            cls.client = cls.manager.client(); cls.client.start_channels(); cls.client.wait_for_ready(60)
        else:
            cls.client.execute_interactive('%reset -f\\nimport matplotlib.pyplot as _p; _p.close("all")', silent=True)
        one = PapermillNotebookClient(nb_man, km=cls.manager); one.kc = cls.client; one.owns_km = False
        async def go():
            one.reset_execution_trackers()
            for i, cell in enumerate(one.nb.cells):
                nb_man.cell_start(cell, i)
                await one.async_execute_cell(cell, i)
                nb_man.cell_complete(cell, i)
        run_sync(go)()

papermill.engines.papermill_engines.register("reuse", Reuse)
study, out, *notebooks = sys.argv[1:]
exporter = HTMLExporter(template_name="basic", exclude_input=True, embed_images=True)
for path in notebooks:
    done = papermill.execute_notebook(path, None, {"study": study, "display": ""}, engine_name="reuse", kernel_name="python3", progress_bar=False)
    Path(out, Path(path).stem + ".html").write_text(exporter.from_notebook_node(done)[0], encoding="utf-8")
Reuse.client.stop_channels(); Reuse.manager.shutdown_kernel(now=True)
"""
OURS_ON_TOYS = """
import sys, types, toy, pathlib
from hydrokit import cli
from hydrokit.site import folders
stub = types.ModuleType("hydrokit.study.opening")
stub.open_study = toy.open_toy
sys.modules["hydrokit.study.opening"] = stub
folders.notebook_folder = lambda: pathlib.Path(sys.argv[2])
sys.exit(cli.main(["run", sys.argv[1]]))
"""


@dataclass
class Case:
    """What is run: a study as the notebooks call it, the notebooks, and our own command."""

    study: str
    notebooks: list[str]
    ours: list[str]


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    real = folders.checkout() and sorted((ROOT / "notebooks").glob("[0-9][0-9]_*.ipynb"))
    if real and (ROOT / DEMO / "site.toml").is_file():
        return Case(
            DEMO,
            [str(each) for each in real],
            [sys.executable, "-m", "hydrokit.cli", "run", DEMO],
        )
    folder = tmp_path_factory.mktemp("notebooks")
    paths = [
        toy.notebook(folder / f"{number:02d}_number.ipynb", *map(toy.code, WORK))
        for number in range(1, 8)
    ]
    study = toy.study(tmp_path_factory.mktemp("studies") / "creek")
    return Case(
        str(study),
        [str(each) for each in paths],
        [sys.executable, "-c", OURS_ON_TOYS, str(study), str(folder)],
    )


def seconds(*commands: list[str]) -> float:
    """Wall time of commands one after the other."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}
    begun = time.perf_counter()
    for command in commands:
        subprocess.run(
            command,
            check=True,
            env=environment,
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    return time.perf_counter() - begun


def test_run_against_one_kernel_by_hand_and_the_shell(case, tmp_path):
    """At most 1.5 times a kernel reused by hand, at most a quarter of the shell one by one."""
    hand = [sys.executable, "-c", BY_HAND, case.study, str(tmp_path), *case.notebooks]
    seconds(case.ours)  # warms the file cache for all three
    pairs = [(seconds(case.ours), seconds(hand)) for _ in range(3)]
    shell = 0.0
    for path in case.notebooks:
        done = str(tmp_path / Path(path).name)
        run = [
            sys.executable,
            "-m",
            "papermill",
            path,
            done,
            "-k",
            "python3",
            "-p",
            "study",
            case.study,
            "-r",
            "display",
            "",
        ]
        show = [
            sys.executable,
            "-m",
            "nbconvert",
            "--to",
            "html",
            "--no-input",
            "--embed-images",
            done,
        ]
        shell += seconds(run, show)
    ours, by_hand = (min(each) for each in zip(*pairs))
    print(f"\n{len(case.notebooks)} notebooks on {case.study}")
    print(f"hydrokit run                 {ours:6.1f} s")
    print(f"one kernel reused by hand    {by_hand:6.1f} s   ratio {ours / by_hand:.2f}, bar 1.50")
    print(f"papermill and nbconvert      {shell:6.1f} s   ratio {ours / shell:.2f}, bar 0.25")
    assert ours <= 1.5 * by_hand
    assert ours <= 0.25 * shell
