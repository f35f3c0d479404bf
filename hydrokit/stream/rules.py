"""Rules on what must stay in the creek, and licences on what may be taken."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..sentences import Amount, Sentence
from ..units import units
from .record import MONTH_NAMES, WATER_YEAR

__all__ = [
    "Licence",
    "Rule",
    "TENNANT",
    "by_month",
    "fixed",
    "hands_off",
    "licence",
    "percentile",
    "share_of_flow",
    "share_of_mean",
    "swiss_article_31",
    "swiss_residual",
    "tennant",
]

MONTHS = np.arange(1, 13)
# D. L. Tennant (1975), Instream flow regimens, Table 1: share of the mean annual flow, October to March and April to
# September on the northern half of the globe. The optimum range is 60 to 100 %; its lower end stands here.
TENNANT = {
    "flushing": (2.0, 2.0), "optimum": (0.6, 0.6), "outstanding": (0.4, 0.6), "excellent": (0.3, 0.5),
    "good": (0.2, 0.4), "fair": (0.1, 0.3), "poor": (0.1, 0.1),
}  # fmt: skip
# Federal Act on the Protection of Waters (SR 814.20), article 31, paragraph 1: from this Q347 on, the residual flow
# at it and the part of each further unit that is added; L/s.
_SWISS_FROM = np.array([0.0, 60.0, 160.0, 500.0, 2500.0, 10_000.0, 60_000.0])
_SWISS_RESIDUAL = np.array([50.0, 50.0, 130.0, 280.0, 900.0, 2500.0, 10_000.0])
_SWISS_SLOPE = np.array([0.0, 0.8, 0.44, 0.31, 0.213, 0.15, 0.0])


@dataclass(frozen=True, eq=False)
class Rule:
    """One rule on what stays in the creek; made by the functions of this module.

    Parameters
    ----------
    kind : str
    text : str or Sentence
        The rule in words, for reports.
    months : tuple of int
        Calendar months in which it holds.
    flow_m3s : ndarray of 12
        Flow of each month (kinds that state a flow).
    share : ndarray of 12
        Share of the mean flow, or of the flow of the day (kinds that state a share).
    exceedance : float
        Exceedance of the flow that stays (kind ``percentile``).
    """

    kind: str
    text: str | Sentence
    months: tuple[int, ...] = tuple(range(1, 13))
    flow_m3s: np.ndarray = field(default_factory=lambda: np.zeros(12))
    share: np.ndarray = field(default_factory=lambda: np.zeros(12))
    exceedance: float = np.nan

    def __post_init__(self) -> None:
        if not self.months or set(self.months) - set(range(1, 13)):
            raise HydrokitError(
                f"{self.kind}(): months must be numbers from 1 to 12, got {self.months!r}"
            )
        if np.any(np.asarray(self.flow_m3s) < 0) or np.any(np.asarray(self.share) < 0):
            raise HydrokitError(f"{self.kind}(): what stays in the creek cannot be negative")

    @property
    def needs_record(self) -> bool:
        """Whether the rule is stated in terms of the creek's own flow statistics."""
        return self.kind in ("share_of_mean", "percentile", "tennant", "swiss_article_31")


def _months(months: Any) -> tuple[int, ...]:
    return tuple(range(1, 13)) if months is None else tuple(int(month) for month in months)


def _in(months: Any) -> str:
    return "" if months is None else f" in {told_months(months)}"


def told_months(months: Any) -> str:
    """Months in words, runs told by their ends.

    >>> told_months([10, 11]), told_months([11, 12, 1, 2]), told_months([5]), told_months([1, 3, 4, 5, 8])
    ('October and November', 'November to February', 'May', 'January, March to May and August')
    """
    wanted = {int(month) for month in months}
    if not wanted or not wanted <= set(range(1, 13)):
        raise HydrokitError(f"months must be numbers from 1 to 12, got {months!r}")
    if len(wanted) == 12:
        return "all months"
    before = {month: (month - 2) % 12 + 1 for month in wanted}
    starts = sorted(month for month in wanted if before[month] not in wanted)
    parts = []
    for start in starts:
        end, length = start, 1
        while end % 12 + 1 in wanted:
            end, length = end % 12 + 1, length + 1
        first, last = MONTH_NAMES[start - 1], MONTH_NAMES[end - 1]
        parts += (
            [first] if length == 1 else [first, last] if length == 2 else [f"{first} to {last}"]
        )
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


@units(None, flow="m^3/s")
def fixed(flow: Any, months: Any = None) -> Rule:
    """So much stays in the creek.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    months : sequence of int, optional
        Calendar months in which the rule holds; all if left out.

    Returns
    -------
    Rule

    References
    ----------
    .. [1] Local water right; no formula stands behind the number.

    Examples
    --------
    >>> fixed("5 L/s", months=[6, 7, 8]).months
    (6, 7, 8)
    >>> fixed("50 gpm").flow_m3s[0].round(6).item()
    0.003155
    """
    return Rule(
        "fixed",
        Sentence("a residual flow of {flow}{when}", flow=Amount(flow, "flow", 4), when=_in(months)),
        _months(months),
        flow_m3s=np.full(12, float(flow)),
    )


@units(None, flows="m^3/s")
def by_month(flows: Any) -> Rule:
    """A flow of its own stays in each month.

    Parameters
    ----------
    flows : Quantity or list of str [length³/time]
        Twelve, January first.

    Returns
    -------
    Rule

    References
    ----------
    .. [1] Local water right; no formula stands behind the numbers.

    Examples
    --------
    >>> by_month(["10 L/s"] * 4 + ["5 L/s"] * 8).flow_m3s[3:5].tolist()
    [0.01, 0.005]
    >>> by_month(["100 gpm"] * 12).flow_m3s[0].round(5).item()
    0.00631
    """
    flows = np.asarray(flows, dtype=float)
    if flows.shape != (12,):
        raise HydrokitError(f"by_month(): flows must be twelve, January first, got {flows.size}")
    return Rule(
        "by_month",
        Sentence(
            "a residual flow of {flows}, by month",
            flows=Amount((flows.min(), flows.max()), "flow", 4),
        ),
        flow_m3s=flows,
    )


@units(None, share="ratio")
def share_of_mean(share: Any, months: Any = None) -> Rule:
    """A share of the mean flow stays, such as 10 %.

    Parameters
    ----------
    share : float or str
    months : sequence of int, optional

    Returns
    -------
    Rule

    References
    ----------
    .. [1] For example the tenth of the mean flow of the French Code de l'environnement, article L214-18.

    Examples
    --------
    >>> share_of_mean("10 %").text
    'a residual flow of 10 % of the mean flow'
    """
    text = f"a residual flow of {100 * share:.3g} % of the mean flow{_in(months)}"
    return Rule("share_of_mean", text, _months(months), share=np.full(12, float(share)))


@units(None, exceedance="exceedance")
def percentile(exceedance: Any, months: Any = None) -> Rule:
    """The flow that is reached or exceeded in a share of the time stays.

    Parameters
    ----------
    exceedance : float or str
        Such as ``"95 %"``.
    months : sequence of int, optional

    Returns
    -------
    Rule

    References
    ----------
    .. [1] For example the flow exceeded on 347 days a year, Swiss Federal Act on the Protection of
       Waters (SR 814.20), article 4 h.

    Examples
    --------
    >>> percentile("95 %").text
    'a residual flow of Q95, the flow exceeded 95 % of the time'
    """
    text = f"a residual flow of Q{100 * exceedance:.4g}, the flow exceeded {100 * exceedance:.4g} % of the time{_in(months)}"
    return Rule("percentile", text, _months(months), exceedance=float(exceedance))


def tennant(grade: str, first_month: int = 10) -> Rule:
    """Tennant's share of the mean annual flow for a grade of habitat.

    Parameters
    ----------
    grade : {"flushing", "optimum", "outstanding", "excellent", "good", "fair", "poor"}
    first_month : int
        Month in which the low-flow half year begins: 10 as Tennant has it, 4 south of the equator.

    Returns
    -------
    Rule
    """
    if grade not in TENNANT:
        raise HydrokitError(
            f"tennant(): there is no grade '{grade}'{did_you_mean(grade, TENNANT)}; known are {', '.join(TENNANT)}"
        )
    cold, warm = TENNANT[grade]
    share = np.where((MONTHS - first_month) % 12 < 6, cold, warm)
    halves = [
        told_months((first - 1 + np.arange(6)) % 12 + 1) for first in (first_month, first_month + 6)
    ]
    told = f"a residual flow of {100 * cold:.0f} % of the mean flow" + (
        "" if cold == warm else f" from {halves[0]} and {100 * warm:.0f} % from {halves[1]}"
    )
    return Rule("tennant", f"Tennant's grade '{grade}': {told}", share=share)


@units("m^3/s", q347="m^3/s")
def swiss_residual(q347: Any) -> Any:
    """Least residual flow of the Swiss Waters Protection Act, article 31, paragraph 1.

    Parameters
    ----------
    q347 : Quantity or str [length³/time]
        Flow reached on 347 days of the year on average over ten years.

    Returns
    -------
    Quantity [length³/time]

    Notes
    -----
    Straight lines with the printed additions from each printed step. Two of them do not quite
    meet the next step (0.4 L/s at 500, 2.5 L/s at 10 000 L/s); the step counts from there on. It
    is a floor, which fish, groundwater and water quality can raise.

    References
    ----------
    .. [1] Swiss Confederation, Federal Act on the Protection of Waters, SR 814.20, article 31.

    Examples
    --------
    >>> print(f"{swiss_residual('300 L/s').to('L/s'):.1f~P}")
    191.6 L/s
    >>> print(f"{swiss_residual('3.5 cfs').to('cfs'):.2f~P}")
    2.87 cfs
    """
    litres = np.asarray(q347, dtype=float) * 1000
    # A hair of room, so that a step reached by rounding counts as reached.
    step = np.clip(
        np.searchsorted(_SWISS_FROM, litres * (1 + 1e-12), side="right") - 1,
        0,
        len(_SWISS_FROM) - 1,
    )
    residual = (_SWISS_RESIDUAL[step] + _SWISS_SLOPE[step] * (litres - _SWISS_FROM[step])) / 1000
    return np.where(np.isnan(litres), np.nan, residual)[()]


def swiss_article_31() -> Rule:
    """The residual flow that :func:`swiss_residual` asks for at the creek's own Q347."""
    return Rule(
        "swiss_article_31",
        "the residual flow of article 31 of the Swiss Waters Protection Act",
    )


@units(None, share="ratio")
def share_of_flow(share: Any, months: Any = None) -> Rule:
    """A share of whatever comes stays.

    Parameters
    ----------
    share : float or str
        The share that **stays**, such as ``"30 %"``.
    months : sequence of int, optional

    Returns
    -------
    Rule

    References
    ----------
    .. [1] For example the share of flow and hands-off flow of abstraction licences in England:
       Environment Agency, statutory guidance on water abstraction licences, appendix 1, 2024.

    Examples
    --------
    >>> share_of_flow("30 %", months=[7, 8]).text
    'a residual flow of 30 % of the flow of the day in July and August'
    """
    if not 0 <= share <= 1:
        raise HydrokitError(
            f"share_of_flow(): the share that stays must lie between 0 and 1, got {share!r}"
        )
    text = f"a residual flow of {100 * share:.3g} % of the flow of the day{_in(months)}"
    return Rule("share_of_flow", text, _months(months), share=np.full(12, float(share)))


@units(None, flow="m^3/s")
def hands_off(flow: Any, months: Any = None) -> Rule:
    """Nothing may be taken while the creek brings less than so much.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Above the intake.
    months : sequence of int, optional

    Returns
    -------
    Rule
        A threshold only: above it as much may be taken as the other rules leave.

    References
    ----------
    .. [1] For example the hands-off flow of abstraction licences in England: Environment Agency,
       statutory guidance on water abstraction licences, appendix 1, 2024.

    Examples
    --------
    >>> print(hands_off("12 L/s").text)
    no abstraction below 12 L/s
    >>> hands_off("0.5 cfs").flow_m3s[0].round(5).item()
    0.01416
    """
    text = Sentence(
        "no abstraction below {flow}{when}", flow=Amount(flow, "flow", 4), when=_in(months)
    )
    return Rule("hands_off", text, _months(months), flow_m3s=np.full(12, float(flow)))


# --- the licence ----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Licence:
    """What a water right grants at most; made by :func:`licence`.

    Parameters
    ----------
    rate_m3s : ndarray of 12
        Greatest flow that may be taken in each month; infinite where not limited.
    volume_m3 : float
        Greatest volume a year.
    ramp_m3s_per_day : float
        Greatest increase of what is taken from one day to the next.
    start_month : int
        First month of the year over which the volume counts.
    """

    rate_m3s: np.ndarray = field(default_factory=lambda: np.full(12, np.inf))
    volume_m3: float = np.inf
    ramp_m3s_per_day: float = np.inf
    start_month: int = WATER_YEAR


@units(None, rate="m^3/s", volume="m^3", ramp="m^3/s/d")
def licence(
    rate: Any = None, volume: Any = None, ramp: Any = None, start_month: int = WATER_YEAR
) -> Licence:
    """What a water right grants at most.

    Parameters
    ----------
    rate : Quantity or str [length³/time], optional
        Greatest flow, or a list of twelve by month.
    volume : Quantity or str [length³], optional
        Greatest volume a year.
    ramp : Quantity or str [length³/time²], optional
        Greatest increase a day, such as ``"5 L/s/d"``. Taking less is never limited: it gives
        water back to the creek.
    start_month : int

    Returns
    -------
    Licence

    References
    ----------
    .. [1] Local water right; no formula stands behind the numbers.

    Examples
    --------
    >>> licence("30 L/s").rate_m3s[0].item()
    0.03
    >>> round(licence(volume="100 acre_ft").volume_m3)
    123348
    """
    limits = [np.inf if each is None else each for each in (rate, volume, ramp)]
    if any(np.any(np.asarray(each) < 0) for each in limits):
        raise HydrokitError("licence(): what may be taken cannot be negative")
    if np.shape(limits[0]) not in ((), (12,)):
        raise HydrokitError(
            f"licence(): rate must be one flow or twelve, January first, got {np.size(limits[0])}"
        )
    return Licence(
        np.broadcast_to(np.asarray(limits[0], dtype=float), 12).copy(),
        float(limits[1]),
        float(limits[2]),
        start_month,
    )
