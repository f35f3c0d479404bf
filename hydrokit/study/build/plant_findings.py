"""What the numbers of a plant contradict: its kind, its head and flow, its plan, and each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, counted
from ...sentences import Amount, Sentence
from . import machines, year
from . import turbine as build_turbine
from .machine_choice import ranked
from .sizing import most_reaching

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["generator_findings", "machine_findings", "overruled_findings", "pipe_findings"]


def pipe_findings(study: Study) -> tuple[Finding, ...]:
    """That the recommended size is another than the plan, and design flows that were asked for and
    can never come."""
    found = []
    if study.sizing is None:
        return ()
    most, given = most_reaching(study), study.site.sizing.flows or ()
    above = [each for each in given if each > most * (1 + 1e-9)]
    if above:
        found.append(
            Finding(
                "note",
                "sizing",
                Sentence(
                    "design flows above {most} are not tried: no more may ever come to the jets",
                    most=Amount(most, "flow"),
                ),
            )
        )
    own, choice = study.plan, study.sizing.choice
    if study.exists or own is None or study.described is not None:
        return tuple(found)
    other = [f"{choice.pipe.name} instead of {own.pipe}"] if own.pipe != choice.pipe.name else []
    other += (
        [f"{counted(choice.jets, machines.opened(study))} instead of {own.jets}"]
        if own.jets != choice.jets
        else []
    )
    if other:
        found.append(
            Finding(
                "caution",
                "sizing",
                (
                    "the plan of the site file differs from the recommended size: "
                    f"{', '.join(other)}; every page and the list of parts follow the plan: write "
                    "the recommended size into the site file, or keep the plan if you have "
                    "reasons for it"
                ),
            )
        )
    return tuple(found)


def machine_findings(study: Study) -> tuple[Finding, ...]:
    """That the machine of the site file is not made for its head and flow, or takes more than it may."""
    return (*_far_outside(study), *_beyond_licence(study))


def _beyond_licence(study: Study) -> tuple[Finding, ...]:
    """That everything open takes more than the licence lets be taken in any month."""
    if study.plant is None:
        return ()
    most, may = float(np.max(study.plant.most_taken())), year.most_licensed(study)
    if not most > may * 1.01:
        return ()
    return (
        Finding(
            "caution",
            "rights",
            Sentence(
                "with everything open the plant takes {most} from the creek, and the licence lets "
                "{may} be taken at the most: the year counts no more than that, while gauge card, "
                "wires and full power are those of everything open; open less, or ask for more",
                most=Amount(most, "flow"),
                may=Amount(may, "flow"),
            ),
        ),
    )


def _far_outside(study: Study) -> tuple[Finding, ...]:
    from ...plant.turbine import kind_text

    kind, head = study.site.turbine.kind, study.head
    if study.plant is None or head is None or kind is None or study.site.machine:
        return ()
    flow = float(study.plant.running().at_si(np.inf).used_m3s)
    own = next((each for each in ranked(study, flow) if each.kind == kind), None)
    outside = () if own is None else own.cautions
    return tuple(
        Finding(
            "caution",
            "turbine",
            Sentence(
                "a {kind} turbine for {flow} under {head} is {what}; see which kinds suit on "
                "the page on size, and ask a manufacturer before you buy",
                kind=kind_text(kind),
                flow=Amount(flow, "flow"),
                head=Amount(head.value, "head"),
                what=each,
            ),
        )
        for each in outside
        if str(each).startswith("far outside")
    )


def overruled_findings(study: Study) -> tuple[Finding, ...]:
    """Numbers of the site file that another of its numbers overrules."""
    turbine, generator = study.site.turbine, study.site.generator
    told = []
    if "water_to_wire" in generator:
        told += [
            (name, "[generator] water_to_wire stands for machine and generator together")
            for name, known in (
                ("[turbine] efficiency", "efficiency" in turbine),
                ("[generator] efficiency", "efficiency" in generator),
                ("[generator] rating", "rating" in generator),
            )
            if known
        ]
    elif "efficiency_table" in turbine and "efficiency" in turbine:
        told.append(("[turbine] efficiency", "the manufacturer's table gives it"))
    if machines.adjustable(study.site):
        told += [
            (f"[turbine] {key}", "the machines are listed one by one")
            for key in ("design_flow", "jets")
            if key in turbine
        ]
    elif "jet_diameter" in turbine and not build_turbine.fixed_jets(turbine):
        told.append(
            (
                "[turbine] jet_diameter",
                "jets with needles, gates and vanes are known by the flow of the machine, design_flow",
            )
        )
    elif "jet_diameter" in turbine and "design_flow" in turbine:
        told.append(("[turbine] design_flow", "the bore of the jets sets the flow"))
    found = [
        Finding("note", "plant", f"{name} does not set the power: {why}") for name, why in told
    ]
    found += machines.overruled(study)
    unlike = len(set(turbine.jet_diameter or ()))
    if unlike > 1 and build_turbine.fixed_jets(turbine):
        text = (
            f"the jets have {unlike} bores: year and power count every way to open them, but a "
            "number of jets does not say which, so there is neither a jet schedule nor a "
            "diagnosis by the gauge"
        )
        found.append(Finding("note", "plant", text))
    days, fit = study.site.outage.planned_days, year.planned_days_fit(study.site)
    if days > fit:
        found.append(
            Finding(
                "caution",
                "outage",
                Sentence(
                    "{days} of planned stops do not fit into their month{s}: only {fit} are counted",
                    days=Amount(days, "days"),
                    s="" if len(study.site.outage.planned_months) == 1 else "s",
                    fit=Amount(fit, "days"),
                ),
            )
        )
    return tuple(found)


def generator_findings(study: Study) -> tuple[Finding, ...]:
    """What size of generator is taken where none is given, and that a rating is not used where the
    sizing is free."""
    from ...energy.machine_size import SizedGenerator

    plant = study.plant
    if (
        study.site.generator.given("rating")
        and study.described is None
        and plant is not None
        and not study.site.generator.given("water_to_wire")
    ):
        return (
            Finding(
                "note",
                "generator",
                (
                    "[generator] rating does not set the power, because the sizing chooses the "
                    "size; to fix the size, describe the jets (jet_diameter) or give design_flow"
                ),
            ),
        )
    bought = (
        next((part for part in plant.electric if isinstance(part, SizedGenerator)), None)
        if plant is not None
        else None
    )
    if bought is None:
        return ()
    return (
        Finding(
            "note",
            "generator",
            Sentence(
                "its rating is not given: {size} are counted, for the most water the plant "
                "can take under the gross head; {give} where it is known",
                size=Amount(bought.size_w, "power"),
                give="give [generator] rating"
                if study.described is not None
                else "give [generator] rating, and design_flow or jet_diameter under [turbine],",
            ),
        ),
    )
