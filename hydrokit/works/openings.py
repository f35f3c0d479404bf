"""Openings, crests and gates as parts, and the gate as a flow meter."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Given, Number, units
from ..water import GRAVITY
from .intake import orifice
from .solve import require
from .state import CLEAN, State

__all__ = ["Gate", "Opening", "fit_gate", "fit_orifice"]


@dataclass(frozen=True, eq=False)
class Opening(Result):
    """An orifice or sluice at a fixed head, as a part of the water's way.

    Parameters
    ----------
    area_m2, head_m : float
        Opening, and the most head the pond gives it.
    coefficient : float
    name : str
    """

    area_m2: float
    head_m: float
    coefficient: float = 0.61
    _: KW_ONLY
    name: str = "opening"

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s."""
        return orifice.si(self.head_m, self.area_m2 * state.open, self.coefficient)

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Head in m that a flow takes."""
        with np.errstate(divide="ignore", invalid="ignore"):
            speed = np.where(
                np.asarray(flow_m3s) > 0,
                flow_m3s / (self.coefficient * self.area_m2 * state.open),
                0.0,
            )
        return speed**2 / (2 * GRAVITY)


@dataclass(frozen=True, eq=False)
class Gate:
    """A gate that also measures, fitted to a few gaugings.

    Parameters
    ----------
    width_m : float
    coefficient : float
    scatter : float
        Relative standard deviation of the gaugings about the fit; NaN for a single one.
    findings : tuple of Finding
    """

    width_m: float
    coefficient: float
    scatter: float
    _: KW_ONLY
    findings: tuple[Finding, ...] = ()

    def flow_si(self, opening_m: Number, head_m: Number) -> Number:
        """Flow in m³/s for a lift of the gate and the fall from the water above to that below."""
        return orifice.si(head_m, self.width_m * np.asarray(opening_m), self.coefficient)


@units(None, opening="m", head="head", flow="m^3/s", width="m")
def fit_gate(opening: Given, head: Given, flow: Given, width: Given) -> Gate:
    r"""Make a flow meter of a gate: fit its coefficient to gaugings.

    Parameters
    ----------
    opening : Quantity or list [length]
        Lift of the gate at each gauging, :math:`a`.
    head : Quantity or list [length]
        Fall of the water level across the gate, :math:`h`; to the middle of the opening when it
        discharges freely.
    flow : Quantity or list [length³/time]
        Gauged.
    width : Quantity or str [length]
        Of the gate, :math:`b`.

    Returns
    -------
    Gate

    Raises
    ------
    HydrokitError
        An opening, head, flow or width not above zero; lists of different lengths.

    Notes
    -----
    :math:`Q = C\,b\,a\sqrt{2gh}`; C is the geometric mean over the gaugings.

    References
    ----------
    .. [1] As :func:`orifice`.

    Examples
    --------
    >>> gate = fit_gate(["40 mm", "80 mm"], ["0.30 m", "0.28 m"], ["29 L/s", "56 L/s"], "0.5 m")
    >>> round(gate.coefficient, 3), round(gate.scatter, 3)
    (0.598, 0.0)
    >>> round(fit_gate("2 in", "1 ft", "1 cfs", "20 in").coefficient, 3)
    0.449
    """
    require("fit_gate", "above zero", opening=opening, head=head, flow=flow, width=width)
    return _fitted("fit_gate", opening, head, flow, width)


def _fitted(function: str, opening: Number, head: Number, flow: Number, width: float) -> Gate:
    sizes = {np.size(each) for each in (opening, head, flow)}
    if len(sizes) > 1:
        raise HydrokitError(f"{function}(): opening, head and flow need one value for each gauging")
    each = np.atleast_1d(
        np.log(flow / (width * np.asarray(opening) * np.sqrt(2 * GRAVITY * np.asarray(head))))
    )
    coefficient, scatter = (
        float(np.exp(each.mean())),
        float(each.std(ddof=1)) if each.size > 1 else float("nan"),
    )
    found = []
    if each.size < 2:
        found.append(
            Finding(
                "caution",
                function,
                "one gauging fixes the coefficient but not its uncertainty: take two more",
            )
        )
    if not 0.5 <= coefficient <= 1.0:
        found.append(
            Finding(
                "caution",
                function,
                f"coefficient {coefficient:.2f} is outside 0.5 to 1: check opening, head and unit",
            )
        )
    return Gate(float(width), coefficient, scatter, findings=tuple(found))


fit_gate.measurement = ("opening", "head", "flow")


@units(None, head="head", flow="m^3/s", area="m^2")
def fit_orifice(head: Given, flow: Given, area: Given) -> Gate:
    r"""Make a flow meter of a hole that is always as wide open: fit its coefficient to gaugings.

    Parameters
    ----------
    head : Quantity or list [length]
        From the water above to the middle of the hole, or to the water behind it, at each gauging.
    flow : Quantity or list [length³/time]
        Gauged.
    area : Quantity or str [area]
        Of the hole.

    Returns
    -------
    Gate
        As wide as the area over one metre, so that its opening is 1 m: :meth:`Gate.flow_si` (1, head).

    Raises
    ------
    HydrokitError
        A head, flow or area not above zero; lists of different lengths.

    References
    ----------
    .. [1] As :func:`hydrokit.works.intake.orifice`.

    Examples
    --------
    >>> hole = fit_orifice(["0.30 m", "0.15 m"], ["16.9 L/s", "11.9 L/s"], "0.0113 m^2")
    >>> round(hole.coefficient, 3), round(hole.scatter, 3)
    (0.615, 0.003)
    >>> round(fit_orifice("1 ft", "95 gpm", "6.3 in^2").coefficient, 3)
    0.603
    """
    require("fit_orifice", "above zero", head=head, flow=flow, area=area)
    return _fitted("fit_orifice", np.ones_like(np.asarray(head, dtype=float)), head, flow, area)


fit_orifice.measurement = ("head", "flow")
