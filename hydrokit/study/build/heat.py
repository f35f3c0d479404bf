"""From a study to what its watts keep warm, and who gets them first."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...result import Result
from ...sentences import Amount, Sentence
from .demand import other_w

if TYPE_CHECKING:
    import datetime

    from ...plant.fuel import FuelSaved
    from ...plant.heat import Measured
    from ...plant.heat_balance import Shares
    from ...running.winter import HeatHeld
    from ...site.schema_use import Night, Room
    from ..study import Study

__all__ = ["HeatYear", "House", "Sharing", "Warmth", "house", "sharing", "warmth"]

FLOOR_SHARE = (
    0.5  # of the full difference, that a floor over ground or cellar sees; common practice
)


# --- what the watts keep warm ---------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class House(Result):
    """How fast the heated rooms lose heat.

    Parameters
    ----------
    conductance_w_k : float
        The one that counts.
    source : str
        Which of them: ``"measured nights"``, ``"room list"``, ``"site file"``.
    known : dict of str to float
        All of them in W/K, the one that counts first.
    rooms : tuple of (str, float)
    nights : tuple of plant.heat.Measured
    spread : float
        Relative spread between the measured nights; NaN with fewer than two.
    findings : tuple of Finding
    dates : tuple
        Of the nights, as far as they are given; None else.
    """

    conductance_w_k: float
    source: str
    known: dict[str, float]
    _: KW_ONLY
    rooms: tuple[tuple[str, float], ...]
    nights: tuple[Measured, ...]
    spread: float
    findings: tuple[Finding, ...]
    dates: tuple[datetime.date | None, ...] = ()


_SURFACES = ("walls", "windows", "doors", "roof", "floor")
_APART = (
    0.25  # two ways to the same conductance farther apart than this do not speak of the same house
)


def house(study: Study) -> House | None:
    """Conductance of the heated rooms: as measured by night, summed from the rooms, or as the site
    file says; or None."""
    loads = study.site.loads
    rooms = tuple(
        (entry.name, _room(study, number, entry)) for number, entry in enumerate(study.site.room, 1)
    )
    nights = tuple(_night(study, number, entry) for number, entry in enumerate(loads.night, 1))
    by_night = np.array([each.conductance_w_k for each in nights])
    known = {}
    # measured before calculated, calculated before assumed
    if nights:
        known["measured nights"] = float(by_night.mean())
    if rooms:
        known["room list"] = float(sum(ua for _, ua in rooms))
    if loads.heated_ua is not None:
        known["site file"] = loads.heated_ua
    known = {name: value for name, value in known.items() if value > 0}
    if not known:
        return None
    source, value = next(iter(known.items()))
    findings = [each for night in nights for each in night.findings]
    for name, other in known.items():
        if abs(other / value - 1) > _APART:
            findings.append(
                Finding(
                    "caution",
                    "house",
                    Sentence(
                        "{other} by the {name} and {value} by the {source} are far apart: one "
                        "of them is not of this house, or a window stood open",
                        other=Amount(other, "heat loss"),
                        name=name,
                        value=Amount(value, "heat loss"),
                        source=source,
                    ),
                )
            )
        elif name == "site file" and not np.isclose(other, value, rtol=0.005):
            findings.append(
                Finding(
                    "note",
                    "house",
                    Sentence(
                        "[loads] heated_ua of {other} does not count: the {source} {gives} {value}",
                        other=Amount(other, "heat loss"),
                        source=source,
                        gives="gives" if source == "room list" else "give",
                        value=Amount(value, "heat loss"),
                    ),
                )
            )
    spread = float(by_night.std(ddof=1) / by_night.mean()) if len(nights) > 1 else np.nan
    return House(
        value,
        source,
        known,
        rooms=rooms,
        nights=nights,
        spread=spread,
        findings=tuple(findings),
        dates=tuple(entry.date for entry in loads.night),
    )


def _room(study: Study, number: int, entry: Room) -> float:
    """Conductance of one room: as given, or from its surfaces and its air."""
    from ...plant.heat import house_conductance

    where = f"[[room]] {number}"
    if entry.ua is not None:
        return entry.ua
    listed = [name for name in _SURFACES if name in entry]
    lacking = [name for name in listed if f"u_{name}" not in entry]
    if lacking:
        raise study.folder.wrong(
            where,
            (
                f"gives the area of its {lacking[0]} but not how much heat they let through; add "
                f'u_{lacking[0]} = "0.4 W/m^2/K", or give ua for the whole room'
            ),
        )
    if not listed and "volume" not in entry:
        raise study.folder.wrong(
            where,
            (
                'says nothing of its heat; give ua = "40 W/K", or walls, windows, roof and floor '
                "with their u_walls, …"
            ),
        )
    if ("volume" in entry) != ("air_changes" in entry):
        raise study.folder.wrong(
            where,
            'needs volume and air_changes together, such as volume = "60 m^3" and air_changes = 0.5',
        )
    shares = [FLOOR_SHARE if name == "floor" else 1.0 for name in listed]
    areas, transmittances = (
        np.array([entry[name] for name in listed]),
        np.array([entry[f"u_{name}"] for name in listed]),
    )
    return float(
        house_conductance.si(
            areas,
            transmittances,
            np.array(shares),
            entry.volume,
            entry.air_changes,
        )
    )


def _night(study: Study, number: int, entry: Night) -> Measured:
    from ...plant.heat import measured_conductance

    return study.folder.sentence(
        f"[[loads.night]] {number}",
        lambda: measured_conductance.si(entry.power, entry.inside, entry.outside, entry.hours),
    )


@dataclass(frozen=True, eq=False)
class Warmth(Result):
    """What the plant keeps warm.

    Parameters
    ----------
    power_w : ndarray of 12
        For heat by month, after the loads served first.
    held_k : ndarray of 12
        Difference to the outdoors that it holds.
    full_w, full_k, winter_w, winter_k : float
        The same with all the water the plant can take and the other loads of a winter month, and in
        the mean of the winter months.
    power_from : str
        Where the watts come from.
    heat : HeatHeld or None
        Against the days on record; None without air temperatures.
    fuels : tuple of FuelSaved
        That stand for the heat met in a mean year; empty without air temperatures.
    other_w : float
        That the other loads take first in the mean of the winter months.
    year : HeatYear or None
        Sums of the mean year; None without air temperatures.
    """

    power_w: np.ndarray
    held_k: np.ndarray
    full_w: float
    _: KW_ONLY
    full_k: float
    winter_w: float
    winter_k: float
    power_from: str
    heat: HeatHeld | None
    fuels: tuple[FuelSaved, ...]
    other_w: float
    year: HeatYear | None


@dataclass(frozen=True, eq=False)
class HeatYear:
    """Heat of a mean year, as energy and as degree-time, and the month in which most is lacking.

    Parameters
    ----------
    needed_j, met_j, needed_ks, met_ks : float
        Of the months whose power and cold are known.
    worst_month : int
        1 to 12.
    months : tuple of int
        Those months.
    """

    needed_j: float
    met_j: float
    needed_ks: float
    _: KW_ONLY
    met_ks: float
    worst_month: int
    months: tuple[int, ...]

    @property
    def unmet_j(self) -> float:
        """Heat to be found elsewhere."""
        return self.needed_j - self.met_j

    @property
    def unmet_ks(self) -> float:
        """The same as degree-time."""
        return self.needed_ks - self.met_ks


def _heat_year(heat: HeatHeld) -> HeatYear:
    lacking = np.nan_to_num(heat.needed_month_j) - np.nan_to_num(heat.met_month_j)
    return HeatYear(
        float(np.nansum(heat.needed_month_j)),
        float(np.nansum(heat.met_month_j)),
        needed_ks=float(np.nansum(heat.needed_month_ks)),
        met_ks=float(np.nansum(heat.met_month_ks)),
        worst_month=int(np.argmax(lacking)) + 1,
        months=tuple((np.flatnonzero(np.isfinite(heat.met_month_j)) + 1).tolist()),
    )


USUAL_FUELS = ("seasoned firewood", "propane")


def warmth(study: Study) -> Warmth | None:
    """What the plant keeps warm, or None where power or house are not known."""
    from ...plant.heat import difference_held
    from .winter import power_by_month

    power, source = power_by_month(study)
    house = study.house
    if house is None or power is None:
        return None
    heat, other = (
        None if study.winter_outlook is None else study.winter_outlook.heat,
        other_w(study),
    )
    # what is left day by day where the days are known: the mean of what is left is more than what
    # is left of the means
    spare = np.maximum(np.broadcast_to(power, 12) - other, 0.0) if heat is None else heat.power_w
    winter_months = np.array(study.winter) - 1
    full = (
        float(np.nanmax(power))
        if study.plant is None
        else float(study.plant.running().at_si(np.inf).power_w)
    )
    first = float(other[winter_months].mean())
    full, winter = max(full - first, 0.0), _mean_known(spare[winter_months])

    def held(watts: np.ndarray | float) -> np.ndarray:
        return difference_held.si(watts, house.conductance_w_k)

    fuels = () if heat is None else _fuels(study, float(np.nansum(heat.met_month_j)))
    return Warmth(
        spare,
        held(spare),
        full,
        full_k=float(held(full)),
        winter_w=winter,
        winter_k=float(held(winter)),
        power_from=source,
        heat=heat,
        fuels=fuels,
        other_w=first,
        year=None if heat is None else _heat_year(heat),
    )


def _mean_known(values: np.ndarray) -> float:
    """Mean of those that are known; NaN of none."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else np.nan


def _fuels(study: Study, met_j: float) -> tuple[FuelSaved, ...]:
    from ...plant.fuel import fuel_saved

    loads = study.site.loads
    if loads.fuel is not None:
        return (
            study.folder.sentence(
                "[loads] fuel", lambda: fuel_saved.si(met_j, loads.fuel, loads.stove)
            ),
        )
    return tuple(fuel_saved.si(met_j, name) for name in USUAL_FUELS)


# --- who gets it first ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Sharing(Result):
    """What each load gets, the first served first, at a few powers of the plant.

    Parameters
    ----------
    names : tuple of str
        Loads in order of priority.
    wanted_w : ndarray
    cases : tuple of (str, float, plant.heat.Shares)
        Name of the case, power of the plant, what comes of it.
    """

    names: tuple[str, ...]
    wanted_w: np.ndarray
    cases: tuple[tuple[str, float, Shares], ...]

    @property
    def short(self) -> tuple[tuple[str, float], ...]:
        """Loads that get less than they would take in the last case, and by how much."""
        least = 0.005 * max(float(self.wanted_w.max()), 1.0)
        lacks = self.cases[-1][2].unmet_w
        return tuple((name, float(w)) for name, w in zip(self.names, lacks) if w > least)


def sharing(study: Study) -> Sharing | None:
    """Power given out in order of priority with plenty of water, in the middle month and in the
    leanest; or None."""
    from ...plant.heat_balance import share_out
    from .winter import power_by_month

    power, _ = power_by_month(study)
    if power is None:
        return None
    wanted = _wants(study)
    if not wanted:
        return None
    power = np.broadcast_to(np.asarray(power, dtype=float), 12)
    if not np.isfinite(power).any():
        return None
    least = int(np.nanargmin(power))
    cases = (
        [("with plenty of water", float(study.plant.running().at_si(np.inf).power_w))]
        if study.plant is not None
        else []
    )
    cases += (
        [("median", float(np.nanmedian(power))), (f"month {least + 1}", float(power[least]))]
        if np.nanmax(power) > np.nanmin(power)
        else []
    )
    return Sharing(
        tuple(wanted),
        np.array(list(wanted.values())),
        tuple((name, watts, share_out.si(max(watts, 0.0), wanted)) for name, watts in cases),
    )


def _wants(study: Study) -> dict[str, float]:
    """What each load would take, in order of priority: the steady demand, the circuits as listed,
    the heat of the rooms."""
    loads, wanted = study.site.loads, {}
    if loads.base_power:
        wanted["steady demand"] = loads.base_power
    for entry in study.site.circuit:
        name, number = entry.name, 2
        while name in wanted:
            name, number = f"{entry.name} ({number})", number + 1
        wanted[name] = entry.power
    heaters = any(entry.kind == "heater" for entry in study.site.circuit)
    outlook = study.winter_outlook
    if study.house is not None and outlook is not None and not heaters:
        cold = float(outlook.climate.cold_k[outlook.climate.coldest_month - 1])
        need = study.house.conductance_w_k * (loads.inside_temperature - cold)
        if need > 0:
            wanted["heat of the rooms on a cold day"] = need
    return wanted
