"""Page 03, at the creek: the notch that leaves it its water, the flood over the weir, gates that measure, screens half blocked."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import series_text
from ....study.build.ladder import MONTHS
from ....study.questions.floods import flood_kind
from ....study.view import View
from ....works.open_channel import LEAST_FREEBOARD_M
from ....works.rated import as_built
from ....works.screen_parts import TiltedScreen
from ....works.state import State
from ...display import Table, Words, escape_markdown
from ..common import needs

__all__ = [
    "flood_table",
    "meters_table",
    "meters_words",
    "notch_table",
    "screens_table",
    "toe_words",
    "weir_words",
]

_BLOCKED = (0.0, 0.25, 0.5, 0.75, 0.9)


def weir_words(study: Any, view: View) -> Words:
    """What the notch leaves the creek before the intake takes any, and how deep a flood stands over it all."""
    weir = study.intake_weir
    if weir is None:
        if "intake_weir" in study.refused:
            return Words(
                f"**This could not be worked out.** {escape_markdown(view.told(study.refused['intake_weir']))}."
            )
        return Words(
            "*Not shown: no weir is described. Measure the length of its crest (weir_length under [intake]), the height of the banks beside it, and from the sill of a notch up to the lip of the intake (notch_depth).*"
        )
    return Words(f"{_notch(study, view)} {_flood(study, view)}".strip())


def _notch(study: Any, view: View) -> str:
    notch = study.intake_weir.notch
    if notch is None:
        if not study.site["rights.residual"]:
            return "**Notch.** Nothing says yet what must stay in the creek, so no notch can be sized for it."
        return "**Notch.** A notch whose sill lies below the lip of the intake serves the creek first, whoever watches; give the height from its sill to the lip, and its width follows."
    most, depth = float(np.max(notch.keep_m3s)), view.text(notch.depth_m, "diameter", 2)
    if most == 0:
        return "**Notch.**" + (
            _SHARE.replace(" as well", "")
            if np.any(study.rights.share_left > 0)
            else " The rules leave nothing in the creek that a notch must pass."
        )
    text = f"**Notch.** With the water at the lip of the intake, {depth} over its sill, "
    if notch.width_m is None:
        text += f"a notch of {view.text(notch.needed_m, 'diameter', 2)} passes the {view.text(most, 'flow')} that must stay at the most; only what comes beyond that can enter the intake. "
    else:
        text += f"the notch, {view.text(notch.width_m, 'diameter', 2)} wide, passes {view.text(notch.before_the_intake_m3s, 'flow')} before the intake takes any. "
        short = notch.short_months
        if short:
            text += f"That is **too little {_in_months(short)}**: the {view.text(most, 'flow')} that must stay need {view.text(notch.needed_m, 'diameter', 2)}. "
        else:
            text += f"That is enough: {view.text(most, 'flow')} must stay at the most. "
    text += "± 10 %; gauge it once. As the creek rises the notch passes more, and a leaf mat in it passes less, so look at it whenever you look at the screen."
    if np.any(study.rights.share_left > 0):
        text += _SHARE
    return text


_SHARE = " A share of the flow must stay as well: that no notch can measure, it needs a parting of the water, side by side."


def _in_months(months: Any) -> str:
    """Months in words, those left out where they are fewer."""
    if len(months) == 12:
        return "in every month"
    left = [month for month in range(1, 13) if month not in months]
    named = series_text([MONTHS[month - 1] for month in (months if len(months) <= 6 else left)])
    return f"in {named}" if len(months) <= 6 else f"in all months but {named}"


def _large(view: View, flow_m3s: float) -> str:
    """A flood, in the unit of rivers."""
    return view.text(flow_m3s, flood_kind(flow_m3s))


def _flood(study: Any, view: View) -> str:
    weir = study.intake_weir
    if weir.flood_m3s is None:
        return f"**Flood.** No flood is known. At a depth of {view.text(0.5, 'stage', 2)} over its whole crest the weir passes {_large(view, float(weir.flow_si(0.5)))}: hold that against the highest mark you can find, and give the flood."
    depth = view.text(weir.peak_depth_m, "stage", 2)
    if weir.flood_is == "daily means":
        text = f"**Flood.** The mean flow of the day that is exceeded once in {view.shown(study.answer('flood.return_period'))} is {view.shown(study.answer('flood.intake'))}; the peak of a small creek is often twice its day's mean, {view.shown(study.answer('flood.weir'))}, and then stands {depth} over the crest. "
    else:
        text = f"**Flood.** The flood of {view.shown(study.answer('flood.weir'))} stands {depth} over the crest. "
    if np.isnan(weir.banks_m):
        text += "How high the banks beside it stand is not given: level them, for what goes round a weir takes the bank with it. "
    elif weir.peak_depth_m > weir.banks_m:
        text += f"**The banks stand only {view.text(weir.banks_m, 'stage', 2)}**, so that it goes round the weir: a longer crest or higher walls. "
    else:
        text += f"The banks stand {view.text(weir.banks_m, 'stage', 2)}: {view.text(weir.freeboard_m, 'stage', 2)} are left{'' if weir.freeboard_m > LEAST_FREEBOARD_M else ', too little for waves and floating wood'}. "
    return text + "A weir is a dam: its flood is for those licensed to judge it."


def notch_table(study: Any, view: View) -> Any:
    """Level over the sill of the notch, and what it passes then."""
    weir = study.intake_weir
    if weir is None or weir.notch is None or float(np.max(weir.notch.keep_m3s)) == 0:
        return Words("")
    notch = weir.notch
    marks = {}
    for keep in np.unique(notch.keep_m3s[notch.keep_m3s > 0]):
        name = f"what must stay {_in_months(np.flatnonzero(notch.keep_m3s == keep) + 1)}"
        marks[round(float(notch.head_si(keep)), 6)] = name
    lip = round(notch.depth_m, 6)
    marks[lip] = "; ".join(filter(None, (marks.get(lip, ""), "lip of the intake")))
    marks[round(1.5 * notch.depth_m, 6)] = "the intake running"
    for share in (0.25, 0.5, 0.75):
        if all(abs(mark / (share * notch.depth_m) - 1) > 0.1 for mark in marks):
            marks[round(share * notch.depth_m, 6)] = ""
    rows = [
        (view.text(head, "diameter", 2), view.text(float(notch.flow_si(head)), "flow"), told)
        for head, told in sorted(marks.items())
    ]
    width = view.text(notch.used_m, "diameter", 2)
    return Table(
        ("water over its sill", "it passes", ""),
        rows,
        f"The notch, {width} wide: for a board beside it",
    )


def flood_table(study: Any, view: View) -> Any:
    """Flood and its depth over the crest."""
    weir = study.intake_weir
    if weir is None or weir.flood_m3s is None:
        return Words("")
    low, middle, high = weir.flood_m3s
    mean = "mean of the day, " if weir.flood_is == "daily means" else ""
    named = (
        [
            (f"{mean}least it may be", low),
            (f"{mean}most likely", middle),
            (f"{mean}most it may be", high),
        ]
        if high > low
        else [(f"{mean}as given", middle)]
    )
    if weir.flood_is == "daily means":
        named.append(("momentary peak, twice the most likely", weir.peak_m3s))
    keyed = (
        {middle: "flood.intake", weir.peak_m3s: "flood.weir"}
        if weir.flood_is == "daily means"
        else {middle: "flood.weir"}
    )
    rows = [
        (
            name,
            view.shown(study.answer(keyed[flow])) if flow in keyed else _large(view, flow),
            view.text(float(weir.depth_si(flow)), "stage", 2),
        )
        for name, flow in named
    ]
    return Table(
        ("flood", "flow", "depth over the crest"),
        rows,
        f"Flood over a crest of {view.text(weir.length_m, 'stage', 2)}, intake and notch choked",
    )


# --- gates that measure -----------------------------------------------------------------------


def meters_words(study: Any, view: View) -> Words:
    """Gates and orifices as flow meters."""
    if not study.meters:
        return Words("")
    told = []
    for meter in study.meters:
        name = escape_markdown(meter.name)
        if meter.gaugings == 0:
            told.append(
                f"**The {name} as a flow meter.** It has not been gauged: the table takes the usual coefficient {meter.gate.coefficient:.2f}, a tenth either way. Two or three gaugings at different flows make a meter of it."
            )
            continue
        doubt = (
            "; one gauging does not say how sure that is"
            if np.isnan(meter.gate.scatter)
            else f"; the gaugings stray {100 * meter.gate.scatter:.1g} % from it"
        )
        counted = "one gauging" if meter.gaugings == 1 else f"{meter.gaugings} gaugings"
        told.append(
            f"**The {name} as a flow meter.** Fitted to {counted}, its coefficient is {meter.gate.coefficient:.2f}{doubt}. Read the water above and below it (its middle, where it falls free) and take the flow from the table."
        )
    return Words(" ".join(told))


def meters_table(study: Any, view: View) -> Any:
    """Flow of each gate or orifice for a fall of the water across it."""
    rows, lifted = [], any(meter.kind == "gate" for meter in study.meters)
    for meter in study.meters:
        for head in meter.heads_m:
            flows = [
                view.text(float(meter.gate.flow_si(lift, head)), "flow") for lift in meter.lifts_m
            ]
            rows.append(
                (
                    meter.name,
                    view.text(head, "stage", 2),
                    *(flows if len(flows) == 3 else ["", "", *flows] if lifted else flows),
                )
            )
    if not rows:
        return Words("")
    titles = ("lifted by a quarter", "by half", "wide open") if lifted else ("flow",)
    return Table(
        ("opening", "fall of the water across it", *titles), rows, "Openings as flow meters"
    )


# --- screens ----------------------------------------------------------------------------------


def _screens(study: Any) -> list[Any]:
    from ....study.build.clogging import catches

    return [part for part in study.supply if catches(part)]


@needs("supply", quiet=True)
def screens_table(study: Any, view: View) -> Any:
    """What each screen passes when so much of it is blocked."""
    screens = _screens(study)
    if not screens:
        return Words("")
    rows = [
        (
            part.name,
            *(
                view.text(float(part.capacity_si(State(clogged=share))), "flow")
                for share in _BLOCKED
            ),
        )
        for part in screens
    ]
    return Table(
        ("screen", *(f"{100 * share:.0f} % blocked" if share else "clean" for share in _BLOCKED)),
        rows,
        "What passes a screen as it clogs",
    )


@needs("supply", quiet=True)
def toe_words(study: Any, view: View) -> Words:
    """A tilted screen at low water: how much of it is wet, and what runs over its toe."""
    told = []
    for part in study.supply:
        if not isinstance(as_built(part), TiltedScreen):
            continue
        name, doubt = (
            escape_markdown(part.name),
            f"± {100 * part.relative_doubt:.0f} %, being "
            + {"maker": "the maker's figure", "gauged": "gauged", "estimate": "an estimate"}[
                part.source
            ],
        )
        text = f"**The {name}** takes in {view.text(float(part.capacity_si()), 'flow')} clean ({doubt})"
        text += f" and {view.text(part.drop_m, 'head', 2)} of head. " if part.drop_m else ". "
        low = _low_water(study)
        if low is not None:
            share = float(part.wetted_length_si(low)) / part.length_m
            over = float(part.over_the_toe_si(low))
            length = (
                f", {view.text(share * part.length_m, 'diameter', 2)} of its length,"
                if _length_given(study, part.name)
                else ""
            )
            text += (
                f"At low water, {view.text(low, 'flow')}, {100 * share:.0f} % of it{length} {'is' if share < 1 else 'are'} wet, "
                + (
                    f"and {view.text(over, 'flow')} run over the toe. "
                    if over > 0
                    else "and nothing runs over its toe to carry leaves off: brush it then. "
                )
            )
        told.append(text + "It sheds leaves, not frazil.")
    return Words(" ".join(told))


def _low_water(study: Any) -> float | None:
    if study.usable is not None:
        return float(np.nanquantile(study.usable, 0.05))
    return None if study.gaugings is None else float(study.gaugings.flow_m3s.min())


def _length_given(study: Any, name: str) -> bool:
    from ....study.build.part_names import part_name

    return any(part_name(entry) == name and "length" in entry for entry in study.site["part"])


def changes(study: Any, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change at the weir."""
    weir, rows = study.intake_weir, []
    if weir is None:
        return rows
    notch = weir.notch
    if (
        notch is not None
        and float(np.max(notch.keep_m3s)) > 0
        and (notch.width_m is None or notch.short_months)
    ):
        was = "" if notch.width_m is None else f"{view.text(notch.width_m, 'diameter', 2)} becomes "
        rows.append(
            (
                "a notch for the water that stays",
                "weir",
                f"{was}{view.text(notch.needed_m, 'diameter', 2)} wide, {view.text(notch.depth_m, 'diameter', 2)} below the lip",
                "it serves the creek before the intake",
            )
        )
    if weir.peak_depth_m > weir.banks_m:
        rows.append(
            (
                "higher banks or a longer crest",
                "weir",
                f"{view.text(weir.banks_m, 'stage', 2)} becomes {view.text(weir.peak_depth_m, 'stage', 2)} and a freeboard",
                "the flood goes round it",
            )
        )
    elif weir.freeboard_m <= LEAST_FREEBOARD_M:
        rows.append(
            (
                "higher banks or a longer crest",
                "weir",
                f"{view.text(weir.freeboard_m, 'stage', 2)} left above the flood, {view.text(LEAST_FREEBOARD_M, 'stage', 2)} is common practice",
                "too little for waves and floating wood",
            )
        )
    return rows
