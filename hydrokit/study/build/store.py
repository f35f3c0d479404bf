"""From the site file to a battery and its inverter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...sentences import Amount, Sentence

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Store", "findings_of_store", "store_of"]


@dataclass(frozen=True, eq=False)
class Store:
    """A battery that carries a day's peaks.

    Parameters
    ----------
    voltage_v, depth_ratio : float
    charge_ah : float
        Of the bank that is there; NaN where not told.
    day_kwh, peak_w : float
        Wanted in a usual day.
    needs : tuple of (str, float, float, float)
        Case, power of the plant at the loads in W, energy to be stored in J, charge to be rated in
        Ah; NaN where the plant cannot meet the day at all.
    efficiency : float
        Of what goes in, the share that comes out again.
    """

    voltage_v: float
    depth_ratio: float
    charge_ah: float
    _: KW_ONLY
    day_kwh: float
    peak_w: float
    needs: tuple[tuple[str, float, float, float], ...]
    efficiency: float = 1.0


def store_of(study: Study) -> Store | None:
    """What the battery must carry through a usual day; None where the day's use is not told."""
    from ...plant.conversion import battery_size, storage_needed
    from .winter import power_by_month

    section, use = study.site.battery, study.day_use
    power, _ = power_by_month(study)
    if use is None or power is None or section.voltage is None or study.plant is None:
        return None
    depth, back = section.depth, section.efficiency
    after = study.site.inverter.efficiency or 1.0  # none, or one whose losses are not known
    # a plant known from water to wire is metered before its inverter; else the inverter is one of
    # its parts, its loss counted
    left, needs = 1.0 if study.plant.electric else after, []
    full = float(study.plant.running().at_si(np.inf).power_w)
    cases = [("times of plenty", full)]
    if np.nanmax(power) > np.nanmin(
        power
    ):  # of a plant whose months nobody knows there is no lean one
        cases += [("a median month", np.nanmedian(power)), ("the leanest month", np.nanmin(power))]
    for name, watts in cases:
        stored = float(storage_needed.si(float(watts) * left, use, 3600.0, back))
        needs.append(
            (
                name,
                float(watts),
                stored,
                float(battery_size.si(stored, section.voltage, depth, after))
                if np.isfinite(stored)
                else np.nan,
            )
        )
    return Store(
        section.voltage,
        depth,
        np.nan if section.charge is None else section.charge,
        day_kwh=float(use.sum() / 1000),
        peak_w=float(use.max()),
        needs=tuple(needs),
        efficiency=back,
    )


def findings_of_store(study: Study) -> Iterator[Finding]:
    """That an inverter is too small for the day it is to carry, and for the circuits."""
    section, use = study.site.inverter, study.day_use
    if not section:
        return
    if use is not None and use.max() > section["rating"]:
        yield Finding(
            "caution",
            "inverter",
            Sentence(
                "it gives {rating}, but the usual day under [battery] peaks at {peak}: spread "
                "that hour's loads, or take a larger one",
                rating=Amount(section["rating"], "power"),
                peak=Amount(use.max(), "power"),
            ),
        )
    largest = max(
        (each for each in study.circuits if each.system != "dc"),
        key=lambda each: each.power_w,
        default=None,
    )
    if largest is not None and largest.power_w > section["rating"]:
        yield Finding(
            "caution",
            "inverter",
            Sentence(
                "it gives {rating}, but {name} alone takes {power}",
                rating=Amount(section["rating"], "power"),
                name=largest.name,
                power=Amount(largest.power_w, "power"),
            ),
        )
