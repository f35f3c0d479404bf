"""Studies that many tests read and none changes: each is opened once in a process, so that it is worked out once.

A test that changes a study, or the code below one, opens its own.
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import odd_studies
import short_demos
import small_study

from hydrokit.study.opening import open_study

__all__ = ["DEMOS", "demo", "odd", "short", "small"]

ROOT = Path(__file__).resolve().parents[1]
DEMOS = sorted(each.parent.name for each in ROOT.glob("studies/*/site.toml"))


def _folder() -> Path:
    folder = tempfile.mkdtemp(prefix="hydrokit-tests-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


@cache
def demo(name: str) -> Any:
    """A demo study."""
    return open_study(ROOT / "studies" / name)


@cache
def odd(name: str) -> Any:
    """A study of odd_studies as it stands there."""
    return odd_studies.opened(_folder(), name)


@cache
def short(name: str) -> Any:
    """A demo with two years of record."""
    return open_study(short_demos.without(_folder(), name))


@cache
def small() -> Any:
    """The small study as it stands there."""
    return small_study.changed(_folder())
