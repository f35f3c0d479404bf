"""Figures of the size: flow, money, and the map of both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....energy.design import LOSS_LIMIT
from ....sentences import plain_number
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    CREEK,
    INK,
    LEAF,
    RUST,
    SMALL,
    SUN,
    figure,
    folded,
    legend_above,
    near_to_far,
    thousands,
)
from ..common import needs, value

if TYPE_CHECKING:
    from ....energy.design import Design
    from ....energy.designs import Sizing

__all__ = ["flow_figure", "map_figure", "money_figure"]


def along_flows(sizing: Sizing) -> list[Design]:
    """The best design of each flow, where there is one."""
    return [design for design in sizing.along_flows() if design is not None]


@needs(Study.sizing)
def flow_figure(study: Study, view: View, sizing: Sizing) -> Picture:
    """Energy and winter energy against the design flow, each with its best pipe and jets."""
    designs, reason = along_flows(sizing), sizing.reason
    flow = view.number([each.flow_m3s for each in designs], "flow")
    with figure(7.4, 3.8) as (made, axes):
        low, high = (float(view.number(each, "flow")) for each in reason.flat.flows_m3s)
        if high > low:
            axes.axvspan(
                low,
                high,
                color=SUN,
                alpha=0.18,
                linewidth=0,
                label=f"within {100 * reason.within:.0f} % of the best",
            )
        for name, kwh, colour, style in (
            ("year", [each.kwh for each in designs], CREEK, "-"),
            ("useful", [each.useful_kwh for each in designs], LEAF, (0, (5, 2))),
            ("winter", [each.winter_kwh for each in designs], INK, (0, (1, 1.5))),
        ):
            values = np.array(kwh)
            if name == "useful" and np.allclose(values, [each.kwh for each in designs]):
                continue
            band = sizing.energy_sd
            axes.fill_between(
                flow,
                values * (1 - band),
                values * (1 + band),
                color=colour,
                alpha=0.12,
                linewidth=0,
            )
            axes.plot(flow, values, color=colour, linestyle=style, label=name)
        axes.axvline(
            float(view.number(reason.choice.flow_m3s, "flow")),
            color=RUST,
            linewidth=1.4,
            label="recommended",
        )
        if study.beside is not None and study.year is not None and study.plan is not None:
            axes.plot(
                float(view.number(study.plan.flow_m3s, "flow")),
                value(study, "energy.net"),
                "s",
                color="white",
                markeredgecolor=INK,
                markersize=8,
                zorder=6,
                label="the plan, of a year",
            )
        axes.set(
            xlabel=view.header("design flow", "flow"),
            ylabel="energy of a mean year [kWh]",
            ylim=(0, None),
            xlim=(0, None),
        )
        thousands(axes.yaxis)
        legend_above(axes)
    return Picture(
        made,
        (
            "Energy of a mean year against design flow; at the recommended "
            f"{view.shown(study.answer('recommended.flow'))} it is "
            f"{view.shown(study.answer('recommended.energy'))}. Bands are one standard deviation."
        ),
    )


@needs(Study.sizing, quiet=True)
def money_figure(study: Study, view: View, found: Sizing) -> Picture | Words:
    """What each size is worth a year and what a kWh of it costs, where costs are known."""
    designs = along_flows(found)
    if found.costs is None:
        return Words(
            "*No costs are given, so sizes are compared by energy alone. Give the prices of "
            "pipe, machine and laying under [costs] to see which size pays.*"
        )
    flow = view.number([each.flow_m3s for each in designs], "flow")
    worth, cost = (
        np.array([each.worth_money for each in designs]),
        np.array([each.levelised_money_per_kwh for each in designs]),
    )
    with figure(7.4, 3.2, 1, 2) as (made, (left, right)):
        low, high = (float(view.number(each, "flow")) for each in found.reason.flat.flows_m3s)
        for axes, values, name in (
            (left, worth, f"net annual benefit [{view.currency}]"),
            (right, cost, f"levelised cost of a useful kWh [{view.currency}]"),
        ):
            if high > low:
                axes.axvspan(low, high, color=SUN, alpha=0.18, linewidth=0)
            axes.plot(flow, values, color=CREEK)
            axes.axvline(
                float(view.number(found.choice.flow_m3s, "flow")), color=RUST, linewidth=1.4
            )
            axes.set(xlabel=view.header("design flow", "flow"))
            axes.set_title(folded(name), fontweight="normal", fontsize=SMALL + 1)
            thousands(axes.yaxis)
        right.set_ylim(0, 3 * float(np.nanmin(cost)))
        if not np.isfinite(worth).any():
            left.set_visible(False)
    return Picture(
        made,
        (
            "Net annual benefit and levelised cost of a useful kWh against the design flow; at "
            "the recommended size the levelised cost is "
            f"{view.shown(study.answer('recommended.kwh_cost'))}."
        ),
    )


@needs(Study.sizing)
def map_figure(study: Study, view: View, found: Sizing) -> Picture | Words:
    """Flow against pipe: how near each pairing comes to the best, and where the head loss is a
    third of the head."""
    if len(found.pipes) < 2:
        return Words(
            "*Only one pipe is tried. Give a list of sizes and prices under [costs] pipes to "
            "see which pipe suits which flow.*"
        )
    if len(found.flows_m3s) < 2:
        return Words(
            "*Only one design flow is tried: of those under [sizing] flows the creek brings no "
            "other, or none more is given.*"
        )
    short = 100 * np.nanmin(
        np.where(np.isnan(found.short_of_best).all(axis=0), 1.0, found.short_of_best), axis=0
    )
    bores = view.number([pipe.diameter_m for pipe in found.pipes], "diameter")
    flow = view.number(found.flows_m3s, "flow")
    with figure(7.4, 3.9) as (made, axes):
        shown = axes.pcolormesh(
            flow,
            np.arange(len(bores)),
            np.ma.masked_invalid(short.T),
            cmap=near_to_far(),
            vmin=0,
            vmax=20,
            shading="nearest",
        )
        made.colorbar(shown, ax=axes, label="short of the best [%]", extend="max")
        lossy = found.loss_share.max(axis=0)
        axes.contour(
            flow,
            np.arange(len(bores)),
            np.minimum(lossy.T, 1.0),
            levels=[LOSS_LIMIT],
            colors=[RUST],
            linewidths=1.6,
        )
        choice = found.choice
        axes.plot(
            float(view.number(choice.flow_m3s, "flow")),
            choice.index[2],
            "o",
            color="white",
            markeredgecolor=INK,
            markersize=9,
        )
        axes.set_yticks(np.arange(len(bores)), [plain_number(float(each)) for each in bores])
        axes.set(
            xlabel=view.header("design flow", "flow"),
            ylabel=view.header("inside diameter", "diameter"),
        )
        axes.grid(visible=False)
    return Picture(
        made,
        (
            "How far each design flow and pipe fall short of the best, in per cent; beyond the "
            "line the head loss is more than a third of the gross head. Recommended: "
            f"{view.shown(study.answer('recommended.flow'))} in "
            f"{view.text(choice.pipe.diameter_m, 'diameter')} bore."
        ),
    )
