"""From a study to its accounts: year by year, how a loan is covered, and what moves the net present value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from .terms import LABOUR, terms

if TYPE_CHECKING:
    import pandas as pd

    from ...energy.accounts import Accounts
    from ...energy.money import Costs
    from ..study import Study
    from .money import Money
    from .money_case import Case

__all__ = [
    "Cover",
    "DebtCover",
    "Moved",
    "accounts",
    "debt_cover",
    "npv_moves",
    "recommended_cover",
]


def accounts(study: Study) -> Accounts | None:
    """The accounts of a mean year as calculated, repeated; None where costs or value are not known."""
    found = study.money
    if found is None or not found.items or not found.valued:
        return None
    return _accounts(study, found.case, found.case.income_lines)


def _accounts(
    study: Study, case: Case, income_money: dict[str, float], first_money: float | None = None
) -> Accounts:
    from ...energy.accounts import accounts as kept

    first = case.first_money if first_money is None else first_money
    return kept(first, income_money, case.plain, terms(study.site.costs))


# --- how a loan is covered ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Cover:
    """How a loan is covered if every year earns what one case of the energy gives.

    Parameters
    ----------
    key : {"p50", "p90", "p90_ten", "p99"}
    income_money : float
        Of a year, in prices of today.
    by_year : ndarray
        Debt service cover ratio of each year of the loan, the first year first.
    asked : float or None
        Ratio that the bank asks of this case; None where it asks none.
    """

    key: str
    income_money: float
    by_year: np.ndarray
    _: KW_ONLY
    asked: float | None

    @property
    def least(self) -> float:
        """Of the worst year."""
        return float(self.by_year.min())

    @property
    def least_year(self) -> int:
        """The worst year, counted from the start of the plant."""
        return int(np.argmin(self.by_year)) + 1

    @property
    def mean(self) -> float:
        """Average over the years of the loan."""
        return float(self.by_year.mean())

    @property
    def kept(self) -> bool | None:
        """Whether the worst year reaches what is asked; None where nothing is."""
        return None if self.asked is None else self.least >= self.asked


@dataclass(frozen=True, eq=False)
class DebtCover(Result):
    """How a loan is covered.

    Parameters
    ----------
    cases : tuple of Cover
        From the case that earns most down.
    borrowed_money : float
    largest_money : float
        Largest loan of the same kind with all that is asked kept in every year.
    service : ndarray
        Interest and principal of each year, in money of its day.
    """

    cases: tuple[Cover, ...]
    borrowed_money: float
    largest_money: float
    _: KW_ONLY
    service: np.ndarray

    def table(self) -> pd.DataFrame:
        """Debt service cover ratio of each year of the loan, a column for each case of the energy."""
        import pandas as pd

        years = pd.RangeIndex(1, len(self.cases[0].by_year) + 1, name="year")
        return pd.DataFrame({each.key: each.by_year for each in self.cases}, index=years)

    @property
    def kept(self) -> bool:
        """Whether every case reaches what is asked of it."""
        return all(each.kept is not False for each in self.cases)


def debt_cover(study: Study) -> DebtCover | None:
    """How the loan is covered by case of the energy; None without a loan, or where years are not drawn."""
    from ...energy.accounts import borrowed_share

    found, section = study.money, study.site.costs
    if found is None or not found.items or not found.valued or section.loan_years is None:
        return None
    case = found.case
    single, several = case.single_money, case.several_money
    if single is None or several is None or not case.plain.paid_si(case.first_money) > 0:
        return None
    asked = (
        ("p50", _exceeded(single, 50), section.cover_p50),
        ("p90_ten", _exceeded(several, 90), section.cover_p90),
        ("p90", _exceeded(single, 90), None),
        ("p99", _exceeded(single, 99), section.cover_p99),
    )
    books = [_accounts(study, case, {"energy": income}) for _, income, _ in asked]
    loan = books[0].loan
    if loan is None:
        return None
    covers = tuple(
        Cover(key, income, each.cover[np.isfinite(each.cover)], asked=ratio)
        for (key, income, ratio), each in zip(asked, books)
    )
    share = borrowed_share(
        case.first_money,
        [(each.income_money, each.asked) for each in covers if each.asked is not None],
        case.plain,
        terms(section),
    )
    return DebtCover(
        covers,
        books[0].borrowed_money,
        share * float(case.plain.paid_si(case.first_money)),
        service=loan.service,
    )


def recommended_cover(study: Study) -> float:
    """Debt service cover of the recommended size in the worst of median (P50) years, beside a plan
    of another size; NaN where not known.

    Its income in a median year is that of the plan, times what the two earn in a mean year: years
    vary alike for both, which is enough for the median and not for P99.
    """
    found, sizing, held = study.money, study.sizing, study.debt_cover
    if found is None or sizing is None or held is None or sizing.costs is None:
        return np.nan
    case, choice = found.case, sizing.choice
    earned = choice.worth_money + float(sizing.costs.yearly_si(choice.first_money))
    if not (np.isfinite(earned) and case.income_money > 0):
        return np.nan
    income = held.cases[0].income_money * earned / case.income_money
    cover = _accounts(study, case, {"energy": income}, choice.first_money).cover
    cover = cover[np.isfinite(cover)]
    return float(cover.min()) if len(cover) else np.nan


def _exceeded(draws: np.ndarray, level: float) -> float:
    """Exceeded with so many per cent, by rank."""
    return float(np.quantile(draws, 1 - level / 100, method="inverted_cdf"))


# --- what moves the net present value -------------------------------------------------------------

BY = 0.2  # how far prices are moved either way: common practice
RATE_BY = 0.02  # and the discount rate
LABOUR_BY = 0.5  # and the owner's visits


@dataclass(frozen=True, eq=False)
class Moved(Result):
    """The net present value with one input moved either way, all others as they are.

    Parameters
    ----------
    key : {"value", "energy", "capital", "rate", "running", "labour"}
    low, high : float
        The input where it is low and high: a factor of it, or the discount rate itself.
    low_money, high_money : float
        Net present value there.
    """

    key: str
    low: float
    high: float
    _: KW_ONLY
    low_money: float
    high_money: float

    @property
    def width(self) -> float:
        """How far it moves the net present value from end to end."""
        return abs(self.high_money - self.low_money)


def npv_moves(study: Study) -> tuple[Moved, ...]:
    """Each input alone, that which moves the net present value most first; nothing where that is
    not known."""
    found = study.money
    if found is None or not found.items or not found.valued:
        return ()
    case, costs = found.case, found.case.plain
    energy, capital = _energy_by(found), _capital_by(case)
    rates = max(costs.discount_rate - RATE_BY, 0.0), costs.discount_rate + RATE_BY
    moved = [
        _moved("value", (1 - BY, 1 + BY), lambda by: _npv(case, costs, income=by)),
        _moved("energy", energy, lambda by: _npv(case, costs, income=by)),
        _moved("capital", capital, lambda by: _npv(case, costs, first=by)),
        _moved("rate", rates, lambda rate: _npv(case, replace(costs, discount_rate=rate))),
    ]
    lines = dict(costs.yearly_lines)
    if costs.yearly_share or set(lines) - {LABOUR}:
        moved.append(
            _moved("running", (1 - BY, 1 + BY), lambda by: _npv(case, _running_by(costs, by)))
        )
    if LABOUR in lines:
        ends = 1 - LABOUR_BY, 1 + LABOUR_BY
        moved.append(_moved("labour", ends, lambda by: _npv(case, _labour_by(costs, by))))
    return tuple(sorted(moved, key=lambda each: -each.width))


def _moved(key: str, ends: tuple[float, float], npv: Callable[[float], float]) -> Moved:
    low, high = ends
    return Moved(key, low, high, low_money=npv(low), high_money=npv(high))


def _npv(case: Case, costs: Costs, income: float = 1.0, first: float = 1.0) -> float:
    """Net present value with other costs, and the income or the capital cost times a factor."""
    from ...energy.money import appraise

    return float(
        appraise(
            case.first_money * first, 1.0, costs, value_money_per_kwh=case.income_money * income
        ).npv_money
    )


def _energy_by(found: Money) -> tuple[float, float]:
    """How far the income may be off for the energy alone: the middle 80 % of its draws, or as far
    as a price."""
    case = found.case
    if len(case.draws_money) < 2 or not case.income_money > 0:
        return 1 - BY, 1 + BY
    middle = case.income_band
    return min(middle.low / case.income_money, 1.0), max(middle.high / case.income_money, 1.0)


def _capital_by(case: Case) -> tuple[float, float]:
    """How far the capital cost may be off: the middle 80 % of its draws, or as far as a price."""
    if not case.plain.uncertainty:
        return 1 - BY, 1 + BY
    middle = case.first_band
    return middle.low / case.first_money, middle.high / case.first_money


def _running_by(costs: Costs, by: float) -> Costs:
    lines = tuple(
        (name, money if name == LABOUR else money * by) for name, money in costs.yearly_lines
    )
    return replace(costs, yearly_share=costs.yearly_share * by, yearly_lines=lines)


def _labour_by(costs: Costs, by: float) -> Costs:
    lines = tuple(
        (name, money * by if name == LABOUR else money) for name, money in costs.yearly_lines
    )
    return replace(costs, yearly_lines=lines)
