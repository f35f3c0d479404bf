"""A line from pond to outlet as the air in it sees it: levels, bores, and the head each flow takes."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from functools import cached_property

import numpy as np

from ..errors import HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Floats, Given, units
from ..water import GRAVITY, air_pressure, density, viscosity
from .pipe import Line, Pipe, flow_for, loss
from .profile import LongSection, Profile

__all__ = ["FallingLine", "Reaches", "falling_line", "penstock_line"]


@dataclass(frozen=True, eq=False)
class FallingLine(Result):
    """A line from a pond to its outlet, laid on its profile, in SI units.

    Parameters
    ----------
    profile : Profile
        Of the pipe's axis, surveyed to about 0.1 m; a satellite's levels are far too coarse.
    line : Line
        The pipes; their length is fitted to the profile's.
    source_level_m : float
        Water level at the inlet.
    crest_level_m : float or None
        Level over which the water must leave an upturned end. None: it leaves at the last station.
    vents_m : tuple of float
        Where there are plugged vents that are opened while filling, as distances along the slope.
    altitude_m, temperature_k : float
        Of the site and of the water.
    """

    profile: Profile
    line: Line
    source_level_m: float
    _: KW_ONLY
    crest_level_m: float | None = None
    vents_m: tuple[float, ...] = ()
    altitude_m: float = 0.0
    temperature_k: float = 283.15

    def __post_init__(self) -> None:
        inlet, end = float(self.profile.elevation_m[0]), float(self.profile.elevation_m[-1])
        if self.source_level_m < inlet:
            raise HydrokitError(
                Sentence(
                    "the water level at the pipe inlet ({level}) is below the pipe there ({pipe})",
                    level=Amount(self.source_level_m, "length", 5),
                    pipe=Amount(inlet, "length", 5),
                )
            )
        if self.crest_level_m is not None and self.crest_level_m < end:
            raise HydrokitError(
                Sentence(
                    "the crest of the outlet ({crest}) is below the end of the pipe ({end})",
                    crest=Amount(self.crest_level_m, "length", 5),
                    end=Amount(end, "length", 5),
                )
            )
        if self.crest_level_m is not None and self.crest_level_m >= self.source_level_m:
            raise HydrokitError(
                Sentence(
                    "the crest of the outlet ({crest}) is not below the water level at the "
                    "pipe inlet ({level}): nothing can run out over it",
                    crest=Amount(self.crest_level_m, "length", 5),
                    level=Amount(self.source_level_m, "length", 5),
                )
            )

    @cached_property
    def reaches(self) -> Reaches:
        """The line cut at every station and joint."""
        return _cut(self.profile, self.line)

    @cached_property
    def air_head_m(self) -> float:
        """Pressure of the air at the site, in metres of water."""
        return float(air_pressure.si(self.altitude_m) / (density.si(self.temperature_k) * GRAVITY))

    @property
    def outlet_level_m(self) -> float:
        """Level at which the water leaves."""
        return float(
            self.reaches.elevation_m[-1] if self.crest_level_m is None else self.crest_level_m
        )

    @property
    def upturned(self) -> bool:
        """Whether the crest stands above the crown at the end, so that water seals it."""
        return self.outlet_level_m > self.reaches.elevation_m[-1] + self.reaches.diameter_m[-1] / 2

    @property
    def head_m(self) -> float:
        """From the pond to the outlet."""
        return self.source_level_m - self.outlet_level_m

    def spent_si(self, flow_m3s: float) -> np.ndarray:
        """Head lost to friction and fittings from the inlet to every station, with the line full."""
        cut = self.reaches
        lost = loss(
            flow_m3s,
            cut.diameter_m,
            cut.length_m,
            cut.roughness_m,
            viscosity.si(self.temperature_k),
            cut.fittings,
        )
        return np.concatenate([[0.0], np.cumsum(cut.factor * lost)])

    def needed_si(self, flow_m3s: float) -> float:
        """Head that a flow takes through the full line, the speed of the free jet at its end included."""
        return float(self.spent_si(flow_m3s)[-1] + self.reaches.velocity_head(flow_m3s)[-1])

    @cached_property
    def full_bore_m3s(self) -> float:
        """Flow of the line running full, without air: √(2gH/(1 + ΣK + fL/D))."""
        narrowest = float(self.reaches.diameter_m.min())
        return float(flow_for(self.head_m, self.needed_si, narrowest, float(self.line.length_m)))


@dataclass(frozen=True, eq=False)
class Reaches:
    """A line cut into straight reaches of one bore; stations are one more than reaches."""

    distance_m: np.ndarray
    elevation_m: np.ndarray
    length_m: np.ndarray
    _: KW_ONLY
    diameter_m: np.ndarray
    roughness_m: np.ndarray
    fittings: np.ndarray
    factor: np.ndarray

    @property
    def volume_m3(self) -> np.ndarray:
        """Bore volume from the inlet to every station."""
        return np.concatenate([[0.0], np.cumsum(math.pi / 4 * self.diameter_m**2 * self.length_m)])

    @property
    def bore_m(self) -> np.ndarray:
        """Larger bore at every station."""
        return np.maximum(np.append(self.diameter_m, 0.0), np.insert(self.diameter_m, 0, 0.0))

    @property
    def crown_m(self) -> np.ndarray:
        """Top of the bore at every station."""
        return self.elevation_m + self.bore_m / 2

    @property
    def fall(self) -> np.ndarray:
        """Sine of the slope of every reach, positive downhill."""
        return -np.diff(self.elevation_m) / self.length_m

    def velocity_head(self, flow_m3s: float) -> np.ndarray:
        """At every station, in the narrower bore."""
        narrow = np.minimum(
            np.append(self.diameter_m, np.inf), np.insert(self.diameter_m, 0, np.inf)
        )
        return (flow_m3s / (math.pi / 4 * narrow**2)) ** 2 / (2 * GRAVITY)


def penstock_line(section: LongSection, line: Line) -> FallingLine:
    """A penstock laid on its profile, under the water that stands over its inlet."""
    profile = Profile(section.distance_m, section.elevation_m, True)
    source = max(float(section.static_grade_m[0]), float(profile.elevation_m[0]))
    return FallingLine(profile, line, source)


_SAME_PLACE_M = 1e-6


def _cut(profile: Profile, line: Line) -> Reaches:
    ends = np.concatenate([[0.0], np.cumsum([float(pipe.length_m) for pipe in line.pipes])])
    fit = ends[-1] / profile.length_m
    stations = profile.distance_m * fit
    stations[-1] = ends[-1]
    cuts = np.unique(np.concatenate([stations, ends]))
    cuts = cuts[np.insert(np.diff(cuts) > _SAME_PLACE_M, 0, True)]
    cuts[-1] = ends[-1]
    middle = (cuts[:-1] + cuts[1:]) / 2
    owner = np.clip(np.searchsorted(ends, middle) - 1, 0, len(line.pipes) - 1)

    def of_pipe(name: str) -> Floats:
        return np.array([float(getattr(pipe, name)) for pipe in line.pipes])[owner]

    return Reaches(
        distance_m=cuts / fit,
        elevation_m=np.interp(cuts, stations, profile.elevation_m),
        length_m=np.diff(cuts),
        diameter_m=of_pipe("diameter_m"),
        roughness_m=of_pipe("roughness_m") * of_pipe("roughness_factor"),
        fittings=of_pipe("fittings") * np.insert(np.diff(owner) > 0, 0, True),
        factor=of_pipe("loss_factor"),
    )


@units(
    None,
    chainage="m",
    elevation="m",
    diameter="m",
    roughness="m",
    source_level="m",
    crest_level="m",
    vents="m",
    altitude="m",
    temperature="K",
    fittings="ratio",
)
def falling_line(
    chainage: Given,
    elevation: Given,
    diameter: Given,
    roughness: Given,
    source_level: Given,
    crest_level: Given = None,
    vents: Given = None,
    altitude: Given = "0 m",
    temperature: Given = "10 degC",
    fittings: Given = 0.5,
    along_slope: bool = False,
) -> FallingLine:
    """A line from its survey and its bore.

    Parameters
    ----------
    chainage, elevation : Quantity or list [length]
        Of the pipe's axis, from the inlet down.
    diameter, roughness : Quantity, str or list [length]
        Inside diameter and roughness: one, or one for each stretch between two stations.
    source_level : Quantity or str [length]
        Water level at the inlet.
    crest_level : Quantity or str [length], optional
        Of an upturned end.
    vents : Quantity or list [length], optional
        Where plugged vents are, as distances along the slope.
    altitude, temperature : Quantity or str
        Of the site above the sea; of the water.
    fittings : float
        Sum of the loss coefficients, charged at the inlet.
    along_slope : bool
        Whether the chainage was taped along the pipe.

    Returns
    -------
    FallingLine

    Raises
    ------
    HydrokitError
        A profile that cannot be, a bore not above zero, a pond below the inlet, a crest below the end.

    References
    ----------
    .. [1] None: it only gathers what :mod:`hydrokit.works.air` works on.

    Examples
    --------
    >>> line = falling_line(["0 m", "40 m", "70 m", "150 m"], ["99 m", "90 m", "96 m", "70 m"],
    ...                     "100 mm", "0.01 mm", "100 m", crest_level="90 m")
    >>> print(f"{line.head_m:.1f} m, upturned: {line.upturned}")
    10.0 m, upturned: True
    >>> line = falling_line(["0 ft", "500 ft"], ["320 ft", "230 ft"], "4 in", "0.00003 ft", "325 ft")
    >>> print(f"{line.full_bore_m3s * 1000:.0f} L/s")
    39 L/s
    """
    profile = Profile(chainage, elevation, along_slope)
    lengths = np.diff(profile.distance_m)
    if np.size(diameter) == np.size(roughness) == 1:
        lengths = np.array([profile.length_m])
    for name, given in (("diameter", diameter), ("roughness", roughness)):
        if np.size(given) not in (1, lengths.size):
            raise HydrokitError(
                f"falling_line(): {name} needs one value, or one for each of the "
                f"{lengths.size} stretches; got {np.size(given)}"
            )
    bores, walls = (np.broadcast_to(each, lengths.shape) for each in (diameter, roughness))
    at_inlet = np.insert(np.zeros(lengths.size - 1), 0, fittings)
    pipes = tuple(
        Pipe(float(d), float(length), float(e), fittings=float(k))
        for d, length, e, k in zip(bores, lengths, walls, at_inlet)
    )
    where = () if vents is None else tuple(float(each) for each in np.atleast_1d(vents))
    crest = None if crest_level is None else float(crest_level)
    return FallingLine(
        profile,
        Line(pipes),
        float(source_level),
        crest_level_m=crest,
        vents_m=where,
        altitude_m=float(altitude),
        temperature_k=float(temperature),
    )


falling_line.measurement = ("chainage", "elevation", "diameter", "roughness", "vents")
