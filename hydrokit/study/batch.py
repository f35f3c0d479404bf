"""Sifting many creeks from one table, through whatever can run work side by side.

The executor is anybody's: the standard library's processes, or dask.distributed's. What is added
here is only that rows keep their order and that none is lost with the worker it was given to.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, as_completed
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from ..energy.screening import ASSUMED, Creek, Screened, screened
from ..errors import InputError, Mistake, RunError
from ..files import read_csv, shown_path, write_csv_text
from ..stream.record import read_record
from .display import View, csv_number, csv_text, plain_number

__all__ = ["cluster", "each_of", "processes", "read_creeks", "sift", "summary", "table_text"]

_WANTED = {"name": "text", "head": "head", "length": "m", "catchment": "m^2", "neighbour record": "text", "neighbour catchment": "m^2"}
_OPTIONAL = {"licence": "m^3/s", "residual": "ratio"}
_TOGETHER = 2  # times that all rows are handed out side by side
_SECONDS = 20  # to reach a cluster

Opener = Callable[[], AbstractContextManager[Executor]]


# --- the table of creeks --------------------------------------------------------------------


def read_creeks(path: Any) -> list[tuple[Creek, Any]]:
    """The rows of a table of creeks, each with its neighbour's record.

    Parameters
    ----------
    path : path
        CSV with the columns name, head [m], length [m], catchment [km2], neighbour record (a file,
        named as seen from the table), neighbour catchment [km2]; and, where known, licence [L/s]
        and residual [%], the share of the mean flow that stays.

    Raises
    ------
    InputError
        Every mistake of the table and of the records it names, all at once.
    """
    table = read_csv(path, _WANTED, _OPTIONAL)
    mistakes, records = [], {}
    for name in dict.fromkeys(table["neighbour record"]):
        if name:
            try:
                records[name] = read_record(Path(path).parent / name)
            except InputError as error:
                mistakes += error.mistakes
    rows = []
    for row in table.to_dict("records"):
        wrong = list(_wrong(row))
        mistakes += [Mistake(shown_path(path), f"line {row['line']}", text) for text in wrong]
        if not wrong and row["neighbour record"] in records:
            given = {name: None if row.get(column) is None or np.isnan(row[column]) else row[column] for name, column in (("licence_m3s", "licence"), ("residual_share", "residual"))}
            creek = Creek(row["name"], row["head"], row["length"], row["catchment"], row["neighbour catchment"], **given)
            rows.append((creek, records[row["neighbour record"]]))
    if mistakes:
        raise InputError(mistakes)
    return rows


def _wrong(row: dict) -> Iterator[str]:
    for column in ("name", "neighbour record"):
        if not row[column]:
            yield f"the column '{column}' is empty"
    for column in ("head", "length", "catchment", "neighbour catchment"):
        if not row[column] > 0:
            yield f"the column '{column}' must be above zero"
    if row["length"] < row["head"]:
        yield "the pipe is shorter than its fall; are feet mixed with metres?"
    if row.get("licence", 1.0) <= 0:
        yield "the licence must be above zero; leave it empty where there is none"
    if not 0 <= np.nan_to_num(row.get("residual", 0.0)) < 1:
        yield "the residual is a share of the mean flow, from 0 to less than 100 %"


# --- side by side ---------------------------------------------------------------------------


def processes(workers: int) -> Opener:
    """Processes on this machine."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    from .launch import CHECKOUT, own_path

    @contextmanager
    def opened() -> Iterator[Executor]:
        # A new process searches the folders of this one. One that lends it a checkout is the last, and left out again as soon as it is up.
        lent = [] if CHECKOUT is None or str(CHECKOUT) in sys.path else [str(CHECKOUT)]
        sys.path += lent
        try:
            # a fresh process each: a copy of this one would copy its threads' locks too
            with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=own_path) as executor:
                yield executor
        finally:
            for each in lent:
                sys.path.remove(each)

    return opened


def cluster(address: str) -> Opener:
    """The workers of a dask.distributed scheduler, each of which must have hydrokit installed.

    Raises
    ------
    RunError
        distributed is not installed.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise RunError("--cluster needs dask.distributed: pip install 'hydrokit[cluster]'.") from error

    @contextmanager
    def opened() -> Iterator[Executor]:
        try:
            client = Client(address, timeout=_SECONDS, set_as_default=False)
        except (OSError, ValueError) as error:
            raise RunError(f"No scheduler answers at {address}: {error}") from error
        with client:
            yield client.get_executor(pure=False)

    return opened


def each_of(work: Callable[..., Any], rows: Sequence[tuple], opener: Opener, lost: Callable[[tuple], Any]) -> list[Any]:
    """What `work` makes of each row, in the order of the rows.

    A row whose worker was lost is handed out again; one that loses every worker it is given to
    comes out as ``lost(row)``, so that the others are not held up. An error that `work` raises is
    raised here.
    """
    done: dict[int, Any] = {}
    for _ in range(_TOGETHER):
        left = [place for place in range(len(rows)) if place not in done]
        if left:
            _hand_out(work, rows, left, opener, done)
    # one at a time, so that it is known which row a worker was lost with
    for place in (place for place in range(len(rows)) if place not in done):
        _hand_out(work, rows, [place], opener, done)
        done.setdefault(place, lost(rows[place]))
    return [done[place] for place in range(len(rows))]


def _hand_out(work: Any, rows: Any, places: Sequence[int], opener: Opener, done: dict[int, Any]) -> None:
    with opener() as executor:
        try:
            futures = {executor.submit(work, *rows[place]): place for place in places}
        except BrokenExecutor:  # lost while rows were still being handed out
            return
        for future in as_completed(futures):
            try:
                done[futures[future]] = future.result()
            except (BrokenExecutor, CancelledError):
                continue
            except Exception as error:
                if type(error).__name__ != "KilledWorker":  # distributed's word for it, known only where that is installed
                    raise


# --- the whole ------------------------------------------------------------------------------


def sift(path: Any, opener: Opener | None = None) -> list[Screened]:
    """A first look at every creek of a table.

    Parameters
    ----------
    path : path
        See :func:`read_creeks`.
    opener : callable, optional
        Opens an executor, such as :func:`processes` or :func:`cluster`; without it one row after
        the other is worked out here. The result is the same.
    """
    rows = read_creeks(path)
    if opener is None:
        return [screened(*row) for row in rows]
    return each_of(screened, rows, opener, lambda row: Screened(row[0], reason="every worker it was given to was lost; run it alone to see why"))


def table_text(found: Sequence[Screened], view: View) -> str:
    """The sifted creeks as CSV, in the order of the table."""
    columns = [
        ("head", "head", lambda each: each.creek.head_m), ("length", "length", lambda each: each.creek.length_m),
        ("mean flow", "flow", lambda each: each.mean_m3s), ("usable flow", "flow", lambda each: each.usable_m3s),
        ("design flow", "flow", lambda each: each.design_m3s), ("greatest power", "large power", lambda each: each.rated_w),
        ("power on 95 % of days", "large power", lambda each: each.firm_w),
    ]  # fmt: skip
    energy = ("kwh", "low_kwh", "high_kwh", "winter_kwh")
    header = ["name", *(view.header(name, kind) for name, kind, _ in columns), "energy [kWh]", "low energy [kWh]", "high energy [kWh]", "winter energy [kWh]"]
    header += [view.header("energy for each length of pipe", "length").replace("[", "[kWh/"), "head lost [%]", "machine", "jets", "pipe", "mind", "not worked out because"]
    rows = []
    for each in found:
        numbers = [view.number(of(each), kind) for _, kind, of in columns] + [getattr(each, name) for name in energy]
        numbers += [each.kwh / view.number(each.creek.length_m, "length"), 100 * each.loss_share]
        told = [each.machine, each.jets or "", each.pipe, view.translated("; ".join(each.mind)), view.translated(each.reason)]
        rows.append([csv_text(each.creek.name), *(csv_number(number) for number in numbers), *map(csv_text, told)])
    return write_csv_text(header, rows)


def summary(found: Sequence[Screened], view: View) -> list[str]:
    """What came out, in a few lines."""
    sized = sorted((each for each in found if not each.reason), key=lambda each: -each.kwh_per_m)
    lines = [f"{len(found)} creeks: {len(sized)} sized, {len(found) - len(sized)} not"]
    for each in sized[:3]:
        lines.append(
            f"  {each.creek.name}: {view.text(each.design_m3s, 'flow', 2)}, {view.text(each.rated_w, 'large power', 2)}, "
            f"{plain_number(each.low_kwh, 2)} to {plain_number(each.high_kwh, 2)} kWh a year, "
            f"{plain_number(each.kwh / view.number(each.creek.length_m, 'length'), 2)} for each {view.label('length')} of pipe"
        )
    lines += [f"  {each.creek.name}: not worked out: {view.translated(each.reason)}" for each in found if each.reason]
    return [*lines, "A first sieve. Taken as given:", *(f"  {line}" for line in ASSUMED)]
