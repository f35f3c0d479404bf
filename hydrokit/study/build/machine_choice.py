"""Which kinds of machine suit a head and a flow, and how high a reaction machine may stand over its
tail water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result

if TYPE_CHECKING:
    from ...plant.choice import Choice
    from ..study import Study

__all__ = ["MachineChoice", "Setting", "Settings", "machine_choice", "ranked", "settings"]

_SHOWN = 6  # kinds that suit best
LOW_FLOW = 0.1  # of the days have less usable water
# Cavitation numbers at which machines of these kinds begin to suffer: low and high specific speed.
# Common practice.
CAVITATION = {
    "francis": (0.05, 0.35),
    "kaplan": (0.4, 1.2),
    "propeller": (0.4, 1.2),
    "pump run backwards": (0.1, 0.4),
}
_WARM_K = 293.15  # water of a summer, where the site file has no warmer; it boils the sooner
_LOWEST_LAND_M = -430.0
MARGIN_M, HIGHEST_M = 0.5, 6.0


@dataclass(frozen=True, eq=False, kw_only=True)
class MachineChoice(Result):
    """Kinds of machine for a flow and the head of the site, best suited first.

    Parameters
    ----------
    flow_m3s : float
        Design flow they are judged for.
    kinds : tuple of Choice
        The six that suit best, and that of the site file where it is none of them.
    low_m3s : float or None
        Low flow at which they must still run, that of :data:`LOW_FLOW`; None where it is not known.
    """

    flow_m3s: float
    kinds: tuple[Choice, ...]
    low_m3s: float | None


@dataclass(frozen=True, eq=False, kw_only=True)
class Setting:
    """How high a reaction machine of one kind may stand.

    Parameters
    ----------
    kind : str
    cavitation : (float, float)
        Cavitation number, low and high; alike where the manufacturer's is given.
    height_m : (float, float)
        Lowest and highest setting these allow, above the tail water; below it where negative.
    """

    kind: str
    cavitation: tuple[float, float]
    height_m: tuple[float, float]


@dataclass(frozen=True, eq=False, kw_only=True)
class Settings(Result):
    """Settings of the reaction machines that may be chosen here.

    Parameters
    ----------
    machines : tuple of Setting
    house_m : float
        Altitude of the power house.
    carried_m : float
        Column of water that the air carries there.
    water_k : float
        Temperature of the water they are calculated for.
    """

    machines: tuple[Setting, ...]
    house_m: float
    carried_m: float
    water_k: float


def ranked(study: Study, flow_m3s: float) -> tuple[Choice, ...]:
    """All kinds of machine for a flow under the head of the site, best suited first; nothing
    without flow or head."""
    from ...plant.choice import turbine_choice

    if study.head is None or not flow_m3s > 0:
        return ()
    low = _low_flow(study, flow_m3s)
    return tuple(turbine_choice.si(flow_m3s, study.head.value, low_flow=low))


def _low_flow(study: Study, flow_m3s: float) -> float | None:
    """Available flow that all but one day in ten have, at most what the machine takes; without a
    record that of the driest month that is known. None without either, or no water then."""
    months = study.monthly_flow
    if study.usable is not None:
        low = float(np.nanquantile(study.usable, LOW_FLOW))
    elif months is not None and np.isfinite(months.usable_m3s).any():
        low = float(np.nanmin(months.usable_m3s))
    else:
        return None
    return min(low, flow_m3s) if low else None


def machine_choice(study: Study) -> MachineChoice | None:
    """The kinds that suit the plan, or the recommended size; None without a flow."""
    flow = None
    if study.plan is not None:
        flow = study.plan.flow_m3s
    elif study.sizing is not None:
        flow = study.sizing.choice.flow_m3s
    if not flow:  # not known, or the way lets none through
        return None
    found = ranked(study, flow)
    own = [each for each in found[_SHOWN:] if each.kind == study.site.turbine.kind]
    return MachineChoice(
        flow_m3s=flow, kinds=(*found[:_SHOWN], *own), low_m3s=_low_flow(study, flow)
    )


def settings(study: Study) -> Settings | None:
    """How high reaction machines may stand; None where none may be chosen, or the altitude is not known."""
    from ...plant.reaction import setting_height
    from ...water import air_pressure, pressure_to_head

    kind, given = study.site.turbine.kind, study.site.turbine.cavitation
    if study.head is None or study.altitude_m is None:
        return None
    if kind in CAVITATION:
        kinds = [str(kind)]
    elif study.exists or study.machine_choice is None:
        return None
    else:
        suited = study.machine_choice.kinds
        kinds = [each.kind for each in suited if each.kind in CAVITATION and each.score > 0]
    house = max(study.altitude_m - study.head.value, _LOWEST_LAND_M)
    water = max(study.water_temperature_k, _WARM_K)
    made = []
    for each in kinds:
        numbers = (given, given) if given is not None and each == kind else CAVITATION[each]
        low, high = (
            float(min(height, HIGHEST_M))
            for height in setting_height.si(
                study.head.value, np.array(numbers[::-1]), house, water, MARGIN_M
            )
        )
        made.append(Setting(kind=each, cavitation=numbers, height_m=(low, high)))
    if not made:
        return None
    return Settings(
        machines=tuple(made),
        house_m=house,
        carried_m=float(pressure_to_head.si(air_pressure.si(house))),
        water_k=water,
    )
