"""From the site file to several machines on one pipe."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import HydrokitError
from .values import Measured

__all__ = ["by_set", "curve", "machines"]


def machines(study: Any) -> Any:
    """The machines of the site file; where all are alike, one turbine of so many units."""
    from ..plant.machines import Machines
    from ..plant.parts import Adjustable

    made = _made(study)
    if _alike(study):
        return Adjustable(sum(each.design_flow_m3s for each in made), len(made), name="turbine")
    return Machines(made)


def curve(study: Any) -> Any:
    """Efficiency of one of them where all are alike, else of all together."""
    return _made(study)[0].part_load if _alike(study) else machines(study).part_load


def _alike(study: Any) -> bool:
    told = [{key: value for key, value in entry.items() if key != "name"} for entry in study.site["machine"]]
    return all(each == told[0] for each in told)


def _made(study: Any) -> tuple[Any, ...]:
    from ..plant.machines import Machine

    return tuple(Machine(entry["design_flow"], _efficiency(study, entry), entry.get("name", f"machine {number}")) for number, entry in enumerate(study.site["machine"], 1))


def _efficiency(study: Any, entry: dict) -> Any:
    """Efficiency of one machine: by its own numbers; where these are lacking, by those under [turbine], if it is of that kind."""
    from . import site as build

    shared = study.site["turbine"]
    kind = entry.get("kind", shared["kind"])
    told = dict(shared) if kind == shared["kind"] else {"kind": kind}
    if "efficiency" in entry:
        if "water_to_wire" in study.site["generator"]:
            raise HydrokitError("efficiency of a machine alone does not go with [generator] water_to_wire, which holds it; give one of the two")
        told.pop("efficiency_table", None)
        told["efficiency"] = Measured(entry["efficiency"], None)
    if "minimum_flow" in entry:
        told["minimum_flow"] = entry["minimum_flow"]
    return build.efficiency_curve(study, True, told)


def by_set(study: Any) -> tuple[np.ndarray, np.ndarray] | None:
    """Energy of a mean year in kWh, and days, of each set of machines; None without a record."""
    from . import site as build

    if study.year is None:
        return None
    usable = build.taken(study).dropna()
    flow, month = usable.to_numpy(), np.asarray(usable.index.month)
    kwh, days = (np.zeros(len(study.plant.jets.openings())) for _ in range(2))
    for months in study.plant.alike():
        found = study.plant.at_si(flow[np.isin(month, months)], months[0])
        runs = found.opening >= 0
        kwh += np.bincount(found.opening[runs], found.power_w[runs] * 0.024, len(kwh))
        days += np.bincount(found.opening[runs], minlength=len(kwh))
    years = len(usable) / 365.25
    return kwh / years, days / years
