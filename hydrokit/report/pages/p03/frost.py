"""Page 03, frost: how long still water has, what flow keeps a pipe open, frazil."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import series_text
from ....study.build.freeze import coldest
from ....study.build.frost_measures import (
    better_laid,
    fall_warms,
    kept_open,
    reached_in_gravel,
    running_open,
)
from ....study.study import Study
from ....study.view import View
from ....works.exposed import SPELL_DAYS
from ....works.frost import FREEZING_POINT, THAWING_CAUTION
from ....works.ice import ICE_CAUTION, MOST_SUPERCOOLING
from ....works.snow import DAYS_TO_USUAL, MELT_M
from ...display import Cautions, Table, Words, escape_markdown
from ..common import in_frost, keeps_open, needs

if TYPE_CHECKING:
    import pandas as pd

    from ....works.exposed import LineFrost, Stretch

__all__ = [
    "frazil_words",
    "frost_cautions",
    "frost_table",
    "frost_words",
    "running_water_words",
]

_MILD_K = 278.15  # a day whose melt is told
FRAZIL_AIR_K = 267.15  # clear nights at or below about -6 °C


def _hours(view: View, seconds: float) -> str:
    return view.duration(seconds) if np.isfinite(seconds) else "never"


def _lies(view: View, stretch: Stretch) -> str:
    told = []
    if stretch.soil_m:
        told.append(f"under {view.text(stretch.soil_m, 'depth', 2)} of soil")
    if stretch.snow_m:
        over = "on the soil" if stretch.soil_m else "over its crown"
        told.append(f"under {view.text(stretch.snow_m, 'depth', 2)} of snow {over} in mid winter")
    if stretch.insulation_m:
        told.append(f"in {view.text(stretch.insulation_m, 'diameter', 2)} of insulation")
    return ", ".join(told) if told else "bare"


def _hardest(study: Study, view: View, told: LineFrost) -> str:
    """The cold that the times are of."""
    air, source = view.text(told.air_temperature_k, "temperature", 2), coldest(study)[1]
    if told.cold.lasting:
        return f"a frost of {SPELL_DAYS} days at {air} ({source})"
    if "known here" in source:
        return (
            "the hardest frost of the record of air temperature, its coldest day taken to be as "
            f"cold as the coldest known here, {air}"
        )
    return f"the hardest frost of the record of air temperature, whose coldest day had {air}"


@in_frost
@needs(Study.frost)
def frost_table(study: Study, view: View, told: LineFrost) -> Table:
    """Every stretch in the hardest frost known."""
    slugs = {each.stretch.name: each.slug for each in study.freeze}
    kept = kept_open(study)
    rows, snowed = [], any(each.stretch.snow_m > 0 for each in told.stretches)
    for each in told.stretches:
        stretch = each.stretch
        lying, bare = (
            view.shown(study.answer(f"freeze.{slugs[stretch.name]}.{state}"))
            for state in ("snow", "bare")
        )
        needed = kept[stretch.name]
        rows.append(
            (
                stretch.name,
                f"{view.text(stretch.start_m, 'length')} to {view.text(stretch.end_m, 'length')}",
                _lies(view, stretch),
                lying,
                _hours(view, each.solid_s),
                *((bare if stretch.snow_m else "",) if snowed else ()),
                keeps_open(study, view, needed, needed.flow_m3s),
            )
        )
    return Table(
        (
            "stretch",
            "where",
            "how it lies",
            "blocked after",
            "solid after",
            *(("blocked, without the snow",) if snowed else ()),
            "flow whose friction alone keeps it open",
        ),
        rows,
        f"Water at freezing point that stops at the worst moment of {_hardest(study, view, told)}",
    )


@in_frost
@needs(Study.frost, quiet=True)
def frost_words(study: Study, view: View, told: LineFrost) -> Words:
    """The worst stretch, and what running water does."""
    first = study.freeze[0]
    worst = next(each for each in told.stretches if each.stretch.name == first.stretch.name)
    cold = _hardest(study, view, told)
    if np.isinf(first.soonest_s):
        return Words(
            f"In {cold}, no stretch of pipe with still water is blocked. {_ground(study, view, told)}"
        )
    name = escape_markdown(worst.stretch.name)
    where = f"{name}, {_lies(view, worst.stretch)}"
    text = (
        f"In {cold}, a stopped line has **{view.shown(study.answer('freeze.worst'))}** before its "
        "worst stretch is blocked: "
        f"{where}{', before the snow has come' if first.bare_s < first.snow_s else ''}. That "
        "counts from water already at freezing point, as a creek in frost brings it, and a "
        f"quarter of it turned to ice. {_ground(study, view, told)}"
    )
    if worst.stretch.bare and not {"cover", "snow", "insulation"} & set(
        study.site[worst.stretch.line]
    ):
        text += (
            f"The site file does not say how the {worst.stretch.line} lies, so it is taken as "
            "bare: give its cover. "
        )
    flow, open_ = study.full_flow_m3s, running_open(study)
    if open_ is not None and np.isinf(open_.reach_m):
        text += f"Running at {view.text(flow, 'flow')} its friction alone keeps it open. "
    elif open_ is not None:
        text += (
            f"Running at {view.text(flow, 'flow')}, water that arrives only "
            f"{view.text(open_.warmer_k, 'temperature difference', 1)} above freezing gets "
            f"through {view.text(open_.reach_m, 'length', 2)} of such pipe before it is at "
            f"freezing point; the stretch is {view.text(open_.stretch_m, 'length')} long. "
        )
    needed = kept_open(study)[worst.stretch.name]
    text += (
        "No flow that the line ever has keeps it open by its friction: "
        if needed.flow_m3s > needed.most_m3s
        else "Where the flow may fail, "
    )
    text += (
        "drain it as soon as it stops, cover or wrap the worst spot, or let a trickle run only if "
        "that has been seen to be enough."
    )
    return Words(text)


def _ground(study: Study, view: View, told: LineFrost) -> str:
    """How deep frost goes, and how a buried pipe is reckoned."""
    lying = [each.stretch for each in told.stretches]
    text = ""
    if any(each.soil_m > 0 for each in lying) and told.air_temperature_k < FREEZING_POINT:
        days = "each day of it" if told.cold.lasting else "each day of the record"
        text = (
            f"Frost goes {view.shown(study.answer('frost.depth'))} deep into bare moist soil: the "
            f"air of {days} is led into a column of it, whose water gives off its heat in "
            "freezing and takes it back in thawing. A buried pipe loses heat to the soil at its "
            "crown, as cold as that is then. In wet silt frost would go "
            f"{view.text(told.frost_depths_m[0], 'depth', 2)} deep, in dry gravel "
            f"{view.text(told.frost_depths_m[1], 'depth', 2)}; under grass or forest it goes less "
            "deep. "
        )
        if near := reached_in_gravel(study):
            text += (
                "**In dry gravel it would come down to: "
                f"{series_text([escape_markdown(each) for each in near])}.** Dig where the pipe "
                "lies shallowest and see what soil it is. "
            )
    snowed = any(each.snow_m > 0 for each in lying)
    if snowed and told.cold.snow_share is not None:
        text += (
            "Snow lies on each day as the record of air temperature has it, in proportion to the "
            "depth of mid winter that each stretch is given; days without a reading follow a "
            "rule. "
        )
    elif snowed and not told.cold.lasting:
        text += (
            f"Snow lies by a rule: {DAYS_TO_USUAL} frosty days bring the depth of mid winter, and "
            f"a day at {view.text(_MILD_K, 'temperature', 2)} melts "
            f"{view.text((_MILD_K - FREEZING_POINT) * MELT_M, 'diameter', 2)} of it (common "
            "practice). "
        )
    return text


@in_frost
@needs(Study.temperature, quiet=True)
def frazil_words(study: Study, view: View, temperature: pd.Series) -> Words:
    """Nights that can make frazil, from the record of air temperature."""
    limit, counted = view.text(FRAZIL_AIR_K, "temperature", 2), study.answer("frazil.days")
    if counted is None:
        return Words(
            "**Frazil.** The record of air temperature is too short to count its nights; a "
            f"clear night of {limit} or colder over open water near freezing point makes "
            "frazil, needles of ice that glue a screen shut within hours."
        )
    if counted.value == 0:
        return Words(
            f"**Frazil.** Nights of {limit} or colder over a creek near freezing point hardly "
            "come; a single clear night may still make frazil, needles of ice that glue a "
            "screen shut within hours."
        )
    return Words(
        f"**Frazil.** {view.shown(counted)} night{'s' if counted.value > 1 else ''} a year "
        f"{'have' if counted.value > 1 else 'has'} the weather for frazil at the most: air of "
        f"{limit} or colder over a creek near freezing point. A clear night that cold over open, "
        "stirred water makes frazil, needles of ice that glue any screen shut within hours, an "
        "inclined one too: it sheds leaves, not frazil. Once snow or ice has closed the creek "
        "above the intake, it makes no more; a deep, quiet pond before the screen helps that "
        "along. On such a night have someone at the screen, or shut down and drain in time."
    )


@in_frost
def running_water_words(study: Study, view: View) -> Words:
    """Why the creek stays open while still water freezes, and what a thermometer in it says."""
    fall = 100.0 if view.system == "metric" else 100 * 0.3048
    warmer = view.text(fall_warms(fall), "temperature difference", 2)
    least = view.text(MOST_SUPERCOOLING, "temperature difference", 2)
    return Words(
        "**Why the creek runs on.** Still water beside a creek freezes while the creek stays "
        "open, because its water is new every moment: it has passed a cold spot within seconds, "
        "springs and the ground feed it above freezing point, and its fall turns to heat "
        f"({warmer} for each {view.text(fall, 'head')}). Snow and ice along its banks cover much "
        "of it. Water that stands in a pipe has none of this: what it loses is lost. Running "
        f"water at its freezing point is supercooled by {least} at the most, and for minutes "
        "only; a thermometer that shows a whole degree below freezing in a stream is wrong. Read "
        "it as freezing point, and check it in melting ice."
    )


@in_frost
def frost_cautions(study: Study, view: View) -> Cautions:
    """Before anyone thaws a pipe or walks to an iced intake."""
    return Cautions([THAWING_CAUTION, ICE_CAUTION])


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to do against frost at the worst stretch."""
    better = better_laid(study)
    if better is None:
        return []
    what = (
        f"{view.text(better.insulation_m, 'diameter', 2)} of dry insulation"
        if better.soil_m is None
        else f"{view.text(better.soil_m, 'depth', 2)} of soil over it"
    )
    before = view.shown(study.answer("freeze.worst"))
    return [
        (
            what,
            better.name,
            f"{before} as it lies, {_hours(view, better.blocked_s)} then",
            "time until still water is blocked by ice",
        ),
        (
            "a drain at the lowest point",
            better.line,
            f"open it within {before}",
            "a stopped line freezes at its worst spot",
        ),
    ]
