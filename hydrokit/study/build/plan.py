"""The plant that all pages speak of: as it stands, as it is described, or as the sizing chose it."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from .kept_air import kept_m
from .running import fitted_chain
from .sizing import one_pipe
from .turbine import adjustable_name

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["Plan", "chosen_chain", "plan", "planned", "plant"]


@dataclass(frozen=True, eq=False)
class Plan(Result):
    """The plant that all pages speak of, in what decides its size.

    Parameters
    ----------
    flow_m3s : float
        With everything open, or the design flow where the sizing set it.
    pipe : str
        Names of its penstock's pipes.
    jets : int
        Jets, units or machines.
    source : str
    """

    flow_m3s: float
    pipe: str
    jets: int
    _: KW_ONLY
    source: str


def plant(study: Study) -> Chain | None:
    """The plant as a chain: as its readings show it, as the site file has it, or as the sizing chose it."""
    if study.baseline is not None:
        return fitted_chain(study, study.baseline)
    return chosen_chain(study) if study.described is None else study.described


def plan(study: Study) -> Plan | None:
    """The plant that all pages speak of; None where it is not known."""
    if study.plant is None or study.penstock is None:
        return None
    pipes = " and ".join(dict.fromkeys(each.name for each in study.penstock.pipes))
    settled = planned(study) if study.described is None and study.baseline is None else None
    if settled is not None:
        flow, jets = settled
        return Plan(
            flow,
            pipes,
            jets,
            source="the pipe of the site file, with the flow that the sizing sets for it"
            if study.site.plan.design_flow is None
            else "the pipe of the site file, with the flow of its [plan]",
        )
    known = "the readings at the powerhouse" if study.baseline is not None else "the site file"
    return Plan(
        float(study.plant.running().at_si(np.inf).used_m3s),
        pipes,
        int(study.plant.jets.count),
        source=known,
    )


def planned(study: Study) -> tuple[float, int] | None:
    """Design flow and number of jets of the plan, where the site file leaves the flow open; None
    without a sizing.

    The owner's own, where [plan] says it; else, of its own pipe and number of jets where it names them,
    the size that the sizing would take.
    """
    found, line, mine = study.sizing, study.penstock, study.site.plan
    jets = study.site.turbine.jets if mine.jets is None else mine.jets
    if found is None or line is None:
        return None
    if mine.design_flow is not None:
        return mine.design_flow, found.choice.jets if jets is None else jets
    pipe = one_pipe(line)
    for settled in ({"pipe": pipe, "jets": jets}, {"pipe": pipe}):
        design = (
            found.chosen_among(**settled)
            if all(each is not None for each in settled.values())
            else None
        )
        if design is not None:
            return design.flow_m3s, design.jets
    # a pipe that was not among those tried: the flow of the choice, as far as that pipe brings it
    wanted = found.chosen_among(jets=jets) if jets is not None else None
    wanted = found.choice if wanted is None else wanted
    penstock = replace(found.layout.penstock, line=line)
    flows = found.flows_m3s[found.flows_m3s <= wanted.flow_m3s]
    fit = flows[penstock.loss_si(flows) <= penstock.static_si() / 3]
    return float(fit[-1] if len(fit) else flows[0]), wanted.jets


def chosen_chain(study: Study) -> Chain | None:
    """The plant as it is planned: the pipe of the site file, and flow and jets as the sizing chose
    them for it; or None."""
    found, settled, line = study.sizing, planned(study), study.penstock
    if found is None or settled is None or line is None:
        return None
    made = study.folder.sentence(
        "[sizing]", lambda: found.layout.chain(settled[0], line, settled[1])
    )
    jets = (
        replace(made.jets, name=adjustable_name(study.site.turbine))
        if found.layout.adjustable
        else made.jets
    )
    penstock = replace(made.penstock, air_m=kept_m(study, line, made))
    return replace(made, penstock=penstock, jets=jets, name=study.name)
