"""Turbines: the power in falling water, the speed that suits it, and efficiency at part load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..tables import load, row
from ..units import Given, Number, units
from ..water import GRAVITY, density
from .runner_speed import FOLLOWS, RunnerSpeed

__all__ = [
    "PartLoad",
    "hydraulic_power",
    "kind_text",
    "kinds",
    "maker_table",
    "part_load",
    "specific_speed",
    "staged",
]


@units("W", flow="m^3/s", head="head", temperature="K")
def hydraulic_power(flow: Given, head: Given, temperature: Given = "10 degC") -> Number:
    r"""Power of water falling through a head, before any machine takes its share.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        Flow through the machine, :math:`Q`. Scalar or array.
    head : Quantity or str [length]
        Head, :math:`H`: gross for the power of the site, net for that at the machine.
    temperature : Quantity or str [temperature]
        Water temperature; sets the density.

    Returns
    -------
    Quantity [power]
        In W.

    Notes
    -----
    .. math:: P = \rho g Q H

    References
    ----------
    .. [1] Y. Çengel, J. Cimbala, *Fluid Mechanics: Fundamentals and Applications*, ex. 14-12, p. 819.

    Examples
    --------
    >>> print(f"{hydraulic_power('15 L/s', '50 m').to('kW'):.2f~P}")
    7.35 kW
    >>> print(f"{hydraulic_power('200 gpm', '140 ft').to('kW'):.2f~P}")
    5.28 kW
    """
    return density.si(temperature) * GRAVITY * np.asarray(flow) * head


@units("number", speed="rpm", power="W", head="head", temperature="K")
def specific_speed(
    speed: Given,
    power: Given,
    head: Given,
    system: str = "dimensionless",
    temperature: Given = "10 degC",
) -> Number:
    r"""Specific speed from the shaft power: the number that says which kind of machine fits.

    Parameters
    ----------
    speed : Quantity or str [1/time]
        Shaft speed, :math:`n`.
    power : Quantity or str [power]
        Shaft power of one runner (for a Pelton machine, of one jet), :math:`P`.
    head : Quantity or str [length]
        Net head, :math:`H`.
    system : {"dimensionless", "metric", "us"}
        Radians; or :math:`n\sqrt{P}/H^{5/4}` in rpm, kW and m; or in rpm, hp and ft.
    temperature : Quantity or str [temperature]
        Water temperature, for the dimensionless number.

    Returns
    -------
    float or array

    Raises
    ------
    HydrokitError
        An unknown system.

    Notes
    -----
    .. math:: \Omega = \frac{\omega \sqrt{P/\rho}}{(g H)^{5/4}}

    References
    ----------
    .. [1] S. L. Dixon, *Fluid Mechanics and Thermodynamics of Turbomachinery*, table 9.3, p. 280.

    Examples
    --------
    >>> print(f"{specific_speed('1500 rpm', '4 kW', '45 m', system='metric'):.1f}")
    25.7
    >>> print(f"{specific_speed('1800 rpm', '5 hp', '150 ft', system='us'):.2f}")
    7.67
    """
    if system == "metric":
        return speed * np.sqrt(power / 1000) / np.power(head, 1.25)
    if system == "us":
        return speed * np.sqrt(power / 745.69987) / np.power(head / 0.3048, 1.25)
    if system != "dimensionless":
        raise HydrokitError(
            f"specific_speed(): system must be dimensionless, metric or us, got {system!r}"
            f"{did_you_mean(system, ('dimensionless', 'metric', 'us'))}."
        )
    turning = speed * (2 * np.pi / 60)
    return turning * np.sqrt(power / density.si(temperature)) / np.power(GRAVITY * head, 1.25)


# --- efficiency at part load ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class PartLoad:
    """Turbine efficiency against the share of its rated flow, with straight lines between points.

    Parameters
    ----------
    kind : str
        The machine, as error messages and reports name it.
    flow_ratios, efficiencies : array
        Flow over rated flow, rising; efficiency of the turbine alone, 0 to 1.
    minimum_ratio : float
        Below this flow it does not run: efficiency 0.
    source, mark : str
        Where the points come from, and how far they may be trusted.
    speed : RunnerSpeed
        How far its speed is held whatever the head: under-fed jets of an impulse machine then give less
        than the cube of the flow.

    Raises
    ------
    HydrokitError
        Fewer than two points, ratios that do not rise, an efficiency below 0 or above 1.
    """

    kind: str
    flow_ratios: np.ndarray
    efficiencies: np.ndarray
    _: KW_ONLY
    minimum_ratio: float
    source: str
    mark: str
    speed: RunnerSpeed = FOLLOWS

    def __post_init__(self) -> None:
        ratios, efficiencies = (
            np.array(each, dtype=float) for each in (self.flow_ratios, self.efficiencies)
        )
        object.__setattr__(self, "flow_ratios", ratios)
        object.__setattr__(self, "efficiencies", efficiencies)
        name = f"{self.kind}: efficiency at part load"
        if ratios.ndim != 1 or ratios.shape != efficiencies.shape or ratios.size < 2:
            raise HydrokitError(
                f"{name} needs two points or more, one efficiency for each flow; "
                f"got {ratios.size} and {efficiencies.size}."
            )
        if not np.all(np.diff(ratios) > 0) or not ratios[0] >= 0:
            raise HydrokitError(
                f"{name} needs flows that rise from point to point, none below zero."
            )
        if not np.all((efficiencies >= 0) & (efficiencies <= 1)):
            worst = efficiencies[np.argmax(np.abs(efficiencies - 0.5))]
            raise HydrokitError(f"{name} must lie between 0 and 1 (0 and 100 %), got {worst:g}.")

    @property
    def maximum_ratio(self) -> float:
        """Largest flow the points cover; beyond it the last efficiency is held."""
        return float(self.flow_ratios[-1])

    @property
    def best(self) -> float:
        """Best efficiency of the curve."""
        return float(self.efficiencies.max())

    def efficiency_si(self, flow_ratio: Number) -> Number:
        """Efficiency at a share of the rated flow: number or array in, the same out. NaN stays NaN."""
        flow_ratio = np.asarray(flow_ratio, dtype=float)
        found = np.interp(flow_ratio, self.flow_ratios, self.efficiencies)
        return np.where(flow_ratio < self.minimum_ratio, 0.0, found)[()]


_AFTER_PEOPLE = ("pelton", "turgo", "francis", "kaplan")


def kind_text(kind: str) -> str:
    """A kind of turbine as it is written in a text: those with a name of their own in capitals."""
    return kind.capitalize() if kind in _AFTER_PEOPLE else kind


def kinds() -> tuple[str, ...]:
    """The kinds of machine known here."""
    return load("turbine_ranges")["kind"]


def ranges_of(kind: str) -> dict:
    """The row of ``tables/turbine_ranges.csv`` for a kind of machine.

    Raises
    ------
    HydrokitError
        An unknown kind, with the nearest known one.
    """
    if kind not in kinds():
        raise HydrokitError(
            f"turbine kind {kind!r} is not known{did_you_mean(kind, kinds())}; "
            f"known are {', '.join(kinds())}."
        )
    return row("turbine_ranges", kind, "kind")


@units(None, best_efficiency="ratio", minimum_ratio="ratio")
def part_load(kind: str, best_efficiency: Given = None, minimum_ratio: Given = None) -> PartLoad:
    """Usual efficiency at part load for a kind of machine, where its maker gives none.

    Parameters
    ----------
    kind : str
        One of :func:`kinds`: ``"pelton"``, ``"turgo"``, ``"cross-flow"``, ``"francis"``, ``"kaplan"``,
        ``"propeller"``, ``"pump run backwards"``, ``"water wheel"``, ``"screw"``.
    best_efficiency : number or str, optional
        Best efficiency of this machine, where measured or promised; else a usual one for a small
        machine, from ``tables/turbine_ranges.csv``.
    minimum_ratio : number or str, optional
        Share of the rated flow below which it is stopped.

    Returns
    -------
    PartLoad

    Raises
    ------
    HydrokitError
        An unknown kind, a best efficiency above 1.

    Notes
    -----
    The shapes are from memory of handbook charts. Only their order is held against a source:
    at low load Kaplan, then Pelton, then Francis [1]_; a cross-flow beats a Francis machine at a
    quarter of the flow and loses at four fifths. Take them to about six points of efficiency, and
    take the manufacturer's table (:func:`maker_table`) where there is one.

    References
    ----------
    .. [1] S. L. Dixon, *Fluid Mechanics and Thermodynamics of Turbomachinery*, fig. 9.14, p. 293.

    Examples
    --------
    >>> curve = part_load("pelton", best_efficiency="80 %")
    >>> [round(float(e), 3) for e in curve.efficiency_si([0.05, 0.25, 0.75, 1.0])]
    [0.0, 0.704, 0.8, 0.79]
    """
    usual, table = ranges_of(kind), load("part_load")
    points = np.flatnonzero(np.array(table["kind"]) == kind)
    best = usual["best_efficiency"] if best_efficiency is None else best_efficiency
    least = usual["least_flow_share"] if minimum_ratio is None else minimum_ratio
    return PartLoad(
        kind,
        table["flow_ratio"][points],
        table["relative_efficiency"][points] * best,
        minimum_ratio=float(least),
        source=table["source"][points[0]],
        mark=table["mark"][points[0]],
    )


@units(
    None,
    flow_ratio="ratio",
    efficiency="ratio",
    flow="m^3/s",
    rated_flow="m^3/s",
    minimum_ratio="ratio",
)
def maker_table(
    efficiency: Given,
    flow_ratio: Given = None,
    flow: Given = None,
    rated_flow: Given = None,
    minimum_ratio: Given = None,
    kind: str = "turbine",
    source: str = "the manufacturer's table",
) -> PartLoad:
    """Efficiency at part load from the manufacturer's own points; it stands before any usual curve.

    Parameters
    ----------
    efficiency : list or array
        Efficiencies, 0 to 1 or in per cent, one for each flow.
    flow_ratio : list or array, optional
        Flows as shares of the rated flow; or give ``flow`` and ``rated_flow``.
    flow : list or array of Quantity or str [volume/time], optional
    rated_flow : Quantity or str [volume/time], optional
        The largest of the flows when left out.
    minimum_ratio : number, optional
        Share of the rated flow below which it is stopped; the first point when left out.
    kind, source : str
        Names for reports.

    Returns
    -------
    PartLoad

    Raises
    ------
    HydrokitError
        Both or neither of ``flow_ratio`` and ``flow``; points a :class:`PartLoad` refuses.

    References
    ----------
    .. [1] The manufacturer's own test or promise, named in ``source``.

    Examples
    --------
    >>> maker_table(["70 %", "82 %", "80 %"], flow=["5 L/s", "10 L/s", "15 L/s"]).best
    0.82
    >>> float(maker_table([0.7, 0.8], flow=["80 gpm", "240 gpm"]).minimum_ratio.round(3))
    0.333
    """
    if (flow_ratio is None) == (flow is None):
        raise HydrokitError("maker_table(): give either flow_ratio or flow, one of the two.")
    if flow is not None:
        flow_ratio = np.asarray(flow) / (np.max(flow) if rated_flow is None else rated_flow)
    least = np.min(flow_ratio) if minimum_ratio is None else minimum_ratio
    return PartLoad(
        kind,
        flow_ratio,
        efficiency,
        minimum_ratio=least,
        source=source,
        mark="manufacturer's table",
    )


def staged(curve: PartLoad, shares: Sequence[float] | np.ndarray) -> PartLoad:
    """One machine run in stages: jets or cells closed so that those left open run near full.

    Parameters
    ----------
    curve : PartLoad
        Of a single jet or cell, against its own share of the flow.
    shares : sequence of float
        Shares of the rated flow that can be open, the largest being 1: ``(0.25, 0.5, 0.75, 1)``
        for four equal jets, ``(1/3, 2/3, 1)`` for a cross-flow machine with two cells.

    Returns
    -------
    PartLoad
        At every flow the best stage, friction of the whole machine neglected.

    Examples
    --------
    >>> four = staged(part_load("pelton"), (0.25, 0.5, 0.75, 1.0))
    >>> bool(four.efficiency_si(0.2) > part_load("pelton").efficiency_si(0.2))
    True
    """
    shares = np.sort(np.asarray(shares, dtype=float))
    if shares.size == 0 or not np.isclose(shares[-1], 1) or shares[0] <= 0:
        raise HydrokitError("staged(): shares must be above zero and the largest must be 1.")
    # each stage starts and ends with a jump, kept as two points a hair apart
    top = curve.maximum_ratio
    starts, ends = shares * curve.minimum_ratio, shares[:-1] * top
    ratios = np.unique(
        np.concatenate(
            [
                np.outer(shares, curve.flow_ratios).ravel(),
                starts * (1 - 1e-9),
                starts * (1 + 1e-12),
                ends,
                ends * (1 + 1e-9),
            ]
        )
    )
    asked = ratios / shares[:, None]
    efficiencies = np.where(asked <= top * (1 + 1e-12), curve.efficiency_si(asked), 0.0).max(axis=0)
    return PartLoad(
        curve.kind,
        ratios,
        efficiencies,
        minimum_ratio=float(shares[0] * curve.minimum_ratio),
        source=curve.source,
        mark=curve.mark,
    )
