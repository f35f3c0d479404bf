"""Money: what a plant costs in a year, what its energy costs, and when it is paid back.

Money is one unit of no particular currency. All rates are above inflation, all prices of today.

>>> from hydrokit.energy.money import Costs, appraise
>>> costs = Costs(yearly_share=0.02, life_years=25, discount_rate=0.04, value_money_per_kwh=0.21)
>>> plant = appraise(40_000, 26_000, costs)
>>> f"{plant.levelised_money_per_kwh:.3f} a kWh, paid back after {plant.payback_years:.1f} years"
'0.129 a kWh, paid back after 8.6 years'
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Q_, Floats, Given, Number, Quantity, units
from ..works.solve import require
from .discounting import capital_recovery, net_present_value, replacement_value

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["Appraisal", "Costs", "Replacement", "appraise", "levelised_cost", "payback"]


@units("money/kWh", capital_cost="money", energy="kWh", years="count", rate="ratio", upkeep="money")
def levelised_cost(
    capital_cost: Given, energy: Given, years: Given, rate: Given, upkeep: Given = "0 money"
) -> Number:
    r"""What a kWh costs over the life of the plant.

    Parameters
    ----------
    capital_cost : Quantity or str [money]
        :math:`C`.
    energy : Quantity or str [energy]
        Of a mean year, :math:`E`.
    years : number
        Life, :math:`n`.
    rate : number or str
        Discount rate, :math:`i`.
    upkeep : Quantity or str [money]
        Each year, :math:`U`.

    Returns
    -------
    Quantity [money/energy]
        Infinite where there is no energy.

    Notes
    -----
    .. math:: c = \frac{C\,r(n, i) + U}{E}

    with :math:`r` of :func:`capital_recovery`.

    References
    ----------
    .. [1] Definition: the price at which the net present value is zero.

    Examples
    --------
    >>> print(f"{levelised_cost('40000 money', '26 MWh', 25, '4 %', '800 money'):.3f~P}")
    0.129 money/kWh
    >>> print(f"{levelised_cost('40000 money', '26000 kWh', 25, '0 %'):.3f~P}")
    0.062 money/kWh
    """
    require("levelised_cost", "zero or more", energy=energy)
    yearly = capital_cost * capital_recovery.si(years, rate) + upkeep
    return _per(yearly, energy)


@units("number", capital_cost="money", yearly="money", rate="ratio")
def payback(capital_cost: Given, yearly: Given, rate: Given = 0.0) -> Number:
    r"""Years until a capital cost has come back.

    Parameters
    ----------
    capital_cost : Quantity or str [money]
        :math:`C`.
    yearly : Quantity or str [money]
        What comes back each year, upkeep taken off, :math:`A`.
    rate : number or str
        Discount rate, :math:`i`; 0 gives the simple payback.

    Returns
    -------
    float or array
        In years, as if payments flowed evenly between the ends of years; infinite where it never
        comes back.

    Notes
    -----
    .. math:: n = -\frac{\ln(1 - iC/A)}{\ln(1 + i)}

    and :math:`C/A` without interest: the life at which the net present value is zero.

    References
    ----------
    .. [1] :func:`annuity_factor` solved for its years.

    Examples
    --------
    >>> print(f"{payback('40000 money', '4700 money'):.1f}")
    8.5
    >>> print(f"{payback('40000 money', '4700 money', '4 %'):.1f}")
    10.6
    """
    require("payback", "zero or more", capital_cost=capital_cost, rate=rate)
    capital_cost, yearly, rate = (
        np.asarray(each, dtype=float) for each in (capital_cost, yearly, rate)
    )
    some = np.where(rate > 0, rate, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        simple = np.where(
            yearly > 0, capital_cost / yearly, np.where(capital_cost > 0, np.inf, 0.0)
        )
        discounted = np.where(rate * simple < 1, -np.log1p(-rate * simple) / np.log1p(some), np.inf)
    return np.where(rate > 0, discounted, simple)[()]


# --- the costs of a plant -------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Replacement:
    """A part bought again each time it is worn.

    Parameters
    ----------
    cost_money : float
    every_years : float
    name : str
    """

    cost_money: float
    every_years: float
    name: str = "part"


@dataclass(frozen=True, eq=False)
class Costs:
    """What a plant costs and what its energy is worth, in one currency of today.

    Parameters
    ----------
    fixed_money : float
        What any plant here costs: intake, access, design, licence.
    per_power_money_per_w : float
        Machine and switchboard, for each watt of the generator bought.
    per_jet_money : float
        Each jet with its valve.
    laying_money_per_m : float
        Laying a metre of pipe of any size; the pipe's own price goes with its size.
    cable_money_per_m : float
        A metre of cable, laid.
    yearly_share : float
        Upkeep in a year as a share of the capital cost.
    life_years : float
    discount_rate : float
        What money costs, above inflation.
    value_money_per_kwh : float or None
        What a kWh is worth here; None where nobody said.
    uncertainty : float
        Relative standard deviation of the capital cost.
    replacements : tuple of Replacement
    contingency : float
        For what is not foreseen, as a share of what a plant costs.
    building_interest : float
        Interest during construction, as a share of what a plant costs with its contingency.
    grant_money : float
        Given towards the capital cost, and never more than that.
    yearly_lines : tuple of (str, float)
        Paid each year whatever the plant costs: insurance, fees, rent, labour.
    residual_money, removal_money : float
        What the plant still is worth at the end of its life, and what taking it away then costs.
    """

    fixed_money: float = 0.0
    per_power_money_per_w: float = 0.0
    per_jet_money: float = 0.0
    _: KW_ONLY
    laying_money_per_m: float = 0.0
    cable_money_per_m: float = 0.0
    yearly_share: float = 0.0
    life_years: float = 25.0
    discount_rate: float = 0.04
    value_money_per_kwh: float | None = None
    uncertainty: float = 0.0
    replacements: tuple[Replacement, ...] = ()
    contingency: float = 0.0
    building_interest: float = 0.0
    grant_money: float = 0.0
    yearly_lines: tuple[tuple[str, float], ...] = ()
    residual_money: float = 0.0
    removal_money: float = 0.0

    def __post_init__(self) -> None:
        given = {
            name: value
            for name, value in vars(self).items()
            if name not in ("replacements", "life_years", "yearly_lines") and value is not None
        }
        require("Costs", "zero or more", **given)
        require("Costs", "above zero", life_years=self.life_years)

    @property
    def yearly_money(self) -> float:
        """Paid each year whatever the plant costs."""
        return sum(money for _, money in self.yearly_lines)

    @property
    def end_money(self) -> float:
        """Received at the end of the life; below zero where it is paid."""
        return self.residual_money - self.removal_money

    @property
    def silent(self) -> bool:
        """Whether nothing is said of what a plant costs, beside its pipes."""
        return not (
            self.fixed_money
            or self.per_power_money_per_w
            or self.per_jet_money
            or self.laying_money_per_m
            or self.cable_money_per_m
        )

    def first_si(
        self,
        power_w: Number,
        jets: Number,
        pipe_money_per_m: Number = 0.0,
        length_m: Number = 0.0,
        cable_m: float = 0.0,
    ) -> Alike:
        """First cost of a plant of this size, with contingency and interest during construction."""
        bought = (
            self.fixed_money
            + self.per_power_money_per_w * power_w
            + self.per_jet_money * jets
            + (pipe_money_per_m + self.laying_money_per_m) * length_m
            + self.cable_money_per_m * cable_m
        )
        return bought * (1 + self.contingency) * (1 + self.building_interest)

    def paid_si(self, first_money: Number) -> Number:
        """What of a capital cost the owner pays: the grant taken off."""
        return np.maximum(np.asarray(first_money) - self.grant_money, 0.0)

    def upkeep_si(self, first_money: Number) -> np.ndarray:
        """What is paid in a year to keep a plant, with replacements and its end spread evenly over
        the life."""
        again = sum(
            replacement_value.si(
                each.cost_money, each.every_years, self.life_years, self.discount_rate
            )
            for each in self.replacements
        )
        again = again - self.end_money * (1 + self.discount_rate) ** -self.life_years
        spread = again * capital_recovery.si(self.life_years, self.discount_rate)
        return self.yearly_share * np.asarray(first_money) + self.yearly_money + spread

    def yearly_si(self, first_money: Number) -> np.ndarray:
        """What a plant costs a year: annuity and upkeep."""
        return self.paid_si(first_money) * capital_recovery.si(
            self.life_years, self.discount_rate
        ) + self.upkeep_si(first_money)

    def change_si(self, first_money: float, life_years: Number | None = None) -> float:
        """What one change to a plant costs a year, over a life of its own: annuity and its share of
        upkeep."""
        life = self.life_years if life_years is None else life_years
        return np.asarray(first_money) * (
            capital_recovery.si(life, self.discount_rate) + self.yearly_share
        )

    def factors(self, draws: int, seed: int = 1) -> np.ndarray:
        """Draws of what the capital cost may turn out to be, over what was calculated: log-normal, median 1.

        Costs overrun further than they fall short, which the logarithm gives.
        """
        return np.exp(
            np.sqrt(np.log1p(self.uncertainty**2))
            * np.random.default_rng(seed).standard_normal(draws)
        )


# --- one plant ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Appraisal:
    """A plant in money. Floats, or arrays over draws.

    Parameters
    ----------
    first_money : capital cost
    kwh : energy of a mean year, or of a draw
    yearly_money : annuity and upkeep
    levelised_money_per_kwh : what a kWh costs
    net_money : value of a year's energy less upkeep; NaN where no value is given, as are all below
    worth_money : value of a year's energy less annuity and upkeep
    payback_years, discounted_payback_years : infinite where never
    npv_money : net present value
    """

    first_money: Alike
    kwh: Alike
    yearly_money: Alike
    _: KW_ONLY
    levelised_money_per_kwh: Number
    net_money: Number
    worth_money: Number
    payback_years: Alike
    discounted_payback_years: Alike
    npv_money: Number

    @property
    def levelised(self) -> Quantity:
        """What a kWh costs."""
        return Q_(self.levelised_money_per_kwh, "money/kWh")

    @property
    def npv(self) -> Quantity:
        """Net present value."""
        return Q_(self.npv_money, "money")

    def percentiles(self, levels: tuple[float, ...] = (10, 50, 90)) -> dict[str, np.ndarray]:
        """Each number at these per cents of the draws: at 10 a tenth of the draws lies below.

        Rows come apart: the draw with the tenth percentile of cost is not that of energy.
        """
        # of an order statistic, so that a payback that never comes stays infinite instead of becoming NaN
        return {
            name: np.quantile(np.atleast_1d(value), np.asarray(levels) / 100, method="inverted_cdf")
            for name, value in vars(self).items()
        }


def appraise(
    first_money: Number, kwh: object, costs: Costs, value_money_per_kwh: float | None = None
) -> Appraisal:
    """A plant, or a change, in money.

    Parameters
    ----------
    first_money : float or ndarray
        First cost; times ``costs.factors(draws)`` for its uncertainty.
    kwh : float or ndarray
        Energy of a mean year that has a value (useful, where there is a demand); draws of it for
        its uncertainty. Broadcast against the cost.
    costs : Costs
    value_money_per_kwh : float or ndarray, optional
        Instead of that of `costs`.

    Returns
    -------
    Appraisal

    Raises
    ------
    HydrokitError
        A negative cost or energy.
    """
    first, kwh = np.broadcast_arrays(
        np.asarray(first_money, dtype=float), np.asarray(kwh, dtype=float)
    )
    if np.any(first < 0) or np.any(kwh < 0):
        raise HydrokitError("appraise(): capital cost and energy must be zero or more")
    value = costs.value_money_per_kwh if value_money_per_kwh is None else value_money_per_kwh
    earned = np.asarray(np.nan if value is None else value, dtype=float)
    yearly, net = costs.yearly_si(first), earned * kwh - costs.upkeep_si(first)
    rate, life, paid = costs.discount_rate, costs.life_years, costs.paid_si(first)
    return Appraisal(
        first_money=first[()],
        kwh=kwh[()],
        yearly_money=yearly[()],
        levelised_money_per_kwh=_per(yearly, kwh)[()],
        net_money=net[()],
        worth_money=(earned * kwh - yearly)[()],
        payback_years=_unless_unknown(net, payback.si(paid, net))[()],
        discounted_payback_years=_unless_unknown(net, payback.si(paid, net, rate))[()],
        npv_money=net_present_value.si(paid, net, life, rate)[()],
    )


def _per(money: Number, kwh: Number) -> np.ndarray:
    kwh = np.asarray(kwh, dtype=float)
    return np.where(
        kwh > 0, money / np.where(kwh > 0, kwh, 1.0), np.where(np.isnan(kwh), np.nan, np.inf)
    )[()]


def _unless_unknown(net: Number, years: Number) -> Floats:
    return np.where(np.isnan(net), np.nan, years)
