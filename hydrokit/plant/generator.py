"""Generators: speed from poles, and efficiency at part load within the bounds of the motor standards."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Iterator

import numpy as np

from ..errors import Finding, HydrokitError, did_you_mean
from ..tables import load
from ..units import Given, Number, units
from .losses import LossCurve

__all__ = ["GENERATOR_KINDS", "efficiency_bounds", "generator", "synchronous_speed"]


@dataclass(frozen=True)
class GeneratorKind:
    """How a kind of generator loses: where it lies between the motor bounds, and how losses split."""

    between_bounds: float  # 0: at the lower bound of its size; 1: at the upper
    constant_share: float  # of the losses at rated output, those that are always there
    what: str
    _: KW_ONLY
    mark: str


GENERATOR_KINDS = {
    "synchronous": GeneratorKind(
        0.25, 0.45, "with its own excitation, standing alone or on the grid", mark="common practice"
    ),
    "induction": GeneratorKind(
        0.25,
        0.40,
        "a motor driven above its synchronous speed; needs a grid or capacitors",
        mark="common practice",
    ),
    "permanent magnet": GeneratorKind(
        0.50,
        0.20,
        "no excitation to lose; voltage follows speed, so an inverter or controller comes after it",
        mark="common practice",
    ),
}


@units("rpm", frequency="Hz", poles="count", slip="ratio")
def synchronous_speed(frequency: Given, poles: Given, slip: Given = 0.0) -> Number:
    r"""Shaft speed of a generator from the frequency of the supply and its poles.

    Parameters
    ----------
    frequency : Quantity or str [1/time]
        :math:`f`.
    poles : number
        Even: 2, 4, 6..., :math:`p`.
    slip : number
        For an induction generator, how much faster than the field it turns, :math:`s`: 0.01 to 0.05
        is usual for small ones.

    Returns
    -------
    Quantity [1/time]

    Raises
    ------
    HydrokitError
        Poles that are not an even number.

    Notes
    -----
    .. math:: N = 120 f (1 + s) / p

    References
    ----------
    .. [1] Definition of the pole pair.

    Examples
    --------
    >>> print(f"{synchronous_speed('50 Hz', 4):.0f~P}")
    1500 rpm
    >>> print(f"{synchronous_speed('60 Hz', 4, slip=0.02):.0f~P}")
    1836 rpm
    """
    poles = np.asarray(poles)
    if np.any((poles < 2) | (poles % 2 != 0)):
        raise HydrokitError(
            f"synchronous_speed(): poles must be an even number of 2 or more, got {np.min(poles):g}."
        )
    return 120 * np.asarray(frequency) * (1 + np.asarray(slip)) / poles


@units(("number", "number"), rated_power="W")
def efficiency_bounds(rated_power: Given) -> tuple[Number, Number]:
    """Least efficiency at full load of a poor and of a good small machine, by its size.

    An induction machine runs about as well as a generator as it does as a motor, so the motor
    classes bound it: below the first a motor was of the lowest class, above the second of the best.

    Parameters
    ----------
    rated_power : Quantity or str [power]
        Rated output.

    Returns
    -------
    tuple of float or array
        Limit between the classes EFF2 and EFF3, and least of EFF1.

    Warns
    -----
    RangeWarning
        Outside 1.1 to 22 kW, where the end of the table is held.

    References
    ----------
    .. [1] CEMEP voluntary agreement on motor efficiency classes, two poles.

    Examples
    --------
    >>> efficiency_bounds("4 kW")
    (0.842, 0.876)
    >>> low, high = efficiency_bounds("10 hp")
    >>> print(f"{low:.3f} to {high:.3f}")
    0.870 to 0.895
    """
    table = load("motors")
    classes = np.array(table["class"])
    size = np.log(rated_power)
    return tuple(
        np.interp(
            size,
            np.log(1000 * table["power_kw"][classes == name]),
            table["least_efficiency"][classes == name],
        )
        for name in ("EFF2", "EFF1")
    )


@efficiency_bounds.valid
def _(rated_power: Number) -> Iterator[tuple[Any, Any]]:
    power = np.asarray(rated_power)
    yield (
        (power < 1100) | (power > 22000),
        "machine outside 1.1 to 22 kW: the ends of the table are held",
    )


@units(None, rated_power="W", rated_efficiency="ratio", constant_share="ratio")
def generator(
    kind: str, rated_power: Given, rated_efficiency: Given = None, constant_share: Given = None
) -> LossCurve:
    """Losses of a usual generator of a kind and size, where its maker gives none.

    Parameters
    ----------
    kind : {"synchronous", "induction", "permanent magnet"}
    rated_power : Quantity or str [power]
        Rated electrical output.
    rated_efficiency : number or str, optional
        At rated output; left out, one between the bounds of :func:`efficiency_bounds`.
    constant_share : number or str, optional
        Share of the losses at rated output that is there at any output; left out, that of the kind.

    Returns
    -------
    LossCurve
        ``.efficiency_si(load_ratio)``, ``.output_si(shaft_w)``, ``.input_si(output_w)``, ``.findings``.

    Raises
    ------
    HydrokitError
        An unknown kind, an efficiency not above 0 and below 1.

    Notes
    -----
    How losses split into constant ones and those with the square of the load is common practice.
    :func:`hydrokit.plant.losses.loss_curve` takes a manufacturer's table instead.

    References
    ----------
    .. [1] CEMEP voluntary agreement on motor efficiency classes (bounds).

    Examples
    --------
    >>> curve = generator("synchronous", "10 kW")
    >>> print(f"{curve.efficiency_si(1.0):.3f} full, {curve.efficiency_si(0.25):.3f} at a quarter")
    0.886 full, 0.800 at a quarter
    >>> print(f"{generator('induction', '5 hp', '82 %').efficiency_si(0.5):.3f}")
    0.806
    """
    if kind not in GENERATOR_KINDS:
        raise HydrokitError(
            f"generator kind {kind!r} is not known{did_you_mean(kind, GENERATOR_KINDS)}; "
            f"known are {', '.join(GENERATOR_KINDS)}."
        )
    usual, findings = GENERATOR_KINDS[kind], []
    source, mark = "given", "given"
    if rated_efficiency is None:
        low, high = efficiency_bounds.si(rated_power)
        rated_efficiency = float(low + usual.between_bounds * (high - low))
        source, mark = (
            "CEMEP motor classes as bounds; place between them common practice",
            usual.mark,
        )
        findings.append(
            Finding(
                "note",
                "generator",
                f"{100 * rated_efficiency:.0f} % at rated output is a usual value, "
                f"within {100 * low:.0f} to {100 * high:.0f} % for motors of its size",
            )
        )
        findings += efficiency_bounds.check_si([rated_power])
    if not 0 < rated_efficiency < 1:
        raise HydrokitError(
            f"generator: rated efficiency must lie above 0 and below 1 (100 %), got {rated_efficiency:g}."
        )
    share = usual.constant_share if constant_share is None else constant_share
    if not 0 <= share <= 1:
        raise HydrokitError(
            f"generator: the constant share of the losses must lie from 0 to 1 (100 %), got {share:g}."
        )
    lost = 1 / rated_efficiency - 1
    return LossCurve(
        "generator",
        float(rated_power),
        lost * share,
        proportional=0.0,
        square=lost * (1 - share),
        source=source,
        mark=mark,
        findings=tuple(findings),
    )
