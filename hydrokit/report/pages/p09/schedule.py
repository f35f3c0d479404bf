"""Page 09, the jets: how many should stand open at which flow and in which month, and where to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.in_hand import brims
from ....study.build.machines import opened
from ....study.build.monthly_flow import ONE_DAY_FACTOR
from ....study.build.supply import STAGE_APART_M
from ....study.build.uncertain import uncertainties
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    FILLS,
    GROUND,
    INK,
    MONTH_LETTERS,
    MONTH_NAMES,
    PALE,
    SMALL,
    STROKES,
    figure,
    legend_above,
    thousands,
)
from ..common import needs, of_month

if TYPE_CHECKING:
    from ....plant.chain import Chain
    from ....study.build.supply import JetPlan

__all__ = [
    "band_table",
    "band_words",
    "month_figure",
    "month_table",
    "month_words",
    "schedule_figure",
    "stage_table",
]

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def _count(number: int, thing: str = "jet") -> str:
    """``two jets``."""
    return f"{_NUMBERS[number] if number < len(_NUMBERS) else number} {thing}{'' if number == 1 else 's'}"


@needs(Study.jet_plan, Study.plant)
def schedule_figure(study: Study, view: View, plan: JetPlan, plant: Chain) -> Picture:
    """Net power against the usable flow, for each number of jets and for the best of them."""
    found, free, thing = plan.schedule, plant.replace(schedule=()), opened(study)
    most = 1.12 * max(
        np.nanmax([band.fed_m3s for band in found.bands])
        if np.isfinite([band.fed_m3s for band in found.bands]).any()
        else 0.0,
        found.curve.flow_m3s[-1],
    )
    flow = np.linspace(0.0, most, 600)
    counts = sorted({opening.count for opening in plant.jets.openings()})
    with figure(7.4, 3.0) as (made, axes):
        for place, count in enumerate(counts):
            axes.plot(
                view.number(flow, "flow"),
                free.at_si(flow, jets=count).power_w,
                color=STROKES[place % len(STROKES)][0],
                linewidth=1.3,
                linestyle=STROKES[place % len(STROKES)][1],
                label=_count(count, thing),
            )
        axes.plot(
            view.number(flow, "flow"),
            found.curve.power_si(flow),
            color=INK,
            linewidth=4,
            alpha=0.35,
            label="the best at each flow",
        )
        for band in found.bands[1:]:
            at = float(view.number(band.from_m3s, "flow"))
            axes.axvline(at, color=GROUND, linewidth=0.8)
            axes.annotate(
                plain_number(at),
                (at, 0),
                xytext=(3, 4),
                textcoords="offset points",
                fontsize=SMALL,
                color=GROUND,
            )
        axes.set(
            xlabel=view.header("available flow", "flow"),
            ylabel="power at the loads [W]",
            xlim=(0, float(view.number(most, "flow"))),
            ylim=(0, 1.06 * max(float(found.curve.rated_w), 1.0)),
        )
        thousands(axes.yaxis)
        legend_above(axes)
    changes = series_text(
        [
            f"to {_count(band.jets, thing)} at {view.text(band.from_m3s, 'flow')}"
            for band in found.bands[1:]
        ]
    )
    return Picture(
        made,
        f"Power at the loads against available flow for each number of {thing}s; the best changes {changes}."
        if len(found.bands) > 1
        else (
            f"Power at the loads against available flow; {_count(found.bands[0].jets, thing)} at "
            "every flow."
        ),
    )


@needs(Study.jet_plan, quiet=True)
def band_table(study: Study, view: View, plan: JetPlan) -> Table | Words:
    """By flow band: jets to open, where to change, what the gauge shows."""
    found = plan.schedule
    if not found.fixed:
        return Words("")
    unit, rows = view.label("flow"), []
    pressure = view.label("pressure")
    for band in found.bands:
        shown, close = plan.gauge_pa.get(band.jets, np.nan), plan.close_pa.get(band.jets, np.nan)
        rows.append(
            (
                band.jets,
                "as it comes"
                if band is found.bands[0]
                else float(view.number(band.from_m3s, "flow")),
                _of(view, band.down_m3s, "flow"),
                _of(view, band.up_m3s, "flow"),
                _of(view, band.fed_m3s, "flow"),
                float(view.number(band.power_w, "power")),
                _gauge(view, shown),
                _gauge(view, close),
            )
        )
    columns = (
        "jets open",
        f"best from [{unit}]",
        f"down one below [{unit}]",
        f"up one above [{unit}]",
        f"fed from [{unit}]",
        "power at the loads, fed [W]",
        f"gauge, fed [{pressure}]",
        f"down one when the gauge falls below [{pressure}]",
    )
    return Table(columns, rows, "Which jets to open: available flows, parts clean")


def _gauge(view: View, pascals: float) -> str:
    """A pressure to the digits that a gauge is read to, as on the card."""
    return view.amount(pascals, "gauge pressure", unit=False) if np.isfinite(pascals) else ""


def _of(view: View, value: float, kind: str) -> float | str:
    return float(view.number(value, kind)) if np.isfinite(value) else ""


@needs(Study.jet_plan, Study.plant, quiet=True)
def band_words(study: Study, view: View, plan: JetPlan, plant: Chain) -> Words:
    """How to use the bands, and what a wrong number of jets costs."""
    found = plan.schedule
    if not found.fixed:
        return Words(_adjustable(study, view, plan))
    if len(found.bands) == 1:
        only = _count(found.bands[0].jets)
        return Words(
            f"With {only} open the plant does best at every flow, so there is nothing to change."
            if plant.jets.count > 1
            else "There is one jet only: nothing to change but open and shut."
        )
    judged = (
        "the site file's dead band"
        if study.site.operation.given("jet_dead_band")
        else "a judgement"
    )
    text = (
        "Open no more jets than are fed, or nearly fed. While the jets are fed the gauge is "
        "steady, however much more water comes; one jet more than the water feeds lowers the "
        "pressure, and power falls with the cube of the flow, and faster where the runner's speed "
        "is held. **When to close a jet** shows at the gauge: once it has settled below the last "
        "column. **When to open one** does not: the gauge is steady while "
        f"{brims(study)}, however much. Open the next jet when the creek gives the flow named, or simply try: if the "
        "gauge then settles above that jet's own last column, leave it open. Between the two "
        f"flows lies a dead band, in which a change would bring less than {100 * found.gain:.0f} "
        f"% more power and is not worth the walk ({judged}).\n\n"
    )
    text += (
        "The flows have the uncertainty of the jets' bore: ± "
        f"{plain_number(100 * uncertainties(study).jet_area, 1)} %. "
    )
    last, before = found.bands[-1], found.bands[-2]
    if np.isfinite(plan.too_many_w) and before.power_w > 0:
        text += (
            f"With {_count(last.jets)} open on water for {_NUMBERS[before.jets]} the plant gives "
            f"{view.text(plan.too_many_w, 'power')} instead of "
            f"{view.text(before.power_w, 'power')}. "
        )
    if np.isfinite(plan.pond_s) and plan.pond_s > 0:
        text += (
            f"A full forebay hides that mistake for {_span(plan.pond_s)} at most: read the gauge "
            "after that. "
        )
    if not np.isfinite(last.fed_m3s):
        text += f"Water for {_count(last.jets)} never comes through: the intake is the limiting component. "
    held = plan.held_kwh
    if held and held[0] > 0:
        best = max((count for count in held if count), key=lambda count: held[count])
        more = held[0] / held[best] - 1 if held[best] > 0 else 0.0
        text += (
            f"If the jets are never changed, {_count(best)} all year give most: "
            f"{plain_number(held[best])} kWh in a mean year, compared with "
            f"{plain_number(held[0])} kWh with the best number open every day"
            + (f", {100 * more:.0f} % more" if more >= 0.005 else ", hardly more")
            + "; stops are taken off both, the days between visits are not. "
        )
        every = max(count for count in held)
        if best != every and held[every] < 0.995 * held[best]:
            text += f"All {every} open all year make {plain_number(held[every])} kWh. "
    return Words(text)


def _now(study: Study) -> str:
    """When the jets stand as the site file has them."""
    return "today" if study.exists else "as planned"


def _span(seconds: float) -> str:
    return View().duration(seconds)


def _adjustable(study: Study, view: View, plan: JetPlan) -> str:
    """Why a machine that follows the water needs no schedule; when to run how many."""
    found, thing = plan.schedule, opened(study)
    what = "Needles" if thing == "jet" else "Its gates"
    text = (
        f"{what} follow the water and keep the full head at any flow, so no schedule of jets is "
        "needed: set them so that the forebay just spills. "
    )
    changes = [
        f"{_count(band.jets, thing)} from {view.text(band.from_m3s, 'flow')}"
        for band in found.bands[1:]
    ]
    if changes:
        text += (
            f"With little water fewer of them run better: {_count(found.bands[0].jets, thing)} at "
            f"first, {series_text(changes)}. "
        )
    low = found.bands[0].from_m3s
    return text + (
        f"Below {view.text(low, 'flow', 2)} of available flow it stops." if low > 1e-5 else ""
    )


@needs(Study.jet_plan, quiet=True)
def month_figure(study: Study, view: View, plan: JetPlan) -> Picture | Words:
    """Days of each month on which each number of jets is best."""
    if plan.days is None or len(plan.schedule.bands) < 2:
        return Words("")
    months, days = np.arange(1, 13), np.nan_to_num(plan.days)
    with figure(7.4, 2.8) as (made, axes):
        bottom = np.zeros(12)
        for count in range(days.shape[1]):
            colour, hatch = (PALE, "xx") if count == 0 else FILLS[(count - 1) % len(FILLS)]
            axes.bar(
                months,
                days[:, count],
                0.75,
                bottom=bottom,
                color=colour,
                hatch=hatch,
                edgecolor="white",
                linewidth=0.5,
                label=_count(count, opened(study)) if count else "none",
            )
            bottom = bottom + days[:, count]
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="days", ylim=(0, 31.5))
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        legend_above(axes)
    total = days.sum(axis=0)
    return Picture(
        made,
        "Days of a mean year on which each number is best: "
        + series_text(
            [f"{_count(count, opened(study))} {days_:.0f}" for count, days_ in enumerate(total)]
        )
        + ".",
    )


@needs(Study.jet_plan, quiet=True)
def month_table(study: Study, view: View, plan: JetPlan) -> Table | Words:
    """Jets for the middle day of each month, and what stands open today."""
    if not plan.typical_from:
        return Words("*Not shown by month: a daily record, gaugings or a log are lacking.*")
    thing, rows, mark = opened(study), [], []
    water, usable, jets = (
        study.monthly_flow,
        study.answer("water.usable"),
        study.answer("jets.open"),
    )
    for place in range(12):
        habit = plan.habit[place] if plan.habit else None
        known = np.isfinite(plan.typical_m3s[place])
        row: list[str | int] = [
            MONTH_NAMES[place],
            f"{'at least ' if water is not None and water.at_least[place] else ''}{view.shown(of_month(usable, place + 1), unit=False)}"
            if known
            else "not known",
            view.shown(of_month(jets, place + 1)) if known else "",
        ]
        if plan.days is not None:
            row += ["" if np.isnan(each) else int(round(float(each))) for each in plan.days[place]]
        if plan.habit:
            row.append("as fed" if habit is None else habit)
            if (
                habit is not None
                and np.isfinite(plan.typical_m3s[place])
                and habit != plan.jets[place]
            ):
                mark.append(place)
        rows.append(row)
    columns = ["month", view.header("available flow, median day", "flow"), f"{thing}s to open"]
    columns += (
        []
        if plan.days is None
        else [
            f"days with {_count(count, thing) if count else 'none'} best"
            for count in range(plan.days.shape[1])
        ]
    )
    columns += [f"open {_now(study)}"] if plan.habit else []
    return Table(
        columns,
        rows,
        f"By month, from {plan.typical_from}, with the screens as they are then"
        + (f"; months with another number open {_now(study)} are marked" if mark else ""),
        mark=tuple(mark),
    )


def _shown_count(study: Study, view: View, month: int) -> str:
    """How many jets of a month, under the key of the question."""
    answer = of_month(study.answer("jets.open"), month)
    if answer is None:
        return view.shown(None)
    return f"{view.shown(answer)} {_count(int(answer.value), opened(study)).split(' ', 1)[1]}"


@needs(Study.jet_plan, quiet=True)
def month_words(study: Study, view: View, plan: JetPlan) -> Words:
    """What the months say, and how far they can be trusted."""
    if not plan.typical_from or not np.isfinite(plan.typical_m3s).any():
        return Words("")
    known = np.isfinite(plan.typical_m3s)
    runs: list[tuple[str, str, int]] = []  # first and last month, and where it begins
    previous = None
    for place in np.flatnonzero(known):
        if plan.jets[place] != previous or not known[place - 1]:
            runs.append((MONTH_NAMES[place], MONTH_NAMES[place], int(place)))
        first, _, month = runs[-1]
        runs[-1], previous = (first, MONTH_NAMES[place], month), plan.jets[place]
    if len(runs) > 1 and known[0] and known[-1] and plan.jets[0] == plan.jets[-1]:
        runs[0] = (runs.pop()[0], *runs[0][1:])
    spans = [
        f"{first if first == last else f'{first} to {last}'} {_shown_count(study, view, month + 1)}"
        for first, last, month in runs
    ]
    if len(runs) == 1 and known.all():
        spans = [f"{_shown_count(study, view, 1)} all year"]
    text = f"On the median day of each month: {'; '.join(spans)}. "
    if not known.all():
        text += (
            f"Of {series_text([MONTH_NAMES[place] for place in np.flatnonzero(~known)])} nothing "
            "is known: go by the pressure gauge, and gauge the creek then. "
        )
    if plan.days is not None:
        return Words(
            text
            + (
                "The flow varies within a month: on the other days go by "
                f"{'the gauge and the table of bands' if plan.schedule.fixed else 'the water that comes'}, "
                "not by the calendar."
            )
        )
    water = study.monthly_flow
    if water is not None and water.known.any():
        text += (
            "**A flow gauged on one day stands for its month within a factor of "
            f"{plain_number(ONE_DAY_FACTOR, 2)}** with 90 % probability, as days and years differ in "
            "five open records: take it as a first guess and go by the gauge. "
        )
    if water is not None and water.at_least.any():
        text += (
            "Where only the log is evidence, at least as much came as the jets used: try one more "
            f"while {brims(study)}. "
        )
    if plan.habit:
        wrong = [
            place
            for place in np.flatnonzero(known)
            if plan.habit[place] is not None and plan.habit[place] != plan.jets[place]
        ]
        many = [MONTH_NAMES[place] for place in wrong if plan.habit[place] > plan.jets[place]]
        few = [MONTH_NAMES[place] for place in wrong if plan.habit[place] < plan.jets[place]]
        text += (
            f"{_now(study).capitalize()} too many stand open in {series_text(many)}. "
            if many
            else ""
        )
        text += (
            f"Too few stand open in {series_text(few)}, if the water comes through the screen. "
            if few
            else ""
        )
    return Words(text)


@needs(Study.jet_plan, quiet=True)
def stage_table(study: Study, view: View, plan: JetPlan) -> Table | Words:
    """Stages at the creek's staff gauge at which to change up and down, where there is a rating."""
    if not plan.schedule.fixed or len(plan.schedule.bands) < 2:
        return Words("")
    if not plan.stages:
        return Words(
            "*With a rating the page would name the stages at the creek's staff gauge at "
            "which to change: read the stage at each gauging.*"
        )
    digits, rows, beyond = 3 if view.system == "metric" else 2, [], False
    bands = plan.schedule.bands
    for place in range(len(bands) - 1):
        row = [f"{bands[place].jets}\u00a0to\u00a0{bands[place + 1].jets}"]
        for group in plan.stages[:4]:
            up, down = group.up_m[place], group.down_m[place + 1]
            row += [
                f"{float(view.number(each, 'stage')):.{digits}f}" if np.isfinite(each) else ""
                for each in (up, down)
            ]
            beyond = beyond or bool(group.beyond[place])
        rows.append(row)
    columns, unit = ["jets"], view.label("stage")
    for group in plan.stages[:4]:
        when = "" if len(group.months) == 12 else f", {_months(group.months)}"
        columns += [f"open above{when} [{unit}]", f"close below{when} [{unit}]"]
    caption = (
        "Stages at the creek's staff gauge, the residual flow included; at least "
        f"{view.text(STAGE_APART_M, 'diameter', 1)} apart, the resolution of a staff gauge. "
        "To close a jet, the pressure gauge is the better guide"
        + ("; some lie beyond the gaugings" if beyond else "")
    )
    return Table(columns, rows, caption)


def _months(months: tuple[int, ...]) -> str:
    """``Jan, Oct to Dec``."""
    spans: list[list[int]] = []
    for month in months:
        if spans and spans[-1][1] == month - 1:
            spans[-1][1] = month
        else:
            spans.append([month, month])
    return ", ".join(
        MONTH_NAMES[first - 1][:3] + (f" to {MONTH_NAMES[last - 1][:3]}" if last > first else "")
        for first, last in spans
    )
