"""Head lost in full pipes, the flow and the bore that go with it, and pipes in series."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass, fields, replace
from typing import TYPE_CHECKING, Iterator

import numpy as np

from ..errors import Finding
from ..result import Result
from ..units import Given, Number, Outside, Quantity, units
from ..water import GRAVITY
from ..water import viscosity as water_viscosity
from .friction import factor, outside
from .solve import require, root_by_power

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["Line", "Pipe", "pipe_diameter", "pipe_flow", "pipe_loss"]

# Bounds of the local power: the loss grows with the flow to a power between 1 (laminar) and about
# 5 (the transition of a very rough pipe), and falls with the bore to one between 4 and about 7.
_FLOW_POWERS = (1.0, 8.0)
_BORE_POWERS = (4.0, 10.0)


@units(
    "m",
    flow="m^3/s",
    diameter="m",
    length="m",
    roughness="m",
    temperature="K",
    viscosity="m^2/s",
    fittings="ratio",
)
def pipe_loss(
    flow: Given,
    diameter: Given,
    length: Given,
    roughness: Given,
    temperature: Given = "10 degC",
    viscosity: Given = None,
    fittings: Given = 0.0,
) -> Number:
    r"""Head lost in a full pipe, to its wall and its fittings.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Discharge, :math:`Q`. Scalar or array; a negative flow gives a negative loss.
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`; not the nominal size.
    length : Quantity or str [length]
        Length along the slope, :math:`L`.
    roughness : Quantity or str [length]
        Height of the wall's roughness, :math:`\varepsilon`.
    temperature : Quantity or str [temperature]
        Water temperature; gives the viscosity.
    viscosity : Quantity or str [length²/time], optional
        Kinematic viscosity, :math:`\nu`, instead of the temperature.
    fittings : float
        Sum of the loss coefficients of entrance, bends and valves, :math:`\Sigma K`.

    Returns
    -------
    Quantity [length]
        Head loss, in m; shape by broadcasting.

    Raises
    ------
    HydrokitError
        A bore not above zero, a negative length, roughness or fittings.

    Warns
    -----
    RangeWarning
        Re between 2,000 and 4,000; :math:`\varepsilon/D` above 0.05.

    Notes
    -----
    .. math:: h = \left(f \frac{L}{D} + \Sigma K\right)\frac{V^2}{2g}

    with f from :func:`friction_factor` (exact Colebrook).

    References
    ----------
    .. [1] Y. A. Çengel, J. M. Cimbala, *Fluid Mechanics: Fundamentals and Applications*, ch. 8,
       eq. 8-24 and 8-59 (Darcy-Weisbach with minor losses).

    Examples
    --------
    >>> print(f"{pipe_loss('22 L/s', '102 mm', '350 m', '0.01 mm', fittings=1.5):.1f~P}")
    21.2 m
    >>> print(f"{pipe_loss('350 gpm', '3.998 in', '1150 ft', '0.00003 ft').to('ft'):.0f~P}")
    69 ft
    """
    require("pipe_loss", "above zero", diameter=diameter)
    require("pipe_loss", "zero or more", length=length, roughness=roughness, fittings=fittings)
    nu = water_viscosity.si(temperature) if viscosity is None else viscosity
    return loss(flow, diameter, length, roughness, nu, fittings)


@units(
    "m^3/s",
    loss="head",
    diameter="m",
    length="m",
    roughness="m",
    temperature="K",
    viscosity="m^2/s",
    fittings="ratio",
)
def pipe_flow(
    loss: Given,
    diameter: Given,
    length: Given,
    roughness: Given,
    temperature: Given = "10 degC",
    viscosity: Given = None,
    fittings: Given = 0.0,
) -> Number:
    r"""Flow that a full pipe passes for a given head loss: the inverse of :func:`pipe_loss`.

    Parameters
    ----------
    loss : Quantity or str [length]
        Head spent on friction and fittings, :math:`h`. Zero gives no flow.
    diameter, length, roughness, temperature, viscosity, fittings
        As in :func:`pipe_loss`. With ``fittings`` 1.0 more, the pipe discharges freely.

    Returns
    -------
    Quantity [length³/time]
        In m³/s; shape by broadcasting.

    Raises
    ------
    HydrokitError
        A negative loss, a bore or length not above zero.

    Warns
    -----
    RangeWarning
        As :func:`pipe_loss`, at the flow found.

    Notes
    -----
    A fixed number of bracketed steps in the logarithms; :func:`pipe_loss` of the result gives the
    loss back to 1e-12.

    References
    ----------
    .. [1] As :func:`pipe_loss`; for a pipe without fittings Colebrook is explicit in the flow.

    Examples
    --------
    >>> print(f"{pipe_flow('21.2 m', '102 mm', '350 m', '0.01 mm', fittings=1.5).to('L/s'):.1f~P}")
    22.0 L/s
    >>> print(f"{pipe_flow('69.4 ft', '3.998 in', '1150 ft', '0.00003 ft').to('gpm'):.0f~P}")
    350 gpm
    """
    require("pipe_flow", "above zero", diameter=diameter, length=length)
    require("pipe_flow", "zero or more", loss=loss, roughness=roughness, fittings=fittings)
    nu = water_viscosity.si(temperature) if viscosity is None else viscosity
    return flow_for(
        loss, lambda flow: _loss(flow, diameter, length, roughness, nu, fittings), diameter, length
    )


@units(
    "m",
    flow="m^3/s",
    loss="head",
    length="m",
    roughness="m",
    temperature="K",
    viscosity="m^2/s",
    fittings="ratio",
)
def pipe_diameter(
    flow: Given,
    loss: Given,
    length: Given,
    roughness: Given,
    temperature: Given = "10 degC",
    viscosity: Given = None,
    fittings: Given = 0.0,
) -> Number:
    r"""Inside diameter that passes a flow for a given head loss: the inverse of :func:`pipe_loss`.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Discharge, :math:`Q`.
    loss : Quantity or str [length]
        Head that may be spent, :math:`h`.
    length, roughness, temperature, viscosity, fittings
        As in :func:`pipe_loss`.

    Returns
    -------
    Quantity [length]
        Inside diameter in m; take the next larger size that is sold.

    Raises
    ------
    HydrokitError
        A flow, loss or length not above zero.

    Warns
    -----
    RangeWarning
        As :func:`pipe_loss`, at the bore found.

    Notes
    -----
    As :func:`pipe_flow`. For one flow and loss there is one bore.

    References
    ----------
    .. [1] As :func:`pipe_loss`.

    Examples
    --------
    >>> print(f"{pipe_diameter('22 L/s', '10 m', '350 m', '0.01 mm').to('mm'):.0f~P}")
    118 mm
    >>> print(f"{pipe_diameter('350 gpm', '35 ft', '1150 ft', '0.00003 ft').to('in'):.2f~P}")
    4.60 in
    """
    require("pipe_diameter", "above zero", flow=flow, loss=loss, length=length)
    require("pipe_diameter", "zero or more", roughness=roughness, fittings=fittings)
    nu = water_viscosity.si(temperature) if viscosity is None else viscosity
    wanted = np.log(loss)

    def miss(log_bore: Number) -> float:
        return wanted - np.log(_loss(flow, np.exp(log_bore), length, roughness, nu, fittings))

    start = np.log(0.02 * length / loss * flow**2 / (2 * GRAVITY * (math.pi / 4) ** 2)) / 5
    return np.exp(root_by_power(miss, start, *_BORE_POWERS))


@dataclass(frozen=True, eq=False)
class Pipe(Result):
    """One reach of full pipe of one bore, in SI units.

    Parameters
    ----------
    diameter_m : float
        Inside diameter.
    length_m : float
        Length along the slope.
    roughness_m : float
        Roughness of the wall.
    fittings : float
        Sum of the loss coefficients in this reach.
    name : str
    rating_pa : float or None
        Pressure rating (gauge) at 20 to 23 °C; None if unknown.
    outside_diameter_m, wall_m : float or None
    material : str
        A name of the table of materials, or empty.
    roughness_factor, loss_factor : float or ndarray
        Multiply the roughness and the whole loss: uncertainty, age, the month's growth. Arrays broadcast
        against the flow.
    """

    diameter_m: Alike
    length_m: Alike
    roughness_m: Alike
    _: KW_ONLY
    fittings: Alike = 0.0
    name: str = "pipe"
    rating_pa: float | None = None
    outside_diameter_m: float | None = None
    wall_m: float | None = None
    material: str = ""
    roughness_factor: Number = 1.0
    loss_factor: Number = 1.0

    def __post_init__(self) -> None:
        require(
            f"Pipe '{self.name}'", "above zero", diameter_m=self.diameter_m, length_m=self.length_m
        )
        require(
            f"Pipe '{self.name}'",
            "zero or more",
            roughness_m=self.roughness_m,
            fittings=self.fittings,
        )

    @property
    def area_m2(self) -> Alike:
        """Area of the bore."""
        return math.pi / 4 * self.diameter_m**2

    @property
    def volume_m3(self) -> Alike:
        """Water the full pipe holds."""
        return self.area_m2 * self.length_m

    @property
    def diameter(self) -> Quantity:
        """Inside diameter, a quantity."""
        return Quantity(self.diameter_m, "m")

    @property
    def length(self) -> Quantity:
        """Length along the slope, a quantity."""
        return Quantity(self.length_m, "m")

    def velocity_si(self, flow_m3s: float) -> Number:
        """Mean speed of the water, m/s."""
        return np.asarray(flow_m3s) / self.area_m2

    def loss_si(self, flow_m3s: Number, viscosity_m2s: float) -> Alike:
        """Head lost in m at flows of any shape."""
        roughness = self.roughness_m * self.roughness_factor
        return self.loss_factor * loss(
            flow_m3s, self.diameter_m, self.length_m, roughness, viscosity_m2s, self.fittings
        )

    def findings_si(self, flow_m3s: float, viscosity_m2s: float) -> tuple[Finding, ...]:
        """What limits the trust in :meth:`loss_si` at these flows."""
        reynolds = np.abs(self.velocity_si(flow_m3s)) * self.diameter_m / viscosity_m2s
        found = outside(reynolds, self.roughness_m * self.roughness_factor / self.diameter_m)
        return tuple(Finding("caution", self.name, text) for bad, text in found if np.any(bad))


@dataclass(frozen=True, eq=False)
class Line(Result):
    """Full pipes in series, from the pond down.

    Parameters
    ----------
    pipes : tuple of Pipe
    """

    pipes: tuple[Pipe, ...]

    def __post_init__(self) -> None:
        require("Line", "above zero", number_of_pipes=len(self.pipes))

    @property
    def length_m(self) -> Alike:
        """Length along the slope."""
        return sum((pipe.length_m for pipe in self.pipes), 0.0)

    @property
    def volume_m3(self) -> Alike:
        """Water the full line holds."""
        return sum((pipe.volume_m3 for pipe in self.pipes), 0.0)

    @property
    def joined(self) -> Line:
        """The line with pipes that follow each other and are alike made one: where it was cut for
        listing changes nothing."""
        made = [self.pipes[0]]
        for pipe in self.pipes[1:]:
            last = made[-1]
            if _alike(last, pipe):
                made[-1] = replace(
                    last,
                    length_m=last.length_m + pipe.length_m,
                    fittings=last.fittings + pipe.fittings,
                )
            else:
                made.append(pipe)
        return Line(tuple(made))

    def velocity_si(self, flow_m3s: Number) -> Number:
        """Highest mean speed anywhere in the line, m/s."""
        return np.asarray(flow_m3s) / min(pipe.area_m2 for pipe in self.pipes)

    def loss_si(self, flow_m3s: Number, viscosity_m2s: float) -> Alike:
        """Head lost in m from the first pipe's inlet to the last one's end."""
        return sum(pipe.loss_si(flow_m3s, viscosity_m2s) for pipe in self.pipes)

    def flow_si(self, head_m: Number, viscosity_m2s: float, outlet: float = 0.0) -> Alike:
        """Flow in m³/s that uses up a head.

        Parameters
        ----------
        head_m : float or ndarray
            Head between the pond and the outlet; zero or less gives no flow.
        viscosity_m2s : float
        outlet : float or ndarray
            What the outlet takes besides, as c in c·Q² (s²/m⁵): for n open jets of area A and
            coefficient C it is 1/(2g(nCA)²), for a free end 1/(2gA²).
        """

        def needed(flow: float) -> Number:
            return self.loss_si(flow, viscosity_m2s) + outlet * flow**2

        narrowest = min(pipe.diameter_m for pipe in self.pipes)
        return flow_for(head_m, needed, narrowest, self.length_m)

    def findings_si(self, flow_m3s: float, viscosity_m2s: float) -> tuple[Finding, ...]:
        """What limits the trust in :meth:`loss_si` at these flows."""
        return tuple(
            finding for pipe in self.pipes for finding in pipe.findings_si(flow_m3s, viscosity_m2s)
        )


def _alike(one: Pipe, other: Pipe) -> bool:
    """Whether two pipes differ at most in length and fittings."""
    same = (each.name for each in fields(Pipe) if each.name not in ("length_m", "fittings"))
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in same)


def loss(
    flow: Number,
    diameter: Number,
    length: Number,
    roughness: Number,
    viscosity: float,
    fittings: Number = 0.0,
) -> Alike:
    """Head lost, SI floats, no checks: for solvers and loops."""
    speed = np.asarray(flow, dtype=float) / (math.pi / 4 * diameter**2)
    pace = np.abs(speed)
    # Still water has no Reynolds number; any small one gives the right loss, none.
    reynolds = np.maximum(pace * diameter / viscosity, 1e-9)
    return (factor(reynolds, roughness / diameter) * (length / diameter) + fittings) * (
        speed * pace / (2 * GRAVITY)
    )


_loss = loss  # where an argument is itself called loss


def flow_for(head: Number, needed: Alike, diameter: Number, length: float) -> Number:
    """Flow at which `needed(flow)`, a loss made of pipe friction and squares, uses up `head`."""
    head = np.asarray(head, dtype=float)
    wanted = np.log(np.where(head > 0, head, np.nan))

    def miss(log_flow: Number) -> float:
        return np.log(needed(np.exp(log_flow))) - wanted

    speed = np.sqrt(2 * GRAVITY * np.where(head > 0, head, np.nan) * diameter / (0.02 * length))
    flow = np.exp(root_by_power(miss, np.log(speed * (math.pi / 4 * diameter**2)), *_FLOW_POWERS))
    return np.where(head > 0, flow, np.where(np.isnan(head), np.nan, 0.0))[()]


def _flow_outside(
    flow: float, diameter: float, roughness: float, temperature: float, viscosity: float | None
) -> Iterator[Outside]:
    nu = water_viscosity.si(temperature) if viscosity is None else viscosity
    reynolds = np.abs(flow) / (math.pi / 4 * np.asarray(diameter)) / nu
    yield from outside(reynolds, roughness / np.asarray(diameter))


@pipe_loss.valid
def _(
    flow: Given, diameter: Given, roughness: Given, temperature: Given, viscosity: Given
) -> Iterator[Outside]:
    yield from _flow_outside(flow, diameter, roughness, temperature, viscosity)


@pipe_flow.valid
def _(
    loss: Given,
    diameter: Given,
    length: Given,
    roughness: Given,
    temperature: Given,
    viscosity: Given,
    fittings: Given,
) -> Iterator[Outside]:
    flow = pipe_flow.si(loss, diameter, length, roughness, temperature, viscosity, fittings)
    yield from _flow_outside(flow, diameter, roughness, temperature, viscosity)


@pipe_diameter.valid
def _(
    flow: Given,
    loss: Given,
    length: Given,
    roughness: Given,
    temperature: Given,
    viscosity: Given,
    fittings: Given,
) -> Iterator[Outside]:
    diameter = pipe_diameter.si(flow, loss, length, roughness, temperature, viscosity, fittings)
    yield from _flow_outside(flow, diameter, roughness, temperature, viscosity)
