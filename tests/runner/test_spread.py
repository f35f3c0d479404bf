"""Many creeks over workers: processes, a cluster, and workers that are lost."""

import importlib.util
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import lossy
import pytest

from hydrokit import cli
from hydrokit.errors import RunError
from hydrokit.report import many_creeks
from hydrokit.runner import sifted as batch
from hydrokit.runner import spread
from hydrokit.study.view import View

# --- workers --------------------------------------------------------------------------------


@pytest.mark.slow
def test_processes_give_the_same_bytes_as_one_row_after_the_other(table, serial):
    parallel = batch.sift(table, spread.processes(2))
    assert many_creeks.table_text(parallel, View("metric")) == many_creeks.table_text(
        serial, View("metric")
    )
    assert parallel[0] == serial[0]


def test_a_lost_worker_loses_no_row(tmp_path):
    rows = [(number, str(tmp_path / "marker")) for number in range(8)]
    assert spread.each_of(lossy.dies_once, rows, spread.processes(2), lambda row: "lost") == [
        2 * number for number in range(8)
    ]
    assert (tmp_path / "marker").exists()


def test_a_row_that_kills_every_worker_does_not_hold_up_the_others():
    rows = [(number,) for number in range(6)]
    assert spread.each_of(
        lossy.dies_always, rows, spread.processes(2), lambda row: f"lost {row[0]}"
    ) == [0, 2, 4, "lost 3", 8, 10]


def test_an_error_of_the_work_itself_is_raised():
    with pytest.raises(ZeroDivisionError, match="by three"):
        spread.each_of(
            lossy.refuses, [(number,) for number in range(6)], spread.processes(2), lambda row: None
        )


def test_any_executor_will_do():
    from concurrent.futures import ThreadPoolExecutor

    assert spread.each_of(
        lossy.twice, [(5,), (1,), (3,)], lambda: ThreadPoolExecutor(2), lambda row: None
    ) == [10, 2, 6]


# --- a cluster ------------------------------------------------------------------------------

needs_distributed = pytest.mark.skipif(
    importlib.util.find_spec("distributed") is None,
    reason="dask.distributed is not installed: pip install 'hydrokit[cluster]'",
)


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory):
    """A scheduler and two workers, each a process of its own: its address and the workers."""
    folder = tmp_path_factory.mktemp("cluster")
    known = folder / "scheduler.json"
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(
            [str(Path(__file__).parents[1]), str(Path(cli.__file__).parents[1])]
        ),
    }

    def start(*words):
        return subprocess.Popen(
            [sys.executable, "-m", *words],
            cwd=folder,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    started = [
        start(
            "distributed.cli.dask_scheduler",
            "--host",
            "127.0.0.1",
            "--port",
            "0",
            "--no-dashboard",
            "--scheduler-file",
            str(known),
        )
    ]
    try:
        deadline = time.monotonic() + 60
        while not (known.exists() and known.stat().st_size) and time.monotonic() < deadline:
            time.sleep(0.05)
        workers = [
            start(
                "distributed.cli.dask_worker",
                "--scheduler-file",
                str(known),
                "--no-nanny",
                "--no-dashboard",
                "--nthreads",
                "1",
            )
            for _ in range(2)
        ]
        started += workers
        from distributed import Client

        address = json.loads(known.read_text())["address"]
        with Client(address, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
        yield address, workers
    finally:
        for process in reversed(started):
            process.terminate()
            process.wait(20)


@pytest.mark.slow
@needs_distributed
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_same_and_a_lost_worker_loses_no_row(
    scheduler, table, serial, monkeypatch
):
    address, workers = scheduler
    serial = many_creeks.table_text(serial, View("metric"))
    monkeypatch.chdir(table.parent)
    assert cli.main(["sift", "creeks.csv", "--cluster", address, "--out", "out.csv"]) == 0
    assert Path("out.csv").read_text(encoding="utf-8") == serial

    killer = threading.Timer(1.0, os.kill, (workers[0].pid, signal.SIGKILL))
    killer.start()
    found = spread.each_of(
        lossy.slow,
        [(number, 0.2) for number in range(24)],
        spread.cluster(address),
        lambda row: "lost",
    )
    killer.join()
    assert [number for number, _ in found] == list(range(24))
    assert workers[0].wait(5) != 0
    # the one that is left did more than its half
    assert sum(pid == workers[1].pid for _, pid in found) > 12
    assert (
        many_creeks.table_text(batch.sift(table, spread.cluster(address)), View("metric")) == serial
    )


@needs_distributed
def test_no_scheduler_is_a_sentence(monkeypatch):
    monkeypatch.setattr(spread, "_SECONDS", 0.5)
    with pytest.raises(RunError, match="No scheduler answers at tcp://127.0.0.1:1"):
        with spread.cluster("tcp://127.0.0.1:1")():
            pass


def test_without_distributed_a_sentence(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(RunError, match="hydrokit\\[cluster\\]"):
        spread.cluster("tcp://127.0.0.1:8786")
