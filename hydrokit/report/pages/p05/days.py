"""From gross to net: stops, jets changed by hand, a stop that lasts until it thaws, a slow rise, a pond."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import plain_number
from ....study.build.machines import opened
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import CREEK, ICE, INK, MONTH_NAMES, SUN, figure, thousands
from ..common import needs

__all__ = ["memory_figure", "memory_table", "memory_words", "stop_table", "stop_words"]

# Name of a loss -> how tables call it, colour, hatch.
_KINDS = {
    "planned": ("planned stops", "#d9d5cc", ""), "unplanned": ("unplanned stops", "#d9d5cc", "xx"), "ramp": ("slow rise of the take", SUN, ".."),
    "jets": ("{opened}s changed on visits only", SUN, ""), "frost": ("frozen until it thaws", ICE, "//"),
}  # fmt: skip
_NOTHING = 0.0005  # of the gross energy


def _kwh(value: float, digits: int = 2) -> str:
    return "less than 1 kWh" if 0 < value < 0.5 else f"{plain_number(value, digits)} kWh"


def _label(study: Any, name: str) -> str:
    return _KINDS[name][0].format(opened=opened(study))


def _celsius(degc: float, view: View) -> str:
    return view.text(degc + 273.15, "temperature", 2)


def _count(number: float, one: str) -> str:
    """``1 stop``, ``2.5 stops``."""
    text = plain_number(number, 2)
    return f"{text} {one}" if text == "1" else f"{text} {one}s"


# --- every loss -----------------------------------------------------------------------------


@needs("day_by_day", "year")
def memory_words(study: Any, view: View) -> Words:
    """What each loss takes from the mean year, one after the other, and what is left."""
    year, found = study.year, study.day_by_day
    quiet = (name for name in found.chosen if name not in [step.name for step in year.steps])
    text = (
        f"With the best number of {opened(study)}s open every day, and stopped by nothing but want of water, the plant would make **{view.shown(study.answer('energy.gross'))}** in a mean year: the gross energy. "
        + " ".join(
            _TOLD[name](study, view) for name in (*(step.name for step in year.steps), *quiet)
        )
        + f" What is left is **{view.shown(study.answer('energy.net'))}**, the net energy; every other figure of this study is net."
    )
    if not study.site["operation"]:
        text += (
            f" The site file does not say how the plant is run. Under [operation] write how often somebody looks at the {opened(study)}s (visit_days), how much more power is worth the walk (jet_dead_band) "
            f"and how often frost stops it in a usual winter (stops_per_winter); then what that costs is taken off too."
        )
    return Words(f"{text} {_pond_words(found, view)}")


def _of_year(study: Any, view: View, name: str) -> str:
    cost = next((step.kwh for step in study.year.steps if step.name == name), np.zeros(12))
    total, gross = float(cost.sum()), study.year.gross_annual_kwh
    if total <= _NOTHING * gross:
        return "costs next to nothing"
    worst = int(np.argmax(cost))
    return f"costs **{view.shown(study.answer(f'energy.lost.{name}'))}** a year ({plain_number(100 * total / gross, 2)} % of the gross energy), {_kwh(float(cost[worst]))} of it in {MONTH_NAMES[worst]}"


def _planned_told(study: Any, view: View) -> str:
    days = study.site["outage"].get("planned_days", 0.0)
    return f"Being stopped as planned on {_count(days, 'day')} a year {_of_year(study, view, 'planned')}."


def _unplanned_told(study: Any, view: View) -> str:
    share = study.site["outage"].get("unplanned", 0.0)
    return f"Being stopped unplanned for {plain_number(100 * share, 2)} % of the time left {_of_year(study, view, 'unplanned')}."


def _jets_told(study: Any, view: View) -> str:
    found = study.day_by_day
    habits, seen = found.habits, found.remembered
    if study.plant.jets.count == 1:
        return f"With one {opened(study)} there is nothing to change by hand."
    when = (
        f"looked at every {habits.visit_days} days"
        if habits.visit_days > 1
        else "looked at each day"
    )
    what = (
        f" and changed only for {plain_number(100 * habits.least_gain, 2)} % more power"
        if habits.least_gain
        else ""
    )
    return f"{opened(study).capitalize()}s that are {when}{what} are changed {_count(seen.changes, 'time')} a year instead of {plain_number(seen.free_changes, 2)}; that {_of_year(study, view, 'jets')}."


def _frost_told(study: Any, view: View) -> str:
    seen = study.day_by_day.remembered
    text = f"With {_count(seen.stops, 'stop')} on frosty days in a mean year, drawn at random, each lasting until it thaws, frost {_of_year(study, view, 'frost')}"
    bad, none = float(np.quantile(seen.years_kwh, 0.9)), float(np.mean(seen.years_kwh < 1))
    return (
        text
        + f". It differs from winter to winter: {100 * none:.0f} of a hundred lose nothing to it, one in ten more than {_kwh(bad)}."
    )


def _ramp_told(study: Any, view: View) -> str:
    return f"A take that may rise by no more than {view.text(study.day_by_day.habits.ramp_m3s_per_day, 'flow', 2)} a day (it falls as the creek does) {_of_year(study, view, 'ramp')}."


def _pond_told(study: Any, view: View) -> str:
    won = float(study.year.pond_kwh.sum())
    gross = study.year.gross_annual_kwh
    share = (
        f"brings **{_kwh(won)}** a year ({plain_number(100 * won / gross, 2)} %)"
        if won > _NOTHING * gross
        else "brings next to nothing"
    )
    return f"What the pond keeps from one day to the next is part of the gross energy; it {share}."


_TOLD = {
    "planned": _planned_told,
    "unplanned": _unplanned_told,
    "jets": _jets_told,
    "frost": _frost_told,
    "ramp": _ramp_told,
    "pond": _pond_told,
}


def _pond_words(found: Any, view: View) -> str:
    """A pond too small to matter from day to day."""
    if not found.pond_m3 or "pond" in found.chosen:
        return ""
    return f"The pond's {view.text(found.pond_m3, 'volume', 2)} feed the plant for {view.text(found.pond_s, 'minutes', 2)} at full flow: it carries nothing from day to day."


@needs("year", quiet=True)
def memory_figure(study: Any, view: View) -> Any:
    """From gross to net, one bar a loss."""
    year = study.year
    if not year.steps:
        return Words("")
    names = ["gross", *(_label(study, step.name) for step in year.steps), "net"]
    left = year.gross_annual_kwh
    with figure(7.4, 0.9 + 0.34 * len(names)) as (made, axes):
        place = np.arange(len(names))
        axes.barh(0, left, 0.62, color=CREEK, alpha=0.55)
        for number, step in enumerate(year.steps, 1):
            lost = float(step.kwh.sum())
            _, colour, hatch = _KINDS[step.name]
            axes.barh(
                number,
                lost,
                0.62,
                left=left - lost,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
            )
            left -= lost
        axes.barh(len(names) - 1, left, 0.62, color=CREEK)
        axes.set_yticks(place, names)
        axes.invert_yaxis()
        thousands(axes.xaxis)
        axes.set_xlabel("energy of a mean year [kWh]")
        axes.grid(axis="y", visible=False)
    said = "; ".join(
        f"{_label(study, step.name)} {_kwh(float(step.kwh.sum()))}" for step in year.steps
    )
    return Picture(
        made,
        f"From gross to net energy of a mean year. Gross {view.shown(study.answer('energy.gross'))}; off it {said}; net {view.shown(study.answer('energy.net'))}.",
    )


@needs("year", quiet=True)
def memory_table(study: Any, view: View) -> Any:
    """Month by month: gross, what each loss takes, net."""
    year = study.year
    if not year.steps:
        return Words("")
    net = year.monthly_kwh.to_numpy(dtype=float)
    columns = (
        "month",
        "gross [kWh]",
        *(f"{_label(study, step.name)} [kWh]" for step in year.steps),
        "net [kWh]",
    )
    rows = [
        (
            MONTH_NAMES[month],
            *(
                float(round(each[month]))
                for each in (year.gross_kwh, *(-step.kwh for step in year.steps), net)
            ),
        )
        for month in range(12)
    ]
    rows.append(
        (
            "year",
            view.shown(study.answer("energy.gross"), unit=False),
            *(float(f"{-step.kwh.sum():.2g}") for step in year.steps),
            view.shown(study.answer("energy.net"), unit=False),
        )
    )
    return Table(
        columns,
        rows,
        "From gross to net in the mean year, each loss on top of those to its left",
        digits=4,
        mark=(12,),
    )


# --- one stop -------------------------------------------------------------------------------


def stop_words(study: Any, view: View) -> Words:
    """What one stop in frost costs in its worst month."""
    found = study.day_by_day
    if found is None:
        return _stop_by_outlook(study, view)
    stops, habits = found.stops, found.habits
    if stops is None:
        return Words(
            "*What one stop in frost would cost is not shown: it needs the air temperature of every day of the flow record. A thermometer on a shaded north wall, read each morning, is a beginning.*"
        )
    rule = f"A plant that stands still on a day with a mean of {_celsius(habits.freezes_below_degc, view)} or below is taken to freeze, and to run again on the first day on which the last five together are above {_celsius(habits.thaws_above_degc, view)} on average"
    if stops.worst_month is None:
        return Words(
            f"{rule}. No day on record is that cold: no stop lasts longer than it takes to clear it."
        )
    worst = stops.worst_month - 1
    month = MONTH_NAMES[worst]
    share = _share_of_month(study, worst, stops.kwh_long[worst])
    return Words(
        f"**One air lock on a frosty day of {month}** stops the plant for {_count(float(stops.days[worst]), 'day')} in the middle case, and costs **{_kwh(float(stops.kwh[worst]))}**; one in ten costs more than {_kwh(float(stops.kwh_long[worst]))}{share}, "
        f"the worst on record {_kwh(float(stops.kwh_most[worst]))}. {rule}. It was tried on each frosty day of the record. Walking up within hours, before the water freezes, is what spares this."
    )


def _share_of_month(study: Any, place: int, kwh: float) -> str:
    whole = float(study.day_by_day.remembered.free_kwh[place])
    return (
        f", {plain_number(kwh / whole, 2)} times what a mean {MONTH_NAMES[place]} brings"
        if whole > 0 and kwh > whole
        else ""
    )


def _stop_by_outlook(study: Any, view: View) -> Words:
    """The same without a daily record: days from the thermometer, watts by the month."""
    outlook = study.winter_outlook
    if outlook is None or outlook.stop is None or outlook.stop.worst_month is None:
        return Words("")
    stop, names = outlook.stop, MONTH_NAMES
    cold = [month for month in range(12) if np.isfinite(stop.energy_j[month])]
    coldest = outlook.climate.coldest_month - 1
    coldest = coldest if coldest in cold else stop.worst_month - 1
    return Words(
        f"**One air lock in {names[coldest]}** that lasts until it thaws stops the plant for {_count(float(stop.days[coldest]), 'day')} in the middle case and costs **{_kwh(float(stop.energy_j[coldest]) / 3.6e6)}**, "
        f"one in ten more than {_kwh(float(stop.energy_long_j[coldest]) / 3.6e6)}: the days are those of the thermometer's record, the watts a month's mean from {outlook.power_from}. "
        f"The dearest comes in {names[stop.worst_month - 1]}: {_kwh(float(stop.energy_j[stop.worst_month - 1]) / 3.6e6)} in the middle case. Walking up within hours, before the water freezes, is what spares this."
    )


@needs("day_by_day", quiet=True)
def stop_table(study: Any, view: View) -> Any:
    """What one stop costs by the month it comes in."""
    stops = study.day_by_day.stops
    if stops is None or stops.worst_month is None:
        return Words("")
    order = sorted(
        (month for month in range(12) if np.isfinite(stops.kwh[month])),
        key=lambda month: (month - 6) % 12,
    )
    rows = [
        (
            MONTH_NAMES[m],
            f"{plain_number(100 * stops.frosty[m], 2)} %",
            *(int(round(float(values[m]))) for values in (stops.days, stops.days_long)),
            *(
                float(round(float(values[m])))
                for values in (stops.kwh, stops.kwh_long, stops.kwh_most)
            ),
        )
        for m in order
    ]
    columns = (
        "stop in",
        "days that freeze",
        "days lost, middle",
        "one in ten more than",
        "kWh, middle",
        "one in ten more than",
        "most on record [kWh]",
    )
    return Table(
        columns,
        rows,
        "One stop on a frosty day, until it thaws",
        mark=(order.index(stops.worst_month - 1),),
    )
