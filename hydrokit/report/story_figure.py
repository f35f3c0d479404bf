"""The figures of the page of the whole story, drawn for the size at which paper shows them.

Water, energy and money stand beside each other, as pages 02, 05 and 07 have them; the owner's
survey is a small plan.
"""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ..energy.levels import MEDIAN, SECURE
from ..errors import sure
from ..study.keyed import plain
from .display import Picture
from .marking import markdown
from .sketch_map import drawn_plan, survey_words
from .style import (
    BAND,
    CREEK,
    FILLS,
    INK,
    LEAF,
    MONTH_LETTERS,
    RUST,
    SUN,
    figure,
    plain_log,
    thousands,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ..study.study import Study
    from ..study.view import View

__all__ = ["LETTERS", "PLAN", "STRIP", "plan_of_story", "story_figures", "strip"]

# Inches and points as they stand on paper; report.css gives the strip the whole width.
STRIP = (7.08, 1.9)
PLAN = (3.4, 1.85)
LETTERS = 7.2
_EXCEEDED = np.linspace(0.005, 0.995, 199)

Panel = tuple[str, str, Callable[["Axes"], str]]  # title, what its band is, what draws it


def story_figures(study: Study, view: View) -> dict[str, str]:
    """The figures of the page of the whole story and what is said beside the plan, as HTML."""
    found = {"figure": strip(study, view), "plan": plan_of_story(study, view)}
    made = {name: _image(each) for name, each in found.items() if each is not None}
    read = "; ".join(note for _, note, _ in _panels(study, view) if note)
    made["reading"] = html.escape(f"{read[:1].upper()}{read[1:]}.") if read else ""
    if study.sketch is not None:
        made["survey"] = markdown(survey_words(study, view, study.sketch).text)
    return made


def _image(picture: Picture) -> str:
    alt = html.escape(plain(picture.alt))
    return f'<img src="data:image/png;base64,{picture.png()}" alt="{alt}">'


def strip(study: Study, view: View) -> Picture | None:
    """Water, energy and money of a study in one row; None where nothing of them is known."""
    panels = _panels(study, view)
    if not panels:
        return None
    said = []
    width, height = STRIP
    with figure(width, height, 1, len(panels), squeeze=False) as (made, axes):
        for place, (title, _, draw) in zip(axes[0], panels):
            said.append(draw(place))
            _small(place, title)
    return Picture(made, " ".join(said))


def _panels(study: Study, view: View) -> list[Panel]:
    asked = (of(study, view) for of in (_water, _energy, _money))
    return [each for each in asked if each is not None]


def plan_of_story(study: Study, view: View) -> Picture | None:
    """The owner's survey as a small plan; None where there is none."""
    found = study.sketch
    return None if found is None else drawn_plan(view, found, PLAN, LETTERS)


def _small(axes: Axes, title: str) -> None:
    """Every letter of a panel at the size of the strip."""
    _, labels = axes.get_legend_handles_labels()
    axes.set_title(title, fontsize=LETTERS + 0.6, pad=15 if labels else 4)
    axes.tick_params(labelsize=LETTERS, pad=2)
    axes.xaxis.label.set_fontsize(LETTERS)
    axes.yaxis.label.set_fontsize(LETTERS)
    if labels:
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=len(labels),
            borderpad=0.2,
            fontsize=LETTERS,
            handlelength=1.5,
            handletextpad=0.5,
            columnspacing=1.0,
            borderaxespad=0.2,
        )


# --- water --------------------------------------------------------------------------------------


def _water(study: Study, view: View) -> Panel | None:
    curve, regime = study.duration, study.flow_regime
    if curve is None or regime is None:
        return None

    def draw(axes: Axes) -> str:
        days = 365 * _EXCEEDED
        low, high = curve.band_si(_EXCEEDED, 0.9)
        axes.fill_between(
            days,
            view.number(low, "flow"),
            view.number(high, "flow"),
            color=CREEK,
            alpha=BAND,
            linewidth=0,
        )
        axes.plot(
            days,
            view.number(curve.flow_at_si(_EXCEEDED), "flow"),
            color=CREEK,
            linewidth=1.4,
            label="in the creek",
        )
        usable = regime.available.flow_at_si(_EXCEEDED)
        axes.plot(
            days,
            view.number(np.where(usable > 0, usable, np.nan), "flow"),
            color=LEAF,
            linestyle=(0, (5, 2)),
            linewidth=1.4,
            label="may be taken",
        )
        lean = study.answer("flow.lean")
        axes.set(
            yscale="log",
            xlim=(0, 365),
            xlabel="days a year it is reached",
            xticks=(0, 100, 200, 300),
        )
        if lean is not None and lean.value > 0:
            axes.set_ylim(bottom=0.5 * float(view.number(lean.value, "flow")))
        plain_log(axes)
        return f"Water: half the days of a year bring {view.shown(study.answer('flow.median'))} or more."

    note = "water with its 90 % band"
    return view.header("water", "flow"), note, draw


# --- energy -------------------------------------------------------------------------------------


def _energy(study: Study, view: View) -> Panel | None:
    title = "energy by month [kWh]"
    if study.log_year is not None and study.year_by_month is None:
        logged = study.log_year.monthly_kwh
        return title, "", lambda axes: _bars(axes, study, view, {"made, by the log": logged})
    found = study.year_by_month
    if found is None:
        return None
    bars = {
        f"P{level}": np.asarray(sure(study.answer(f"energy.month.p{level}")).value)
        for level in (MEDIAN, SECURE)
    }
    note = f"P{MEDIAN} is the median month, P{SECURE} is exceeded with {SECURE} % probability"
    return title, note, lambda axes: _bars(axes, study, view, bars)


def _bars(axes: Axes, study: Study, view: View, bars: dict[str, np.ndarray]) -> str:
    """Bars of the months, the later before the earlier, and the demand where it is given."""
    months = np.arange(1, 13)
    for (name, kwh), (colour, hatch) in zip(bars.items(), FILLS[4:5] + FILLS[:1]):
        axes.bar(
            months, kwh, 0.75, color=colour, edgecolor=INK, linewidth=0.4, hatch=hatch, label=name
        )
    demand = study.answer("demand.month")
    if demand is not None and np.size(demand.value) == 12:
        axes.step(
            np.r_[0.5, months + 0.5],
            np.r_[demand.value[0], demand.value],
            color=RUST,
            linewidth=1.4,
            label="demand",
        )
    axes.set(xlim=(0.4, 12.6), xticks=months, ylim=(0, None))
    axes.set_xticklabels(MONTH_LETTERS)
    axes.grid(axis="x", visible=False)
    thousands(axes.yaxis)
    middle = view.shown(study.answer(f"energy.annual.p{MEDIAN}"))
    bad = view.shown(study.answer(f"energy.annual.p{SECURE}"))
    return f"Energy: one year brings {middle} in the median and exceeds {bad} with 90 %."


# --- money --------------------------------------------------------------------------------------


def _money(study: Study, view: View) -> Panel | None:
    found = study.money
    if found is None or found.flow is None or found.flows is None:
        return None
    flow, drawn = found.flow, found.flows.cumulated

    def draw(axes: Axes) -> str:
        if found.energy.draws_kwh is not None:
            low, high = np.quantile(drawn, [0.1, 0.9], axis=0)
            axes.fill_between(flow.years, low, high, color=SUN, alpha=0.35, linewidth=0)
        axes.plot(flow.years, flow.cumulated, color=CREEK, linewidth=1.4, label="so far")
        axes.plot(
            flow.years,
            flow.discounted,
            color=LEAF,
            linestyle=(0, (5, 2)),
            linewidth=1.4,
            label="discounted",
        )
        axes.axhline(0, color=INK, linewidth=0.8)
        axes.set(xlim=(0, flow.years[-1]), xlabel="years from building")
        thousands(axes.yaxis)
        worth = view.shown(study.answer("money.npv"))
        used = "" if len(found.cases) == 1 else ", all of the energy used"
        return f"Money{used}: the net present value is {worth}."

    title = "money, all used" if len(found.cases) > 1 else "money so far"
    note = "money with its 80 % band"
    return f"{title} [{view.currency}]", note, draw
