"""Whether somebody sits before the notebook, who can turn knobs and read how far a long sum is."""

from __future__ import annotations

__all__ = ["attended", "leave_alone"]

_attended = True


def attended() -> bool:
    """Whether somebody may be there; not so in the kernel of a run."""
    return _attended


def leave_alone() -> None:
    """From now on nobody is there: a panel is its picture, and nothing is said while it is worked out.

    For a run, whose notebooks become pages.
    """
    global _attended
    _attended = False
