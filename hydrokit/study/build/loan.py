"""Borrowing the capital cost: what it takes a year, and what the plant leaves for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Loan", "loan"]


@dataclass(frozen=True)
class Loan:
    """What borrowing the capital cost takes, and what each case leaves for it.

    Parameters
    ----------
    years, rate : float
    instalment_money : float
        Of a year.
    left_money, bad_money : dict of str to float
        By case: after upkeep and replacements in a mean year, and in one exceeded with 90 % probability (NaN where not known).
    """

    years: float
    rate: float
    instalment_money: float
    left_money: dict[str, float]
    bad_money: dict[str, float]

    @property
    def short(self) -> tuple[str, ...]:
        """Cases whose mean or bad year leaves too little."""
        return tuple(
            name
            for name, left in self.left_money.items()
            if left < self.instalment_money or self.bad_money[name] < self.instalment_money
        )


def loan(study: Study) -> Loan | None:
    """The loan on the capital cost, or None where none is told."""
    from ...energy.discounting import capital_recovery

    found, section = study.money, study.site.costs
    if found is None or section.loan_years is None:
        return None
    years, rate = (
        section.loan_years,
        found.costs.discount_rate if section.loan_rate is None else section.loan_rate,
    )
    left = {case.name: case.income_money - case.upkeep_money for case in found.cases}
    bad = {case.name: case.bad_year_money - case.upkeep_money for case in found.cases}
    return Loan(years, rate, found.first_money * float(capital_recovery.si(years, rate)), left, bad)
