"""What one day hands to the next: pond, frost, jets, and the flow taken."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.curve import STOPPED, UNDER_FED
from .habits import Habits, freezes, thaws

__all__ = ["Record", "State", "frost"]

DAY_S = 86400.0


@dataclass(eq=False)
class Record:
    shape: tuple[int, int]

    def __post_init__(self) -> None:
        self.power, self.used = np.empty(self.shape), np.empty(self.shape)
        self.jets, self.frozen, self.state = (
            np.empty(self.shape, dtype=np.int16),
            np.empty(self.shape, dtype=bool),
            np.empty(self.shape, dtype=np.int8),
        )

    def write(self, day: int | slice, now: State, flow: np.ndarray) -> None:
        unknown = np.isnan(flow)
        self.power[:, day] = np.where(unknown, np.nan, now.power)
        self.used[:, day] = np.where(unknown, np.nan, now.used)
        self.jets[:, day], self.frozen[:, day] = np.where(now.power > 0, now.jets, 0), now.frozen
        self.state[:, day] = np.where(unknown, -1, np.where(now.power > 0, now.state, STOPPED))


@dataclass(frozen=True, eq=False)
class State:
    """What a day hands to the next, one entry a draw."""

    jets: np.ndarray
    taken: np.ndarray  # from the creek: while the plant waits for enough water too
    used: np.ndarray
    _: KW_ONLY
    power: np.ndarray
    frozen: np.ndarray
    stored_m3: np.ndarray  # in the pond in the evening
    state: np.ndarray

    def following(
        self,
        flow: np.ndarray,
        each: tuple[np.ndarray, np.ndarray, np.ndarray],
        place: np.ndarray,
        counts: np.ndarray,
        habits: Habits,
        stopped: np.ndarray,
        cold: np.ndarray,
        thaw: np.ndarray,
    ) -> State:
        """Many days at once, of which nothing but frost asks what was before; `each` is of the jets
        that are open."""
        power, used, state = each
        nothing = (power <= 0) & ~np.isnan(flow)
        # frozen since the last day that froze it, unless one that thaws it has come after
        seizes = cold & (stopped | nothing | ((state == UNDER_FED) & habits.under_fed_freezes))
        day = np.arange(1, len(cold) + 1)
        seized = np.maximum.accumulate(np.where(seizes, day, 0), axis=-1)
        thawed = np.maximum.accumulate(np.where(thaw & ~seizes, day, 0), axis=-1)
        frozen = (seized > thawed) | (self.frozen[:, None] & (thawed == 0))
        runs = ~stopped & ~frozen & (power > 0)
        taken = np.where(stopped | frozen | np.isnan(flow), 0.0, flow)
        return State(
            counts[place],
            taken,
            np.where(runs, used, 0.0),
            power=np.where(runs, power, 0.0),
            frozen=frozen,
            stored_m3=np.zeros(stopped.shape),
            state=state,
        )

    def evening(self, day: int) -> State:
        """One of many days."""
        return State(**{name: values[:, day] for name, values in vars(self).items()})

    @classmethod
    def at_start(cls, draws: int, pond_m3: float) -> State:
        # no take before the first day limits it
        nothing = np.zeros(draws)
        return cls(
            np.zeros(draws, int),
            np.full(draws, np.inf),
            nothing,
            power=nothing,
            frozen=np.zeros(draws, bool),
            stored_m3=np.full(draws, pond_m3),
            state=np.zeros(draws, int),
        )

    def next(
        self,
        taken: np.ndarray,
        offered: np.ndarray,
        each: tuple[np.ndarray, np.ndarray, np.ndarray],
        counts: np.ndarray,
        habits: Habits,
        visited: np.ndarray,
        stopped: np.ndarray,
        cold: bool,
        thaw: bool,
    ) -> State:
        power, used, state = each
        best = np.argmax(power, axis=0)
        rows = np.arange(power.shape[1])
        place = np.minimum(np.searchsorted(counts, self.jets), len(counts) - 1)
        held = counts[place] == self.jets
        current = np.where(held, power[place, rows], 0.0)
        worth = (power[best, rows] > current * (1 + habits.least_gain)) & visited
        # a rule of a new month that forbids what is open is followed at once
        place = np.where((worth & (best != place)) | ~held, best, place)
        power, used, state = power[place, rows], used[place, rows], state[place, rows]
        still = stopped | ((power <= 0) & ~np.isnan(offered))
        frozen = (self.frozen & (not thaw)) | (
            cold & (still | ((state == UNDER_FED) & habits.under_fed_freezes))
        )
        runs = ~still & ~frozen
        used = np.where(runs, used, 0.0)
        # what a day without a measurement left is not known: the pond is taken to be as it was
        left = (
            self.stored_m3
            if habits.pond_m3 == 0
            else np.where(
                np.isnan(offered),
                self.stored_m3,
                np.minimum((offered - used) * DAY_S, habits.pond_m3),
            )
        )
        return State(
            counts[place],
            np.where(stopped | frozen | np.isnan(taken), 0.0, taken),
            used,
            power=np.where(runs, power, 0.0),
            frozen=frozen,
            stored_m3=left,
            state=state,
        )


def frost(
    habits: Habits, temperature: pd.Series | None, index: pd.DatetimeIndex
) -> tuple[np.ndarray, np.ndarray]:
    """Days that freeze a plant at rest, and days that thaw it."""
    if not habits.freezes:
        return np.zeros(len(index), dtype=bool), np.ones(len(index), dtype=bool)
    if temperature is None:
        raise HydrokitError("simulate_days(): a plant that freezes needs the daily air temperature")
    temperature = temperature.reindex(index) if isinstance(temperature, pd.Series) else temperature
    degc = np.asarray(temperature, dtype=float)
    if degc.shape != (len(index),) or np.isnan(degc).any():
        raise HydrokitError(
            "simulate_days(): the air temperature must be known on every day of the record"
        )
    return (
        freezes(degc, habits.freezes_below_degc),
        thaws(degc, habits.thaw_days, habits.thaws_above_degc),
    )
