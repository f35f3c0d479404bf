"""Questions on costs and what they bring."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...errors import sure
from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ...units import Number
    from ..build.money_case import Case
    from ..study import Study

_USED = {
    "as used": "the energy that is used",
    "all used": "all of the energy used, for no demand is given",
    "all sold": "all of the energy sold",
}


def _interval(draws: Number) -> tuple[float, float]:
    """Between them lie 90 % of the draws; not known where there is but one, or where one is without end."""
    if np.size(draws) < 2:
        return np.nan, np.nan
    low, high = np.quantile(draws, [0.05, 0.95], method="inverted_cdf").tolist()
    return low, high


def _around(value: float, draws: Number) -> tuple[float, float]:
    """The same, made to hold the value of the mean case."""
    low, high = _interval(draws)
    return min(low, value), max(high, value)


def capital(study: Study) -> Answer | None:
    """Capital cost of a plant that is planned."""
    found = study.money
    if found is None or not found.items:
        return None
    low, high = _around(
        found.first_money, found.case.first_draws if found.costs.uncertainty else np.nan
    )
    return Answer(
        "money.capital",
        found.first_money,
        "money",
        digits=3,
        low=low,
        high=high,
        evidence=Evidence.ASSUMED,
        source="the prices under [costs]",
    )


def value_kwh(study: Study) -> Answer | None:
    """Mean value of a kWh that earns anything: used, for heat, or sold."""
    found = study.money
    if found is None or not found.valued:
        return None
    values = [case.value_money_per_kwh for case in found.cases]
    low, high = (min(values), max(values)) if len(values) > 1 else (np.nan, np.nan)
    return Answer(
        "value.kwh",
        values[0],
        "money per kWh",
        digits=2,
        low=low,
        high=high,
        evidence=Evidence.ASSUMED,
        source=f"the prices under [costs], and {_USED[found.case.name]}",
    )


def _npv(case: Case, key: str) -> Answer:
    npv = float(case.stands.npv_money)
    low, high = _around(npv, case.drawn.npv_money if np.size(case.draws_kwh) > 1 else np.nan)
    return Answer(
        key,
        npv,
        "money",
        digits=2,
        low=low,
        high=high,
        evidence=Evidence.CALCULATED,
        source=f"costs, their prices and {_USED[case.name]}",
    )


def npv(study: Study) -> Answer | None:
    """Net present value; where no demand is given with all of the energy used, and down to all of it sold."""
    found = study.money
    if found is None or not found.items or not found.valued:
        return None
    first = _npv(found.case, "money.npv")
    if len(found.cases) == 1:
        return first
    sold = _npv(found.cases[1], "money.npv_sold")
    return replace(first, low=np.nanmin([first.low, sold.low, sold.value, first.value]))


def npv_sold(study: Study) -> Answer | None:
    """Net present value with all of the energy sold, where no demand is given."""
    found = study.money
    return (
        None
        if found is None or not found.items or len(found.cases) < 2
        else _npv(found.cases[1], "money.npv_sold")
    )


def lcoe(study: Study) -> Answer | None:
    """Levelised cost of a kWh that earns anything."""
    found = study.money
    if found is None or found.stands is None:
        return None
    cost = float(found.stands.levelised_money_per_kwh)
    low, high = _around(cost, sure(found.drawn).levelised_money_per_kwh)
    return Answer(
        "money.lcoe",
        cost,
        "money per kWh",
        digits=2,
        low=low,
        high=high,
        evidence=Evidence.CALCULATED,
        source=f"costs over the life of the plant, and {_USED[found.case.name]}",
    )


def payback(study: Study) -> Answer | None:
    """Simple payback; None where the capital cost does not come back within the life."""
    found = study.money
    if found is None or found.flow is None:
        return None
    years = float(found.flow.payback_years)
    if not np.isfinite(years):
        return None
    low, high = _around(years, sure(found.flows).payback_years)
    return Answer(
        "money.payback",
        years,
        "years",
        digits=2,
        low=low if np.isfinite(high) else np.nan,
        high=high if np.isfinite(high) else np.nan,
        evidence=Evidence.CALCULATED,
        source=f"costs, their prices and {_USED[found.case.name]}",
    )


def worth(study: Study) -> Answer | None:
    """What the energy of a mean year earns; None where a few gaugings give no more than its range."""
    from ..build.useful_energy import FEW_GAUGINGS

    found = study.money
    if found is None or not found.valued or found.energy.source == FEW_GAUGINGS:
        return None
    low, high = _around(found.worth_money, found.case.draws_money)
    return Answer(
        "money.worth",
        found.worth_money,
        "money",
        digits=2,
        low=low,
        high=high,
        evidence=Evidence.CALCULATED,
        source=f"the prices under [costs], and {_USED[found.case.name]}",
    )


def irr(study: Study) -> Answer | None:
    """Internal rate of return of the plant, above inflation; None where its cost never comes back."""
    found = study.money
    if found is None or found.flow is None or not np.isfinite(found.flow.internal_rate):
        return None
    return Answer(
        "money.irr",
        float(found.flow.internal_rate),
        "share",
        digits=2,
        evidence=Evidence.CALCULATED,
        source=f"costs, their prices and {_USED[found.case.name]}",
    )


def npv_owner(study: Study) -> Answer | None:
    """Net present value to the owner, after loan and tax; None where neither is given."""
    section, found = study.site.costs, study.accounts
    if found is None or (found.loan is None and not section.tax_rate):
        return None
    return Answer(
        "money.npv_owner",
        found.owner_npv_money,
        "money",
        digits=2,
        evidence=Evidence.CALCULATED,
        source="the accounts of a mean year, with loan and tax as the site file has them",
    )


def _borrowed(name: str) -> Callable[[Study], Answer | None]:
    """The loan, or the largest that keeps to all that a bank asks."""

    def ask(study: Study) -> Answer | None:
        found = study.debt_cover
        return (
            None
            if found is None
            else Answer(
                f"money.loan{name}",
                found.largest_money if name else found.borrowed_money,
                "money",
                digits=3,
                evidence=Evidence.CALCULATED,
                source="the accounts of each case of the energy, and the cover asked under [costs]",
            )
        )

    return ask


def _covered(key: str, of: str) -> Callable[[Study], Answer | None]:
    """Debt service cover ratio of one case of the energy: of the worst year, or on average."""

    def ask(study: Study) -> Answer | None:
        found = study.debt_cover
        if found is None:
            return None
        case = next(each for each in found.cases if each.key == key)
        return Answer(
            f"money.cover.{key}.{of}",
            getattr(case, of),
            "number",
            digits=3,
            evidence=Evidence.CALCULATED,
            source="the accounts of each case of the energy",
        )

    return ask


COVERED = ("p50", "p90_ten", "p90", "p99")

QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "money.irr": irr,
    "money.npv_owner": npv_owner,
    "money.loan": _borrowed(""),
    "money.loan_largest": _borrowed("_largest"),
    **{f"money.cover.{key}.{of}": _covered(key, of) for key in COVERED for of in ("least", "mean")},
    "money.capital": capital,
    "money.lcoe": lcoe,
    "money.npv": npv,
    "money.npv_sold": npv_sold,
    "money.payback": payback,
    "money.worth": worth,
    "value.kwh": value_kwh,
}
