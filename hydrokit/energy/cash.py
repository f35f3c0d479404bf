"""Money year by year: what is paid and earned, when it has come back, and at what terms it just would.

>>> from hydrokit.energy.cash import cash_flow
>>> from hydrokit.energy.money import Costs, Replacement
>>> costs = Costs(yearly_share=0.02, life_years=20, discount_rate=0.04, value_money_per_kwh=0.2, replacements=(Replacement(1500, 8, "bearings"),))
>>> flow = cash_flow(30_000, 20_000, costs)
>>> f"{flow.payback_years:.1f} years, with interest {flow.discounted_payback_years:.1f}; it earns {flow.internal_rate:.1%} a year"
'9.3 years, with interest 11.6; it earns 9.0% a year'
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from ..errors import HydrokitError
from ..works.solve import bracketed_root
from .discounting import annuity_factor
from .money import Costs

if TYPE_CHECKING:
    from ..units import Alike, Number

__all__ = ["CashFlow", "cash_flow", "highest_capital_cost", "replaced"]

_HIGHEST_RATE = 1.0  # a plant that earns more than its whole cost each year is said to earn that
_RATES_TRIED = 2000


@dataclass(frozen=True, eq=False)
class CashFlow:
    """Payments at the ends of years, of one plant or of draws of it.

    Parameters
    ----------
    years : ndarray of n
        0 for the day of building, then the end of each year; the last may be a part of a year.
    money : ndarray, … × n
        Earned, and below zero paid, in the year that ends then.
    discount_rate : float
    """

    years: np.ndarray
    money: np.ndarray
    discount_rate: float

    @cached_property
    def cumulated(self) -> np.ndarray:
        """All money so far."""
        return np.cumsum(self.money, axis=-1)

    @cached_property
    def discounted(self) -> np.ndarray:
        """All money so far, as it is worth on the day of building; the last is the net present value."""
        return np.cumsum(self.money * (1 + self.discount_rate) ** -self.years, axis=-1)

    @property
    def payback_years(self) -> Alike:
        """When the capital cost has come back for good, without interest; infinite where not within
        the life."""
        return self._for_good(self.cumulated)

    @property
    def discounted_payback_years(self) -> Alike:
        """The same with interest."""
        return self._for_good(self.discounted)

    def _for_good(self, so_far: np.ndarray) -> Number:
        below = so_far < 0
        last = (
            len(self.years) - 1 - np.argmax(below[..., ::-1], axis=-1)
        )  # of the years that end below zero
        after = np.minimum(last + 1, len(self.years) - 1)
        here, there = (
            np.take_along_axis(so_far, at[..., None], axis=-1)[..., 0] for at in (last, after)
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = self.years[last] + (self.years[after] - self.years[last]) * -here / (
                there - here
            )
        return np.where(~below.any(axis=-1), 0.0, np.where(last == after, np.inf, crossing))[()]

    @cached_property
    def internal_rate(self) -> Number:
        """Discount rate at which its net present value is zero; NaN where the cost never comes back.

        With replacements in between there may be more than one: then one of them, see :attr:`all_rates`.
        """

        def worth(rate: np.ndarray) -> np.ndarray:
            return np.sum(self.money * (1 + rate[..., None]) ** -self.years, axis=-1)

        shape = self.money.shape[:-1]
        found = bracketed_root(worth, np.zeros(shape), np.full(shape, _HIGHEST_RATE), steps=40)
        always = worth(np.full(shape, _HIGHEST_RATE)) > 0
        return np.where(always & np.isnan(found), _HIGHEST_RATE, found)[()]

    @cached_property
    def all_rates(self) -> tuple[float, ...]:
        """Every discount rate between -95 % and 900 % at which the net present value of one plant is zero."""
        rates = np.expm1(np.linspace(np.log(0.05), np.log(10.0), _RATES_TRIED))

        def worth(rate: float) -> float:
            return float(np.sum(self.money * (1 + rate) ** -self.years))

        values = np.array([worth(rate) for rate in rates])
        turns = np.flatnonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0)
        return tuple(float(brentq(worth, rates[at], rates[at + 1], xtol=1e-12)) for at in turns)


def cash_flow(first_money: Number, kwh: Number, costs: Costs) -> CashFlow:
    """What a plant pays and earns in each year of its life.

    Parameters
    ----------
    first_money : float or ndarray
        First cost; times ``costs.factors(draws)`` for its uncertainty.
    kwh : float or ndarray
        Energy of a mean year that has a value, broadcast against the cost. Every year gets the
        same: the luck of single years evens out in what has come together.
    costs : Costs
        With the value of a kWh.

    Returns
    -------
    CashFlow
        Replacements are paid for at the end of the year in which the part is worn; none in the last.

    Raises
    ------
    HydrokitError
        No value of a kWh.
    """
    if costs.value_money_per_kwh is None:
        raise HydrokitError(
            "cash_flow(): the value of a kWh is not given, so nothing is earned; give value_money_per_kwh"
        )
    first, kwh = np.broadcast_arrays(
        np.asarray(first_money, dtype=float), np.asarray(kwh, dtype=float)
    )
    life = float(costs.life_years)
    years = np.append(np.arange(np.ceil(life)), life)
    length = np.diff(years, prepend=0.0)
    earned = costs.value_money_per_kwh * kwh - costs.yearly_share * first - costs.yearly_money
    money = earned[..., None] * length - replaced(costs, years)
    money[..., 0] = -costs.paid_si(first)
    money[..., -1] += costs.end_money
    return CashFlow(years, money, costs.discount_rate)


def replaced(costs: Costs, years: np.ndarray) -> np.ndarray:
    """Paid for replacements in each year."""
    paid = np.zeros(len(years))
    for each in costs.replacements:
        times = int(np.ceil(costs.life_years / each.every_years - 1e-9)) - 1
        due = np.searchsorted(years, each.every_years * np.arange(1, times + 1) - 1e-9)
        np.add.at(paid, due, each.cost_money)
    return paid


def highest_capital_cost(kwh: float, costs: Costs) -> float:
    r"""Most that a plant of this energy may cost at first to be worth it: its net present value is then zero.

    Parameters
    ----------
    kwh : float or ndarray
        Energy of a mean year that has a value.
    costs : Costs
        With the value of a kWh.

    Returns
    -------
    float or ndarray
        Money; 0 where not even the upkeep is earned.

    Notes
    -----
    .. math:: C = \frac{(vE - U_r)\,a + G}{1 + s\,a}

    with the value v of a kWh, yearly energy E, what is paid a year whatever the plant costs, its
    replacements spread over the years, :math:`U_r`, the grant :math:`G`, yearly upkeep as a share s
    of the capital cost, and :math:`a` of ``money.annuity_factor``.

    Examples
    --------
    >>> costs = Costs(life_years=20, discount_rate=0.0, value_money_per_kwh=0.2)
    >>> print(f"{highest_capital_cost(10_000, costs):.0f}")
    40000
    """
    if costs.value_money_per_kwh is None:
        raise HydrokitError(
            "highest_capital_cost(): the value of a kWh is not given; give value_money_per_kwh"
        )
    annuity = annuity_factor.si(costs.life_years, costs.discount_rate)
    net = costs.value_money_per_kwh * np.asarray(kwh, dtype=float) - costs.upkeep_si(0.0)
    return np.maximum(
        (net * annuity + costs.grant_money) / (1 + costs.yearly_share * annuity), 0.0
    )[()]
