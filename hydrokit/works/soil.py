"""Frost going into the ground and out again: a column of moist soil under the air of each day."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np
from scipy.linalg.lapack import dgtsv

from ..errors import HydrokitError
from ..units import Given, Quantity, units
from .frost import FREEZING_POINT, LATENT_HEAT
from .snow import SETTLED_SNOW, snow_conductivity
from .solve import require

__all__ = ["DRY_GRAVEL", "MOIST", "WET_SILT", "Ground", "Soil", "ground", "ground_through_years"]

_DAY = 86400.0
_FIRST_CELL, _GROWTH, _BOTTOM = (
    0.04,
    2.5,
    12.0,
)  # m; cells so many times as thick for each m of depth; m
_CLOSE = 2e3  # J/m³, a thousandth of a kelvin
_SOME_ICE = 1e-3  # share of a cell's water
_MOST_TRIES = 40
_YEARS_AT_ONCE, _LEAD_YEARS = 10, 2  # a long record is cut into so many, worked out side by side
_YEAR, _FEW_DAYS, _ROUNDS = (
    365,
    5,
    6,
)  # days, days, years until the mean year's ground repeats itself


@dataclass(frozen=True, eq=False)
class Soil:
    """What a soil holds and passes of heat.

    Parameters
    ----------
    frozen_wmk, thawed_wmk : float
        Conductivity.
    frozen_jm3k, thawed_jm3k : float
        Heat capacity of a volume.
    latent_jm3 : float
        Heat that its water gives off in freezing.
    """

    frozen_wmk: float
    thawed_wmk: float
    _: KW_ONLY
    frozen_jm3k: float
    thawed_jm3k: float
    latent_jm3: float


def _of(dry_kgm3: float, water: float, frozen_wmk: float, thawed_wmk: float) -> Soil:
    """By its dry density and the share of that mass in water; heat capacities after UFC 3-130-06."""
    mineral, liquid = 711.8, 4186.8  # J/(kg K)
    return Soil(
        frozen_wmk,
        thawed_wmk,
        frozen_jm3k=dry_kgm3 * (mineral + water * liquid / 2),
        thawed_jm3k=dry_kgm3 * (mineral + water * liquid),
        latent_jm3=dry_kgm3 * water * LATENT_HEAT,
    )


# Conductivities by the formulas and charts of Kersten 1949, a single soil within a quarter of them.
MOIST = _of(1600.0, 0.15, 1.8, 1.4)
WET_SILT, DRY_GRAVEL = _of(1600.0, 0.20, 1.77, 1.40), _of(2000.0, 0.05, 2.5, 2.5)


@dataclass(frozen=True, eq=False)
class Ground:
    """Temperature of the ground through time; columns × steps × depths, or without the first for one column.

    Parameters
    ----------
    depth_m : ndarray
        Surface first, then the middles of the cells.
    temperature_k : ndarray
        At the end of each step.
    frost_m : ndarray
        Depth down to which the ground holds ice, columns × steps.
    """

    depth_m: np.ndarray
    temperature_k: np.ndarray
    frost_m: np.ndarray

    def at(self, depth_m: float) -> np.ndarray:
        """Temperature at a depth, step by step; below the frost never under freezing point, below
        the last cell that of the last."""
        above = min(
            max(int(np.searchsorted(self.depth_m, depth_m, side="right")) - 1, 0),
            len(self.depth_m) - 2,
        )
        low, high = self.depth_m[above : above + 2]
        share = min((depth_m - low) / (high - low), 1.0)
        seen = self.temperature_k
        found = (1 - share) * seen[..., above] + share * seen[..., above + 1]
        thawed = (depth_m > self.frost_m) & (depth_m > 0)
        return np.where(thawed, np.maximum(found, FREEZING_POINT), found)

    @property
    def deepest_m(self) -> float:
        """Deepest that frost goes in any column at any time."""
        return float(np.max(self.frost_m, initial=0.0))

    @property
    def deepest(self) -> Quantity:
        """Deepest that frost goes, a quantity."""
        return Quantity(self.deepest_m, "m")


@units(
    None,
    air_temperature="K",
    snow_depth="m",
    start_temperature="K",
    step="s",
    bottom="m",
    first_cell="m",
)
def ground(
    air_temperature: Given,
    snow_depth: Given = "0 m",
    start_temperature: Given = "4 degC",
    step: Given = "1 d",
    bottom: Given = "12 m",
    first_cell: Given = "4 cm",
    soil: Soil = MOIST,
) -> Ground:
    r"""Temperature and frost of the ground under air and snow that change with time.

    Parameters
    ----------
    air_temperature : list or ndarray of Quantity [temperature]
        Of each step, one after another; two axes for several columns of ground, columns first.
    snow_depth : Quantity, list or ndarray [length]
        On each step, settled (250 kg/m³); broadcast against the air.
    start_temperature : Quantity or list [temperature]
        Of all the ground before the first step, or of each cell; two axes for several columns.
    step : Quantity or str [time]
        A day for what frost does to buried pipe; hours where the first days of a sudden frost matter.
    bottom, first_cell : Quantity or str [length]
        How deep the column is, through whose foot no heat passes, and how fine it begins.
    soil : Soil
        Moist soil of 1600 kg/m³ dry, with 15 % water by mass, if nothing else is known.

    Returns
    -------
    Ground

    Raises
    ------
    HydrokitError
        Less than one step, an air temperature that is not known, a step or size not above zero.

    Notes
    -----
    Enthalpy method: of each cell the heat :math:`H` is kept, zero for ice at 0 °C, and

    .. math:: \frac{\partial H}{\partial t} = \frac{\partial^2 u}{\partial z^2}, \qquad
              u = \frac{k_f}{C_f}\min(H, 0) + \frac{k_u}{C_u}\max(H - L, 0)

    stepped implicitly, each step solved by Newton's method. The bare surface is as cold as the air
    (a cleared path; grass or a forest floor is warmer, which is left out: cautious). Under snow,
    heat passes through its :math:`d/k` as well; on a day above freezing the snow's meltwater
    brings the surface to 0 °C.

    References
    ----------
    .. [1] H. S. Carslaw, J. C. Jaeger, *Conduction of Heat in Solids*, ch. 11: the Neumann and
       Stefan solutions, which it keeps to within 1 % after a month of daily steps.
    .. [2] J. Crank, *Free and Moving Boundary Problems*: the enthalpy method.

    Examples
    --------
    >>> cold = ground(["-5 degC"] * 30, step="1 d")
    >>> print(f"{cold.deepest.to('cm'):.0f~P}")
    65 cm
    >>> snowed = ground(["23 degF"] * 30, "1 ft")
    >>> print(f"{snowed.deepest.to('in'):.0f~P}")
    0 in
    """
    require("ground", "above zero", step=step, bottom=bottom, first_cell=first_cell)
    require("ground", "zero or more", snow_depth=snow_depth)
    air = np.asarray(air_temperature, dtype=float) - FREEZING_POINT
    if air.ndim == 0 or air.shape[-1] == 0:
        raise HydrokitError(
            "ground(): air_temperature needs one temperature for each step, one step at least"
        )
    if not np.isfinite(air).all():
        raise HydrokitError("ground(): air_temperature must be known on every step")
    edges = _edges(float(first_cell), float(bottom))
    one = air.ndim == 1 and np.ndim(snow_depth) < 2
    air, snow = np.broadcast_arrays(np.atleast_2d(air), np.atleast_2d(snow_depth))
    start = np.broadcast_to(
        np.asarray(start_temperature, dtype=float) - FREEZING_POINT, (len(air), len(edges) - 1)
    )
    made = _walk(air, snow, start, edges, float(step), soil)
    if not one:
        return made
    return Ground(made.depth_m, made.temperature_k[0], made.frost_m[0])


ground.measurement = ("air_temperature", "snow_depth", "start_temperature")


def _edges(first_m: float, bottom_m: float) -> np.ndarray:
    edges = [0.0]
    while edges[-1] < bottom_m:
        edges.append(edges[-1] + first_m * max(1.0, _GROWTH * edges[-1]))
    return np.array(edges)


def _walk(
    air: np.ndarray,
    snow_m: np.ndarray,
    start: np.ndarray,
    edges: np.ndarray,
    step_s: float,
    soil: Soil,
) -> Ground:
    """All columns at once, in °C: one below the other in one tridiagonal system that does not join them."""
    columns, steps = air.shape
    cells, thick, middle = len(edges) - 1, np.diff(edges), (edges[1:] + edges[:-1]) / 2
    frozen, thawed = soil.frozen_wmk / soil.frozen_jm3k, soil.thawed_wmk / soil.thawed_jm3k
    latent = soil.latent_jm3
    # 1/m from each cell to the next, none from the last of a column to the first of the next
    passes = np.tile(np.append(1 / np.diff(middle), 0.0), columns)
    rate, half = step_s / np.tile(thick, columns), 2 / thick[0]
    below, above = -rate[1:] * passes[:-1], -rate[:-1] * passes[:-1]
    diagonal = rate * passes
    diagonal[1:] += rate[1:] * passes[:-1]
    melts = (air > 0) & (snow_m > 0)
    outside = np.ascontiguousarray(np.where(melts, 0.0, air).T)
    held = np.ascontiguousarray(
        (np.where(melts, 0.0, snow_m) * half / float(snow_conductivity.si(SETTLED_SNOW))).T
    )
    heat = np.where(start < 0, start * soil.frozen_jm3k, latent + start * soil.thawed_jm3k).ravel()
    down = np.zeros(columns * cells + 1)
    kept, surface = np.empty((steps, columns * cells)), np.empty((steps, columns))
    top = rate[0] * half

    def bend(heat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Slope of the potential that drives heat, and the heat at which its straight piece would begin."""
        warm = heat > latent
        return (heat < 0) * frozen + warm * thawed, warm * latent

    slope, begins = bend(heat)
    for day in range(steps):
        before, resistance, air_now = heat, held[day], outside[day]
        for _ in range(_MOST_TRIES):
            flow = slope * (heat - begins)
            first = flow[::cells]
            drive = air_now + resistance * first
            cold = drive < 0
            conducts = np.where(cold, soil.frozen_wmk, soil.thawed_wmk)
            through = 1 + conducts * resistance
            at_surface = drive / through
            np.multiply(passes[:-1], flow[:-1] - flow[1:], out=down[1:-1])
            wrong = heat - before + rate * (down[1:] - down[:-1])
            wrong[::cells] -= top * (conducts * at_surface - first)
            if max(wrong.max(), -wrong.min()) < _CLOSE:
                break
            main = 1 + diagonal * slope
            main[::cells] += top / through * slope[::cells]
            heat = heat - dgtsv(below * slope[:-1], main, above * slope[1:], wrong, 1, 1, 1, 1)[3]
            kinked, (slope, begins) = slope, bend(heat)
            # straight between its kinks: where no cell passed one and the surface not either, this
            # is the answer
            if (slope == kinked).all():
                drive = air_now + resistance * slope[::cells] * (heat[::cells] - begins[::cells])
                if ((drive < 0) == cold).all():
                    at_surface = drive / through
                    break
        kept[day], surface[day] = heat, at_surface
    whole = kept.reshape(steps, columns, cells).swapaxes(0, 1)
    seen = np.empty((columns, steps, cells + 1))
    seen[..., 0], inside = surface.T, seen[..., 1:]
    np.subtract(whole, latent, out=inside)
    np.maximum(inside, 0.0, out=inside)
    inside *= 1 / soil.thawed_jm3k
    inside += np.minimum(whole, 0.0) * (1 / soil.frozen_jm3k)
    seen += FREEZING_POINT
    return Ground(np.append(0.0, middle), seen, _frost(whole, latent, edges))


def _frost(heat: np.ndarray, latent: float, edges: np.ndarray) -> np.ndarray:
    """Depth of the lowest ice: the cell it is in by the share of its water that is frozen."""
    icy = heat[..., ::-1] < latent * (1 - _SOME_ICE)
    lowest = heat.shape[-1] - 1 - np.argmax(icy, axis=-1)
    held = np.take_along_axis(heat, lowest[..., None], axis=-1)[..., 0]
    share = 1 - np.clip(held / latent, 0.0, 1.0)
    return np.where(share > _SOME_ICE, edges[lowest] + share * np.diff(edges)[lowest], 0.0)


def ground_through_years(
    air_k: np.ndarray, snow_m: np.ndarray, soil: Soil = MOIST, at_once: int = _YEARS_AT_ONCE
) -> Ground:
    """The ground under a daily record, its first winter met by ground that has been through two.

    Parameters
    ----------
    air_k : ndarray
        Of each day, a year of them or more.
    snow_m : ndarray
        Columns × days.
    soil : Soil
    at_once : int
        Years after which a long record is cut, so that its parts are worked out side by side; each
        part begins two years early, from the ground of the mean year.

    Returns
    -------
    Ground
        Columns × days × depths.
    """
    air = np.asarray(air_k, dtype=float)
    snow = np.atleast_2d(snow_m)
    days, columns = len(air), len(snow)
    lead = min(_LEAD_YEARS * _YEAR, days)
    parts = max(round(days / (at_once * _YEAR)), 1)
    long = -(-days // parts)
    edges = _edges(_FIRST_CELL, _BOTTOM)
    # the first part is led in by its own first years; what a last part has too much repeats its last day
    order = np.concatenate([np.arange(lead), np.arange(days)])
    rows = [
        order[np.minimum(np.arange(part * long, (part + 1) * long + lead), len(order) - 1)]
        for part in range(parts)
    ]
    usual = _usual_year(air, snow, edges, soil)
    made = _walk(
        np.concatenate(
            [np.broadcast_to(air[row] - FREEZING_POINT, (columns, len(row))) for row in rows]
        ),
        np.concatenate([snow[:, row] for row in rows]),
        np.concatenate([usual[:, int(row[0]) % _YEAR // _FEW_DAYS] for row in rows]),
        edges,
        _DAY,
        soil,
    )

    def joined(values: np.ndarray) -> np.ndarray:
        cut = values.reshape(parts, columns, *values.shape[1:])[:, :, lead:]
        return np.concatenate(list(cut), axis=1)[:, :days]

    return Ground(made.depth_m, joined(made.temperature_k), joined(made.frost_m))


def _usual_year(air_k: np.ndarray, snow_m: np.ndarray, edges: np.ndarray, soil: Soil) -> np.ndarray:
    """Ground in the mean year of a record, in °C, every few days: where a lead-in year begins;
    columns × times × cells."""
    times = _YEAR // _FEW_DAYS
    place = np.minimum(np.arange(len(air_k)) % _YEAR // _FEW_DAYS, times - 1)
    days = np.bincount(place, minlength=times)
    mean = [np.bincount(place, each, times) / days for each in (air_k - FREEZING_POINT, *snow_m)]
    air, snow = np.tile(mean[0], (len(snow_m), _ROUNDS)), np.tile(mean[1:], (1, _ROUNDS))
    start = np.full((len(snow_m), len(edges) - 1), float(np.mean(mean[0])))
    made = _walk(air, snow, start, edges, _FEW_DAYS * _DAY, soil)
    return made.temperature_k[:, -times:, 1:] - FREEZING_POINT
