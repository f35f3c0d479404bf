"""How well each kind of machine suits many flows and heads: the marks of one kind as arrays.

>>> import numpy as np
>>> from hydrokit.plant.marks import best_of, marks_of
>>> heads = np.array([90.0, 3.5])
>>> [kinds()[each] for each in best_of(np.array([0.015, 1.1]), heads, np.array([0.004, 0.35]))]
['pelton', 'kaplan']
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..water import GRAVITY
from .jets import jet_diameter
from .pelton import PELTON, TURGO
from .turbine import PartLoad, hydraulic_power, kinds, part_load, ranges_of, specific_speed, staged

__all__ = ["Marks", "best_of", "marks_of"]

PROPORTIONS = {of.kind: of for of in (PELTON, TURGO)}
# Share of the score kept by a machine that stands still at the low flow: most of the year it runs.
STANDING_AT_LOW_FLOW = 0.4
# Belt ratio up to here in one step, and what is left of the score there (common practice).
EASY_BELT, HARD_BELT = 3.0, 6.0
# What is taken where nobody has said otherwise: four poles at 50 Hz, some silt, water at 10 °C.
_GENERATOR_RPM, _SILT, _WATER_K = 1500.0, 0.5, 283.15


@dataclass(frozen=True, eq=False)
class Marks:
    """One kind of machine over pairs of flow and head.

    Parameters
    ----------
    kind : str
    marks : mapping of str to ndarray
        0 to 1 by name; they multiply to the score.
    speed_rpm, belt_ratio : ndarray
        Of the shaft; generator speed over shaft speed.
    jets : ndarray of int
        Jets that bring the shaft nearest to the generator's speed; 0 for a machine without.
    best_efficiency : float
    low_flow_efficiency : ndarray
        NaN where no low flow was given.
    """

    kind: str
    marks: Mapping[str, np.ndarray]
    _: KW_ONLY
    speed_rpm: np.ndarray
    belt_ratio: np.ndarray
    jets: np.ndarray
    best_efficiency: float
    low_flow_efficiency: np.ndarray

    @property
    def score(self) -> np.ndarray:
        """The product of the marks."""
        return np.prod(np.broadcast_arrays(*self.marks.values()), axis=0)


def marks_of(
    kind: str,
    flow_m3s: np.ndarray,
    head_m: np.ndarray,
    low_flow_m3s: np.ndarray | None,
    *,
    generator_rpm: float = _GENERATOR_RPM,
    silt: float = _SILT,
    water_k: float = _WATER_K,
) -> Marks:
    """The marks of one kind of machine.

    Parameters
    ----------
    kind : str
        One of ``turbine.kinds()``.
    flow_m3s, head_m : ndarray
        Full flow and net head, above zero.
    low_flow_m3s : ndarray or None
        To judge part load by.
    generator_rpm, silt, water_k : float
        As of ``choice.turbine_choice``; silt from 0 to 1.
    """
    row, curve = ranges_of(kind), part_load.si(kind)
    power = hydraulic_power.si(flow_m3s, head_m, water_k) * curve.best
    low, high, jets = _shaft_range(row, generator_rpm, flow_m3s, head_m, power)
    speed = np.clip(np.full(np.shape(flow_m3s), generator_rpm), low, high)
    ratio = generator_rpm / speed
    low_efficiency = np.full(np.shape(flow_m3s), np.nan)
    part = np.ones(np.shape(flow_m3s))
    if low_flow_m3s is not None:
        low_efficiency = _efficiency(kind, jets, low_flow_m3s / flow_m3s)
        part = (
            STANDING_AT_LOW_FLOW
            + (1 - STANDING_AT_LOW_FLOW) * low_efficiency / _curve(kind, 1).best
        )
    marks = {
        "head": _inside(head_m, row["head_low_m"], row["head_high_m"]),
        "flow": _inside(flow_m3s, row["flow_low_m3s"], row["flow_high_m3s"]),
        "efficiency": np.asarray(curve.best),
        "part load": part,
        "speed": _belt_mark(ratio),
        "silt": np.asarray(1 - silt * (1 - row["silt_tolerance"])),
    }
    return Marks(
        kind,
        marks,
        speed_rpm=speed,
        belt_ratio=ratio,
        jets=jets,
        best_efficiency=curve.best,
        low_flow_efficiency=low_efficiency,
    )


def best_of(flow_m3s: np.ndarray, head_m: np.ndarray, low_flow_m3s: np.ndarray) -> np.ndarray:
    """Place in ``turbine.kinds()`` of the kind with the highest score, for the usual generator and
    some silt."""
    scores = [marks_of(kind, flow_m3s, head_m, low_flow_m3s).score for kind in kinds()]
    return np.argmax(np.stack(scores), axis=0)


def _inside(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """1 inside the range, 0 from half its low end and twice its high end on."""
    beyond = np.maximum(np.maximum(low / value, value / high), 1.0)
    return np.maximum(0.0, 1.0 - np.log2(beyond))


def _shaft_range(
    row: Mapping[str, Any],
    generator_rpm: float,
    flow: np.ndarray,
    head: np.ndarray,
    power: np.ndarray,
) -> tuple[Any, Any, np.ndarray]:
    """Lowest and highest speed of the shaft, and the jets it takes to come near the generator's."""
    none = np.zeros(np.shape(flow), dtype=int)
    if row["kind"] in PROPORTIONS:
        of = PROPORTIONS[row["kind"]]
        tangential = 60 * of.speed_ratio * np.sqrt(2 * GRAVITY * head) / np.pi
        one_jet = jet_diameter.si(flow, head, 1, 0.97)
        wished = np.ceil((generator_rpm * of.jet_ratio_tight * one_jet / tangential) ** 2)
        jets = np.clip(wished, 1, of.most_jets).astype(int)
        jet = one_jet / np.sqrt(jets)
        return (
            tangential / (of.jet_ratio_large * jet),
            tangential / (of.jet_ratio_tight * jet),
            jets,
        )
    if row["family"] == "gravity":
        return row["shaft_speed_low_rpm"], row["shaft_speed_high_rpm"], none
    at_one_rpm = specific_speed.si(1.0, power, head)
    return row["specific_speed_low"] / at_one_rpm, row["specific_speed_high"] / at_one_rpm, none


def _belt_mark(ratio: np.ndarray) -> np.ndarray:
    step = np.maximum(ratio, 1 / ratio)
    return np.interp(np.log(step), np.log([1.0, EASY_BELT, HARD_BELT, 60.0]), [1.0, 0.85, 0.6, 0.4])


def _efficiency(kind: str, jets: np.ndarray, flow_ratio: np.ndarray) -> np.ndarray:
    """Efficiency at a share of the full flow, by the number of jets that share it."""
    found = np.empty(np.shape(flow_ratio))
    for count in np.unique(jets):
        here = jets == count
        found[here] = _curve(kind, max(int(count), 1)).efficiency_si(flow_ratio[here])
    return found


@lru_cache(maxsize=64)
def _curve(kind: str, jets: int) -> PartLoad:
    curve = part_load.si(kind)
    return curve if jets == 1 else staged(curve, np.arange(1, jets + 1) / jets)
