"""Rules of residual flow, and the one list of them that a site file may name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Callable

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..sentences import Amount, Sentence
from ..units import Floats, Number, units
from .months import MONTHS, WATER_YEAR, told_months
from .rule import Rule, Statistics

__all__ = [
    "RULE_KINDS",
    "Rule",
    "RuleKind",
    "Statistics",
    "TENNANT",
    "by_month",
    "fixed",
    "hands_off",
    "percentile",
    "share_of_flow",
    "share_of_mean",
    "swiss_article_31",
    "swiss_residual",
    "tennant",
]

# D. L. Tennant (1975), Instream flow regimens, Table 1: share of the mean annual flow, October to
# March and April to September on the northern half of the globe. The optimum range is 60 to 100 %;
# its lower end stands here.
TENNANT = {
    "flushing": (2.0, 2.0),
    "optimum": (0.6, 0.6),
    "outstanding": (0.4, 0.6),
    "excellent": (0.3, 0.5),
    "good": (0.2, 0.4),
    "fair": (0.1, 0.3),
    "poor": (0.1, 0.1),
}
# Federal Act on the Protection of Waters (SR 814.20), article 31, paragraph 1: from this Q347 on,
# the residual flow at it and the part of each further unit that is added; L/s.
_SWISS_FROM = np.array([0.0, 60.0, 160.0, 500.0, 2500.0, 10_000.0, 60_000.0])
_SWISS_RESIDUAL = np.array([50.0, 50.0, 130.0, 280.0, 900.0, 2500.0, 10_000.0])
_SWISS_SLOPE = np.array([0.0, 0.8, 0.44, 0.31, 0.213, 0.15, 0.0])


# Functions, not closures, so that a rule can be carried to another process.
def _share_of_mean(share: np.ndarray, creek: Statistics) -> Floats:
    return share * creek.mean_m3s


def _exceeded(exceedance: float, creek: Statistics) -> float:
    return creek.exceeded_m3s(exceedance)


def _swiss(creek: Statistics) -> Number:
    return swiss_residual.si(creek.exceeded_m3s(347 / 365))


def _months(months: Sequence[int] | None) -> tuple[int, ...]:
    return MONTHS if months is None else tuple(int(month) for month in months)


def _in(months: Sequence[int] | None) -> str:
    return "" if months is None else f" in {told_months(months)}"


def _only(months: Sequence[int] | None) -> str:
    return "" if months is None else f", in {told_months(months)}"


@units(None, flow="m^3/s")
def fixed(flow: float, months: Sequence[int] | None = None) -> Rule:
    """A fixed residual flow.

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
        kind="fixed",
        text=Sentence(
            "a residual flow of {flow}{when}", flow=Amount(flow, "flow", 4), when=_in(months)
        ),
        months=_months(months),
        flow_m3s=np.full(12, float(flow)),
    )


@units(None, flows="m^3/s")
def by_month(flows: Floats) -> Rule:
    """A residual flow for each month.

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
        kind="by_month",
        text=Sentence(
            "a residual flow of {flows}, by month",
            flows=Amount((flows.min(), flows.max()), "flow", 4),
        ),
        flow_m3s=flows,
    )


@units(None, share="ratio")
def share_of_mean(share: float, months: Sequence[int] | None = None) -> Rule:
    """A residual flow that is a share of the mean flow, such as 10 %.

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
    return Rule(
        kind="share_of_mean",
        text=text,
        months=_months(months),
        from_statistics=partial(_share_of_mean, np.full(12, float(share))),
    )


@units(None, exceedance="exceedance")
def percentile(exceedance: float, months: Sequence[int] | None = None) -> Rule:
    """A residual flow that is the flow reached or exceeded in a share of the time.

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
    text = (
        f"a residual flow of Q{100 * exceedance:.4g}, the flow exceeded {100 * exceedance:.4g} % "
        f"of the time{_in(months)}"
    )
    return Rule(
        kind="percentile",
        text=text,
        months=_months(months),
        from_statistics=partial(_exceeded, float(exceedance)),
    )


def tennant(grade: str, first_month: int = WATER_YEAR, months: Sequence[int] | None = None) -> Rule:
    """Tennant's share of the mean annual flow for a grade of habitat.

    Parameters
    ----------
    grade : {"flushing", "optimum", "outstanding", "excellent", "good", "fair", "poor"}
    first_month : int
        Month in which the low-flow half year begins: 10 as Tennant has it, 4 south of the equator.
    months : sequence of int, optional

    Returns
    -------
    Rule
    """
    if grade not in TENNANT:
        raise HydrokitError(
            f"tennant(): there is no grade '{grade}'{did_you_mean(grade, TENNANT)}; known are "
            f"{', '.join(TENNANT)}"
        )
    cold, warm = TENNANT[grade]
    share = np.where((np.array(MONTHS) - first_month) % 12 < 6, cold, warm)
    halves = [
        told_months((first - 1 + np.arange(6)) % 12 + 1) for first in (first_month, first_month + 6)
    ]
    told = f"a residual flow of {100 * cold:.0f} % of the mean flow" + (
        "" if cold == warm else f" from {halves[0]} and {100 * warm:.0f} % from {halves[1]}"
    )
    return Rule(
        kind="tennant",
        text=f"Tennant's grade '{grade}': {told}{_only(months)}",
        months=_months(months),
        from_statistics=partial(_share_of_mean, share),
    )


@units("m^3/s", q347="m^3/s")
def swiss_residual(q347: Number) -> Number:
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


def swiss_article_31(months: Sequence[int] | None = None) -> Rule:
    """The residual flow that :func:`swiss_residual` asks for at the creek's own Q347."""
    return Rule(
        kind="swiss_article_31",
        text=f"the residual flow of article 31 of the Swiss Waters Protection Act{_only(months)}",
        months=_months(months),
        from_statistics=_swiss,
    )


@units(None, share="ratio")
def share_of_flow(share: float, months: Sequence[int] | None = None) -> Rule:
    """A residual flow that is a share of the flow of the day.

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
    return Rule(
        kind="share_of_flow",
        text=text,
        months=_months(months),
        share=np.full(12, float(share)),
    )


@units(None, flow="m^3/s")
def hands_off(flow: float, months: Sequence[int] | None = None) -> Rule:
    """No abstraction while the creek brings less than so much.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Above the intake.
    months : sequence of int, optional

    Returns
    -------
    Rule
        A threshold only: above it as much is available as the other rules leave.

    References
    ----------
    .. [1] For example the hands-off flow of abstraction licences in England: Environment Agency,
       statutory guidance on water abstraction licences, appendix 1, 2024.

    Examples
    --------
    >>> print(hands_off("12 L/s").text)
    no abstraction below 12 L/s
    >>> hands_off("0.5 cfs").hands_off_m3s[0].round(5).item()
    0.01416
    """
    text = Sentence(
        "no abstraction below {flow}{when}", flow=Amount(flow, "flow", 4), when=_in(months)
    )
    return Rule(
        kind="hands_off",
        text=text,
        months=_months(months),
        hands_off_m3s=np.full(12, float(flow)),
    )


@dataclass(frozen=True, kw_only=True)
class RuleKind:
    """One kind of residual-flow rule, as a site file names it.

    Parameters
    ----------
    meaning : str
    make : callable
        Gives the :class:`Rule` from the value of `key`, where there is one, and ``months``.
    key : str
        The key of the site file that it needs beside its name; empty where none.
    """

    meaning: str
    make: Callable[..., Rule]
    key: str = ""


# The one list of rules that a site file may name: its keys and their reader go by it.
RULE_KINDS = {
    "fixed": RuleKind(meaning="a flow", key="flow", make=fixed.si),
    "share of mean": RuleKind(
        meaning="a share of the mean flow", key="share", make=share_of_mean.si
    ),
    "percentile": RuleKind(
        meaning="the flow exceeded in a share of the time", key="exceedance", make=percentile.si
    ),
    "tennant": RuleKind(
        meaning="Tennant's share of the mean flow for a grade of habitat", key="class", make=tennant
    ),
    "swiss": RuleKind(
        meaning="article 31 of the Swiss Waters Protection Act", make=swiss_article_31
    ),
    "share of flow": RuleKind(
        meaning="a share of the flow of the day", key="share", make=share_of_flow.si
    ),
    "hands-off": RuleKind(meaning="no abstraction below a flow", key="flow", make=hands_off.si),
}
