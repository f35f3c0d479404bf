"""What every metre of a penstock must hold: at rest, when its valve is closed, and under a vacuum."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding
from ..result import Result
from ..sentences import Amount, Sentence
from ..tables import row
from ..water import GRAVITY, density, head_to_pressure
from .pipe import Line
from .profile import LongSection, siphon_limit
from .solve import require
from .surge import critical_time, vacuum_safety, wave_speed
from .transient import grid_reaches, rejoining, water_hammer

__all__ = ["Pressures", "penstock_pressures", "rounded_up", "valve_time"]

_REACHES, _MOST_REACHES = 60, 240
_FITS = 0.01  # a wave speed moved by less than this to fit the grid of reaches
# Stopped at once, waves meet or miss each other by the ratio of the pipes' travel times, which a
# rough grid rounds away.
_FITS_AT_ONCE, _MOST_AT_ONCE = 0.002, 400
_SLOWEST = 1000.0  # times the run of a wave up and back
_PERIODS = 4  # round trips of the wave to follow after the valve has shut
# Where bores or walls differ the waves meet again and again, and the highest comes late.
_PERIODS_OF_SEVERAL, _MOST_STEPS = 25, 8000
_SLOWER, _TRIES, _HALVED = (
    1.2,
    40,
    5,
)  # by how much, and how often, a closing is made slower until it is borne; then the last step halved
_JUST = 1e-6  # by which a station may pass its rating: what the arithmetic has left


@dataclass(frozen=True, eq=False)
class Pressures(Result):
    """Gauge pressures along a penstock. Arrays have one value for each station.

    Parameters
    ----------
    distance_m : ndarray
        Along the slope.
    static_pa, highest_pa, lowest_pa : ndarray
        At rest; highest and lowest while the valve closes (both at rest where no closing time is given).
    at_once_pa : ndarray
        Highest if the whole flow were stopped at once.
    rating_pa : ndarray
        Derated for temperature; NaN where unknown.
    velocity_ms, wave_speed_ms : float
        Of the running water, and of a pressure wave; means over the line.
    slowest_ms, fastest_ms : float
        Of the running water in the widest and in the narrowest pipe.
    critical_time_s : float
        In which a wave runs up and back.
    at_once_m : float
        Rise of head over rest at the valve if it were shut at once: the highest that the waves
        reach, which in a line of several pipes is not the first.
    at_once_parts_m : float or None
        Where the water column would then part; the blow when it closes again is in no other of these figures.
    rejoined_m : tuple of float or None
        From what to what that blow may raise the head over rest at the valve, if the column parts.
    closing_time_s, surge_m : float or None
        Quickest closing of the valve, and the rise of head over rest that it makes there.
    safe_time_s : float
        Shortest even closing that keeps every station within its rating and the column whole; zero
        where even a closing at once does, infinite where the static pressure alone is too much, NaN
        without ratings.
    vacuum_safety : float
        Times the full vacuum of the place that the weakest pipe stands; NaN where no wall is known.
    findings : tuple of Finding
    """

    distance_m: np.ndarray
    static_pa: np.ndarray
    highest_pa: np.ndarray
    _: KW_ONLY
    lowest_pa: np.ndarray
    at_once_pa: np.ndarray
    rating_pa: np.ndarray
    velocity_ms: float
    slowest_ms: float
    fastest_ms: float
    wave_speed_ms: float
    critical_time_s: float
    at_once_m: float
    at_once_parts_m: float | None
    rejoined_m: tuple[float, float] | None
    closing_time_s: float | None
    surge_m: float | None
    safe_time_s: float
    vacuum_safety: float
    findings: tuple[Finding, ...]

    @property
    def use_of_rating(self) -> float:
        """Highest share of its rating that any station sees; NaN where no rating is known."""
        return _most(self.highest_pa / self.rating_pa)

    @property
    def use_at_once(self) -> float:
        """The same if the whole flow were stopped at once."""
        return _most(self.at_once_pa / self.rating_pa)

    @property
    def rejoined_pa(self) -> float:
        """Highest pressure at the foot where the water column parts and rejoins; NaN where it stays whole."""
        if self.rejoined_m is None:
            return float("nan")
        return float(self.static_pa[-1] + head_to_pressure.si(self.rejoined_m[1]))

    @property
    def rejoined_use(self) -> float:
        """The same as a share of the rating there; NaN where that is not known."""
        return float(self.rejoined_pa / self.rating_pa[-1])

    @property
    def worst_m(self) -> float:
        """Where the highest share is; the foot where no rating is known."""
        share = self.highest_pa / self.rating_pa
        return float(
            self.distance_m[int(np.nanargmax(share))]
            if np.isfinite(share).any()
            else self.distance_m[-1]
        )

    @property
    def too_fast(self) -> bool:
        """Whether the valve closes, or may close, faster than the line bears."""
        return bool(
            0 < self.safe_time_s < np.inf
            and (self.closing_time_s is None or self.closing_time_s < self.safe_time_s)
        )


def _most(share: np.ndarray) -> float:
    return float(np.nanmax(share)) if np.isfinite(share).any() else float("nan")


def penstock_pressures(
    section: LongSection,
    line: Line,
    flow_m3s: float,
    closing_time_s: float | None = None,
    altitude_m: float = 0.0,
    temperature_k: float = 283.15,
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
        Followed by the method of characteristics (:func:`hydrokit.works.transient.water_hammer`),
        the closing at once as well. The safe time is begun with Michaud's rule at every station and
        made longer until the waves followed stay within the ratings and the column stays whole.
    """
    require("penstock_pressures", "above zero", flow_m3s=flow_m3s)
    line = line.joined
    waves = _Waves(section, line, flow_m3s, altitude_m, temperature_k)
    at_once = waves.followed(0.0)
    # Waves that meet in a line of several pipes: no closing raises more than one at once.
    closed = None if closing_time_s is None else waves.followed(closing_time_s)
    found, safe = list(waves.findings), _safe_time(section, waves, at_once)
    if closed is not None:
        found += [*closed.findings, *_strain(section, closed.highest_pa)]
    at_rest = section.static_pressure_pa
    rejoined = None if at_once.parts_m is None else waves.rejoined(at_once.rise_m)
    if rejoined is not None and (closed is None or closed.parts_m is None):
        level = "caution" if closing_time_s is None or closing_time_s < safe else "note"
        beyond = at_rest[-1] + head_to_pressure.si(rejoined[1]) > section.rating_pa[-1]
        found.append(
            Finding(
                level,
                "surge",
                Sentence(
                    "stopped at once, as by a blockage or a valve that slams, the water column "
                    "would part at {place} along the pipe; rejoining it may raise the head at the "
                    "foot by {low} to {high}" + (", beyond the pipe's rating" if beyond else ""),
                    place=Amount(at_once.parts_m, "length"),
                    low=Amount(rejoined[0], "head", 2),
                    high=Amount(rejoined[1], "head", 2),
                ),
            )
        )
    return Pressures(
        distance_m=section.distance_m,
        static_pa=at_rest,
        highest_pa=at_rest if closed is None else closed.highest_pa,
        lowest_pa=at_rest if closed is None else closed.lowest_pa,
        at_once_pa=at_once.highest_pa
        if closed is None
        else np.maximum(at_once.highest_pa, closed.highest_pa),
        rating_pa=section.rating_pa,
        velocity_ms=waves.velocity_ms,
        slowest_ms=float(waves.velocities_ms.min()),
        fastest_ms=float(waves.velocities_ms.max()),
        wave_speed_ms=waves.wave_ms,
        critical_time_s=waves.critical_s,
        at_once_m=at_once.rise_m,
        at_once_parts_m=at_once.parts_m,
        rejoined_m=rejoined,
        closing_time_s=closing_time_s,
        surge_m=None if closed is None else closed.rise_m,
        safe_time_s=safe,
        vacuum_safety=_vacuum_safety(line, altitude_m),
        findings=tuple(found),
    )


@dataclass(frozen=True, eq=False)
class _Followed:
    """What one closing does."""

    highest_pa: np.ndarray
    lowest_pa: np.ndarray
    rise_m: float
    _: KW_ONLY
    parts_m: float | None
    findings: tuple[Finding, ...]


class _Waves:
    """The line with what its waves need."""

    def __init__(
        self,
        section: LongSection,
        line: Line,
        flow_m3s: float,
        altitude_m: float,
        temperature_k: float,
    ) -> None:
        self.section, self.line, self.flow_m3s, self.altitude_m, self.temperature_k = (
            section,
            line,
            flow_m3s,
            altitude_m,
            temperature_k,
        )
        self.weight = float(density.si(temperature_k)) * GRAVITY
        self.lengths = np.array([float(pipe.length_m) for pipe in line.pipes])
        self.speeds, self.findings = _wave_speeds(line)
        self.velocities_ms = velocities = np.array(
            [float(pipe.velocity_si(flow_m3s)) for pipe in line.pipes]
        )
        length = float(self.lengths.sum())
        # Where the line's own length differs from the profile's, stations are kept in proportion.
        self.distance = section.distance_m * (length / float(section.distance_m[-1]))
        self.wave_ms, self.velocity_ms = (
            length / float(np.sum(self.lengths / self.speeds)),
            float(np.sum(self.lengths * velocities)) / length,
        )
        self.critical_s = float(critical_time.si(length, self.wave_ms))
        # What the water above each station carries, as length times speed.
        ends = np.concatenate([[0.0], np.cumsum(self.lengths)])
        self.carried = np.interp(
            self.distance, ends, np.concatenate([[0.0], np.cumsum(self.lengths * velocities)])
        )
        self.above = section.elevation_m - section.elevation_m[-1]
        self.static_m = float(section.static_grade_m[-1] - section.elevation_m[-1])
        travel = self.lengths / self.speeds
        self.reaches = grid_reaches(travel, _FITS, _REACHES, _MOST_REACHES)
        self.reaches_at_once = grid_reaches(travel, _FITS_AT_ONCE, _REACHES, _MOST_AT_ONCE)
        self.several = len(line.pipes) > 1

    @property
    def parted_while_running(self) -> bool:
        """Whether the steady flow alone draws the water below what it bears."""
        limit = siphon_limit.si(self.altitude_m, self.temperature_k)
        return bool(np.min(self.section.running_pressure_pa) < -limit * self.weight)

    def rejoined(self, rise_m: float) -> tuple[float, float]:
        """Range of the blow where the column parts."""
        limit = float(siphon_limit.si(self.altitude_m, self.temperature_k))
        low, high = rejoining.si(rise_m, self.static_m + limit)
        return float(low), float(high)

    def followed(self, time_s: float) -> _Followed:
        """The waves of an even closing in this time; at once for nought."""
        # What closes slower than that raises next to nothing, and would take long to follow.
        shut_s = min(time_s, _SLOWEST * self.critical_s)
        reaches, periods = self.reaches if shut_s else self.reaches_at_once, _PERIODS
        if self.several:
            steps = _MOST_STEPS // (2 * reaches)
            periods = (
                int(np.clip(steps, 2 * _PERIODS, _PERIODS_OF_SEVERAL))
                if shut_s
                else _PERIODS_OF_SEVERAL
            )
        moved = water_hammer.si(
            self.line,
            self.speeds,
            self.flow_m3s,
            self.static_m,
            np.array([0.0, shut_s] if shut_s else [0.0]),
            np.array([1.0, 0.0] if shut_s else [0.0]),
            shut_s + periods * self.critical_s,
            None,
            self.distance,
            self.above,
            reaches,
            self.temperature_k,
            self.altitude_m,
        )
        highest, lowest = (
            (np.interp(self.distance, moved.chainage_m, each) - self.above) * self.weight
            for each in (moved.highest_m, moved.lowest_m)
        )
        return _Followed(
            np.maximum(highest, self.section.static_pressure_pa),
            lowest,
            float(moved.highest_m[-1]) - self.static_m,
            parts_m=moved.parts_m,
            findings=moved.findings,
        )


def _safe_time(section: LongSection, waves: _Waves, at_once: _Followed) -> float:
    """Shortest even closing that every station bears; see :class:`Pressures`."""
    rated = np.isfinite(section.rating_pa)
    if not rated.any():
        return float("nan")
    margin = (section.rating_pa - section.static_pressure_pa) / waves.weight
    if np.any(margin[rated] <= 0):
        return float("inf")

    broken = waves.parted_while_running  # told elsewhere: no closing mends it

    def borne(seen: _Followed) -> bool:
        return (broken or seen.parts_m is None) and not np.any(
            seen.highest_pa[rated] > section.rating_pa[rated] * (1 + _JUST)
        )

    if borne(at_once):
        return 0.0
    with np.errstate(invalid="ignore"):
        michaud = 2 * waves.carried / (GRAVITY * margin)
    time, short = max(float(np.nanmax(michaud)), waves.critical_s / _SLOWER**8), 0.0
    for _ in range(_TRIES):
        if borne(waves.followed(time)):
            break
        time, short = time * _SLOWER, time
    else:
        return float("inf")
    for _ in range(_HALVED if short else 0):
        middle = (short + time) / 2
        time, short = (middle, short) if borne(waves.followed(middle)) else (time, middle)
    return time


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
    found = (
        [
            Finding(
                "note",
                "surge",
                "the wall of a pipe is not known: it is taken as rigid, so the surge shown is too high",
            )
        ]
        if unknown
        else []
    )
    return np.array(speeds), found


def _vacuum_safety(line: Line, altitude_m: float) -> float:
    """Least over the pipes, with the short-term modulus: a vacuum lasts minutes."""
    safety = [float("nan")]
    for pipe in line.pipes:
        if pipe.wall_m and pipe.outside_diameter_m and pipe.material:
            told = row("materials", pipe.material)
            ratio = pipe.outside_diameter_m / pipe.wall_m
            safety.append(
                float(
                    vacuum_safety.si(
                        ratio,
                        float(told["elastic_modulus_gpa"]) * 1e9,
                        float(told["poisson"]),
                        altitude_m,
                    )
                )
            )
    return float(np.nanmin(safety)) if len(safety) > 1 else float("nan")


def _strain(section: LongSection, highest: np.ndarray) -> list[Finding]:
    share = highest / section.rating_pa
    if not np.isfinite(share).any() or np.nanmax(share) <= 1:
        return []
    where = section.distance_m[int(np.nanargmax(share))]
    text = Sentence(
        "static pressure and surge together reach {share} of the derated rating at {place}: close "
        "the valve more slowly, or lay stronger pipe",
        share=Amount(np.nanmax(share), "share"),
        place=Amount(where, "length"),
    )
    return [Finding("problem", "surge", text)]


# --- how slowly to close ------------------------------------------------------------------------

# Common practice: the last quarter of a gate's travel does the closing, and nobody shuts one faster
# than this.
_TRAVEL, _HAND_S = 4.0, 10.0


def valve_time(pressures: Pressures) -> float:
    """Time in s to take over shutting a valve or needle at the foot: its whole travel, rounded up.

    The shortest even closing that the line bears counts for the last quarter of the travel; never
    less than four times the round trip of a wave (sixteen times without a rating), nor than ten
    seconds, nor than the valve itself takes. Infinite where the pressure at rest alone is too much.
    """
    safe = (
        4 * pressures.critical_time_s if np.isnan(pressures.safe_time_s) else pressures.safe_time_s
    )
    return rounded_up(
        max(
            _TRAVEL * safe,
            _TRAVEL * pressures.critical_time_s,
            pressures.closing_time_s or 0.0,
            _HAND_S,
        ),
        2,
    )


def rounded_up(value: float, digits: int = 2) -> float:
    """A number to so many significant digits, never smaller than it was.

    >>> rounded_up(9.68), rounded_up(10.0), rounded_up(2.31), rounded_up(123.0), rounded_up(0.0)
    (9.7, 10.0, 2.4, 130.0, 0.0)
    """
    if not np.isfinite(value) or value <= 0:
        return value
    step = 10.0 ** (np.floor(np.log10(value)) + 1 - digits)
    return float(f"{np.ceil(value / step * (1 - 1e-12)) * step:.12g}")
