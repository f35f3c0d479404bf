"""Page 03, at the creek: the notch that leaves it its water, the flood over the weir, gates that
measure, screens half blocked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....report.pages.common import needs
from ....sentences import plain_number, series_text
from ....study.build.gate_meters import meter_rows
from ....study.build.intake_weir import TABLED_DEPTH_M, flood_depths, notch_levels, weir_passes
from ....study.build.ladder import MONTHS
from ....study.build.screens import BLOCKED, bottom_racks, inclined, screen_rows
from ....study.questions.floods import flood_kind
from ....study.study import Study
from ....study.view import View
from ....works.open_channel import LEAST_FREEBOARD_M
from ...display import Table, Words, escape_markdown

if TYPE_CHECKING:
    from ....study.build.screens import InclinedAtLowWater
    from ....works.weir import IntakeWeir

__all__ = [
    "flood_table",
    "meters_table",
    "meters_words",
    "notch_table",
    "screens_table",
    "toe_words",
    "weir_words",
]


def weir_words(study: Study, view: View) -> Words:
    """What the notch leaves the creek before the intake takes any, and how deep a flood stands over
    it all."""
    weir = study.intake_weir
    if weir is None:
        if "intake_weir" in study.refused:
            return Words(
                "**This could not be worked out.** "
                f"{escape_markdown(view.told(study.refused['intake_weir']))}."
            )
        return Words(
            "*Not shown: no weir is described. Measure the length of its crest (weir_length "
            "under [intake]), the height of the banks beside it, and from the sill of a notch "
            "up to the crest of the intake (notch_depth).*"
        )
    return Words(f"{_notch(study, view, weir)} {_flood(study, view, weir)}".strip())


def _notch(study: Study, view: View, weir: IntakeWeir) -> str:
    notch = weir.notch
    if notch is None:
        if not study.site.rights.residual:
            return "**Notch.** Nothing says yet what must stay in the creek, so no notch can be sized for it."
        return (
            "**Notch.** A notch whose sill lies below the crest of the intake serves the creek "
            "first, whoever watches; give the height from its sill to the crest of the intake, "
            "and its width follows."
        )
    most, depth = max(notch.keep_m3s), view.text(notch.depth_m, "diameter", 2)
    if most == 0:
        return "**Notch.**" + (
            _SHARE.replace(" as well", "")
            if np.any(study.rights.share_left > 0)
            else " The rules leave nothing in the creek that a notch must pass."
        )
    text = f"**Notch.** With the water at the crest of the intake, {depth} over the sill of the notch, "
    if notch.width_m is None:
        text += (
            f"a notch of {view.text(notch.needed_m, 'diameter', 2)} passes the "
            f"{view.text(most, 'flow')} that must stay at the most; only what comes beyond that "
            "can enter the intake. "
        )
    else:
        text += (
            f"the notch, {view.text(notch.width_m, 'diameter', 2)} wide, passes "
            f"{view.text(notch.before_the_intake_m3s, 'flow')} before the intake takes any. "
        )
        short = notch.short_months
        if short:
            text += (
                f"That is **too little {_in_months(short)}**: the {view.text(most, 'flow')} that "
                f"must stay need {view.text(notch.needed_m, 'diameter', 2)}. "
            )
        else:
            text += f"That is enough: {view.text(most, 'flow')} must stay at the most. "
    text += (
        "± 10 %; gauge it once. As the creek rises the notch passes more, and a leaf mat in it "
        "passes less, so look at it whenever you look at the screen."
    )
    if np.any(study.rights.share_left > 0):
        text += _SHARE
    return text


_SHARE = (
    " A share of the flow must stay as well: that no notch can measure, it needs a parting of the "
    "water, side by side."
)


def _in_months(months: Sequence[int]) -> str:
    """Months in words, those left out where they are fewer."""
    if len(months) == 12:
        return "in every month"
    left = [month for month in range(1, 13) if month not in months]
    named = series_text([MONTHS[month - 1] for month in (months if len(months) <= 6 else left)])
    return f"in {named}" if len(months) <= 6 else f"in all months but {named}"


def _large(view: View, flow_m3s: float) -> str:
    """A flood, in the unit of rivers."""
    return view.text(flow_m3s, flood_kind(flow_m3s))


def _flood(study: Study, view: View, weir: IntakeWeir) -> str:
    if weir.flood_m3s is None:
        return (
            f"**Flood.** No flood is known. At a depth of {view.text(TABLED_DEPTH_M, 'stage', 2)} "
            f"over its whole crest the weir passes {_large(view, weir_passes(study))}: hold that "
            "against the highest mark you can find, and give the flood."
        )
    depth = view.text(weir.peak_depth_m, "stage", 2)
    if weir.flood_is == "daily means":
        text = (
            "**Flood.** The mean flow of the day that is exceeded once in "
            f"{view.shown(study.answer('flood.return_period'))} is "
            f"{view.shown(study.answer('flood.intake'))}; the peak is taken as "
            f"{plain_number(weir.peak_over_mean, 2)} times its day's mean, "
            f"{view.shown(study.answer('flood.weir'))}, and then stands {depth} over the crest. "
        )
    else:
        text = (
            f"**Flood.** The flood of {view.shown(study.answer('flood.weir'))} stands {depth} "
            "over the crest. "
        )
    if np.isnan(weir.banks_m):
        text += (
            "How high the banks beside it stand is not given: level them, for what goes round a "
            "weir takes the bank with it. "
        )
    elif weir.peak_depth_m > weir.banks_m:
        text += (
            f"**The banks stand only {view.text(weir.banks_m, 'stage', 2)}**, so that it goes "
            "round the weir: a longer crest or higher walls. "
        )
    else:
        text += (
            f"The banks stand {view.text(weir.banks_m, 'stage', 2)}: "
            f"{view.text(weir.freeboard_m, 'stage', 2)} are "
            f"left{'' if weir.freeboard_m > LEAST_FREEBOARD_M else ', too little for waves and floating wood'}. "
        )
    return text + "A weir is a dam: its flood is for those licensed to judge it."


@needs(Study.intake_weir, quiet=True)
def notch_table(study: Study, view: View, weir: IntakeWeir) -> Table | Words:
    """Level over the sill of the notch, and what it passes then."""
    levels = notch_levels(study)
    if weir.notch is None or not levels:
        return Words("")
    rows = []
    for level in levels:
        told = [f"residual flow {_in_months(level.keeps)}"] if level.keeps else []
        told += ["crest of the intake"] if level.at_crest else []
        told += ["the intake running"] if level.running else []
        rows.append(
            (
                view.text(level.head_m, "diameter", 2),
                view.text(level.flow_m3s, "flow"),
                "; ".join(told),
            )
        )
    width = view.text(weir.notch.used_m, "diameter", 2)
    return Table(
        ("water over its sill", "it passes", ""),
        rows,
        f"The notch, {width} wide: for a staff gauge beside it",
    )


@needs(Study.intake_weir, quiet=True)
def flood_table(study: Study, view: View, weir: IntakeWeir) -> Table | Words:
    """Flood and its depth over the crest."""
    floods = flood_depths(study)
    if not floods:
        return Words("")
    rows = [
        (
            each.name,
            view.shown(study.answer(each.key)) if each.key else _large(view, each.flow_m3s),
            view.text(each.depth_m, "stage", 2),
        )
        for each in floods
    ]
    return Table(
        ("flood", "flow", "depth over the crest"),
        rows,
        f"Flood over a crest of {view.text(weir.length_m, 'stage', 2)}, intake and notch choked",
    )


# --- gates that measure -----------------------------------------------------------------------


def meters_words(study: Study, view: View) -> Words:
    """Gates and orifices as flow meters."""
    if not study.meters:
        return Words("")
    told = []
    for meter in study.meters:
        name = escape_markdown(meter.name)
        if meter.gaugings == 0:
            told.append(
                f"**The {name} as a flow meter.** It has not been gauged: the table takes the "
                f"usual coefficient {meter.gate.coefficient:.2f}, a tenth either way. Two or "
                "three gaugings at different flows make a meter of it."
            )
            continue
        scatter = (
            "; one gauging does not show how certain that is"
            if np.isnan(meter.gate.scatter)
            else f" ± {100 * meter.gate.scatter:.1g} % (one standard deviation of the gaugings)"
        )
        gauged = "one gauging" if meter.gaugings == 1 else counted(meter.gaugings, "gauging")
        told.append(
            f"**The {name} as a flow meter.** Fitted to {gauged}, its coefficient is "
            f"{meter.gate.coefficient:.2f}{scatter}. Read the water above and below it (its "
            "middle, where it falls free) and take the flow from the table."
        )
    return Words(" ".join(told))


def meters_table(study: Study, view: View) -> Table | Words:
    """Flow of each gate or orifice for a fall of the water across it."""
    rows, lifted = [], any(meter.kind == "gate" for meter in study.meters)
    for name, head, passes in meter_rows(study):
        flows = [view.text(each, "flow") for each in passes]
        blank = ["", ""] if lifted and len(flows) == 1 else []
        rows.append((name, view.text(head, "depth", 2), *blank, *flows))
    if not rows:
        return Words("")
    titles = ("lifted by a quarter", "by half", "wide open") if lifted else ("flow",)
    return Table(
        ("opening", "fall of the water across it", *titles), rows, "Openings as flow meters"
    )


# --- screens ----------------------------------------------------------------------------------


def screens_table(study: Study, view: View) -> Table | Words:
    """What each screen passes when so much of it is blocked."""
    rows = [
        (each.name, *(view.text(flow, "flow") for flow in each.passes_m3s))
        for each in screen_rows(study)
    ]
    if not rows:
        return Words("")
    return Table(
        ("screen", *(f"{100 * share:.0f} % blocked" if share else "clean" for share in BLOCKED)),
        rows,
        "What passes a screen as it clogs",
    )


_SOURCES = {"maker": "the manufacturer's value", "gauged": "gauged", "estimate": "an estimate"}


def _beside_theory(screen: InclinedAtLowWater) -> str:
    """Whether what it is rated for can be."""
    assert screen.theory_m3s is not None
    if screen.above_theory:
        return "**It is rated for more than either allows**: gauge it before you build on it. "
    if screen.clean_m3s < screen.theory_m3s[0]:
        return "It is rated for less than either gives: with leaves on it, or with care. "
    return "What it is rated for lies between them. "


def toe_words(study: Study, view: View) -> Words:
    """An inclined screen at low water: how much of it is wet, and what runs over its toe; a bottom
    rack by two theories."""
    told = []
    for each in inclined(study):
        text = (
            f"**The {escape_markdown(each.name)}** takes in {view.text(each.clean_m3s, 'flow')} "
            f"clean (± {100 * each.relative_uncertainty:.0f} %, being {_SOURCES[each.source]})"
        )
        text += f" and {view.text(each.drop_m, 'head', 2)} of head. " if each.drop_m else ". "
        if each.theory_m3s is not None:
            low, high = each.theory_m3s
            text += (
                "Two published theories of its slots place it between "
                f"{view.text(low, 'flow', 2)}, only the depth of the water pressing it through, "
                f"and {view.text(high, 'flow', 2)}, its whole energy head pressing; the edges of "
                f"tilted wires bring it nearer to the second. {_beside_theory(each)}"
            )
        if each.low_water_m3s is not None:
            length = (
                ""
                if each.wet_m is None
                else f", {view.text(each.wet_m, 'diameter', 2)} of its length,"
            )
            text += (
                f"At low water, {view.text(each.low_water_m3s, 'flow')}, "
                f"{100 * each.wet_share:.0f} % of it{length} "
                f"{'is' if each.wet_share < 1 else 'are'} wet, "
                + (
                    f"and {view.text(each.over_toe_m3s, 'flow')} run over the toe. "
                    if each.over_toe_m3s > 0
                    else "and nothing runs over its toe to carry leaves off: brush it then. "
                )
            )
        told.append(text + "It sheds leaves, not frazil.")
    for rack in bottom_racks(study):
        taken = view.text(rack.taken_m3s, "flow")
        told.append(
            f"**The {escape_markdown(rack.name)}** "
            + (
                f"passes {taken} clean, as measured, and that counts. "
                if rack.measured
                else f"is taken to swallow {taken} clean. "
            )
            + "Two published theories place it between "
            f"{view.text(rack.low_m3s, 'flow', 2)}, only the depth of the water pressing it "
            f"through, and {view.text(rack.high_m3s, 'flow', 2)}, its whole energy head pressing"
            + (
                "."
                if rack.measured
                else ": gauge it once, and give that as the capacity of the intake."
            )
        )
    return Words(" ".join(told))


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change at the weir."""
    weir = study.intake_weir
    if weir is None:
        return []
    rows = []
    notch = weir.notch
    if notch is not None and notch_levels(study) and (notch.width_m is None or notch.short_months):
        was = "" if notch.width_m is None else f"{view.text(notch.width_m, 'diameter', 2)} becomes "
        rows.append(
            (
                "a notch for the water that stays",
                "weir",
                (
                    f"{was}{view.text(notch.needed_m, 'diameter', 2)} wide, "
                    f"{view.text(notch.depth_m, 'diameter', 2)} below the crest of the intake"
                ),
                "it serves the creek before the intake",
            )
        )
    if weir.peak_depth_m > weir.banks_m:
        rows.append(
            (
                "higher banks or a longer crest",
                "weir",
                (
                    f"{view.text(weir.banks_m, 'stage', 2)} becomes "
                    f"{view.text(weir.peak_depth_m, 'stage', 2)} and a freeboard"
                ),
                "the flood goes round it",
            )
        )
    elif weir.freeboard_m <= LEAST_FREEBOARD_M:
        rows.append(
            (
                "higher banks or a longer crest",
                "weir",
                (
                    f"{view.text(weir.freeboard_m, 'stage', 2)} left above the flood, "
                    f"{view.text(LEAST_FREEBOARD_M, 'stage', 2)} is common practice"
                ),
                "too little for waves and floating wood",
            )
        )
    return rows
