"""The line on the ground: surveyed profile, grade lines, and the pressure every metre must hold."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Iterator

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence, joined
from ..units import Floats, Given, Number, Outside, Quantity, units
from ..water import GRAVITY, air_pressure, density, vapour_pressure, viscosity
from .fittings import derating
from .pipe import Line
from .solve import require

__all__ = ["LongSection", "Profile", "long_section", "siphon_limit", "too_hot"]

_FOOT = 0.3048
# Levels 1 ft taken for 1 m stand out by this much of the fall of the whole line.
_STANDS_OUT = 0.15


@dataclass(frozen=True, eq=False)
class Profile(Result):
    """Surveyed stations from the intake down, in SI units.

    Parameters
    ----------
    chainage_m : ndarray
        Distance from the intake, rising.
    elevation_m : ndarray
        Level of the pipe's axis.
    along_slope : bool
        Whether the chainage was taped along the pipe (True) or is a horizontal distance, as from a
        map (False).
    """

    chainage_m: np.ndarray
    elevation_m: np.ndarray
    along_slope: bool = False

    def __post_init__(self) -> None:
        chainage, elevation = (
            np.array(each, dtype=float) for each in (self.chainage_m, self.elevation_m)
        )
        mistakes = profile_mistakes(chainage, elevation, self.along_slope)
        if mistakes:
            raise HydrokitError("profile: " + joined(mistakes))
        for name, numbers in (("chainage_m", chainage), ("elevation_m", elevation)):
            numbers.flags.writeable = False
            object.__setattr__(self, name, numbers)

    @property
    def distance_m(self) -> np.ndarray:
        """Distance of every station from the first, along the slope."""
        run = np.diff(self.chainage_m)
        step = run if self.along_slope else np.hypot(run, np.diff(self.elevation_m))
        return np.concatenate([[0.0], np.cumsum(step)])

    @property
    def length_m(self) -> float:
        """Length along the slope."""
        return float(self.distance_m[-1])

    @property
    def gross_head_m(self) -> float:
        """Fall from the first to the last station."""
        return float(self.elevation_m[0] - self.elevation_m[-1])

    @property
    def length(self) -> Quantity:
        """Length along the slope, a quantity."""
        return Quantity(self.length_m, "m")

    @property
    def gross_head(self) -> Quantity:
        """Fall from the first to the last station, a quantity."""
        return Quantity(self.gross_head_m, "m")

    def elevation_at(self, distance_m: Number) -> Quantity:
        """Level of the axis at distances along the slope."""
        return np.interp(distance_m, self.distance_m, self.elevation_m)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What looks wrong without being impossible."""
        return tuple(Finding("caution", "profile", text) for text in _suspicions(self))


def profile_mistakes(
    chainage: Floats, elevation: Floats, along_slope: bool = False
) -> list[str | Sentence]:
    """Why two columns are no profile: one sentence for each mistake, an empty list for none."""
    if chainage.ndim != 1 or chainage.shape != elevation.shape or chainage.size < 2:
        return ["needs at least two stations, each with a chainage and an elevation"]
    mistakes: list[str | Sentence] = []
    if not (np.isfinite(chainage).all() and np.isfinite(elevation).all()):
        return ["a chainage or an elevation is missing; fill or remove that station"]
    step = np.diff(chainage)
    if (step == 0).any():
        first = int(np.flatnonzero(step == 0)[0])
        mistakes.append(
            Sentence(
                "the station at {place} is given twice; keep one",
                place=Amount(chainage[first], "length"),
            )
        )
    if (step < 0).all():
        mistakes.append(
            "the chainage falls from the first station to the last; list the stations from the intake down"
        )
    elif (step < 0).any():
        first = int(np.flatnonzero(step < 0)[0])
        mistakes.append(
            Sentence(
                "the chainage runs back from {places}; it must rise",
                places=Amount((chainage[first], chainage[first + 1]), "length", 4),
            )
        )
    if elevation[-1] >= elevation[0]:
        mistakes.append(
            Sentence(
                "it does not fall: the last station ({last}) is not below the first ({first})",
                last=Amount(elevation[-1], "length", 5),
                first=Amount(elevation[0], "length", 5),
            )
        )
    if along_slope and not mistakes and (np.abs(np.diff(elevation)) > step).any():
        first = int(np.flatnonzero(np.abs(np.diff(elevation)) > step)[0])
        mistakes.append(
            Sentence(
                "after {place} it rises or falls more than its length along the slope; are "
                "feet mixed with metres?",
                place=Amount(chainage[first], "length", 4),
            )
        )
    return mistakes


def _suspicions(profile: Profile) -> Iterator[str | Sentence]:
    chainage, elevation = profile.chainage_m, profile.elevation_m
    if elevation.size > 2:
        between = elevation[:-2] + (elevation[2:] - elevation[:-2]) * (
            (chainage[1:-1] - chainage[:-2]) / (chainage[2:] - chainage[:-2])
        )
        fall = max(profile.gross_head_m, 1.0)
        middle = elevation[1:-1]
        odd = np.abs(middle - between) > _STANDS_OUT * fall
        for factor, told in ((_FOOT, "feet"), (1 / _FOOT, "metres among feet")):
            mended = odd & (np.abs(middle * factor - between) < 0.1 * np.abs(middle - between))
            for index in np.flatnonzero(mended):
                yield (
                    Sentence(
                        "the level at {place} ({level}) would fit its neighbours if it were "
                        "in {unit}; check its unit",
                        place=Amount(chainage[index + 1], "length", 4),
                        level=Amount(middle[index], "length", 5),
                        unit=told,
                    )
                )
    steep = np.abs(np.diff(elevation)) > np.diff(chainage)
    if not profile.along_slope and steep.any():
        where = chainage[int(np.flatnonzero(steep)[0])]
        yield Sentence(
            "steeper than 45 degrees after {place}; check that chainage and level are in the same unit",
            place=Amount(where, "length"),
        )


@dataclass(frozen=True, eq=False)
class LongSection(Result):
    """Grade lines and pressures along a full line at one flow, at every station and joint.

    Parameters
    ----------
    distance_m : ndarray
        Along the slope.
    elevation_m : ndarray
        Axis of the pipe.
    crown_m : ndarray
        Top of the bore, in the larger pipe at a joint.
    static_grade_m, running_grade_m : ndarray
        Level to which water would stand in an open tube on the pipe, at rest and running.
    static_pressure_pa, running_pressure_pa : ndarray
        Gauge pressure at the axis.
    rating_pa : ndarray
        Derated pressure rating of the weaker pipe there; NaN where unknown.
    net_head_m : float
        Energy head left at the end of the line, above its axis.
    findings : tuple of Finding
    """

    distance_m: np.ndarray
    elevation_m: np.ndarray
    crown_m: np.ndarray
    _: KW_ONLY
    static_grade_m: np.ndarray
    running_grade_m: np.ndarray
    static_pressure_pa: np.ndarray
    running_pressure_pa: np.ndarray
    rating_pa: np.ndarray
    net_head_m: float
    findings: tuple[Finding, ...]

    @property
    def lost_head_m(self) -> float:
        """What the line takes of the height between its source and its end."""
        return float(self.static_grade_m[-1] - self.elevation_m[-1]) - self.net_head_m

    @property
    def below_atmosphere(self) -> list[tuple[float, float]]:
        """Stretches whose crown stands above the running grade, as distances from and to."""
        return _stretches(self.distance_m, self.crown_m - self.running_grade_m)

    @property
    def suction_m(self) -> float:
        """Most that the crown stands above the running grade, behind the first station, which is
        the water's surface."""
        return float(np.max((self.crown_m - self.running_grade_m)[1:]))

    @property
    def above_source(self) -> list[tuple[float, float]]:
        """Stretches whose crown stands above the source, as distances from and to."""
        return _stretches(self.distance_m[1:], (self.crown_m - self.static_grade_m)[1:])

    @property
    def use_of_rating(self) -> float:
        """Highest share of the rating that static pressure takes; NaN where no rating is known."""
        share = self.static_pressure_pa / self.rating_pa
        return float(np.nanmax(share)) if np.isfinite(share).any() else float("nan")


def long_section(
    profile: Profile,
    line: Line,
    flow_m3s: float,
    source_level_m: float | None = None,
    altitude_m: float = 0.0,
    temperature_k: float = 283.15,
    wall_temperature_k: float | None = None,
) -> LongSection:
    """Lay a line of pipes on its profile and read grade lines and pressures at every station.

    Parameters
    ----------
    profile : Profile
    line : Line
        Its length is fitted to the profile's; a difference above 2 % is a finding. The fittings of
        a pipe are charged at its upper end.
    flow_m3s : float
        With the line full.
    source_level_m : float, optional
        Water level over the first station; the station itself if not given.
    altitude_m : float
        Of the site: sets the air pressure.
    temperature_k : float
        Of the water.
    wall_temperature_k : float, optional
        Of the warmest pipe, such as an empty line in the sun; the water's if not given.

    Returns
    -------
    LongSection

    Raises
    ------
    HydrokitError
        A negative flow.
    """
    require("long_section", "zero or more", flow_m3s=flow_m3s)
    source = float(profile.elevation_m[0] if source_level_m is None else source_level_m)
    ends = np.concatenate([[0.0], np.cumsum([float(pipe.length_m) for pipe in line.pipes])])
    fit = ends[-1] / profile.length_m
    stations = profile.distance_m * fit
    stations[-1] = ends[-1]
    distance = np.unique(np.concatenate([stations, ends]))
    elevation = np.interp(distance, stations, profile.elevation_m)

    spent, velocity_head, bore, rating = _along(
        line, ends, distance, flow_m3s, temperature_k, wall_temperature_k
    )
    weight = density.si(temperature_k) * GRAVITY
    static_grade = np.full_like(distance, source)
    running_grade = source - spent - velocity_head
    section = dict(
        distance_m=distance / fit,
        elevation_m=elevation,
        crown_m=elevation + bore / 2,
        static_grade_m=static_grade,
        running_grade_m=running_grade,
        static_pressure_pa=(static_grade - elevation) * weight,
        running_pressure_pa=(running_grade - elevation) * weight,
        rating_pa=rating,
        net_head_m=float(source - spent[-1] - elevation[-1]),
    )
    air = air_pressure.si(altitude_m)
    found = (
        *profile.findings,
        *_length_findings(fit),
        *_pressure_findings(section, line),
        *_heat_findings(line, temperature_k if wall_temperature_k is None else wall_temperature_k),
        *_vacuum_findings(section, source, air, vapour_pressure.si(temperature_k), weight),
        *line.findings_si(flow_m3s, viscosity.si(temperature_k)),
    )
    return LongSection(**section, findings=found)


def _along(
    line: Line,
    ends: np.ndarray,
    distance: np.ndarray,
    flow: float,
    temperature: float,
    wall_temperature: Any,
) -> Any:
    """Head spent, velocity head, bore and derated rating at every point; the worse pipe at joints."""
    nu = viscosity.si(temperature)
    warm = temperature if wall_temperature is None else wall_temperature
    spent, velocity_head = np.zeros_like(distance), np.zeros_like(distance)
    bore, rating = np.zeros_like(distance), np.full_like(distance, np.inf)
    for pipe, start, end in zip(line.pipes, ends[:-1], ends[1:]):
        head = float(pipe.velocity_si(flow)) ** 2 / (2 * GRAVITY)
        at_inlet = pipe.loss_factor * pipe.fittings * head
        along_wall = pipe.loss_si(flow, nu) - at_inlet
        here = (distance >= start) & (distance <= end)
        spent += np.where(distance >= start, at_inlet, 0.0)
        spent += along_wall * np.clip((distance - start) / (end - start), 0.0, 1.0)
        velocity_head[here] = np.maximum(velocity_head[here], head)
        bore[here] = np.maximum(bore[here], pipe.diameter_m)
        known = (
            np.nan
            if pipe.rating_pa is None
            else pipe.rating_pa * derating.si(warm, pipe.material or "steel")
        )
        rating[here] = np.minimum(rating[here], known)  # an unknown rating stays unknown
    return spent, velocity_head, bore, rating


def _length_findings(fit: float) -> Iterator[Finding]:
    if abs(fit - 1) > 0.02:
        yield Finding(
            "caution",
            "profile",
            f"the pipes are together {100 * abs(fit - 1):.0f} % "
            f"{'longer' if fit > 1 else 'shorter'} than the profile along the slope; losses use "
            "the pipes' length",
        )


def _pressure_findings(section: dict, line: Line) -> Iterator[Finding]:
    unknown = [pipe.name for pipe in line.pipes if pipe.rating_pa is None]
    if unknown:
        yield Finding(
            "note", "profile", f"no pressure rating known for {', '.join(dict.fromkeys(unknown))}"
        )
    static, rating = section["static_pressure_pa"], section["rating_pa"]
    for start, end in _stretches(section["distance_m"], static - rating):
        worst = np.nanmax(
            (static / rating)[(section["distance_m"] >= start) & (section["distance_m"] <= end)]
        )
        yield Finding(
            "problem",
            "profile",
            Sentence(
                "static pressure is {share} of the derated rating from {stretch}, before any "
                "surge: stronger pipe there. A burst under pressure injures; have the line "
                "checked by a licensed engineer",
                share=Amount(worst, "share"),
                stretch=Amount((start, end), "length"),
            ),
        )


def too_hot(line: Line, wall_temperature_k: float) -> tuple[str, ...]:
    """Names of the pipes with a rating whose material is not made for so hot a wall: no rating of
    theirs holds then."""
    hot = [
        pipe.name
        for pipe in line.pipes
        if pipe.rating_pa is not None
        and np.isnan(derating.si(wall_temperature_k, pipe.material or "steel"))
    ]
    return tuple(dict.fromkeys(hot))


def _heat_findings(line: Line, wall_temperature_k: float) -> Iterator[Finding]:
    hot = too_hot(line, wall_temperature_k)
    if hot:
        yield Finding(
            "problem",
            "profile",
            Sentence(
                "at {warm} {pipes} is hotter than its material is made for: no part of its "
                "pressure rating holds, so shade or bury it, or keep it full of running water",
                warm=Amount(wall_temperature_k, "temperature"),
                pipes=", ".join(hot),
            ),
        )


def _vacuum_findings(
    section: dict, source: float, air: float, vapour: float, weight: float
) -> Iterator[Finding]:
    distance, crown = section["distance_m"], section["crown_m"]
    for start, end in _stretches(distance[1:], crown[1:] - source):
        yield Finding(
            "problem",
            "profile",
            Sentence(
                "the pipe stands above the source from {stretch}: it fills only as a siphon, "
                "started by pumping or suction",
                stretch=Amount((start, end), "length"),
            ),
        )
    # The first station is the water's surface: where the inlet lies below it is another question.
    gauge = (section["running_grade_m"] - crown) * weight
    for start, end in _stretches(distance[1:], -gauge[1:] - 0.05 * weight):
        lowest = gauge[(distance >= start) & (distance <= end)].min()
        boils = lowest + air < vapour
        yield Finding(
            "problem" if boils else "caution",
            "profile",
            Sentence(
                "running, the crown is {head} below atmospheric from {stretch}: {what}",
                head=Amount(-lowest / weight, "head", 2),
                stretch=Amount((start, end), "length"),
                what="the water column breaks there"
                if boils
                else "air comes out of the water, and an open vent there lets air in",
            ),
        )


def _stretches(distance: np.ndarray, excess: np.ndarray) -> list[tuple[float, float]]:
    """From where to where a figure is above zero, taken as straight between neighbouring points."""
    edges = np.diff(np.concatenate([[0], (excess > 0).astype(int), [0]]))
    return [
        (_crossing(distance, excess, start - 1, start), _crossing(distance, excess, end + 1, end))
        for start, end in zip(
            np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist()
        )
    ]


def _crossing(distance: np.ndarray, excess: np.ndarray, outer: int, inner: int) -> float:
    if not 0 <= outer < distance.size or not np.isfinite(excess[outer]):
        return float(distance[inner])
    share = excess[outer] / (excess[outer] - excess[inner])
    return float(distance[outer] + share * (distance[inner] - distance[outer]))


@units("m", altitude="m", temperature="K")
def siphon_limit(altitude: Given, temperature: Given = "10 degC") -> Number:
    r"""Highest that water can stand above its hydraulic grade line before the column breaks.

    Parameters
    ----------
    altitude : Quantity or str [length]
        Of the site above the sea.
    temperature : Quantity or str [temperature]
        Of the water.

    Returns
    -------
    Quantity [length]
        :math:`(p_{atm} - p_v)/(\rho g)`. Air comes out of the water well before; common practice
        is to stay 3 m below this.

    Warns
    -----
    RangeWarning
        Altitude outside -400 to 6,000 m.

    References
    ----------
    .. [1] Hydrostatics, with ISO 2533 for the air and IAPWS for the vapour.

    Examples
    --------
    >>> print(f"{siphon_limit('2600 m'):.2f~P}")
    7.40 m
    >>> print(f"{siphon_limit('0 ft', '50 degF').to('ft'):.1f~P}")
    33.5 ft
    """
    return (air_pressure.si(altitude) - vapour_pressure.si(temperature)) / (
        density.si(temperature) * GRAVITY
    )


@siphon_limit.valid
def _(altitude: Given) -> Iterator[Outside]:
    height = np.asarray(altitude)
    yield (
        (height < -400) | (height > 6000),
        Sentence("altitude outside {range}", range=Amount((-400.0, 6000.0), "length")),
    )
