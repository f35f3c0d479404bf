"""Page 03, open water: what leaks from open ground and channel, and what the forebay spills and flushes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.forebay import (
    Flushing,
    SpillRow,
    flushing,
    pond,
    spill_rows,
    spilled_at_bank,
    spills_by,
)
from ....study.build.open_reaches import channels, gauged_loss
from ....study.study import Study
from ....study.view import View
from ....works.spill import SideSpill
from ...display import Picture, Table, Words, escape_markdown
from ...style import CREEK, INK, PALE, WARNING, figure, legend_above, thousands
from ..common import needs
from .silt import span

if TYPE_CHECKING:
    from ....study.build.open_reaches import Reach
    from ....works.ditch import OpenLoss
    from ....works.spill import Overflow

__all__ = [
    "channel_table",
    "flush_words",
    "open_table",
    "open_words",
    "spill_figure",
    "spill_table",
    "spill_words",
]


# --- open ground and channel -----------------------------------------------------------------------


def open_words(study: Study, view: View) -> Words:
    """What leaks from water in the open, and what of it is counted."""
    if not study.reaches:
        return Words(
            "*Not shown: no open ground or channel is listed. Where water runs in the open on "
            "its way, list it as a part with its length and width: what leaks away there "
            "never reaches the plant.*"
        )
    told = []
    for reach in study.reaches:
        name = escape_markdown(f"{reach.name[0].upper()}{reach.name[1:]}")
        if reach.loss is None:
            told.append(
                f"**{name}.** Its wall lets nothing through that is worth "
                f"counting{'' if reach.share is None else f'; yet {plain_number(100 * reach.share, 2)} % were lost on the way when it was gauged at both ends, through joints or over its edge, and that is taken off what it carries'}."
            )
            continue
        ground = {
            "as measured": "at the seepage measured",
            "not known": "in ground of which nothing is known",
        }.get(reach.soil, f"in {escape_markdown(reach.soil)}")
        band = (
            f"{view.range(reach.loss.low_m3s, reach.loss.high_m3s, 'flow')}, most likely "
            f"{view.text(reach.loss.middle_m3s, 'flow', 2)}"
        )
        text = (
            f"**{name}.** {view.text(reach.length_m, 'length')} long, {ground}, it loses {band}. "
        )
        text += (
            _gauged(study, view, reach, reach.loss, reach.share)
            if reach.share is not None
            else f"The {view.text(reach.loss.middle_m3s, 'flow', 2)} are taken off what reaches the forebay. "
        )
        least, most = reach.loss.frozen_m3s
        told.append(
            text
            + (
                f"On a clear cold night its open water turns {view.range(least, most, 'flow')} "
                "into ice, gone until the thaw."
            )
        )
    if any(reach.loss is not None for reach in study.reaches):
        told.append(
            "Formulas for seepage miss by a factor of two and more. What seeps is lost from "
            "little water as from much, so that low water feels it most"
            + (
                "; a summer day's evaporation, the small part of it, is charged all year. "
                if any(reach.share is None for reach in study.reaches)
                else ". "
            )
            + "Gauge at both ends on one day: two buckets tell more than any table."
        )
    return Words(" ".join(told))


def _gauged(study: Study, view: View, reach: Reach, loss: OpenLoss, share: float) -> str:
    text = f"The site file has {100 * share:.2g} % as gauged at both ends, and that is counted"
    if study.full_flow_m3s is None:
        return text + ". "
    lost = gauged_loss(study, reach)
    text += f": {view.text(lost, 'flow', 2)} at full flow"
    if lost > loss.high_m3s:
        return (
            text
            + ", **more than its ground explains**: look for a hole, or a low bank where it runs over. "
        )
    if lost < loss.low_m3s:
        return text + (
            ", less than its ground would take: its bed has silted tight, or the two gaugings "
            "were not of one hour. "
        )
    return text + ", which its ground explains. "


def open_table(study: Study, view: View) -> Table | Words:
    """Losses of each open stretch, part by part."""
    rows = []
    for reach in study.reaches:
        if reach.loss is not None:
            ranges = [
                view.range(each[0], each[-1], "flow")
                for each in (
                    reach.loss.seepage_m3s,
                    reach.loss.evaporation_m3s,
                    reach.loss.frozen_m3s,
                )
            ]
            rows.append((reach.name, *ranges))
    return (
        Table(
            ("", "to the ground", "to the air, summer day", "to ice, clear cold night"),
            rows,
            "What leaves the water in the open",
        )
        if rows
        else Words("")
    )


@needs(Study.full_flow_m3s, quiet=True)
def channel_table(study: Study, view: View, full_flow_m3s: float) -> Table | Words:
    """How each channel runs at the flow that feeds the jets, and what it carries to its freeboard."""
    rows = [
        (
            each.name,
            view.text(each.flow_m3s, "flow"),
            view.text(each.depth_m, "stage", 2) if np.isfinite(each.depth_m) else "full",
            view.text(each.critical_m, "stage", 2),
            "" if each.velocity_ms is None else view.text(each.velocity_ms, "velocity", 2),
            each.runs,
            "" if each.left_m is None else view.text(each.left_m, "stage", 2),
            view.text(each.most_m3s, "flow"),
        )
        for each in channels(study)
    ]
    titles = (
        "channel",
        "for full flow it carries",
        "depth",
        "critical depth",
        "speed",
        "it runs",
        "left above the water",
        "carries to its freeboard",
    )
    return Table(titles, rows, "Channels at full flow") if rows else Words("")


# --- the pond's overflow ----------------------------------------------------------------------

_LACKING = (
    "*Not shown: no overflow of the forebay is described. Give the bore of its standpipe or the "
    "length of the edge it spills over, and the height of the bank above: with the jets shut all "
    "that comes down must leave there.*"
)


@needs(Study.full_flow_m3s, quiet=True)
def spill_words(study: Study, view: View, full_flow_m3s: float) -> Words:
    """At what level the forebay spills all that comes down."""
    over = study.overflow
    if pond(study) is None:
        return Words("")
    if over is None:
        return Words(_LACKING)
    told = []
    for way in over.ways:
        if isinstance(way, SideSpill):
            told.append(
                f"a low edge of {view.text(way.length_m, 'stage', 2)}, whose water runs past "
                "it and so passes a fifth less than over a weir across"
            )
        else:
            told.append(
                f"a standpipe of {view.text(way.diameter_m, 'diameter')} whose overflow edge "
                f"passes as a weir up to {view.text(0.53 * way.diameter_m, 'diameter', 2)} of "
                "water and as a hole beyond"
            )
    text = f"**The {escape_markdown(over.name)} spills** over {' and '.join(told)}. "
    if np.isnan(over.arriving_m3s):
        return Words(
            text
            + (
                "What can come down is not known, as no part above it has a limit. Leave room for "
                "branches and leaves: one mat closes a small overflow."
            )
        )
    text += (
        f"With the jets shut {view.text(over.arriving_m3s, 'flow')} come down; they spill at "
        f"{view.text(over.level_m, 'diameter', 2)} over the overflow edge"
    )
    regime = spills_by(study)
    text += f" ({regime}). " if regime and len(over.ways) == 1 else ". "
    if np.isnan(over.bank_m):
        text += "How far the bank stands above it is not given. "
    elif over.level_m > over.bank_m:
        text += (
            f"**The bank stands only {view.text(over.bank_m, 'diameter', 2)} above it and would "
            "be washed away.** "
        )
    else:
        text += (
            f"The bank stands {view.text(over.bank_m, 'diameter', 2)} above it; with leaves over "
            f"half of it the water needs {view.text(over.half_closed_m, 'diameter', 2)}, "
        )
        text += (
            "which leaves room. "
            if over.half_closed_m <= over.bank_m
            else (
                "**for which there is no room**: add a low edge beside it, or a guard that keeps "
                "leaves off. "
            )
        )
    return Words(text + "Keep the overflow free before frost and in leaf fall.")


@needs(Study.full_flow_m3s, quiet=True)
def spill_table(study: Study, view: View, full_flow_m3s: float) -> Table | Words:
    """Level over the crest, what spills, and what governs."""
    if study.overflow is None:
        return Words("")
    inch = 0.0254
    heads = (
        (0.01, 0.02, 0.05, 0.1, 0.2, 0.3)
        if view.system == "metric"
        else (inch / 2, inch, 2 * inch, 4 * inch, 8 * inch, 12 * inch)
    )
    found = spill_rows(study, heads)
    pipe, edge = found[0].pipe_m3s is not None, found[0].edge_m3s is not None
    columns: list[tuple[str, bool, Callable[[SpillRow], str]]] = [
        ("water over the edge", True, lambda row: view.text(row.head_m, "diameter", 2)),
        ("standpipe", pipe, lambda row: view.text(row.pipe_m3s, "flow")),
        ("which governs", pipe, lambda row: row.regime),
        ("low edge", edge, lambda row: view.text(row.edge_m3s, "flow")),
        ("together", pipe and edge, lambda row: view.text(row.all_m3s, "flow")),
    ]
    shown = [(title, cell) for title, wanted, cell in columns if wanted]
    return Table(
        [title for title, _ in shown],
        [[cell(row) for _, cell in shown] for row in found],
        "What the forebay spills",
    )


@needs(Study.overflow, quiet=True)
def spill_figure(study: Study, view: View, over: Overflow) -> Picture:
    """Level over the crest against what spills, with what comes down and the bank."""
    top = max(
        over.bank_m if np.isfinite(over.bank_m) else 0.0,
        over.level_m * 1.3 if np.isfinite(over.level_m) else 0.0,
        0.1,
    )
    heads = np.linspace(0, top, 200)
    with figure(7.4, 3.0) as (made, axes):
        axes.plot(
            view.number(over.flow_si(heads), "flow"),
            view.number(heads, "diameter"),
            color=CREEK,
            label="spills",
        )
        if np.isfinite(over.arriving_m3s):
            axes.axvline(
                float(view.number(over.arriving_m3s, "flow")),
                color=INK,
                linewidth=1.1,
                linestyle=(0, (4, 2)),
                label="comes down, jets shut",
            )
        if np.isfinite(over.bank_m):
            axes.axhline(
                float(view.number(over.bank_m, "diameter")),
                color=WARNING,
                linewidth=1.6,
                linestyle=(0, (5, 2, 1, 2)),
                label="bank",
            )
            axes.axhspan(
                float(view.number(over.bank_m, "diameter")),
                1.08 * float(view.number(top, "diameter")),
                color=PALE,
                alpha=0.5,
                linewidth=0,
            )
        thousands(axes.xaxis)
        axes.set(
            xlabel=view.header("flow", "flow"),
            ylabel=view.header("water over the overflow edge", "diameter"),
            ylim=(0, 1.08 * float(view.number(top, "diameter"))),
        )
        axes.set_xlim(left=0)
        legend_above(axes, 3)
    level = (
        f"what comes down spills at {view.text(over.level_m, 'diameter', 2)}"
        if np.isfinite(over.level_m)
        else "what comes down is not known"
    )
    return Picture(
        made, f"What spills from the forebay against the level over its overflow edge; {level}."
    )


def _full_drain(found: Flushing, view: View) -> str:
    """The time with the drain running full, where that is another."""
    if abs(found.full_s - found.alone_s) <= _AS_SOON * found.alone_s:
        return ""
    return f" ({span(view, found.full_s)} if the drain behind it runs full to its free end)"


_AS_SOON = 0.1


@needs(Study.full_flow_m3s, quiet=True)
def flush_words(study: Study, view: View, full_flow_m3s: float) -> Words:
    """What happens when the standpipe is pulled to flush the silt."""
    found = flushing(study)
    if found is None:
        return Words("")
    text = (
        "**Pulled out, the standpipe empties the forebay** of "
        f"{view.text(found.area_m2, 'area', 2)} and {view.text(found.depth_m, 'stage', 2)} of "
        f"depth down to {view.text(found.left_m, 'diameter', 2)} in {span(view, found.alone_s)} "
        f"with no inflow, out of the bare hole{_full_drain(found, view)}, starting with a rush of "
        f"{view.text(found.rush_m3s, 'flow')}. "
    )
    if np.isfinite(found.coming_s):
        text += (
            f"With {view.text(found.coming_m3s, 'flow')} still coming it takes "
            f"{span(view, found.coming_s)}. "
        )
    else:
        text += (
            f"While {view.text(found.coming_m3s, 'flow')} come down it never falls dry: shut the "
            "water off above, or open the line's end beside the forebay, before you flush. "
        )
    return Words(
        text
        + (
            "Stop the jets first, or they run on air; and think of those below, for the rush is "
            "brown: ask what may be flushed, and when."
        )
    )


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change in the open."""
    rows, over = [], study.overflow
    if over is not None and over.level_m > over.bank_m:
        rows.append(
            (
                "a wider overflow",
                over.name,
                (
                    f"spills {view.text(spilled_at_bank(study), 'flow')} of "
                    f"{view.text(over.arriving_m3s, 'flow')}"
                ),
                "with the jets shut the bank is overtopped",
            )
        )
    elif over is not None and over.half_closed_m > over.bank_m:
        rows.append(
            (
                "a low edge beside the overflow",
                over.name,
                (
                    f"{view.text(over.half_closed_m, 'diameter', 2)} over the edge, bank "
                    f"{view.text(over.bank_m, 'diameter', 2)}"
                ),
                "half closed by leaves it does not spill what comes down",
            )
        )
    for reach in study.reaches:
        lost = gauged_loss(study, reach)
        if reach.loss is not None and lost > reach.loss.high_m3s:
            rows.append(
                (
                    "find the leak, or a pipe",
                    reach.name,
                    (
                        f"loses {view.text(lost, 'flow', 2)}, its ground "
                        f"{view.text(reach.loss.high_m3s, 'flow', 2)} at the most"
                    ),
                    "more is lost than seeps",
                )
            )
    return rows
