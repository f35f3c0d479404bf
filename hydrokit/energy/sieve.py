"""Many creeks sized at once: the sums of :func:`hydrokit.energy.sizing.sweep` for creeks of which
no more than a map tells.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.first_look import Creek
>>> from hydrokit.energy.sieve import sieved
>>> dates = pd.date_range("2019-10-01", "2022-09-30")
>>> neighbour = pd.Series(0.4 + 0.3 * np.cos(np.arange(len(dates)) / 58.1), dates, name="flow_m3s")
>>> creeks = [Creek(f"head {head}", head, 380.0, catchment_m2=2.2e6, neighbour_catchment_m2=3.8e6) for head in (8.0, 46.0)]
>>> for found in sieved(creeks, [neighbour], [0, 0]):
...     print(f"{found.creek.name}: {found.machine}, {found.pipe}: {found.kwh / 1000:.0f} MWh a year")
head 8.0: turgo, 630 mm PE100 SDR 17: 52 MWh a year
head 46.0: turgo, 450 mm PE100 SDR 17: 338 MWh a year
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from functools import lru_cache

import numpy as np
import pandas as pd

from ..errors import Told
from ..plant.choice import cautions_of
from ..plant.generator import generator
from ..plant.losses import LossCurve
from ..plant.marks import best_of, marks_of
from ..plant.turbine import PartLoad, kinds, part_load, ranges_of
from ..stream.extend import area_ratio
from ..water import head_to_pressure
from ..works.pipe import Pipe
from ..works.pipe_sizes import pipe_size, pipe_sizes
from .creeks import FAR_FACTOR, FLOW_FACTOR, Creek, Sifted
from .design import KNEE, LOSS_LIMIT
from .sieve_plant import Sizes, adjustable_curve, fixed_curve, narrowest
from .sieve_water import Days, Waters
from .sweeping import FIRM

__all__ = ["JETS", "sieved"]

# Common practice: a third of the static pressure in hand for surge; bends and valves together.
_SURGE_ROOM, _FITTINGS = 1.3, 2.0
CLASSES = ("PE100 SDR 17", "PE100 SDR 11")
JETS = (1, 2, 3, 4, 5, 6)
_USUAL_FLOW, _LOW_FLOW = 0.3, 0.9  # exceedances at which a kind of machine is judged
_WITHIN = 0.02  # energy by which a design may fall short of the best and still be as good
_YEAR_H = 8766.0
_FIXED = ("pelton", "turgo")
# Steps in which a curve of power is followed: for choosing, and for the one that is chosen.
_COARSE, _FINE = {"fixed": 6, "adjustable": 40}, {"fixed": 24, "adjustable": 160}
_TYPICAL = 480  # days that stand for the record; the firm power lies half way between two of them


def sieved(
    creeks: Sequence[Creek], records: Sequence[pd.Series], which: Sequence[int]
) -> list[Sifted]:
    """A quick sizing of each creek, all of them at once.

    Parameters
    ----------
    creeks : sequence of Creek
    records : sequence of pandas.Series
        Daily flow of each neighbour's gauge, in m³/s.
    which : sequence of int
        For each creek the place of its neighbour among them.

    Returns
    -------
    list of Sifted
        In the order of the creeks; with a reason where no plant could be sized.
    """
    if not creeks:
        return []
    days = tuple(Days.of(each) for each in records)
    return _sieved(tuple(creeks), days, np.asarray(which, dtype=int))


def _sieved(creeks: tuple[Creek, ...], days: tuple[Days, ...], which: np.ndarray) -> list[Sifted]:
    waters = Waters.of(creeks, days, which)
    reasons = _dry(creeks, waters)
    rows = np.flatnonzero([not each for each in reasons])
    found = [Sifted(creek, reason=reason) for creek, reason in zip(creeks, reasons)]
    if len(rows):
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            for row, each in zip(
                rows, _sized([creeks[row] for row in rows.tolist()], waters.these(rows))
            ):
                found[row] = each
    return found


def _dry(creeks: Sequence[Creek], waters: Waters) -> list[str]:
    """Why there is no plant to size; empty where there may be one."""
    most, top = waters.most_m3s, waters.usable_at(0.9)
    reasons = []
    for row, creek in enumerate(creeks):
        if not most[row] > 0:
            reasons.append(
                "nothing may be taken on any day"
                if creek.licence_m3s != 0
                else "nothing may be taken: the licence is zero"
            )
        elif not top[row] > 0:
            reasons.append("nothing may be taken on 90 % of the days, so there is no plant to size")
        else:
            reasons.append(waters.days[waters.which[row]].lacking)
    return reasons


# --- what is tried --------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _pipes(kind: str) -> tuple[Pipe, ...]:
    found = [
        pipe_size(name).pipe(1.0, fittings=_FITTINGS)
        for name in pipe_sizes()
        if name.endswith(f" mm {kind}")
    ]
    return tuple(sorted(found, key=lambda each: float(each.diameter_m)))


@lru_cache(maxsize=8)
def _rating_pa(kind: str) -> float:
    return pipe_size(f"200 mm {kind}").rating_pa or 0.0


@lru_cache(maxsize=1)
def _generator() -> LossCurve:
    return generator.si("synchronous", 5000.0, None)


@lru_cache(maxsize=16)
def _part_load(kind: str) -> PartLoad:
    return part_load.si(kind)


@dataclass(frozen=True, eq=False)
class _Tried:
    """Creeks of one kind of machine and one class of pipe, with what was tried on them.

    ``kwh`` has axes creeks × jets × flows, NaN where a design may not be taken.
    """

    rows: np.ndarray
    kind: str
    waters: Waters
    _: KW_ONLY
    sizes: Sizes
    pipes: tuple[Pipe, ...]
    pipe: np.ndarray
    jets: tuple[int, ...]
    kwh: np.ndarray
    rated_w: np.ndarray

    @property
    def allowed(self) -> np.ndarray:
        """Designs whose pipe loses less than a third of the head, creeks × flows."""
        return self.sizes.loss_share <= LOSS_LIMIT


def _sized(creeks: Sequence[Creek], waters: Waters) -> list[Sifted]:
    head = np.array([each.head_m for each in creeks])
    length = np.array([each.length_m for each in creeks])
    flows = waters.tried()
    usual, low = (waters.usable_at(1 - share) for share in (_USUAL_FLOW, _LOW_FLOW))
    usual = np.maximum(usual, flows[:, 0])
    machine = best_of(usual, head, low)
    needed = _SURGE_ROOM * np.asarray(head_to_pressure.si(head))
    strong = np.stack([_rating_pa(each) >= needed for each in CLASSES])
    pipe_class = np.where(strong.any(axis=0), strong.argmax(axis=0), len(CLASSES) - 1)
    found: list[Sifted | None] = [None] * len(creeks)
    for kind, of in sorted(set(zip(machine.tolist(), pipe_class.tolist()))):
        rows = np.flatnonzero((machine == kind) & (pipe_class == of))
        tried = _tried(
            rows,
            kinds()[kind],
            waters.these(rows),
            flows[rows],
            head[rows],
            length[rows],
            _pipes(CLASSES[of]),
        )
        cautions = _cautions(tried.kind, usual[rows], head[rows], low[rows])
        for place, each in enumerate(_chosen(tried, [creeks[row] for row in rows.tolist()])):
            if not each.reason:
                row = rows[place]
                told = (
                    *_unlike(each.creek),
                    *_taken_for_granted(each.creek, bool(strong[:, row].any())),
                    *cautions[place],
                    *each.mind,
                )
                each = replace(each, mind=told)
            found[rows[place]] = each
    return [each for each in found if each is not None]


def _tried(
    rows: np.ndarray,
    kind: str,
    waters: Waters,
    flows: np.ndarray,
    head: np.ndarray,
    length: np.ndarray,
    pipes: tuple[Pipe, ...],
) -> _Tried:
    flows = flows[:, np.isfinite(flows).any(axis=0)]
    sizes, pipe = narrowest(flows, head, length, pipes, _generator())
    jets = JETS if kind in _FIXED else (1,)
    kwh, rated = [], np.empty(flows.shape)
    for count in jets:
        flow, power = _curve(sizes, kind, count, _COARSE)
        kwh.append(waters.energy_kwh(flow, power))
        rated = power[..., -1]
    made = np.where((sizes.loss_share <= LOSS_LIMIT)[:, None], np.stack(kwh, axis=1), np.nan)
    return _Tried(
        rows, kind, waters, sizes=sizes, pipes=pipes, pipe=pipe, jets=jets, kwh=made, rated_w=rated
    )


def _curve(
    sizes: Sizes, kind: str, jets: int, steps: dict[str, int]
) -> tuple[np.ndarray, np.ndarray]:
    curve = _part_load(kind)
    if kind in _FIXED:
        # fixed jets are open or shut, so the runner works at its best
        return fixed_curve(sizes, np.asarray(curve.best), jets, steps["fixed"])
    return adjustable_curve(sizes, curve, steps["adjustable"])


# --- what is chosen -------------------------------------------------------------------------


def _chosen(tried: _Tried, creeks: Sequence[Creek]) -> list[Sifted]:
    """The size for each creek, by the rule of a sweep without costs (``designs.Sizing``): the knee,
    and the smallest of the equal."""
    reasons = _refused(tried)
    score = _score(tried)
    size = score.shape[2]
    best = np.argmax(score.reshape(len(creeks), -1), axis=1)
    jets, flow = best // size, best % size
    every = np.arange(len(creeks))
    scale = tried.kwh[every, jets, flow]
    equal = score >= (score[every, jets, flow] - _WITHIN * scale)[:, None, None]
    chosen_flow = np.argmax(equal.any(axis=1), axis=1)
    chosen_jets = np.argmax(equal[every, :, chosen_flow], axis=1)
    numbers = _numbers(tried, chosen_flow, chosen_jets, creeks)
    found = []
    for place, creek in enumerate(creeks):
        if reasons[place]:
            found.append(Sifted(creek, reason=reasons[place]))
            continue
        found.append(
            Sifted(
                creek,
                float(numbers["mean_m3s"][place]),
                float(numbers["usable_m3s"][place]),
                design_m3s=float(numbers["design_m3s"][place]),
                loss_share=float(numbers["loss_share"][place]),
                rated_w=float(numbers["rated_w"][place]),
                firm_w=float(numbers["firm_w"][place]),
                kwh=float(numbers["kwh"][place]),
                winter_kwh=float(numbers["winter_kwh"][place]),
                low_kwh=float(numbers["low_kwh"][place]),
                high_kwh=float(numbers["high_kwh"][place]),
                machine=tried.kind,
                pipe=tried.pipes[tried.pipe[place, chosen_flow[place]]].name,
                jets=tried.jets[chosen_jets[place]],
                mind=tuple(_at_the_edge(tried, place, int(flow[place]))),
            )
        )
    return found


def _score(tried: _Tried) -> np.ndarray:
    """What a design brings less what a litre a second must bring; minus infinity where it may not
    be taken."""
    per_flow = np.where(tried.allowed, tried.rated_w / tried.sizes.flow_m3s, 0.0)
    always = per_flow.max(axis=1) * _YEAR_H / 1000
    score = tried.kwh - (KNEE * always[:, None] * tried.sizes.flow_m3s)[:, None]
    return np.where(np.isfinite(score), score, -np.inf)


def _refused(tried: _Tried) -> list[str]:
    reasons = []
    lost = np.nanmin(
        np.where(np.isfinite(tried.sizes.flow_m3s), tried.sizes.loss_share, np.nan), axis=1
    )
    allowed: np.ndarray = np.any(tried.allowed, axis=1)
    bring: np.ndarray = np.any(np.nan_to_num(tried.kwh) > 0, axis=(1, 2))
    for place in range(len(lost)):
        if not allowed[place]:
            reasons.append(
                f"every design loses more than a third of the head ({100 * lost[place]:.0f} % "
                "at the least); try wider pipes or smaller flows"
            )
        elif not bring[place]:
            reasons.append(
                "no design gives any energy that is of use; look at the usable flow, the "
                "smallest flow the machine runs on, and the demand"
            )
        else:
            reasons.append("")
    return reasons


def _numbers(
    tried: _Tried, flow: np.ndarray, jets: np.ndarray, creeks: Sequence[Creek]
) -> dict[str, np.ndarray]:
    """What the chosen designs are and bring."""
    every = np.arange(len(flow))
    taken = tried.sizes.these((every, flow))
    far = np.array([FAR_FACTOR if _unlike(each) else FLOW_FACTOR for each in creeks])
    waters = tried.waters
    names = ("rated_w", "firm_w", "kwh", "winter_kwh", "low_kwh", "high_kwh")
    found = {name: np.full(len(flow), np.nan) for name in names}
    for count in np.unique(jets):
        rows = np.flatnonzero(jets == count)
        flows, power = _curve(
            taken.these(rows),
            tried.kind,
            tried.jets[count],
            _FINE,
        )
        of = waters.these(rows)
        found["rated_w"][rows] = power[:, -1]
        found["firm_w"][rows] = _firm(of, flows, power)
        found["kwh"][rows] = of.energy_kwh(flows, power)
        found["winter_kwh"][rows] = of.energy_kwh(flows, power, winter=True)
        for name, factor in (("low_kwh", 1 / far[rows]), ("high_kwh", far[rows])):
            scaled = Waters(
                of.days,
                of.which,
                of.share * factor,
                keep_m3s=of.keep_m3s * factor,
                licence_m3s=of.licence_m3s,
            )
            found[name][rows] = scaled.energy_kwh(flows, power)
    return {
        "mean_m3s": waters.mean_m3s,
        "usable_m3s": waters.usable_mean_m3s,
        "design_m3s": taken.flow_m3s,
        "loss_share": taken.loss_share,
        **found,
    }


def _firm(waters: Waters, flows: np.ndarray, power: np.ndarray) -> np.ndarray:
    """Power reached on nineteen days in twenty: that of the two typical days about it."""
    first = (1 - FIRM) * _TYPICAL - 0.5
    days = [waters.usable_at((first + each) / _TYPICAL) for each in (0.0, 1.0)]
    return np.array(
        [
            np.mean([np.interp(each[row], flows[row], power[row], left=0.0) for each in days])
            for row in range(len(flows))
        ]
    )


# --- what to keep in mind -------------------------------------------------------------------


def _unlike(creek: Creek) -> list[str | Told]:
    """What speaks against taking the neighbour's flows by area."""
    return [
        finding.sentence
        for finding in area_ratio.check_si((creek.catchment_m2, creek.neighbour_catchment_m2))
    ]


def _taken_for_granted(creek: Creek, strong: bool) -> Iterator[str]:
    if creek.residual_share is None:
        yield "the residual flow is assumed"
    if not strong:
        yield "the pressure at the foot asks for a stronger pipe than was calculated with"


def _cautions(kind: str, flow: np.ndarray, head: np.ndarray, low: np.ndarray) -> list[list[str]]:
    """The gravest caution of a kind of machine for each flow and head."""
    found = marks_of(kind, flow, head, low)
    row = ranges_of(kind)
    return [
        [
            f"{kind}: {caution}"
            for caution in cautions_of(
                row,
                {name: found.marks[name][place] for name in ("head", "flow")},
                float(found.belt_ratio[place]),
                0.5,
            )[:1]
        ]
        for place in range(len(flow))
    ]


def _at_the_edge(tried: _Tried, place: int, best: int) -> Iterator[str]:
    flows = tried.sizes.flow_m3s[place]
    count = int(np.isfinite(flows).sum())
    if count < 2:
        return
    if best == 0:
        yield "the best has the smallest design flow that was tried; try beyond it"
    # beyond all the water there ever is, more would bring nothing
    elif best == count - 1 and flows[best] < tried.waters.most_m3s[place]:
        yield "the best has the largest design flow that was tried; try beyond it"
