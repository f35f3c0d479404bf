"""What each rule costs in energy, which flows decide the energy, and what to measure next."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import Any, Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.curve import PlantCurve, most_taken
from ..sentences import Sentence
from ..stream.record import checked
from ..stream.rights import Rights, resolve_rights
from ..units import Q_, Quantity
from .weights import WINTER
from .year import Outages, annual_energy
from .year_power import power_series

__all__ = [
    "Deciding",
    "GivenUp",
    "Measurement",
    "RulePrice",
    "deciding_flows",
    "given_up",
    "what_to_measure_next",
]

_NUDGE = 0.05  # share of the flow; wide enough to feel the steps of jets on either side
_LEAST_SCATTER = 0.05  # of one more gauging, however well the others agree
_MOST_GAUGINGS = 12
_WITHOUT_RATING = 0.08  # relative standard deviation of a good gauging, common practice
LEFT_OF_UNCERTAINTY = (
    1 / 3
)  # what a careful measurement leaves of a standard deviation, common practice


# --- rules ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class RulePrice:
    """Energy a mean year would have more if this rule alone did not hold.

    Parameters
    ----------
    text : str
        The rule in words.
    kwh, winter_kwh : float
    """

    text: str | Sentence
    kwh: float
    winter_kwh: float


@dataclass(frozen=True, eq=False)
class GivenUp:
    """Energy given up to the rules on the creek's water.

    Parameters
    ----------
    kwh, winter_kwh : float
        Of a mean year with all rules.
    free_kwh, free_winter_kwh : float
        Without any.
    prices : tuple of RulePrice
        One for each rule, then for what the licence limits.
    """

    kwh: float
    winter_kwh: float
    free_kwh: float
    _: KW_ONLY
    free_winter_kwh: float
    prices: tuple[RulePrice, ...]

    @property
    def together_kwh(self) -> float:
        """Given up to all of them."""
        return self.free_kwh - self.kwh

    @property
    def together_winter_kwh(self) -> float:
        """Given up to all of them in winter."""
        return self.free_winter_kwh - self.winter_kwh

    @property
    def shared_kwh(self) -> float:
        """Part of it that no rule alone gives back, because another one holds the same water.

        Below zero where dropping one gives a part of another back too.
        """
        return self.together_kwh - sum(each.kwh for each in self.prices)


def given_up(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    outages: Outages | None = None,
    winter: tuple[int, ...] = WINTER,
) -> GivenUp:
    """Energy with all rules, without each one, and without any.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rights : Rights
    curves : PlantCurve, or 12 of them
    outages : Outages, optional
    winter : tuple of int

    Returns
    -------
    GivenUp
        What a rule costs is no argument against it: the creek lives on what is left in it.
    """
    record = checked(record)
    most = most_taken(curves)

    def energy(usable: pd.Series) -> np.ndarray:
        year = annual_energy(usable, curves, outages, winter=winter)
        return np.array([year.annual_kwh, year.winter_kwh])

    whole = energy(rights.usable_series(record, most))
    prices = [
        RulePrice(text, *(energy(other.usable_series(record, most)) - whole).tolist())
        for text, other in _without_one(rights, record)
    ]
    free = energy(record)
    return GivenUp(
        kwh=float(whole[0]),
        winter_kwh=float(whole[1]),
        free_kwh=float(free[0]),
        free_winter_kwh=float(free[1]),
        prices=tuple(prices),
    )


def _without_one(rights: Rights, record: pd.Series) -> list[tuple[str | Sentence, Rights]]:
    """The rights with one rule, or one limit of the licence, taken out at a time."""
    licensed = {
        name: getattr(rights, name)
        for name in ("licence_m3s", "volume_m3", "ramp_m3s_per_day", "start_month")
    }
    found = []
    for number, rule in enumerate(rights.rules):
        others = rights.rules[:number] + rights.rules[number + 1 :]
        found.append((rule.text, replace(resolve_rights(others, None, record), **licensed)))
    if not rights.rules and np.any(rights.keep_m3s + rights.share_left + rights.hands_off_m3s > 0):
        nothing = np.zeros(12)
        found.append(
            (
                "what must stay in the creek",
                replace(rights, keep_m3s=nothing, share_left=nothing, hands_off_m3s=nothing),
            )
        )
    for text, limited, without in (
        (
            "the licensed rate",
            np.any(np.isfinite(rights.licence_m3s)),
            {"licence_m3s": np.full(12, np.inf)},
        ),
        ("the licensed yearly volume", np.isfinite(rights.volume_m3), {"volume_m3": np.inf}),
        (
            "the limit on how fast the take may rise",
            np.isfinite(rights.ramp_m3s_per_day),
            {"ramp_m3s_per_day": np.inf},
        ),
    ):
        if limited:
            found.append((text, replace(rights, **without)))
    return found


# --- flows that decide ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Deciding:
    """How much the energy hangs on each natural flow.

    Parameters
    ----------
    flow_m3s : ndarray
        Natural flow of the days of the record that has one above zero.
    month : ndarray of int
        Calendar month of each.
    weight_kwh : ndarray
        Energy a year that a relative error of 1 in the flow of that day alone would make; times
        0.01 for one per cent.
    """

    flow_m3s: np.ndarray
    month: np.ndarray
    weight_kwh: np.ndarray

    @property
    def total_kwh(self) -> float:
        """Energy a year for a relative error of 1 in all flows."""
        return float(self.weight_kwh.sum())

    def range_m3s(self, share: float = 0.8) -> tuple[float, float]:
        """Flows between which a share of the weight lies, as much below as above."""
        order = np.argsort(self.flow_m3s)
        below = np.cumsum(np.abs(self.weight_kwh[order]))
        if not below[-1] > 0:
            raise HydrokitError(
                "the energy hangs on no flow of this record: the plant always runs full, or never"
            )
        ends = np.searchsorted(below, below[-1] * np.array([(1 - share) / 2, (1 + share) / 2]))
        return tuple(self.flow_m3s[order][np.minimum(ends, len(order) - 1)].tolist())

    @property
    def range(self) -> Quantity:
        """The two flows between which 80 % of the weight lies."""
        return Q_(np.array(self.range_m3s()), "m^3/s")


def deciding_flows(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    outages: Outages | None = None,
) -> Deciding:
    """Which natural flows decide the energy: where one per cent more or less of them shows.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rights : Rights
    curves : PlantCurve, or 12 of them
    outages : Outages, optional

    Returns
    -------
    Deciding
        Days on which the plant stands, or runs full with water to spare, weigh nothing.

    Notes
    -----
    Central difference over ±5 % of the flow of all days at once, through the real rights.
    """
    record = checked(record)
    most = most_taken(curves)
    ends = [
        power_series(rights.usable_series(record * np.exp(step), most), curves).to_numpy()
        for step in (-_NUDGE, _NUDGE)
    ]
    running = (Outages() if outages is None else outages).running
    flow, month = record.to_numpy(), np.asarray(record.index.month)
    days = flow > 0
    years = np.isfinite(flow).sum() / 365.25
    weight = (ends[1] - ends[0]) / (2 * _NUDGE) * 24 / 1000 * running[month - 1] / years
    return Deciding(flow[days], month[days], weight[days])


# --- what to measure next -------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Measurement:
    """Something worth measuring, and what it would narrow.

    Parameters
    ----------
    what : str
        ``"rating"`` for gaugings at a stage, ``"flow"`` for gaugings where there is no rating, or
        a source of the uncertainty: ``"head"``, ``"loss"``, ``"efficiency"``, ``"outage"``..., ``"years"`` for
        as many years of record again.
    before_kwh, after_kwh : float
        Standard deviation of the mean annual energy from all that measuring can narrow, before and
        after.
    gaugings : int
        About how many; 0 where it is not a gauging.
    stage_m : float
        Stage to gauge at; NaN where it is not about the rating.
    flows_m3s : tuple of float
        Flows between which to gauge; empty where it is not a gauging.
    months : tuple of int
        Months in which such flows are most often met, most often first.
    share : float
        Share of the energy's weight that lies in these flows; NaN where it is not a gauging.
    extrapolated : bool
        Whether no gauging yet comes near.
    """

    what: str
    before_kwh: float
    after_kwh: float
    _: KW_ONLY
    gaugings: int = 0
    stage_m: float = np.nan
    flows_m3s: tuple[float, ...] = ()
    months: tuple[int, ...] = ()
    share: float = np.nan
    extrapolated: bool = False

    @property
    def narrowed(self) -> float:
        """Share by which the standard deviation would shrink."""
        return 1 - self.after_kwh / self.before_kwh if self.before_kwh > 0 else 0.0


def what_to_measure_next(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    rating: Any = None,
    record_sd: float = 0.10,
    tornado: pd.DataFrame | None = None,
    outages: Outages | None = None,
    bands: int = 6,
) -> tuple[Measurement, ...]:
    r"""Measurements in the order in which they would narrow the annual energy.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rights : Rights
    curves : PlantCurve, or 12 of them
    rating : Rating, optional
        Behind the record. Without it the record's error is taken as one factor for all flows.
    record_sd : float
        That factor's relative standard deviation.
    tornado : pandas.DataFrame, optional
        Of a ``uncertainty.EnergyUncertainty``: the other sources, and the size of the rating's. The weather is left
        out, since only years narrow it.
    outages : Outages, optional
    bands : int
        Ranges of flow that gaugings are tried in, each with as many days.

    Returns
    -------
    tuple of Measurement
        What narrows most first.

    Notes
    -----
    With g the change of the annual energy with the rating's parameters, C their covariance and s
    the change of ln Q at a stage with them, n gaugings of scatter σ there leave

    .. math:: g^T C g - \frac{n (g^T C s)^2}{\sigma^2 + n\, s^T C s}

    of the variance. n is such that the curve at that stage is left with a fifth of its variance,
    :math:`4\sigma^2/s^T C s`; more bring little. Other sources are taken to keep a third of their
    standard deviation (common practice), and what so few years leave open half of its variance once
    there are twice as many.

    References
    ----------
    .. [1] Recursive least squares: the covariance after one more observation (Sherman-Morrison).
    """
    deciding = deciding_flows(record, rights, curves, outages)
    sds = (
        {}
        if tornado is None
        else tornado["sd_kwh"].drop("weather", errors="ignore").dropna().to_dict()
    )
    gaugings = (
        _at_stages(deciding, rating, bands)
        if rating is not None
        else _anywhere(deciding, record_sd)
    )
    own = sds.pop("rating", gaugings[0][0])
    others = float(sum(sd**2 for sd in sds.values()))
    before = float(np.hypot(own, np.sqrt(others)))
    # years of record narrow what so few of them leave open, by their number and not by care
    left_of = {"years": np.sqrt(0.5)}
    found = [
        replace(each, before_kwh=before, after_kwh=float(np.sqrt(others + own**2 * left)))
        for _, left, each in gaugings
    ] + [
        Measurement(
            source,
            before,
            float(
                np.sqrt(
                    max(
                        before**2 - sd**2 * (1 - left_of.get(source, LEFT_OF_UNCERTAINTY) ** 2), 0.0
                    )
                )
            ),
        )
        for source, sd in sds.items()
        if sd > 0
    ]
    return tuple(sorted(found, key=lambda each: each.after_kwh))


def _at_stages(
    deciding: Deciding, rating: Any, bands: int
) -> list[tuple[float, float, Measurement]]:
    """For each range of flow: standard deviation from the rating, share of its variance left, measurement."""
    from ..stream.rating import rating_stage

    stage = rating_stage.si(deciding.flow_m3s, rating)
    gradient = deciding.weight_kwh @ rating.slopes(stage)
    variance = float(gradient @ rating.covariance @ gradient)
    scatter = max(float(rating.scatter), _LEAST_SCATTER)
    found = []
    for inside in _bands(deciding, bands):
        level = float(np.median(stage[inside]))
        slopes = rating.slopes(level)
        own, tied = (
            float(slopes @ rating.covariance @ slopes),
            float(gradient @ rating.covariance @ slopes),
        )
        count = int(np.clip(np.ceil(4 * scatter**2 / max(own, 1e-12)), 1, _MOST_GAUGINGS))
        left = 1.0 if variance <= 0 else 1 - count * tied**2 / (scatter**2 + count * own) / variance
        found.append(
            (
                np.sqrt(max(variance, 0.0)),
                max(left, 0.0),
                _gauging("rating", deciding, inside, count, level, bool(_beyond(rating, level))),
            )
        )
    return found


def _beyond(rating: Any, stage_m: float) -> bool:
    """Whether a stage lies outside what gaugings reach: above 1.5 times the highest flow, or below the lowest."""
    return rating.extrapolated(stage_m) or stage_m < rating.lowest_stage_m


def _anywhere(deciding: Deciding, record_sd: float) -> list[tuple[float, float, Measurement]]:
    """The same where one factor stands for all that is unknown of the record."""
    low, high = deciding.range_m3s()
    inside = (deciding.flow_m3s >= low) & (deciding.flow_m3s <= high)
    count = (
        int(np.clip(np.ceil(4 * (_WITHOUT_RATING / record_sd) ** 2), 1, _MOST_GAUGINGS))
        if record_sd > 0
        else 1
    )
    left = 1 / (1 + count * (record_sd / _WITHOUT_RATING) ** 2)
    return [
        (
            abs(deciding.total_kwh) * record_sd,
            left,
            _gauging("flow", deciding, inside, count, np.nan, False),
        )
    ]


def _bands(deciding: Deciding, bands: int) -> list[np.ndarray]:
    edges = np.unique(np.quantile(deciding.flow_m3s, np.linspace(0, 1, bands + 1)))
    place = np.clip(
        np.searchsorted(edges, deciding.flow_m3s, side="right") - 1, 0, max(len(edges) - 2, 0)
    )
    return [place == band for band in np.unique(place)]


def _gauging(
    what: str,
    deciding: Deciding,
    inside: np.ndarray,
    count: int,
    stage_m: float,
    extrapolated: bool,
) -> Measurement:
    flows = deciding.flow_m3s[inside]
    met = np.bincount(deciding.month[inside], minlength=13)[1:]
    often = np.argsort(-met, kind="stable")
    enough = int(np.searchsorted(np.cumsum(met[often]), met.sum() / 2)) + 1
    weight = np.abs(deciding.weight_kwh)
    share = float(weight[inside].sum() / weight.sum()) if weight.sum() > 0 else np.nan
    return Measurement(
        what,
        np.nan,
        np.nan,
        gaugings=count,
        stage_m=stage_m,
        flows_m3s=(float(flows.min()), float(flows.max())),
        months=tuple(int(month) + 1 for month in often[:enough]),
        share=share,
        extrapolated=extrapolated,
    )
