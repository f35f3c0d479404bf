"""Panels on the water: residual and available flow, what the way to the forebay passes, energy of
the year."""

from __future__ import annotations

import functools
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import sure
from ..plant.operation import Passage
from ..report.display import Words
from ..report.pages.common import needs
from ..report.style import (
    CREEK,
    GROUND,
    ICE,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    SUN,
    figure,
    legend_above,
    plain_log,
    thousands,
)
from ..study.build.clogging import catches
from ..study.build.days import fed_steps
from ..study.build.machines import opened
from ..study.build.record import lean_flow
from ..study.study import Study
from ..study.view import View
from ..water import GRAVITY
from ..works.state import CLEAN, State
from .changes_written import blocked_keys
from .knobs import DASHED, DOTTED, Knob, Panel, kwh_text, levels, like, moving, shares, shown
from .mean_year import MeanYear, taker, with_residual
from .variant_button import flow_written, residual_rules

if TYPE_CHECKING:
    import pandas as pd

    from ..energy.net import NetYear
    from ..plant.chain import Chain
    from ..report.display import Picture

__all__ = ["Way", "panel_rights", "panel_way", "panel_year", "way_of"]

_EXCEEDANCE = np.linspace(0.005, 0.995, 199)
MOST_EFFICIENT = 0.9  # water to wire; the best large plants hardly reach it


# --- 02: what stays, what may be taken -------------------------------------------------------


def _residual_knob(study: Study, view: View) -> Knob:
    """Residual flow as the mean of its months, whose shape is kept; what the rules leave as a share
    of the flow stays besides."""
    given = float(study.rights.keep_m3s.mean())
    most = max(2.5 * given, float(np.nanmedian(sure(study.record))))
    plain = not np.any(study.rights.share_left) and not np.any(study.rights.hands_off_m3s)

    def writes(stays_m3s: float) -> dict[str, Any]:
        kept = with_residual(study.rights, stays_m3s).keep_m3s
        return {"rights.residual": residual_rules(kept)}

    return Knob.over(
        "stays",
        "residual flow, mean of the months",
        levels(view, "flow", 0.0, most, given),
        writes=writes if plain else None,  # a share of the flow is told by no flow
    )


def _licence_knob(study: Study, view: View) -> Knob:
    given = float(study.rights.licence_m3s.max())
    most = max(
        float(np.nanquantile(sure(study.record), 0.95)), 1.2 * given if np.isfinite(given) else 0.0
    )
    values, texts, start = levels(
        view, "flow", most / 20, most, given if np.isfinite(given) else most / 2, 20
    )
    values, texts = [*values, np.inf], [*texts, "no limit"]
    return Knob(
        "licence",
        "licence",
        values,
        texts=texts,
        start=start if np.isfinite(given) else len(values) - 1,
        writes=lambda most: {"rights.licence": flow_written(most) if np.isfinite(most) else None},
    )


def _with_licence(rights: Any, most_m3s: float) -> Any:
    given = rights.licence_m3s
    if not np.isfinite(most_m3s) or not np.isfinite(given).all():
        return (
            rights
            if most_m3s == given.max()
            else replace(rights, licence_m3s=np.full(12, most_m3s))
        )
    return replace(rights, licence_m3s=given * most_m3s / given.max())


@needs(Study.record)
def panel_rights(study: Study, view: View, record: pd.Series) -> Panel | Picture | Words:
    """Residual flow and licence against what may be taken and the days each jet is fed."""
    taken_under, known = taker(study), record.notna().to_numpy()
    natural = record.to_numpy()[known]
    fed = fed_steps(study)
    unit = opened(study)
    days = 365 * _EXCEEDANCE

    def curve(flow: np.ndarray) -> np.ndarray:
        return view.number(np.quantile(flow, 1 - _EXCEEDANCE, method="weibull"), "flow")

    with figure(7.4, 3.9) as (made, axes):
        axes.plot(days, curve(natural), color=CREEK, label="in the creek")
        before = curve(taken_under(study.rights)[known])
        axes.plot(
            days,
            np.where(before > 0, before, np.nan),
            color=ICE,
            linestyle=DASHED,
            label="available flow, as it stands",
        )
        (now,) = moving(
            axes.plot(days, before, color=LEAF, linewidth=2.4, label="available flow, now")
        )
        labels = []
        for _, full, _ in fed:
            level = float(view.number(full, "flow"))
            axes.axhline(level, color=RUST, linewidth=0.9)
            labels.append(moving(axes.text(4, level, "", color=RUST, fontsize=8.5, va="bottom")))
        axes.set(
            yscale="log",
            xlim=(0, 365),
            ylim=(0.5 * float(view.number(lean_flow(study), "flow")), None),
            xlabel="days a year the flow is reached or exceeded",
            ylabel=view.header("flow", "flow"),
        )
        plain_log(axes)
        legend_above(axes)

    def turn(stays: float, licence: float) -> list[tuple[str, str]]:
        taken = taken_under(_with_licence(with_residual(study.rights, stays), licence))[known]
        shape = curve(taken)
        now.set_ydata(np.where(shape > 0, shape, np.nan))
        steps = fed_steps(study, taken)
        for label, (count, _, days_fed) in zip(labels, steps):
            label.set_text(f"{count} open: {days_fed:.0f} days")
        numbers = [
            ("available share of the water", f"{100 * taken.mean() / natural.mean():.0f} %"),
            ("available flow, mean", like(study, view, "water.usable_mean", taken.mean(), "flow")),
            ("no flow available", f"{365 * np.mean(taken <= 0):.0f} days a year"),
            (
                "left in the creek, exceeded on 95 % of the days",
                view.text(np.quantile(natural - taken, 0.05, method="weibull"), "flow"),
            ),
        ]
        return numbers + [
            (
                f"{count} {unit}{'s' if count > 1 else ''} fed, {view.text(full, 'flow')}",
                f"{days_fed:.0f} days a year",
            )
            for count, full, days_fed in steps
        ]

    return shown(
        Panel(
            f"Flow duration of {study.name} and its available flow",
            (_residual_knob(study, view), _licence_knob(study, view)),
            made,
            turn=turn,
            study=study,
        )
    )


# --- 03: what the way passes ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Way:
    """What parts above the pond let come to it, at steps of blockage and of trapped air."""

    blocked: tuple[list[float], list[str], int]
    screens_m3s: np.ndarray
    air: tuple[list[float], list[str], int]
    _: KW_ONLY
    line_m3s: np.ndarray
    rest_m3s: float

    def reaching_si(self, blocked: float, air_m: float) -> dict[str, float]:
        """What each lets come to the pond, in m³/s."""
        screens = (
            self.screens_m3s[self.blocked[0].index(blocked)] if self.screens_m3s.size else np.inf
        )
        line = self.line_m3s[self.air[0].index(air_m)] if self.line_m3s.size else np.inf
        return {"screen": float(screens), "line": float(line), "other parts": self.rest_m3s}


def way_of(study: Study, view: View) -> Way:
    blocked = shares(0.0, 0.95, 0.05)
    air: tuple[list[float], list[str], int] = ([0.0], ["none"], 0)
    screens: list[list[float]] = []
    lines: list[np.ndarray] = []
    rest = [np.inf]
    for place, part in enumerate(study.supply):
        below = functools.reduce(Passage.through, study.supply[place + 1 :], Passage())
        clean = float(below.leaves_si(part.capacity_si(CLEAN)))
        if catches(part):
            screens.append(
                [
                    float(below.leaves_si(part.capacity_si(State(clogged=share))))
                    for share in blocked[0]
                ]
            )
        elif hasattr(part, "line"):
            air = levels(view, "head", 0.0, 0.95 * part.line.head_m, 0.0, 20)
            stalled = part.capacity_si(State(air_m=np.array(air[0])))
            lines.append(np.asarray(below.leaves_si(stalled)))
        else:
            rest.append(clean)
    return Way(
        blocked,
        np.min(screens, axis=0) if screens else np.array([]),
        air,
        line_m3s=np.min(lines, axis=0) if lines else np.array([]),
        rest_m3s=min(rest),
    )


def _way_knobs(study: Study, way: Way) -> tuple[Knob, ...]:
    """No key says what air takes of the line's head: that follows from its levels and vents."""
    screen = Knob.over(
        "blocked", "screen blocked", way.blocked, writes=lambda share: blocked_keys(study, share)
    )
    knobs = [screen] if way.screens_m3s.size else []
    return (
        (*knobs, Knob.over("air_m", "head loss by air in the line", way.air))
        if way.line_m3s.size
        else tuple(knobs)
    )


def panel_way(study: Study, view: View) -> Panel | Picture | Words:
    """A blocked screen and an air pocket against what comes to the pond."""
    way = way_of(study, view)
    sides = [
        (axis, curve, label)
        for axis, curve, label in (
            (
                100 * np.array(way.blocked[0]),
                way.screens_m3s,
                "share of the screen that is blocked [%]",
            ),
            (
                view.number(np.array(way.air[0]), "head"),
                way.line_m3s,
                view.header("head loss by air in the line", "head"),
            ),
        )
        if curve.size
    ]
    if not sides:
        return Words("*Not shown: a screen or a diversion line with its capacity is missing.*")
    wanted = study.full_flow_m3s
    power = (
        None
        if study.plant is None
        else study.plant.replace(supply=(), states=(), schedule=()).curve()
    )
    top = 1.15 * max(*(float(curve.max()) for _, curve, _ in sides), wanted or 0.0)
    with figure(7.4, 3.5, 1, len(sides), sharey=True, squeeze=False) as (made, (row,)):
        dots, through = [], []
        for axes, (axis, curve, label) in zip(row, sides):
            axes.plot(axis, view.number(curve, "flow"), color=CREEK, label="capacity")
            if wanted:
                axes.axhline(
                    float(view.number(wanted, "flow")),
                    color=GROUND,
                    linestyle=DOTTED,
                    label="full flow of the plant",
                )
            through.append(
                moving(
                    axes.axhline(
                        0.0, color=RUST, linewidth=2, linestyle=DASHED, label="reaches the forebay"
                    )
                )
            )
            dots += moving(
                axes.plot([0], [0], "o", color=RUST, markeredgecolor="white", markersize=9)
            )
            axes.set(xlim=(0, axis[-1]), ylim=(0, float(view.number(top, "flow"))), xlabel=label)
        row[0].set_ylabel(view.header("flow", "flow"))
        made.legend(*row[0].get_legend_handles_labels(), loc="outside upper left", ncols=3)

    def turn(blocked: float = 0.0, air_m: float = 0.0) -> list[tuple[str, str]]:
        limits = {
            name: limit
            for name, limit in way.reaching_si(blocked, air_m).items()
            if np.isfinite(limit)
        }
        held = min(limits, key=lambda name: limits[name])
        comes = limits[held]
        at = [(100 * blocked, limits["screen"])] if "screen" in limits else []
        at += [(float(view.number(air_m, "head")), limits["line"])] if "line" in limits else []
        for dot, line, (x, y) in zip(dots, through, at):
            dot.set_data([x], [float(view.number(y, "flow"))])
            line.set_ydata([float(view.number(comes, "flow"))] * 2)
        numbers = [
            (f"capacity of the {name}", view.text(limit, "flow")) for name, limit in limits.items()
        ]
        numbers += [
            ("reaches the forebay at most", view.text(comes, "flow")),
            ("limiting component", f"the {held}"),
        ]
        if power is not None:
            numbers.append(
                (
                    "greatest power with it",
                    f"{view.text(float(power.power_si(comes)), 'power')}, {int(power.jets_si(comes))} open",
                )
            )
        return numbers

    return shown(
        Panel(
            "What the screen and the line pass to the forebay",
            _way_knobs(study, way),
            made,
            turn=turn,
            against="clean, no air",
            study=study,
        )
    )


# --- 05: what the year gives ----------------------------------------------------------------


@needs(Study.year, Study.plant)
def panel_year(study: Study, view: View, year: NetYear, plant: Chain) -> Panel | Picture | Words:
    """Residual flow and efficiency against the kWh of each month."""
    if not np.isfinite(year.annual_kwh):
        return Words("*Not shown: the record has no complete year of months.*")
    worked, months = MeanYear.of(study), np.arange(1, 13)
    full = plant.running().at_si(1e3)
    penstock = plant.penstock
    whole = float(
        full.power_w / (plant.density_kgm3 * GRAVITY * full.used_m3s * penstock.static_si())
    )
    factors, _, start = shares(0.7, 1.2, 0.05, 1.0)
    factors = [each for each in factors if each * whole <= MOST_EFFICIENT or each <= 1]
    as_now = year.monthly_kwh.to_numpy()
    most = 1.15 * max(
        float(np.nanmax(worked.monthly_kwh(0.0, factors[-1])[0])), float(np.nanmax(as_now))
    )
    with figure(7.4, 3.5) as (made, axes):
        bars = moving(axes.bar(months, as_now, 0.7, color=CREEK, label="now").patches)
        moving(
            axes.hlines(
                as_now, months - 0.42, months + 0.42, color=SUN, linewidth=2.4, label="as it stands"
            )
        )
        need = worked.needed_kwh
        if need is not None:
            moving(
                axes.step(
                    np.append(months - 0.5, 12.5),
                    np.append(need, need[-1]),
                    where="post",
                    color=RUST,
                    linewidth=1.6,
                    label="demand",
                )
            )
            most = max(most, 1.08 * float(need.max()))
        axes.set(
            xlim=(0.5, 12.5), ylim=(0, most), xticks=months, ylabel="energy of a mean month [kWh]"
        )
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        thousands(axes.yaxis)
        legend_above(axes)

    def turn(stays: float, factor: float) -> list[tuple[str, str]]:
        kwh, useful = worked.monthly_kwh(stays, factor)
        for bar, height in zip(bars, kwh):
            bar.set_height(height)
        least = int(np.argmin(kwh))
        numbers = [
            ("energy, a mean year", like(study, view, "energy.net", kwh.sum(), "kWh")),
            ("in winter", kwh_text(kwh[np.array(study.winter) - 1].sum())),
        ]
        if worked.demand_w is not None:
            numbers.append(("useful energy, a year", kwh_text(useful.sum())))
        return [
            *numbers,
            ("month of least mean energy", f"{MONTH_NAMES[least]}, {kwh_text(kwh[least])}"),
        ]

    knobs = (
        _residual_knob(study, view),
        Knob(
            "factor",
            "water-to-wire efficiency",
            factors,
            texts=[f"{100 * whole * each:.3g} %" for each in factors],
            start=start,
        ),
    )
    return shown(
        Panel(f"Energy of {study.name} month by month", knobs, made, turn=turn, study=study)
    )
