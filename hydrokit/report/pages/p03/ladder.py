"""Page 03: what each part passes, and which is the limiting component."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import series_text
from ....study.build.ladder import MONTHS, NO_PART, limiting, month_groups, openings, rungs
from ....study.build.machines import opened, under_fed_told, users
from ....study.build.screens import fish_screens
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import (
    CREEK,
    ICE,
    INK,
    PALE,
    RUST,
    SMALL,
    figure,
    plain_label,
    thousands,
)
from ..common import needs
from .phrases import capitalised, limits_verb, shown_flow, shown_part, with_article

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....plant.chain import Chain
    from ....study.build.ladder import LimitingPart

__all__ = ["fish_words", "ladder_figure", "ladder_table", "ladder_words", "months_table"]


# --- the ladder -------------------------------------------------------------------------------


@needs(Study.plant)
def ladder_figure(study: Study, view: View, plant: Chain) -> Picture:
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
                    hatch="//",
                    edgecolor=INK,
                    linewidth=0.8,
                    label=_once(axes, "in its worst month"),
                )
        sets = getattr(plant.jets, "sets", ())
        for number, (count, flow) in enumerate(jets):
            at = float(view.number(flow, "flow"))
            axes.axvline(at, color=INK, linewidth=0.9, linestyle=(0, (2, 2)))
            axes.annotate(
                plain_label(series_text(sets[number]), 24) if sets else str(count),
                (at, -0.62),
                fontsize=SMALL,
                ha="center",
                color=INK,
                annotation_clip=False,
            )
        axes.set_yticks(range(len(shown)), [plain_label(each.name) for each in shown])
        axes.invert_yaxis()
        longest = max(float(view.number(each.clean_m3s, "flow")) for each in shown)
        axes.set(
            xlabel=view.header(
                f"flow it lets reach the {opened(study)}s; dotted: what "
                f"{'each set of machines takes' if sets else f'so many {opened(study)}s take'}",
                "flow",
            ),
            xlim=(
                0,
                1.03 * max(longest, float(view.number(max(flow for _, flow in jets), "flow"))),
            ),
        )
        thousands(axes.xaxis)
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
    return Picture(made, f"Bars of the flow each part lets reach the {users(study)}: {told}.")


def _once(axes: Axes, label: str) -> str | None:
    return None if label in axes.get_legend_handles_labels()[1] else label


@needs(Study.plant, quiet=True)
def ladder_table(study: Study, view: View, plant: Chain) -> Table:
    """Every part from creek to jets with what it passes and how blocked it may get."""
    rows, line = [], study.answer("capacity.line")
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
            else (
                f"{view.text(each.worst_m3s, 'flow')} "
                f"({'every month' if each.worst_month is None else MONTHS[each.worst_month - 1]}, "
                f"{100 * each.worst_clogged:.0f} % blocked)"
            )
        )
        passes = (
            f"{view.range(each.low_m3s, each.clean_m3s, 'flow', 3)}"
            if each.low_m3s is not None
            else "no limit"
            if np.isinf(each.clean_m3s)
            else shown_flow(view, line if each.kind == "DiversionLine" else None, each.clean_m3s)
        )
        remark = (
            f"loses about {view.text(each.lost_m3s, 'flow', 2)} whatever it carries, known to "
            "about a factor of two"
            if each.lost_m3s
            else view.told(each.remark)
        )
        rows.append((each.name, passes, worst, blocked, remark))
    return Table(
        (
            "part",
            f"lets reach the {users(study)}, clean",
            "in its worst month",
            f"may be blocked before {under_fed_told(study)}",
            "remark",
        ),
        rows,
        "From creek to jets",
    )


@needs(Study.plant, quiet=True)
def ladder_words(study: Study, view: View, plant: Chain) -> Words:
    """The limiting component, the next limit, and what clogging does."""
    clean, jets = limiting(study), plant.jets.count
    full = study.answer("plant.full_power")
    gives = (
        view.shown(full)
        if full is not None and np.isclose(full.value, clean.power_w, rtol=1e-6)
        else view.text(clean.power_w, "power")
    )
    part = shown_part(view, study.answer("limiting.component"))
    following = shown_part(view, study.answer("limiting.next")) + (
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
        text = (
            f"All clean and with water enough, {part} {limits_verb(clean.part)} the plant: "
            f"{view.shown(study.answer('limiting.flow'))}{through} gives {gives} at the loads. With {more} "
            f"{following} would limit it next, {gain}. "
        )
    else:
        text = (
            f"All clean and with water enough, {part} limits the plant: "
            f"{view.shown(study.answer('limiting.flow'))} gives {gives} at the loads. Without it {following} "
            f"would limit it next, {gain}. "
        )
    for months, found in under_fed(study, clean)[:2]:
        text += (
            f"In {series_text([MONTHS[month - 1] for month in months])} "
            f"{with_article(found.part)} lets {view.text(found.flow_m3s, 'flow')} through: "
        )
        if found.best_w > 1.01 * found.power_w:
            text += (
                f"with all {jets} left open they are under-fed (starved) and give "
                f"{view.text(found.power_w, 'power', 2)}; with {found.best_jets} open it gives "
                f"{view.text(found.best_w, 'power', 2)}. "
            )
        else:
            text += (
                "" if jets == 1 else f"with {found.best_jets} open "
            ) + f"it gives {view.text(found.best_w, 'power', 2)}. "
    clogs = [(each.name, each.may_block) for each in rungs(study) if each.may_block is not None]
    for name, share in [each for each in clogs if np.isfinite(each[1])][:2]:
        text += (
            f"{capitalised(with_article(name))} may be blocked to {100 * share:.0f} % before "
            f"{under_fed_told(study)}. "
        )
    intake = study.answer("capacity.intake")
    if intake is not None:
        for number, beside in enumerate(intake.set_aside):
            text += (
                f"The intake passes {view.shown(intake)} ({intake.source}); "
                f"{escape_markdown(beside.source)} gives {view.shown(intake.beside(number))}. "
            )
    return Words(text.strip())


def under_fed(study: Study, clean: LimitingPart) -> list[tuple[tuple[int, ...], LimitingPart]]:
    """Months in which a part above the jets limits harder than when clean, the worst first."""
    found = [(months, limiting(study, months[0])) for months in month_groups(study)]
    worse = [
        each
        for each in found
        if not each[1].jets_bind
        and each[1].part not in NO_PART
        and each[1].flow_m3s < 0.999 * clean.flow_m3s
    ]
    return sorted(worse, key=lambda each: each[1].flow_m3s)


@needs(Study.plant, quiet=True)
def months_table(study: Study, view: View, _: Chain) -> Table | Words:
    """The limiting component of each month, with the creek where its flow is known, and the jets of
    the schedule."""
    water, usable, jets = (
        study.monthly_flow,
        study.answer("water.usable"),
        study.answer("jets.open"),
    )
    rows: list[tuple[str | int, ...]] = []
    for months in month_groups(study):
        found, month = limiting(study, months[0]), months[0]
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
            if water is None or usable is None
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
        f"reaches the {users(study)}",
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


def fish_words(study: Study, view: View) -> Words:
    """Speed at the screens against published criteria for fish."""
    found = fish_screens(study)
    if found is None:
        return Words("")
    rule = (
        "Published rules for young salmon and trout allow "
        f"{view.text(found.cleaned_ms, 'velocity', 2)} before a screen that cleans itself and "
        f"{view.text(found.not_cleaned_ms, 'velocity', 2)} before one that does not; your "
        "authority's own rule goes first."
    )
    area = (
        f"For {view.text(found.flow_m3s, 'flow')} that is "
        f"{view.text(found.cleaned_m2, 'area', 2)} of wetted screen, cleaned, or "
        f"{view.text(found.not_cleaned_m2, 'area', 2)}, not cleaned."
    )
    text = " ".join(
        f"At {with_article(name)} water {'enters its holes' if holes else 'nears it'} at "
        f"{view.text(speed, 'velocity', 2)}."
        + (
            " A mesh clamped on works only over the holes, so that is the speed to be outswum."
            if holes
            else ""
        )
        for name, holes, speed in found.near
    )
    return Words(f"**Fish.** {text + ' ' if text else ''}{rule} {area}")
