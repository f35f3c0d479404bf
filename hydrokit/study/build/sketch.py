"""The owner's survey: points as coordinates or as a walk with compass and tape, for a sketch and
nothing else."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...columns import read_csv
from ...errors import InputError, Mistake
from ...files import shown_path
from ...result import Result
from ...sentences import Amount, Sentence
from ...site.schema import Survey

if TYPE_CHECKING:
    import pandas as pd

    from ..study import Study

__all__ = ["Place", "Sketch", "sketch"]

_TURN = 2 * np.pi


@dataclass(frozen=True, eq=False)
class Place:
    """A point of the sketch.

    Parameters
    ----------
    name : str
    x_m, y_m : float
        East and north.
    elevation_m : float
        NaN where not given.
    """

    name: str
    x_m: float
    y_m: float
    _: KW_ONLY
    elevation_m: float


@dataclass(frozen=True, eq=False)
class Sketch(Result):
    """Points and lines of the owner's survey.

    Parameters
    ----------
    places : tuple of Place
    lines : dict of str to tuple of Place
        What is joined, in the order of the sheet.
    misses : tuple of (str, float)
        Points that a walk comes back to, and by how much it misses them in m.
    walked_m : float
        Of all legs of walks.
    """

    places: tuple[Place, ...]
    lines: dict[str, tuple[Place, ...]]
    misses: tuple[tuple[str, float], ...]
    _: KW_ONLY
    walked_m: float

    @property
    def levelled(self) -> dict[str, tuple[Place, ...]]:
        """Lines whose points all have an elevation."""
        return {
            name: places
            for name, places in self.lines.items()
            if len(places) > 1 and all(np.isfinite(each.elevation_m) for each in places)
        }

    def along_m(self, name: str) -> np.ndarray:
        """Level distance along a line, from its first point."""
        x, y = (
            np.array([getattr(each, axis) for each in self.lines[name]]) for axis in ("x_m", "y_m")
        )
        return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])

    def length_m(self, name: str) -> float:
        """Of a line, along its slope where it is levelled."""
        steps = np.diff(self.along_m(name))
        if name in self.levelled:
            steps = np.hypot(steps, np.diff([each.elevation_m for each in self.lines[name]]))
        return float(steps.sum())


def sketch(study: Study) -> Sketch | None:
    """The points of [survey], placed; None where the site file names none.

    Raises
    ------
    InputError
        Every line that cannot be placed, all at once.
    """
    key, named = Survey.schema["points"], study.site.survey.points
    if named is None or key.columns is None:
        return None
    path = study.folder.file(named, "[survey] points")
    table = read_csv(path, key.columns, key.optional)
    mistakes: list[Mistake] = []
    placed: dict[str, Place] = {}
    lines: dict[str, list[Place]] = {}
    misses: list[tuple[str, float]] = []
    walked, before = 0.0, ""
    for _, row in table.iterrows():
        name, told = str(row["name"]), _where(row, placed, before)
        if isinstance(told, (str, Sentence)):
            mistakes.append(Mistake(shown_path(path), f"line {row['line']}", told))
            continue
        x, y, leg, start = told
        walked += leg
        found = Place(name, x, y, elevation_m=float(row.get("elevation", np.nan)))
        if name in placed:
            if not leg > 0:
                mistakes.append(
                    Mistake(
                        shown_path(path),
                        f"line {row['line']}",
                        f"{name!r} has its place already; give each point a name of its own",
                    )
                )
                continue
            misses.append((name, float(np.hypot(x - placed[name].x_m, y - placed[name].y_m))))
            found = placed[name]
        placed[name] = found
        line = str(row.get("part", "") or "")
        if line:
            # a part that begins with a leg begins where the leg does
            lines.setdefault(line, [placed[start]] if start else []).append(found)
        before = name
    if not mistakes and len(placed) < 2:
        mistakes.append(Mistake(shown_path(path), "", "a sketch needs two points at least"))
    if mistakes:
        raise InputError(mistakes)
    joined = {name: tuple(each) for name, each in lines.items()}
    return Sketch(tuple(placed.values()), joined, tuple(misses), walked_m=walked)


def _where(
    row: pd.Series, placed: dict[str, Place], before: str
) -> tuple[float, float, float, str] | str | Sentence:
    """East, north, the leg that led there and where it began; or what is wrong with the row."""
    from ...works.traverse import traverse

    x, y, bearing, distance = (
        float(row.get(each, np.nan)) for each in ("x", "y", "bearing", "distance")
    )
    if np.isfinite(x) and np.isfinite(y):
        return x, y, 0.0, ""
    if not placed:
        return 0.0, 0.0, 0.0, ""
    if not (np.isfinite(bearing) and np.isfinite(distance)):
        return 'has neither x and y nor bearing and distance; give two of them, such as "135 deg" and "42 m"'
    if not 0 <= bearing <= _TURN * (1 + 1e-9) or not distance > 0:
        return Sentence(
            "has a bearing of {bearing} and a distance of {distance}; a bearing lies from 0° "
            "to 360°, a distance above zero",
            bearing=Amount(float(bearing), "angle"),
            distance=Amount(float(distance), "length"),
        )
    start = str(row.get("from") or before)
    if start not in placed:
        return f"begins at {start!r}, which no line above it names"
    leg = traverse.si(bearing, distance)
    here = placed[start]
    return here.x_m + float(leg.x_m[-1]), here.y_m + float(leg.y_m[-1]), distance, start
