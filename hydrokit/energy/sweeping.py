"""What a sweep of sizes makes of the record: hours on one grid of flows, by month and by what is
wanted meanwhile."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..stream.days import days_of
from .weights import MONTHS, counted_months, steps_of, weigh
from .year_power import demand_of_steps

if TYPE_CHECKING:
    from ..units import Number
    from .sizing import Layout

__all__ = [
    "FIRM",
    "HAIR",
    "energy_of",
    "exceeded",
    "grid_of",
    "hours_by_demand",
    "hours_of",
    "typical_days",
]

_NODES = 120  # of even flows, and as many again where the record has its days
_TYPICAL_DAYS = 480
DEMAND_CLASSES = 12  # of days in each month, where the demand changes from day to day
FIRM = 0.95
HAIR = 1e-9  # share by which two flows are still one and the same


def grid_of(
    usable: pd.Series, layout: Layout, flows: np.ndarray, months: Sequence[Any]
) -> np.ndarray:
    """Flows on which all designs are worked out."""
    passage = months[
        0
    ].passage  # what is left of the water offered; the rest seeps away before the jets
    top = float(passage.needs_si(flows[-1]))
    # where machines stop, both sides of the step stand on the grid
    stops = getattr(layout.part_load, "minimum_ratio", 0.0) * flows
    capacities = np.ravel([month.capacity_m3s for month in months])
    knots = passage.needs_si(
        np.concatenate([[0.0], flows, stops, np.nextafter(stops, 0), capacities])
    )
    known = usable.to_numpy(dtype=float)
    known = known[
        (known > 0) & (known < top * (1 - HAIR))
    ]  # so that a licence told in another unit leaves the same days
    often = np.quantile(known, np.linspace(0, 1, _NODES)) if len(known) else known
    nodes = np.concatenate([np.linspace(0, top, _NODES), often, knots])
    nodes = np.unique(np.minimum(nodes[(nodes >= 0) & (nodes <= top * (1 + HAIR))], top))
    return nodes


def hours_of(usable: pd.Series, grid: np.ndarray, start_month: int) -> np.ndarray:
    """Hours of a mean year that each node stands for by month, 12 × nodes."""
    visits = weigh(steps_of(usable, start_month), grid)
    counted = counted_months(visits.complete)
    if not counted.any(axis=0).all():
        missing = ", ".join(str(month) for month in MONTHS[~counted.any(axis=0)])
        raise HydrokitError(
            f"sweep(): the record has no complete month {missing}, so there is no mean year to size for"
        )
    return (visits.nodes_h * counted[:, :, None]).sum(axis=0) / counted.sum(axis=0)[:, None]


def typical_days(usable: pd.Series, groups: Sequence[tuple[int, ...]]) -> list[np.ndarray]:
    """Days that stand for the record, in each group of months as many as its share of the days."""
    flow, month = usable.to_numpy(dtype=float), np.asarray(days_of(usable).month)
    flow, month = flow[np.isfinite(flow)], month[np.isfinite(flow)]
    days = []
    for months in groups:
        inside = flow[np.isin(month, months)]
        count = max(1, round(_TYPICAL_DAYS * len(inside) / len(flow)))
        days.append(np.quantile(inside, (np.arange(count) + 0.5) / count))
    return days


def hours_by_demand(
    usable: pd.Series, grid: np.ndarray, start_month: int, demand_w: Number | pd.Series
) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    """Hours of a mean year at each node by what is wanted meanwhile: pairs of the demand in W by
    month, and 12 × nodes.

    A demand that changes from day to day falls into a few classes in each month, so that power and
    demand are held against each other on the same days.
    """
    if not isinstance(demand_w, pd.Series):
        return (
            (
                np.broadcast_to(np.asarray(demand_w, dtype=float), 12),
                hours_of(usable, grid, start_month),
            ),
        )
    steps = steps_of(usable, start_month)
    counted, wanted = counted_months(steps.complete), demand_of_steps(demand_w, usable)
    inside = counted[steps.year, steps.month - 1] & np.isfinite(steps.flow)
    classes = np.full(len(wanted), -1)
    for month in MONTHS:
        here = np.flatnonzero(inside & (steps.month == month))
        classes[here[np.argsort(wanted[here], kind="stable")]] = (
            np.arange(len(here)) * DEMAND_CLASSES // max(len(here), 1)
        )
    found = []
    for each in range(DEMAND_CLASSES):
        mask = classes == each
        size = np.bincount(steps.month[mask] - 1, minlength=12)
        level = np.bincount(steps.month[mask] - 1, wanted[mask], 12) / np.maximum(size, 1)
        visits = weigh(steps, grid, flow=np.where(mask, steps.flow, np.nan))
        found.append((level, visits.nodes_h.sum(axis=0) / counted.sum(axis=0)[:, None]))
    return tuple(found)


def energy_of(
    powers: Sequence[np.ndarray],
    groups: Sequence[tuple[int, ...]],
    hours: np.ndarray,
    wanted: Any,
) -> tuple[np.ndarray, np.ndarray]:
    """Energy in kWh by month, all of it and what the demand takes; months along the last axis,
    design flows along the first.

    `wanted`: pairs of a demand by month and of hours in the shape of `hours`, see
    :func:`hours_by_demand`; None: all is of use.
    """
    kwh = np.empty((*powers[0].shape[:-1], 12))
    useful = kwh if wanted is None else np.empty_like(kwh)
    for power, months in zip(powers, groups):
        kwh[..., np.array(months) - 1] = (
            power @ hours[:, np.array(months) - 1].swapaxes(1, 2) / 1000
        )
        for month in months if wanted is not None else ():
            useful[..., month - 1] = (
                sum(
                    (np.minimum(power, level[month - 1]) @ part[:, month - 1, :, None])[..., 0]
                    for level, part in wanted
                )
                / 1000
            )
    return kwh, useful


def exceeded(
    powers: Sequence[np.ndarray], typical: Sequence[tuple[np.ndarray, np.ndarray]]
) -> np.ndarray:
    """Power reached on :data:`FIRM` of the days, as the water alone would have it."""
    on_days = []
    for power, (node, along) in zip(powers, typical):
        node, along = node[:, None], along[:, None]  # the same for every pipe
        before, after = (
            np.take_along_axis(power, each, axis=-1)
            for each in (node, np.minimum(node + 1, power.shape[-1] - 1))
        )
        on_days.append(before * (1 - along) + after * along)
    return np.quantile(np.concatenate(on_days, axis=-1), 1 - FIRM, axis=-1, method="hazen")
