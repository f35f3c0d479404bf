"""Pages 06 and 09, heat: what the plant's watts keep warm, how much of the heat demand they meet,
who gets them first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....stream.months import told_months
from ....study.build.demand import HOURS
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import CREEK, MONTH_LETTERS, MONTH_NAMES, RUST, figure, legend_above, thousands
from ..common import needs, of_month

if TYPE_CHECKING:
    from ....study.build.heat import House, Sharing, Warmth

__all__ = [
    "fuel_words",
    "heat_figure",
    "heat_table",
    "heat_words",
    "held_words",
    "house_words",
    "sharing_table",
    "sharing_words",
]

_KWH = 3.6e6
_FROM = {
    "site file": "as the site file has it",
    "measured nights": "as measured by night",
    "room list": "summed over the list of rooms",
}
# One unit of the fuel tables in the reader's own: factor and name, metric and US.
_AMOUNTS = {
    "cord": ((3.625, "m³ stacked"), (1.0, "cords")),
    "short ton": ((907.18, "kg"), (1.0, "short tons")),
    "gal": ((3.78541, "litres"), (1.0, "gallons")),
    "kWh": ((1.0, "kWh"), (1.0, "kWh")),
}


@needs(Study.house, headline=True)
def house_words(study: Study, view: View, found: House) -> Words:
    """How fast the rooms lose heat, and by which account."""
    text = (
        f"The heated rooms lose **{view.text(found.conductance_w_k, 'heat loss')}** "
        f"({_FROM[found.source]}). "
    )
    others = [
        f"{view.text(value, 'heat loss')} {_FROM[name]}"
        for name, value in found.known.items()
        if name != found.source
    ]
    text += f"Beside it: {series_text(others)}. " if others else ""
    if found.nights:
        told = [
            (
                f"{'' if date is None else f'that of {date:%Y-%m-%d}, '}{view.text(each.difference_k, 'temperature difference', 2)} "
                f"between indoors and out, gave {view.text(each.conductance_w_k, 'heat loss')}"
            )
            for date, each in zip(found.dates, found.nights)
        ]
        text += f"Of the measured nights {series_text(told)}" + (
            f"; they differ by {100 * found.spread:.0f} % (one standard deviation). "
            if np.isfinite(found.spread)
            else "; a second night would tell how sure that is. "
        )
    else:
        text += (
            "A calm, dark night with all heat metered would check it: give power, inside and "
            "outside under `[[loads.night]]`. "
        )
    if found.rooms:
        first = sorted(found.rooms, key=lambda room: -room[1])
        text += (
            "Room by room: "
            + series_text(
                [f"{escape_markdown(name)} {view.text(ua, 'heat loss', 2)}" for name, ua in first]
            )
            + ". "
        )
    return Words(text)


@needs(Study.house, Study.warmth, quiet=True)
def held_words(study: Study, view: View, _: House, found: Warmth) -> Words:
    """How far above the outdoors the plant holds the rooms, with plenty of water and in winter."""
    other = found.other_w
    first = (
        f" and the other loads of a winter month take {view.text(other, 'power')} first"
        if other > 0
        else ""
    )
    left = (
        f"so that {view.text(found.full_w, 'power', 2)} are left for heat, which hold"
        if first
        else "which hold"
    )
    winter = (
        f"in the mean of the winter months {view.text(found.winter_w, 'power', 2)} are left "
        f"for heat, and hold {view.text(found.winter_k, 'temperature difference', 2)}. "
        if np.isfinite(found.winter_w)
        else "what the winter months leave for heat is not known. "
    )
    source = f"The watts are from {found.power_from}. " if study.year is None else ""
    return Words(
        "With all the water it can take the plant gives "
        f"{view.shown(study.answer('power.loads'))} at the loads{first}, {left} the rooms "
        f"{view.text(found.full_k, 'temperature difference', 2)} above the outdoors; "
        f"{winter}{source}Every watt counts the same, whether a heater, a lamp or the ballast "
        "gives it off, so long as it does so indoors."
    )


def heat_words(study: Study, view: View) -> Words:
    """What the plant keeps warm in the coldest month and over the days on record."""
    seen = study.winter_outlook
    if seen is None:
        return Words(
            "*Not weighed day by day: a record of air temperature is lacking.*"
            if study.warmth is not None
            else ""
        )
    house = study.house
    if seen.heat is None or house is None:
        lacks = (
            "how much heat the rooms lose (heated_ua under [loads], a list of rooms, or a measured night)"
            if house is None
            else "the power the plant makes"
        )
        return Words(f"*Heat is not weighed: {lacks} is not known.*")
    place, found = seen.climate.coldest_month - 1, seen.heat
    wanted = study.site.loads.inside_temperature
    loses, known = view.text(house.conductance_w_k, "heat loss"), of_known_months(study)
    text = (
        f"In {MONTH_NAMES[place]} "
        f"{view.shown(of_month(study.answer('heat.power'), place + 1)) if study.warmth is not None else view.text(found.power_w[place], 'power', 2)} "
        "are left for heat after the other loads: they hold "
        f"{view.text(found.held_k[place], 'temperature difference', 2)} above the outdoors, "
        + (
            f"enough for {view.text(wanted, 'temperature', 2)} in the rooms ({loses}) even on a cold day. "
            if found.inside_cold_k[place] >= wanted - 0.5
            else (
                f"so that with nothing else the rooms ({loses}) stand at "
                f"{view.text(found.inside_cold_k[place], 'temperature', 2)} on a cold day, where "
                f"{view.text(wanted, 'temperature', 2)} are to be kept. "
            )
        )
        + (
            f"Of the {view.shown(study.answer('heat.needed'))} of heat that the rooms lose "
            f"{known.strip() + ',' if known else 'in a mean year'} it meets {view.shown(study.answer('heat.met'))}, "
            f"{100 * found.met_share:.0f} %; "
        )
        + (
            f"the other {100 * (1 - found.met_share):.0f} % must come from another source"
            if found.unmet_j >= 0.5 * _KWH
            else "no other source is needed"
        )
    )
    if found.joint:
        return Words(
            text
            + (
                ". Flow and temperature are of the same days, for a cold spell is often a dry "
                "one; stops are counted."
            )
        )
    return Words(
        text
        + (
            ", if nothing stops it. Power is taken month by month here: the cold days of a month "
            "may be its dry ones, and then less is met."
        )
    )


@needs(Study.warmth, quiet=True)
def heat_figure(study: Study, view: View, warmth: Warmth) -> Picture | Words:
    """Heat demand of each month and the part the plant meets."""
    heat, year = warmth.heat, warmth.year
    if heat is None or year is None or not year.needed_j > 0:
        return Words("")
    months = np.arange(1, 13)
    needed, met = np.nan_to_num(heat.needed_month_j) / _KWH, np.nan_to_num(heat.met_month_j) / _KWH
    with figure(7.4, 3.0) as (made, axes):
        axes.bar(months, needed, 0.7, color="#d9d5cc", label="demand")
        axes.bar(months, met, 0.7, color=RUST, alpha=0.8, label="met by the plant")
        axes.plot(
            months,
            heat.power_w * HOURS / 1000,
            color=CREEK,
            marker="o",
            markersize=4,
            linewidth=1.2,
            label="available for heat",
        )
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="heat of the month [kWh]", ylim=(0, None))
        axes.set_xticklabels(MONTH_LETTERS)
        thousands(axes.yaxis)
        axes.grid(axis="x", visible=False)
        legend_above(axes)
    worst = year.worst_month - 1
    return Picture(
        made,
        (
            f"Heat demand and demand met by month; most is unmet in {MONTH_NAMES[worst]}: "
            f"{plain_number(needed[worst])} kWh of demand, {plain_number(met[worst])} kWh met."
        ),
    )


@needs(Study.warmth, quiet=True)
def heat_table(study: Study, view: View, found: Warmth) -> Table:
    """By month: watts for heat, difference held, heat needed and met, degree-hours unmet."""
    heat, unit = found.heat, view.label("temperature difference")
    powers = study.answer("heat.power")
    rows, per = [], float(view.number(1.0, "temperature difference")) / 3600
    for place in range(12):
        row = [
            MONTH_NAMES[place],
            view.shown(of_month(powers, place + 1), unit=False)
            if np.isfinite(found.power_w[place])
            else "not known",
            _known(float(view.number(found.held_k[place], "temperature difference"))),
        ]
        if heat is not None:
            needed, met = heat.needed_month_j[place], heat.met_month_j[place]
            row += [
                _known(needed / _KWH),
                _known(met / _KWH),
                _known((needed - met) / _KWH),
                _known(heat.needed_month_ks[place] * per),
                _known((heat.needed_month_ks[place] - heat.met_month_ks[place]) * per),
            ]
        rows.append(row)
    columns = ["month", "for heat [W]", f"holds above the outdoors [{unit}]"]
    if found.year is not None:
        columns += [
            "demand [kWh]",
            "met [kWh]",
            "unmet [kWh]",
            f"degree-hours of demand [{unit} h]",
            f"degree-hours unmet [{unit} h]",
        ]
        rows.append(
            [
                "year" if len(found.year.months) == 12 else "these months",
                "",
                "",
                view.shown(study.answer("heat.needed"), unit=False),
                view.shown(study.answer("heat.met"), unit=False),
                found.year.unmet_j / _KWH,
                found.year.needed_ks * per,
                found.year.unmet_ks * per,
            ]
        )
    return Table(
        columns,
        rows,
        f"Heat by month; watts from {found.power_from}",
        mark=(12,) if heat is not None else (),
    )


def of_known_months(study: Study) -> str:
    """Of which months the heat of a year is told, where not of all: `` in January to June, ...``."""
    year = None if study.warmth is None else study.warmth.year
    if year is None or len(year.months) in (0, 12):
        return ""
    return f" in {told_months(year.months)}, the months whose power is known"


def _known(value: float) -> float | str:
    return float(value) if np.isfinite(value) else "not known"


@needs(Study.warmth, quiet=True)
def fuel_words(study: Study, view: View, warmth: Warmth) -> Words:
    """How much wood or gas the met heat stands for."""
    fuels = warmth.fuels
    if not fuels or not max(float(each.amount) for each in fuels) > 0:
        return Words("")
    amounts = []
    for each in fuels:
        factor, unit = _AMOUNTS.get(each.unit, ((1.0, each.unit), (1.0, each.unit)))[
            view.system == "us"
        ]
        amounts.append(f"{plain_number(float(each.amount) * factor, 2)} {unit} of {each.fuel}")
    uncertain = (
        "; tables of firewood differ by 8 % for the same wood, and stacks by more"
        if any(each.unit == "cord" for each in fuels)
        else ""
    )
    return Words(
        f"The heat it meets {of_known_months(study).strip() or 'in a mean year'} stands for about **{' or '.join(amounts)}**, with "
        f"the stove's own losses counted{uncertain}."
    )


@needs(Study.sharing, quiet=True)
def sharing_table(study: Study, view: View, found: Sharing) -> Table:
    """What each load gets, in order of priority."""
    rows = []
    for place, (name, wanted) in enumerate(zip(found.names, found.wanted_w)):
        rows.append(
            (
                place + 1,
                name,
                float(wanted),
                *(float(shares.served_w[place]) for _, _, shares in found.cases),
            )
        )
    rows.append(("", "ballast", "", *(float(shares.ballast_w) for _, _, shares in found.cases)))
    columns = (
        "priority",
        "load",
        "demand [W]",
        *(f"{_case(name)}: {plain_number(watts)} W" for name, watts, _ in found.cases),
    )
    return Table(
        columns,
        rows,
        "Who gets the power first, with everything switched on",
        mark=(len(rows) - 1,),
    )


def _case(name: str) -> str:
    if name == "median":
        return "median month"
    return (
        f"month of least mean power, {MONTH_NAMES[int(name.split()[1]) - 1]}"
        if name.startswith("month ")
        else name
    )


@needs(Study.sharing, quiet=True)
def sharing_words(study: Study, view: View, found: Sharing) -> Words:
    """What must be switched off when water is short, and how to change the order."""
    name = found.cases[-1][0]
    order = "Loads are served as the site file lists them; change the order there and the table changes."
    if not found.short:
        return Words(f"Even in the last case ({_case(name)}) every load is served. {order}")
    lacking = series_text(
        [f"{escape_markdown(load)} by {view.text(lack, 'power', 2)}" for load, lack in found.short]
    )
    return Words(
        f"In the last case ({_case(name)}) the power falls short for {lacking}. {order} A "
        "switch that sheds the last loads first must act by itself, day and night."
    )
