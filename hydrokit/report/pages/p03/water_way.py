"""Page 03: the water's way from creek to jets: the penstock, what every part passes, what to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import series_text
from ....study.build.ladder import MONTHS, limiting, rungs
from ....study.view import View
from ...display import Table, Words
from ..common import level, sources
from . import frost, holding, intake, line_air, pond, silt
from .ladder import under_fed
from .phrases import limits_verb, shown_part, with_article

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ....study.study import Study
    from ....works.pressures import Pressures

__all__ = ["changes_table", "headline", "references"]


def headline(study: Study, view: View) -> Words:
    """The answer in two or three sentences."""
    air, told = study.line_air, []
    if air is not None and air.filling.stalls_m is not None:
        text = (
            "**The diversion line, filled from the top, stalls at "
            f"{view.text(air.filling.stalls_m, 'length')}"
        )
        if air.filling.vents_m:
            vents = series_text([view.text(vent, "length") for vent in air.filling.vents_m])
            text += (
                f"; {'plugged vents' if len(air.filling.vents_m) > 1 else 'a plugged vent'} at "
                f"{vents} {'free' if len(air.filling.vents_m) > 1 else 'frees'} it**"
            )
        elif air.filling.climb_m > 0:
            text += (
                "; it stands above the pond there, so that only suction, a pump or a pond at "
                f"{level(view, air.filling.source_needed_m)} gets water over it**"
            )
        else:
            text += (
                f"; only a pond at {level(view, air.filling.source_needed_m)} would carry the "
                "water through**"
            )
        told.append(
            f"{text} ({view.shown(study.answer('air.lacking'))} of head are lacking there, ± "
            f"{view.text(air.filling.lacking_uncertainty_m, 'head', 1)} for the survey)."
        )
    elif air is not None:
        told.append(
            "The diversion line starts by itself; "
            + (
                "no air can lock it."
                if not air.filling.pockets
                else f"air takes {view.text(air.running.air_m, 'head', 2)} of its head."
            )
        )
    if study.plant is not None:
        told.append(_limiting_sentence(study, view))
    if study.pressures is not None:
        told.append(_pressure_sentence(study, view, study.pressures))
    if not told:
        return Words(
            "**Not known yet.** Neither a diversion line nor a penstock is described: survey "
            "them, and give their bore; then this page tells whether the water comes down, "
            "and what holds it back."
        )
    return Words(" ".join(told))


def _limiting_sentence(study: Study, view: View) -> str:
    clean = limiting(study)
    text = (
        "With water enough and all clean, "
        f"**{shown_part(view, study.answer('limiting.component'))}** {limits_verb(clean.part)} "
        f"the plant at {view.shown(study.answer('limiting.flow'))}"
    )
    if clean.jets_bind and clean.next_part != clean.least_above and clean.least_above:
        text += (
            f"; of the parts above {'them' if limits_verb(clean.part) == 'limit' else 'it'} "
            f"{with_article(clean.least_above)} passes least, "
            f"{view.text(clean.least_above_m3s, 'flow')}"
        )
    elif clean.next_m3s is not None:
        text += (
            f", next {shown_part(view, study.answer('limiting.next'))} at "
            f"{view.text(clean.next_m3s, 'flow')}"
        )
    for months, worst in under_fed(study, clean)[:1]:
        text += (
            f"; clogged in {MONTHS[months[0] - 1]}, {with_article(worst.part)} lets only "
            f"{view.text(worst.flow_m3s, 'flow')} through"
        )
    return text + "."


def _pressure_sentence(study: Study, view: View, held: Pressures) -> str:
    text, used = (
        f"The penstock must hold {view.shown(study.answer('pressure.highest'))} at its foot",
        view.shown(study.answer("pressure.share_of_rating")),
    )
    if held.use_of_rating > 1:
        text = f"**{text}: {used} of its derated rating, which is too much**"
    elif np.isfinite(held.use_of_rating):
        text += f", {used} of its derated rating at the most"
    if held.closing_time_s is None:
        text += ", before any surge"
    return f"{text}. {siphon_sentence(study, view)}".strip()


def siphon_sentence(study: Study, view: View) -> str:
    """Where the penstock itself stands above its forebay; nothing is said where it does not."""
    section = study.section
    if section is None or not section.above_source:
        return ""
    return (
        f"**It stands above its forebay from {stretch_words(view, section.above_source)}**: it "
        "fills only as a siphon, by suction or a pump, and loses it to the first air."
    )


def stretch_words(view: View, stretches: Iterable[tuple[float, float]]) -> str:
    return series_text(
        [f"{view.text(a, 'length')} to {view.text(b, 'length')}" for a, b in stretches]
    )


# --- what to do -------------------------------------------------------------------------------


def changes_table(study: Study, view: View) -> Table:
    """Things to build or change, each with its number."""
    rows = [
        *intake.changes(study, view),
        *line_air.changes(study, view),
        *_ladder_changes(study, view),
        *holding.changes(study, view),
        *pond.changes(study, view),
        *silt.changes(study, view),
        *frost.changes(study, view),
    ]
    return Table(
        ("what", "where", "number", "why"),
        rows or [("nothing that these figures show", "", "", "")],
        "To build or to change",
    )


def _ladder_changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    full_m3s = study.full_flow_m3s
    if study.plant is None or full_m3s is None:
        return []
    clean, rows = limiting(study), []
    if not clean.jets_bind:
        becomes = "" if clean.next_m3s is None else f" becomes {view.text(clean.next_m3s, 'flow')}"
        rows.append(
            (
                f"a larger {clean.part}",
                clean.part,
                f"{view.text(clean.flow_m3s, 'flow')}{becomes}",
                f"worth {view.text(clean.behind_w, 'power', 2)} while there is water",
            )
        )
    for each in rungs(study):
        if each.may_block is not None and np.isfinite(each.may_block) and each.worst_m3s < full_m3s:
            rows.append(
                (
                    "clean it before",
                    each.name,
                    f"{100 * each.may_block:.0f} % is blocked",
                    "beyond that the jets are under-fed; close one instead",
                )
            )
    return rows


def references() -> Words:
    """What this page rests on."""
    return sources(
        "C. F. Colebrook, J. Inst. Civil Engineers 11, 1939; Y. A. Çengel and J. M. Cimbala, "
        "Fluid Mechanics: Fundamentals and Applications, ch. 8: losses in pipes.",
        (
            "Boyle's law; T. B. Benjamin, J. Fluid Mechanics 31, 1968: the cavity at an open end; "
            "P. E. Wisner and others, J. Hydraul. Div. ASCE 101, 1975, and M. Escarameia, Proc. "
            "ICE Water Management 160, 2007: clearing of air."
        ),
        (
            "K. Subramanya, 1000 Solved Problems in Fluid Mechanics, ch. 14, and J. Michaud, "
            "1878: pressure waves; AWWA M51, Air Valves, 2016: filling speed, safety against "
            "collapse."
        ),
        "Machinery's Handbook, 31st ed., p. 2770: PVC sizes, ratings and their derating.",
        (
            "R. I. Ferguson and M. Church, J. Sedimentary Research 74, 2004: settling; Civil "
            "Works Guidelines for Micro-Hydropower in Nepal: basins and racks."
        ),
        (
            "G. E. Hecker, 1987, as in ANSI/HI 9.8: water over a pipe inlet. HR Wallingford SR "
            "463 and SR 473: an upright overflow pipe."
        ),
        (
            "Asawa, Irrigation and Water Resources Engineering, sect. 5.7: seepage and "
            "evaporation; T. E. Osterkamp and others, Annals of Glaciology: heat lost by open "
            "water; J. Frank, Der Bauingenieur 31, 1956: bottom racks (from memory)."
        ),
        "NMFS Southwest Region, juvenile fish screen criteria for pump intakes.",
        (
            "ISO 12241:2008 and ASHRAE Handbook, Fundamentals, 2009, ch. 23: heat lost by pipes; "
            "M. Sturm and others, J. Glaciology 43, 1997: snow; S. F. Daly, 1994: frazil."
        ),
    )
