"""What each fault looks like on this plant's gauge and meters, and how well one is told from another."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from .in_hand import brims
from .machines import opened

if TYPE_CHECKING:
    from ...running.faults import Fault
    from ..study import Study

__all__ = [
    "FaultSeen",
    "FaultsSeen",
    "Hardest",
    "LeastSeen",
    "card_steps",
    "faults_seen",
    "hardest",
    "least_seen_ratio",
]


def card_steps(study: Study) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """How to open and how to close, step by step, as the card has it; None without a card."""
    from ...running.card import order_closing, order_opening

    if study.card is None:
        return None
    how = (max(row.jets for row in study.card.rows), opened(study))
    return order_opening(*how, brims(study)), order_closing(*how)


# --- what each fault looks like -------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class FaultSeen:
    """Readings by number of jets open, none first, with one fault at the size that is shown.

    Parameters
    ----------
    fault : Fault
    size : float
        SI, as its kind holds it.
    gauge_pa : ndarray
        As the gauge shows it, its zero error included, as on the card.
    power_w : ndarray
    lost_pa, lost_w : ndarray
        Less than healthy; below zero where it is more.
    spare : ndarray
        Water beyond what the jets take, as a share of the full flow; below zero where they are under-fed.
    """

    fault: Fault
    size: float
    gauge_pa: np.ndarray
    _: KW_ONLY
    power_w: np.ndarray
    lost_pa: np.ndarray
    lost_w: np.ndarray
    spare: np.ndarray

    @property
    def most_fed(self) -> int | None:
        """Most jets, fewer than all, that are fed all the same; None where not even one is."""
        fed = np.flatnonzero(self.spare[1:-1] > 0) + 1
        return int(fed[-1]) if len(fed) else None


@dataclass(frozen=True, eq=False)
class FaultsSeen(Result):
    """The plant when healthy, and with each fault.

    Parameters
    ----------
    jets : int
        All of them.
    healthy : FaultSeen
    faults : tuple of FaultSeen
        In the order of the signatures, health left out.
    watts : bool
        Whether the watts are known.
    """

    jets: int
    healthy: FaultSeen
    faults: tuple[FaultSeen, ...]
    _: KW_ONLY
    watts: bool

    def of(self, key: str) -> FaultSeen:
        """The readings with the fault of that key."""
        return next(each for each in self.faults if each.fault.key == key)


def faults_seen(study: Study) -> FaultsSeen | None:
    """Readings of this plant with each fault; None where it cannot be diagnosed."""
    from ...running.condition import Condition, forward

    if study.signatures is None or study.card is None:
        return None
    plant, zero = study.signatures.plant, study.card.zero_error_pa
    well = forward(plant, Condition())

    def seen(fault: Fault) -> FaultSeen:
        found = forward(plant, fault.shown_condition(plant))
        return FaultSeen(
            fault,
            fault.shown_si(plant),
            found.pressure_pa + zero,
            power_w=found.power_w,
            lost_pa=well.pressure_pa - found.pressure_pa,
            lost_w=well.power_w - found.power_w,
            spare=found.spare,
        )

    health, *faults = study.signatures.faults
    nothing = np.zeros(plant.jets + 1)
    healthy = FaultSeen(
        health,
        np.nan,
        well.pressure_pa + zero,
        power_w=well.power_w,
        lost_pa=nothing,
        lost_w=nothing,
        spare=well.spare,
    )
    watts = bool(np.isfinite(plant.baseline.efficiency))
    return FaultsSeen(plant.jets, healthy, tuple(seen(each) for each in faults), watts=watts)


# --- how well they are told apart -----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Hardest(Result):
    """Which fault is hardest to name.

    Parameters
    ----------
    key : str
    first : float
        Share of its draws in which it came first.
    taken_for : str
        Key of what its draws were called most often; its own where that is itself.
    right : float
        Share of all draws in which the true state came first or was declared inseparable from the first.
    """

    key: str
    first: float
    taken_for: str
    _: KW_ONLY
    right: float


def hardest(study: Study) -> Hardest | None:
    """What the rehearsal found hardest; None without one."""
    tried = study.rehearsal
    if tried is None:
        return None
    firsts = np.diag(tried.named_first)
    worst = int(firsts.argmin())
    called = int(np.argsort(-tried.named_first[worst])[0])
    return Hardest(
        tried.keys[worst], float(firsts[worst]), tried.keys[called], right=float(tried.right.mean())
    )


@dataclass(frozen=True, eq=False)
class LeastSeen(Result):
    """How many times as large a fault must be to be seen without commissioning, the median of so
    many faults."""

    ratio: float
    faults: int


def least_seen_ratio(study: Study) -> LeastSeen | None:
    """What commissioning gains; None where no fault is seen both with and without it.

    Faults that the forebay alone shows are left out.
    """
    if study.least_seen is None or study.signatures is None:
        return None
    known, promised = study.least_seen
    ratios = [
        promised[fault.key] / known[fault.key]
        for fault in study.signatures.faults
        if fault.graded
        and not fault.under_feeds
        and np.isfinite(known.get(fault.key, np.nan))
        and np.isfinite(promised.get(fault.key, np.nan))
    ]
    return LeastSeen(float(np.median(ratios)), len(ratios)) if ratios else None
