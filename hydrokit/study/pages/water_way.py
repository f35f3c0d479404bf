"""Page 03: the water's way from creek to jets: the penstock, what every part passes, what to change."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...works.profile import siphon_limit
from ..display import Picture, Table, View, Words, escape_markdown, series_text
from ..ladder import MONTHS, NO_PART, binding, month_groups, openings, rungs
from ..machines_site import opened
from ..style import (
    CREEK,
    GROUND,
    ICE,
    INK,
    LEAF,
    PALE,
    RUST,
    SUN,
    WARNING,
    figure,
    legend_above,
    plain_label,
)
from ..works_site import ground
from . import frost, holding, intake, line_air, pond, silt
from .common import level, needs, sources

__all__ = [
    "changes_table",
    "fish_words",
    "headline",
    "ladder_figure",
    "ladder_table",
    "ladder_words",
    "months_table",
    "references",
    "section_figure",
    "section_words",
]


def headline(study: Any, view: View) -> Words:
    """The answer in two or three sentences."""
    air, told = study.line_air, []
    if air is not None and air.filling.stalls_m is not None:
        text = f"**The diversion line, filled from the top, stalls at {view.text(air.filling.stalls_m, 'length')}"
        if air.filling.vents_m:
            vents = series_text([view.text(vent, "length") for vent in air.filling.vents_m])
            text += f"; {'plugged vents' if len(air.filling.vents_m) > 1 else 'a plugged vent'} at {vents} {'free' if len(air.filling.vents_m) > 1 else 'frees'} it**"
        elif air.filling.climb_m > 0:
            text += f"; it stands above the pond there, so that only suction, a pump or a pond at {level(view, air.filling.source_needed_m)} gets water over it**"
        else:
            text += f"; only a pond at {level(view, air.filling.source_needed_m)} would carry the water through**"
        told.append(
            f"{text} ({view.shown(study.answer('air.lacking'))} of head are lacking there, ± {view.text(air.filling.lacking_doubt_m, 'head', 1)} for the survey)."
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
        told.append(_binding_sentence(study, view))
    if study.pressures is not None:
        told.append(_pressure_sentence(study, view))
    if not told:
        return Words(
            "**Not known yet.** Neither a diversion line nor a penstock is described: survey them, and give their bore; then this page tells whether the water comes down, and what holds it back."
        )
    return Words(" ".join(told))


def _binding_sentence(study: Any, view: View) -> str:
    clean = binding(study)
    text = f"With water enough and all clean, **{_the(clean.part)}** {_bind(clean.part)} the plant at {view.shown(study.answer('limiting.flow'))}"
    if clean.jets_bind and clean.next_part != clean.least_above and clean.least_above:
        text += f"; of the parts above {'them' if _bind(clean.part) == 'limit' else 'it'} {_the(clean.least_above)} passes least, {view.text(clean.least_above_m3s, 'flow')}"
    elif clean.next_m3s is not None:
        text += f", next {_the(clean.next_part)} at {view.text(clean.next_m3s, 'flow')}"
    for months, worst in _starved(study, clean)[:1]:
        text += f"; clogged in {MONTHS[months[0] - 1]}, {_the(worst.part)} lets only {view.text(worst.flow_m3s, 'flow')} through"
    return text + "."


def _bind(name: str) -> str:
    return "limit" if name.endswith(("jets", "machines")) else "limits"


def _the(name: str) -> str:
    return f"the {escape_markdown(name)}" if not name.startswith("the ") else escape_markdown(name)


def _capital(text: str) -> str:
    """The first letter of a sentence, the rest as it is written."""
    return text[0].upper() + text[1:]


def _pressure_sentence(study: Any, view: View) -> str:
    held = study.pressures
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
    return f"{text}. {_siphon_sentence(study, view)}".strip()


def _siphon_sentence(study: Any, view: View) -> str:
    """Where the penstock itself stands above its pond; nothing is said where it does not."""
    above = study.section.above_source
    if not above:
        return ""
    return f"**It stands above its pond from {_from_to(view, above)}**: it fills only as a siphon, by suction or a pump, and loses it to the first air."


def _from_to(view: View, stretches: Any) -> str:
    return series_text(
        [f"{view.text(a, 'length')} to {view.text(b, 'length')}" for a, b in stretches]
    )


# --- the penstock drawn -----------------------------------------------------------------------


@needs("section")
def section_figure(study: Any, view: View) -> Picture:
    """Pipe, ground, grade lines; below them pressure against rating."""
    section, held = study.section, study.pressures
    x = view.number(section.distance_m, "length")

    def shown(metres: Any) -> Any:
        return view.number(metres, "length")

    weight = float(
        (section.static_pressure_pa[-1]) / (section.static_grade_m[-1] - section.elevation_m[-1])
    )
    with figure(7.6, 6.2, 2, 1, sharex=True, height_ratios=(3, 2)) as (made, (axes, below)):
        floor = section.elevation_m.min() - 0.08 * float(np.ptp(section.elevation_m))
        surveyed = ground(study.folder, study.site["penstock"])
        soil = (
            section.elevation_m + study.site["penstock"].get("cover", 0.0)
            if surveyed is None
            else np.interp(section.distance_m, study.profile.distance_m, surveyed)
        )
        axes.fill_between(
            x,
            shown(floor),
            shown(soil),
            color=GROUND,
            alpha=0.18,
            linewidth=0,
            label="ground" if surveyed is not None else "ground, from the pipe's cover",
        )
        axes.plot(
            x,
            shown(section.static_grade_m),
            color=ICE,
            linewidth=1.2,
            linestyle=(0, (5, 2)),
            label="static grade",
        )
        axes.plot(
            x,
            shown(section.running_grade_m),
            color=LEAF,
            linewidth=1.4,
            label=f"running grade at {view.text(study.full_flow_m3s, 'flow')}",
        )
        if held.closing_time_s is not None:
            axes.plot(
                x,
                shown(section.elevation_m + held.highest_pa / weight),
                color=RUST,
                linewidth=1.0,
                linestyle=(0, (2, 1.5)),
                label="highest, valve closing",
            )
            lowest = section.elevation_m + held.lowest_pa / weight
            if np.any(
                lowest < section.running_grade_m - 0.01 * study.head.value
            ):  # slower closings never go below the running grade
                axes.plot(
                    x,
                    shown(lowest),
                    color=RUST,
                    linewidth=0.9,
                    linestyle=(0, (1, 2)),
                    label="lowest, valve closing",
                )
        axes.plot(x, shown(section.elevation_m), color=CREEK, linewidth=2.6, label="pipe")
        _mark_stretches(study, axes, section, shown)
        labelled = False
        for start, end in section.below_atmosphere:
            inside = np.linspace(start, end, 20)
            axes.plot(
                shown(inside),
                shown(np.interp(inside, section.distance_m, section.elevation_m)),
                color=WARNING,
                linewidth=4,
                label=None if labelled else "crown above the grade line",
            )
            labelled = True
        axes.set(ylabel=view.header("level", "length"), xlim=(0, float(x[-1]) * 1.01))
        axes.set_ylim(bottom=float(shown(floor)))
        axes.ticklabel_format(axis="y", useOffset=False)
        legend_above(axes, 3)
        _pressure_panel(view, below, x, held)
    foot = view.shown(study.answer("pressure.highest"))
    return Picture(
        made,
        f"Long section of the penstock, {view.text(section.distance_m[-1], 'length')} long with {view.text(study.head.value, 'head')} of head, and the pressure along it, up to {foot}, against the pipe's rating.",
    )


def _mark_stretches(study: Any, axes: Any, section: Any, shown: Any) -> None:
    """Pipe that hangs free or lies bare, where frost bites first."""
    if study.frost is None:
        return
    spans = {each.name for each in study.bridges}
    seen = set()
    for told in study.frost.stretches:
        stretch = told.stretch
        if stretch.line != "penstock" or not (stretch.bare or stretch.name in spans):
            continue
        if stretch.end_m - stretch.start_m > 0.9 * float(section.distance_m[-1]):
            continue  # a line that lies bare all along is told in words
        inside = np.linspace(stretch.start_m, stretch.end_m, 12)
        levels = np.interp(inside, section.distance_m, section.elevation_m)
        label = "hangs free, bare to frost" if stretch.name in spans else "bare to frost"
        axes.plot(
            shown(inside),
            shown(levels),
            color=SUN,
            linewidth=5,
            solid_capstyle="butt",
            label=None if label in seen else label,
        )
        axes.annotate(
            plain_label(stretch.name),
            (float(shown(inside[0])), float(shown(levels[0]))),
            xytext=(0, -20),
            textcoords="offset points",
            ha="right",
            fontsize=8,
        )
        seen.add(label)


def _pressure_panel(view: View, axes: Any, x: Any, held: Any) -> None:
    axes.plot(x, view.number(held.static_pa, "pressure"), color=CREEK, label="at rest")
    if held.closing_time_s is not None:
        axes.plot(
            x,
            view.number(held.highest_pa, "pressure"),
            color=RUST,
            label=f"highest, closed in {view.text(held.closing_time_s, 'time', 2)}",
        )
    known = np.isfinite(held.rating_pa)
    if known.any():
        rating = view.number(held.rating_pa, "pressure")
        axes.plot(
            x,
            rating,
            color=INK,
            linestyle=(0, (6, 2)),
            linewidth=1.3,
            drawstyle="steps-mid",
            label="rating, derated",
        )
        over = known & (held.highest_pa > held.rating_pa)
        axes.fill_between(
            x,
            rating,
            view.number(held.highest_pa, "pressure"),
            where=over,
            color=WARNING,
            alpha=0.5,
            linewidth=0,
            label="above the rating" if over.any() else None,
        )
    axes.set(
        xlabel=view.header("distance along the pipe", "length"),
        ylabel=view.header("gauge pressure", "pressure"),
    )
    axes.set_ylim(bottom=0)
    legend_above(axes, 4)


@needs("section", quiet=True)
def section_words(study: Any, view: View) -> Words:
    """Losses, pressure against rating, suction, mouth."""
    section, held = study.section, study.pressures
    lost = section.lost_head_m
    guessed = (
        ""
        if study.plant is not None
        else " (no jets are described: this is the least of the licence, the intake and what costs a tenth of the head)"
    )
    text = (
        f"At {view.text(study.full_flow_m3s, 'flow')}{guessed} the penstock takes {view.shown(study.answer('loss.penstock'))} of its {view.shown(study.answer('head.gross'))} ({100 * lost / study.head.value:.0f} %){_left(study, view)}{_beside(study, view)}, "
        f"its water running at {view.text(held.velocity_ms, 'velocity', 2)}. At rest the foot stands under {view.shown(study.answer('pressure.rest'))} by its levels"
        + (
            f"; the gauge shows {view.shown(study.answer('pressure.shut_off'))} with the jets shut. "
            if study.baseline is not None
            else ". "
        )
    )
    if not np.isfinite(held.use_of_rating):
        text += (
            "No rating is known for its pipe: find out what is printed on it before it is filled. "
        )
    else:
        peak = (
            "static pressure and surge"
            if held.closing_time_s is not None
            else "static pressure alone"
        )
        text += f"Its rating, derated for temperature, is used by {peak} to {view.shown(study.answer('pressure.share_of_rating'))} at the most, at {view.text(held.worst_m, 'length')}; "
        text += (
            "that is **too much**: stronger pipe, or a slower valve. "
            if held.use_of_rating > 1
            else "that leaves room. "
            if held.use_of_rating < 0.8
            else "that leaves little room. "
        )
    if section.below_atmosphere:
        text += f"Running, the crown stands above the grade line from {_from_to(view, section.below_atmosphere)}: the pipe sucks there, and lets air in at any leak. "
        if section.suction_m >= siphon_limit.si(study.altitude_m or 0.0, study.water_temperature_k):
            text += "**The water column breaks there: it cannot run so.** "
        text += f"{_siphon_sentence(study, view)} ".lstrip()
    else:
        text += "The running grade line stays above the crown all along: no suction anywhere. "
    if study.profile is None:
        text += "No profile was surveyed: it is drawn straight, so that high points are not seen. "
    return Words(text + _mouth(study, view))


def _left(study: Any, view: View) -> str:
    """The net head at the jets, where the plant is known and nothing above holds its water back."""
    full, jets = study.answer("plant.full_flow"), study.answer("capacity.jets")
    if full is None or jets is None or not np.isclose(full.value, jets.value, rtol=1e-6):
        return ""
    return f", which leaves {view.shown(study.answer('head.net'))} at the jets"


def _beside(study: Any, view: View) -> str:
    """The loss of the clean pipe beside that in use, where readings show it."""
    if study.baseline is None:
        return ""
    return f", as its readings show; a clean pipe of that size and length would take {view.shown(study.answer('loss.penstock_clean'))}"


def _mouth(study: Any, view: View) -> str:
    cover = silt.mouth(study)
    if cover is None:
        return ""
    has, needs_m = cover
    verdict = (
        "enough"
        if has >= needs_m
        else "too little: it will draw a whirl of air, so deepen it, widen it to a bell, or float planks over it"
    )
    return f"Over the middle of its mouth stand {view.text(has, 'stage', 2)} of water, and about {view.text(needs_m, 'stage', 2)} are needed: {verdict}."


# --- the ladder -------------------------------------------------------------------------------


@needs("plant")
def ladder_figure(study: Any, view: View) -> Picture:
    """What each part passes, clean and clogged, against what the jets take."""
    steps = rungs(study)
    shown = [each for each in steps if np.isfinite(each.clean_m3s)]
    jets = openings(study)
    with figure(7.4, 1.3 + 0.42 * len(shown)) as (made, axes):
        for row, each in enumerate(shown):
            clean, worst = (
                float(view.number(each.clean_m3s, "flow")),
                float(view.number(each.worst_m3s, "flow")),
            )
            if each.low_m3s is not None:
                low = float(view.number(each.low_m3s, "flow"))
                axes.barh(
                    row,
                    clean - low,
                    left=low,
                    height=0.55,
                    color=ICE,
                    label="creek, low water to half the days"
                    if each.kind == "record"
                    else "creek, as gauged",
                )
                continue
            axes.barh(
                row,
                clean,
                height=0.55,
                color=PALE,
                edgecolor=CREEK,
                linewidth=0.8,
                label=_once(axes, "clean"),
            )
            if worst < clean:
                axes.barh(
                    row,
                    worst,
                    height=0.55,
                    color=RUST,
                    alpha=0.75,
                    label=_once(axes, "in its worst month"),
                )
        sets = getattr(study.plant.jets, "sets", ())
        for number, (count, flow) in enumerate(jets):
            at = float(view.number(flow, "flow"))
            axes.axvline(at, color=INK, linewidth=0.9, linestyle=(0, (2, 2)))
            axes.annotate(
                plain_label(series_text(sets[number]), 24) if sets else str(count),
                (at, -0.62),
                fontsize=8,
                ha="center",
                color=INK,
                annotation_clip=False,
            )
        axes.set_yticks(range(len(shown)), [plain_label(each.name) for each in shown])
        axes.invert_yaxis()
        longest = max(float(view.number(each.clean_m3s, "flow")) for each in shown)
        axes.set(
            xlabel=view.header(
                f"flow it lets reach the {opened(study)}s; dotted: what {'each set of machines takes' if sets else f'so many {opened(study)}s take'}",
                "flow",
            ),
            xlim=(
                0,
                1.03 * max(longest, float(view.number(max(flow for _, flow in jets), "flow"))),
            ),
        )
        axes.grid(axis="y", visible=False)
        axes.legend(
            loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, borderaxespad=1.9
        )  # above the numbers of jets
    told = "; ".join(
        f"{each.name} {view.text(each.clean_m3s, 'flow')}"
        + (
            f" ({view.text(each.worst_m3s, 'flow')} at worst)"
            if each.worst_m3s < each.clean_m3s
            else ""
        )
        for each in shown
    )
    return Picture(made, f"Bars of the flow each part lets reach the jets: {told}.")


def _once(axes: Any, label: str) -> str | None:
    return None if label in axes.get_legend_handles_labels()[1] else label


@needs("plant", quiet=True)
def ladder_table(study: Any, view: View) -> Table:
    """Every part from creek to jets with what it passes and how blocked it may get."""
    rows = []
    for each in rungs(study):
        blocked = (
            ""
            if each.may_block is None
            else "passes less than the jets take"
            if np.isnan(each.may_block)
            else f"{100 * each.may_block:.0f} %"
        )
        worst = (
            ""
            if not each.worst_m3s < each.clean_m3s or each.low_m3s is not None
            else f"{view.text(each.worst_m3s, 'flow')} ({'every month' if each.worst_month is None else MONTHS[each.worst_month - 1]}, {100 * each.worst_clogged:.0f} % blocked)"
        )
        passes = (
            f"{view.range(each.low_m3s, each.clean_m3s, 'flow', 3)}"
            if each.low_m3s is not None
            else "no limit"
            if np.isinf(each.clean_m3s)
            else view.text(each.clean_m3s, "flow")
        )
        remark = (
            f"loses about {view.text(each.lost_m3s, 'flow', 2)} whatever it carries, give or take a factor of two"
            if each.lost_m3s
            else view.told(each.remark)
        )
        rows.append((each.name, passes, worst, blocked, remark))
    return Table(
        (
            "part",
            "lets reach the jets, clean",
            "in its worst month",
            "may be blocked before the jets are under-fed",
            "remark",
        ),
        rows,
        "From creek to jets",
    )


@needs("plant", quiet=True)
def ladder_words(study: Any, view: View) -> Words:
    """The limiting component, the next limit, and what clogging does."""
    clean, jets = binding(study), study.plant.jets.count
    full = study.answer("plant.full_power")
    gives = (
        view.shown(full)
        if full is not None and np.isclose(full.value, clean.power_w, rtol=1e-6)
        else view.text(clean.power_w, "power")
    )
    following = _the(clean.next_part) + (
        f", at {view.text(clean.next_m3s, 'flow')}," if clean.next_m3s is not None else ""
    )
    gain = (
        f"worth up to {view.text(clean.behind_w, 'power', 2)} more"
        if clean.behind_w > 0.01 * clean.power_w
        else "with nothing to gain"
    )
    if clean.jets_bind:
        through = f" through {jets} of them" if jets > 1 else ""
        more = "more or larger ones" if clean.part == "jets" else "a larger one"
        text = f"All clean and with water enough, {_the(clean.part)} {_bind(clean.part)} the plant: {view.shown(study.answer('limiting.flow'))}{through} gives {gives}. With {more} {following} would limit it next, {gain}. "
    else:
        text = f"All clean and with water enough, {_the(clean.part)} limits the plant: {view.shown(study.answer('limiting.flow'))} gives {gives}. Without it {following} would limit it next, {gain}. "
    for months, found in _starved(study, clean)[:2]:
        text += f"In {series_text([MONTHS[month - 1] for month in months])} {_the(found.part)} lets {view.text(found.flow_m3s, 'flow')} through: "
        if found.best_w > 1.01 * found.power_w:
            text += f"with all {jets} left open they are under-fed (starved) and give {view.text(found.power_w, 'power', 2)}; with {found.best_jets} open it gives {view.text(found.best_w, 'power', 2)}. "
        else:
            text += (
                "" if jets == 1 else f"with {found.best_jets} open "
            ) + f"it gives {view.text(found.best_w, 'power', 2)}. "
    clogs = [
        each for each in rungs(study) if each.may_block is not None and np.isfinite(each.may_block)
    ]
    for each in clogs[:2]:
        text += f"{_capital(_the(each.name))} may be blocked to {100 * each.may_block:.0f} % before the jets are under-fed. "
    intake = study.answer("capacity.intake")
    for number, beside in enumerate(() if intake is None else intake.set_aside):
        text += f"The intake passes {view.shown(intake)} ({intake.source}); {escape_markdown(beside.source)} gives {view.shown(intake.beside(number))}. "
    return Words(text.strip())


def _starved(study: Any, clean: Any) -> list[tuple[tuple[int, ...], Any]]:
    """Months in which a part above the jets binds harder than when clean, the worst first."""
    found = [(months, binding(study, months[0])) for months in month_groups(study)]
    worse = [
        each
        for each in found
        if not each[1].jets_bind
        and each[1].part not in NO_PART
        and each[1].flow_m3s < 0.999 * clean.flow_m3s
    ]
    return sorted(worse, key=lambda each: each[1].flow_m3s)


@needs("plant", quiet=True)
def months_table(study: Any, view: View) -> Any:
    """The limiting component of each month, with the creek where its flow is known, and the jets of the schedule."""
    water, usable, jets = (
        study.monthly_flow,
        study.answer("water.usable"),
        study.answer("jets.open"),
    )
    rows = []
    for months in month_groups(study):
        found, month = binding(study, months[0]), months[0]
        names = (
            "all year"
            if len(months) == 12
            else series_text([MONTHS[month - 1] for month in months])
        )
        if (
            water is not None and found.creek_m3s is None
        ):  # nothing is known of its water: only what the parts would pass
            rows.append(
                (
                    names,
                    "not known",
                    found.part,
                    f"at most {view.text(found.flow_m3s, 'flow')}",
                    "",
                    "",
                    "",
                    found.next_part,
                    "",
                )
            )
            continue
        brings = (
            ""
            if water is None
            else (
                f"at least {view.shown(usable.month(month))}"
                if water.at_least[month - 1]
                else view.shown(usable.month(month))
            )
        )
        left = (
            ""
            if abs(found.best_w - found.power_w) < 0.01 * max(found.best_w, 1.0)
            else view.text(found.power_w, "power")
        )
        to_open = found.best_jets if jets is None else view.shown(jets.month(month))
        binds = found.part if water is None else view.shown(study.answer(f"limiting.month.{month}"))
        # where the log tells only that so much came at the least, nothing is known of what would limit next
        beyond = (
            ("not known", "")
            if water is not None and water.at_least[month - 1] and found.part == "creek"
            else (found.next_part, view.text(found.behind_w, "power", 2))
        )
        rows.append(
            (
                names,
                brings,
                binds,
                view.text(found.flow_m3s, "flow"),
                to_open,
                view.text(found.best_w, "power"),
                left,
                *beyond,
            )
        )
    if len(rows) == 1 and not rows[0][1]:
        return Words("")
    titles = [
        "month",
        "may be taken, median day",
        "limiting component",
        "reaches the jets",
        f"{opened(study)}s to {'open' if opened(study) == 'jet' else 'run'}",
        "power then",
        "power as they are left open",
        "next limit",
        "gain until then",
    ]
    shown = [
        place
        for place in range(len(titles))
        if place not in (1, 6) or any(row[place] for row in rows)
    ]
    return Table(
        [titles[place] for place in shown],
        [[row[place] for place in shown] for row in rows],
        "Limiting component, month by month",
    )


@needs("supply", quiet=True)
def fish_words(study: Any, view: View) -> Words:
    """Speed at the screens against published criteria for fish."""
    from ...tables import row
    from ...works.screens import fish_screen_area

    flow = study.full_flow_m3s
    if flow is None:
        return Words("")
    flow = flow if study.plant is None else float(study.plant.reaching_si()[0].needs_si(flow))
    cleaned, left = (
        float(row("fish_screens", f"juvenile salmonids {name}")["approach_ms"])
        for name in ("self-cleaning", "not cleaned")
    )
    rule = f"Published rules for young salmon and trout allow {view.text(cleaned, 'velocity', 2)} before a screen that cleans itself and {view.text(left, 'velocity', 2)} before one that does not; your authority's own rule goes first."
    told = []
    for part in study.supply:
        if hasattr(part, "approach_speed_si"):
            told.append((part.name, "water nears it", float(part.approach_speed_si(flow)), ""))
        elif hasattr(part, "hole_area_m2"):
            told.append(
                (
                    part.name,
                    "water enters its holes",
                    flow / part.hole_area_m2,
                    " A mesh clamped on works only over the holes, so that is the speed to be outswum.",
                )
            )
    area = f"For {view.text(flow, 'flow')} that is {view.text(float(fish_screen_area.si(flow)), 'area', 2)} of wetted screen, cleaned, or {view.text(float(fish_screen_area.si(flow, 'juvenile salmonids not cleaned')), 'area', 2)}, not cleaned."
    text = " ".join(
        f"At {_the(name)} {what} at {view.text(speed, 'velocity', 2)}.{more}"
        for name, what, speed, more in told
    )
    return Words(f"**Fish.** {text + ' ' if text else ''}{rule} {area}")


# --- what to do -------------------------------------------------------------------------------


def changes_table(study: Any, view: View) -> Table:
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


def _ladder_changes(study: Any, view: View) -> list[tuple[str, str, str, str]]:
    if study.plant is None:
        return []
    clean, rows = binding(study), []
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
        if (
            each.may_block is not None
            and np.isfinite(each.may_block)
            and each.worst_m3s < study.full_flow_m3s
        ):
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
        "C. F. Colebrook, J. Inst. Civil Engineers 11, 1939; Y. A. Çengel and J. M. Cimbala, Fluid Mechanics: Fundamentals and Applications, ch. 8: losses in pipes.",
        "Boyle's law; T. B. Benjamin, J. Fluid Mechanics 31, 1968: the cavity at an open end; P. E. Wisner and others, J. Hydraul. Div. ASCE 101, 1975, and M. Escarameia, Proc. ICE Water Management 160, 2007: clearing of air.",
        "K. Subramanya, 1000 Solved Problems in Fluid Mechanics, ch. 14, and J. Michaud, 1878: pressure waves; AWWA M51, Air Valves, 2016: filling speed, safety against collapse.",
        "Machinery's Handbook, 31st ed., p. 2770: PVC sizes, ratings and their derating.",
        "R. I. Ferguson and M. Church, J. Sedimentary Research 74, 2004: settling; Civil Works Guidelines for Micro-Hydropower in Nepal: basins and racks.",
        "G. E. Hecker, 1987, as in ANSI/HI 9.8: water over a mouth. HR Wallingford SR 463 and SR 473: an upright overflow pipe.",
        "Asawa, Irrigation and Water Resources Engineering, sect. 5.7: seepage and evaporation; T. E. Osterkamp and others, Annals of Glaciology: heat lost by open water; J. Frank, Der Bauingenieur 31, 1956: bottom racks (from memory).",
        "NMFS Southwest Region, juvenile fish screen criteria for pump intakes.",
        "ISO 12241:2008 and ASHRAE Handbook, Fundamentals, 2009, ch. 23: heat lost by pipes; M. Sturm and others, J. Glaciology 43, 1997: snow; S. F. Daly, 1994: frazil.",
    )
