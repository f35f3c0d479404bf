"""The mean year of a study, worked out again and again while a knob is turned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..errors import sure
from ..stream.days import days_of
from ..stream.record import year_labels
from ..study.build import year as build_year

if TYPE_CHECKING:
    from ..plant.curve import PlantCurve
    from ..stream.rights import Rights
    from ..study.study import Study

__all__ = ["MeanYear", "taker", "with_residual"]


def with_residual(rights: Rights, stays_m3s: float) -> Rights:
    """The rights with another residual flow, its months in proportion."""
    given = float(rights.keep_m3s.mean())
    return replace(
        rights,
        keep_m3s=rights.keep_m3s * (stays_m3s / given) if given > 0 else np.full(12, stays_m3s),
    )


def taker(study: Study) -> Callable[[Rights], np.ndarray]:
    """Usable flow of each day of the record under any rights; the calendar is worked out once."""
    record = sure(study.record)
    flow, index = record.to_numpy(dtype=float), days_of(record)
    month, year = np.asarray(index.month), year_labels(index, study.rights.start_month)
    # Under a yearly volume or a ramp it counts how much the plant can take.
    most = build_year.most_taken(study)
    return lambda rights: rights.usable_days_si(flow, month, year, most)


@dataclass(frozen=True, eq=False)
class MeanYear:
    """Monthly energy of the mean year, ready to be worked out again and again.

    The same means as ``energy.net.net_year`` gives, without its tables: of what the way the plant is
    run loses, the share is that of the plant as it stands.
    """

    rights: Rights
    taken_under: Callable[[Rights], np.ndarray]
    curves: tuple[PlantCurve, ...]
    _: KW_ONLY
    month: np.ndarray
    share: np.ndarray  # kWh of the mean year for each watt of each step, if nothing stood still
    running: np.ndarray
    kept: tuple[
        np.ndarray, np.ndarray
    ]  # share of the energy, and of what the demand takes, that the way it is run leaves
    demand_w: np.ndarray | None

    @classmethod
    def of(cls, study: Study) -> MeanYear:
        from ..energy.weights import counted_months, steps_of
        from ..energy.year_power import demand_of_steps

        usable, year = sure(study.usable), sure(study.year)
        steps = steps_of(usable, year.start_month)
        counted = counted_months(steps.complete)
        weight = counted / np.maximum(counted.sum(axis=0), 1) * steps.step_hours / 1000
        demand = None if study.demand_w is None else demand_of_steps(study.demand_w, usable)
        return cls(
            study.rights,
            taker(study),
            sure(study.plant).curves(),
            month=steps.month,
            share=weight.ravel()[steps.group],
            running=build_year.outages(study.site).running,
            kept=(1 - year.lost_share, 1 - year.met_lost_share),
            demand_w=demand,
        )

    def _by_month(self, power_w: np.ndarray) -> np.ndarray:
        return np.bincount(self.month - 1, power_w * self.share, 12)

    @property
    def needed_kwh(self) -> np.ndarray | None:
        """What could be used, by month."""
        return None if self.demand_w is None else self._by_month(self.demand_w)

    def power_w(self, rights: Rights) -> np.ndarray:
        """Power of each step under these rights."""
        from ..energy.year_power import power_of_steps

        return np.nan_to_num(power_of_steps(self.taken_under(rights), self.month, self.curves))

    def met_kwh(self, power_w: np.ndarray, demand_w: np.ndarray) -> np.ndarray:
        """What a demand takes of a power, by month."""
        return self._by_month(np.minimum(power_w, demand_w)) * self.running * self.kept[1]

    def monthly_kwh(self, stays_m3s: float, factor: float) -> tuple[np.ndarray, np.ndarray]:
        """Generated, and useful."""
        power = factor * self.power_w(with_residual(self.rights, stays_m3s))
        kwh = self._by_month(power) * self.running * self.kept[0]
        return kwh, kwh if self.demand_w is None else self.met_kwh(power, self.demand_w)
