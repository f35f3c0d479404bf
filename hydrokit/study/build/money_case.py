"""The plant in money with its energy used in one way: as calculated, and draw by draw."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ...energy.levels import SECURE

if TYPE_CHECKING:
    from ...energy.cash import CashFlow
    from ...energy.money import Appraisal, Costs
    from ...units import Number

__all__ = ["Band", "Case", "band"]

_SEED = 2  # apart from that of the energy: costs and creek know nothing of each other
_COST_DRAWS = 4000


@dataclass(frozen=True)
class Band:
    """The middle 80 % of draws: one in ten lies below `low`, half below `median`, one in ten above `high`."""

    low: float
    median: float
    high: float

    @property
    def width(self) -> float:
        """Of the 80 % interval."""
        return self.high - self.low


def band(draws: Number) -> Band:
    """The middle 80 % of draws, by rank: a payback that never comes stays infinite."""
    return Band(*np.quantile(np.atleast_1d(draws), [0.1, 0.5, 0.9], method="inverted_cdf").tolist())


@dataclass(frozen=True, eq=False)
class Case:
    """The plant in money, with its energy used in one way.

    Parameters
    ----------
    name : str
        ``"as used"`` where the demand is known, else ``"all used"`` and ``"all sold"``.
    first_money : float
        Capital cost; NaN where there is none to come.
    plain : Costs
        Of the site file.
    kwh, income_money : float
        Energy that earns anything in a mean year, and what it earns; NaN where no value is given.
    draws_kwh, draws_money : ndarray
        The same, draw by draw; one draw where the uncertainty is not known.
    single_money : ndarray or None
        What single years earn.
    left_money : float
        What of the income is earned beyond the demand: sold, or as heat beyond a stated need.
    several_money : ndarray or None
        What the means of ten years earn.
    """

    name: str
    first_money: float
    plain: Costs
    _: KW_ONLY
    kwh: float
    income_money: float
    draws_kwh: np.ndarray
    draws_money: np.ndarray
    single_money: np.ndarray | None
    left_money: float = 0.0
    several_money: np.ndarray | None = None

    @property
    def income_lines(self) -> dict[str, float]:
        """What the energy of a mean year earns, by what becomes of it."""
        if self.name == "all sold":
            return {"energy sold": self.income_money}
        lines = {
            "energy used": self.income_money - self.left_money,
            "energy beyond the demand": self.left_money,
        }
        return {name: money for name, money in lines.items() if money or name == "energy used"}

    @property
    def value_money_per_kwh(self) -> float:
        """Mean value of a kWh that earns anything."""
        return self.income_money / self.kwh if self.kwh > 0 else 0.0

    @property
    def bad_year_money(self) -> float:
        """What a single year earns at the secure level (P90); NaN where not known."""
        if self.single_money is None:
            return np.nan
        share = (100 - SECURE) / 100
        return float(np.quantile(self.single_money, share, method="inverted_cdf"))

    def _costs(self, money: Number, kwh: Number) -> Costs:
        """The costs with the value that a kWh then has."""
        value = np.asarray(money, dtype=float) / np.where(np.asarray(kwh) > 0, kwh, 1.0)
        told: Any = None if np.isnan(value).any() else value  # one, or one a draw
        return replace(self.plain, value_money_per_kwh=told)

    @cached_property
    def costs(self) -> Costs:
        """The costs with the mean value of a kWh."""
        return self._costs(self.income_money, self.kwh)

    @cached_property
    def draws(self) -> tuple[np.ndarray, np.ndarray]:
        """Capital cost and energy of draws of both; as calculated where the uncertainty of the
        energy is not known."""
        number = len(self.draws_kwh)
        factors = self.plain.factors(number, _SEED) if number > 1 else np.ones(number)
        return self.first_money * factors, self.draws_kwh

    @cached_property
    def first_draws(self) -> np.ndarray:
        """Draws of the capital cost, whatever is known of the energy."""
        return self.first_money * self.plain.factors(max(len(self.draws_kwh), _COST_DRAWS), _SEED)

    @cached_property
    def stands(self) -> Appraisal:
        """The plant in money, costs and energy as calculated."""
        from ...energy.money import appraise

        return appraise(self.first_money, self.kwh, self.costs)

    @cached_property
    def drawn(self) -> Appraisal:
        """The plant in money, draw by draw."""
        from ...energy.money import appraise

        return appraise(*self.draws, self._costs(self.draws_money, self.draws_kwh))

    @cached_property
    def flow(self) -> CashFlow:
        """Cash flow of the plant as calculated."""
        from ...energy.cash import cash_flow

        return cash_flow(self.first_money, self.kwh, self.costs)

    @cached_property
    def flows(self) -> CashFlow:
        """Cash flow draw by draw."""
        from ...energy.cash import cash_flow

        return cash_flow(*self.draws, self._costs(self.draws_money, self.draws_kwh))

    # --- the middle 80 % of the draws ----------------------------------------------------------

    @property
    def first_band(self) -> Band:
        """Capital cost."""
        return band(self.first_draws)

    @property
    def kwh_band(self) -> Band:
        """Energy that earns anything in a mean year."""
        return band(self.draws_kwh)

    @property
    def income_band(self) -> Band:
        """What that energy earns."""
        return band(self.draws_money)

    @property
    def net_band(self) -> Band:
        """What it earns less upkeep and replacements."""
        return band(self.drawn.net_money)

    @property
    def levelised_band(self) -> Band:
        """Levelised cost of a kWh that earns anything."""
        return band(self.drawn.levelised_money_per_kwh)

    @property
    def npv_band(self) -> Band:
        """Net present value."""
        return band(self.drawn.npv_money)

    @property
    def payback_band(self) -> Band:
        """Simple payback in years; infinite where it never comes."""
        return band(self.flows.payback_years)

    @property
    def discounted_payback_band(self) -> Band:
        """Discounted payback in years; infinite where it never comes."""
        return band(self.flows.discounted_payback_years)

    @property
    def rate_band(self) -> Band:
        """Internal rate of return; minus infinity where there is none."""
        return band(np.nan_to_num(self.flows.internal_rate, nan=-np.inf))

    # ---------------------------------------------------------------------------------------------

    @property
    def pays(self) -> float:
        """Share of the draws with a net present value above zero."""
        return float(np.mean(self.drawn.npv_money > 0))

    @property
    def most_money(self) -> float:
        """Most that may be paid now for a plant, or to keep this one, that lasts its life: worth
        nothing then."""
        from ...energy.cash import highest_capital_cost

        return float(highest_capital_cost(self.kwh, self.costs))

    @cached_property
    def spread(self) -> dict[str, Band]:
        """Net present value where one thing alone, ``"energy"`` or ``"cost"``, is not certain."""
        from ...energy.discounting import net_present_value

        first, _ = self.draws
        found = {}
        for name, costs, income in (
            ("energy", self.first_money, self.draws_money),
            ("cost", first, self.income_money),
        ):
            npv = net_present_value.si(
                self.plain.paid_si(costs),
                income - self.plain.upkeep_si(costs),
                self.plain.life_years,
                self.plain.discount_rate,
            )
            found[name] = band(npv)
        return found
