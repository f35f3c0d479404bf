"""From gross to net: stops, jets changed by hand, a stop that lasts until it thaws, a slow rise, a pond."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.machines import opened
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import (
    CREEK,
    ICE,
    INK,
    MONTH_NAMES,
    SMALL,
    SUN,
    figure,
    thousands,
)
from ..common import in_picture, needs

if TYPE_CHECKING:
    from ....energy.net import NetYear
    from ....study.build.days import DayByDay
    from ....study.build.operating_losses import OperatingLosses

__all__ = ["memory_figure", "memory_table", "memory_words", "stop_table", "stop_words"]

# Name of a loss -> how tables call it, colour, hatch.
_KINDS = {
    "planned": ("planned stops", "#d9d5cc", ""),
    "unplanned": ("unplanned stops", "#d9d5cc", "xx"),
    "ramp": ("slow rise of the take", SUN, ".."),
    "jets": ("{opened}s changed on visits only", SUN, ""),
    "frost": ("frozen until it thaws", ICE, "//"),
}


def _kwh(value: float, digits: int = 2) -> str:
    return "less than 1 kWh" if 0 < value < 0.5 else f"{plain_number(value, digits)} kWh"


def _label(study: Study, name: str) -> str:
    return _KINDS[name][0].format(opened=opened(study))


def _celsius(degc: float, view: View) -> str:
    return view.text(degc + 273.15, "temperature", 2)


def _count(number: float, one: str) -> str:
    """``1 stop``, ``2.5 stops``."""
    text = plain_number(number, 2)
    return f"{text} {one}" if text == "1" else f"{text} {one}s"


# --- every loss -----------------------------------------------------------------------------


@needs(Study.day_by_day, Study.operating_losses)
def memory_words(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> Words:
    """What each loss takes from the mean year, one after the other, and what is left."""
    named = [step.name for step in losses.steps]
    named += [name for name in found.chosen if name not in named]
    text = (
        f"The gross energy is **{view.shown(study.answer('energy.gross'))}** in a mean year: "
        f"with the best number of {opened(study)}s open every day, and stopped only when "
        "there is too little water. "
        + "".join(f"{_TOLD[name](study, view, found, losses)} " for name in named)
        + (
            f"The net energy is **{view.shown(study.answer('energy.net'))}**; every other figure "
            "of this study is net."
        )
    )
    if not study.site.operation:
        text += (
            " The site file does not say how the plant is run. Under [operation] write how often "
            f"somebody looks at the {opened(study)}s (visit_days), how much more power is worth "
            "the walk (jet_dead_band) and how often frost stops the plant in a usual winter "
            "(stops_per_winter); then these losses are taken off too."
        )
    return Words(f"{text} {_pond_words(found, view)}".strip())


def _of_year(study: Study, view: View, losses: OperatingLosses, name: str) -> str:
    loss = losses.of(name)
    if loss is None or not loss.matters:
        return "costs next to nothing"
    alone = np.isclose(loss.worst_kwh, loss.year_kwh)
    most = "all" if alone else _kwh(loss.worst_kwh)
    return (
        f"costs **{view.shown(study.answer(f'energy.lost.{name}'))}** a year "
        f"({plain_number(100 * loss.share, 2)} % of the gross energy), {most} of "
        f"it in {MONTH_NAMES[loss.worst_month - 1]}"
    )


def _planned_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    days = study.site.outage.planned_days
    return f"A planned stop of {_count(days, 'day')} a year {_of_year(study, view, losses, 'planned')}."


def _unplanned_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    share = study.site.outage.unplanned
    return (
        f"Unplanned stops, {plain_number(100 * share, 2)} % of the time left, "
        f"{_of_year(study, view, losses, 'unplanned').replace('costs', 'cost', 1)}."
    )


def _jets_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    habits, seen = found.habits, found.remembered
    if study.plant is not None and study.plant.jets.count == 1:
        return f"With one {opened(study)} nothing is changed by hand."
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
    return (
        f"{opened(study).capitalize()}s that are {when}{what} are changed "
        f"{_count(seen.changes, 'time')} a year instead of {plain_number(seen.free_changes, 2)}; "
        f"that {_of_year(study, view, losses, 'jets')}."
    )


def _frost_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    seen, winters = found.remembered, losses.frost_winters
    text = (
        f"With {_count(seen.stops, 'stop')} on frosty days in a mean year, drawn at random, each "
        f"lasting until it thaws, frost {_of_year(study, view, losses, 'frost')}"
    )
    if winters is None:
        return f"{text}."
    return (
        f"{text}. Winters differ: {100 * winters.without_loss:.0f} % of them lose nothing to "
        f"frost, 10 % lose more than {_kwh(winters.bad_kwh)}."
    )


def _ramp_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    return (
        "A take that may rise by no more than "
        f"{view.text(found.habits.ramp_m3s_per_day, 'flow', 2)} a day (it falls as the creek "
        f"does) {_of_year(study, view, losses, 'ramp')}."
    )


def _pond_told(study: Study, view: View, found: DayByDay, losses: OperatingLosses) -> str:
    pond = losses.pond
    share = (
        f"brings **{_kwh(pond.year_kwh)}** a year ({plain_number(100 * pond.share, 2)} %)"
        if pond.matters
        else "brings next to nothing"
    )
    return (
        "The water that the forebay pond stores from one day to the next is part of the gross "
        f"energy; it {share}."
    )


_TOLD = {
    "planned": _planned_told,
    "unplanned": _unplanned_told,
    "jets": _jets_told,
    "frost": _frost_told,
    "ramp": _ramp_told,
    "pond": _pond_told,
}


def _pond_words(found: DayByDay, view: View) -> str:
    """A pond too small to matter from day to day."""
    if not found.pond_m3 or "pond" in found.chosen:
        return ""
    return (
        f"The forebay pond's {view.text(found.pond_m3, 'volume', 2)} feed the plant for "
        f"{view.text(found.pond_s, 'minutes', 2)} at full flow, too short to store water from one "
        "day to the next."
    )


@needs(Study.operating_losses, Study.year, quiet=True)
def memory_figure(
    study: Study, view: View, losses: OperatingLosses, year: NetYear
) -> Picture | Words:
    """From gross to net, one bar a loss."""
    steps = losses.steps
    if not steps:
        return Words("")
    names = ["gross", *(_label(study, step.name) for step in steps), "net"]
    left = year.gross_annual_kwh
    with figure(7.4, 0.9 + 0.34 * len(names)) as (made, axes):
        axes.barh(0, left, 0.62, color=CREEK, alpha=0.55)
        for number, step in enumerate(steps, 1):
            _, colour, hatch = _KINDS[step.name]
            axes.barh(
                number,
                step.year_kwh,
                0.62,
                left=left - step.year_kwh,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
            )
            axes.text(
                left,
                number,
                f" −{plain_number(step.year_kwh, 2)}",
                fontsize=SMALL,
                va="center",
            )
            left -= step.year_kwh
        axes.barh(len(names) - 1, left, 0.62, color=CREEK)
        for row, key in ((0, "energy.gross"), (len(names) - 1, "energy.net")):
            shown = in_picture(view, study.answer(key), unit=False)
            at = year.gross_annual_kwh if row == 0 else left
            axes.text(at, row, f" {shown}", fontsize=SMALL, va="center")
        axes.set_xlim(right=1.12 * max(year.gross_annual_kwh, left))
        axes.set_yticks(np.arange(len(names)), names)
        axes.invert_yaxis()
        thousands(axes.xaxis)
        axes.set_xlabel("energy of a mean year [kWh]")
        axes.grid(axis="y", visible=False)
    said = "; ".join(f"{_label(study, step.name)} {_kwh(step.year_kwh)}" for step in steps)
    return Picture(
        made,
        (
            "From gross to net energy of a mean year. Gross "
            f"{view.shown(study.answer('energy.gross'))}; losses: {said}; net "
            f"{view.shown(study.answer('energy.net'))}."
        ),
    )


@needs(Study.operating_losses, Study.year, quiet=True)
def memory_table(study: Study, view: View, losses: OperatingLosses, year: NetYear) -> Table | Words:
    """Month by month: gross, what each loss takes, net."""
    steps = losses.steps
    if not steps:
        return Words("")
    columns = (
        "month",
        "gross [kWh]",
        *(f"{_label(study, step.name)} [kWh]" for step in steps),
        "net [kWh]",
    )
    by_month = (year.gross_kwh, *(-step.kwh for step in steps), year.monthly_kwh.to_numpy())
    rows = [
        (MONTH_NAMES[month], *(float(round(each[month])) for each in by_month))
        for month in range(12)
    ]
    rows.append(
        (
            "year",
            view.shown(study.answer("energy.gross"), unit=False),
            *(float(f"{-step.year_kwh:.2g}") for step in steps),
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

_WALK = "Clearing it within hours, before the water freezes, saves this energy."


def stop_words(study: Study, view: View) -> Words:
    """What one stop in frost costs in its worst month."""
    found = study.day_by_day
    if found is None:
        return _stop_by_outlook(study, view)
    stops, habits = found.stops, found.habits
    if stops is None:
        return Words(
            "*The cost of one stop in frost is not shown: it needs the air temperature of "
            "every day of the flow record. Begin with a thermometer on a shaded north wall, "
            "read each morning.*"
        )
    thawed = (
        "to run again on the first day on which the mean of the last five is above "
        f"{_celsius(habits.thaws_above_degc, view)}"
    )
    if study.felt is None:
        rule = (
            "A plant that is stopped on a day with a mean temperature of "
            f"{_celsius(habits.freezes_below_degc, view)} or below is taken to freeze, and "
            f"{thawed}"
        )
    else:
        rule = (
            "A plant is taken to freeze when it is stopped on a day on which water standing in "
            f"its worst stretch ({escape_markdown(study.felt.name)}) is blocked before the next, "
            f"with {_celsius(habits.freezes_below_degc, view)} or less around it (page 03), and "
            f"{thawed} there"
        )
    if stops.worst_month is None:
        return Words(
            f"{rule}. No day on record is that cold: no stop lasts longer than it takes to clear it."
        )
    worst = stops.worst_month - 1
    month, share = MONTH_NAMES[worst], found.stop_of_mean_month
    beyond = (
        f", {plain_number(share, 2)} times the energy of a mean {month}"
        if share is not None and share > 1
        else ""
    )
    return Words(
        f"**One stop on a frosty day of {month}** holds the plant for "
        f"{_count(float(stops.days[worst]), 'day')} in the median case and costs "
        f"**{_kwh(float(stops.kwh[worst]))}**; 10 % of such stops cost more than "
        f"{_kwh(float(stops.kwh_long[worst]))}{beyond}, the worst on record "
        f"{_kwh(float(stops.kwh_most[worst]))}. {rule}. One stop was tried on each frosty day of "
        f"the record. {_WALK}"
    )


def _stop_by_outlook(study: Study, view: View) -> Words:
    """The same without a daily record: days from the thermometer, watts by the month."""
    outlook = study.winter_outlook
    if outlook is None or outlook.stop is None or outlook.stop.worst_month is None:
        return Words("")
    stop, names, worst = outlook.stop, MONTH_NAMES, outlook.stop.worst_month - 1
    coldest = outlook.climate.coldest_month - 1
    coldest = coldest if np.isfinite(stop.energy_j[coldest]) else worst

    def kwh(energy_j: float) -> str:
        return view.text(float(energy_j), "energy", 2)

    return Words(
        f"**One stop in {names[coldest]}** that lasts until it thaws holds the plant for "
        f"{_count(float(stop.days[coldest]), 'day')} in the median case and costs "
        f"**{kwh(stop.energy_j[coldest])}**; 10 % of such stops cost more than "
        f"{kwh(stop.energy_long_j[coldest])}. The days are those of the temperature record, the "
        f"watts a month's mean from {outlook.power_from}. The most expensive stop comes in "
        f"{names[worst]}: {kwh(stop.energy_j[worst])} in the median case. {_WALK}"
    )


@needs(Study.day_by_day, quiet=True)
def stop_table(study: Study, view: View, day_by_day: DayByDay) -> Table | Words:
    """What one stop costs by the month it comes in."""
    stops = day_by_day.stops
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
                float(f"{float(values[m]):.2g}")  # as told below and on page 09
                for values in (stops.kwh, stops.kwh_long, stops.kwh_most)
            ),
        )
        for m in order
    ]
    columns = (
        "stop in",
        "days that freeze",
        "days lost, median",
        "days, exceeded by 10 %",
        "lost, median [kWh]",
        "exceeded by 10 % [kWh]",
        "most on record [kWh]",
    )
    return Table(
        columns,
        rows,
        "One stop on a frosty day, until it thaws",
        mark=(order.index(stops.worst_month - 1),),
    )
