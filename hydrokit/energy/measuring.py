"""What to measure next: what one more gauging, or a careful measurement, would narrow the annual
energy by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..plant.curve import PlantCurve
from ..result import Result
from ..stream.rights import Rights
from .worth import Deciding, deciding_flows
from .year import Outages

if TYPE_CHECKING:
    from ..stream.rating_curve import Rating

__all__ = ["LEFT_OF_UNCERTAINTY", "Measurement", "what_to_measure_next"]

_MOST_GAUGINGS = 12
_WITHOUT_RATING = 0.08  # relative standard deviation of a good gauging, common practice
LEFT_OF_UNCERTAINTY = (
    1 / 3
)  # what a careful measurement leaves of a standard deviation, common practice


@dataclass(frozen=True, eq=False)
class Measurement(Result):
    """Something worth measuring, and what it would narrow.

    Parameters
    ----------
    what : str
        ``"rating"`` for gaugings at a stage, ``"flow"`` for gaugings where there is no rating, or
        a source of the uncertainty: ``"head"``, ``"loss"``, ``"efficiency"``, ``"outage"``...,
        ``"years"`` for as many years of record again.
    before_kwh, after_kwh : float
        Standard deviation of the mean annual energy from all that measuring can narrow, before and
        after; of a gauging, after one.
    gaugings : int
        About how many are worth making there; 0 where it is not a gauging.
    after_all_kwh : float
        Standard deviation after so many; NaN where it is not a gauging.
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
    after_all_kwh: float = np.nan
    stage_m: float = np.nan
    flows_m3s: tuple[float, ...] = ()
    months: tuple[int, ...] = ()
    share: float = np.nan
    extrapolated: bool = False

    @property
    def narrowed(self) -> float:
        """Share by which the standard deviation would shrink; of a gauging, by one."""
        return 1 - self.after_kwh / self.before_kwh if self.before_kwh > 0 else 0.0

    @property
    def narrowed_by_all(self) -> float:
        """The same by all the gaugings that are worth making there."""
        return 1 - self.after_all_kwh / self.before_kwh if self.before_kwh > 0 else 0.0


def what_to_measure_next(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    rating: Rating | None = None,
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
        Of a ``uncertainty.EnergyUncertainty``: the other sources, and the size of the rating's. The
        weather is left out, since only years narrow it.
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

    of the variance. The order counts one gauging; how many are worth making is such that the curve at
    that stage is left with a fifth of its variance, :math:`4\sigma^2/s^T C s`; more bring little.
    Other sources are taken to keep a third of their standard deviation (common practice), and what
    so few years leave open half of its variance once there are twice as many.

    References
    ----------
    .. [1] Recursive least squares: the covariance after one more observation (Sherman-Morrison).
    """
    deciding = deciding_flows(record, rights, curves, outages)
    sds: dict[str, float] = {}
    if tornado is not None:
        told = tornado["sd_kwh"].drop("weather", errors="ignore").dropna()
        sds = {str(source): sd for source, sd in zip(told.index, told.to_numpy(dtype=float))}
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
        replace(
            each,
            before_kwh=before,
            after_kwh=float(np.sqrt(others + own**2 * left)),
            after_all_kwh=float(np.sqrt(others + own**2 * left_of_all)),
        )
        for _, left, left_of_all, each in gaugings
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
) -> list[tuple[float, float, float, Measurement]]:
    """For each range of flow: standard deviation from the rating, share of its variance left by one
    gauging and by all, measurement."""
    from ..stream.one_more_gauging import scatter_of_one_more
    from ..stream.rating import rating_stage

    stage = rating_stage.si(deciding.flow_m3s, rating)
    gradient = deciding.weight_kwh @ rating.slopes(stage)
    variance = float(gradient @ rating.covariance @ gradient)
    scatter = scatter_of_one_more(rating)
    found = []
    for inside in _bands(deciding, bands):
        level = float(np.median(stage[inside]))
        slopes = rating.slopes(level)
        own, tied = (
            float(slopes @ rating.covariance @ slopes),
            float(gradient @ rating.covariance @ slopes),
        )
        count = int(np.clip(np.ceil(4 * scatter**2 / max(own, 1e-12)), 1, _MOST_GAUGINGS))
        one, every = (
            1.0 if variance <= 0 else 1 - made * tied**2 / (scatter**2 + made * own) / variance
            for made in (1, count)
        )
        found.append(
            (
                np.sqrt(max(variance, 0.0)),
                max(one, 0.0),
                max(every, 0.0),
                _gauging("rating", deciding, inside, count, level, bool(_beyond(rating, level))),
            )
        )
    return found


def _beyond(rating: Any, stage_m: float) -> bool:
    """Whether a stage lies outside what gaugings reach: above 1.5 times the highest flow, or below
    the lowest."""
    return rating.extrapolated(stage_m) or stage_m < rating.lowest_stage_m


def _anywhere(
    deciding: Deciding, record_sd: float
) -> list[tuple[float, float, float, Measurement]]:
    """The same where one factor stands for all that is unknown of the record."""
    low, high = deciding.range_m3s()
    inside = (deciding.flow_m3s >= low) & (deciding.flow_m3s <= high)
    count = (
        int(np.clip(np.ceil(4 * (_WITHOUT_RATING / record_sd) ** 2), 1, _MOST_GAUGINGS))
        if record_sd > 0
        else 1
    )
    one, every = (1 / (1 + made * (record_sd / _WITHOUT_RATING) ** 2) for made in (1, count))
    return [
        (
            abs(deciding.total_kwh) * record_sd,
            one,
            every,
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
