"""The published checks: read, run, and shown beside today's deviation."""

from __future__ import annotations

import csv
import importlib
import re
import sys
import warnings
from contextlib import contextmanager
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import Any, Iterator

import numpy as np

from .errors import HydrokitError, InputError, Mistake, RunError
from .files import read_toml, shown_path
from .site.folders import checkout
from .units import Q_, Quantity

__all__ = [
    "KINDS",
    "STANDINGS",
    "Calibrated",
    "Check",
    "Outcome",
    "published_folder",
    "read_calibration",
    "read_checks",
    "run_check",
    "run_checks",
]

KINDS = ("published", "analytic", "independent", "common practice", "from memory", "regression")
# What a check is worth, the strongest first: a value that was read counts for more than one worked
# from what was read.
STANDINGS = (
    "printed",
    "analytic",
    "other program",
    "published formula",
    "worked apart",
    "table copied",
    "common practice",
    "from memory",
    "regression",
)
_KEYS = {"id", "call", "inputs", "expected", "pick", "rtol", "atol", "why", "source", "kind", "how"}


@dataclass(frozen=True, eq=False)
class Check:
    """One row: what to call with what, what must come out, and who says so."""

    id: str
    topic: str
    call: str
    _: KW_ONLY
    inputs: dict
    expected: Any
    source: str
    why: str
    kind: str
    how: str
    pick: str = ""
    rtol: float = 0.0
    atol: float | str = 0.0

    @property
    def standing(self) -> str:
        """What the check is worth as evidence, one of :data:`STANDINGS`: its kind, and how its
        value was come by."""
        if "from memory" in (self.kind, self.how):
            return "from memory"
        if self.kind == "published":
            if self.how == "copied":
                return "table copied"
            return "printed" if self.how.startswith("read") else "published formula"
        if self.kind == "independent":
            return "worked apart" if self.how == "computed" else "other program"
        return self.kind


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came out, how far it is from the expected value, and whether that is near enough.

    Parameters
    ----------
    check : Check
    found : Any
        What the function gave; None where it gave nothing.
    deviation : float
        Largest relative deviation; the largest difference where zero is expected.
    used : float
        Largest share of the tolerance that the difference takes.
    passed : bool
    error : str
        Why there is no result.
    """

    check: Check
    found: Any = None
    deviation: float = float("nan")
    _: KW_ONLY
    used: float = float("inf")
    passed: bool = False
    error: str = ""


def published_folder() -> Path:
    """The folder of the published checks: among the tests of a checkout, else within the package.

    Raises
    ------
    RunError
        There is none.
    """
    root = checkout()
    folder = (
        root / "tests" / "published"
        if root
        else Path(__file__).resolve().parent / "_checks" / "published"
    )
    if not folder.is_dir():
        raise RunError("The published checks are not there; install hydrokit anew.")
    return folder


def read_checks(folder: Path | str) -> list[Check]:
    """All checks of a folder of TOML files.

    Raises
    ------
    InputError
        A row with a missing or unknown key, an unknown kind, no tolerance, or an id used twice.
    """
    checks, mistakes, seen = [], [], set()
    for path in sorted(Path(folder).glob("*.toml")):
        for number, row in enumerate(read_toml(path).get("check", []), 1):
            where = f"check {row.get('id', number)}"
            problems = [f"unknown key '{key}'" for key in set(row) - _KEYS]
            problems += [
                f"no '{key}'"
                for key in ("id", "call", "expected", "why", "source", "kind", "how")
                if not row.get(key) and row.get(key) != 0
            ]
            if row.get("kind") not in KINDS:
                problems.append(f"kind '{row.get('kind')}' is none of {', '.join(KINDS)}")
            if "rtol" not in row and "atol" not in row:
                problems.append("no tolerance (rtol or atol)")
            if (path.stem, row.get("id")) in seen:
                problems.append("this id is given twice")
            seen.add((path.stem, row.get("id")))
            mistakes += [Mistake(shown_path(path), where, problem) for problem in problems]
            if not problems:
                checks.append(
                    Check(
                        topic=path.stem,
                        inputs=row.get("inputs", {}),
                        **{k: v for k, v in row.items() if k != "inputs"},
                    )
                )
    if mistakes:
        raise InputError(mistakes)
    return checks


_CALIBRATED = (0.85, 0.95)  # of the worlds must lie within a 90 % interval


@dataclass(frozen=True, eq=False)
class Calibrated:
    """How often one answer's 90 % interval held the truth of invented creeks, or its P90 the years
    of real records.

    Parameters
    ----------
    date : str
        When it was tried.
    answer : str
    worlds, held, below, above : int
        How many were tried; in how many the interval held the truth; where it lay outside, on which side.
    worth : float
        Independent cases that tell as much: years foretold from the same years are alike.
    """

    date: str
    answer: str
    worlds: int
    _: KW_ONLY
    held: int
    below: int
    above: int
    worth: float

    @property
    def share(self) -> float:
        """Of the worlds, those whose interval held the truth."""
        return self.held / self.worlds

    @property
    def holds(self) -> bool:
        """Whether that is what a 90 % interval claims, within five in a hundred."""
        return _CALIBRATED[0] <= self.share <= _CALIBRATED[1]

    @property
    def interval(self) -> tuple[float, float]:
        """Between which shares that of endless cases lies, 90 %: Jeffreys' interval of a binomial share."""
        from scipy.stats import beta

        held = self.share * self.worth
        law = beta(held + 0.5, self.worth - held + 0.5)
        return float(law.ppf(0.05)), float(law.ppf(0.95))

    @property
    def misses(self) -> bool:
        """Whether so many cases show that it does not: what they leave open lies outside 85 to 95
        in a hundred."""
        low, high = self.interval
        return high < _CALIBRATED[0] or low > _CALIBRATED[1]


def read_calibration(folder: str | Path) -> tuple[Calibrated, ...]:
    """The table of the last calibration beside the checks of a folder; nothing where there is none."""
    path = Path(folder) / "calibration.csv"
    if not path.is_file():
        return ()
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(
            Calibrated(
                date=row["date"],
                answer=row["answer"],
                worlds=int(row["worlds"]),
                held=int(row["held"]),
                below=int(row["below"]),
                above=int(row["above"]),
                worth=float(row.get("worth") or row["worlds"]),
            )
            for row in csv.DictReader(file)
        )


def run_check(check: Check) -> Outcome:
    """Call what the check names and compare. A function outside its validity range only warns."""
    module, _, name = check.call.partition(":")
    function: Any = importlib.import_module(module)
    for part in name.split("."):
        function = getattr(function, part)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = _pick(function(**check.inputs), check.pick)
    expected, found_numbers = _numbers(check.expected, found)
    difference = np.abs(found_numbers - expected)
    allowed = _tolerance(check) + check.rtol * np.abs(expected)
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = np.where(expected != 0, difference / np.abs(expected), difference)
        used = np.where(difference == 0, 0.0, difference / allowed)
    return Outcome(
        check,
        found,
        float(np.max(relative)),
        used=float(np.max(used)),
        passed=bool(np.all(difference <= allowed)),
    )


def run_checks(folder: Path | str) -> tuple[Outcome, ...]:
    """Every check of a folder; one that stops with an error has failed and says why."""
    checks = read_checks(folder)
    with _importable(Path(folder).resolve().parent):
        return tuple(_outcome(check) for check in checks)


def _outcome(check: Check) -> Outcome:
    try:
        return run_check(check)
    except Exception as error:  # noqa: BLE001  whatever it is, the reader of the page shall see it
        return Outcome(check, error=f"{type(error).__name__}: {error}")


@contextmanager
def _importable(folder: Path | str) -> Iterator[None]:
    """Let the worked examples beside the tables be imported."""
    sys.path.insert(0, str(folder))
    try:
        yield
    finally:
        sys.path.remove(str(folder))


def _pick(result: Any, path: str) -> Any:
    for name, index in re.findall(r"\.(\w+(?:\(\))?)|\[([^\]]+)\]", path):
        if name.endswith("()"):
            result = getattr(result, name[:-2])()
        elif name:
            result = getattr(result, name)
        else:
            result = result[int(index) if index.lstrip("-").isdigit() else index.strip("'\"")]
    return result


def _numbers(expected: Any, found: Any) -> tuple[Any, Any]:
    """Both as float arrays in the unit of the expected value."""
    if isinstance(expected, str) or (isinstance(expected, list) and isinstance(expected[0], str)):
        wanted = Q_(expected)
        if not isinstance(found, Quantity):
            if not wanted.unitless:
                raise HydrokitError(f"expected {expected!r}, but the function gave a plain number")
            return np.asarray(wanted.m_as(""), dtype=float), np.asarray(found, dtype=float)
        return np.asarray(wanted.magnitude, dtype=float), np.asarray(
            found.m_as(wanted.units), dtype=float
        )
    if isinstance(found, Quantity):
        raise HydrokitError(
            f"expected the plain number {expected!r}, but the function gave {found:~P}"
        )
    return np.asarray(expected, dtype=float), np.asarray(found, dtype=float)


def _tolerance(check: Check) -> float:
    if isinstance(check.atol, str):
        first = check.expected[0] if isinstance(check.expected, list) else check.expected
        return Q_(check.atol, f"{Q_(first).units:~C}").magnitude
    return float(check.atol)
