"""Jets: what leaves a nozzle under a head, and the jet that takes most power from a pipe.

A plant's jets and its pressure gauge are together a flow meter; for many plants
the best one there is.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Iterator

import numpy as np

from ..units import Given, Number, units
from ..water import GRAVITY, density, viscosity
from ..works.solve import require

__all__ = [
    "JET_KINDS",
    "JetKind",
    "best_flow",
    "best_jet_diameter",
    "jet_area",
    "jet_diameter",
    "jet_flow",
    "jet_flow_at_head",
    "jet_head",
    "jet_velocity",
]


@dataclass(frozen=True)
class JetKind:
    """How much of the ideal flow a kind of jet passes, and how fast it leaves.

    ``coefficient`` is for flow over the drilled or bored area; ``low`` and ``high``
    bound what is found in practice. ``velocity_coefficient`` is the speed of the jet
    over the ideal speed: its square is the share of the power that survives.
    A plate jet passes little water yet wastes little power, because the jet narrows
    after the hole.
    """

    coefficient: float
    low: float
    high: float
    _: KW_ONLY
    velocity_coefficient: float
    what: str
    source: str


# The bounds are what matters: drill size and coefficient cannot be told apart by a gauge.
JET_KINDS = {
    "sharp-edged orifice": JetKind(
        0.61,
        0.59,
        0.63,
        velocity_coefficient=0.97,
        what="thin plate, square edge upstream, plate thinner than half the hole",
        source="pi/(pi + 2) = 0.611, free-streamline theory of a slot; small holes in a wide pipe measure "
        "0.596 to 0.60 (ISO 5167-2:2003, eq. 4)",
    ),
    "drilled plate": JetKind(
        0.62,
        0.60,
        0.82,
        velocity_coefficient=0.96,
        what="hole drilled in a plate of some thickness, edge as the drill left it",
        source="common practice; reaches that of the short tube when the plate is thick and the jet "
        "touches the wall again",
    ),
    "short tube": JetKind(
        0.80,
        0.75,
        0.83,
        velocity_coefficient=0.80,
        what="square-edged hole two to three diameters long, running full",
        source="from memory: textbook value 0.80 to 0.82",
    ),
    "conical nozzle": JetKind(
        0.95,
        0.92,
        0.98,
        velocity_coefficient=0.97,
        what="smooth taper, such as a plastic cone cut to the size wanted",
        source="velocity coefficients 0.95 to 0.985 in the worked examples of K. Subramanya, 1000 Solved "
        "Problems in Fluid Mechanics, ch. 16, and P. K. Nag, Power Plant Engineering, ch. 10",
    ),
    "spear": JetKind(
        0.97,
        0.95,
        0.985,
        velocity_coefficient=0.975,
        what="needle in a nozzle, flow over the area of the open jet",
        source="velocity coefficients 0.95 to 0.985 in the worked examples of K. Subramanya, 1000 Solved "
        "Problems in Fluid Mechanics, ch. 16, and P. K. Nag, Power Plant Engineering, ch. 10",
    ),
}

LOWEST_SETTLED_REYNOLDS = 1e4


def _require_jet(function: str, diameter: float, jets: float, coefficient: float) -> Any:
    require(function, "above zero", diameter=diameter, coefficient=coefficient)
    require(function, "a share from 0 to 1", coefficient=coefficient)
    require(function, "zero or more", jets=jets)


def jet_area(diameter: float, jets: float = 1) -> float:
    """Total area of equal round jets [m2], from a diameter in metres."""
    return jets * np.pi / 4 * np.square(diameter)


@units("m^3/s", pressure="Pa", diameter="m", jets="count", coefficient="ratio", temperature="K")
def jet_flow(
    pressure: Given,
    diameter: Given,
    jets: Given,
    coefficient: Given,
    temperature: Given = "10 degC",
) -> Number:
    r"""Flow through jets at a gauge pressure read while they run.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Gauge pressure just before the jets, while running, :math:`p`. The reading with the
        gate shut is the static pressure and gives a flow that is too large.
    diameter : Quantity or str [length]
        Bore of one jet, :math:`d`.
    jets : number
        How many equal jets are open, :math:`n`.
    coefficient : number
        Discharge coefficient, :math:`C_d`; typical values in ``JET_KINDS``.
    temperature : Quantity or str [temperature]
        Of the water; sets its density.

    Returns
    -------
    Quantity [volume/time]
        Flow of all open jets together.

    Raises
    ------
    HydrokitError
        A negative pressure, or a coefficient above 1.

    Warns
    -----
    RangeWarning
        Reynolds number of the jet below 10 000, where the coefficient changes with size.

    Notes
    -----
    .. math:: Q = n C_d \frac{\pi d^2}{4} \sqrt{2 p / \rho}

    Velocity in the pipe at the gauge is neglected: 0.2 % when the jets have a sixteenth of
    the area of the pipe, 3 % when they have a quarter.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ch. 16 (velocity coefficient
       of a Pelton jet).

    Examples
    --------
    >>> f"{jet_flow('3.1 bar', '18 mm', 3, 0.95).to('L/s'):.2f~P}"
    '18.06 L/s'
    >>> f"{jet_flow('45 psi', '0.75 in', 3, 0.95).to('gpm'):.0f~P}"
    '321 gpm'
    """
    _require_jet("jet_flow", diameter, jets, coefficient)
    require("jet_flow", "zero or more", pressure=pressure)
    return coefficient * jet_area(diameter, jets) * np.sqrt(2 * pressure / density.si(temperature))


@jet_flow.valid
def _(pressure: float, diameter: float, temperature: float) -> Iterator[tuple[Any, Any]]:
    reynolds = (
        np.sqrt(2 * np.asarray(pressure) / density.si(temperature))
        * diameter
        / viscosity.si(temperature)
    )
    yield (
        reynolds < LOWEST_SETTLED_REYNOLDS,
        "Reynolds number of the jet below 10,000: its coefficient is not settled there",
    )


@units("m^3/s", head="head", diameter="m", jets="count", coefficient="ratio")
def jet_flow_at_head(head: Given, diameter: Given, jets: Given, coefficient: Given) -> Number:
    r"""Flow through jets under a head standing at the nozzle.

    Parameters
    ----------
    head : Quantity or str [length]
        Net head at the nozzle, :math:`H_n`.
    diameter, jets, coefficient
        As in :func:`jet_flow`.

    Returns
    -------
    Quantity [volume/time]

    Notes
    -----
    .. math:: Q = n C_d \frac{\pi d^2}{4} \sqrt{2 g H_n}

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ex. 16.11, p. 409.

    Examples
    --------
    >>> f"{jet_flow_at_head('31.6 m', '18 mm', 3, 0.95).to('L/s'):.2f~P}"
    '18.06 L/s'
    >>> f"{jet_flow_at_head('104 ft', '0.75 in', 3, 0.95).to('gpm'):.0f~P}"
    '321 gpm'
    """
    _require_jet("jet_flow_at_head", diameter, jets, coefficient)
    require("jet_flow_at_head", "zero or more", head=head)
    return coefficient * jet_area(diameter, jets) * np.sqrt(2 * GRAVITY * head)


@units("m", flow="m^3/s", diameter="m", jets="count", coefficient="ratio")
def jet_head(flow: Given, diameter: Given, jets: Given, coefficient: Given) -> Number:
    r"""Head that must stand at the nozzle for the jets to pass a flow.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        Flow of all open jets together, :math:`Q`.
    diameter, jets, coefficient
        As in :func:`jet_flow`.

    Returns
    -------
    Quantity [length]

    Notes
    -----
    .. math:: H_n = \frac{1}{2g}\left(\frac{Q}{n C_d \pi d^2/4}\right)^2

    When less water arrives than the open jets would take, this is where the water stands in
    the pipe, so power falls with the cube of the flow.

    References
    ----------
    .. [1] As in :func:`jet_flow_at_head`, solved for the head.

    Examples
    --------
    >>> f"{jet_head('12 L/s', '18 mm', 3, 0.95):.1f~P}"
    '14.0 m'
    >>> f"{jet_head('200 gpm', '0.75 in', 3, 0.95).to('ft'):.0f~P}"
    '40 ft'
    """
    _require_jet("jet_head", diameter, jets, coefficient)
    require("jet_head", "above zero", jets=jets)
    require("jet_head", "zero or more", flow=flow)
    return np.square(flow / (coefficient * jet_area(diameter, jets))) / (2 * GRAVITY)


@units("m", flow="m^3/s", head="head", jets="count", coefficient="ratio")
def jet_diameter(flow: Given, head: Given, jets: Given, coefficient: Given) -> Number:
    """Bore of each of several equal jets that together pass a flow under a head.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
    head : Quantity or str [length]
        Net head at the nozzle.
    jets, coefficient
        As in :func:`jet_flow`.

    Returns
    -------
    Quantity [length]

    References
    ----------
    .. [1] As in :func:`jet_flow`, solved for the bore.

    Examples
    --------
    >>> f"{jet_diameter('18 L/s', '31.6 m', 3, 0.95).to('mm'):.1f~P}"
    '18.0 mm'
    >>> f"{jet_diameter('320 gpm', '104 ft', 3, 0.95).to('in'):.2f~P}"
    '0.75 in'
    """
    require("jet_diameter", "above zero", head=head, jets=jets, coefficient=coefficient)
    require("jet_diameter", "a share from 0 to 1", coefficient=coefficient)
    require("jet_diameter", "zero or more", flow=flow)
    return np.sqrt(4 * flow / (np.pi * jets * coefficient * np.sqrt(2 * GRAVITY * head)))


@units("m/s", head="head", velocity_coefficient="ratio")
def jet_velocity(head: Given, velocity_coefficient: Given = 0.97) -> Number:
    r"""Speed of a jet under a head, :math:`v = C_v\sqrt{2 g H_n}`.

    Parameters
    ----------
    head : Quantity or str [length]
        Net head at the nozzle.
    velocity_coefficient : number
        :math:`C_v`; 0.95 to 0.985 for good nozzles.

    Returns
    -------
    Quantity [length/time]

    References
    ----------
    .. [1] P. K. Nag, *Power Plant Engineering*, ex. 10.2, p. 710.

    Examples
    --------
    >>> f"{jet_velocity('300 m', 0.98):.1f~P}"
    '75.2 m/s'
    >>> f"{jet_velocity('140 ft').to('ft/s'):.0f~P}"
    '92 ft/s'
    """
    require("jet_velocity", "a share from 0 to 1", velocity_coefficient=velocity_coefficient)
    require("jet_velocity", "zero or more", head=head)
    return velocity_coefficient * np.sqrt(2 * GRAVITY * head)


@units("m^3/s", flow="m^3/s", head="head", loss="head", exponent="count")
def best_flow(flow: Given, head: Given, loss: Given, exponent: Given = 2.0) -> Number:
    r"""Flow that takes the most power from a pipe, however much water there is.

    A bound, not a goal: past it more water gives less power. A pipe is rarely worth running
    near it, because the last kilowatts cost much water.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        A flow for which the loss of the pipe is known, :math:`Q_0`.
    head : Quantity or str [length]
        Gross head, :math:`H`.
    loss : Quantity or str [length]
        Head lost in the pipe at that flow, :math:`h_0`.
    exponent : number
        How the loss grows with flow, :math:`m`: 2 for rough pipe and fittings, 1.852 in the
        Hazen-Williams rule.

    Returns
    -------
    Quantity [volume/time]

    Notes
    -----
    With :math:`h = h_0 (Q/Q_0)^m`, power :math:`Q(H - h)` is largest where the loss is
    :math:`H/(m + 1)`: a third of the head when :math:`m = 2`.

    .. math:: Q = Q_0 \left(\frac{H}{(m + 1) h_0}\right)^{1/m}

    References
    ----------
    .. [1] B. Munson, D. Young, T. Okiishi, *Fundamentals of Fluid Mechanics*, ex. 12.6, p. 719.

    Examples
    --------
    >>> f"{best_flow('10 L/s', '45 m', '3 m').to('L/s'):.1f~P}"
    '22.4 L/s'
    >>> f"{best_flow('200 gpm', '150 ft', '12.5 ft').to('gpm'):.0f~P}"
    '400 gpm'
    """
    require("best_flow", "above zero", flow=flow, head=head, loss=loss, exponent=exponent)
    return flow * (head / ((exponent + 1) * loss)) ** (1 / exponent)


@units("m", diameter="m", length="m", friction_factor="ratio", jets="count")
def best_jet_diameter(
    diameter: Given, length: Given, friction_factor: Given, jets: Given = 1
) -> Number:
    r"""Bore of the jets that take the most power from a long pipe.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Inside diameter of the pipe, :math:`D`.
    length : Quantity or str [length]
        Length of the pipe, :math:`L`.
    friction_factor : number
        Darcy friction factor, :math:`f`.
    jets : number
        Equal jets sharing the flow, :math:`n`.

    Returns
    -------
    Quantity [length]

    Notes
    -----
    From the one-third loss with an ideal nozzle and no other losses:

    .. math:: d = \left(\frac{D^5}{2 f L}\right)^{1/4} / \sqrt{n}

    References
    ----------
    .. [1] B. Munson, D. Young, T. Okiishi, *Fundamentals of Fluid Mechanics*, ex. 12.6, p. 719.

    Examples
    --------
    >>> f"{best_jet_diameter('100 mm', '300 m', 0.02).to('mm'):.1f~P}"
    '30.2 mm'
    >>> f"{best_jet_diameter('8 in', '1000 ft', 0.02).to('in'):.2f~P}"
    '2.87 in'
    """
    require(
        "best_jet_diameter",
        "above zero",
        diameter=diameter,
        length=length,
        friction_factor=friction_factor,
        jets=jets,
    )
    return (diameter**5 / (2 * friction_factor * length)) ** 0.25 / np.sqrt(jets)
