"""Which source brings how much of the uncertainty of the energy, and what to measure next."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ..sentences import Amount, Sentence
from ..stream.spread_of_years import SpreadOfYears
from .advice import against_uncertainty
from .lattice import Lattice
from .operating import Kept
from .outlook import FEW_YEARS, years_sd
from .uncertain_inputs import PLANT, SOURCES, Metered
from .year import Outages, Year

__all__ = ["DRAWS_FOR_SPREAD", "advice", "by_source"]


DRAWS_FOR_SPREAD = 4000  # a standard deviation to about one per cent

_ADVICE = {
    "rating": "gauge the creek at the flows that decide the energy, and refit the rating",
    "extension": "keep this creek's own gauge running: every year of its own record replaces a borrowed one",
    "intake": (
        "measure once more what the intake passes, clean: catch it below, or time how fast the "
        "forebay fills"
    ),
    "years": (
        "keep the creek's gauge running, or find a neighbour's long record: only more years "
        "narrow what so few leave open"
    ),
}


def by_source(
    lattice: Lattice,
    scores: np.ndarray,
    unplanned: np.ndarray,
    outages: Outages,
    base: Year,
    metered: Metered | None,
    others: dict[str, float],
    kept: Kept | None,
    spells: SpreadOfYears,
) -> pd.DataFrame:
    """One source at a time, the others as they stand; what a meter ties together is one source."""
    scores = scores[:DRAWS_FOR_SPREAD]
    groups = {name: [name] for name in SOURCES}
    if metered is not None:
        groups = {"rating": ["rating"], "extension": ["extension"], "plant": list(PLANT)}
    mean_year, spread = lattice.mean_year(outages.running, kept), {}
    for name, members in groups.items():
        alone = np.zeros_like(scores)
        for member in members:
            alone[:, SOURCES.index(member)] = scores[:, SOURCES.index(member)]
        spread[name] = float(np.std(lattice.read(mean_year, alone)))
    running = max(1 - outages.unplanned, 1e-12)
    spread["outage"] = float(np.std((1 - unplanned) / running)) * float(base.annual_kwh)
    spread |= others
    few = len(base.rows) < FEW_YEARS
    spread["weather"] = years_sd(base.yearly_kwh.loc[list(base.rows)].to_numpy())
    if not few:
        spread["weather"] /= np.sqrt(spells.shortfall)
    spread["years"] = spread["weather"] / np.sqrt(spells.worth) * (1.0 if few else _width(spells))
    table = pd.DataFrame({"sd_kwh": spread}).sort_values("sd_kwh", ascending=False)
    table["share_single_year"] = table["sd_kwh"] ** 2 / max(np.sum(table["sd_kwh"] ** 2), 1e-300)
    known = table["sd_kwh"].where(table.index != "weather", 0.0) ** 2
    table["share_without_weather"] = known / max(known.sum(), 1e-300)
    table.index.name = "source"
    return table


def _width(spells: SpreadOfYears) -> float:
    """Half the interval that holds a mean with 68 %, in standard errors: beyond 1 where the years
    are few (Student's t)."""
    return float(stdtrit(spells.freedom, 0.8413447460685429))


def advice(tornado: pd.DataFrame, planned: bool) -> tuple[Sentence, ...]:
    """What to measure next, the source of the largest share first."""
    advice = _ADVICE | against_uncertainty(planned)
    shares = tornado["share_without_weather"].drop("weather")
    return tuple(
        Sentence(
            "{what} ({share} of what measuring can narrow)",
            what=advice[str(name)],
            share=Amount(share, "share", 2),
        )
        for name, share in shares.items()
        if share >= 0.02
    )
