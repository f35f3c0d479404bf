"""Page 09, winter and the valves: frazil, freezing, stops, heat; the year's jobs; steps to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....running.jobs import day_text
from ....running.visits import BLINDING
from ....running.winter import ZERO_K
from ....sentences import plain_number, series_text
from ....stream.months import MONTH_NAMES
from ....study.build.freeze import STATES, soonest
from ....study.build.frost_measures import kept_open
from ....study.build.in_hand import brims
from ....study.build.machines import opened
from ....study.build.winter import FRAZIL_TOLD
from ....study.study import Study
from ....study.view import View
from ...display import Cautions, Picture, Table, Words, escape_markdown
from ...style import (
    BAND,
    CREEK,
    INK,
    MONTH_LETTERS,
    RUST,
    SMALL,
    figure,
    legend_above,
)
from ..common import cautions, in_frost, keeps_open, needs, of_month, value
from ..p03.holding import closing_verdict, water_speed
from .told import hours, months_told, numbers_told, place_told, step_number

if TYPE_CHECKING:
    from ....running.winter import Standing
    from ....study.build.winter import WinterOutlook

__all__ = [
    "alarm_table",
    "alarm_words",
    "calendar_table",
    "diversion_steps_table",
    "freezing_table",
    "hands",
    "penstock_steps_table",
    "steps_words",
    "stop_table",
    "stop_words",
    "winter_figure",
    "winter_words",
]

_ORDER = np.roll(np.arange(12), -9)  # October first: the season as it comes
_KWH = 3.6e6
_WORTH_TELLING_M, _LONGEST_SHOWN_H = 0.1, 720.0


@in_frost
@needs(Study.winter_outlook, headline=True)
def winter_figure(study: Study, view: View, seen: WinterOutlook) -> Picture:
    """The year's air with the nights of frazil weather."""
    air, months = seen.climate, np.arange(12)
    with figure(7.4, 2.6) as (made, top):
        mean, cold, least = (
            view.number(each[_ORDER], "temperature")
            for each in (air.mean_k, air.cold_k, air.lowest_k)
        )
        top.fill_between(months, cold, mean, color=CREEK, alpha=BAND, linewidth=0)
        top.plot(months, mean, color=CREEK, label="mean")
        top.plot(
            months,
            cold,
            color=CREEK,
            linewidth=1,
            linestyle=(0, (5, 2)),
            label="colder on 10 % of days",
        )
        top.plot(
            months, least, color=RUST, linewidth=1, marker="v", markersize=4, label="coldest day"
        )
        top.axhline(float(view.number(ZERO_K, "temperature")), color=INK, linewidth=0.8)
        bottom = float(np.nanmin(least))
        for place, month in enumerate(_ORDER):
            if air.frazil_nights[month] >= 0.5:
                top.annotate(
                    f"{np.rint(air.frazil_nights[month]):.0f}",
                    (place, bottom),
                    xytext=(0, -16),
                    textcoords="offset points",
                    ha="center",
                    fontsize=SMALL,
                    color=CREEK,
                )
        top.annotate(
            "nights of frazil weather",
            (11.4, bottom),
            xytext=(0, -16),
            textcoords="offset points",
            ha="right",
            fontsize=SMALL,
            color=CREEK,
        )
        span = float(np.nanmax(mean)) - bottom
        top.set(
            ylabel=view.header("air, daily mean", "temperature"),
            ylim=(bottom - 0.22 * span, float(np.nanmax(mean)) + 0.05 * span),
        )
        legend_above(top)
        top.set(xticks=months, xlim=(-0.5, 11.5))
        top.set_xticklabels([MONTH_LETTERS[month] for month in _ORDER])
    worst = seen.climate.coldest_month
    return Picture(
        made,
        f"Air temperature by month from October on; {MONTH_NAMES[worst - 1]} is coldest with a "
        f"mean of {view.text(air.mean_k[worst - 1], 'temperature', 2)}; "
        f"{view.shown(study.answer('frazil.days'))} nights a year have the weather for frazil.",
    )


@in_frost
@needs(Study.winter_outlook, quiet=True)
def winter_words(study: Study, view: View, winter_outlook: WinterOutlook) -> Words:
    """How cold it gets, and the weather for frazil."""
    air = winter_outlook.climate
    nights, total = study.answer("frazil.nights"), study.answer("frazil.days")
    place = air.coldest_month - 1
    known = "known" if air.years < 1.5 else f"of {air.years:.0f} years"
    text = (
        f"{MONTH_NAMES[place]} is the coldest month: "
        f"{view.text(air.mean_k[place], 'temperature', 2)} on average, below "
        f"{view.text(air.cold_k[place], 'temperature', 2)} on 10 % of its days; the coldest day "
        f"{known} had {view.text(winter_outlook.coldest_day_k, 'temperature', 2)}. "
    )
    if value(study, "frazil.days") < 0.5:
        return Words(
            text + "Nights with the weather for frazil are rare: fewer than one in two years."
        )
    by_month = np.broadcast_to(value(study, "frazil.nights"), 12)
    rich = [month for month in _ORDER if by_month[month] >= FRAZIL_TOLD]
    shown = (
        series_text(
            [
                f"{view.shown(of_month(nights, int(month) + 1))} ({MONTH_NAMES[month]})"
                for month in rich
            ]
        )
        if rich
        else "fewer than one in any month"
    )
    text += (
        f"Nights with the weather for frazil: {view.shown(total)} a year; {shown}. This is an "
        "upper limit: under a closed cover of ice or snow, or close below a spring, no frazil "
        "forms; it blocks screens on the nights before the creek is covered. "
    )
    if air.first_frazil:
        first, last = day_text(min(air.first_frazil)), day_text(max(air.first_frazil))
        text += (
            f"The first came {f'on {first}' if first == last else f'between {first} and {last}'}. "
        )
    if value(study, "frost.depth") > _WORTH_TELLING_M:
        text += (
            f"In bare moist ground frost reached {view.shown(study.answer('frost.depth'))} deep "
            "in the coldest winter; under snow, far less. "
        )
    if air.years < 5:
        text += f"**Only {plain_number(air.years, 2)} years are known: a hard winter may not be among them.**"
    return Words(text)


@in_frost
@needs(Study.standing, quiet=True)
def freezing_table(study: Study, view: View, found: Standing) -> Table | Words:
    """How long water may stand in each stretch, and the flow that keeps it open."""
    rows, kept = [], kept_open(study)
    snowed = any(each.snow_m > 0 for each in found.stretches)
    for number, each in enumerate(found.stretches):
        lies = [f"{view.text(each.soil_m, 'depth', 2)} of soil"] * (each.soil_m > 0) + [
            f"{view.text(each.snow_m, 'depth', 2)} of snow"
        ] * (each.snow_m > 0)
        lies += [f"{view.text(each.insulation_m, 'diameter', 2)} of insulation"] * (
            each.insulation_m > 0
        )
        slug = next(known.slug for known in study.freeze if known.stretch.name == each.name)
        times = (
            *(hours(float(blocked), view) for blocked in found.blocked_s[:2, number]),
            *(
                view.shown(study.answer(f"freeze.{slug}.{state}"))
                for state in STATES[::-1]
                if snowed or state == "snow"
            ),
        )
        needed = kept[each.name]
        rows.append(
            (
                each.name,
                series_text(lies) if lies else "bare",
                *times,
                keeps_open(study, view, needed, needed.cold_m3s),
            )
        )
    month = MONTH_NAMES[found.month - 1]
    return Table(
        (
            "stretch",
            "lies under",
            f"{month}, median day",
            f"{month}, 10 % of days leave less",
            "worst day of the record",
            *(("then, without snow",) if snowed else ()),
            f"flow that keeps it open on 90 % of days of {month}",
        ),
        rows,
        (
            "How long water may stand, from the morning on which it stops until a quarter of it "
            "is ice: the days after it as the record has them, thaws given back"
        ),
        mark=(0,),
    )


@in_frost
def alarm_table(study: Study, view: View) -> Table | Words:
    """The pressure at which to walk up, and the hours then left if it is frazil."""
    if not study.alarms:
        return Words("*Not shown: pressures with fixed jets are lacking.*")
    rows = [
        (
            each.jets,
            *(
                view.amount(each_pa, "gauge pressure", unit=False)
                for each_pa in (each.pressure_pa, each.alarm_pa)
            ),
            hours(each.left_s, view),
        )
        for each in study.alarms
    ]
    unit = view.label("pressure")
    return Table(
        (
            "jets open",
            f"healthy [{unit}]",
            f"walk up below [{unit}]",
            "time left until the screen is shut, if it is frazil",
        ),
        rows,
        "Alarm",
    )


@in_frost
def alarm_words(study: Study, view: View) -> Words:
    """What the alarm rests on."""
    if not study.alarms:
        return Words(
            "An alarm needs the pressure with each number of jets: read the gauge with one, "
            f"two, … open while {brims(study)}."
            if opened(study) == "jet"
            else "An alarm by the gauge needs jets of one fixed bore: gates that follow the water "
            "keep its pressure, so watch the watts and the water at the forebay."
        )
    text = (
        f"The repeatability of one reading of the gauge is {100 * study.noise.pressure:.1f} % "
        "(one standard deviation); the alarm of the card stands three times that, and the card's "
        "own uncertainty, below the healthy pressure, so that false alarms are rare. The hours "
        f"left assume that frazil shuts a clean screen in {BLINDING / 3600:.0f} hours, evenly "
        "(common practice; your own log will tell). "
    )
    seen = study.frazil_seen
    if seen is not None:
        text += (
            f"On {seen.day} it took at most {seen.within_s / 3600:.0f} hours from a healthy "
            f"reading to {100 * seen.left_share:.0f} % of the flow; there is no reading in "
            "between. "
        )
    if len(study.alarms) > 1 and study.alarms[0].spare > 1.5:
        text += (
            "**With few jets open the alarm comes late**: the screen is most of the way shut "
            "before these jets feel it. "
        )
    text += (
        "Someone must be able to come within those hours by day and by night, or the line must be "
        "safe to stand until morning: see the table above."
    )
    return Words(text)


@in_frost
@needs(Study.winter_outlook, quiet=True)
def stop_table(study: Study, view: View, seen: WinterOutlook) -> Table | Words:
    """What a stop that freezes the line costs, by month."""
    found, power_w, rows = seen.stop, seen.power_w, []
    if found is None or power_w is None or not np.isfinite(found.days).any():
        return Words(
            "*Not shown: "
            + (
                "nothing says what power the plant would make.*"
                if found is None
                else "no month has days of lasting frost.*"
            )
        )
    for month in _ORDER:
        if np.isfinite(found.days[month]):
            rows.append(
                (
                    MONTH_NAMES[month],
                    float(power_w[month]),
                    round(found.days[month]),
                    round(found.days_long[month]),
                    float(f"{found.energy_j[month] / _KWH:.2g}"),  # as told below and on page 05
                    float(f"{found.energy_long_j[month] / _KWH:.2g}"),
                )
            )
    return Table(
        (
            "stopped in",
            "power then [W]",
            "days, median stop",
            "days, exceeded by 10 %",
            "lost [kWh], median",
            "lost [kWh], exceeded by 10 %",
        ),
        rows,
        "A stop that lasts until thaw",
    )


@in_frost
@needs(Study.winter_outlook, quiet=True)
def stop_words(study: Study, view: View, seen: WinterOutlook) -> Words:
    """How bad a stop until thaw is."""
    if seen.stop is None or seen.stop.worst_month is None:
        return Words(
            "Frost here does not last: a stopped line thaws within days. Drain it all the "
            "same, for ice can burst it."
        )
    worst = seen.stop.worst_month - 1
    text = (
        f"A stop that freezes the line in {MONTH_NAMES[worst]} costs "
        f"{plain_number(seen.stop.energy_j[worst] / _KWH, 2)} kWh (median): "
        f"{seen.stop.days[worst]:.0f} days until the mean of five days is above freezing. The "
        f"power is taken from {seen.power_from}. Sun on a dark pipe thaws it sooner; snow and "
        "soil over it delay the thaw. "
    )
    stops = () if study.history is None else study.history.of("ice stop")
    if stops:
        text += (
            series_text(
                [
                    (
                        f"The log's own stop of {each.start.astype('datetime64[D]')} lasted "
                        f"{each.days:.0f} days and cost {plain_number(each.energy_j / _KWH, 2)} "
                        "kWh"
                    )
                    for each in stops
                ]
            )
            + ". "
        )
    first = soonest(study)
    if first is not None and np.isfinite(first.soonest_s):
        text += (
            f"What counts is the first **{view.shown(study.answer('freeze.worst'))}** in the "
            "hardest frost known: by then the worst stretch "
            f"({escape_markdown(first.stretch.name)}) is blocked if its water stands, whether "
            "snow lies or not."
        )
    return Words(text)


# --- jobs and steps -------------------------------------------------------------------------


def calendar_table(study: Study, view: View) -> Table:
    """The year's jobs, from October on, each with its reason and its number; the same in several
    months once."""
    rows = [
        (
            months_told(jobs),
            jobs[0].job,
            jobs[0].reason,
            numbers_told(study, jobs, view),
            jobs[0].caution,
        )
        for jobs in study.jobs_together
    ]
    return Table(("month", "job", "why", "number", "watch for"), rows, "The year's jobs")


def _steps_table(study: Study, view: View, line: str, lacking: str) -> Table | Words:
    steps = study.steps[line]
    if steps is None:
        return Words(f"*Not shown: {lacking}.*")
    rows, last = [], None
    for step in steps:
        rows.append(
            (
                step.number,
                step.part if step.part != last else "",
                step.action,
                place_told(view, step.place_m),
                step_number(study, step, view),
                step.why,
                step.caution,
            )
        )
        last = step.part
    return Table(
        ("step", "part", "do", "where", "number", "why", "watch for"),
        rows,
        f"Steps for the {line} of {study.name}",
    )


def penstock_steps_table(study: Study, view: View) -> Table | Words:
    """Shutdown, draining, filling and restart of the penstock."""
    return _steps_table(study, view, "penstock", "the penstock is not described")


def diversion_steps_table(study: Study, view: View) -> Table | Words:
    """Draining, filling and venting of the line from creek to forebay."""
    return _steps_table(study, view, "diversion", "no line from creek to forebay is described")


def steps_words(study: Study, view: View) -> Words:
    """What the steps rest on."""
    found = study.pressures
    if found is None:
        return Words(
            "Steps need the penstock's head and pipes; a profile shows its high points and low points."
        )
    text = (
        f"At full flow the water runs at {water_speed(view, found)}; stopped "
        f"at once it would raise the head by {view.shown(study.answer('surge.at_once'))} over "
        f"rest. {closing_verdict(study, view, found)}"
    )
    if study.profile is None:
        text += "**Without a profile the steps know no high point and no low point.** "
    return Words(
        text
        + "Correct the sheet where you know the line better; run the study again when the line is changed."
    )


def hands(study: Study, view: View) -> Cautions:
    """Where hands meet ice, moving water, pressure, air, height and electricity."""
    ice = ("ice",) if study.frosty else ()
    return cautions(*ice, "water", "pressure", "vent", "height", "confined", "electric")
