"""Sizes of impulse machines: jets, runner, buckets, speed; and what a bucket takes from a jet."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Q_, Floats, Given, Number, Quantity, units
from ..water import GRAVITY
from ..works.solve import require
from .jets import jet_diameter

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["ImpulseSize", "Suited", "bucket_efficiency", "jets_needed", "pelton", "turgo"]


@dataclass(frozen=True)
class Proportions:
    """Usual proportions of a kind of impulse runner, as multiples of the jet diameter."""

    kind: str
    speed_ratio: float  # bucket speed over ideal jet speed
    jet_ratio: float  # runner diameter over jet diameter, when nothing else decides
    _: KW_ONLY
    jet_ratio_impossible: float
    jet_ratio_tight: float
    jet_ratio_large: float
    bucket_width: float
    most_jets: int
    source: str


PELTON = Proportions(
    "pelton",
    0.46,
    10.0,
    jet_ratio_impossible=6.0,
    jet_ratio_tight=9.0,
    jet_ratio_large=24.0,
    bucket_width=3.0,
    most_jets=6,
    source="speed ratio 0.43 to 0.46 in the worked examples of P. K. Nag, Power Plant Engineering, "
    "ch. 10, and K. Subramanya, 1000 Solved Problems in Fluid Mechanics, ch. 16; jet ratio "
    "and bucket width common practice",
)
TURGO = Proportions(
    "turgo",
    0.46,
    5.0,
    jet_ratio_impossible=3.0,
    jet_ratio_tight=4.0,
    jet_ratio_large=12.0,
    bucket_width=2.2,
    most_jets=6,
    source="speed ratio 0.46: B. Cobb, MSc thesis, Oregon State University, 2011; the rest common practice",
)


@dataclass(frozen=True, eq=False)
class ImpulseSize(Result):
    """Main sizes of an impulse machine; SI numbers, with quantities as properties.

    ``runner_diameter_m`` is the pitch circle: where the middle of the jet strikes.
    ``jet_ratio`` is runner diameter over jet diameter.
    """

    kind: str
    jets: float
    jet_diameter_m: float
    _: KW_ONLY
    jet_velocity_m_s: float
    runner_diameter_m: float
    speed_rpm: float
    runaway_rpm: float
    bucket_width_m: float
    buckets: float
    jet_ratio: float
    findings: tuple[Finding, ...]

    @property
    def jet_diameter(self) -> Quantity:
        """Of the water; the bore of the nozzle is a little more."""
        return Q_(self.jet_diameter_m, "m")

    @property
    def runner_diameter(self) -> Quantity:
        return Q_(self.runner_diameter_m, "m")

    @property
    def bucket_width(self) -> Quantity:
        return Q_(self.bucket_width_m, "m")

    @property
    def speed(self) -> Quantity:
        return Q_(self.speed_rpm, "rpm")

    @property
    def runaway(self) -> Quantity:
        """Speed it may reach when the load is lost; the generator must bear it."""
        return Q_(self.runaway_rpm, "rpm")


def _impulse_size(
    of: Proportions,
    flow: float,
    head: float,
    jets: float,
    speed: float | None,
    velocity_coefficient: float,
    speed_ratio: float,
) -> ImpulseSize:
    require(of.kind, "above zero", flow=flow, head=head, jets=jets)
    if speed is not None:
        require(of.kind, "above zero", speed=speed)
    ideal = np.sqrt(2 * GRAVITY * head)
    jet = jet_diameter.si(flow, head, jets, velocity_coefficient)
    circumferential = speed_ratio * ideal
    if speed is None:
        runner = of.jet_ratio * jet
        speed = 60 * circumferential / (np.pi * runner)
    else:
        runner = 60 * circumferential / (np.pi * speed)
    ratio = runner / jet
    if np.any(ratio < of.jet_ratio_impossible):
        raise HydrokitError(
            Sentence(
                "{kind} runner: the jet is too large for its runner ({jet} on {runner}, {ratio} "
                "times; at least {least} is needed). Take more jets, a lower speed, or another "
                "kind of machine.",
                kind=of.kind,
                jet=Amount(np.max(jet), "diameter"),
                runner=Amount(np.min(runner), "diameter"),
                ratio=Amount(np.min(ratio), "number", 2),
                least=Amount(of.jet_ratio_impossible, "number"),
            )
        )
    return ImpulseSize(
        of.kind,
        jets,
        jet,
        jet_velocity_m_s=velocity_coefficient * ideal,
        runner_diameter_m=runner,
        speed_rpm=speed,
        runaway_rpm=speed / speed_ratio * velocity_coefficient,
        bucket_width_m=of.bucket_width * jet,
        buckets=np.round(15 + ratio / 2),
        jet_ratio=ratio,
        findings=_size_findings(of, jets, ratio),
    )


def _size_findings(of: Proportions, jets: float, ratio: float) -> tuple[Finding, ...]:
    where = f"{of.kind} runner"
    said = [
        (
            np.any(ratio < of.jet_ratio_tight),
            "caution",
            f"the runner is less than {of.jet_ratio_tight:g} jets across: buckets crowd and efficiency falls",
        ),
        (
            np.any(ratio > of.jet_ratio_large),
            "note",
            f"the runner is more than {of.jet_ratio_large:g} jets across: windage takes a larger share; "
            "a faster shaft or fewer jets would suit",
        ),
        (
            np.any(np.asarray(jets) > of.most_jets),
            "caution",
            f"more than {of.most_jets} jets: their spent water gets in each other's way",
        ),
        (
            True,
            "caution",
            "without load it speeds up to nearly twice its speed: runner and generator must bear "
            "that, and it must not be reached for while it turns",
        ),
    ]
    return tuple(Finding(level, where, text) for so, level, text in said if so)


@units(
    None,
    flow="m^3/s",
    head="head",
    jets="count",
    speed="rpm",
    velocity_coefficient="ratio",
    speed_ratio="ratio",
)
def pelton(
    flow: Given,
    head: Given,
    jets: Given,
    speed: Given = None,
    velocity_coefficient: Given = 0.97,
    speed_ratio: Given = 0.46,
) -> ImpulseSize:
    r"""Main sizes of a Pelton machine for a flow and a net head.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        Of all jets together, :math:`Q`.
    head : Quantity or str [length]
        Net head at the nozzle, :math:`H`.
    jets : number
        Equal jets, :math:`n`.
    speed : Quantity or str [1/time], optional
        Shaft speed, such as that of the generator. Left out, the runner is made ten jets across
        and the speed follows.
    velocity_coefficient : number
        Of the nozzle, :math:`C_v`.
    speed_ratio : number
        Bucket speed over ideal jet speed, :math:`\varphi = u/\sqrt{2 g H}`; 0.43 to 0.46 is usual.

    Returns
    -------
    ImpulseSize
        Jet and runner diameter, speed, runaway speed, bucket width and count, jet ratio, findings.

    Raises
    ------
    HydrokitError
        A jet too large for its runner (less than six jets across), no jet.

    Notes
    -----
    .. math:: d = \sqrt{\frac{4 Q}{\pi n C_v \sqrt{2gH}}}, \qquad D = \frac{60\,\varphi\sqrt{2gH}}{\pi N}

    Buckets three jets wide and 15 + D/2d in number are common practice. Runaway is taken where
    the buckets move with the jet.

    References
    ----------
    .. [1] P. K. Nag, *Power Plant Engineering*, ex. 10.2, p. 710.
    .. [2] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ch. 16.

    Examples
    --------
    >>> size = pelton("12 L/s", "60 m", 2, speed="1500 rpm")
    >>> print(f"{size.runner_diameter.to('mm'):.0f~P}, jets {size.jet_diameter.to('mm'):.1f~P}, {size.jet_ratio:.1f}")
    201 mm, jets 15.2 mm, 13.3
    >>> print(f"{pelton('100 gpm', '200 ft', 4).runner_diameter.to('in'):.1f~P}")
    3.0 in
    """
    return _impulse_size(PELTON, flow, head, jets, speed, velocity_coefficient, speed_ratio)


@units(
    None,
    flow="m^3/s",
    head="head",
    jets="count",
    speed="rpm",
    velocity_coefficient="ratio",
    speed_ratio="ratio",
)
def turgo(
    flow: Given,
    head: Given,
    jets: Given,
    speed: Given = None,
    velocity_coefficient: Given = 0.97,
    speed_ratio: Given = 0.46,
) -> ImpulseSize:
    r"""Main sizes of a Turgo machine for a flow and a net head.

    The jet meets the side of the runner and leaves on the other, so a runner of the same size
    takes a thicker jet than a Pelton runner and turns faster.

    Parameters
    ----------
    flow, head, jets, speed, velocity_coefficient, speed_ratio
        As in :func:`pelton`. Left out, the speed is that of a runner five jets across.

    Returns
    -------
    ImpulseSize

    Raises
    ------
    HydrokitError
        A jet too large for its runner (less than three jets across), no jet.

    References
    ----------
    .. [1] B. Cobb, *Experimental study of impulse turbines and permanent magnet alternators for
           pico-hydropower
       generation*, MSc thesis, Oregon State University, 2011 (speed ratio 0.46). Proportions common practice.

    Examples
    --------
    >>> print(f"{turgo('12 L/s', '60 m', 2).runner_diameter.to('mm'):.0f~P}")
    76 mm
    >>> print(f"{turgo('100 gpm', '200 ft', 4).speed.to('rpm'):.0f~P}")
    7852 rpm
    """
    return _impulse_size(TURGO, flow, head, jets, speed, velocity_coefficient, speed_ratio)


@units("number", flow="m^3/s", head="head", diameter="m", velocity_coefficient="ratio")
def jets_needed(
    flow: Given, head: Given, diameter: Given, velocity_coefficient: Given = 0.97
) -> Number:
    """How many jets of a size a flow fills, before rounding up to whole jets.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
    head : Quantity or str [length]
        Net head at the nozzle.
    diameter : Quantity or str [length]
        Of one jet.
    velocity_coefficient : number

    Returns
    -------
    float or array

    References
    ----------
    .. [1] P. K. Nag, *Power Plant Engineering*, ex. 10.2, p. 710.

    Examples
    --------
    >>> print(f"{jets_needed('2.40 m^3/s', '300 m', '122.5 mm', 0.98):.2f}")
    2.71
    >>> print(f"{jets_needed('100 gpm', '200 ft', '0.4 in'):.2f}")
    2.32
    """
    each = velocity_coefficient * np.pi / 4 * np.square(diameter) * np.sqrt(2 * GRAVITY * head)
    return flow / each


@units("number", speed_ratio="ratio", angle="rad", friction="ratio")
def bucket_efficiency(
    speed_ratio: Given, angle: Given = "165 deg", friction: Given = 1.0
) -> Number:
    r"""Share of the power of a jet that a bucket takes.

    Parameters
    ----------
    speed_ratio : number
        Bucket speed over the speed of the jet itself, :math:`x = u/v`.
    angle : Quantity or str [angle]
        Through which the bucket turns the jet, :math:`\beta`; 160 to 170 deg is usual.
    friction : number
        Speed of the water leaving over that entering, both seen from the bucket, :math:`k`; 1 is a
        bucket without friction.

    Returns
    -------
    float or array
        Best at half the speed of the jet, zero at rest and at the speed of the jet.

    Notes
    -----
    .. math:: \eta = 2 x (1 - x)(1 - k \cos\beta)

    Times :math:`C_v^2` it is the share of the power at the nozzle.

    References
    ----------
    .. [1] P. K. Nag, *Power Plant Engineering*, ex. 10.5.
    .. [2] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ex. 16.11, p. 409.

    Examples
    --------
    >>> print(f"{bucket_efficiency(0.5, '165 deg'):.3f}")
    0.983
    >>> print(f"{bucket_efficiency('45 %', '160 deg', 0.9):.3f}")
    0.914
    """
    require("bucket_efficiency", "a share from 0 to 1", speed_ratio=speed_ratio, friction=friction)
    speed_ratio = np.asarray(speed_ratio)
    return 2 * speed_ratio * (1 - speed_ratio) * (1 - friction * np.cos(angle))


@units("number", head_ratio="ratio", held="ratio")
def off_speed_efficiency(head_ratio: Given, held: Given = 1.0) -> Number:
    r"""Efficiency of an impulse runner whose speed is held, as the head falls from the one that suits it.

    Parameters
    ----------
    head_ratio : float or ndarray
        Head over the head at which the speed is best, :math:`h`.
    held : number
        Share of the speed that is held, :math:`s`: 1 by a grid or a governor, 0 where it follows the jet.

    Returns
    -------
    float or ndarray
        Efficiency over the best one; 0 where the jet is no faster than the buckets.

    Raises
    ------
    HydrokitError
        A ratio below zero.

    Notes
    -----
    The speed of the jet goes with the root of the head, so the buckets move at
    :math:`r = h^{-s/2}` times their best share of it. By Euler's equation the efficiency is a
    parabola of that speed, :math:`\eta/\eta_{best} = r\,(2 - r)`, with its runaway at twice the best
    speed; windage brings runaway down to 1.8 or 1.9 times, which moves the parabola by less than
    half a hundredth for r from 0.9 to 1.1.

    References
    ----------
    .. [1] L. Euler's turbine equation for a jet on buckets, as in F. M. White, *Fluid Mechanics*,
       section on impulse turbines (the section from memory); :func:`bucket_efficiency`.

    Examples
    --------
    >>> print(f"{off_speed_efficiency(0.8):.4f}, {off_speed_efficiency(0.5):.4f}")
    0.9861, 0.8284
    >>> print(f"{off_speed_efficiency('90 %'):.4f}, half of the speed held {off_speed_efficiency(0.5, 0.5):.4f}")
    0.9971, half of the speed held 0.9642
    """
    head = np.asarray(head_ratio, dtype=float)
    require("off_speed_efficiency", "zero or more", head_ratio=head)
    require("off_speed_efficiency", "a share from 0 to 1", held=held)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = np.power(head, -0.5 * np.asarray(held))
        given = ratio * (2 - np.minimum(ratio, 2.0))
    return np.where(np.isnan(head), np.nan, np.where(ratio < 2, given, 0.0))[()]


@dataclass(frozen=True, eq=False)
class Suited:
    """Heads that the speed of a runner was set for: those at its jets, fed and the pipe clean, when
    it was installed.

    Parameters
    ----------
    area_m2 : ndarray
        Jet area times discharge coefficient of each opening, rising.
    head_m : ndarray
        Net head with that opening fed.
    """

    area_m2: Alike
    head_m: Alike

    def head_si(self, area_m2: Floats) -> Floats:
        """Head in m that suits it with so much open; with more than it ever had, that of the largest."""
        return np.interp(area_m2, self.area_m2, self.head_m)
