"""The year of the plant: outages, the flow it takes, the energy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...errors import HydrokitError, sure
from ...stream.months import DAYS_OF_MONTHS

if TYPE_CHECKING:
    import pandas as pd

    from ...energy.year import Outages, Year
    from ...site.schema import Site
    from ...units import Number
    from ..study import Study

MONTH_DAYS = np.array(DAYS_OF_MONTHS)


def most_licensed(study: Study) -> float:
    """Greatest flow in m³/s that may be taken in any month; infinite without a licence."""
    return float(np.max(study.rights.licence_m3s))


# --- the year -------------------------------------------------------------------------------


def outages(site: Site) -> Outages:
    """Planned and unplanned stops as shares of the time."""
    from ...energy.year import Outages

    section = site.outage
    share = section.planned_days / planned_days_fit(site)
    planned = np.where(np.isin(np.arange(1, 13), section.planned_months), min(share, 1.0), 0.0)
    return Outages(planned, section.unplanned)


def planned_days_fit(site: Site) -> float:
    """Days of the months in which the plant is stopped as planned, in a mean year."""
    return float(MONTH_DAYS[np.array(site.outage.planned_months) - 1].sum())


def taken(study: Study) -> pd.Series | None:
    """Daily flow that may be taken where a plant stands, or None: under a yearly volume, what it
    cannot take uses none of it up."""
    most = most_taken(study)
    return (
        study.usable
        if study.usable is None or np.all(np.isinf(most))
        else study.rights.usable_series(sure(study.record), most)
    )


def most_taken(study: Study) -> Number:
    """Most that the plant takes at the intake by month, in m³/s, where what may be taken hangs on
    it; else infinite."""
    from ...plant.curve import most_taken

    if study.plant is None or not study.rights.has_memory:
        return np.inf
    return most_taken(study.plant.curves())


def year(study: Study) -> Year | None:
    """Energy by year and month, or None without a daily record or a plant.

    Raises
    ------
    HydrokitError
        A record in which some month is never whole: it has no year.
    """
    from ...energy.year import annual_energy

    if study.usable is None or study.plant is None:
        return None
    found = annual_energy(
        sure(taken(study)), study.plant.curves(), outages(study.site), study.demand_w, study.winter
    )
    if not np.isfinite(found.annual_kwh):
        raise HydrokitError(
            "the record does not hold every month of a year whole, so there is no year to add "
            "up; keep the gauge running, or extend it from a neighbour's"
        )
    return found
