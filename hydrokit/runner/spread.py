"""Work handed out side by side, through whatever can run it.

The executor is anybody's: the standard library's processes, or dask.distributed's. What is added
here is only that results keep their order, that none is lost with the worker it was given to, and
that no more is handed out than a few pieces ahead.
"""

from __future__ import annotations

import re
import socket
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    wait,
)
from contextlib import AbstractContextManager, contextmanager
from typing import Any

from ..errors import InputError, Mistake, RunError, one_line

__all__ = ["Opener", "cluster", "each_of", "in_order", "processes"]

_TOGETHER = 2  # times that a piece is handed out beside others
_AHEAD = 32  # pieces in the hands of workers, or done before their turn
_SECONDS = 5  # to reach a cluster, and again for its first worker
_ADDRESS = re.compile(r"(?:(?:tcp|tls|ws|wss)://)?([A-Za-z0-9._-]+|\[[0-9A-Fa-f:.]+\]):(\d{1,5})/?")

Opener = Callable[[], AbstractContextManager[Executor]]
Work = Callable[..., Any]


def processes(workers: int) -> Opener:
    """Processes on this machine."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    from .launch import CHECKOUT, quiet_worker

    @contextmanager
    def opened() -> Iterator[Executor]:
        # A new process searches the folders of this one. One that lends it a checkout is the last,
        # and left out again as soon as it is up.
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
                    f"The scheduler at {one_line(address)} has no workers; start some with: "
                    f"dask worker {one_line(address)}"
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
                (
                    f"'{one_line(address)}' is not the address of a scheduler; write for example "
                    "tcp://192.168.1.5:8786"
                ),
            )
        )
    return found[1].strip("[]"), int(found[2])


class _Line:
    """Pieces on their way: not yet handed out, with a worker, done before their turn."""

    def __init__(self, jobs: Iterable[tuple[Any, ...]]) -> None:
        self.coming = enumerate(jobs)
        self.open: dict[int, tuple[Any, ...]] = {}  # handed out once or more, not done
        self.lost: Counter[int] = Counter()
        self.done: dict[int, Any] = {}
        self.turn = 0
        self.ended = False

    def next_one(self) -> int | None:
        """The next piece to hand out; None where there is none, or too much waits for its turn."""
        if self.ended or len(self.open) + len(self.done) >= _AHEAD:
            return None
        following = next(self.coming, None)
        if following is None:
            self.ended = True
            return None
        self.open[following[0]] = following[1]
        return following[0]

    def finish(self, place: int, found: Any) -> None:
        self.done[place] = found
        del self.open[place]

    def ready(self) -> Iterator[Any]:
        """Results whose turn has come."""
        while self.turn in self.done:
            yield self.done.pop(self.turn)
            self.turn += 1


def in_order(
    work: Work,
    jobs: Iterable[tuple[object, ...]],
    opener: Opener,
    lost: Callable[[tuple[object, ...]], object],
) -> Iterator[Any]:
    """What `work` makes of each piece, in the order of the pieces, as soon as it and all before it are there.

    A piece whose worker was lost is handed out again; one that loses every worker it is given to
    comes out as ``lost(piece)``, so that the others are not held up. An error that `work` raises is
    raised here.
    """
    line = _Line(jobs)
    while line.open or not line.ended:
        # one at a time, so that it is known which piece a worker was lost with
        for place in [each for each in line.open if line.lost[each] >= _TOGETHER]:
            found, whole = alone(work, line.open[place], opener)
            line.finish(place, found if whole else lost(line.open[place]))
            yield from line.ready()
        with opener() as executor:
            yield from _beside(work, executor, line)
    yield from line.ready()


def _beside(work: Work, executor: Executor, line: _Line) -> Iterator[Any]:
    """Hand out pieces until all are done, or a worker was lost and those handed out have come back."""
    again, running = list(line.open), {}
    whole = True
    while True:
        try:
            while whole:
                place = again.pop(0) if again else line.next_one()
                if place is None:
                    break
                running[executor.submit(work, *line.open[place])] = place
        except BrokenExecutor:  # lost while pieces were still being handed out
            whole = False
        if not running:
            return
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            place = running.pop(future)
            found, came = _result(future)
            if came:
                line.finish(place, found)
            else:
                line.lost[place] += 1
                whole = False
        yield from line.ready()


def _result(future: Future[Any]) -> tuple[Any, bool]:
    """What came of a piece, and whether it came at all."""
    try:
        return future.result(), True
    except (BrokenExecutor, CancelledError):
        return None, False
    except Exception as error:
        # distributed's word for it, known only where that is installed
        if type(error).__name__ != "KilledWorker":
            raise
        return None, False


def alone(work: Work, job: tuple[object, ...], opener: Opener) -> tuple[Any, bool]:
    """What a piece comes to with no other beside it, and whether it came at all."""
    with opener() as executor:
        try:
            return _result(executor.submit(work, *job))
        except BrokenExecutor:
            return None, False


def each_of(
    work: Work,
    rows: Sequence[tuple[object, ...]],
    opener: Opener,
    lost: Callable[[tuple[object, ...]], object],
) -> list[Any]:
    """All of :func:`in_order`."""
    return list(in_order(work, rows, opener, lost))
