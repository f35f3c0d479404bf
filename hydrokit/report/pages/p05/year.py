"""Page 05: how many kWh each month brings, and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....energy.levels import LEVELS, MEDIAN, SECURE, SECURE_NAME, level_name
from ....errors import counted
from ....sentences import series_text
from ....study.build.running import metered
from ....study.build.year_by_month import STATES
from ....study.study import Study
from ....study.view import View
from ... import next_measurements
from ...display import Table, Words
from ...style import (
    MONTH_NAMES,
)
from ..common import needs, of_month, sources
from . import today
from .year_figures import (
    days_figure,
    month_figure,
    source_name,
    steps_figure,
    years_figure,
)

if TYPE_CHECKING:
    from ....energy.net import NetYear
    from ....energy.uncertainty import EnergyUncertainty
    from ....plant.chain import Chain
    from ....study.build.year_by_month import YearByMonth

__all__ = [
    "assumption_table",
    "days_figure",
    "uncertainty_words",
    "headline",
    "month_figure",
    "month_table",
    "month_words",
    "next_words",
    "references",
    "steps_figure",
    "steps_table",
    "sure_table",
    "years_figure",
]


def headline(study: Study, view: View) -> Words:
    """The answer in two sentences; without a record, what the plant gives today."""
    if study.record is not None and study.plant is None:
        return _without_a_plant(study, view)
    if study.energy_uncertainty is None:
        return today.headline(study, view)
    middle, bad = (
        view.shown(study.answer(f"energy.annual.p{level}")) for level in (MEDIAN, SECURE)
    )
    first = (
        f"One year to come brings **{middle}** in the median ({level_name(MEDIAN)}) and exceeds "
        f"**{bad}** with a probability of {SECURE} % ({level_name(SECURE)}: year-to-year "
        "variability and the uncertainty of all measurements included)."
    )
    found = study.year_by_month
    if found is None or found.demand_kwh is None:
        winter, winter_bad = (
            view.shown(study.answer(f"energy.winter.p{level}")) for level in (MEDIAN, SECURE)
        )
        return Words(
            f"{first} The winter ({_months(study.winter)}) brings {winter} of it in the "
            f"median; its {level_name(SECURE)} is {winter_bad}."
        )
    if found.short_month is None:
        return Words(f"{first} The {level_name(SECURE)} of every month covers its demand.")
    month = found.short_month
    lean = of_month(study.answer(f"energy.month.p{SECURE}"), month)
    demand = of_month(study.answer("demand.month"), month)
    return Words(
        f"{first} {MONTH_NAMES[month - 1]} falls shortest of its demand: its "
        f"{level_name(SECURE)} is **{view.shown(lean)}**, the demand {view.shown(demand)}."
    )


@needs(Study.plant, headline=True)
def _without_a_plant(study: Study, view: View, _: Chain) -> Words:
    return Words("")  # what is lacking is said by `needs`


def _months(months: tuple[int, ...]) -> str:
    if len(months) > 1 and all(
        (after - before) % 12 == 1 for before, after in zip(months, months[1:])
    ):
        return f"{MONTH_NAMES[months[0] - 1]} to {MONTH_NAMES[months[-1] - 1]}"
    return series_text([MONTH_NAMES[month - 1] for month in months])


@needs(Study.year, Study.year_by_month, quiet=True)
def month_words(study: Study, view: View, year: NetYear, found: YearByMonth) -> Words:
    """What the months mean and what would change them."""
    of_most = (
        f", a capacity factor of {100 * year.capacity_factor:.0f} % (energy made over what "
        f"{view.text(year.rated_w, 'power')} all year would make)"
        if year.rated_w > 0
        else ""
    )
    text = (
        f"On average over the record the plant makes {view.shown(study.answer('energy.net'))} a "
        f"year, net of stops and of how it is run{of_most}. "
    )
    if found.lean_months:
        one = len(found.lean_months) == 1
        text += (
            f"The lean month{' is' if one else 's are'} "
            f"{series_text([MONTH_NAMES[each - 1] for each in found.lean_months])}. "
        )
    elif np.isfinite(found.least_share):
        text += (
            f"{MONTH_NAMES[found.least_month - 1]} brings least: {100 * found.least_share:.0f} % "
            f"of the energy of {MONTH_NAMES[found.most_month - 1]}, the best month. "
        )
    met = study.answer("demand.met")
    if met is not None and found.met_share is not None:
        text += (
            f"{view.shown(met)} of it meet a demand of "
            f"{view.shown(study.answer('demand.annual'))}: {100 * found.met_share:.0f} % of the "
            "demand. Demand and power are compared day by day, not as means: a surplus on one day "
            "does not meet the demand of the next. "
        )
    return Words(text + f"Means are {escape_basis(year.basis)}.")


def escape_basis(text: str) -> str:
    """The basis of the means as it stands in a sentence."""
    return text.removeprefix("means ")


def _exceeded(study: Study, view: View, of: str, level: int) -> str:
    return view.shown(study.answer(f"energy.{of}.p{level}"), unit=False)


@needs(Study.year_by_month, quiet=True)
def month_table(study: Study, view: View, found: YearByMonth) -> Table:
    """Every month: each level of reliability, demand, demand met, days at full flow, in part,
    under-fed, stopped."""
    rows = []
    days = [study.answer(f"days.{state}") for state in STATES]
    energy = [study.answer(f"energy.month.p{level}") for level in found.levels]
    demand = study.answer("demand.month")

    def cell(value: float | None) -> float | str:
        return "" if value is None else float(value)

    for month in range(1, 13):
        rows.append(
            (
                MONTH_NAMES[month - 1],
                *(view.shown(of_month(each, month), unit=False) for each in energy),
                "" if found.demand_kwh is None else view.shown(of_month(demand, month), unit=False),
                "" if found.useful_kwh is None else float(found.useful_kwh[month - 1]),
                *(view.shown(of_month(each, month), unit=False) for each in days),
            )
        )
    winter, year = found.winter, found.year
    rows.append(
        (
            f"winter ({_months(study.winter)})",
            *(_exceeded(study, view, "winter", level) for level in found.levels),
            cell(winter.demand_kwh),
            cell(winter.useful_kwh),
            *(int(round(each)) for each in winter.days),
        )
    )
    rows.append(
        (
            "year",
            *(_exceeded(study, view, "annual", level) for level in found.levels),
            ""
            if year.demand_kwh is None
            else view.shown(study.answer("demand.annual"), unit=False),
            "" if year.useful_kwh is None else view.shown(study.answer("demand.met"), unit=False),
            *(view.shown(study.answer(f"days.{state}.year"), unit=False) for state in STATES),
        )
    )
    columns = (
        "month",
        *(f"{level_name(level)} [kWh]" for level in found.levels),
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
        (
            "Net energy by month; low months do not all come in one year, so the "
            f"{' and '.join(map(level_name, found.levels[1:]))} of the months do not add up to "
            "those of the year. Days stopped are all days without net power: too little water, "
            "planned, unplanned, frozen"
        ),
        mark=(12, 13),
    )


@needs(Study.energy_uncertainty, quiet=True)
def sure_table(study: Study, view: View, energy_uncertainty: EnergyUncertainty) -> Table:
    """What one year, the mean of several and the long-run mean exceed with each probability."""
    rows = [
        (label, *(_exceeded(study, view, of, level) for level in LEVELS))
        for label, of in (
            ("one year to come", "annual"),
            (f"mean of the next {energy_uncertainty.several_years} years", "ten_years"),
            ("long-run mean", "mean"),
        )
    ]
    return Table(
        ("energy of", *(f"{level_name(level)} [kWh]" for level in LEVELS)),
        rows,
        (
            "Annual energy exceeded with a probability of "
            f"{series_text([str(each) for each in LEVELS])} %, uncertainty of measurements "
            "included. For a loan use the mean of several years, for a supply that must not fail "
            "use one year"
        ),
    )


@needs(Study.energy_uncertainty, quiet=True)
def steps_table(study: Study, view: View, _: EnergyUncertainty) -> Table:
    """From the median to the secure level by source, for one year and for the long-run mean."""
    *sources_of_it, whole = study.uncertainty_steps
    rows: list[tuple[str, float | str, float, float]] = [
        (source_name(study, each.name), each.sd_kwh, each.one_year_kwh, each.mean_kwh)
        for each in sources_of_it
    ]
    rows.append(("all together", "", whole.one_year_kwh, whole.mean_kwh))
    step = f"{level_name(MEDIAN)} minus {SECURE_NAME}"
    return Table(
        (
            "source",
            "one standard deviation [kWh]",
            f"one year: {step} [kWh]",
            f"long-run mean: {step} [kWh]",
        ),
        rows,
        f"From {level_name(MEDIAN)} to {level_name(SECURE)} by source, each by its share of the variance",
        mark=(len(rows) - 1,),
    )


@needs(Study.energy_uncertainty, quiet=True)
def uncertainty_words(study: Study, view: View, energy_uncertainty: EnergyUncertainty) -> Words:
    """How sure the energy is, for one year and for the mean of many."""
    read = metered(study)
    known = (
        ""
        if read is None
        else (
            f" The {view.text(read.power_w, 'power')} read on the plant itself, good to "
            f"{100 * read.sd:.0f} %, tie head, loss, jets and efficiency together: their product "
            "is known better than each of them alone."
        )
    )
    return Words(
        "The figures for one year to come include year-to-year variability; those for the "
        "long-run mean include only the uncertainty of measurements and of a record of "
        f"{counted(len(energy_uncertainty.whole_years), 'year')}. Assumed: "
        f"{energy_uncertainty.statement}.{known}"
    )


def assumption_table(study: Study, view: View) -> Table | Words:
    """Every assumed value, with where it comes from."""
    if not study.assumptions:
        return Words("*Nothing is assumed: the site file gives every value.*")
    rows = [
        (each.what, view.shown(each.answer), each.answer.source, each.key or "fixed")
        for each in study.assumptions
    ]
    return Table(
        ("what is assumed", "value", "source", "key to give it"),
        rows,
        "Assumptions in use where the site file gives no value; uncertainties are one standard deviation",
    )


def next_words(study: Study, view: View) -> Words:
    """What to measure next, in the order of what it would narrow: the list of page 01."""
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
        (
            "Colebrook's formula for the pipe; the jets as orifices, Q = n C A √(2 g H); "
            "under-fed jets by the head that passes what arrives."
        ),
    )
