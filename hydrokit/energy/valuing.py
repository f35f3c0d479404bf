"""What a kWh earns, by what becomes of it: one that meets the demand, one that heats, one that is sold.

Sizes, changes and the page on money ask the same object, so that they cannot disagree.

>>> found = valued(0.20, export_money_per_kwh=0.06)
>>> f"{found.earns(6000.0, 10000.0):.0f} a year: 6000 kWh used, 4000 sold"
'1440 a year: 6000 kWh used, 4000 sold'
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..result import Result

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["Valuing", "valued"]


@dataclass(frozen=True, eq=False)
class Valuing(Result):
    """What a kWh earns.

    Parameters
    ----------
    used_money_per_kwh : float
        Mean of those that meet the demand; NaN where nobody said.
    left_money_per_kwh : float
        Mean of those beyond it.
    left_earning : float
        Share of those beyond it that earn anything.
    first_kwh : float
        Of a year, that replace something dearer: they earn more.
    first_more_money_per_kwh : float
        How much more each of those earns.
    """

    used_money_per_kwh: float
    left_money_per_kwh: float = 0.0
    left_earning: float = 0.0
    _: KW_ONLY
    first_kwh: float = 0.0
    first_more_money_per_kwh: float = 0.0

    @property
    def known(self) -> bool:
        """Whether it is said what a kWh is worth."""
        return bool(np.isfinite(self.used_money_per_kwh))

    def earns(self, used_kwh: Number, made_kwh: Number) -> np.ndarray:
        """Money from energy of which so much meets the demand."""
        first = self.first_more_money_per_kwh * np.minimum(used_kwh, self.first_kwh)
        used = self.used_money_per_kwh * used_kwh + first
        return used + self.left_money_per_kwh * _left(used_kwh, made_kwh)

    def next_money_per_kwh(self, used_kwh: float) -> float:
        """What one more kWh that meets the demand earns, where so many do."""
        more = self.first_more_money_per_kwh if used_kwh < self.first_kwh else 0.0
        return self.used_money_per_kwh + more

    def counted_kwh(self, used_kwh: Number, made_kwh: Number) -> Number:
        """Energy that earns anything."""
        return used_kwh + self.left_earning * _left(used_kwh, made_kwh)

    def times(self, factor: float) -> Valuing:
        """All values higher or lower by a factor."""
        return replace(
            self,
            used_money_per_kwh=self.used_money_per_kwh * factor,
            left_money_per_kwh=self.left_money_per_kwh * factor,
            first_more_money_per_kwh=self.first_more_money_per_kwh * factor,
        )


def _left(used_kwh: Number, made_kwh: Number) -> Number:
    return np.maximum(np.asarray(made_kwh) - used_kwh, 0.0)


def valued(
    value_money_per_kwh: float | None,
    export_money_per_kwh: float | None = None,
    heat_money_per_kwh: float | None = None,
    heat_share: float = 0.0,
    warming_share: float = 0.0,
    demand_known: bool = True,
    first_money_per_kwh: float | None = None,
    first_kwh: float = 0.0,
) -> Valuing:
    """What a kWh earns, from the prices.

    Parameters
    ----------
    value_money_per_kwh : float or None
        Of a kWh that meets the demand; None where nobody said.
    export_money_per_kwh : float or None
        Of one that is sold.
    heat_money_per_kwh : float or None
        Of one that heats rooms; None: like any other that meets the demand, and nothing beyond it.
    heat_share : float
        Share of the energy that meets the demand which heats rooms.
    warming_share : float
        Share of the energy beyond a stated need which heats rooms.
    demand_known : bool
        Without a demand all is counted as used; or as sold where only a price for that is given.
    first_money_per_kwh : float or None
        Of each of the first kWh of a year that meet the demand and do not heat rooms; None: as the others.
    first_kwh : float
        How many of them there are.
    """
    unsaid = value_money_per_kwh is None
    if not demand_known:
        if unsaid:
            return Valuing(_or_nan(export_money_per_kwh))
        more = _more(value_money_per_kwh, first_money_per_kwh)
        return Valuing(
            _or_nan(value_money_per_kwh),
            0.0,
            0.0,
            first_kwh=first_kwh,
            first_more_money_per_kwh=more,
        )
    if unsaid:
        return Valuing(np.nan)
    sale, heats = export_money_per_kwh or 0.0, heat_money_per_kwh is not None
    share, warms = (heat_share, min(warming_share, 1.0)) if heats else (0.0, 0.0)
    heat, more = heat_money_per_kwh or 0.0, _more(value_money_per_kwh, first_money_per_kwh)
    return Valuing(
        _or_nan(value_money_per_kwh) * (1 - share) + heat * share,
        warms * heat + (1 - warms) * sale,
        warms + (1 - warms if sale > 0 else 0.0),
        # told of all that meets the demand, of which a share heats rooms and is none of the first
        first_kwh=first_kwh / (1 - share) if share < 1 else np.inf,
        first_more_money_per_kwh=more * (1 - share),
    )


def _more(value: float | None, first: float | None) -> float:
    """What one of the first kWh earns beyond any other."""
    return 0.0 if value is None or first is None else first - value


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value
