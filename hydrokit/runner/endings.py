"""How a verb ends: what a run left, an error in one line, a signal as by hand."""

from __future__ import annotations

import os
import signal
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import (
    HydrokitError,
    InputError,
    UnitsError,
    counted,
)
from .terminal import BAD_INPUT, FAILED, complain, say, short_path, tally

if TYPE_CHECKING:
    from .run import RunOutcome

__all__ = ["end_as_by_hand", "import_nothing_from_here", "tell_outcome", "told_in_one_line"]
_FEW = 5  # names in a sentence


def tell_outcome(study: str, outcome: RunOutcome) -> None:
    """What a run left, in a few lines."""
    say(f"{study}: {counted(len(outcome.notebooks), 'notebook')} run; {tally(outcome.findings)}")
    if not outcome.compared:
        say(
            "no accepted results yet"
            + ("; these are now" if outcome.accepted else "; --accept makes these so")
        )
    else:
        _tell_moves(outcome)
    if outcome.vanished:
        named = ", ".join(outcome.vanished[:_FEW]) + (
            " and so on" if len(outcome.vanished) > _FEW else ""
        )
        complain(
            f"Not accepted: {counted(len(outcome.vanished), 'accepted number')} would vanish "
            f"({named}). Find out why; if that is meant, run with --accept --gone."
        )
    elif outcome.moves:
        say(
            "these are now the accepted results"
            if outcome.accepted
            else "--accept makes these the accepted results"
        )
    say(f"open {short_path(outcome.index)}")
    if outcome.beside:
        say(f"beside it: {', '.join(outcome.beside)}")


def _tell_moves(outcome: Any) -> None:
    """What moved, the inputs first."""
    since = f", accepted {outcome.told.since}" if outcome.told.since else ""
    if outcome.told.inputs:
        say(f"{counted(len(outcome.told.inputs), 'input')} changed since the results{since}:")
        for line in outcome.told.inputs:
            say(f"  {line}")
    if not outcome.moves:
        say("no headline number moved against the accepted results")
        return
    say(f"{counted(len(outcome.moves), 'headline number')} moved against the accepted results:")
    for line in outcome.told.numbers or outcome.moves:
        say(f"  {line}")


def end_as_by_hand(verb: str) -> None:
    """Let a wish to end (of a session that closes, of a shutdown) tidy up as Ctrl-C does;
    JupyterLab sees to its own."""
    if verb != "lab" and threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            if hasattr(signal, name) and signal.getsignal(getattr(signal, name)) is signal.SIG_DFL:
                signal.signal(getattr(signal, name), signal.default_int_handler)


def import_nothing_from_here() -> None:
    """Let neither this process nor one that it starts import what lies in the working folder.

    ``python -m hydrokit`` puts that folder on the path, and so does each new Python process.
    """
    from ..runner.launch import for_children, own_path

    own_path()
    os.environ.update(for_children())


def told_in_one_line(error: BaseException) -> int:
    """Say what went wrong in sentences, and the exit code for it."""
    if isinstance(error, (InputError, UnitsError)):
        for line in error.lines if isinstance(error, InputError) else (str(error),):
            complain(line)
        return BAD_INPUT
    if isinstance(error, HydrokitError):
        complain(str(error))
    elif isinstance(error, OSError) and not isinstance(error, BrokenPipeError):
        from ..site.folders import in_one_sentence

        complain(in_one_sentence(error, Path(".")))
        return BAD_INPUT
    elif isinstance(error, KeyboardInterrupt):
        complain("Stopped; the last good reports are as they were.")
    elif isinstance(error, BrokenPipeError):
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115  whoever read along has gone; nothing is left to say
    else:
        complain(
            f"hydrokit met an error it did not expect ({type(error).__name__}: {error}); --debug shows where."
        )
    return FAILED
