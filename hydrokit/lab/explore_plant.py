"""Panels on the plant: its size, the changes to it, what its gauge says."""

from __future__ import annotations

import textwrap
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import HydrokitError
from ..report.display import Words
from ..report.pages.common import needs
from ..report.style import BAND, CREEK, ICE, INK, LEAF, RUST, figure, plain_label, thousands
from ..sentences import series_text
from ..study.build.machines import opened
from ..study.study import Study
from ..study.view import View
from .changes_written import made_keys
from .explore_water import way_of
from .knobs import DASHED, Knob, Panel, kwh_text, levels, like, moving, shown, tick
from .variant_button import flow_written

if TYPE_CHECKING:
    from ..energy.designs import Sizing
    from ..energy.staircase import Staircase
    from ..report.display import Picture
    from ..running.baseline import Baseline
    from ..running.card import Card

__all__ = ["panel_changes", "panel_gauge", "panel_size"]


# --- 04: size against energy and money ------------------------------------------------------


def _money_axis(found: Any, view: View) -> tuple[np.ndarray, str, float]:
    """What the right side shows against the flow: worth, else cost, else head loss; its title and
    lower end."""
    if np.isfinite(found.worth_money).any():
        return (
            found.worth_money,
            f"net annual benefit [{view.currency}]",
            float(np.nanmax(found.worth_money))
            - 1.5 * float(np.ptp([0.0, np.nanmax(found.worth_money)])),
        )
    if found.costs is not None:
        return (
            found.levelised_money_per_kwh,
            f"levelised cost per useful kWh [{view.currency}]",
            0.0,
        )
    return 100 * found.loss_share, "head loss at full flow [%]", 0.0


@needs(Study.sizing)
def panel_size(study: Study, view: View, found: Sizing) -> Panel | Picture | Words:
    """Design flow, pipe and jets against kWh and money, looked up among all that was tried."""
    choice = found.choice
    flows = view.number(found.flows_m3s, "flow")
    unit = f"{opened(study)}s"
    right_values, right_title, lowest = _money_axis(found, view)
    best = [design for design in found.along_flows() if design is not None]
    with figure(7.4, 3.5, 1, 2) as (made, (left, right)):
        for axes, values, title in (
            (left, found.kwh, "energy of a mean year [kWh]"),
            (right, right_values, right_title),
        ):
            at_best = [float(values[each.index]) for each in best]
            axes.plot(
                view.number([each.flow_m3s for each in best], "flow"),
                at_best,
                color=ICE,
                linestyle=DASHED,
                label="best pipe at each flow",
            )
            axes.plot(
                float(view.number(choice.flow_m3s, "flow")),
                float(values[choice.index]),
                "o",
                color="white",
                markeredgecolor=INK,
                markersize=10,
                label="recommended",
            )
            axes.set(
                xlim=(0, flows[-1] * 1.03), xlabel=view.header("design flow", "flow"), title=title
            )
            thousands(axes.yaxis)
        left.set_ylim(0, 1.08 * float(np.nanmax(found.kwh)))
        highest = (
            3 * float(np.nanmin(right_values))
            if found.costs is not None and lowest == 0.0
            else float(np.nanmax(right_values))
        )
        right.set_ylim(lowest, highest + 0.08 * (highest - lowest))
        lines = [
            moving(axes.plot(flows, flows, color=CREEK, label="this pipe"))[0]
            for axes in (left, right)
        ]
        dots = [
            moving(
                axes.plot(
                    [0], [0], "o", color=RUST, markeredgecolor="white", markersize=9, label="now"
                )
            )[0]
            for axes in (left, right)
        ]
        made.legend(*left.get_legend_handles_labels(), loc="outside lower left", ncols=4)

    def turn(
        flow: int = choice.index[1], pipe: int = choice.index[2], jets: int = choice.index[0]
    ) -> list[tuple[str, str]]:
        design = found.design((jets, flow, pipe))
        told = partial(like, study, view, answered=design.index == choice.index)
        for line, dot, values in zip(lines, dots, (found.kwh, right_values)):
            line.set_ydata(values[jets, :, pipe])
            dot.set_data([flows[flow]], [values[design.index]])
        numbers = [
            ("pipe", f"{view.text(design.pipe.diameter_m, 'diameter')} inside"),
            ("energy of a mean year", told("recommended.energy", design.kwh, "kWh")),
            ("in winter", kwh_text(design.winter_kwh)),
        ]
        if abs(design.useful_kwh - design.kwh) > 0.5:
            numbers.append(("useful energy", told("recommended.useful", design.useful_kwh, "kWh")))
        numbers += [
            ("rated power", told("recommended.power", design.rated_w, "power")),
            ("power on 95 % of the days", view.text(design.firm_w, "power")),
            (
                "head loss in the pipe",
                f"{100 * design.loss_share:.0f} %"
                + (", more than a third: choose a wider pipe" if design.too_lossy else ""),
            ),
        ]
        if found.costs is not None:
            numbers += [
                (
                    "capital cost",
                    told("recommended.capital", design.first_money, "money"),
                ),
                (
                    "levelised cost per useful kWh",
                    told(
                        "recommended.kwh_cost",
                        design.levelised_money_per_kwh,
                        "money per kWh",
                    ),
                ),
            ]
        if np.isfinite(design.worth_money):
            numbers.append(
                (
                    "net annual benefit",
                    told("recommended.benefit", design.worth_money, "money"),
                )
            )
        return numbers

    knobs = (
        Knob(
            "flow",
            "design flow",
            range(len(flows)),
            texts=[view.text(each, "flow") for each in found.flows_m3s],
            start=choice.index[1],
            writes=lambda at: {"plan.design_flow": flow_written(found.flows_m3s[at])},
        ),
        Knob(
            "pipe",
            "pipe",
            range(len(found.pipes)),
            texts=[pipe.name for pipe in found.pipes],
            start=choice.index[2],
            writes=(lambda at: {"penstock.pipe.size": found.pipes[at].name})
            if len(study.site.penstock.pipe) == 1 and study.site.penstock.pipe[0].given("size")
            else None,
        ),
        Knob(
            "jets",
            unit,
            range(len(found.jets)),
            texts=[str(each) for each in found.jets],
            start=choice.index[0],
            writes=lambda at: {"plan.jets": int(found.jets[at])},
        ),
    )
    return shown(
        Panel(
            "Energy and money against the design flow",
            tuple(knob for knob in knobs if len(knob.values) > 1),
            made,
            turn=turn,
            against="the recommended size",
            study=study,
        )
    )


# --- 08: changes ticked on and off ----------------------------------------------------------


@needs(Study.upgrades)
def panel_changes(study: Study, view: View, found: Staircase) -> Panel | Picture | Words:
    """The staircase of changes, each step ticked on or off."""
    aim = found.aim
    watts, now = aim.endswith("_w"), "today" if study.exists else "as planned"
    order = [name for step in found.steps for name in step.names] + [
        each.name for each in found.left
    ]
    advised = {
        name
        for step in found.steps
        if step.gain[aim] > 0 and step.pays is not False
        for name in step.names
    }
    price = {
        each.name: "free" if each.cost_money == 0 else view.money(each.cost_money, 2)
        for each in study.changes
    }

    def amount(value: float) -> str:
        return view.text(value, "power") if watts else kwh_text(value)

    ends = [
        found.base[aim],
        found.end[aim],
        found.made(order).numbers[aim],
        *([found.best_numbers[aim]] if found.best_numbers else []),
    ]
    y = np.arange(len(order) + 2)[::-1]
    with figure(7.4, 1.2 + 0.4 * len(y)) as (made, axes):
        axes.barh(y[0], found.base[aim], 0.62, color=CREEK, alpha=0.85)
        bars = moving(axes.barh(y[1:-1], 0.0, 0.62, color=LEAF, alpha=0.9).patches)
        (whole,) = moving(axes.barh(y[-1:], 0.0, 0.62, color=CREEK).patches)
        texts = [moving(axes.text(0, place, "", va="center", fontsize=8.5)) for place in y[1:]]
        labels = [
            now,
            *(
                textwrap.fill(plain_label(f"{number}. {name}", 90), 34)
                for number, name in enumerate(order, 1)
            ),
            "then",
        ]
        axes.set_yticks(y, labels)
        axes.set(
            xlim=(0, 1.25 * max(each for each in ends if np.isfinite(each))),
            xlabel="power [W]"
            if watts
            else "useful energy of a mean year [kWh]"
            if aim == "useful_kwh"
            else "energy of a mean year [kWh]",
        )
        thousands(axes.xaxis)
        axes.grid(axis="y", visible=False)

    def turn(**ticked: bool) -> list[tuple[str, str]]:
        made_so_far: list[str] = []
        level = found.base[aim]
        for place, (name, bar, text) in enumerate(zip(order, bars, texts)):
            after = level
            if ticked[f"change_{place}"]:
                made_so_far.append(name)
                after = found.made(made_so_far).numbers[aim]
            possible = np.isfinite(after)
            bar.set(x=level, width=after - level if possible else 0.0)
            text.set_x(max(level, after))
            text.set_text(
                "  " + (f"{after - level:+,.0f}" if after != level else "no gain")
                if possible and ticked[f"change_{place}"]
                else ""
                if possible
                else "  cannot be combined"
            )
            level = after if possible else level
        step = found.made(made_so_far)
        whole.set_width(level)
        texts[-1].set_x(level)
        texts[-1].set_text("  " + amount(level))
        gain = step.gain[aim]
        if not np.isfinite(gain):
            return [("these changes", "cannot be combined")]
        numbers = [
            ("changes made", f"{len(step.names)} of {len(order)}"),
            (
                "power"
                if watts
                else "useful energy, a year"
                if aim == "useful_kwh"
                else "energy, a mean year",
                amount(step.numbers[aim]),
            ),
            (
                f"more than {now}",
                f"{amount(gain)}, {100 * gain / found.base[aim]:+.0f} %"
                if found.base[aim] > 0
                else amount(gain),
            ),
        ]
        winter = ("useful_" if aim.startswith("useful") else "") + (
            "winter_w" if watts else "winter_kwh"
        )
        if winter in step.numbers:
            numbers.append(("in winter", amount(step.numbers[winter])))
        numbers.append(
            ("capital cost", view.money(step.cost_money) if step.cost_money else "nothing")
        )
        if np.isfinite(step.net_money):
            numbers.append(("net annual benefit", view.money(step.net_money)))
        needed = [name for name in step.names if name not in made_so_far]
        return numbers + ([("also needed", series_text(needed))] if needed else [])

    knobs = tuple(
        tick(f"change_{place}", f"{place + 1}. {name} ({price[name]})", name in advised)
        for place, name in enumerate(order)
    )
    none = {knob.name: False for knob in knobs}
    return shown(
        Panel(
            f"Staircase of changes to {study.name}",
            knobs,
            made,
            turn=turn,
            against=now,
            against_values=none,
            study=study,
            writes=lambda ticked: made_keys(
                study, [name for place, name in enumerate(order) if ticked[f"change_{place}"]]
            ),
        )
    )


# --- 09: what the gauge reads ---------------------------------------------------------------


@needs(Study.card, Study.expectation)
def panel_gauge(
    study: Study, view: View, whole: Card, expectation: Baseline
) -> Panel | Picture | Words:
    """Jets open, a blocked screen and trapped air against gauge pressure and watts.

    No variant is written: what stands open or blocked today is a reading, for the log, and no key.
    """
    from ..running.condition import Condition, forward
    from ..running.healthy_plant import HealthyPlant

    try:
        healthy = HealthyPlant.of(expectation)
    except HydrokitError:
        return Words(
            "*Not shown: without jets of one fixed bore the pressure does not tell the flow.*"
        )
    count = healthy.jets
    alarm = {row.jets: row.alarm_pa for row in whole.rows}
    way, jets = way_of(study, view), np.arange(count + 1)
    full = healthy.full_flow_m3s
    blocked_knob = (
        Knob.over("blocked", "screen blocked", way.blocked)
        if way.screens_m3s.size
        else Knob.over("blocked", "share of the full flow that is missing", way.blocked)
    )

    def condition(blocked: float, air_m: float) -> Condition:
        limits = way.reaching_si(blocked, way.air[0][0])
        comes = (
            min(limits.values())
            if way.screens_m3s.size
            else min(full * (1 - blocked), limits["line"], limits["other parts"])
        )
        # more than three times what the jets take is as good as any amount
        return Condition(
            missing=1 - min(comes / full, 3.0), air_m=air_m, gauge_pa=whole.zero_error_pa
        )

    well = forward(healthy, Condition(gauge_pa=whole.zero_error_pa))
    has_watts = bool(np.isfinite(expectation.power_w).any())
    with figure(7.4, 3.5, 1, 2 if has_watts else 1, squeeze=False) as (made, (row,)):
        shape = [
            ("gauge pressure", "pressure", well.pressure_pa),
            ("power", "power", well.power_w),
        ][: len(row)]
        lines, dots = [], []
        for axes, (name, kind, values) in zip(row, shape):
            values = view.number(values, kind)
            axes.plot(
                jets,
                values,
                color=CREEK,
                marker="o",
                markersize=4,
                label="healthy, forebay spilling",
            )
            lines += moving(axes.plot(jets, values, color=RUST, linestyle=DASHED, label="now"))
            dots += moving(
                axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=10)
            )
            axes.set(
                xlim=(-0.3, count + 0.3),
                ylim=(0, 1.15 * float(np.nanmax(values))),
                xticks=jets,
                xlabel="jets open",
                ylabel=view.header(name, kind),
            )
            thousands(axes.yaxis)
        edge = [float(view.number(alarm[each], "pressure")) for each in sorted(alarm)]
        row[0].fill_between(
            sorted(alarm), 0, edge, color=RUST, alpha=BAND / 2, linewidth=0, label="walk up"
        )
        made.legend(*row[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)

    def turn(jets_open: int, blocked: float, air_m: float) -> list[tuple[str, str]]:
        now = forward(healthy, condition(blocked, air_m))
        for line, dot, (_, kind, _), values in zip(
            lines, dots, shape, (now.pressure_pa, now.power_w)
        ):
            line.set_ydata(view.number(values, kind))
            dot.set_data([jets_open], [float(view.number(values[jets_open], kind))])
        pressure, spills = float(now.pressure_pa[jets_open]), bool(now.spare[jets_open] >= 0)
        numbers = [("gauge", view.text(pressure, "gauge pressure"))]
        if has_watts:
            numbers.append(
                ("power", like(study, view, "plant.healthy_power", now.power_w[jets_open], "power"))
            )
            if jets_open > 1:
                numbers.append(
                    (
                        "power with one jet less",
                        view.text(float(now.power_w[jets_open - 1]), "power"),
                    )
                )
        numbers += [
            ("through the pipe", view.text(float(now.inflow_m3s[jets_open]), "flow")),
            ("the forebay", "spills" if spills else "does not spill"),
        ]
        return [
            *numbers,
            (
                "it says",
                _reading(jets_open, pressure < alarm.get(jets_open, whole.shut_off_low_pa), spills),
            ),
        ]

    knobs = (
        Knob(
            "jets_open", "jets open", jets.tolist(), texts=[str(each) for each in jets], start=count
        ),
        blocked_knob,
        Knob.over(
            "air_m",
            "head loss by air in the penstock",
            levels(view, "head", 0.0, 0.6 * healthy.head_m, 0.0, 20),
        ),
    )
    return shown(
        Panel(
            f"Gauge pressure and power of {study.name} by jets open",
            knobs,
            made,
            turn=turn,
            against="healthy",
            against_values={"blocked": 0.0, "air_m": 0.0},
        )
    )


def _reading(jets_open: int, low: bool, spills: bool) -> str:
    """What a visitor should think of it."""
    if not jets_open:
        return (
            "low with everything shut: air in the pipe, or the gauge"
            if low
            else "everything shut: the gauge shows the static pressure"
        )
    if low:
        return (
            "low and spilling: air or a valve"
            if spills
            else "low and not spilling: close a jet, then walk up"
        )
    return "healthy" if spills else "not spilling, and hardly lower yet: close a jet"
