"""The net year: from what the jets could make to what reaches the loads, loss by loss.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.habits import Habits
>>> from hydrokit.energy.memory import remember
>>> from hydrokit.energy.net import net_year
>>> from hydrokit.energy.year import Outages, annual_energy
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
>>> dates = pd.date_range("2020-10-01", "2021-09-30")
>>> usable = pd.Series(0.008 + 0.006 * np.cos(2 * np.pi * np.arange(365) / 365) + 0.001 * (np.arange(365) % 2), dates)
>>> stops = Outages(unplanned=0.05)
>>> year = net_year(annual_energy(usable, plant.curves(), stops), stops, remember(usable, plant, Habits(visit_days=14), outages=stops))
>>> print(", ".join(f"{step.name} {step.kwh.sum():.0f}" for step in year.steps), f"left {year.annual_kwh:.0f}")
unplanned 972, jets 468 left 18000
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field

import numpy as np
import pandas as pd

from ..plant.curve import FULL, PART, STOPPED, UNDER_FED
from .memory import Remembered
from .year import Outages, Year

__all__ = ["NetYear", "Step", "net_year"]


@dataclass(frozen=True, eq=False)
class Step:
    """One loss on the way from gross to net.

    Parameters
    ----------
    name : str
        ``"planned"`` and ``"unplanned"`` stops, ``"ramp"``, ``"jets"`` changed on visits only,
        ``"frost"``.
    kwh : ndarray of 12
        Lost in each month of the mean year, given the losses before it.
    """

    name: str
    kwh: np.ndarray


@dataclass(frozen=True, eq=False)
class NetYear(Year):
    """A year with all losses taken off; its days are those of the plant as it is run.

    Days stopped are all days without net power: for want of water, planned, unplanned and frozen.
    They and the other three add up to the days of the month.

    Parameters
    ----------
    gross_kwh : ndarray of 12
        Energy of the mean year by month if the jets always stood as they are best, no stop lasted
        and nothing but water was ever wanting; with what a pond keeps from one day to the next.
    steps : tuple of Step
        Loss by loss from there to the net energy: gross less all of them is net.
    days_out : ndarray of 12
        Days stopped for other reasons than water: planned, unplanned, frozen.
    pond_kwh : ndarray of 12
        What the pond brings, stops taken off; part of the gross energy.
    alone : Year or None
        Each day by itself: stops and a ramp counted, how the plant is run not.
    """

    _: KW_ONLY
    gross_kwh: np.ndarray = field(default_factory=lambda: np.full(12, np.nan))
    steps: tuple[Step, ...] = ()
    days_out: np.ndarray = field(default_factory=lambda: np.full(12, np.nan))
    pond_kwh: np.ndarray = field(default_factory=lambda: np.zeros(12))
    alone: Year | None = None

    @property
    def gross_annual_kwh(self) -> float:
        """Gross energy of the mean year."""
        return float(self.gross_kwh.sum())

    @property
    def lost_share(self) -> np.ndarray:
        """Share of the energy of each month that the way the plant is run loses; 0 where there is none."""
        return _share_lost(self.monthly_kwh, None if self.alone is None else self.alone.monthly_kwh)

    @property
    def met_lost_share(self) -> np.ndarray:
        """The same of what the demand takes; of all the energy without a demand."""
        useful = self.useful_monthly_kwh
        if useful is None or self.alone is None:
            return self.lost_share
        return _share_lost(useful, self.alone.useful_monthly_kwh)


def _share_lost(left: pd.Series, whole: pd.Series | None) -> np.ndarray:
    if whole is None:
        return np.zeros(12)
    known = whole.to_numpy(dtype=float) > 0
    return np.where(
        known,
        1 - left.to_numpy(dtype=float) / np.where(known, whole.to_numpy(dtype=float), 1.0),
        0.0,
    )


def net_year(
    year: Year, outages: Outages | None = None, remembered: Remembered | None = None
) -> NetYear:
    """The year with its operating losses taken off.

    Parameters
    ----------
    year : Year
        Of :func:`annual_energy`, each day by itself, `outages` and a ramp of the rights counted.
    outages : Outages, optional
    remembered : Remembered, optional
        The same record walked day by day; none where nothing ties its days together.

    Returns
    -------
    NetYear
    """
    outages = Outages() if outages is None else outages
    running, columns = outages.running, year.kwh.columns
    after_stops = year.monthly_kwh.to_numpy(dtype=float)
    costs = {} if remembered is None else dict(remembered.cost_kwh)
    ramp, pond = costs.get("ramp", np.zeros(12)), -costs.pop("pond", np.zeros(12))
    before_stops = (after_stops + ramp + pond) / np.where(running > 0, running, np.nan)
    before_stops = np.where(np.isnan(before_stops), 0.0, before_stops)
    planned = before_stops * outages.planned
    steps = [
        Step("planned", planned),
        Step("unplanned", (before_stops - planned) * outages.unplanned),
    ]
    whole = year.days_full + year.days_part + year.days_under_fed + year.days_stopped
    out = whole.to_numpy() * (1 - running)
    common = {name: getattr(year, name) for name in Year.__dataclass_fields__}
    if remembered is None:
        return NetYear(
            **common, gross_kwh=before_stops, steps=_told(steps), days_out=out, alone=year
        )
    steps += [Step(name, cost) for name, cost in costs.items()]
    water, kept = remembered.water, remembered.kept

    def taken_off(table: pd.DataFrame, change: np.ndarray) -> pd.DataFrame:
        return table + pd.DataFrame(change * running, table.index, columns)

    def days(known: pd.Series, state: int) -> pd.Series:
        change = pd.DataFrame(
            (kept.days[state] - water.days[state]) * running, year.kwh.index, columns
        )
        mean = (
            change.loc[list(year.rows)].mean() if year.rows else change.where(year.complete).mean()
        )
        return known + mean

    useful = (
        None
        if year.useful_kwh is None or kept.met_kwh is None
        else taken_off(year.useful_kwh, kept.met_kwh - water.met_kwh)
    )
    stopped = days(year.days_stopped, STOPPED)
    walked = common | {
        "kwh": taken_off(year.kwh, kept.kwh - water.kwh),
        "useful_kwh": useful,
        "days_full": days(year.days_full, FULL),
        "days_part": days(year.days_part, PART),
        "days_under_fed": days(year.days_under_fed, UNDER_FED),
        "days_stopped": stopped,
    }
    frozen = 0.0 if "frost" not in remembered.cost_kwh else (stopped - year.days_stopped).to_numpy()
    return NetYear(
        **walked,
        gross_kwh=before_stops,
        steps=_told(steps),
        days_out=out + frozen,
        pond_kwh=pond,
        alone=year,
    )


def _told(steps: list[Step]) -> tuple[Step, ...]:
    """Those that take or bring anything at all."""
    return tuple(step for step in steps if np.any(step.kwh != 0))
