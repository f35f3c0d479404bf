"""A gauging: how much water passes now, how sure we are, and what two gaugings say of a gain or loss.

Each method has its module: ``bucket``, ``floats``, the current meter in ``verticals``, the weir
plate in ``weir_plate``, ``salt``, flood marks in ``slope_area``; all give the same :class:`Gauging`.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING, Any, Iterable, Mapping

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Floats, Quantity

if TYPE_CHECKING:
    from ..sentences import Sentence

__all__ = [
    "CAUTIONS",
    "METHODS",
    "Gauging",
    "GainOrLoss",
    "Method",
    "combined",
    "gain_or_loss",
    "method_called",
    "total",
]

CAUTIONS = {
    "wading": (
        "Wade only where you could fall and get up again: as common practice not where depth times "
        "velocity exceeds 0.9 m²/s (10 ft²/s), and far less on slick stones; never alone, never above "
        "a drop or a screen, with a staff and a life jacket."
    ),
    "cold water": (
        "Water near freezing takes the strength from hands and legs within minutes, even of good "
        "swimmers; keep dry clothes at hand and stay off ice over moving water."
    ),
    "flood": "Survey flood marks after the water has fallen; banks undercut by a flood can still give way.",
    "salt": (
        "Salt harms fish, eggs and drinking water where it is not yet mixed: use the least that can be "
        "read, dissolve it first, keep clear of spawning beds and of intakes in use, and ask the local "
        "authority whether a permit is needed."
    ),
}


@dataclass(frozen=True, kw_only=True)
class Method:
    """What is known of a way to gauge before it was used here. Common practice.

    Parameters
    ----------
    usual : float
        One standard deviation of a gauging whose uncertainty nobody states.
    shared : float
        One standard deviation of what is one and the same error in all its gaugings: the mark of the
        bucket, the coefficient of the surface, of the notch, the calibration of probe or meter. The
        default of the method's own function, where it has one.
    cautions : tuple of str
        Keys of ``CAUTIONS``.
    """

    usual: float = 0.10
    shared: float = 0.02
    cautions: tuple[str, ...] = ()


# As a list of gaugings, a field sheet or the method's own function calls it.
METHODS = {
    "bucket": Method(usual=0.04, cautions=("cold water",)),
    "float": Method(usual=0.15, shared=0.10, cautions=("wading", "cold water")),
    "current meter": Method(usual=0.06, cautions=("wading", "cold water")),
    "v-notch": Method(usual=0.04),
    "notch": Method(usual=0.05, shared=0.03),
    "weir": Method(cautions=("cold water",)),
    "salt": Method(usual=0.05),
    "salt slug": Method(cautions=("salt", "cold water")),
    "slope-area": Method(cautions=("flood",)),
}
_OTHER = Method()


def method_called(name: str) -> Method:
    """The method of that name; a usual one where none is known."""
    return METHODS.get(name, _OTHER)


@dataclass(frozen=True, eq=False)
class Gauging(Result):
    """A measured flow with its standard uncertainty and where that comes from.

    ``uncertainty`` is one standard deviation relative to the flow; ``parts`` names its shares,
    which add up in squares. ``details`` holds what else the method found, in SI, unit in the name.
    """

    flow_m3s: float
    uncertainty: float
    parts: Mapping[str, float]
    _: KW_ONLY
    method: str
    findings: tuple[Finding, ...] = ()
    details: Mapping[str, Any] = field(default_factory=dict)

    @property
    def flow(self) -> Quantity:
        """The flow as a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt someone who gauges this way."""
        return tuple(CAUTIONS[name] for name in method_called(self.method).cautions)

    @classmethod
    def from_parts(
        cls,
        flow_m3s: float,
        parts: Mapping[str, float],
        method: str,
        findings: Iterable[Finding] = (),
        details: Mapping[str, Any] | None = None,
    ) -> Gauging:
        """A gauging whose uncertainty is its parts, combined."""
        parts = {name: float(share) for name, share in parts.items()}
        return cls(
            float(flow_m3s),
            combined(parts),
            parts,
            method=method,
            findings=tuple(findings),
            details=details or {},
        )


def combined(parts: Mapping[str, float]) -> float:
    """The relative standard uncertainty that independent relative parts make together.

    Parameters
    ----------
    parts : mapping of str to float
        Relative standard shares by name.

    Returns
    -------
    float

    References
    ----------
    .. [1] JCGM 100:2008, Evaluation of measurement data (GUM), 5.1.2, eq. 10.

    Examples
    --------
    >>> combined({"head": 0.03, "coefficient": 0.04})
    0.05
    """
    return float(np.sqrt(sum(share**2 for share in parts.values())))


def findings_from(
    where: str, *conditions: tuple[bool | np.bool, str, str | Sentence]
) -> list[Finding]:
    """Findings for those ``(holds, level, sentence)`` that hold."""
    return [Finding(level, where, sentence) for holds, level, sentence in conditions if holds]


def scatter_of_mean(values: np.ndarray, single: float) -> float:
    """Relative standard uncertainty of a mean; `single` is one reading's, where too few tell."""
    if len(values) < 3:
        return single / np.sqrt(len(values))
    return np.std(values, ddof=1) / np.sqrt(len(values)) / np.mean(values)


def positive(where: str, name: str, values: np.ndarray) -> Floats:
    values = np.atleast_1d(values)
    if not np.all(values > 0):
        raise HydrokitError(
            f"{where}(): {name} must be above zero in every reading, got {values.tolist()}"
        )
    return values


def total(*gaugings: Gauging) -> Gauging:
    """The flow of several gauged parts of one creek, such as overflow and pipe.

    Parameters
    ----------
    *gaugings : Gauging
        Independent gaugings of waters that add up.

    Returns
    -------
    Gauging
        Parts named by position and method, as shares of the sum.

    Raises
    ------
    HydrokitError
        No gauging given, or no water in any.

    Examples
    --------
    >>> from hydrokit.stream.bucket import bucket
    >>> both = total(bucket("10 L", ["5 s"] * 3), bucket("10 L", ["10 s"] * 3))
    >>> print(f"{both.flow.to('L/s'):.1f~P}")
    3.0 L/s
    >>> both = total(bucket("5 gal", "20 s"), bucket("5 gal", "30 s"))
    >>> print(f"{both.flow.to('gpm'):.1f~P}")
    25.0 gpm
    """
    flow = sum(each.flow_m3s for each in gaugings)
    if not flow > 0:
        raise HydrokitError("total(): needs at least one gauging with a flow above zero")
    parts = {
        f"{number} {each.method}": each.uncertainty * each.flow_m3s / flow
        for number, each in enumerate(gaugings, 1)
    }
    return Gauging.from_parts(
        flow, parts, "sum", [finding for each in gaugings for finding in each.findings]
    )


@dataclass(frozen=True, eq=False)
class GainOrLoss(Result):
    """What a reach or a ditch gains (positive) or loses (negative) between two gaugings.

    ``uncertainty_m3s`` is one standard deviation of the change; ``certain`` says whether the
    change is more than twice that.
    """

    change_m3s: float
    uncertainty_m3s: float
    share: float
    _: KW_ONLY
    certain: bool
    findings: tuple[Finding, ...] = ()

    @property
    def change(self) -> Quantity:
        """The change as a quantity."""
        return Quantity(self.change_m3s, "m^3/s")


def gain_or_loss(
    upstream: Gauging, downstream: Gauging, shared: tuple[str, ...] = ()
) -> GainOrLoss:
    r"""Whether water is gained or lost between two gaugings: is the ditch leaking?

    Parameters
    ----------
    upstream, downstream : Gauging
        Taken while the flow stood steady.
    shared : tuple of str
        Names of parts that are one and the same error in both, such as the mark of the same
        bucket; they then cancel as far as the flows are equal.

    Returns
    -------
    GainOrLoss

    Raises
    ------
    HydrokitError
        A shared part that one gauging does not have.

    Notes
    -----
    .. math:: u^2 = \sum_{own} (Q_1u_{1i})^2 + (Q_2u_{2i})^2 + \sum_{shared}(Q_2u_{2j} - Q_1u_{1j})^2

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2, eq. 13, correlation 1 for shared parts, 0 for others.

    Examples
    --------
    >>> from hydrokit.stream.bucket import bucket
    >>> above, below = bucket("10 L", ["5.0 s"] * 3), bucket("10 L", ["5.6 s"] * 3)
    >>> found = gain_or_loss(above, below, shared=("volume", "timing"))
    >>> print(f"{found.change.to('L/s'):.2f~P}, certain: {found.certain}")
    -0.21 L/s, certain: True
    >>> print(f"{gain_or_loss(above, below).change.to('gpm'):.1f~P}, certain: {gain_or_loss(above, below).certain}")
    -3.4 gpm, certain: False
    """
    missing = [name for name in shared for each in (upstream, downstream) if name not in each.parts]
    if missing:
        raise HydrokitError(
            f"gain_or_loss(): shared part {missing[0]!r} must be in both gaugings' parts"
        )
    change = downstream.flow_m3s - upstream.flow_m3s
    variance = 0.0
    for gauging in (upstream, downstream):
        together = combined({name: gauging.parts[name] for name in shared})
        variance += gauging.flow_m3s**2 * (gauging.uncertainty**2 - together**2)
    for name in shared:
        variance += (
            downstream.flow_m3s * downstream.parts[name] - upstream.flow_m3s * upstream.parts[name]
        ) ** 2
    uncertainty = float(np.sqrt(max(variance, 0.0)))
    certain = bool(abs(change) > 2 * uncertainty)
    kind, share = ("gain" if change > 0 else "loss"), change / upstream.flow_m3s
    sentence = (
        f"a {kind} of {100 * abs(share):.0f} % is more than twice its standard uncertainty"
        if certain
        else (
            f"a {kind} of {100 * abs(share):.0f} % is less than twice its standard uncertainty; "
            f"it may be no {kind} at all"
        )
    )
    return GainOrLoss(
        change,
        uncertainty,
        share,
        certain=certain,
        findings=(Finding("note", "gain or loss", sentence),),
    )
