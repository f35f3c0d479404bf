"""What a log teaches about upkeep: how the screen clogs, how often cleaning is worth the walk, what
drifts."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result

if TYPE_CHECKING:
    from ...running.baseline import Baseline
    from ...running.clogging import Clogging, Spared
    from ...running.drift import Drift
    from ...running.history import Event, History
    from ...running.visits import Interval
    from ...site.schema_costs import Costs
    from ..study import Study

__all__ = ["CleaningCost", "Upkeep", "cleaning_cost", "upkeep"]

DAY_S = 86400.0
NEARLY_BEST = 1.2  # of the least cost: as good as the best for somebody with other work to do
_WALKS_J = tuple(kwh * 3.6e6 for kwh in (2, 5, 10))  # a walk's worth, where no price is given


@dataclass(frozen=True, eq=False)
class Upkeep(Result):
    """What the log teaches about upkeep.

    Parameters
    ----------
    clogging : Clogging
    gauge : tuple of Event
        Spells in which the gauge differs from the rest of the log, and its changes.
    agrees : tuple of str
        Of each: whether the commissioning agrees with the ``"spell"``, with the ``"rest"``, or tells
        nothing (empty).
    drifts : tuple of Drift
        Slow changes, in order of time.
    jets : int
        Usually open while the screen clogs.
    healthy_w : float
        Then.
    fall : float
        Share of those jets' flow lost each day, once the water no longer fills them.
    grace_s : float
        Until then, from a cleaning.
    best : Interval or None
        Between cleanings; None without a price and a cost of the walk, or without clogging.
    usual_s : float
        Between the cleanings of the log, in the clogging season.
    spared : Spared
        By a screen that cleans itself.
    speed_held : float
        Share of the runner's speed that is held while its jets slow down.
    """

    clogging: Clogging
    gauge: tuple[Event, ...]
    agrees: tuple[str, ...]
    _: KW_ONLY
    drifts: tuple[Drift, ...]
    jets: int
    healthy_w: float
    fall: float
    grace_s: float
    best: Interval | None
    usual_s: float
    spared: Spared
    speed_held: float

    def lost_w(self, time_s: np.ndarray) -> np.ndarray:
        """Power lost so long after a cleaning, in the clogging season."""
        from ...running.visits import clogged_loss

        spare = 1 + self.fall * self.grace_s / DAY_S
        return clogged_loss.si(
            time_s, self.healthy_w, self.fall / spare / DAY_S, spare, self.speed_held
        )

    @property
    def drift(self) -> Drift | None:
        """The slow change that goes on; None where none does."""
        return next((each for each in self.drifts if not each.repaired), None)

    @property
    def rate(self) -> float:
        """Share of the clean screen's flow lost each day in the clogging season."""
        return self.clogging.rate_in(self.clogging.season)

    @property
    def clogging_j(self) -> float:
        """Energy that clogging costs in a mean year."""
        return float(self.clogging.energy_by_month_j.sum())

    @property
    def cleanings(self) -> float:
        """Cleanings of a mean year."""
        return float(self.clogging.cleans_by_month.sum())

    @property
    def known(self) -> bool:
        """Whether a spell of clogging tells how fast power is lost."""
        return bool(self.clogging.spells) and bool(np.isfinite(self.rate * self.healthy_w))

    @property
    def by_worth_s(self) -> tuple[tuple[float, float], ...]:
        """A walk's worth in J and the best time between cleanings then, if the screen passes just
        what the jets take."""
        from ...running.visits import visit_interval

        growth = 3 * self.fall * self.healthy_w / DAY_S
        return tuple((joules, float(visit_interval.si(joules, 1.0, growth))) for joules in _WALKS_J)


@dataclass(frozen=True, eq=False)
class CleaningCost(Result):
    """What a day costs, against the time between cleanings in the clogging season.

    Parameters
    ----------
    interval_s : ndarray
        Between cleanings.
    walk, energy : ndarray
        Money a day for walks, and for energy lost.
    near_s : (float, float)
        Within these it costs at most a fifth more than the least.
    """

    interval_s: np.ndarray
    walk: np.ndarray
    energy: np.ndarray
    _: KW_ONLY
    near_s: tuple[float, float]


def cleaning_cost(study: Study) -> CleaningCost | None:
    """What walks and lost energy cost a day; None where no best time between cleanings is known."""
    found, costs = study.upkeep, study.site.costs
    if found is None or found.best is None:
        return None
    days = np.linspace(0.25, max(2.5 * found.best.interval_s / DAY_S, 6.0), 400)
    fine = np.linspace(0.0, days[-1] * DAY_S, 4001)
    watts = found.lost_w(fine)
    lost_j = np.concatenate([[0.0], np.cumsum(np.diff(fine) * (watts[1:] + watts[:-1]) / 2)])
    walk = costs.visit / days
    energy = costs.value * np.interp(days * DAY_S, fine, lost_j) / days
    near = days[walk + energy <= NEARLY_BEST * (walk + energy).min()]
    return CleaningCost(
        days * DAY_S, walk, energy, near_s=(float(near[0] * DAY_S), float(near[-1] * DAY_S))
    )


def upkeep(study: Study) -> Upkeep | None:
    """Clogging, the interval worth the walk, drifts; or None without a log."""
    if study.history is None:
        return None
    from ...running.clogging import clogging, self_cleaning

    happened, fitted = study.history, study.baseline
    flow = (
        None if fitted is None else {int(n): float(q) for n, q in zip(fitted.jets, fitted.flow_m3s)}
    )
    intake = study.site.intake.capacity
    clogs = clogging(happened, flow, None if intake is None else intake.value)
    inside = np.isin(_months_of(happened.log.time), clogs.season) & (happened.log.jets > 0)
    jets = int(np.median(happened.log.jets[inside])) if inside.any() else 0
    watts = happened.reference.levels.get(jets, (np.nan, np.nan, 0))[1]
    fall = clogs.rate_in(clogs.season) * clogs.spare_by_jets.get(jets, 1.0)
    found = Upkeep(
        clogs,
        happened.gauge,
        tuple(_agrees(happened, fitted, event) for event in happened.gauge),
        drifts=happened.drifts,
        jets=jets,
        healthy_w=watts,
        fall=fall,
        grace_s=clogs.grace_s(happened),
        best=None,
        usual_s=_usual_interval(happened, clogs),
        spared=self_cleaning(happened),
        speed_held=happened.reference.speed.held,
    )
    return replace(found, best=_best_interval(study.site.costs, found))


def _agrees(happened: History, fitted: Baseline | None, event: Event) -> str:
    """With which pressures of the log the commissioning agrees: those of the spell, or the rest."""
    if fitted is None or event.kind != "gauge off":
        return ""
    known = dict(zip(fitted.jets.tolist(), fitted.pressure_pa.tolist()))
    log = happened.log
    apart = log.pressure_pa - np.array([known.get(int(n), np.nan) for n in log.jets])
    used = happened.reference.healthy & np.isfinite(apart)
    inside = (log.time >= event.start) & (log.time <= event.end)
    if not (used & inside).any() or not (used & ~inside).any():
        return ""
    spell, rest = (abs(float(np.median(apart[used & here]))) for here in (inside, ~inside))
    near, far = sorted((spell, rest))
    if near > abs(event.size) / 3 or far < abs(event.size) / 2:
        return ""
    return "spell" if spell < rest else "rest"


def _months_of(times: np.ndarray) -> np.ndarray:
    return times.astype("datetime64[M]").astype(int) % 12 + 1


def _best_interval(costs: Costs, found: Upkeep) -> Interval | None:
    from ...running.visits import best_interval

    if (
        costs.value is None
        or not costs.given("visit")
        or not np.isfinite(found.fall * found.healthy_w)
    ):
        return None
    return best_interval(found.lost_w, costs.visit, costs.value)


def _usual_interval(happened: History, clogs: Clogging) -> float:
    """Median time between cleanings that follow each other in the clogging season."""
    times = np.array([event.start for event in happened.of("clean")], dtype="datetime64[s]")
    if len(times) < 2:
        return np.nan
    gaps = np.diff(times).astype(float)
    within = np.isin(_months_of(times[1:]), clogs.season) & (gaps < 60 * DAY_S)
    return float(np.median(gaps[within])) if within.any() else np.nan
