"""How a plant is handled: visits, jet changes, frost and thaw, pond."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np
import pandas as pd

from ..errors import HydrokitError

__all__ = ["Habits", "as_visited", "freezes", "thaws"]

_MOST_PHASES = 30  # of the days on which visits may fall


@dataclass(frozen=True, eq=False)
class Habits:
    """What ties one day to the next.

    Parameters
    ----------
    least_gain : float
        Jets are changed only for at least this share more power. 0: for any gain.
    visit_days : int
        Somebody comes every so many days, whether or not anything was changed the last time; jets
        are changed on those days only.
    ramp_m3s_per_day : float
        Most that the take from the creek may rise from one day to the next; after a stop it begins at
        0. It falls as the creek does: no rule holds back a fall for want of water.
    freezes_below_degc : float
        Daily mean air temperature at and below which a plant that stands still, or whose jets are
        under-fed, freezes; minus infinity: it never does.
    thaws_above_degc : float
        Daily mean above which a frozen plant runs again, the same day.
    thaw_days : int
        So many days together, that day and those before it, must be above it on average too: what is
        frozen thaws slowly, and nobody knows the days to come.
    under_fed_freezes : bool
        Whether under-fed jets are enough (the pipe gulps air), or only a stop.
    pond_m3 : float
        Water that the pond before the penstock keeps from one day to the next. It is used as soon as
        the jets can take it; it is full on the first day.
    """

    least_gain: float = 0.0
    visit_days: int = 1
    ramp_m3s_per_day: float = np.inf
    _: KW_ONLY
    freezes_below_degc: float = -np.inf
    thaws_above_degc: float = 2.0
    thaw_days: int = 1
    under_fed_freezes: bool = False
    pond_m3: float = 0.0

    def __post_init__(self) -> None:
        if (
            self.least_gain < 0
            or self.visit_days < 1
            or self.thaw_days < 1
            or not self.ramp_m3s_per_day > 0
            or self.pond_m3 < 0
        ):
            raise HydrokitError(
                "Habits: least_gain and pond_m3 must be 0 or more, thaw_days and visit_days 1 "
                "or more, ramp_m3s_per_day above 0"
            )
        if self.thaws_above_degc < self.freezes_below_degc:
            raise HydrokitError(
                "Habits: it must thaw at a temperature no lower than that at which it freezes"
            )

    @property
    def change_at_once(self) -> bool:
        """Whether the jets follow each day's water, whatever was open before."""
        return self.least_gain == 0 and self.visit_days == 1

    @property
    def freezes(self) -> bool:
        """Whether frost is counted at all."""
        return self.freezes_below_degc > -np.inf

    @property
    def without_frost(self) -> Habits:
        """The same plant where it never freezes."""
        return replace(self, freezes_below_degc=-np.inf)

    @property
    def only_frost(self) -> Habits:
        """Its frost, and nothing else of what ties one day to the next."""
        return Habits(
            freezes_below_degc=self.freezes_below_degc,
            thaws_above_degc=self.thaws_above_degc,
            thaw_days=self.thaw_days,
        )

    @property
    def phases(self) -> np.ndarray:
        """Days of the record on which the first visit may fall, each alike: the year is a mean over them."""
        return np.unique(
            np.linspace(
                0, self.visit_days, min(self.visit_days, _MOST_PHASES), endpoint=False
            ).astype(int)
        )

    @property
    def ties_water(self) -> bool:
        """Whether the water that comes to the jets hangs on the days before: then days must be
        walked one by one."""
        return self.pond_m3 > 0 or bool(np.isfinite(self.ramp_m3s_per_day))


def freezes(degc: np.ndarray, below_degc: float) -> np.ndarray:
    """Days on which what stands still freezes: a daily mean at or below that temperature."""
    return degc <= below_degc


def thaws(degc: np.ndarray, days: int, above_degc: float) -> np.ndarray:
    """Days that thaw what is frozen: above a daily mean that day, and over the days before it too;
    nobody knows the days to come."""
    lately = pd.Series(degc).rolling(days, min_periods=1).mean().to_numpy()
    return np.minimum(lately, degc) > above_degc


def as_visited(
    jets: np.ndarray,
    power: np.ndarray,
    row: np.ndarray,
    counts: np.ndarray,
    habits: Habits,
    first: np.ndarray,
) -> np.ndarray:
    """Which number of jets is open on each day of a month, where only visits change it: draws × days.

    Parameters
    ----------
    jets : ndarray
        Open the day before, one entry a draw.
    power : ndarray
        Numbers of jets × records × days.
    row : ndarray of int
        Record of each draw.
    first : ndarray of int
        Day of the month's first visit, one a draw.
    """
    draws, length = len(jets), power.shape[-1]
    each = np.arange(draws)
    now = np.minimum(np.searchsorted(counts, jets), len(counts) - 1)
    # a rule of a new month that forbids what is open is followed at once
    now = np.where(counts[now] == jets, now, np.argmax(power[:, row, 0], axis=0))
    place, seen = np.zeros((draws, length), dtype=int), np.zeros((draws, length), dtype=int)
    place[:, 0] = now
    for turn in range(-(-length // habits.visit_days)):
        day = first + turn * habits.visit_days
        comes = day < length
        day = np.minimum(day, length - 1)
        found = power[:, row, day]
        best = np.argmax(found, axis=0)
        now = np.where(
            comes & (found[best, each] > found[now, each] * (1 + habits.least_gain)), best, now
        )
        place[each[comes], day[comes]], seen[each[comes], day[comes]] = now[comes], day[comes]
    return np.take_along_axis(place, np.maximum.accumulate(seen, axis=1), axis=1)
