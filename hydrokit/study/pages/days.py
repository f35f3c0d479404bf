"""What yesterday costs: jets changed by hand, a stop that lasts until it thaws, a slow rise, a pond."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..display import Picture, Table, View, Words, plain_number
from ..machines_site import opened
from ..style import CREEK, ICE, LEAF, MONTH_LETTERS, MONTH_NAMES, SUN, figure, legend_above, thousands
from .common import needs

__all__ = ["memory_figure", "memory_table", "memory_words", "stop_table", "stop_words"]

# Name of a memory -> how tables call it, colour, hatch.
_KINDS = {"jets": ("{opened}s changed by hand", CREEK, ""), "frost": ("frozen until it thaws", ICE, "//"), "ramp": ("the take rises slowly", SUN, ".."), "pond": ("won by the pond", LEAF, "")}


def _kwh(value: float, digits: int = 2) -> str:
    return f"{plain_number(value, digits)} kWh"


def _label(study: Any, name: str) -> str:
    return _KINDS[name][0].format(opened=opened(study))


def _celsius(degc: float, view: View) -> str:
    return view.text(degc + 273.15, "temperature", 2)


def _count(number: float, one: str) -> str:
    """``1 stop``, ``2.5 stops``."""
    text = plain_number(number, 2)
    return f"{text} {one}" if text == "1" else f"{text} {one}s"


# --- every memory ---------------------------------------------------------------------------


@needs("day_by_day")
def memory_words(study: Any, view: View) -> Words:
    """What each memory takes from the mean year, and all together."""
    found = study.day_by_day
    text = f"The figures above take each day by itself: {opened(study)}s stand as they should, and a stop of the day before is forgotten. "
    if not found.chosen:
        return Words(
            text + f"The site file does not say how the plant is run. Under [operation] write how often somebody looks at the {opened(study)}s (visit_days), how much more power is worth the walk (jet_dead_band) "
            f"and how often frost stops it in a usual winter (stops_per_winter); then this page says what that costs. {_pond_words(found, view)}"
        )
    seen, free = found.remembered, float(found.remembered.free_kwh.sum())
    text += f"Walked one by one, with what today owes to yesterday, the days of the mean year, {_kwh(free, 3)}, lose this. "
    if "ramp" in found.chosen:
        text += "The slow rise of the take is in the figures above already; here it is told apart. "
    text += " ".join(_TOLD[name](study, view) for name in found.chosen)
    if len(found.chosen) > 1:
        total = float(seen.lost_kwh.sum())
        text += f" Together they {'cost' if total >= 0 else 'bring'} **{_kwh(abs(total))}** a year, {plain_number(100 * abs(total) / free, 2)} %."
    return Words(f"{text} {_pond_words(found, view)}")


def _of_year(found: Any, name: str) -> str:
    cost = found.remembered.cost_kwh[name]
    total, free = float(cost.sum()), float(found.remembered.free_kwh.sum())
    if total <= 0.0005 * free:
        return "costs next to nothing"
    worst = int(np.argmax(cost))
    return f"costs **{_kwh(total)}** a year ({plain_number(100 * total / free, 2)} %), {_kwh(float(cost[worst]))} of it in {MONTH_NAMES[worst]}"


def _jets_told(study: Any, view: View) -> str:
    found = study.day_by_day
    habits, seen = found.habits, found.remembered
    if study.plant.jets.count == 1:
        return f"With one {opened(study)} there is nothing to change by hand."
    when = f"looked at every {habits.visit_days} days" if habits.visit_days > 1 else "looked at each day"
    what = f" and changed only for {plain_number(100 * habits.least_gain, 2)} % more power" if habits.least_gain else ""
    return f"{opened(study).capitalize()}s that are {when}{what} are changed {_count(seen.changes, 'time')} a year instead of {plain_number(seen.free_changes, 2)}; that {_of_year(found, 'jets')}."


def _frost_told(study: Any, view: View) -> str:
    found = study.day_by_day
    seen = found.remembered
    text = f"With {_count(seen.stops, 'stop')} on frosty days in a mean year, drawn at random, each lasting until it thaws, frost {_of_year(found, 'frost')}"
    bad, none = float(np.quantile(seen.years_kwh, 0.9)), float(np.mean(seen.years_kwh < 1))
    return text + f". That is no steady toll: {100 * none:.0f} winters of a hundred lose nothing to it, one in ten more than {_kwh(bad)}."


def _ramp_told(study: Any, view: View) -> str:
    found = study.day_by_day
    return f"A take that may rise by no more than {view.text(found.habits.ramp_m3s_per_day, 'flow', 2)} a day {_of_year(found, 'ramp')}."


def _pond_told(study: Any, view: View) -> str:
    found = study.day_by_day
    won = -float(found.remembered.cost_kwh["pond"].sum())
    free = float(found.remembered.free_kwh.sum())
    share = f"brings **{_kwh(won)}** a year ({plain_number(100 * won / free, 2)} %)" if won > 0.0005 * free else "brings next to nothing"
    return f"What the pond keeps from one day to the next {share}."


_TOLD = {"jets": _jets_told, "frost": _frost_told, "ramp": _ramp_told, "pond": _pond_told}


def _pond_words(found: Any, view: View) -> str:
    """A pond too small to matter from day to day."""
    if not found.pond_m3 or "pond" in found.chosen:
        return ""
    return f"The pond's {view.text(found.pond_m3, 'volume', 2)} feed the plant for {view.text(found.pond_s, 'minutes', 2)} at full flow: it carries nothing from day to day."


@needs("day_by_day", quiet=True)
def memory_figure(study: Any, view: View) -> Any:
    """Energy given up in each month, memory by memory."""
    found = study.day_by_day
    if not found.chosen:
        return Words("")
    months, count = np.arange(1, 13), len(found.chosen)
    with figure(7.4, 2.9) as (made, axes):
        for number, name in enumerate(found.chosen):
            _, colour, hatch = _KINDS[name]
            cost = found.remembered.cost_kwh[name] * (-1 if name == "pond" else 1)
            axes.bar(months + 0.8 * ((number + 0.5) / count - 0.5), cost, 0.8 / count, color=colour, hatch=hatch, edgecolor="white", linewidth=0.5, label=_label(study, name))
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="given up in the month [kWh]")
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        thousands(axes.yaxis)
        legend_above(axes)
    said = "; ".join(f"{_label(study, name)}: {_kwh(abs(float(found.remembered.cost_kwh[name].sum())))} a year" for name in found.chosen)
    return Picture(made, f"What each memory takes from each month of the mean year, or brings. {said}.")


@needs("day_by_day", quiet=True)
def memory_table(study: Any, view: View) -> Any:
    """Month by month: without memory, what each takes, what is left."""
    found = study.day_by_day
    if not found.chosen:
        return Words("")
    free, cost = found.remembered.free_kwh, found.remembered.cost_kwh
    together = found.remembered.lost_kwh
    columns = ("month", "without memory [kWh]", *(f"{_label(study, name)} [kWh]" for name in found.chosen), "left [kWh]")
    rows = []
    for place, label in [*enumerate(MONTH_NAMES), (slice(None), "year")]:
        each = [float(np.sum(values[place])) for values in (free, *((-1 if name == "pond" else 1) * cost[name] for name in found.chosen), free - together)]
        rows.append((label, *(float(round(value)) for value in each)))
    note = ", each on top of those to its left" if len(found.chosen) > 1 else ""
    return Table(columns, rows, f"The mean year, day by day: operating losses{note}", digits=4, mark=(12,))


# --- one stop -------------------------------------------------------------------------------


def stop_words(study: Any, view: View) -> Words:
    """What one stop in frost costs in its worst month."""
    found = study.day_by_day
    if found is None:
        return _stop_by_outlook(study, view)
    stops, habits = found.stops, found.habits
    if stops is None:
        return Words("*What one stop in frost would cost is not shown: it needs the air temperature of every day of the flow record. A thermometer on a shaded north wall, read each morning, is a beginning.*")
    rule = f"A plant that stands still on a day with a mean of {_celsius(habits.freezes_below_degc, view)} or below is taken to freeze, and to run again when five days together are above {_celsius(habits.thaws_above_degc, view)} on average"
    if stops.worst_month is None:
        return Words(f"{rule}. No day on record is that cold: no stop lasts longer than it takes to clear it.")
    worst = stops.worst_month - 1
    month = MONTH_NAMES[worst]
    share = _share_of_month(study, worst, stops.kwh_long[worst])
    return Words(
        f"**One air lock on a frosty day of {month}** stops the plant for {_count(float(stops.days[worst]), 'day')} in the middle case, and costs **{_kwh(float(stops.kwh[worst]))}**; one in ten costs more than {_kwh(float(stops.kwh_long[worst]))}{share}, "
        f"the worst on record {_kwh(float(stops.kwh_most[worst]))}. {rule}. It was tried on each frosty day of the record. Walking up within hours, before the water freezes, is what spares this."
    )


def _share_of_month(study: Any, place: int, kwh: float) -> str:
    whole = float(study.day_by_day.remembered.free_kwh[place])
    return f", {plain_number(kwh / whole, 2)} times what a mean {MONTH_NAMES[place]} brings" if whole > 0 and kwh > whole else ""


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
    order = sorted((month for month in range(12) if np.isfinite(stops.kwh[month])), key=lambda month: (month - 6) % 12)
    rows = [
        (MONTH_NAMES[m], f"{plain_number(100 * stops.frosty[m], 2)} %", *(int(round(float(values[m]))) for values in (stops.days, stops.days_long)), *(float(round(float(values[m]))) for values in (stops.kwh, stops.kwh_long, stops.kwh_most)))
        for m in order
    ]  # fmt: skip
    columns = ("stop in", "days that freeze", "days lost, middle", "one in ten more than", "kWh, middle", "one in ten more than", "most on record [kWh]")
    return Table(columns, rows, "One stop on a frosty day, until it thaws", mark=(order.index(stops.worst_month - 1),))
