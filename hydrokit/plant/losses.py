"""Losses of electrical machines: some always there, some with the load, some with its square."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Q_, Given, Number, Quantity, units

__all__ = ["LossCurve", "loss_curve"]


@dataclass(frozen=True, eq=False)
class LossCurve(Result):
    """Efficiency of a generator, transformer or inverter at any load.

    Parameters
    ----------
    part : str
        Name, for messages and reports.
    rated_w : float
        Rated output [W].
    constant, proportional, square : float
        Losses at rated output as shares of it: those always there, those that grow with the load,
        those that grow with its square.
    source, mark : str
        Where the numbers come from, and how far they may be trusted.

    Raises
    ------
    HydrokitError
        No rated output, or a loss below zero: it would give an efficiency above 1.
    """

    part: str
    rated_w: float
    constant: float
    _: KW_ONLY
    proportional: float
    square: float
    source: str
    mark: str
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        if not self.rated_w > 0:
            raise HydrokitError(
                f"{self.part}: its rated power must be above zero, got {self.rated_w:g} W."
            )
        # a share that falls with the load is allowed where the loss as a whole is above zero at every load
        least = -2 * np.sqrt(max(self.constant, 0.0) * max(self.square, 0.0)) * (1 + 1e-12)
        if not min(self.constant, self.square) >= 0 or not self.proportional >= max(least, -1.0):
            raise HydrokitError(
                f"{self.part}: a loss below zero would make its efficiency exceed 1."
            )

    @property
    def rated(self) -> Quantity:
        """Rated output."""
        return Q_(self.rated_w, "W")

    def input_si(self, output_w: Number) -> Number:
        """Power [W] that must go in for an output [W]."""
        share = np.asarray(output_w, dtype=float) / self.rated_w
        return self.rated_w * (
            share + self.constant + self.proportional * share + self.square * share**2
        )

    def output_si(self, input_w: Number) -> Number:
        """Output [W] from a power [W] going in: nothing until the constant losses are covered."""
        left = np.maximum(np.asarray(input_w, dtype=float) / self.rated_w - self.constant, 0.0)
        slope = 1 + self.proportional
        # this form of the root of the quadratic holds for a square loss of zero too
        return self.rated_w * 2 * left / (slope + np.sqrt(slope**2 + 4 * self.square * left))

    def efficiency_si(self, load_ratio: Number) -> Number:
        """Efficiency at an output given as a share of the rated output; 0 at no load."""
        share = np.asarray(load_ratio, dtype=float)
        taken = share + self.constant + self.proportional * share + self.square * share**2
        return (share / np.where(taken > 0, taken, 1.0))[()]


@units(None, rated_power="W", load_ratio="ratio", efficiency="ratio")
def loss_curve(
    part: str,
    rated_power: Given,
    load_ratio: Given,
    efficiency: Given,
    source: str = "the manufacturer's table",
) -> LossCurve:
    """Loss curve through a manufacturer's efficiencies, as near as constant and square losses can come.

    Parameters
    ----------
    part : str
        Name, for messages and reports.
    rated_power : Quantity or str [power]
        Rated output.
    load_ratio : list or array
        Outputs as shares of the rated output, above zero.
    efficiency : list or array
        Efficiency at each, 0 to 1 or in per cent.
    source : str

    Returns
    -------
    LossCurve
        A note tells how far the curve strays from the points.

    Raises
    ------
    HydrokitError
        Fewer than two points, a load of zero, an efficiency not above 0 and below 1.

    Notes
    -----
    Fitted by least squares with neither loss below zero: :math:`x/\\eta - x = p_0 + p_2 x^2`.

    References
    ----------
    .. [1] Balance of losses, fitted by non-negative least squares.

    Examples
    --------
    >>> curve = loss_curve("generator", "10 kW", [0.25, 0.5, 1.0], ["78 %", "85 %", "86 %"])
    >>> print(f"{curve.efficiency_si(0.75):.3f}")
    0.863
    >>> print(f"{loss_curve('generator', '10 hp', [0.5, 1.0], [0.85, 0.86]).rated.to('kW'):.2f~P}")
    7.46 kW
    """
    from scipy.optimize import nnls

    share, efficiency = np.atleast_1d(load_ratio), np.atleast_1d(efficiency)
    if share.size < 2 or share.shape != efficiency.shape or np.any(share <= 0):
        raise HydrokitError(
            f"{part}: two points or more are needed, each a load above zero with its efficiency."
        )
    if not np.all((efficiency > 0) & (efficiency < 1)):
        raise HydrokitError(
            f"{part}: efficiencies must lie above 0 and below 1 (100 %), got {np.max(efficiency):g}."
        )
    lost = share / efficiency - share
    (constant, square), _ = nnls(np.column_stack([np.ones_like(share), share**2]), lost)
    curve = LossCurve(
        part,
        rated_power,
        constant,
        proportional=0.0,
        square=square,
        source=source,
        mark="manufacturer's table",
    )
    off = float(np.max(np.abs(curve.efficiency_si(share) - efficiency)))
    note = Finding(
        "note" if off < 0.02 else "caution",
        part,
        f"its efficiency curve passes within {100 * off:.1f} points of the manufacturer's table",
    )
    return replace(curve, findings=(note,))
