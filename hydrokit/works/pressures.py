"""What every metre of a penstock must hold: at rest, when its valve is closed, and under a vacuum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import Finding
from ..tables import row
from ..water import GRAVITY, density
from .pipe import Line
from .profile import LongSection
from .solve import require
from .support import bend_thrust
from .surge import closing_time, critical_time, surge, vacuum_safety, wave_speed
from .transient import water_hammer

__all__ = ["Bend", "Pressures", "penstock_pressures", "profile_bends"]

_REACHES = 60
_SLOWEST = 1000.0  # times the run of a wave up and back
_PERIODS = 4  # round trips of the wave to follow after the valve has shut


@dataclass(frozen=True, eq=False)
class Pressures:
    """Gauge pressures along a penstock. Arrays have one value for each station.

    Parameters
    ----------
    distance_m : ndarray
        Along the slope.
    static_pa, highest_pa, lowest_pa : ndarray
        At rest; highest and lowest while the valve closes (both at rest where no closing time is given).
    rating_pa : ndarray
        Derated for temperature; NaN where unknown.
    velocity_ms, wave_speed_ms : float
        Of the running water, and of a pressure wave; means over the line.
    critical_time_s : float
        In which a wave runs up and back.
    at_once_m : float
        Rise of head at the valve if it were shut at once.
    closing_time_s, surge_m : float or None
        Quickest closing of the valve, and the rise of head over rest that it makes there.
    safe_time_s : float
        Shortest closing that keeps every station within its rating; zero where even a closing at
        once does, infinite where the static pressure alone is too much, NaN without ratings.
    vacuum_safety : float
        Times the full vacuum of the place that the weakest pipe stands; NaN where no wall is known.
    findings : tuple of Finding
    """

    distance_m: np.ndarray
    static_pa: np.ndarray
    highest_pa: np.ndarray
    lowest_pa: np.ndarray
    rating_pa: np.ndarray
    velocity_ms: float
    wave_speed_ms: float
    critical_time_s: float
    at_once_m: float
    closing_time_s: float | None
    surge_m: float | None
    safe_time_s: float
    vacuum_safety: float
    findings: tuple[Finding, ...]

    @property
    def use_of_rating(self) -> float:
        """Highest share of its rating that any station sees; NaN where no rating is known."""
        share = self.highest_pa / self.rating_pa
        return float(np.nanmax(share)) if np.isfinite(share).any() else float("nan")

    @property
    def worst_m(self) -> float:
        """Where that is; the foot where no rating is known."""
        share = self.highest_pa / self.rating_pa
        return float(self.distance_m[int(np.nanargmax(share))] if np.isfinite(share).any() else self.distance_m[-1])


def penstock_pressures(
    section: LongSection, line: Line, flow_m3s: float, closing_time_s: float | None = None, altitude_m: float = 0.0, temperature_k: float = 283.15
) -> Pressures:
    """Highest and lowest pressures along a penstock while the valve at its foot stops a flow.

    Parameters
    ----------
    section : LongSection
        Of the same line at the same flow.
    line : Line
    flow_m3s : float
    closing_time_s : float, optional
        The opening shuts in proportion to time, without a gate's slow start: count the part of the
        travel that does the closing.
    altitude_m, temperature_k : float

    Returns
    -------
    Pressures
        Followed by the method of characteristics (:func:`hydrokit.works.transient.water_hammer`);
        the safe time by Michaud's rule at every station, which lies on the safe side of it.
    """
    require("penstock_pressures", "above zero", flow_m3s=flow_m3s)
    weight = float(density.si(temperature_k)) * GRAVITY
    lengths = np.array([float(pipe.length_m) for pipe in line.pipes])
    speeds, found = _wave_speeds(line)
    velocities = np.array([float(pipe.velocity_si(flow_m3s)) for pipe in line.pipes])
    length = float(lengths.sum())
    wave, velocity = length / float(np.sum(lengths / speeds)), float(np.sum(lengths * velocities)) / length
    # Where the line's own length differs from the profile's, stations are kept in proportion.
    distance = section.distance_m * (length / float(section.distance_m[-1]))
    highest, lowest, rise = section.static_pressure_pa, section.static_pressure_pa, None
    static_head = float(section.static_grade_m[-1] - section.elevation_m[-1])
    if closing_time_s is not None:
        # What closes slower than that raises next to nothing, and would take long to follow.
        shut_s = min(closing_time_s, _SLOWEST * float(critical_time.si(length, wave)))
        moved = water_hammer.si(
            line, speeds, flow_m3s, static_head, np.array([0.0, shut_s]), np.array([1.0, 0.0]),
            shut_s + _PERIODS * 2 * length / wave, None, distance, section.elevation_m - section.elevation_m[-1], _REACHES, temperature_k, altitude_m,
        )  # fmt: skip
        above = section.elevation_m - section.elevation_m[-1]
        highest = np.maximum((np.interp(distance, moved.chainage_m, moved.highest_m) - above) * weight, section.static_pressure_pa)
        lowest = (np.interp(distance, moved.chainage_m, moved.lowest_m) - above) * weight
        rise = float(moved.highest_m[-1]) - static_head
        found += [*moved.findings, *_strain(section, highest)]
    times = closing_time.si((section.rating_pa - section.static_pressure_pa)[1:] / weight, velocity, wave, distance[1:])
    return Pressures(
        distance_m=section.distance_m, static_pa=section.static_pressure_pa, highest_pa=highest, lowest_pa=lowest, rating_pa=section.rating_pa,
        velocity_ms=velocity, wave_speed_ms=wave, critical_time_s=float(critical_time.si(length, wave)), at_once_m=float(surge.si(velocity, wave, length)),
        closing_time_s=closing_time_s, surge_m=rise, safe_time_s=float(np.nanmax(times)) if np.isfinite(section.rating_pa).any() else float("nan"),
        vacuum_safety=_vacuum_safety(line, altitude_m), findings=tuple(found),
    )  # fmt: skip


def _wave_speeds(line: Line) -> tuple[np.ndarray, list[Finding]]:
    """One for each pipe; a wall that is not known is taken as rigid, which gives too high a surge."""
    speeds, unknown = [], []
    for pipe in line.pipes:
        if pipe.wall_m and pipe.material:
            modulus = float(row("materials", pipe.material)["elastic_modulus_gpa"]) * 1e9
            speeds.append(float(wave_speed.si(pipe.diameter_m, pipe.wall_m, modulus)))
        else:
            unknown.append(pipe.name)
            speeds.append(float(wave_speed.si(pipe.diameter_m, 1.0)))
    found = [Finding("note", "surge", "the wall of a pipe is not known: it is taken as rigid, and the surge told is too high")] if unknown else []
    return np.array(speeds), found


def _vacuum_safety(line: Line, altitude_m: float) -> float:
    """Least over the pipes, with the short-term modulus: a vacuum lasts minutes."""
    safety = [float("nan")]
    for pipe in line.pipes:
        if pipe.wall_m and pipe.outside_diameter_m and pipe.material:
            told = row("materials", pipe.material)
            ratio = pipe.outside_diameter_m / pipe.wall_m
            safety.append(float(vacuum_safety.si(ratio, float(told["elastic_modulus_gpa"]) * 1e9, float(told["poisson"]), altitude_m)))
    return float(np.nanmin(safety)) if len(safety) > 1 else float("nan")


def _strain(section: LongSection, highest: np.ndarray) -> list[Finding]:
    share = highest / section.rating_pa
    if not np.isfinite(share).any() or np.nanmax(share) <= 1:
        return []
    where = section.distance_m[int(np.nanargmax(share))]
    text = f"static pressure and surge together reach {np.nanmax(share):.0%} of the derated rating at {where:.0f} m: close the valve more slowly, or lay stronger pipe"
    return [Finding("problem", "surge", text)]


# --- bends ------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Bend:
    """A bend, and the force with which it is pushed outwards.

    Parameters
    ----------
    distance_m : float
        Along the slope.
    angle_rad : float
    pressure_pa : float
        Highest there.
    thrust_n : float
    """

    distance_m: float
    angle_rad: float
    pressure_pa: float
    thrust_n: float


def profile_bends(pressures: Pressures, line: Line, flow_m3s: float, distance_m: Any, angle_rad: Any) -> tuple[Bend, ...]:
    """The bends of a penstock with their thrust, those first that push hardest.

    Parameters
    ----------
    pressures : Pressures
    line : Line
    flow_m3s : float
    distance_m, angle_rad : ndarray
        Of the bends.
    """
    ends = np.cumsum([float(pipe.length_m) for pipe in line.pipes])
    ends = ends / ends[-1] * float(pressures.distance_m[-1])
    made = []
    for where, angle in zip(np.atleast_1d(distance_m), np.atleast_1d(angle_rad)):
        pipe = line.pipes[min(int(np.searchsorted(ends, where)), len(line.pipes) - 1)]
        pressure = float(np.interp(where, pressures.distance_m, pressures.highest_pa))
        width = pipe.outside_diameter_m or pipe.diameter_m
        made.append(Bend(float(where), float(angle), pressure, float(bend_thrust.si(pressure, width, angle, flow_m3s))))
    return tuple(sorted(made, key=lambda each: -each.thrust_n))
