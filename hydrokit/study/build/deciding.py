"""The range of flows that decides the energy of a year."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...errors import HydrokitError, sure
from .record import flowing_days

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["DECIDING", "deciding_range"]

DECIDING = (
    0.25,
    0.90,
)  # shares of the days between whose flows most of a year's energy is made, common practice


def deciding_range(study: Study) -> tuple[float, float] | None:
    """Flows between which 80 % of the energy lies that hangs on the flow, where plant and record
    are known; else those exceeded on 90 and on 25 % of the days with any flow."""
    from ...energy.worth import deciding_flows
    from . import year as build_year

    curve = flowing_days(study)
    if curve is None:
        return None
    if study.year is not None and study.plant is not None:
        try:
            return deciding_flows(
                sure(study.record),
                study.rights,
                study.plant.curves(),
                build_year.outages(study.site),
            ).range_m3s()
        except HydrokitError:
            pass  # a plant that always runs full, or never, hangs on no flow
    often, seldom = (float(curve.flow_at_si(share)) for share in DECIDING)
    return seldom, often
