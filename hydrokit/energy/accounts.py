"""Accounts: a plant's money year by year, in prices of today and as it will be paid, with loan and tax.

>>> from hydrokit.energy.money import Costs
>>> costs = Costs(yearly_share=0.02, life_years=25, discount_rate=0.04)
>>> found = accounts(40_000, {"energy used": 5_500.0}, costs, Terms(inflation=0.02, loan_years=15, loan_rate=0.055))
>>> f"the loan takes {found.service[1]:.0f} a year and is covered {found.cover[1]:.2f} times in the first"
'the loan takes 3985 a year and is covered 1.20 times in the first'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..result import Result
from .borrowing import Repaid, repaid
from .cash import CashFlow, replaced
from .discounting import nominal_rate
from .money import Costs

if TYPE_CHECKING:
    import pandas as pd

    from ..units import Floats

__all__ = ["Accounts", "Terms", "accounts", "borrowed_share"]

UPKEEP = "operation and maintenance"


@dataclass(frozen=True, eq=False)
class Terms:
    """How a plant is paid for.

    Parameters
    ----------
    inflation : float
        What all prices rise in a year.
    loan_years : float or None
        None: nothing is borrowed.
    loan_rate : float
        Interest as the bank writes it.
    loan_share : float
        Of the capital cost less the grant.
    equal_principal : bool
        The same principal each year; else level payments.
    tax_rate : float
        On what the plant earns, savings included, less what it costs, interest and depreciation; losses are
        carried forward.
    depreciation_years : float
        Straight line, on the capital cost less the grant.
    """

    inflation: float = 0.0
    loan_years: float | None = None
    loan_rate: float = 0.0
    _: KW_ONLY
    loan_share: float = 1.0
    equal_principal: bool = False
    tax_rate: float = 0.0
    depreciation_years: float = 20.0


@dataclass(frozen=True, eq=False)
class Accounts(Result):
    """A plant's money, year by year; amounts are positive, in prices of today where not said otherwise.

    Parameters
    ----------
    years : ndarray
        0 for the day it starts, then the end of each year; the last may be a part of a year.
    income : dict of str to ndarray
        Earned, by what it is earned with.
    running : dict of str to ndarray
        Paid, by what for.
    replacements, residual, removal : ndarray
    capital_money, grant_money : float
    loan : Repaid or None
        In money of its day.
    tax : ndarray
        In money of its day.
    discount_rate : float
        Above inflation.
    inflation : float
    """

    years: np.ndarray
    income: dict[str, np.ndarray]
    running: dict[str, np.ndarray]
    _: KW_ONLY
    replacements: np.ndarray
    residual: np.ndarray
    removal: np.ndarray
    capital_money: float
    grant_money: float
    loan: Repaid | None
    tax: np.ndarray
    discount_rate: float
    inflation: float

    @property
    def prices(self) -> np.ndarray:
        """Prices of each year over those of today."""
        return (1 + self.inflation) ** self.years

    @property
    def nominal_discount_rate(self) -> float:
        """With inflation."""
        return float(nominal_rate.si(self.discount_rate, self.inflation))

    # --- in prices of today ---------------------------------------------------------------------

    @property
    def earned(self) -> np.ndarray:
        """All income."""
        return _total(self.income, self.years)

    @property
    def paid(self) -> np.ndarray:
        """All that running it costs, without replacements."""
        return _total(self.running, self.years)

    @property
    def operating(self) -> np.ndarray:
        """What is left of the income."""
        return self.earned - self.paid - self.replacements

    @property
    def built(self) -> np.ndarray:
        """Capital cost less the grant."""
        return _first(self.years, self.capital_money - self.grant_money)

    @property
    def project(self) -> np.ndarray:
        """What the plant brings, whoever pays for it, before tax."""
        return self.operating - self.built + self.residual - self.removal

    # --- in money of its day ----------------------------------------------------------------------

    @property
    def interest(self) -> np.ndarray:
        """On the loan."""
        return _of_loan(self.years, None if self.loan is None else self.loan.interest)

    @property
    def principal(self) -> np.ndarray:
        """Paid back of the loan; what is still owed when the plant ends, then."""
        whole = np.zeros(0) if self.loan is None else self.loan.principal
        paid = _of_loan(self.years, whole)
        paid[-1] += whole.sum() - paid.sum()
        return paid

    @property
    def borrowed_money(self) -> float:
        """The loan."""
        return 0.0 if self.loan is None else float(self.loan.principal.sum())

    @property
    def own_money(self) -> float:
        """What neither grant nor loan pays of the capital cost."""
        return self.capital_money - self.grant_money - self.borrowed_money

    @property
    def service(self) -> np.ndarray:
        """Interest and principal."""
        return self.interest + self.principal

    @property
    def available(self) -> np.ndarray:
        """What is left for interest and principal: income less running costs, replacements and tax."""
        return self.operating * self.prices - self.tax

    @property
    def cover(self) -> np.ndarray:
        """Debt service cover ratio of each year of the loan; NaN in all others."""
        due, terms = self.service, 0 if self.loan is None else len(self.loan.principal)
        ratio = np.full(len(self.years), np.nan)
        of_loan = (np.arange(len(self.years)) <= terms) & (self.years > 0) & (due > 0)
        ratio[of_loan] = self.available[of_loan] / due[of_loan]
        return ratio

    @property
    def owner(self) -> np.ndarray:
        """What the owner pays and receives: after loan and tax."""
        lent = _first(self.years, self.borrowed_money)
        return self.project * self.prices - self.tax + lent - self.service

    def table(self) -> pd.DataFrame:
        """The accounts in money of its day, a row for each year: what is paid stands below zero."""
        import pandas as pd

        prices = self.prices
        columns = {name: each * prices for name, each in self.income.items()}
        columns |= {name: -each * prices for name, each in self.running.items()}
        columns |= {
            "replacements": -self.replacements * prices,
            "tax": -self.tax,
            "available": self.available,
            "interest": -self.interest,
            "principal": -self.principal,
            "cover": self.cover,
            "owner": self.owner,
            "owner so far": self.owner_flow.cumulated,
        }
        return pd.DataFrame(columns, index=pd.Index(self.years, name="year"))

    # --- what it comes to ---------------------------------------------------------------------------

    @cached_property
    def project_flow(self) -> CashFlow:
        """Of the plant, in prices of today."""
        return CashFlow(self.years, self.project, self.discount_rate)

    @cached_property
    def nominal_flow(self) -> CashFlow:
        """Of the plant, in money of its day."""
        return CashFlow(self.years, self.project * self.prices, self.nominal_discount_rate)

    @cached_property
    def owner_flow(self) -> CashFlow:
        """Of the owner, in money of its day."""
        return CashFlow(self.years, self.owner, self.nominal_discount_rate)

    @property
    def owner_npv_money(self) -> float:
        """Net present value to the owner, after loan and tax."""
        return float(self.owner_flow.discounted[-1])


def _total(lines: Mapping[str, np.ndarray], years: np.ndarray) -> np.ndarray:
    return sum(lines.values(), np.zeros(len(years)))


def _first(years: np.ndarray, money: float) -> np.ndarray:
    return np.where(years == 0, money, 0.0)


def _of_loan(years: np.ndarray, payments: Floats | None) -> np.ndarray:
    """Payments of a loan, put on the years of the plant; those after its end are left out."""
    found = np.zeros(len(years))
    if payments is not None:
        kept = payments[: len(years) - 1]
        found[1 : len(kept) + 1] = kept
    return found


def accounts(
    first_money: float, income_money: Mapping[str, float], costs: Costs, terms: Terms
) -> Accounts:
    """The accounts of a plant that earns the same each year.

    Parameters
    ----------
    first_money : float
        Capital cost.
    income_money : mapping of str to float
        Earned in a year, by what it is earned with, in prices of today.
    costs : Costs
    terms : Terms

    Returns
    -------
    Accounts
        Its net present value in prices of today is that of :func:`hydrokit.energy.money.appraise`.
    """
    life = float(costs.life_years)
    years = np.append(np.arange(np.ceil(life)), life)
    length = np.diff(years, prepend=0.0)
    length[0] = 0.0
    last = years == life
    grant = min(costs.grant_money, first_money)
    running = {UPKEEP: costs.yearly_share * first_money * length} if costs.yearly_share else {}
    running |= {name: money * length for name, money in costs.yearly_lines if money}
    built = first_money - grant
    loan = (
        None
        if terms.loan_years is None or not terms.loan_share
        else repaid(
            built * terms.loan_share, terms.loan_years, terms.loan_rate, terms.equal_principal
        )
    )
    found = Accounts(
        years,
        {name: money * length for name, money in income_money.items()},
        running,
        replacements=replaced(costs, years),
        residual=np.where(last, costs.residual_money, 0.0),
        removal=np.where(last, costs.removal_money, 0.0),
        capital_money=float(first_money),
        grant_money=float(grant),
        loan=loan,
        tax=np.zeros(len(years)),
        discount_rate=costs.discount_rate,
        inflation=terms.inflation,
    )
    return found if not terms.tax_rate else _taxed(found, terms, length)


def _taxed(found: Accounts, terms: Terms, length: np.ndarray) -> Accounts:
    """The same with its tax."""
    built = found.capital_money - found.grant_money
    off = np.minimum(np.cumsum(length) / terms.depreciation_years, 1.0)
    off[-1] = 1.0  # what stands in the books when the plant ends is written off
    depreciation = built * np.diff(off, prepend=0.0)
    gained = (found.operating + found.residual - found.removal) * found.prices
    gained = gained - depreciation - found.interest
    carried, tax = 0.0, np.zeros(len(gained))
    for year, gain in enumerate(gained):
        taxed = gain - carried
        carried, tax[year] = max(-taxed, 0.0), terms.tax_rate * max(taxed, 0.0)
    return replace(found, tax=tax)


def borrowed_share(
    first_money: float,
    asked: Sequence[tuple[float, float]],
    costs: Costs,
    terms: Terms,
    steps: int = 40,
) -> float:
    """Largest share of the capital cost less the grant that may be borrowed with all covers kept in
    every year.

    Parameters
    ----------
    first_money : float
    asked : sequence of (float, float)
        Income of a year, and the debt service cover ratio asked of it.
    costs : Costs
    terms : Terms
        Its own share does not count.

    Returns
    -------
    float
        0 where nothing can be borrowed, 1 at most.
    """

    def kept(share: float) -> bool:
        tried = replace(terms, loan_share=share)
        return all(
            np.nanmin(accounts(first_money, {"energy": income}, costs, tried).cover) >= cover
            for income, cover in asked
        )

    low, high = 0.0, 1.0
    if kept(high):
        return high
    for _ in range(steps):
        middle = (low + high) / 2
        low, high = (middle, high) if kept(middle) else (low, middle)
    return low
