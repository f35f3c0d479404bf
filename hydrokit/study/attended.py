"""Whether somebody sits before the notebook, who can turn knobs and read how far a long sum is."""

from __future__ import annotations

__all__ = ["attended", "in_browser", "leave_alone", "shown_in_browser"]

_attended = True
_in_browser = False


def attended() -> bool:
    """Whether somebody may be there; not so in the kernel of a run."""
    return _attended


def leave_alone() -> None:
    """From now on nobody is there: a panel is its picture, and nothing is said while it is worked out.

    For a run, whose notebooks become pages.
    """
    global _attended
    _attended = False


def in_browser() -> bool:
    """Whether the notebook is shown in a browser that `hydrokit lab` opened."""
    return _in_browser


def shown_in_browser() -> None:
    """From now on somebody reads in a browser, where a picture is shown with its words only as HTML."""
    global _in_browser
    _in_browser = True
