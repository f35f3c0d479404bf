"""Page 09: what each fault looks like on this plant's gauge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....running.faults import Fault
from ....study.build.forebay import pond
from ....study.build.in_hand import brims, brims_asked
from ....study.build.machines import opened
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    BAND,
    CREEK,
    INK,
    RUST,
    SMALL,
    TALLEST,
    WIDE,
    figure,
    thousands,
)
from ..common import needs
from .running import opened_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....running.card import Card
    from ....study.build.faults import FaultSeen, FaultsSeen

__all__ = ["fault_table", "fault_words", "pressure_figure", "weekly_table"]


_MOST_ABREAST = 4


@needs(Study.faults_seen, Study.card)
def pressure_figure(study: Study, view: View, seen: FaultsSeen, card: Card) -> Picture:
    """A small panel for each fault: pressure, and below it watts, by jets open, beside the healthy ones."""
    drawn = [each for each in seen.faults if each.fault.stroke is not None]
    blocks = max(-(-len(drawn) // _MOST_ABREAST), 1)
    abreast = max(-(-len(drawn) // blocks), 1)
    kinds = ("pressure", "power") if seen.watts else ("pressure",)
    rows = blocks * len(kinds)
    with figure(
        WIDE, min(0.7 + 1.3 * rows, TALLEST), rows, abreast, sharex=True, squeeze=False
    ) as (
        made,
        grid,
    ):
        for axes in grid.flat[:]:
            axes.set_visible(False)
        for number, each in enumerate(drawn):
            block, column = divmod(number, abreast)
            for place, kind in enumerate(kinds):
                axes = grid[block * len(kinds) + place, column]
                axes.set_visible(True)
                _panel_figure(axes, view, seen, card, each, kind)
                axes.tick_params(labelbottom=place == len(kinds) - 1, labelleft=column == 0)
                if place == 0:
                    axes.set_title(each.fault.short_name, fontsize=SMALL + 1)
                if column == 0:
                    axes.set_ylabel(view.header(kind, kind), fontsize=SMALL)
                if place == len(kinds) - 1:
                    axes.set_xlabel("jets open", fontsize=SMALL)
        handles, labels = grid[0, 0].get_legend_handles_labels()
        made.legend(handles, labels, loc="outside upper left", ncols=3, frameon=False)
    under_fed = seen.of("under_fed")
    return Picture(
        made,
        "Gauge pressure and power by jets open, healthy and with each fault; with all open "
        f"{view.text(seen.healthy.gauge_pa[-1], 'gauge pressure')} when healthy, "
        f"{view.text(under_fed.gauge_pa[-1], 'gauge pressure')} when under-fed by "
        f"{100 * under_fed.size:.0f} % of the flow.",
    )


def _panel_figure(
    axes: Axes, view: View, seen: FaultsSeen, card: Card, fault: FaultSeen, kind: str
) -> None:
    """One fault's pressure or watts over those of the healthy plant, on the scale of all faults."""
    jets, of = np.arange(seen.jets + 1), "gauge_pa" if kind == "pressure" else "power_w"
    ends = (
        [
            getattr(card, f"shut_off_{end}_pa"),
            *(getattr(row, f"pressure_{end}_pa") for row in card.rows),
        ]
        if kind == "pressure"
        else [0.0, *(getattr(row, f"power_{end}_w") for row in card.rows)]
        for end in ("low", "high")
    )
    axes.fill_between(
        jets,
        *(view.number(each, kind) for each in ends),
        color=CREEK,
        alpha=BAND,
        linewidth=0,
        label="healthy, 90 %",
    )
    axes.plot(
        jets,
        view.number(getattr(seen.healthy, of), kind),
        color=CREEK,
        linewidth=1,
        label="healthy",
    )
    stroke = fault.fault.stroke
    if stroke is not None and kind in stroke.on:
        axes.plot(
            jets,
            view.number(getattr(fault, of), kind),
            color=RUST,
            linestyle=(0, (4, 1)),
            marker="o",
            markersize=3.5,
            label="with the fault",
        )
    elif stroke is not None:  # its line would lie under the healthy one
        falls = of != "power_w"
        axes.text(
            0.04 if falls else 0.96,
            0.06,
            "as when healthy",
            transform=axes.transAxes,
            ha="left" if falls else "right",
            fontsize=SMALL,
            color=INK,
        )
    every = view.number([getattr(each, of) for each in (seen.healthy, *seen.faults)], kind)
    low, high = float(np.nanmin(every)), float(np.nanmax(every))
    apart = (high - low) or abs(high) or 1.0  # a plant may show nothing at any number of jets
    axes.set(ylim=(max(low - 0.15 * apart, 0.0), high + 0.1 * apart), xticks=jets)
    axes.locator_params(axis="y", nbins=4)
    if kind == "power":
        thousands(axes.yaxis)


@needs(Study.faults_seen, quiet=True)
def fault_table(study: Study, view: View, seen: FaultsSeen) -> Table:
    """What each fault would look like, jet by jet, at one size."""
    healthy = seen.healthy
    rows = [
        (
            healthy.fault.name,
            "",
            *(view.amount(each, "gauge pressure", unit=False) for each in healthy.gauge_pa),
            float(healthy.power_w[-1]),
            "yes",
            "steady",
        )
    ]
    for each in seen.faults:
        fault = each.fault
        rows.append(
            (
                fault.name,
                sized(fault, each.size, view),
                *(view.amount(gauge, "gauge pressure", unit=False) for gauge in each.gauge_pa),
                float(each.power_w[-1]),
                "no" if fault.under_feeds else "mostly" if fault.spills < 0.9 else "yes",
                "fluctuates"
                if fault.under_feeds
                else "may fluctuate"
                if fault.fluctuates > 0.2
                else "steady",
            )
        )
    unit = view.label("pressure")
    columns = (
        "state",
        "size shown",
        *(f"{'shut' if count == 0 else count} [{unit}]" for count in range(seen.jets + 1)),
        "watts, all open",
        "forebay spills" if pond(study) is not None else "water left over",
        "needle",
    )
    return Table(columns, rows, "What the gauge would show, by jets open")


def sized(
    fault: Fault, size: float, view: View, low: float | None = None, high: float | None = None
) -> str:
    """A fault's size in words, with its interval where there is one."""
    if not fault.kind:
        return ""
    if fault.kind == "share":
        amount = (
            f"{100 * size:.0f} %"
            if low is None or high is None
            else f"{100 * size:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"
        )
        return f"{amount} {fault.size_is}"
    amount = view.text(abs(size), fault.kind, 2)
    if low is not None and high is not None:
        least, most = sorted((abs(low), abs(high)))
        amount += (
            f" ({view.range(least, most, fault.kind)})"
            if low * high > 0 or not fault.below_zero
            else " (either way)"
        )
    return f"{amount} {fault.below_zero if fault.below_zero and size < 0 else fault.size_is}"


@needs(Study.faults_seen, quiet=True)
def fault_words(study: Study, view: View, seen: FaultsSeen) -> Words:
    """The signatures that tell faults apart, with this plant's own numbers."""
    most = seen.jets

    def drop(key: str, count: int) -> str:
        return view.text(max(seen.of(key).lost_pa[count], 0.0), "pressure", 2)

    under_fed, blocked, worn = (seen.of(key) for key in ("under_fed", "blocked", "worn"))
    fed = under_fed.most_fed
    friction, air = (
        f" and {drop(key, 1)} with one" if most > 1 else "" for key in ("friction", "air")
    )
    text = [
        (
            "- **Friction grows with the square of the flow.** At the size shown the gauge reads "
            f"{drop('friction', most)} less with {opened_words(study, most)} open{friction}, and "
            "as when healthy with everything shut."
        ),
        (
            f"- **Air lowers the pressure by much the same whatever runs**: {drop('air', most)} "
            f"with {opened_words(study, most)} open{air}, {drop('air', 0)} with everything shut. "
            "**A forebay drawn down reads the same; but it does not spill, and the needle "
            "stands.**"
        ),
    ]
    if fed:
        text.append(
            "- **Too little water: closing a jet brings the pressure back.** With "
            f"{100 * under_fed.size:.0f} % of the flow missing {opened_words(study, most)} read "
            f"{view.text(under_fed.gauge_pa[most], 'gauge pressure')}, but "
            f"{opened_words(study, fed)} {'reads' if fed == 1 else 'read'} "
            f"{view.text(under_fed.gauge_pa[fed], 'gauge pressure')}, as when healthy."
        )
    raised, fallen = (
        view.text(lost, "pressure", 2) for lost in (-blocked.lost_pa[most], worn.lost_pa[most])
    )
    dropped, gained = blocked.lost_w[most], -worn.lost_w[most]
    if dropped < 0 or gained < 0:  # a pipe that loses more than a third of the head
        text.append(
            f"- **A blocked jet raises the pressure, a worn one lowers it**: by {raised} and "
            f"{fallen} with {opened_words(study, most)} open. The watts tell little here, because "
            f"so much of the head is lost in the pipe: {_more(dropped, view, 'less', 'more')} "
            f"with the one, {_more(gained, view, 'more', 'less')} with the other."
        )
    else:
        text.append(
            f"- **A blocked jet raises the pressure and drops the watts**: by {raised} and "
            f"{view.text(dropped, 'power', 2)} with {opened_words(study, most)} open. A worn jet "
            f"does the opposite: {fallen} less, {view.text(gained, 'power', 2)} more."
        )
    text += [
        (
            "- **Pressure right and watts low**: the machine or its wiring. **Pressure wrong and "
            "watts right**: the gauge."
        ),
    ]
    return Words("\n".join(text))


def _more(watts: float, view: View, above: str, below: str) -> str:
    return f"{view.text(abs(watts), 'power', 2)} {above if watts >= 0 else below}"


def weekly_table(study: Study, view: View) -> Table:
    """What to write down, how often, and what it is for."""
    card = study.card
    row = None if card is None else card.rows[-1]
    usual = "" if row is None else view.shown(study.answer("pressure.all_open"))
    watts = "" if row is None or not np.isfinite(row.power_w) else view.text(row.power_w, "power")
    shut = "" if card is None else view.shown(study.answer("pressure.shut_off"))
    thing, fixed = (
        opened(study),
        study.plant is not None and hasattr(study.plant.jets, "diameters_m"),
    )
    several = study.plant is None or study.plant.jets.count > 1
    state = f"{thing}s {'open' if thing == 'jet' else 'running'}" if several else "what is open"
    high = "; high: a jet blocked" if fixed else ""
    rows = [
        (
            "every visit",
            f"time, {state}",
            "",
            f"the same pressure means one thing with one {thing} and another with more"
            if several
            else "the pressure means nothing without it",
        ),
        (
            "every visit",
            "gauge, when the needle stands",
            usual,
            f"low: under-fed, air, a valve, a leak{high}" if fixed else "low: air, a valve, a leak",
        ),
        (
            "every visit",
            "volts and amps",
            watts,
            "tells the machine from the water, and a gauge that lies",
        ),
        (
            "every visit",
            "does the needle fluctuate",
            "no",
            "a pipe that draws air makes it fluctuate",
        ),
        (
            "every week",
            brims_asked(study).rstrip("?").lower(),
            "yes",
            "the walk that parts an under-fed pipe from a faulty one",
        ),
        ("every week", "air; ice on the screen", "", "frazil comes on clear cold nights"),
        (
            "every month",
            "gauge with everything shut",
            shut,
            "it must not change: air, a leak or the gauge itself",
        ),
        (
            "every year",
            (
                "gauge and meters "
                f"{'at each number of ' + thing + 's' if several else 'with everything open'}, "
                f"while {brims(study)}"
            ),
            "",
            "commissioning: the card is made again, from readings marked commissioning = yes",
        ),
    ]
    return Table(
        ("when", "what", "with all open, when well" if card is not None else "", "why"),
        rows,
        "What to write down",
    )
