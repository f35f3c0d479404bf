"""Figures of the year: months, years, days, and the steps from gross to net."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....energy.levels import MEDIAN, SECURE, SECURE_NAME, level_name
from ....sentences import plain_number
from ....study.build.machines import opened
from ....study.build.year_by_month import STATES
from ....study.study import Study
from ....study.view import View
from ...display import Picture
from ...style import (
    CREEK,
    ICE,
    INK,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    SMALL,
    SUN,
    figure,
    legend_above,
    thousands,
)
from ..common import in_picture, needs, value

if TYPE_CHECKING:
    from ....energy.net import NetYear
    from ....energy.uncertainty import EnergyUncertainty
    from ....study.build.year_by_month import YearByMonth

__all__ = ["days_figure", "month_figure", "steps_figure", "years_figure"]

SOURCE_NAMES = {
    "weather": "year-to-year variability",
    "years": "the length of the record",
    "rating": "the gaugings and the record",
    "extension": "the borrowed years",
    "head": "the head",
    "loss": "the pipe's loss",
    "efficiency": "the efficiency",
    "jet_area": "the jets' bore",
    "outage": "stops",
    "plant": "head, jets and efficiency together",
}


def source_name(study: Study, name: str) -> str:
    """A source of the step from the median to the secure level, in words."""
    if name == "jet_area" and opened(study) != "jet":
        return "the flow that the machine passes"
    if name == "plant" and opened(study) != "jet":
        return "head, flow and efficiency together"
    return SOURCE_NAMES.get(name, name)


def in_kwh(value: float) -> str:
    """Energy as it stands in a figure and its text."""
    return f"{plain_number(value)} kWh"


@needs(Study.energy_uncertainty, Study.year_by_month)
def month_figure(
    study: Study, view: View, uncertain: EnergyUncertainty, by_month: YearByMonth
) -> Picture:
    """What each month brings in the median and what it exceeds with the secure level, against the demand."""
    good_level = 100 - SECURE
    found = uncertain.percentiles(levels=(good_level, MEDIAN, SECURE))
    months = np.arange(1, 13)
    middle, bad, good = (
        found.loc[months.tolist(), level_name(level)].to_numpy(dtype=float)
        for level in (MEDIAN, SECURE, good_level)
    )
    need = by_month.demand_kwh
    with figure(7.4, 3.8) as (made, axes):
        axes.bar(
            months, middle, 0.7, color=CREEK, alpha=0.55, label=f"median, {level_name(MEDIAN)}"
        )
        axes.bar(months, bad, 0.7, color=CREEK, label=f"exceeded with {SECURE} %, {SECURE_NAME}")
        axes.vlines(
            months, bad, good, color=INK, linewidth=1, label=f"{SECURE - good_level} % interval"
        )
        if need is not None:
            axes.step(
                np.append(months - 0.5, 12.5),
                np.append(need, need[-1]),
                where="post",
                color=RUST,
                linewidth=1.6,
                label="demand",
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
        (
            f"Energy by month in kWh, median and {SECURE_NAME}; the least median is that of "
            f"{MONTH_NAMES[least]}: {in_kwh(middle[least])}, {SECURE_NAME} {in_kwh(bad[least])}."
        ),
    )


@needs(Study.year, quiet=True)
def years_figure(study: Study, view: View, year: NetYear) -> Picture:
    """Energy of every whole year of the record, as the plant stands now."""
    yearly = year.yearly_kwh
    with figure(7.4, 2.8) as (made, axes):
        axes.bar(yearly.index, yearly.to_numpy(), 0.7, color=CREEK, alpha=0.7)
        axes.axhline(float(yearly.mean()), color=INK, linewidth=1)
        axes.annotate(
            "mean",
            (1.0, float(yearly.mean())),
            xycoords=("axes fraction", "data"),
            xytext=(2, 0),
            textcoords="offset points",
            fontsize=SMALL,
            va="center",
        )
        thousands(axes.yaxis)
        axes.set(
            ylabel="energy of the year [kWh]",
            xlabel="year ending in September" if year.start_month == 10 else "year",
        )
        axes.grid(axis="x", visible=False)
        axes.xaxis.get_major_locator().set_params(integer=True)
    worst = int(yearly.index[int(yearly.argmin())])
    return Picture(
        made,
        (
            f"Energy of each year of the record; the least, {worst}, "
            f"{in_kwh(float(yearly.min()))}, the most {in_kwh(float(yearly.max()))}."
        ),
    )


@needs(Study.year, Study.year_by_month)
def days_figure(study: Study, view: View, year: NetYear, by_month: YearByMonth) -> Picture:
    """How many days of each month the plant runs full, in part, under-fed, or is stopped."""
    months, said = (
        np.arange(1, 13),
        {state: view.shown(study.answer(f"days.{state}.year")) for state in STATES},
    )
    kinds = [
        ("full", value(study, "days.full"), CREEK, ""),
        ("in part", value(study, "days.part"), ICE, ""),
        ("under-fed", value(study, "days.underfed"), SUN, "//"),
        ("stopped, too little water", by_month.dry_days, "#d9d5cc", "xx"),
        ("stopped, other reasons", year.days_out, "white", ".."),
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
        (
            f"Days of a mean year at full flow {said['full']}, in part {said['part']}, under-fed "
            f"{said['underfed']}, stopped {said['stopped']}, of these {by_month.days_out:.0f} for "
            "other reasons than water."
        ),
    )


@needs(Study.energy_uncertainty)
def steps_figure(study: Study, view: View, uncertain: EnergyUncertainty) -> Picture:
    """From the median year down to the secure level, one bar a source."""
    *sources_of_it, _ = study.uncertainty_steps
    median, secure = (uncertain.annual_kwh(level) for level in (MEDIAN, SECURE))
    names = [source_name(study, each.name) for each in sources_of_it]
    with figure(7.4, 1.2 + 0.32 * len(names)) as (made, axes):
        axes.barh(0, median, 0.62, color=CREEK, alpha=0.55)
        left = median
        for row, each in enumerate(sources_of_it, 1):
            left -= each.one_year_kwh
            weather = each.name == "weather"
            axes.barh(
                row,
                each.one_year_kwh,
                0.62,
                left=left,
                color=SUN if weather else ICE,
                hatch="//" if weather else "",
                edgecolor=INK,
                linewidth=0.5,
            )
            axes.text(
                left + each.one_year_kwh,
                row,
                f" −{plain_number(each.one_year_kwh)}",
                fontsize=SMALL,
                va="center",
            )
        axes.barh(len(names) + 1, secure, 0.62, color=CREEK)
        for row, level in ((0, MEDIAN), (len(names) + 1, SECURE)):
            shown = in_picture(view, study.answer(f"energy.annual.p{level}"), unit=False)
            at = uncertain.annual_kwh(level)
            axes.text(at, row, f" {shown}", fontsize=SMALL, va="center")
        axes.set_yticks(
            np.arange(len(names) + 2),
            [f"median year ({level_name(MEDIAN)})", *names, level_name(SECURE)],
        )
        axes.invert_yaxis()
        axes.set_xlim(0, 1.12 * median if median > 0 else 1.0)
        thousands(axes.xaxis)
        axes.set_xlabel("energy of one year [kWh]")
        axes.grid(axis="y", visible=False)
    said = "; ".join(
        f"{name} {in_kwh(float(f'{each.one_year_kwh:.3g}'))}"
        for name, each in zip(names, sources_of_it)
    )
    return Picture(
        made,
        (
            f"From the median year, {view.shown(study.answer(f'energy.annual.p{MEDIAN}'))}, to "
            f"the {level_name(SECURE)}, {view.shown(study.answer(f'energy.annual.p{SECURE}'))}, "
            f"by source: {said}."
        ),
    )
