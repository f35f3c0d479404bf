"""Six control panels, one for each notebook from 02 to 07: turn a knob, see what it does.

Each gives a :class:`~.knobs.Panel`; in a run of the notebooks, where nobody turns knobs, its picture
as the study stands; and the usual sentence where the study lacks what it needs.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..errors import HydrokitError
from ..works.state import CLEAN, State
from . import site as build
from .display import View, Words, plain_number, series_text
from .knobs import Knob, Panel, levels, moving, shares, shown, tick
from .pages.common import needs
from .pages.duration import fed_steps
from .style import BAND, CREEK, GROUND, ICE, INK, LEAF, MONTH_LETTERS, MONTH_NAMES, RUST, figure, legend_above, plain_log, thousands

__all__ = ["panel_changes", "panel_gauge", "panel_rights", "panel_size", "panel_way", "panel_year"]

_EXCEEDANCE = np.linspace(0.005, 0.995, 199)
_DASHED, _DOTTED = (0, (5, 2)), (0, (1, 1.5))
MOST_EFFICIENT = 0.9  # water to wire; the best large plants hardly reach it


def _kwh(value: float) -> str:
    return f"{plain_number(value)} kWh"


# --- 02: what stays, what may be taken -------------------------------------------------------


def _residual_knob(study: Any, view: View) -> Knob:
    """Residual flow as the mean of its months: the rules' own shape is kept, shifted up or down."""
    given = float(study.rights.keep_m3s.mean())
    most = max(2.5 * given, float(np.nanmedian(study.record)))
    return Knob("stays", "stays in the creek, mean of the months", *levels(view, "flow", 0.0, most, given))


def _with_residual(rights: Any, stays_m3s: float) -> Any:
    shift = stays_m3s - float(rights.keep_m3s.mean())
    return replace(rights, keep_m3s=np.maximum(rights.keep_m3s + shift, 0.0))


def _licence_knob(study: Any, view: View) -> Knob:
    given = float(study.rights.licence_m3s.max())
    most = max(float(np.nanquantile(study.record, 0.95)), 1.2 * given if np.isfinite(given) else 0.0)
    values, texts, start = levels(view, "flow", most / 20, most, given if np.isfinite(given) else most / 2, 20)
    values, texts = [*values, np.inf], [*texts, "no limit"]
    return Knob("licence", "most that may be taken", values, texts, start if np.isfinite(given) else len(values) - 1)


def _with_licence(rights: Any, most_m3s: float) -> Any:
    given = rights.licence_m3s
    if not np.isfinite(most_m3s) or not np.isfinite(given).all():
        return rights if most_m3s == given.max() else replace(rights, licence_m3s=np.full(12, most_m3s))
    return replace(rights, licence_m3s=given * most_m3s / given.max())


@needs("record")
def panel_rights(study: Any, view: View) -> Any:
    """Residual flow and licence against what may be taken and the days each jet is fed."""
    record = study.record.dropna()
    natural = record.to_numpy()
    fed = fed_steps(study)
    unit = "jet" if study.plant is not None and hasattr(study.plant.jets, "diameters_m") else "unit"
    days = 365 * _EXCEEDANCE

    def curve(flow: np.ndarray) -> np.ndarray:
        return view.number(np.quantile(flow, 1 - _EXCEEDANCE, method="weibull"), "flow")

    with figure(7.4, 3.9) as (made, axes):
        axes.plot(days, curve(natural), color=CREEK, label="in the creek")
        before = curve(study.usable.dropna().to_numpy())
        axes.plot(days, np.where(before > 0, before, np.nan), color=ICE, linestyle=_DASHED, label="may be taken, as it stands")
        (now,) = moving(axes.plot(days, before, color=LEAF, linewidth=2.4, label="may be taken, now"))
        labels = []
        for count, full, _ in fed:
            level = float(view.number(full, "flow"))
            axes.axhline(level, color=RUST, linewidth=0.9)
            labels.append(moving(axes.text(362, level, "", color=RUST, fontsize=8.5, ha="right", va="bottom")))
        floor = 0.5 * float(curve(natural)[-2])
        axes.set(yscale="log", xlim=(0, 365), ylim=(max(floor, 1e-6), None), xlabel="days a year the flow is reached or exceeded", ylabel=view.header("flow", "flow"))
        plain_log(axes)
        legend_above(axes)

    def turn(stays: float, licence: float) -> list[tuple[str, str]]:
        taken = _with_licence(_with_residual(study.rights, stays), licence).usable_series(record).to_numpy()
        shape = curve(taken)
        now.set_ydata(np.where(shape > 0, shape, np.nan))
        steps = fed_steps(study, taken)
        for label, (count, _, days_fed) in zip(labels, steps):
            label.set_text(f"{count} open: {days_fed:.0f} days")
        numbers = [
            ("of the whole water may be taken", f"{100 * taken.mean() / natural.mean():.0f} %"),
            ("may be taken, mean", view.text(taken.mean(), "flow")),
            ("nothing may be taken", f"{365 * np.mean(taken <= 0):.0f} days a year"),
            ("the creek keeps, on 95 % of the days", view.text(np.quantile(natural - taken, 0.05, method="weibull"), "flow")),
        ]
        return numbers + [(f"{count} {unit}{'s' if count > 1 else ''} fed, {view.text(full, 'flow')}", f"{days_fed:.0f} days a year") for count, full, days_fed in steps]

    return shown(Panel(f"Flow duration of {study.name} and what may be taken of it", (_residual_knob(study, view), _licence_knob(study, view)), made, turn))


# --- 03: what the way passes ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Way:
    """What parts above the pond let come to it, at steps of blockage and of trapped air."""

    blocked: tuple[list[float], list[str], int]
    screens_m3s: np.ndarray
    air: tuple[list[float], list[str], int]
    line_m3s: np.ndarray
    rest_m3s: float

    def reaching_si(self, blocked: float, air_m: float) -> dict[str, float]:
        """What each lets come to the pond, in m³/s."""
        screens = self.screens_m3s[self.blocked[0].index(blocked)] if self.screens_m3s.size else np.inf
        line = self.line_m3s[self.air[0].index(air_m)] if self.line_m3s.size else np.inf
        return {"screen": float(screens), "line": float(line), "other parts": self.rest_m3s}


def _way(study: Any, view: View) -> _Way:
    blocked = shares(0.0, 0.95, 0.05)
    air: tuple[list[float], list[str], int] = ([0.0], ["none"], 0)
    screens, lines, rest = [], [], [np.inf]
    for place, part in enumerate(study.supply):
        kept = float(np.prod([1 - getattr(each, "share_lost", 0.0) for each in study.supply[place + 1 :]]))
        clean = float(part.capacity_si(CLEAN)) * kept
        if part.capacity_si(State(clogged=0.5)) < part.capacity_si(CLEAN):
            screens.append([float(part.capacity_si(State(clogged=share))) * kept for share in blocked[0]])
        elif hasattr(part, "line"):
            air = levels(view, "head", 0.0, 0.95 * part.line.head_m, 0.0, 20)
            lines.append(part.capacity_si(State(air_m=np.array(air[0]))) * kept)
        else:
            rest.append(clean)
    return _Way(blocked, np.min(screens, axis=0) if screens else np.array([]), air, np.min(lines, axis=0) if lines else np.array([]), min(rest))


def _way_knobs(way: _Way) -> tuple[Knob, ...]:
    knobs = [Knob("blocked", "screen blocked", *way.blocked)] if way.screens_m3s.size else []
    return (*knobs, Knob("air_m", "head taken by air in the line", *way.air)) if way.line_m3s.size else tuple(knobs)


def panel_way(study: Any, view: View) -> Any:
    """A blocked screen and an air pocket against what comes to the pond."""
    way = _way(study, view)
    sides = [
        (axis, curve, label) for axis, curve, label in (
            (100 * np.array(way.blocked[0]), way.screens_m3s, "share of the screen that is blocked [%]"),
            (view.number(np.array(way.air[0]), "head"), way.line_m3s, view.header("head taken by air in the line", "head")),
        ) if curve.size
    ]  # fmt: skip
    if not sides:
        return Words("*Not shown: a screen or a diversion line with its capacity is lacking.*")
    wanted = study.full_flow_m3s
    power = None if study.plant is None else study.plant.replace(supply=(), states=(), schedule=()).curve()
    top = 1.15 * max(*(float(curve.max()) for _, curve, _ in sides), wanted or 0.0)
    with figure(7.4, 3.5, 1, len(sides), sharey=True, squeeze=False) as (made, (row,)):
        dots, through = [], []
        for axes, (axis, curve, label) in zip(row, sides):
            axes.plot(axis, view.number(curve, "flow"), color=CREEK, label="it lets through")
            if wanted:
                axes.axhline(float(view.number(wanted, "flow")), color=GROUND, linestyle=_DOTTED, label="everything open takes")
            through.append(moving(axes.axhline(0.0, color=RUST, linewidth=2, linestyle=_DASHED, label="comes to the pond")))
            dots += moving(axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=9))
            axes.set(xlim=(0, axis[-1]), ylim=(0, float(view.number(top, "flow"))), xlabel=label)
        row[0].set_ylabel(view.header("flow", "flow"))
        made.legend(*row[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)

    def turn(blocked: float = 0.0, air_m: float = 0.0) -> list[tuple[str, str]]:
        limits = {name: limit for name, limit in way.reaching_si(blocked, air_m).items() if np.isfinite(limit)}
        held = min(limits, key=limits.get)
        comes = limits[held]
        at = [(100 * blocked, limits["screen"])] if "screen" in limits else []
        at += [(float(view.number(air_m, "head")), limits["line"])] if "line" in limits else []
        for dot, line, (x, y) in zip(dots, through, at):
            dot.set_data([x], [float(view.number(y, "flow"))])
            line.set_ydata([float(view.number(comes, "flow"))] * 2)
        numbers = [(f"the {name} let{'' if name.endswith('s') else 's'} through", view.text(limit, "flow")) for name, limit in limits.items()]
        numbers += [("comes to the pond at most", view.text(comes, "flow")), ("held back by", f"the {held}")]
        if power is not None:
            numbers.append(("most power of it", f"{view.text(float(power.power_si(comes)), 'power')}, {int(power.jets_si(comes))} open"))
        return numbers

    return shown(Panel("What the screen and the line let come to the pond", _way_knobs(way), made, turn, "clean, no air"))


# --- 04: size against energy and money ------------------------------------------------------


def _money_axis(found: Any, view: View) -> tuple[np.ndarray, str, float]:
    """What the right side shows against the flow: worth, else cost, else head lost; its title and lower end."""
    if np.isfinite(found.worth_money).any():
        return found.worth_money, f"worth less cost, a year [{view.currency}]", float(np.nanmax(found.worth_money)) - 1.5 * float(np.ptp([0.0, np.nanmax(found.worth_money)]))
    if found.costs is not None:
        return found.levelised_money_per_kwh, f"cost of a kWh of use [{view.currency}]", 0.0
    return 100 * found.loss_share, "head lost at full flow [%]", 0.0


@needs("sizing")
def panel_size(study: Any, view: View) -> Any:
    """Design flow, pipe and jets against kWh and money, looked up among all that was tried."""
    found, choice = study.sizing, study.sizing.choice
    flows = view.number(found.flows_m3s, "flow")
    unit = "units" if found.layout.adjustable else "jets"
    right_values, right_title, lowest = _money_axis(found, view)
    best = [design for design in found.along_flows() if design is not None]
    with figure(7.4, 3.5, 1, 2) as (made, (left, right)):
        for axes, values, title in ((left, found.kwh, "energy of a mean year [kWh]"), (right, right_values, right_title)):
            at_best = [float(values[each.index]) for each in best]
            axes.plot(view.number([each.flow_m3s for each in best], "flow"), at_best, color=ICE, linestyle=_DASHED, label="best pipe at each flow")
            axes.plot(float(view.number(choice.flow_m3s, "flow")), float(values[choice.index]), "o", color="white", markeredgecolor=INK, markersize=10, label="the choice")
            axes.set(xlim=(0, flows[-1] * 1.03), xlabel=view.header("design flow", "flow"), title=title)
            thousands(axes.yaxis)
        left.set_ylim(0, 1.08 * float(np.nanmax(found.kwh)))
        highest = 3 * float(np.nanmin(right_values)) if found.costs is not None and lowest == 0.0 else float(np.nanmax(right_values))
        right.set_ylim(lowest, highest + 0.08 * (highest - lowest))
        lines = [moving(axes.plot(flows, flows, color=CREEK, label="this pipe"))[0] for axes in (left, right)]
        dots = [moving(axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=9, label="now"))[0] for axes in (left, right)]
        made.legend(*left.get_legend_handles_labels(), loc="outside lower left", ncols=4)

    def turn(flow: int = choice.index[1], pipe: int = choice.index[2], jets: int = choice.index[0]) -> list[tuple[str, str]]:
        design = found.design((jets, flow, pipe))
        for line, dot, values in zip(lines, dots, (found.kwh, right_values)):
            line.set_ydata(values[jets, :, pipe])
            dot.set_data([flows[flow]], [values[design.index]])
        numbers = [("energy of a mean year", _kwh(design.kwh)), ("in winter", _kwh(design.winter_kwh))]
        if abs(design.useful_kwh - design.kwh) > 0.5:
            numbers.append(("of use", _kwh(design.useful_kwh)))
        numbers += [
            ("greatest power", view.text(design.rated_w, "power")), ("power on 95 % of the days", view.text(design.firm_w, "power")),
            ("head lost in the pipe", f"{100 * design.loss_share:.0f} %" + (", more than a third: never take it" if design.too_lossy else "")),
        ]  # fmt: skip
        if found.costs is not None:
            numbers += [("first cost", view.money(design.first_money)), ("a kWh of use costs", view.money(design.levelised_money_per_kwh))]
        if np.isfinite(design.worth_money):
            numbers.append(("worth less cost, a year", view.money(design.worth_money)))
        return numbers

    knobs = (
        Knob("flow", "design flow", range(len(flows)), [view.text(each, "flow") for each in found.flows_m3s], choice.index[1]),
        Knob("pipe", "pipe", range(len(found.pipes)), [f"{pipe.name}, {view.text(pipe.diameter_m, 'diameter')} inside" for pipe in found.pipes], choice.index[2]),
        Knob("jets", unit, range(len(found.jets)), [str(each) for each in found.jets], choice.index[0]),
    )
    return shown(Panel("Energy and money against the design flow", tuple(knob for knob in knobs if len(knob.values) > 1), made, turn, "the choice"))


# --- 05: what the year gives ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _MeanYear:
    """Monthly energy of the mean year, ready to be worked out again and again.

    The same means as ``energy.year.annual_energy`` gives, without its tables.
    """

    study: Any
    record: Any
    steps: Any
    share: np.ndarray  # kWh of the mean year for each watt of each step
    demand_w: np.ndarray | None

    @classmethod
    def of(cls, study: Any) -> "_MeanYear":
        from ..energy.sizing import counted_months
        from ..energy.year import demand_of_steps, steps_of

        steps = steps_of(study.usable, study.year.start_month)
        counted = counted_months(steps.complete)
        weight = counted / np.maximum(counted.sum(axis=0), 1) * build.outages(study.site).running * steps.step_hours / 1000
        demand = None if study.demand_w is None else demand_of_steps(study.demand_w, study.usable)
        return cls(study, study.record, steps, weight.ravel()[steps.group], demand)

    def monthly_kwh(self, stays_m3s: float, factor: float) -> tuple[np.ndarray, np.ndarray]:
        """Generated, and of use."""
        from ..energy.year import power_of_steps

        flow = _with_residual(self.study.rights, stays_m3s).usable_series(self.record).to_numpy()
        power = factor * np.nan_to_num(power_of_steps(flow, self.steps.month, self.study.plant.curves()))
        useful = power if self.demand_w is None else np.minimum(power, self.demand_w)
        return tuple(np.bincount(self.steps.month - 1, each * self.share, 12) for each in (power, useful))


@needs("year")
def panel_year(study: Any, view: View) -> Any:
    """Residual flow and efficiency against the kWh of each month."""
    worked, months = _MeanYear.of(study), np.arange(1, 13)
    full = study.plant.running().at_si(1e3)
    penstock = study.plant.penstock
    whole = float(full.power_w / (study.plant.density_kgm3 * 9.80665 * full.used_m3s * penstock.static_si()))
    factors, _, start = shares(0.7, 1.2, 0.05, 1.0)
    factors = [each for each in factors if each * whole <= MOST_EFFICIENT or each <= 1]
    as_now = study.year.monthly_kwh.to_numpy()
    most = 1.15 * max(float(np.nanmax(worked.monthly_kwh(0.0, factors[-1])[0])), float(np.nanmax(as_now)))
    with figure(7.4, 3.5) as (made, axes):
        bars = moving(axes.bar(months, as_now, 0.7, color=CREEK, label="now").patches)
        axes.hlines(as_now, months - 0.42, months + 0.42, color=INK, linewidth=1.6, label="as it stands")
        if worked.demand_w is not None:
            need = np.bincount(worked.steps.month - 1, worked.demand_w * worked.share, 12) / build.outages(study.site).running
            axes.step(np.append(months - 0.5, 12.5), np.append(need, need[-1]), where="post", color=RUST, linewidth=1.4, label="needed")
            most = max(most, 1.08 * float(need.max()))
        axes.set(xlim=(0.5, 12.5), ylim=(0, most), xticks=months, ylabel="energy of a mean month [kWh]")
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        thousands(axes.yaxis)
        legend_above(axes)

    def turn(stays: float, factor: float) -> list[tuple[str, str]]:
        kwh, useful = worked.monthly_kwh(stays, factor)
        for bar, height in zip(bars, kwh):
            bar.set_height(height)
        least = int(np.argmin(kwh))
        numbers = [("a mean year", _kwh(kwh.sum())), ("in winter", _kwh(kwh[np.array(study.winter) - 1].sum()))]
        if worked.demand_w is not None:
            numbers.append(("of use a year", _kwh(useful.sum())))
        return [*numbers, ("leanest month", f"{MONTH_NAMES[least]}, {_kwh(kwh[least])}")]

    knobs = (
        _residual_knob(study, view),
        Knob("factor", "of the water's power comes to the wire", factors, [f"{100 * whole * each:.3g} %" for each in factors], start),
    )
    return shown(Panel(f"Energy of {study.name} month by month", knobs, made, turn))


# --- 06: changes ticked on and off ----------------------------------------------------------


@needs("upgrades")
def panel_changes(study: Any, view: View) -> Any:
    """The staircase of changes, each step ticked on or off."""
    found, aim = study.upgrades, study.upgrades.aim
    watts = aim.endswith("_w")
    order = [name for step in found.steps for name in step.names] + [each.name for each in found.left]
    advised = {name for step in found.steps if step.gain[aim] > 0 and step.pays is not False for name in step.names}
    price = {each.name: "free" if each.cost_money == 0 else view.money(each.cost_money, 2) for each in study.changes}

    def amount(value: float) -> str:
        return view.text(value, "power") if watts else _kwh(value)

    ends = [found.base[aim], found.end[aim], found.made(order).numbers[aim], *([found.best_numbers[aim]] if found.best_numbers else [])]
    y = np.arange(len(order) + 2)[::-1]
    with figure(7.4, 1.2 + 0.4 * len(y)) as (made, axes):
        axes.barh(y[0], found.base[aim], 0.62, color=CREEK, alpha=0.85)
        bars = moving(axes.barh(y[1:-1], 0.0, 0.62, color=LEAF, alpha=0.9).patches)
        (whole,) = moving(axes.barh(y[-1:], 0.0, 0.62, color=CREEK).patches)
        texts = [moving(axes.text(0, place, "", va="center", fontsize=8.5)) for place in y[1:]]
        labels = ["today", *(textwrap.fill(f"{number}. {name}", 34) for number, name in enumerate(order, 1)), "then"]
        axes.set_yticks(y, labels, parse_math=False)
        axes.set(xlim=(0, 1.25 * max(each for each in ends if np.isfinite(each))), xlabel="power [W]" if watts else "energy of a mean year that is of use [kWh]" if aim == "useful_kwh" else "energy of a mean year [kWh]")
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
            text.set_text("  " + (f"{after - level:+,.0f}" if after != level else "no gain") if possible and ticked[f"change_{place}"] else "" if possible else "  cannot be combined")
            level = after if possible else level
        step = found.made(made_so_far)
        whole.set_width(level)
        texts[-1].set_x(level)
        texts[-1].set_text("  " + amount(level))
        gain = step.gain[aim]
        if not np.isfinite(gain):
            return [("these changes", "cannot be combined")]
        numbers = [
            ("power" if watts else "of use a year" if aim == "useful_kwh" else "a mean year", amount(step.numbers[aim])),
            ("more than today", f"{amount(gain)}, {100 * gain / found.base[aim]:+.0f} %" if found.base[aim] > 0 else amount(gain)),
        ]
        winter = "winter_w" if watts else "winter_kwh"
        if winter in step.numbers:
            numbers.append(("in winter", amount(step.numbers[winter])))
        numbers.append(("they cost", view.money(step.cost_money) if step.cost_money else "nothing"))
        if np.isfinite(step.net_money):
            numbers.append(("worth less cost, a year", view.money(step.net_money)))
        needed = [name for name in step.names if name not in made_so_far]
        return numbers + ([("come with them, being needed", series_text(needed))] if needed else [])

    knobs = tuple(tick(f"change_{place}", f"{place + 1}. {name} ({price[name]})", name in advised) for place, name in enumerate(order))
    none = {knob.name: False for knob in knobs}
    return shown(Panel(f"Staircase of changes to {study.name}", knobs, made, turn, "today", none))


# --- 07: what the gauge reads ---------------------------------------------------------------


@needs("plant")
def panel_gauge(study: Any, view: View) -> Any:
    """Jets open, a blocked screen and trapped air against gauge pressure and watts."""
    from ..running.card import card, expected
    from ..running.faults import Condition, HealthyPlant, forward

    bare = study.plant.replace(supply=(), states=(), schedule=())
    if not hasattr(bare.jets, "diameters_m"):
        return Words("*Not shown: with a spear or a gate the pressure does not tell the flow.*")
    base = study.baseline or expected(bare, gauge_height_m=study.site["penstock"].get("gauge_height", 0.0))
    try:
        healthy = HealthyPlant.of(base)
    except HydrokitError:
        return Words("*Not shown: with jets of different bore the pressure does not tell the flow.*")
    whole, count = card(base), healthy.jets
    alarm = {row.jets: row.alarm_pa for row in whole.rows}
    way, jets = _way(study, view), np.arange(count + 1)
    full = healthy.full_flow_m3s
    blocked_knob = Knob("blocked", "screen blocked", *way.blocked) if way.screens_m3s.size else Knob("blocked", "share of the full flow that does not come", *way.blocked)

    def condition(blocked: float, air_m: float) -> Condition:
        limits = way.reaching_si(blocked, way.air[0][0])
        comes = min(limits.values()) if way.screens_m3s.size else min(full * (1 - blocked), limits["line"], limits["other parts"])
        # more than three times what the jets take is as good as any amount
        return Condition(missing=1 - min(comes / full, 3.0), air_m=air_m)

    well = forward(healthy, Condition())
    has_watts = bool(np.isfinite(base.power_w).any())
    with figure(7.4, 3.5, 1, 2 if has_watts else 1, squeeze=False) as (made, (row,)):
        shape = [("gauge pressure", "pressure", well.pressure_pa), ("power", "power", well.power_w)][: len(row)]
        lines, dots = [], []
        for axes, (name, kind, values) in zip(row, shape):
            values = view.number(values, kind)
            axes.plot(jets, values, color=CREEK, marker="o", markersize=4, label="in health, pond spilling")
            lines += moving(axes.plot(jets, values, color=RUST, linestyle=_DASHED, label="now"))
            dots += moving(axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=10))
            axes.set(xlim=(-0.3, count + 0.3), ylim=(0, 1.15 * float(np.nanmax(values))), xticks=jets, xlabel="jets open", ylabel=view.header(name, kind))
            thousands(axes.yaxis)
        edge = [float(view.number(alarm[each], "pressure")) for each in sorted(alarm)]
        row[0].fill_between(sorted(alarm), 0, edge, color=RUST, alpha=BAND / 2, linewidth=0, label="walk up")
        made.legend(*row[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)

    def turn(jets_open: int, blocked: float, air_m: float) -> list[tuple[str, str]]:
        now = forward(healthy, condition(blocked, air_m))
        for line, dot, (_, kind, _), values in zip(lines, dots, shape, (now.pressure_pa, now.power_w)):
            line.set_ydata(view.number(values, kind))
            dot.set_data([jets_open], [float(view.number(values[jets_open], kind))])
        pressure, spills = float(now.pressure_pa[jets_open]), bool(now.spare[jets_open] >= 0)
        numbers = [("gauge", view.text(pressure, "pressure"))]
        if has_watts:
            numbers.append(("power", view.text(float(now.power_w[jets_open]), "power")))
            if jets_open > 1:
                numbers.append(("power with one jet less", view.text(float(now.power_w[jets_open - 1]), "power")))
        numbers += [("through the pipe", view.text(float(now.inflow_m3s[jets_open]), "flow")), ("the pond", "spills" if spills else "does not spill")]
        return [*numbers, ("it says", _reading(jets_open, pressure < alarm.get(jets_open, whole.shut_off_low_pa), spills))]

    knobs = (
        Knob("jets_open", "jets open", jets.tolist(), [str(each) for each in jets], count),
        blocked_knob,
        Knob("air_m", "head taken by air in the penstock", *levels(view, "head", 0.0, 0.6 * healthy.head_m, 0.0, 20)),
    )
    return shown(Panel(f"Gauge pressure and power of {study.name} by jets open", knobs, made, turn, "in health"))


def _reading(jets_open: int, low: bool, spills: bool) -> str:
    """What a visitor should think of it."""
    if not jets_open:
        return "low with everything shut: air in the pipe, or the gauge" if low else "everything shut: the gauge shows the head"
    if low:
        return "low and spilling: air or a valve" if spills else "low and not spilling: close a jet, then walk up"
    return "well" if spills else "not spilling, and hardly lower yet: close a jet"
