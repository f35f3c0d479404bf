"""What the way a plant is run takes from each size: jets changed on visits only, frost, what a
forebay saves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import sure
from . import days

if TYPE_CHECKING:
    from ...energy.cases import Case
    from ...energy.designs import Sizing
    from ...energy.net import NetYear
    from ...energy.operating import Operating
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["left", "left_by_jets", "with_losses"]


def left(year: NetYear) -> tuple[np.ndarray, np.ndarray]:
    """Shares of each month's energy, and of what the demand takes of it, that the way the plant is
    run leaves; above one where a forebay brings more."""
    made, met = (
        1 - np.nan_to_num(np.asarray(each, dtype=float))
        for each in (year.lost_share, year.met_lost_share)
    )
    return made, met


def left_by_jets(
    study: Study, plant: Chain, year: NetYear
) -> Callable[[Any], tuple[np.ndarray, np.ndarray]]:
    """The same for a case with its changes made: jets that are set on visits only cost a plant of
    other jets something else.

    Worked out once for each set of jets; a change that leaves the jets as they are leaves the shares too.
    """
    way, today = days.operating(study), left(year)
    known: dict[Any, tuple[np.ndarray, np.ndarray]] = {_jets(plant): today}

    def of(case: Case) -> tuple[np.ndarray, np.ndarray]:
        jets = _jets(case.chain)
        if jets not in known:
            known[jets] = today
            if way.loses:
                # the walk is sketched: what it says of the change is put on what the year says of today
                before, after = (
                    np.maximum(_left(study, way, each), 1e-9)
                    for each in (plant, plant.replace(jets=case.chain.jets))
                )
                known[jets] = tuple(np.asarray(today) * after / before)
        return known[jets]

    return of


def _jets(chain: Chain) -> tuple[float, ...] | None:
    """What tells one set of jets from another."""
    return getattr(chain.jets, "diameters_m", None)


def with_losses(study: Study, sizing: Sizing) -> Sizing:
    """The sweep with the operating losses of each number of jets taken off; as it is where the site
    file speaks of none."""
    way = days.operating(study, sizing.choice.flow_m3s)
    if not way.loses:
        return sizing
    best = [sizing.chosen_among(jets=jets) for jets in sizing.jets]
    shares = np.stack(
        [
            np.ones((2, 12)) if design is None else _left(study, way, sizing.chain(design))
            for design in best
        ]
    )
    made, met = (shares[:, which, None, None, :] for which in (0, 1))
    varied, varied_made = (
        None if each is None else each * _kept(monthly, share)
        for each, monthly, share in (
            (sizing.varied_kwh, sizing.useful_monthly_kwh, met),
            (sizing.varied_made_kwh, sizing.monthly_kwh, made),
        )
    )
    return replace(
        sizing,
        monthly_kwh=sizing.monthly_kwh * made,
        useful_monthly_kwh=sizing.useful_monthly_kwh * met,
        varied_kwh=varied,
        varied_made_kwh=varied_made,
    )


def _kept(monthly_kwh: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Share of a year's energy that is left, from the shares of its months."""
    whole = monthly_kwh.sum(axis=-1)
    return np.divide(
        (monthly_kwh * share).sum(axis=-1), whole, out=np.ones_like(whole), where=whole > 0
    )


def _left(study: Study, way: Operating, chain: Chain) -> np.ndarray:
    """Shares of each month's energy that are left, of all of it and of what the demand takes."""
    from ...energy.operating import lost_share

    usable = sure(study.usable)
    whole = lost_share(way, usable, chain)
    met = (
        whole if study.demand_w is None else lost_share(way, usable, chain, demand_w=study.demand_w)
    )
    return 1 - np.nan_to_num(np.stack([whole, met]))
