"""Sifting many creeks from one table, through whatever can run work side by side.

The executor is anybody's: the standard library's processes, or dask.distributed's. What is added
here is only that rows keep their order and that none is lost with the worker it was given to.
"""

from __future__ import annotations

import os
import re
import socket
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, as_completed
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from ..columns import read_csv
from ..energy.screening import ASSUMED, Creek, Screened, screened
from ..errors import InputError, Mistake, RunError, Told, one_line
from ..files import shown_path, write_csv_text
from ..report.display import csv_number, csv_text
from ..sentences import plain_number
from ..site.sheets import Folder
from ..stream.record import read_record
from ..study.view import View

__all__ = [
    "Growing",
    "cluster",
    "each_of",
    "processes",
    "read_creeks",
    "sift",
    "summary",
    "table_header",
    "table_row",
    "table_text",
]

_WANTED = {
    "name": "text",
    "head": "head",
    "length": "m",
    "catchment": "m^2",
    "neighbour record": "text",
    "neighbour catchment": "m^2",
}
_OPTIONAL = {"licence": "m^3/s", "residual": "ratio"}
_TOGETHER = 2  # times that all rows are handed out side by side
_SECONDS = 5  # to reach a cluster, and again for its first worker
_TELL_EVERY = 5.0  # s between lines of progress
_ADDRESS = re.compile(r"(?:(?:tcp|tls|ws|wss)://)?([A-Za-z0-9._-]+|\[[0-9A-Fa-f:.]+\]):(\d{1,5})/?")

Arrived = Callable[[int, Any], None]
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
    unread: list[tuple[str, tuple[int, ...], str]] = []
    table = read_csv(path, _WANTED, _OPTIONAL, unread)
    mistakes = [
        Mistake(
            shown_path(path),
            f"line{'s' if len(lines) > 1 else ''} {', '.join(map(str, lines))}",
            f"'{text}' in the column '{column}' is not a number",
        )
        for column, lines, text in unread
    ]
    told = {(column, line) for column, lines, _ in unread for line in lines}
    folder, records = _Beside(Path(path)), {}
    for name in dict.fromkeys(table["neighbour record"]):
        if name:
            try:
                records[name] = read_record(folder.file(name, ""))
            except InputError as error:
                mistakes += error.mistakes
    rows = []
    for row in table.to_dict("records"):
        wrong = [text for column, text in _wrong(row) if (column, row["line"]) not in told]
        mistakes += [Mistake(shown_path(path), f"line {row['line']}", text) for text in wrong]
        if not wrong and row["neighbour record"] in records:
            given = {
                name: None if row.get(column) is None or np.isnan(row[column]) else row[column]
                for name, column in (("licence_m3s", "licence"), ("residual_share", "residual"))
            }
            creek = Creek(
                row["name"],
                row["head"],
                row["length"],
                catchment_m2=row["catchment"],
                neighbour_catchment_m2=row["neighbour catchment"],
                **given,
            )
            rows.append((creek, records[row["neighbour record"]]))
    if mistakes:
        raise InputError(mistakes)
    return rows


class _Beside(Folder):
    """The folder of a table: records are named as seen from it, and lie where a study's files may lie."""

    def __init__(self, table: Path) -> None:
        super().__init__(table.parent)
        self.table = table

    def wrong(self, where: str, text: str | Told) -> InputError:
        return InputError(Mistake(shown_path(self.table), "the column 'neighbour record'", text))


def _wrong(row: dict) -> Iterator[tuple[str, str]]:
    """Column and what is wrong with it."""
    for column in ("name", "neighbour record"):
        if not row[column]:
            yield column, f"the column '{column}' is empty"
    for column in ("head", "length", "catchment", "neighbour catchment"):
        if np.isnan(row[column]):
            yield column, f"the column '{column}' is empty"
        elif not row[column] > 0:
            yield column, f"the column '{column}' must be above zero"
    if row["length"] < row["head"]:
        yield "length", "the pipe is shorter than its fall; are feet mixed with metres?"
    if row.get("licence", 1.0) <= 0:
        yield "licence", "the licence must be above zero; leave it empty where there is none"
    if not 0 <= np.nan_to_num(row.get("residual", 0.0)) < 1:
        yield "residual", "the residual is a share of the mean flow, from 0 to less than 100 %"


# --- side by side ---------------------------------------------------------------------------


def processes(workers: int) -> Opener:
    """Processes on this machine."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    from .launch import CHECKOUT, quiet_worker

    @contextmanager
    def opened() -> Iterator[Executor]:
        # A new process searches the folders of this one. One that lends it a checkout is the last, and left out again as soon as it is up.
        lent = [] if CHECKOUT is None or str(CHECKOUT) in sys.path else [str(CHECKOUT)]
        sys.path += lent
        try:
            # a fresh process each: a copy of this one would copy its threads' locks too
            with ProcessPoolExecutor(
                workers, multiprocessing.get_context("spawn"), initializer=quiet_worker
            ) as executor:
                yield executor
        finally:
            for each in lent:
                sys.path.remove(each)

    return opened


def cluster(address: str) -> Opener:
    """The workers of a dask.distributed scheduler, each of which must have hydrokit installed.

    Raises
    ------
    InputError
        What was given is no address.
    RunError
        distributed is not installed; on opening: no scheduler answers, or it has no workers.
    """
    host, port = _reached(address)
    try:
        from distributed import Client
    except ImportError as error:
        raise RunError(
            "--cluster needs dask.distributed: pip install 'hydrokit[cluster]'."
        ) from error

    @contextmanager
    def opened() -> Iterator[Executor]:
        try:
            socket.create_connection(
                (host, port), _SECONDS
            ).close()  # the library tries longer, and says more than one sentence
            client = Client(address, timeout=_SECONDS, set_as_default=False)
        except (OSError, ValueError) as error:
            raise RunError(
                f"No scheduler answers at {one_line(address)}: {one_line(error)}"
            ) from error
        with client:
            try:
                client.wait_for_workers(1, timeout=_SECONDS)
            except (TimeoutError, OSError) as error:
                raise RunError(
                    f"The scheduler at {one_line(address)} has no workers; start some with: dask worker {one_line(address)}"
                ) from error
            yield client.get_executor(pure=False)

    return opened


def _reached(address: str) -> tuple[str, int]:
    """Host and port of a scheduler's address."""
    found = _ADDRESS.fullmatch(address)
    if not found or int(found[2]) > 65535:
        raise InputError(
            Mistake(
                "--cluster",
                "",
                f"'{one_line(address)}' is no address of a scheduler; write for example tcp://192.168.1.5:8786",
            )
        )
    return found[1].strip("[]"), int(found[2])


def each_of(
    work: Callable[..., Any],
    rows: Sequence[tuple],
    opener: Opener,
    lost: Callable[[tuple], Any],
    arrived: Arrived = lambda place, found: None,
) -> list[Any]:
    """What `work` makes of each row, in the order of the rows.

    A row whose worker was lost is handed out again; one that loses every worker it is given to
    comes out as ``lost(row)``, so that the others are not held up. An error that `work` raises is
    raised here. Each result is handed to `arrived` with its place when it comes.
    """
    done: dict[int, Any] = {}
    for _ in range(_TOGETHER):
        left = [place for place in range(len(rows)) if place not in done]
        if left:
            _hand_out(work, rows, left, opener, done, arrived)
    # one at a time, so that it is known which row a worker was lost with
    for place in (place for place in range(len(rows)) if place not in done):
        _hand_out(work, rows, [place], opener, done, arrived)
        if place not in done:
            done[place] = lost(rows[place])
            arrived(place, done[place])
    return [done[place] for place in range(len(rows))]


def _hand_out(
    work: Any,
    rows: Any,
    places: Sequence[int],
    opener: Opener,
    done: dict[int, Any],
    arrived: Arrived,
) -> None:
    with opener() as executor:
        try:
            futures = {executor.submit(work, *rows[place]): place for place in places}
        except BrokenExecutor:  # lost while rows were still being handed out
            return
        for future in as_completed(futures):
            try:
                found = future.result()
            except (BrokenExecutor, CancelledError):
                continue
            except Exception as error:
                if (
                    type(error).__name__ != "KilledWorker"
                ):  # distributed's word for it, known only where that is installed
                    raise
            else:
                done[futures[future]] = found
                arrived(futures[future], found)


# --- the whole ------------------------------------------------------------------------------


def sift(
    path: Any,
    opener: Opener | None = None,
    arrived: Callable[[int, int, Screened], None] = lambda place, of, found: None,
) -> list[Screened]:
    """A first look at every creek of a table.

    Parameters
    ----------
    path : path
        See :func:`read_creeks`.
    opener : callable, optional
        Opens an executor, such as :func:`processes` or :func:`cluster`; without it one row after
        the other is worked out here. The result is the same.
    arrived : callable, optional
        Is given each creek when it is worked out: its place, how many there are, what was found.
    """
    rows = read_creeks(path)
    if opener is None:
        found = []
        for place, row in enumerate(rows):
            found.append(screened(*row))
            arrived(place, len(rows), found[-1])
        return found
    lost = "every worker it was given to was lost; run it alone to see why"
    return each_of(
        screened,
        rows,
        opener,
        lambda row: Screened(row[0], reason=lost),
        lambda place, each: arrived(place, len(rows), each),
    )


_COLUMNS = (
    ("head", "head", lambda each: each.creek.head_m), ("length", "length", lambda each: each.creek.length_m),
    ("mean flow", "flow", lambda each: each.mean_m3s), ("usable flow", "flow", lambda each: each.usable_m3s),
    ("design flow", "flow", lambda each: each.design_m3s), ("greatest power", "large power", lambda each: each.rated_w),
    ("power on 95 % of days", "large power", lambda each: each.firm_w),
)  # fmt: skip
_ENERGY = ("kwh", "low_kwh", "high_kwh", "winter_kwh")


def table_header(view: View) -> list[str]:
    """The header of the table of what was found."""
    header = [
        "name",
        *(view.header(name, kind) for name, kind, _ in _COLUMNS),
        "energy [kWh]",
        "low energy [kWh]",
        "high energy [kWh]",
        "winter energy [kWh]",
    ]
    return header + [
        view.header("energy for each length of pipe", "length").replace("[", "[kWh/"),
        "head lost [%]",
        "machine",
        "jets",
        "pipe",
        "mind",
        "not worked out because",
    ]


def table_row(each: Screened, view: View) -> list[Any]:
    """One creek's row of it."""
    numbers = [view.number(of(each), kind) for _, kind, of in _COLUMNS] + [
        getattr(each, name) for name in _ENERGY
    ]
    numbers += [each.kwh / view.number(each.creek.length_m, "length"), 100 * each.loss_share]
    told = [
        each.machine,
        each.jets or "",
        each.pipe,
        "; ".join(map(view.told, each.mind)),
        view.told(each.reason),
    ]
    return [
        csv_text(each.creek.name),
        *(csv_number(number) for number in numbers),
        *map(csv_text, told),
    ]


def table_text(found: Sequence[Screened], view: View) -> str:
    """The sifted creeks as CSV, in the order of the table."""
    return write_csv_text(table_header(view), [table_row(each, view) for each in found])


class Growing:
    """A table that grows on the disk row by row, in the order of the rows, whichever comes first.

    Every line in it is whole. When all are there it is replaced by the finished table under its own
    name; a stop before that leaves what was worked out so far.

    Parameters
    ----------
    path : Path
        Of the finished table; while it grows its name ends in ``.part.csv``.
    view : View
    say : callable
        Is given a line of progress now and then.
    """

    def __init__(self, path: Path, view: View, say: Callable[[str], Any]) -> None:
        self.path = path.with_name(f"{path.stem}.part.csv")
        self.view, self.say = view, say
        self.waiting: dict[int, Screened] = {}
        self.written = self.seen = 0
        self.told = time.monotonic()
        self.header = write_csv_text(table_header(view), [])
        if os.path.lexists(self.path) and not self._ours():
            raise InputError(
                Mistake(
                    shown_path(self.path),
                    "",
                    "hydrokit did not write this file; name another table with --out, or move this one away",
                )
            )
        self.file: TextIO | None = None

    def _ours(self) -> bool:
        try:
            with open(self.path, encoding="utf-8") as handle:
                return not self.path.is_symlink() and handle.readline(10_000) == self.header
        except (OSError, ValueError):
            return False

    def arrived(self, place: int, of: int, found: Screened) -> None:
        """Take one row."""
        if self.file is None:
            self.path.parent.mkdir(exist_ok=True)
            self.path.unlink(missing_ok=True)
            self.file = open(self.path, "x", encoding="utf-8", newline="\n")  # noqa: SIM115  closed by `finished`
            self.file.write(self.header)
        self.waiting[place] = found
        self.seen += 1
        while self.written in self.waiting:
            self.file.write(
                write_csv_text(table_row(self.waiting.pop(self.written), self.view), [])
            )
            self.written += 1
        if time.monotonic() - self.told >= _TELL_EVERY:
            self.file.flush()
            self.told = time.monotonic()
            self.say(f"{self.seen:,} of {of:,} creeks")

    def finished(self) -> None:
        """The finished table has taken its place."""
        self.close()
        self.path.unlink(missing_ok=True)

    def close(self) -> None:
        """Leave what there is."""
        if self.file is not None:
            self.file.close()


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
    lines += [
        f"  {each.creek.name}: not worked out: {view.told(each.reason)}"
        for each in found
        if each.reason
    ]
    return [*lines, "A first sieve. Taken as given:", *(f"  {line}" for line in ASSUMED)]


def sifted_beside(table: Path) -> Path:
    """Where what was made of a table goes: beside it, or into the reports of the study it lies in."""
    from ..site.folders import reports_of

    home = table.parent
    return (
        reports_of(home) if (home / "site.toml").is_file() else home
    ) / f"{table.stem}_sifted.csv"
