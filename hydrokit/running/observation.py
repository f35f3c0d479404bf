"""What somebody saw at the plant, and how far it may be off."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import Sequence

import numpy as np

from ..result import Result
from ..units import Given, units

__all__ = ["Noise", "Observation", "Visit", "gathered", "observation"]


@dataclass(frozen=True, eq=False)
class Observation:
    """One look at the plant. SI; what was not read is NaN or None.

    Parameters
    ----------
    jets : int
        Valves of jets open; 0: everything shut, the needle at rest.
    pressure_pa : float
        As the gauge shows it, its known zero error taken off.
    power_w : float
    flow_m3s : float
        Measured into the pipe: what comes to the pond less what spills.
    spilling, fluctuates : bool or None
        Whether the pond spills; whether the needle fluctuates.
    falls : bool or None
        Whether the needle falls with the jets and the valve at the top of the pipe shut.
    air_k, water_k : float
    true_pa : float
        Pressure on another gauge, one that is known to be right.
    name : str
    """

    jets: int
    pressure_pa: float = np.nan
    power_w: float = np.nan
    _: KW_ONLY
    flow_m3s: float = np.nan
    spilling: bool | None = None
    fluctuates: bool | None = None
    falls: bool | None = None
    air_k: float = np.nan
    water_k: float = np.nan
    true_pa: float = np.nan
    name: str = ""


@units(
    None,
    jets="count",
    pressure="Pa",
    power="W",
    volts="V",
    amps="A",
    power_factor="ratio",
    flow="m^3/s",
    air="K",
    water="K",
    other_gauge="Pa",
)
def observation(
    jets: Given,
    pressure: Given = None,
    power: Given = None,
    volts: Given = None,
    amps: Given = None,
    power_factor: Given = 1.0,
    flow: Given = None,
    spilling: bool | None = None,
    fluctuates: bool | None = None,
    falls: bool | None = None,
    air: Given = None,
    water: Given = None,
    other_gauge: Given = None,
    name: str = "",
) -> Observation:
    """One look at the plant; give what was read.

    Parameters
    ----------
    jets : int
        Valves of jets open; 0: everything shut.
    pressure : Quantity or str [pressure], optional
        Gauge pressure.
    power : Quantity or str [power], optional
        Watts; or give `volts` and `amps`.
    volts, amps : Quantity or str, optional
    power_factor : number
        1 for direct current and heaters.
    flow : Quantity or str [volume/time], optional
        Measured into the pipe.
    spilling, fluctuates : bool, optional
        Whether the pond spills; whether the needle fluctuates.
    falls : bool, optional
        Whether the needle falls with the jets and the valve at the top of the pipe shut.
    air, water : Quantity or str [temperature], optional
    other_gauge : Quantity or str [pressure], optional
        Pressure on another gauge, one that is known to be right.
    name : str

    Returns
    -------
    Observation

    References
    ----------
    .. [1] Power is volts times amperes times the power factor.

    Examples
    --------
    >>> observation(4, "2.6 bar", volts="240 V", amps="5.9 A", spilling=False).power_w
    1416.0
    >>> round(observation(4, "37.5 psi", air="20 degF").pressure_pa)
    258553
    """
    if power is None and volts is not None and amps is not None:
        power = volts * amps * power_factor

    def known(value: float | None) -> float:
        return np.nan if value is None else float(value)

    return Observation(
        int(jets),
        pressure_pa=known(pressure),
        power_w=known(power),
        flow_m3s=known(flow),
        spilling=spilling,
        fluctuates=fluctuates,
        falls=falls,
        air_k=known(air),
        water_k=known(water),
        true_pa=known(other_gauge),
        name=name,
    )


# Edges in probability of the values that scatter of uncertain size is tried at: finer in the tails.
_BINS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)


@dataclass(frozen=True)
class Noise(Result):
    """Standard deviations of what is read.

    Parameters
    ----------
    pressure : float
        As a share of the pressure with everything shut.
    power, flow : float
        As a share of the reading.
    degrees : float
        Degrees of freedom with which pressure and power are known; infinite: they are certain.
    """

    pressure: float = 0.015
    power: float = 0.02
    flow: float = 0.08
    _: KW_ONLY
    degrees: float = np.inf

    @property
    def certain(self) -> Noise:
        """The same, taken as certain."""
        return replace(self, degrees=np.inf)

    def scales(self) -> tuple[np.ndarray, np.ndarray]:
        r"""By how much the true deviations may be larger or smaller than these, and the chance of each.

        With ν degrees of freedom the square of the factor goes as :math:`\nu/\chi^2_\nu`.
        """
        if not np.isfinite(self.degrees):
            return np.ones(1), np.ones(1)
        from scipy.special import gammaincinv

        edges = np.array(_BINS)
        chance = np.diff(edges)
        within = 2 * gammaincinv(self.degrees / 2, 1 - (edges[1:] + edges[:-1]) / 2)
        return np.sqrt(self.degrees / within), chance


@dataclass(frozen=True, eq=False)
class Visit:
    """What was seen in one go, the plant in one state.

    Parameters
    ----------
    when : datetime64
        When it began.
    looks : list of Observation
    source : str
        Where it is written.
    """

    when: np.datetime64
    looks: list[Observation]
    source: str = ""


def gathered(
    time: np.ndarray, observations: Sequence[Observation], source: str = "", hours: float = 3.0
) -> list[Visit]:
    """Observations in order of time, gathered into visits.

    What is read within `hours` with other jets open belongs together: jets were changed to learn
    more. The same jets read again mean that something was done between.

    Parameters
    ----------
    time : ndarray of datetime64
        Rising; a date alone counts for the whole day.
    observations : sequence of Observation
    source : str
        Where they are written.
    hours : float

    Returns
    -------
    list of Visit
    """
    found: list[Visit] = []
    for when, seen in zip(np.asarray(time, dtype="datetime64[s]"), observations):
        last = found[-1] if found else None
        if (
            last
            and when - last.when <= np.timedelta64(int(hours * 3600), "s")
            and seen.jets not in {each.jets for each in last.looks}
        ):
            last.looks.append(seen)
        else:
            found.append(Visit(when, [seen], source))
    return found
