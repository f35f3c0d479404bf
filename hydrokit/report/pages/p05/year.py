"""Page 05: how many kWh each month brings, and how sure that is."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....energy.levels import LEVELS, MEDIAN, SECURE, level_name, levels_text, monthly_levels
from ....errors import counted
from ....sentences import plain_number, series_text
from ....study.build.running import metered
from ....study.view import View
from ... import next_measurements
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    ICE,
    INK,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    SUN,
    figure,
    legend_above,
    thousands,
)
from ..common import needs, sources
from . import today

__all__ = [
    "assumption_table",
    "days_figure",
    "doubt_figure",
    "doubt_words",
    "headline",
    "month_figure",
    "month_table",
    "month_words",
    "next_words",
    "references",
    "steps_table",
    "sure_table",
    "years_figure",
]

HOURS = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_SOURCE_NAMES = {
    "weather": "year-to-year variability", "years": "the length of the record", "rating": "the gaugings and the record", "extension": "the borrowed years", "head": "the head", "loss": "the pipe's loss",
    "efficiency": "the efficiency", "jet_area": "the jets' bore", "outage": "stops", "plant": "head, jets and efficiency together",
}  # fmt: skip


def _need_kwh(study: Any) -> np.ndarray | None:
    """Energy wanted in each month of a mean year, or None."""
    demand = study.demand_w
    if demand is None:
        return None
    monthly = (
        demand.groupby(demand.index.month).mean().reindex(range(1, 13)).to_numpy()
        if hasattr(demand, "index")
        else np.broadcast_to(demand, 12)
    )
    return monthly * HOURS / 1000


def _kwh(value: float) -> str:
    return f"{plain_number(value)} kWh"


def headline(study: Any, view: View) -> Words:
    """The answer in two sentences; without a record, what the plant gives today."""
    if study.record is not None and study.plant is None:
        return _without_a_plant(study, view)
    if study.energy_uncertainty is None:
        return today.headline(study, view)
    middle, bad = (
        view.shown(study.answer(f"energy.annual.p{level}")) for level in (MEDIAN, SECURE)
    )
    first = f"One year to come brings **{middle}** in the median ({level_name(MEDIAN)}) and exceeds **{bad}** with a probability of {SECURE} % ({level_name(SECURE)}: year-to-year variability and the uncertainty of all measurements included)."
    need = _need_kwh(study)
    if need is None:
        winter, winter_bad = (
            view.shown(study.answer(f"energy.winter.p{level}")) for level in (MEDIAN, SECURE)
        )
        return Words(
            f"{first} The winter ({_months(study.winter)}) brings {winter} of it in the median; its {level_name(SECURE)} is {winter_bad}."
        )
    lean = study.answer(f"energy.month.p{SECURE}")
    short = need - lean.value
    worst = int(np.argmax(short))
    if short[worst] <= 0:
        return Words(f"{first} The {level_name(SECURE)} of every month covers its demand.")
    return Words(
        f"{first} {MONTH_NAMES[worst]} falls shortest of its demand: its {level_name(SECURE)} is **{view.shown(lean.month(worst + 1))}**, the demand {_kwh(need[worst])}."
    )


@needs("plant", headline=True)
def _without_a_plant(study: Any, view: View) -> Words:
    return Words("")


def _months(months: tuple[int, ...]) -> str:
    if len(months) > 1 and all(
        (after - before) % 12 == 1 for before, after in zip(months, months[1:])
    ):
        return f"{MONTH_NAMES[months[0] - 1]} to {MONTH_NAMES[months[-1] - 1]}"
    return series_text([MONTH_NAMES[month - 1] for month in months])


@needs("energy_uncertainty")
def month_figure(study: Any, view: View) -> Picture:
    """What each month brings in the median and what it exceeds with 90 %, against the demand."""
    found = study.energy_uncertainty.percentiles(levels=(10, 50, 90))
    months = np.arange(1, 13)
    middle, bad, good = (
        np.array([found.loc[month, name] for month in months]) for name in ("P50", "P90", "P10")
    )
    need = _need_kwh(study)
    with figure(7.4, 3.8) as (made, axes):
        axes.bar(months, middle, 0.7, color=CREEK, alpha=0.55, label="median, P50")
        axes.bar(months, bad, 0.7, color=CREEK, label="exceeded with 90 %, P90")
        axes.vlines(months, bad, good, color=INK, linewidth=1, label="80 % interval")
        if need is not None:
            axes.step(
                np.append(months - 0.5, 12.5),
                np.append(need, need[-1]),
                where="post",
                color=RUST,
                linewidth=1.6,
                label="wanted",
            )
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="energy of the month [kWh]")
        axes.set_xticklabels(MONTH_LETTERS)
        axes.set_ylim(bottom=0)
        thousands(axes.yaxis)
        axes.grid(axis="x", visible=False)
        legend_above(axes)
    least = int(np.argmin(middle))
    return Picture(
        made,
        f"Energy by month in kWh, median and P90; the least median is that of {MONTH_NAMES[least]}: {_kwh(middle[least])}, P90 {_kwh(bad[least])}.",
    )


@needs("energy_uncertainty", quiet=True)
def month_words(study: Any, view: View) -> Words:
    """What the months mean and what would change them."""
    year, found = study.year, study.energy_uncertainty.percentiles()
    middle = np.array([found.loc[month, "P50"] for month in range(1, 13)])
    lean = [MONTH_NAMES[month] for month in range(12) if middle[month] < 0.4 * middle.max()]
    of_most = (
        f", {100 * year.capacity_factor:.0f} % of what its {view.text(year.rated_w, 'power')} would make without a pause"
        if year.rated_w > 0
        else ""
    )
    text = f"On average over the record the plant makes {view.shown(study.answer('energy.net'))} a year, net of stops and of how it is run{of_most}. "
    text += (
        f"The lean month{' is' if len(lean) == 1 else 's are'} {series_text(lean)}. "
        if lean
        else ""
        if not middle.max() > 0
        else f"The least, {MONTH_NAMES[int(np.argmin(middle))]}, brings {100 * middle.min() / middle.max():.0f} % of what {MONTH_NAMES[int(np.argmax(middle))]} brings. "
    )
    demand = study.answer("demand.annual")
    if demand is not None and demand.value > 0 and year.useful_annual_kwh is not None:
        text += (
            f"Of what it makes, {_kwh(year.useful_annual_kwh)} meet a demand of {view.shown(demand)}: {100 * year.useful_annual_kwh / demand.value:.0f} % of it. "
            "Demand and power are compared day by day, not as means: what comes on one day does not keep for the next. "
        )
    return Words(text + f"Means are {escape_basis(year.basis)}.")


def escape_basis(text: str) -> str:
    """The basis of the means as it stands in a sentence."""
    return text.removeprefix("means ")


_STATES = ("full", "part", "underfed", "stopped")


def _exceeded(study: Any, view: View, of: str, level: int) -> Any:
    return view.shown(study.answer(f"energy.{of}.p{level}"), unit=False)


@needs("energy_uncertainty", quiet=True)
def month_table(study: Any, view: View) -> Table:
    """Every month: each level of reliability, demand, demand met, days at full flow, in part, under-fed, stopped."""
    year, need = study.year, _need_kwh(study)
    days = [study.answer(f"days.{state}") for state in _STATES]
    useful, of_month = (
        year.useful_monthly_kwh,
        [study.answer(f"energy.month.p{level}") for level in monthly_levels()],
    )
    rows = []
    for month in range(1, 13):
        rows.append(
            (
                MONTH_NAMES[month - 1],
                *(view.shown(each.month(month), unit=False) for each in of_month),
                "" if need is None else float(need[month - 1]),
                "" if useful is None else float(useful[month]),
                *(view.shown(each.month(month), unit=False) for each in days),
            )
        )
    for name, label in (("winter", f"winter ({_months(study.winter)})"), ("annual", "year")):
        months = list(study.winter) if name == "winter" else list(range(1, 13))
        rows.append(
            (
                label,
                *(_exceeded(study, view, name, level) for level in monthly_levels()),
                "" if need is None else float(need[np.array(months) - 1].sum()),
                "" if useful is None else float(useful[months].sum()),
                *(
                    view.shown(study.answer(f"days.{state}.year"), unit=False)
                    if name == "annual"
                    else int(round(float(each.value[np.array(months) - 1].sum())))
                    for state, each in zip(_STATES, days)
                ),
            )
        )
    columns = (
        "month",
        *(f"{level_name(level)} [kWh]" for level in monthly_levels()),
        "demand [kWh]",
        "demand met, mean [kWh]",
        "days full",
        "days in part",
        "days under-fed",
        "days stopped",
    )
    return Table(
        columns,
        rows,
        "Net energy by month; bad months do not all come in one year, so they do not add up. Days stopped are all without net power: for want of water, planned, unplanned, frozen",
        mark=(12, 13),
    )


@needs("year", quiet=True)
def years_figure(study: Any, view: View) -> Picture:
    """Energy of every whole year of the record, as the plant stands now."""
    yearly = study.year.yearly_kwh
    with figure(7.4, 2.8) as (made, axes):
        axes.bar(yearly.index, yearly.to_numpy(), 0.7, color=CREEK, alpha=0.7)
        axes.axhline(float(yearly.mean()), color=INK, linewidth=1)
        axes.annotate(
            "mean",
            (1.0, float(yearly.mean())),
            xycoords=("axes fraction", "data"),
            xytext=(2, 0),
            textcoords="offset points",
            fontsize=8,
            va="center",
        )
        thousands(axes.yaxis)
        axes.set(
            ylabel="energy of the year [kWh]",
            xlabel="year ending in September" if study.year.start_month == 10 else "year",
        )
        axes.grid(axis="x", visible=False)
        axes.xaxis.get_major_locator().set_params(integer=True)
    worst = int(yearly.idxmin())
    return Picture(
        made,
        f"Energy of each year of the record; the least, {worst}, {_kwh(float(yearly.min()))}, the most {_kwh(float(yearly.max()))}.",
    )


@needs("year")
def days_figure(study: Any, view: View) -> Picture:
    """How many days of each month the plant runs full, in part, under-fed, or is stopped."""
    months, said = (
        np.arange(1, 13),
        {state: view.shown(study.answer(f"days.{state}.year")) for state in _STATES},
    )
    water = np.asarray(study.year.days_stopped, dtype=float) - study.year.days_out
    kinds = [
        ("full", study.answer("days.full").value, CREEK, ""),
        ("in part", study.answer("days.part").value, ICE, ""),
        ("under-fed", study.answer("days.underfed").value, SUN, "//"),
        ("stopped for want of water", water, "#d9d5cc", "xx"),
        ("stopped otherwise", study.year.days_out, "white", ".."),
    ]
    with figure(7.4, 2.9) as (made, axes):
        bottom = np.zeros(12)
        for label, days, colour, hatch in kinds:
            if np.nansum(days) > 0.05:
                axes.bar(
                    months,
                    days,
                    0.75,
                    bottom=bottom,
                    color=colour,
                    hatch=hatch,
                    edgecolor="white" if colour != "white" else INK,
                    linewidth=0.5,
                    label=label,
                )
            bottom = bottom + days
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="days", ylim=(0, 31.5))
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        legend_above(axes)
    return Picture(
        made,
        f"Days of a mean year at full flow {said['full']}, in part {said['part']}, under-fed {said['underfed']}, stopped {said['stopped']}, of these {float(np.sum(study.year.days_out)):.0f} for other reasons than water.",
    )


@needs("energy_uncertainty")
def doubt_figure(study: Any, view: View) -> Picture:
    """Where the doubt of the annual energy comes from."""
    table = study.energy_uncertainty.tornado
    table = table[table["sd_kwh"] > 0.002 * table["sd_kwh"].max()].iloc[::-1]
    names = [_SOURCE_NAMES.get(name, name) for name in table.index]
    mean = study.year.annual_kwh
    with figure(7.4, 0.9 + 0.36 * len(table)) as (made, axes):
        colours = [SUN if name == "weather" else CREEK for name in table.index]
        axes.barh(
            np.arange(len(table)),
            2 * table["sd_kwh"],
            left=mean - table["sd_kwh"],
            color=colours,
            alpha=0.8,
            height=0.6,
        )
        axes.axvline(mean, color=INK, linewidth=1)
        axes.use_sticky_edges = False  # the longest bar stays clear of the frame
        axes.set_yticks(np.arange(len(table)), names)
        thousands(axes.xaxis)
        axes.set_xlabel("energy of a year, one standard deviation either way [kWh]")
        axes.grid(axis="y", visible=False)
    first = _SOURCE_NAMES.get(study.energy_uncertainty.tornado.index[0], "")
    return Picture(
        made,
        f"Doubt of the annual energy by source; the largest is {first} with a standard deviation of {_kwh(float(study.energy_uncertainty.tornado['sd_kwh'].iloc[0]))}.",
    )


@needs("energy_uncertainty", quiet=True)
def sure_table(study: Any, view: View) -> Table:
    """What one year, the mean of several and the long-run mean exceed with each probability."""
    rows = [
        (label, *(_exceeded(study, view, of, level) for level in LEVELS))
        for label, of in (
            ("one year to come", "annual"),
            (f"mean of the next {study.energy_uncertainty.several_years} years", "ten_years"),
            ("long-run mean", "mean"),
        )
    ]
    return Table(
        ("energy of", *(f"{level_name(level)} [kWh]" for level in LEVELS)),
        rows,
        f"Annual energy exceeded with a probability of {levels_text(LEVELS)}, uncertainty of measurements included; a loan rests on the mean of several years, a freezer on one",
    )


@needs("energy_uncertainty", quiet=True)
def steps_table(study: Any, view: View) -> Table:
    """From the median to the P90 by source, for one year and for the long-run mean."""
    single, mean = study.energy_uncertainty.steps("single"), study.energy_uncertainty.steps("mean")
    rows = [
        (
            _SOURCE_NAMES.get(name, name),
            float(study.energy_uncertainty.tornado.loc[name, "sd_kwh"]),
            float(single[name]),
            float(mean[name]),
        )
        for name in single.index
        if max(single[name], mean[name]) > 0.002 * single.sum()
    ]
    rows.append(("all together", "", float(single.sum()), float(mean.sum())))
    return Table(
        (
            "source",
            "one standard deviation [kWh]",
            f"one year: {level_name(MEDIAN)} less {level_name(SECURE)} [kWh]",
            f"long-run mean: {level_name(MEDIAN)} less {level_name(SECURE)} [kWh]",
        ),
        rows,
        f"From {level_name(MEDIAN)} to {level_name(SECURE)} by source, each by its share of the variance",
        mark=(len(rows) - 1,),
    )


@needs("energy_uncertainty", quiet=True)
def doubt_words(study: Any, view: View) -> Words:
    """How sure the energy is, for one year and for the mean of many."""
    read = metered(study)
    known = (
        ""
        if read is None
        else (
            f" The {view.text(read.power_w, 'power')} read on the plant itself, good to {100 * read.sd:.0f} %, tie head, loss, jets and efficiency together: "
            "their product is known better than each of them."
        )
    )
    return Words(
        f"One year to come holds the year-to-year variability; the long-run mean holds only the uncertainty of measurements and what {counted(len(study.energy_uncertainty.whole_years), 'year')} of record leave open. "
        f"Assumed: {study.energy_uncertainty.statement}.{known}"
    )


def assumption_table(study: Any, view: View) -> Any:
    """Every value that stands in for one nobody gave, with where it comes from."""
    if not study.assumptions:
        return Words("*Nothing is assumed that the site file could have said.*")
    rows = [
        (each.what, view.shown(each.answer), each.answer.source, each.key or "fixed")
        for each in study.assumptions
    ]
    return Table(
        ("what is assumed", "value", "source", "said otherwise by"),
        rows,
        "Assumptions in use, for want of a value in the site file; uncertainties are one standard deviation",
    )


def next_words(study: Any, view: View) -> Words:
    """What to measure next, in order of what it would narrow: the list of page 01."""
    if study.energy_uncertainty is None:
        return Words("")
    return Words(
        "\n".join(
            f"{number}. {line[0].upper()}{line[1:]}."
            for number, line in enumerate(next_measurements.lines(study, view), 1)
        )
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Energy is the sum over every day of the record of the plant's power at that day's usable flow.",
        "JCGM 101:2008, Propagation of distributions using a Monte Carlo method.",
        "Colebrook's formula for the pipe; the jets as orifices, Q = n C A √(2 g H); under-fed jets by the head that passes what arrives.",
    )
