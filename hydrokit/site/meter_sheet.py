"""From the rows of a current-meter sheet to verticals, and the last visit's flow by every way of its sum."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..errors import InputError, Mistake
from ..files import shown_path
from .sheets import filled

if TYPE_CHECKING:
    import pandas as pd

    from ..stream.gauging import Gauging
    from .opened import Opened

__all__ = ["VELOCITIES", "meter_ways", "verticals"]

# Columns of a current-meter sheet, by the points they make in a vertical; the most points that are
# there count.
VELOCITIES = {
    5: (
        "velocity at surface",
        "velocity at 0.2",
        "velocity at 0.6",
        "velocity at 0.8",
        "velocity at bed",
    ),
    3: ("velocity at 0.2", "velocity at 0.6", "velocity at 0.8"),
    2: ("velocity at 0.2", "velocity at 0.8"),
    1: ("velocity",),
}


def verticals(path: Path, table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """(distance, depth, mean velocity, fewest points in a vertical) of the current-meter sheet."""
    from ..stream.verticals import vertical_velocity

    filled(path, table, "distance", "depth", none_below_zero=("depth",))
    distance, depth = table["distance"].to_numpy(), table["depth"].to_numpy()
    if (
        "velocity" not in table and "velocity at 0.6" in table
    ):  # one point stands at 0.6 of the depth
        table = table.assign(velocity=table["velocity at 0.6"])
    mean, points = np.full(len(table), np.nan), np.zeros(len(table), dtype=int)
    for count, names in VELOCITIES.items():
        if all(name in table for name in names):
            values = table[list(names)].to_numpy()
            there = (points == 0) & ~np.isnan(values).any(axis=1)
            mean[there], points[there] = (
                vertical_velocity.si(values[there], count).reshape(-1),
                count,
            )
    if not points.any():
        raise InputError(
            Mistake(
                shown_path(path),
                "",
                (
                    "there is no velocity; write the column velocity [m/s] (at 0.6 of the depth), "
                    "or velocity at 0.2 [m/s] and velocity at 0.8 [m/s]"
                ),
            )
        )
    read = points[(depth > 0) & (points > 0)]
    return distance, depth, mean, int(read.min()) if len(read) else 1


def meter_ways(study: Opened) -> tuple[tuple[str, str, Gauging], ...] | None:
    """The last visit with a current meter in every way of sum and uncertainty: (panels, way,
    Gauging); None without one."""
    visit = next(
        (each for each in reversed(study.visits_gauged) if each.kind == "current meter"), None
    )
    if visit is None:
        return None
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = verticals(visit.path, visit.rows)
    ways = [("mid-section", "ISO 748"), ("mean-section", "ISO 748")] + (
        [("mid-section", "interpolated variance")] if len(distance) >= 8 else []
    )
    return tuple(
        (panels, way, velocity_area.si(distance, depth, velocity, panels, points, way))
        for panels, way in ways
    )
