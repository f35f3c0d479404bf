"""One creek through the general sweep of sizes and the chain of parts: what the sieve of many creeks is held to.

It shares with the sieve the laws of the parts, and nothing of how a year is added up or a size is found.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from hydrokit.energy.creeks import FAR_FACTOR, FLOW_FACTOR, Creek, Sifted
from hydrokit.energy.sizing import Layout, flows_to_try, sweep
from hydrokit.energy.year import annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.choice import turbine_choice
from hydrokit.plant.generator import generator
from hydrokit.plant.parts import MeasuredLoss, Penstock, steady
from hydrokit.plant.runner_speed import HELD
from hydrokit.plant.turbine import part_load
from hydrokit.sentences import refusal
from hydrokit.stream.extend import area_ratio
from hydrokit.stream.licence import licence
from hydrokit.stream.rights import resolve_rights
from hydrokit.stream.rules import percentile, share_of_mean
from hydrokit.water import head_to_pressure
from hydrokit.works.pipe_sizes import pipe_size, pipe_sizes

# Common practice: a third of the static pressure in hand for surge; bends and valves together.
_SURGE_ROOM, _FITTINGS = 1.3, 2.0
_CLASSES = ("PE100 SDR 17", "PE100 SDR 11")
_JETS = (1, 2, 3, 4, 5, 6)
_USUAL_FLOW, _LOW_FLOW = 0.3, 0.9  # exceedances at which a kind of machine is judged
_STAYS = 0.95  # exceedance of the flow that stays where nobody has said what must


def first_look(creek: Creek, neighbour: pd.Series) -> Sifted:
    """The size of one creek, sought among every flow, pipe and number of jets."""
    try:
        return _sized(creek, neighbour)
    except HydrokitError as error:
        return Sifted(creek, reason=refusal(error))


def _sized(creek: Creek, neighbour: pd.Series) -> Sifted:
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
        steady(machine.best_efficiency, machine.kind, speed=HELD)
        if fixed
        else part_load.si(machine.kind)
    )
    layout = Layout(
        Penstock(MeasuredLoss(0.0), creek.head_m),
        efficiency,
        adjustable=not fixed,
        generator=generator.si("synchronous", 5000.0, None),
    )
    found = sweep(usable, layout, flows.tolist(), pipes, _JETS if fixed else (1,))
    choice = found.choice
    curve, factor = found.chain(choice).curve(), FAR_FACTOR if _unlike(creek) else FLOW_FACTOR
    low_kwh, high_kwh = (
        annual_energy(_usable(creek, record * each), curve).annual_kwh
        for each in (1 / factor, factor)
    )
    return Sifted(
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
