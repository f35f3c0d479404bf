"""Many creeks at a glance: each from its head, length and catchment, and a neighbour's record.

A first sieve, not a study. The record is the neighbour's in proportion to the catchments, machine
and pipe are the usual ones for the head, and no costs are known. It says which creeks deserve a
bucket and a level.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.screening import Creek, screened
>>> days = pd.date_range("2019-10-01", "2022-09-30")
>>> neighbour = pd.Series(0.4 + 0.3 * np.cos(np.arange(len(days)) / 58.1), days, name="flow_m3s")
>>> found = screened(Creek("Alder Burn", 46.0, 380.0, catchment_m2=2.2e6, neighbour_catchment_m2=3.8e6), neighbour)
>>> print(f"{1000 * found.design_m3s:.0f} L/s, {found.machine}, {found.pipe}: {found.kwh / 1000:.0f} MWh a year")
225 L/s, turgo, 450 mm PE100 SDR 17: 335 MWh a year
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import pandas as pd

from ..errors import HydrokitError
from ..plant.choice import turbine_choice
from ..plant.generator import generator
from ..plant.parts import MeasuredLoss, Penstock, steady
from ..plant.turbine import part_load
from ..sentences import Sentence, refusal
from ..stream.extend import area_ratio
from ..stream.licence import licence
from ..stream.rights import resolve_rights
from ..stream.rules import percentile, share_of_mean
from ..water import head_to_pressure
from ..works.pipe_sizes import pipe_size, pipe_sizes
from .sizing import Layout, flows_to_try, sweep
from .year import annual_energy

__all__ = ["ASSUMED", "Creek", "Screened", "screened"]

# Common practice: a third of the static pressure in hand for surge; bends and valves together.
_SURGE_ROOM, _FITTINGS = 1.3, 2.0
_CLASSES = ("PE100 SDR 17", "PE100 SDR 11")
_JETS = (1, 2, 3, 4, 5, 6)
_USUAL_FLOW, _LOW_FLOW = 0.3, 0.9  # exceedances at which a kind of machine is judged
_STAYS = 0.95  # exceedance of the flow that stays where nobody has said what must
# Either way, of a flow got from the ratio of two catchments: of like size, and not.
_FLOW_FACTOR, _FAR_FACTOR = 1.5, 2.0

ASSUMED = (
    "flows are the neighbour's in proportion to the catchments; low and high energy are those of flows smaller and larger by a factor of 1.5, "
    "or of 2 where the catchments differ by more than 0.5 to 1.5",
    "where no share is given, the flow exceeded on 95 % of the days stays in the creek",
    "the usual machine and generator for head and flow, PE100 pipe, a tenth of the head lost at most",
    "the size is where a little more water stops paying in energy; no costs are known",
)


@dataclass(frozen=True)
class Creek:
    """What is known of a creek from a map and a neighbour.

    Parameters
    ----------
    name : str
    head_m, length_m : float
        Fall from intake to jets, and length of the pipe.
    catchment_m2, neighbour_catchment_m2 : float
    licence_m3s : float, optional
        Most that may be taken.
    residual_share : float, optional
        Share of the mean flow that stays.
    """

    name: str
    head_m: float
    length_m: float
    _: KW_ONLY
    catchment_m2: float
    neighbour_catchment_m2: float
    licence_m3s: float | None = None
    residual_share: float | None = None


@dataclass(frozen=True)
class Screened:
    """What a plant on a creek would be and bring. Plain numbers, so that it travels between machines.

    Parameters
    ----------
    creek : Creek
    mean_m3s, usable_m3s : float
        Mean natural and usable flow.
    design_m3s : float
    machine, pipe : str
        Kind of turbine, and trade name of the penstock.
    jets : int
        Fixed jets of an impulse machine; one unit of any other.
    loss_share : float
        Of the head, at the design flow.
    rated_w, firm_w : float
        Greatest power, and that of nineteen days in twenty.
    kwh, winter_kwh : float
        Of a mean year.
    low_kwh, high_kwh : float
        The same with all flows smaller or larger by a factor of 1.5; of 2 where the catchments differ
        by more than 0.5 to 1.5 (common practice).
    mind : tuple of str or Sentence
        What to keep in mind.
    reason : str
        Why there is no answer; empty where there is one.
    """

    creek: Creek
    mean_m3s: float = float("nan")
    usable_m3s: float = float("nan")
    _: KW_ONLY
    design_m3s: float = float("nan")
    machine: str = ""
    pipe: str = ""
    jets: int = 0
    loss_share: float = float("nan")
    rated_w: float = float("nan")
    firm_w: float = float("nan")
    kwh: float = float("nan")
    winter_kwh: float = float("nan")
    low_kwh: float = float("nan")
    high_kwh: float = float("nan")
    mind: tuple[str | Sentence, ...] = ()
    reason: str | Sentence = ""

    @property
    def kwh_per_m(self) -> float:
        """Energy of a mean year for each metre of pipe: what a creek is first judged by where costs are not known."""
        return self.kwh / self.creek.length_m


def screened(creek: Creek, neighbour: pd.Series) -> Screened:
    """A quick sizing of one creek.

    Parameters
    ----------
    creek : Creek
    neighbour : pandas.Series
        Daily flow of the neighbour's gauge.

    Returns
    -------
    Screened
        With a reason where no plant could be sized; it never raises for what a creek is like.
    """
    try:
        return _sized(creek, neighbour)
    except HydrokitError as error:
        return Screened(creek, reason=refusal(error))


def _sized(creek: Creek, neighbour: pd.Series) -> Screened:
    record = neighbour * float(area_ratio.si(creek.catchment_m2, creek.neighbour_catchment_m2))
    usable = _usable(creek, record)
    flows = flows_to_try(usable)
    usual, low = (float(usable.quantile(1 - share)) for share in (_USUAL_FLOW, _LOW_FLOW))
    machine = turbine_choice.si(max(usual, flows[0]), creek.head_m, low_flow=low)[0]
    fixed = machine.kind in ("pelton", "turgo")
    static_pa = float(head_to_pressure.si(creek.head_m))
    strong = [
        each
        for each in _CLASSES
        if (pipe_size(f"200 mm {each}").rating_pa or 0.0) >= _SURGE_ROOM * static_pa
    ]
    kind_of_pipe = (strong or _CLASSES[-1:])[0]
    pipes = [
        pipe_size(name).pipe(creek.length_m, fittings=_FITTINGS)
        for name in pipe_sizes()
        if name.endswith(f" mm {kind_of_pipe}")
    ]
    # fixed jets are open or shut, so the runner works at its best
    efficiency = (
        steady(machine.best_efficiency, machine.kind) if fixed else part_load.si(machine.kind)
    )
    layout = Layout(
        Penstock(MeasuredLoss(0.0), creek.head_m),
        efficiency,
        adjustable=not fixed,
        generator=generator.si("synchronous", 5000.0, None),
    )
    found = sweep(usable, layout, flows.tolist(), pipes, _JETS if fixed else (1,))
    choice = found.choice
    curve, factor = found.chain(choice).curve(), _FAR_FACTOR if _unlike(creek) else _FLOW_FACTOR
    low_kwh, high_kwh = (
        annual_energy(_usable(creek, record * each), curve).annual_kwh
        for each in (1 / factor, factor)
    )
    return Screened(
        creek,
        float(record.mean()),
        float(usable.mean()),
        design_m3s=choice.flow_m3s,
        machine=machine.kind,
        pipe=choice.pipe.name,
        jets=choice.jets,
        loss_share=choice.loss_share,
        rated_w=choice.rated_w,
        firm_w=choice.firm_w,
        kwh=choice.kwh,
        winter_kwh=choice.winter_kwh,
        low_kwh=low_kwh,
        high_kwh=high_kwh,
        mind=tuple(_mind(creek, machine, found, bool(strong))),
    )


def _usable(creek: Creek, record: pd.Series) -> pd.Series:
    stays = (
        percentile.si(_STAYS)
        if creek.residual_share is None
        else share_of_mean.si(creek.residual_share)
    )
    return resolve_rights([stays], licence.si(creek.licence_m3s), record).usable_series(record)


def _unlike(creek: Creek) -> list:
    """What speaks against taking the neighbour's flows by area."""
    return area_ratio.check_si((creek.catchment_m2, creek.neighbour_catchment_m2))


def _mind(creek: Creek, machine: Any, found: Any, strong: bool) -> Any:
    yield from (finding.sentence for finding in _unlike(creek))
    if creek.residual_share is None:
        yield "the residual flow is assumed"
    if not strong:
        yield "the pressure at the foot asks for a stronger pipe than was calculated with"
    yield from (f"{machine.kind}: {caution}" for caution in machine.cautions[:1])
    yield from (finding.sentence for finding in found.findings if finding.level != "note")
