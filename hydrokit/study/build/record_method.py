"""How the daily record was made, and whether its water is what the catchment can give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ...errors import Finding
from ...result import Result
from ...sentences import Amount, Sentence
from .flow_regime import yearly_flows

if TYPE_CHECKING:
    from ...stream.trend import Trend
    from ..study import Study

__all__ = ["RecordMethod", "record_method", "water_findings"]

_YEAR_S = 365.25 * 86400
_TREND_YEARS, _TREND_CHANCE = 10, 0.05


@dataclass(frozen=True, eq=False, kw_only=True)
class RecordMethod(Result):
    """How the record was made.

    Parameters
    ----------
    kind : str
        Its provenance, as the site file has it.
    by : str or None
        Who measured, or made it.
    sd : float
        Standard deviation of all its flows together, as a share.
    first, last : str
        Days.
    own_days, estimated_days, whole_years, gaugings : int
    start_month : int
        Of the years that are counted.
    runoff_m : float or None
        Depth of a mean year's water over the catchment.
    coefficient : float or None
        Of that, over a year's rain and snow.
    trend : Trend or None
        Of the means of whole years, ten or more.
    """

    kind: str
    by: str | None
    sd: float
    first: str
    last: str
    own_days: int
    estimated_days: int
    whole_years: int
    gaugings: int
    start_month: int
    runoff_m: float | None
    coefficient: float | None
    trend: Trend | None

    @property
    def told(self) -> str:
        """Its provenance, behind "the record is"."""
        told = "read from a national grid" if self.kind == "national grid" else self.kind
        return f"{told} and lengthened" if self.estimated_days else told


def record_method(study: Study) -> RecordMethod | None:
    """How the record was made, or None without one."""
    from ...stream.record import WATER_YEAR, whole_years
    from ...stream.trend import mann_kendall

    record, yearly = study.record, yearly_flows(study)
    if record is None or yearly is None:
        return None
    known = record.dropna()
    area, rain = study.site.site.catchment, study.site.site.rainfall
    runoff = None if area is None else float(record.mean()) * _YEAR_S / area
    means = list(yearly.mean_m3s.values()) if yearly.whole else []
    estimated = 0 if study.extension is None else int(study.extension.estimated.sum())
    return RecordMethod(
        kind=study.site.stream.provenance,
        by=study.site.stream.measured_by,
        sd=study.record_uncertainty,
        first=f"{known.index[0]:%Y-%m-%d}",
        last=f"{known.index[-1]:%Y-%m-%d}",
        own_days=len(known) - estimated,
        estimated_days=estimated,
        whole_years=len(whole_years(record)),
        gaugings=0 if study.gaugings is None else len(study.gaugings),
        start_month=WATER_YEAR,
        runoff_m=runoff,
        coefficient=None if runoff is None or rain is None else runoff / rain,
        trend=mann_kendall(means) if len(means) >= _TREND_YEARS else None,
    )


def water_findings(study: Study) -> tuple[Finding, ...]:
    """That the record was not measured here, gives more water than falls, or rises or falls through
    the years."""
    found = study.record_method
    if found is None:
        return ()
    told = []

    def tell(level: str, template: str, **amounts: Amount | str) -> None:
        told.append(Finding(level, "record", Sentence(template, **amounts)))

    if found.kind != "measured":
        tell(
            "caution",
            (
                "the record is {kind}, not measured here: ± {sd} (one standard deviation); a "
                "gauge of the creek's own replaces it"
            ),
            kind=found.told,
            sd=Amount(found.sd, "share", 2),
        )
    if found.coefficient is not None and found.coefficient > 1 and found.runoff_m is not None:
        tell(
            "problem",
            (
                "the record gives {runoff} of water a year, {share} of what falls on the "
                "catchment: the area is too small, spring water comes from outside, or the rain "
                "is underestimated"
            ),
            runoff=Amount(found.runoff_m, "small length"),
            share=Amount(found.coefficient, "share", 3),
        )
    trend = found.trend
    if trend is not None and trend.p_value < _TREND_CHANCE:
        tell(
            "caution",
            (
                "the yearly means {way}: years without a trend do so with a chance of {p} (Mann "
                "and Kendall); look for a step, such as a gauge moved, before you believe in a "
                "climate"
            ),
            way="rise" if trend.score > 0 else "fall",
            p=Amount(trend.p_value, "share", 2),
        )
    return tuple(told)
