"""Annual energy from a handful of readings: a bracket of two digits, never a percentile.

One bucket says what the creek carried on one day. What it carries through the year then rests on how days
and years differ elsewhere, and on rules of thumb, written out below; the bracket is as wide as they are.

>>> from hydrokit.energy.bracket import bracket
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.5)))
>>> found = bracket(plant, [0.012, 0.007], [5, 9])
>>> print(f"{found.low_kwh:,.0f} to {found.high_kwh:,.0f} kWh; first, {str(found.next_measurements[0]).split(' (')[0]}")
1,800 to 24,000 kWh; first, ask the authority what must stay in the creek
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from ..errors import Finding, HydrokitError, counted
from ..plant.chain import Chain
from ..plant.curve import PlantCurve
from ..result import Result
from ..sentences import Amount, Sentence, joined
from ..stream.months import DAYS_OF_MONTHS, MONTH_NAMES
from ..units import Q_, Quantity
from .advice import against_uncertainty
from .uncertain_inputs import Uncertainties
from .weights import MONTHS

if TYPE_CHECKING:
    from ..stream.rights import Rights

__all__ = ["Bracket", "bracket"]

# Standard deviations of ln Q in the daily records of Black Earth Creek, Yaak River, Ngaruroro and Sitter (see
# hydrokit.stream.spread_of_years): of the days of a month about their median 0.26 to 0.69, of the
# median of one month between years 0.32 to 0.57; months of one year are alike by 0.06 to 0.67.
# About the middle of each:
_DAYS_SD, _MONTHS_SD, _ALIKE = 0.5, 0.45, 0.3
_DAYS = ndtri(
    (np.arange(15) + 0.5) / 15
)  # as many days of a month, each for as many of the normal law
# Common practice; natural logarithms of a factor either way.
_BORROWED = np.log(
    2.0
)  # a month without a reading, its flow taken from a neighbour's shape or from readings around it
_ONE_SEASON = np.log(3.0)  # the same where all readings come from one season and no shape is given
_NINE_IN_TEN = 1.645
_GOOD_GAUGING = 0.08
_TAKEN_AT_WORST = 0.5  # share of the flow, where nobody has said what must stay
_HOURS = 24 * np.array(DAYS_OF_MONTHS)
_PLANT = ("efficiency", "loss", "jet_area", "head")


@dataclass(frozen=True, eq=False)
class Bracket(Result):
    """Between which figures the annual energy lies, as far as so few readings can tell.

    Parameters
    ----------
    low_kwh, high_kwh : float
        Rounded outward to two digits.
    monthly : pandas.DataFrame
        By month: columns ``flow_m3s`` (natural, the central estimate), ``low_kwh``, ``high_kwh``.
    reasons : tuple of str
        Why it is so wide.
    next_measurements : tuple of Sentence
        Three, in order of what each would narrow once those before it are made.
    findings : tuple of Finding
    """

    low_kwh: float
    high_kwh: float
    monthly: pd.DataFrame
    _: KW_ONLY
    reasons: tuple[str | Sentence, ...]
    next_measurements: tuple[Sentence, ...]
    findings: tuple[Finding, ...]

    @property
    def low(self) -> Quantity:
        """Low end."""
        return Q_(self.low_kwh, "kWh")

    @property
    def high(self) -> Quantity:
        """High end."""
        return Q_(self.high_kwh, "kWh")


@dataclass(frozen=True, eq=False)
class _Known:
    """What is known: readings by month, and what would be if one more were taken."""

    readings: dict[
        int, tuple[float, float]
    ]  # month -> natural flow, standard deviation of its logarithm
    shape: np.ndarray | None
    covariance: np.ndarray  # of the logarithms of what the plant rests on, in the order of _PLANT
    _: KW_ONLY
    keep_known: bool
    days: int  # on which the flow was read
    advice: dict[str, str]

    @property
    def day_to_month(self) -> float:
        """Logarithm of the factor within which single days stand for the usual flow of their
        months, all months together."""
        alone = (1 - _ALIKE) * _MONTHS_SD**2 + _DAYS_SD**2
        return float(_NINE_IN_TEN * np.sqrt(_ALIKE * _MONTHS_SD**2 + alone / self.days))


def bracket(
    chain: Chain,
    flows_m3s: Sequence[float] | np.ndarray,
    months: Sequence[int] | np.ndarray,
    flow_sd: float | Sequence[float] | np.ndarray = 0.10,
    rights: Rights | None = None,
    shape: Sequence[float] | np.ndarray | None = None,
    uncertainties: Uncertainties | None = None,
    snow: bool = False,
    planned: bool = False,
    set_aside: bool = False,
) -> Bracket:
    r"""Annual energy of a plant from a few gaugings.

    Parameters
    ----------
    chain : Chain
    flows_m3s : sequence of float
        Natural flow at the intake on the days it was measured.
    months : sequence of int
        Calendar month of each.
    flow_sd : float or sequence of float
        Standard deviation of a gauging, as a share.
    rights : Rights, optional
        What must stay and may be taken. None: flagged, and counted among the reasons.
    shape : 12 floats, optional
        Mean flow of each month over that of the year, from a creek like this one.
    uncertainties : Uncertainties, optional
        Of the plant.
    snow : bool
        Whether winter is spent under snow: the lowest flow is then often in February.
    planned : bool
        Nothing can be read on the plant yet.
    set_aside : bool
        The plant's own log tells the year: nobody goes by the bracket.

    Returns
    -------
    Bracket

    Raises
    ------
    HydrokitError
        No reading, or months that are none.

    Notes
    -----
    Low and high take all months low or high together, so what counts of a reading is by how much
    N of them miss the year. A day differs from its month, with a standard deviation :math:`s_d` of
    ln Q, and a month from the same month of other years, with :math:`s_m`, of which a share r is
    common to the months of one year: the mean of the months is off by :math:`u^2 = r s_m^2 +
    ((1-r)s_m^2 + s_d^2)/N`, and 90 % lie within :math:`e^{\pm1.645u}`: a factor of 2.9 for one
    reading, 1.7 for ten. The three numbers are those of real daily records (0.5, 0.45, 0.3). The
    energy of a month is that of its days, which differ by :math:`s_d`. A month without a reading,
    its flow interpolated in logarithms between the readings or scaled by the shape, holds within a
    further factor of 2 (3 where all readings come from one season): common practice.
    """
    flows, months = (
        np.atleast_1d(np.asarray(flows_m3s, dtype=float)),
        np.atleast_1d(np.asarray(months, dtype=int)),
    )
    if (
        flows.size == 0
        or flows.shape != months.shape
        or not np.all(flows > 0)
        or not np.all(np.isin(months, MONTHS))
    ):
        raise HydrokitError(
            "bracket(): give at least one flow above zero, in m³/s, and the month (1 to 12) of each"
        )
    sd = np.broadcast_to(np.asarray(flow_sd, dtype=float), flows.shape)
    uncertainties = Uncertainties() if uncertainties is None else uncertainties
    readings = {
        int(month): (
            float(np.exp(np.mean(np.log(flows[months == month])))),
            float(np.mean(sd[months == month])),
        )
        for month in np.unique(months)
    }
    shape = None if shape is None else np.asarray(shape, dtype=float)
    if shape is not None and (shape.shape != (12,) or not np.all(shape > 0)):
        raise HydrokitError("bracket(): shape needs 12 numbers above zero, January first")
    known = _Known(
        readings,
        shape,
        _covariance(uncertainties),
        keep_known=rights is not None,
        days=len(flows),
        advice=against_uncertainty(planned),
    )
    energy = _Energy.of(chain, np.sqrt(np.diag(known.covariance)), rights)
    flow, low, high = energy.ends(known)
    table = pd.DataFrame(
        {"flow_m3s": flow, "low_kwh": low, "high_kwh": high}, index=pd.Index(MONTHS, name="month")
    )
    return Bracket(
        _two_digits(low.sum(), np.floor),
        _two_digits(high.sum(), np.ceil),
        table,
        reasons=_reasons(known, snow),
        next_measurements=_next_measurements(known, energy, flow, snow),
        findings=_findings(known, snow, set_aside),
    )


@dataclass(frozen=True, eq=False)
class _Energy:
    """The plant as it stands, and with each of its uncertainties moved by one standard deviation."""

    curves: tuple[PlantCurve, ...]
    moved: dict[str, tuple[PlantCurve, ...]]
    sd: np.ndarray
    _: KW_ONLY
    rights: Any

    @classmethod
    def of(cls, chain: Chain, sd: np.ndarray, rights: Rights | None) -> _Energy:
        moved = {
            name: chain.factors(**{name: 1 + each}).curves()
            for name, each in zip(_PLANT, sd)
            if each > 0
        }
        return cls(chain.curves(), moved, sd, rights=rights)

    def ends(self, known: _Known) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Central flow, low and high energy in kWh of each month."""
        flow, spread = _flows(known)
        left = 1.0 if known.keep_known else _TAKEN_AT_WORST
        ends = []
        for way, at in ((-1, left * flow * np.exp(-spread)), (1, flow * np.exp(spread))):
            ends.append(
                self._kwh(self.curves, at) * np.exp(way * _NINE_IN_TEN * self._plant_sd(known, at))
            )
        return flow, *ends

    def _kwh(self, curves: tuple[PlantCurve, ...], flow: np.ndarray) -> np.ndarray:
        # the days of a month differ: one whose median day leaves nothing to take has wet days, a
        # full one dry ones
        days = flow[:, None] * np.exp(_DAYS_SD * _DAYS)
        usable = days if self.rights is None else self.rights.usable_si(days, MONTHS[:, None])
        power = [np.mean(curve.power_si(each)) for curve, each in zip(curves, usable)]
        return np.array(power) * _HOURS / 1000

    def _plant_sd(self, known: _Known, flow: np.ndarray) -> float:
        """Standard deviation of the logarithm of the energy from what is not known of the plant."""
        middle = self._kwh(self.curves, flow).sum()
        if middle <= 0:
            return 0.0
        moves = [
            np.log(max(self._kwh(self.moved[name], flow).sum() / middle, 1e-9)) / sd
            if sd > 0
            else 0.0
            for name, sd in zip(_PLANT, self.sd)
        ]
        return float(np.sqrt(max(moves @ known.covariance @ moves, 0.0)))


def _covariance(uncertainties: Uncertainties) -> np.ndarray:
    """Of the plant's uncertainties, those included that go together."""
    shares = np.eye(len(_PLANT))
    for first, second, share in uncertainties.correlated:
        if first in _PLANT and second in _PLANT:
            i, j = _PLANT.index(first), _PLANT.index(second)
            shares[i, j] = shares[j, i] = share
    sd = np.array([getattr(uncertainties, name) for name in _PLANT])
    return shares * np.outer(sd, sd)


def _without(covariance: np.ndarray, place: int) -> np.ndarray:
    """The covariance once one of them is known: what goes with it is then known better too."""
    row = covariance[place]
    left = covariance - np.outer(row, row) / row[place]
    left[place] = left[:, place] = 0.0
    return left


def _flows(known: _Known) -> tuple[np.ndarray, np.ndarray]:
    """Central flow of each month and the logarithm of the factor either way."""
    gauged = np.array(sorted(known.readings))
    flow = np.array([known.readings[month][0] for month in gauged])
    uncertainty = np.array([known.readings[month][1] for month in gauged])
    relative = np.ones(12) if known.shape is None else known.shape
    # the year is a circle: what stands before January is December
    around = np.concatenate([gauged - 12, gauged, gauged + 12])
    level = np.interp(MONTHS, around, np.tile(np.log(flow / relative[gauged - 1]), 3))
    apart = np.abs(MONTHS[:, None] - around).min(axis=1)
    reading = _NINE_IN_TEN * np.interp(MONTHS, around, np.tile(uncertainty, 3))
    return np.exp(level) * relative, np.sqrt(
        reading**2 + known.day_to_month**2 + (_far(known) * np.minimum(apart, 2) / 2) ** 2
    )


def _far(known: _Known) -> float:
    """Logarithm of the factor by which a month two or more away from any reading may differ."""
    seasons = {(month % 12) // 3 for month in known.readings}
    return _BORROWED if known.shape is not None or len(seasons) > 1 else _ONE_SEASON


_WORTH_TELLING = 0.01  # of the bracket


def _next_measurements(
    known: _Known, energy: _Energy, flow: np.ndarray, snow: bool
) -> tuple[Sentence, ...]:
    """Greedy: the measurement that narrows most, then the next given the first, and a third."""

    def width(of: _Known) -> float:
        _, low, high = energy.ends(of)
        return float(high.sum() - low.sum())

    chosen: list[Sentence] = []
    now = width(known)
    for _ in range(3):
        options = _options(known, flow, snow)
        if not options:
            break
        widths = {text: width(option) for text, option in options.items()}
        # months that narrow nearly alike are told apart by more than their number of days
        good_enough = min(widths.values()) + 0.1 * (now - min(widths.values()))
        best = next(text for text, found in widths.items() if found <= good_enough)
        # two ends rounded apart would tell a step where there is none: the share does not
        narrowed = 1 - widths[best] / now if now > 0 else 0.0
        chosen.append(
            Sentence(
                "{what} (narrows the bracket by {share})",
                what=best,
                share=Amount(narrowed, "share", 1 if narrowed < 0.1 else 2),
            )
            if narrowed >= _WORTH_TELLING
            else Sentence("{what} (narrows the bracket little)", what=best)
        )
        known, now = options[best], widths[best]
    return tuple(chosen)


def _options(known: _Known, flow: np.ndarray, snow: bool) -> dict[str, _Known]:
    """Each measurement that could be made next, with what would then be known."""
    gauged = np.array(sorted(known.readings))
    apart = np.abs(MONTHS[:, None] - np.concatenate([gauged - 12, gauged, gauged + 12])).min(axis=1)
    # of months that would narrow alike, the farthest from a reading first; under snow February
    order = sorted(
        MONTHS.tolist(), key=lambda month: (not (snow and month == 2), -apart[month - 1])
    )
    options = {}
    for month in order:
        if month not in known.readings:
            readings = {**known.readings, month: (float(flow[month - 1]), _GOOD_GAUGING)}
            options[f"gauge the creek in {MONTH_NAMES[month - 1]}"] = replace(
                known, readings=readings, days=known.days + 1
            )
    for place, name in enumerate(_PLANT):
        if known.covariance[place, place] > 0:
            options[known.advice[name]] = replace(
                known, covariance=_without(known.covariance, place)
            )
    if not known.keep_known:
        options["ask the authority what must stay in the creek"] = replace(known, keep_known=True)
    return options


def _reasons(known: _Known, snow: bool) -> tuple[str | Sentence, ...]:
    missing = [MONTH_NAMES[month - 1] for month in MONTHS if int(month) not in known.readings]
    reasons: list[str | Sentence] = [
        (
            f"the creek was gauged in {12 - len(missing)} of 12 months, on "
            f"{counted(known.days, 'day')}; so many stand for months of other years within a "
            f"factor of {np.exp(known.day_to_month):.1f}, as days and years differ in real "
            "records"
        )
    ]
    if missing:
        how = (
            "a borrowed shape of the year carries"
            if known.shape is not None
            else "flows between readings carry"
        )
        factor = "two" if _far(known) == _BORROWED else "three"
        reasons.append(
            f"{how} about a factor of {factor} more (common practice); no reading in {', '.join(missing)}"
        )
    if snow and not {1, 2, 3} & set(known.readings):
        reasons.append(
            "under snow the lowest flow is often in February, and no winter reading exists"
        )
    if not known.keep_known:
        reasons.append(
            "what must stay in the creek is not given; the low end takes it to be half of the flow"
        )
    parts = [
        Sentence("{what} {sd}", what=name.replace("_", " "), sd=Amount(float(sd), "share", 2))
        for name, sd in zip(_PLANT, np.sqrt(np.diag(known.covariance)))
        if sd > 0
    ]
    if parts:
        reasons.append(
            Sentence(
                "the uncertainty of the plant itself is {parts} (one standard deviation)",
                parts=joined(parts, ", "),
            )
        )
    return tuple(reasons)


def _findings(known: _Known, snow: bool, set_aside: bool) -> tuple[Finding, ...]:
    gauged = f"{counted(len(known.readings), 'month')} gauged"
    found = [
        Finding(
            "note",
            "bracket",
            f"{gauged}: alone a bracket and no forecast; the plant's own log tells the year",
        )
        if set_aside
        else Finding(
            "caution",
            "bracket",
            f"{gauged}: this is a bracket, not a forecast; no bank should lend on it",
        )
    ]
    if snow and not {1, 2, 3} & set(known.readings):
        found.append(
            Finding(
                "caution",
                "bracket",
                "no reading under snow: the plant may stop for weeks that nobody has measured",
            )
        )
    return tuple(found)


def _two_digits(value: float, rounding: Any) -> float:
    if value <= 0:
        return 0.0
    unit = 10.0 ** (np.floor(np.log10(value)) - 1)
    return float(rounding(value / unit) * unit)
