"""Page 03, the diversion line: air in it, whether it starts, what it passes, how to fill it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.diversion import siphon_most
from ....study.study import Study
from ....study.view import View
from ...display import Words
from ..common import level, needs
from .line_figure import line_figure
from .phrases import place, shown_flow

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ....works.diversion import LineAir

__all__ = ["line_figure", "outlet_words", "pockets_words", "regime_words", "start_words"]


def places(view: View, vents_m: Iterable[float]) -> str:
    return series_text([place(view, vent) for vent in vents_m])


@needs(Study.line_air, quiet=True)
def regime_words(study: Study, view: View, air: LineAir) -> Words:
    """Question 1: how it runs."""
    found = air.regime
    carried = study.answer("capacity.line")
    inlet, full = (
        shown_flow(view, carried, each) for each in (found.inlet_m3s, found.full_bore_m3s)
    )
    if found.kind == "full":
        text = (
            f"The pipe inlet lets in {inlet}, more than the {full} that the full bore carries: "
            "the line runs full, and its bore governs."
        )
    else:
        if found.kind == "part full":
            first = (
                "It falls steadily, or dips by less than its bore: where it is not full, air has "
                "a free way along the crown, and nothing locks."
            )
        else:
            first = (
                "Its low points stand full while the falling legs between them have bore to spare"
            )
            first += (
                ", so that air can be shut in behind the high points."
                if air.filling.pockets
                else "; yet behind no high point can air be shut in."
            )
        text = (
            f"{first} What comes in at the pipe inlet, screen included, "
            f"{'is' if air.priming else 'governs:'} {inlet}."
        )
        if not air.priming:
            text += (
                f" Filled behind a shut gate, the full bore would draw {full}, "
                f"{plain_number(found.full_bore_m3s / found.inlet_m3s, 2)} times as much: open "
                "the gate of a filled line slowly, or it pulls the pond down."
            )
    if found.tight_m and found.kind != "full":
        tight = series_text([f"{place(view, a)} to {place(view, b)}" for a, b in found.tight_m[:3]])
        text += f" At that flow there is no bore to spare from {tight}."
    return Words(f"**1. How does it run?** {text}{_priming(study, view, air)}")


def _priming(study: Study, view: View, air: LineAir) -> str:
    """The tightest falling leg open to air: its flow unprimed and primed, which holds, what primes it."""
    leg = min(air.priming, key=lambda each: each.unprimed_m3s, default=None)
    if leg is None:
        return ""
    carried = study.answer("capacity.line")
    over, primed = (shown_flow(view, carried, each) for each in (leg.unprimed_m3s, leg.primed_m3s))
    text = (
        f" **At {place(view, leg.high_point_m)} the high point is a weir open to air:** unprimed, "
        f"its falling leg full of air, it lets {over} pass; primed, full of water, the line draws "
        f"{primed}. The published laws place the flow that carries this leg's air away at "
        f"{view.range(leg.low_m3s, leg.high_m3s, 'flow')}; the unprimed flow runs at "
        f"{plain_number(leg.froude, 2)} of √(gD). "
    )
    if leg.primes_itself:
        return f"{text}All of them say it goes, so the line primes itself."
    if study.site.diversion.outlet == "gated":
        return (
            f"{text}Filled behind its shut gate, with the vent at the high point open, it is "
            "primed; air that gathers there brings it back to the lesser flow."
        )
    today = 0.0 if carried is None else float(carried.value)
    if np.isclose(today, leg.unprimed_m3s, rtol=1e-6):
        text += "Today the lesser holds. "
    elif today > leg.unprimed_m3s:
        text += "Readings show that more comes through, so somebody primed it. "
    return (
        f"{text}A gate at its end, shut while it fills with the vent at the high point open, "
        "primes it; so do suction or a hose at the high point. After each stop it must be primed "
        "again."
    )


@needs(Study.line_air, quiet=True)
def start_words(study: Study, view: View, air: LineAir) -> Words:
    """Question 2: whether it starts, and what frees it."""
    walked, line = air.filling, air.line
    uncertainty = view.text(walked.uncertainty_m, "head", 1)
    held = series_text(
        [
            f"{view.text(each.height_m, 'head', 2)} behind {place(view, each.high_point_m)}"
            for each in walked.pockets
        ]
    )
    if walked.stalls_m is None:
        if not walked.pockets:
            text = "It starts by itself: behind no high point can water shut air in"
        else:
            text = f"It starts by itself, although air takes {held}"
        text += (
            f". The tightest place is at {place(view, walked.decides_m)}, with "
            f"{view.text(walked.margin_m, 'head', 2)} of head as margin, ± {uncertainty} for the "
            "survey."
        )
        return Words(f"**2. Will it start?** {text}")
    short = walked.source_needed_m - line.source_level_m
    lacking = (
        f"there {view.shown(study.answer('air.lacking'))} of head are lacking, ± "
        f"{view.text(walked.lacking_uncertainty_m, 'head', 1)} for the survey"
    )
    if walked.decides_m != walked.stalls_m:
        lacking += (
            f"; further down, at {place(view, walked.decides_m)}, it would be "
            f"{view.text(-walked.margin_m, 'head', 2)}"
        )
    text = f"**Filled from the top, it stalls at {place(view, walked.stalls_m)}.** "
    if walked.climb_m > 0:
        text += (
            f"The line stands {view.text(walked.climb_m, 'head', 2)} above the pond there: only a "
            f"pump or suction gets water over it ({lacking}). "
        )
    else:
        text += (
            "Water that backs up from the next low point traps air behind the high points: "
            f"{held}. Together with the climb that is more than the pond stands above "
            f"({lacking}). "
        )
    text += (
        f"A pond at {level(view, walked.source_needed_m)} would carry the water through, "
        f"{view.text(short, 'head', 2)} above where it stands"
    )
    if walked.vents_m:
        worth = {pocket.high_point_m: pocket.worth_m for pocket in walked.pockets}
        told = series_text(
            [
                f"{place(view, vent)} (it gives back {view.text(worth[vent], 'head', 2)} there)"
                if worth.get(vent, 0) > 0
                else place(view, vent)
                for vent in walked.vents_m
            ]
        )
        text += (
            f"; so does letting the air out at {told} while it fills: a plugged vent, opened with "
            "the gate shut and plugged again when it runs solid."
        )
    else:
        text += "; no vent is enough."
    if study.exists:
        way = (
            "by suction, a pump or a higher pond"
            if walked.climb_m > 0
            else "by a loosened coupling or a higher pond"
        )
        text += (
            f" If it runs today, it was got past this once, {way}; after each stop it must be got "
            "past again."
        )
    return Words(f"**2. Will it start?** {text}")


@needs(Study.line_air, quiet=True)
def pockets_words(study: Study, view: View, air: LineAir) -> Words:
    """Question 3: what flows with pockets left."""
    wanted, first, advised = air.flow_m3s, air.ventings[0], air.advised
    if air.filling.climb_m > 0:
        most = siphon_most(study)
        text = (
            "It is a siphon: sucked or pumped full and free of air, it carries "
            f"{view.text(most, 'flow')} at the most; the air that gathers at its high point "
            "breaks it, sooner or later."
        )
        if most == 0:
            text = "It is a siphon higher than the air can push water here: it never runs, whatever fills it."
    elif not air.filling.pockets:
        most = siphon_most(study)
        bore = min(first.flow_m3s, most)
        full = shown_flow(view, study.answer("capacity.line"), bore)
        held = most < first.flow_m3s * (1 - _SAME)
        today = _today(study, view, air, bore)
        if today or held:
            text = f"No pockets can stay.{today} Primed, it would carry {full}" + (
                " at the most: for more than that its column would part under suction."
                if held
                else " through its whole bore."
            )
        else:
            primed = ", once it is primed" if air.priming else ""
            text = f"No pockets can stay, so the whole bore counts{primed}: {full}."
    else:
        started = next((each for each in air.ventings if each.starts), None)
        if started is None or advised is None:
            text = (
                "No vent at a high point gets it started; without any air the bore would carry "
                f"{view.text(air.line.full_bore_m3s, 'flow')}."
            )
        else:
            lead = (
                f"Vented at {places(view, started.vents_m)} it starts"
                if started.vents_m
                else "As it is, it starts"
            )
            flow = shown_flow(view, study.answer("capacity.line"), started.flow_m3s)
            text = f"{lead} and passes {flow}, no air left in it. "
            if started.air_m >= _NO_AIR_M:
                text = (
                    f"{lead} and passes {flow} with the air that stays, which takes "
                    f"{view.text(started.air_m, 'head', 2)} of head"
                )
                text += f"{_grown(air, view) if not started.vents_m else ''}. "
            if not started.vents_m:
                text += f"{_today(study, view, air, started.flow_m3s)} ".lstrip()
            if advised.flow_m3s < wanted:
                text += (
                    f"Even with every vent it passes {view.text(advised.flow_m3s, 'flow')}, less "
                    f"than the {view.text(wanted, 'flow')} required of it."
                )
            elif advised is started:
                text += f"That is enough for the {view.text(wanted, 'flow')} required of it."
            else:
                text += (
                    f"For the {view.text(wanted, 'flow')} required of it, let the air out at "
                    f"{places(view, advised.vents_m)}: then it passes "
                    f"{view.text(advised.flow_m3s, 'flow')}."
                )
    return Words(f"**3. What flows with pockets left?** {text}")


_NO_AIR_M = 0.01  # of head: less is not told
_SAME = 1e-3  # of a flow


def _today(study: Study, view: View, air: LineAir, told_m3s: float) -> str:
    """What the line carries today, where something else than its air holds it under the flow told."""
    carried = study.answer("capacity.line")
    if carried is None or not 0 < carried.value < told_m3s * (1 - _SAME):
        return ""
    why = ", unprimed" if air.priming else ": the pipe inlet, with air behind it, lets in no more"
    return f" As it runs today it can carry {view.shown(carried)}{why}."


def _grown(air: LineAir, view: View) -> str:
    """How much of what the pockets take is their regrowth in running water, where that counts."""
    still = sum(each.height_m for each in air.filling.pockets)
    grown = air.running.air_m - still
    if grown < _NO_AIR_M:
        return ""
    return (
        f", {view.text(grown, 'head', 2)} of it because friction takes pressure off the pockets "
        "and lets them grow"
    )


@needs(Study.line_air, quiet=True)
def outlet_words(study: Study, view: View, air: LineAir) -> Words:
    """Question 5: the outlet; and the inlet."""
    end, inlet = air.outlet, air.inlet
    flow = shown_flow(view, study.answer("capacity.line"), air.today_m3s)
    if end.sealed:
        text = (
            f"Its crest at {level(view, air.line.outlet_level_m)} stands above the crown and "
            f"seals it; at {flow} the line stands full from {place(view, end.full_from_m)} down "
            "to the end."
        )
    else:
        told = {
            "air escapes upwards": "air climbs freely back up the line",
            "air can creep in": "air can creep back in along the crown",
            "air is kept out": "the flow is fast enough to keep air out",
            "the end runs full": "the end itself runs full",
        }[end.event]
        text = f"It discharges freely; at {flow} {told}."
        if end.event in ("air escapes upwards", "air can creep in"):
            text += (
                " In a line that runs part full that does no harm; where low points hold air, "
                "an upturned end with its crest above the crown keeps it out."
                if not air.filling.pockets
                else " An upturned end with its crest above the crown would keep it out."
            )
    gate = end.throttle
    if gate.flow_m3s == 0:
        text += (
            f" At {place(view, gate.decides_m)} the crown stands above the pond, so no gate can "
            "keep it under pressure."
        )
    elif gate.flow_m3s < air.flow_m3s:
        text += (
            " To keep the hydraulic grade line above the crown everywhere it must be throttled to "
            f"{view.text(gate.flow_m3s, 'flow')}, a gate taking "
            f"{view.text(gate.gate_head_m, 'head', 2)}; {place(view, gate.decides_m)} decides."
        )
    else:
        text += (
            " The hydraulic grade line clears the crown everywhere up to "
            f"{view.text(gate.flow_m3s, 'flow')}."
        )
    if inlet.draws_air:
        text += (
            f" The pipe inlet has {view.text(inlet.cover_m, 'stage', 2)} of water over its axis "
            f"and needs about {view.text(inlet.needed_m, 'stage', 2)}: it draws bubbles in, which "
            "gather at the high points."
        )
    else:
        text += (
            f" The pipe inlet has water enough over it ({view.text(inlet.cover_m, 'stage', 2)}; "
            f"about {view.text(inlet.needed_m, 'stage', 2)} is needed)."
        )
    return Words(f"**5. What does the outlet do?** {text}")


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change on the line: what, where, how much, why."""
    air = study.line_air
    if air is None:
        return []
    walked, rows = air.filling, []
    if walked.stalls_m is not None:
        worth = {pocket.high_point_m: pocket.worth_m for pocket in walked.pockets}
        for vent in walked.vents_m or ():
            rows.append(
                (
                    "plugged vent on the diversion line",
                    place(view, vent),
                    f"gives back {view.text(worth.get(vent, 0.0), 'head', 2)}",
                    f"filled from the top it stalls at {place(view, walked.stalls_m)}",
                )
            )
        if not walked.vents_m:
            why = (
                f"it stands above the pond at {place(view, walked.stalls_m)}"
                if walked.climb_m > 0
                else "no vent is enough to start the line"
            )
            what = (
                "a higher pond, or the line laid lower" if walked.climb_m > 0 else "a higher pond"
            )
            rows.append((what, "intake", f"{level(view, walked.source_needed_m)}", why))
    freed, advised = next((each for each in air.ventings if each.starts), None), air.advised
    if freed is not None and advised is not None and len(advised.vents_m) > len(freed.vents_m):
        new = [vent for vent in advised.vents_m if vent not in freed.vents_m]
        rows.append(
            (
                "plugged vent on the diversion line",
                places(view, new),
                f"{view.text(freed.flow_m3s, 'flow')} becomes {view.text(advised.flow_m3s, 'flow')}",
                "air left in it holds the flow back",
            )
        )
    if (
        air.line.full_bore_m3s < air.flow_m3s * (1 + 1e-9)
        and (study.full_flow_m3s or 0.0) > air.line.full_bore_m3s
    ):
        rows.append(
            (
                "a wider diversion line",
                "all of it",
                f"passes {view.text(air.line.full_bore_m3s, 'flow')}",
                "less than the jets take",
            )
        )
    if air.inlet.draws_air:
        rows.append(
            (
                "a deeper or wider pipe inlet",
                "intake",
                f"{view.text(air.inlet.needed_m - air.inlet.cover_m, 'stage', 2)} more water over it",
                "it draws in air",
            )
        )
    if abs(walked.margin_m) < 2 * walked.uncertainty_m:
        rows.append(
            (
                "a better survey",
                place(view, walked.decides_m),
                (
                    f"margin {view.text(walked.margin_m, 'head', 2)}, uncertainty "
                    f"{view.text(walked.uncertainty_m, 'head', 1)}"
                ),
                "levels decide whether it starts",
            )
        )
    return rows
