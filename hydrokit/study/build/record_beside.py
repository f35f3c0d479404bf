"""What stands beside the record: the gaugings and staff readings of its days, and the catchment
next to the neighbour's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result

if TYPE_CHECKING:
    import pandas as pd

    from ..study import Study

__all__ = ["Beside", "Catchment", "beside", "catchments"]

_YEAR_S = 365.25 * 86400


@dataclass(frozen=True, eq=False, kw_only=True)
class Beside(Result):
    """Readings by hand beside the record of the same days.

    Parameters
    ----------
    gaugings : int
        Without ice, on days that the record has.
    off, spread : float
        Median of gauged over recorded flow, less 1; standard deviation of its logarithm. NaN where
        it takes more.
    staff : int
        Staff readings beside the logger.
    staff_off_m, staff_spread_m : float
        Median of staff less logger, and its standard deviation.
    """

    gaugings: int
    off: float
    spread: float
    staff: int
    staff_off_m: float
    staff_spread_m: float


def beside(study: Study) -> Beside | None:
    """Gaugings and staff readings beside the record; None where there is neither."""
    record, gauged = study.record, study.gaugings
    ratio = np.zeros(0)
    if record is not None and gauged is not None:
        open_water = ~gauged.ice
        days = np.asarray(gauged.date, dtype="datetime64[D]")[open_water]
        recorded = record.reindex(days.astype("datetime64[ns]")).to_numpy(dtype=float)
        both = recorded > 0
        ratio = gauged.flow_m3s[open_water][both] / recorded[both]
    staff = None if study.stage_record is None else study.stage_record.tested.staff
    difference = np.zeros(0) if staff is None else staff.difference_m
    difference = difference[np.isfinite(difference)]
    if not len(ratio) and not len(difference):
        return None
    return Beside(
        gaugings=len(ratio),
        off=float(np.median(ratio)) - 1 if len(ratio) else np.nan,
        spread=float(np.std(np.log(ratio), ddof=1)) if len(ratio) > 1 else np.nan,
        staff=len(difference),
        staff_off_m=float(np.median(difference)) if len(difference) else np.nan,
        staff_spread_m=float(np.std(difference, ddof=1)) if len(difference) > 1 else np.nan,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Catchment(Result):
    """A catchment and what it gives. NaN where not known.

    Parameters
    ----------
    whose : str
    area_m2, altitude_m, rain_m : float
        As the site file has them; altitude of the intake, or of the gauge.
    mean_m3s, runoff_m, coefficient : float
        Mean flow, its depth over the catchment in a year, and that over the rain.
    """

    whose: str
    area_m2: float
    altitude_m: float
    rain_m: float
    mean_m3s: float

    @property
    def runoff_m(self) -> float:
        """Depth of a mean year's water over the catchment."""
        return self.mean_m3s * _YEAR_S / self.area_m2

    @property
    def coefficient(self) -> float:
        """Share of the rain and snow that runs off."""
        return self.runoff_m / self.rain_m


def catchments(study: Study) -> tuple[Catchment, ...] | None:
    """This creek's catchment and, where its record or its area is given, the neighbour's, over the
    same days; None where no area is known."""
    site, stream, record = study.site.site, study.site.stream, study.record
    if record is None or (site.catchment is None and stream.neighbour_catchment is None):
        return None
    neighbour = _neighbour(study)
    mean, there = float(record.mean()), np.nan
    if neighbour is not None:
        common = record.dropna().index.intersection(neighbour.dropna().index)
        if len(common):
            mean, there = float(record[common].mean()), float(neighbour[common].mean())
    own = Catchment(
        whose="this creek",
        area_m2=_known(site.catchment),
        altitude_m=_known(site.altitude),
        rain_m=_known(site.rainfall),
        mean_m3s=mean,
    )
    if neighbour is None and stream.neighbour_catchment is None:
        return (own,)
    other = Catchment(
        whose="the neighbour's gauge",
        area_m2=_known(stream.neighbour_catchment),
        altitude_m=_known(stream.neighbour_altitude),
        rain_m=_known(stream.neighbour_rainfall),
        mean_m3s=there,
    )
    return own, other


def _neighbour(study: Study) -> pd.Series | None:
    if study.site.stream.neighbour_record is None:
        return None
    from ...stream.record import read_record

    return read_record(
        study.folder.file(study.site.stream.neighbour_record, "[stream] neighbour_record"),
        study.folder.notes,
    )


def _known(value: float | None) -> float:
    return np.nan if value is None else float(value)
