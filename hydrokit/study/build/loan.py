"""Borrowing the capital cost: what it takes in the first year, and what the plant leaves for it then."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

from .terms import borrowing_rate

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Loan", "loan"]


@dataclass(frozen=True)
class Loan:
    """What borrowing the capital cost takes, and what each case leaves for it.

    Parameters
    ----------
    years, rate : float
        The rate as the bank writes it.
    borrowed_money : float
    instalment_money : float
        Interest and principal of the first year.
    level : bool
        Whether it is the same in each year; else it falls.
    left_money, bad_money : dict of str to float
        By case, at prices of the first year: after upkeep and replacements in a mean year, and in
        one exceeded with 90 % probability (NaN where not known).
    """

    years: float
    rate: float
    borrowed_money: float
    _: KW_ONLY
    instalment_money: float
    level: bool
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
    from ...energy.borrowing import repaid

    found, section = study.money, study.site.costs
    if found is None or section.loan_years is None or not section.loan_share:
        return None
    years, rate, level = section.loan_years, borrowing_rate(section), section.loan_kind == "annuity"
    borrowed = section.loan_share * float(found.costs.paid_si(found.first_money))
    first = float(repaid(borrowed, years, rate, not level).service[0])
    prices = 1 + section.inflation  # at the end of the first year
    # what the plant is worth at its end, or costs to take away, pays no instalment
    kept = replace(found.costs, residual_money=0.0, removal_money=0.0)
    upkeep = float(kept.upkeep_si(found.first_money))
    left, bad = (
        {case.name: (income(case) - upkeep) * prices for case in found.cases}
        for income in (lambda case: case.income_money, lambda case: case.bad_year_money)
    )
    return Loan(
        years, rate, borrowed, instalment_money=first, level=level, left_money=left, bad_money=bad
    )
