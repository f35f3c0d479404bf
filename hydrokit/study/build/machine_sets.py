"""Several machines on one pipe: which of them run at which flow, and what each set brings in a year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import sure
from ...plant.curve import STOPPED
from ...result import Result
from ...stream.days import days_of

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["MachineSet", "MachineSets", "SharedJets", "machine_sets", "shared_jets"]


@dataclass(frozen=True, eq=False, kw_only=True)
class MachineSet:
    """Machines that run together, and the flows at which no other set gives more.

    Parameters
    ----------
    names : tuple of str
    from_m3s, to_m3s : float
        Usable flows between which it gives most; NaN where it never does, `to` also where nothing follows.
    most_w : float
        Greatest power there.
    kwh, days : float
        Of a mean year; NaN without a record.
    share : float
        Of the energy of all sets.
    """

    names: tuple[str, ...]
    from_m3s: float
    to_m3s: float
    most_w: float
    kwh: float = np.nan
    days: float = np.nan
    share: float = np.nan


@dataclass(frozen=True, eq=False, kw_only=True)
class MachineSets:
    """All sets of the machines on one pipe.

    Parameters
    ----------
    sets : tuple of MachineSet
    begins_m3s : float
        Usable flow from which the plant runs.
    all_from_m3s : float
        From which all machines run together; NaN where they never give most.
    """

    sets: tuple[MachineSet, ...]
    begins_m3s: float
    all_from_m3s: float

    @property
    def busiest(self) -> MachineSet | None:
        """The set that brings most of the energy; None without a record, or where nothing is made."""
        known = [each for each in self.sets if each.share > 0]
        return max(known, key=lambda each: each.share, default=None)


@dataclass(frozen=True, eq=False, kw_only=True)
class SharedJets(Result):
    """One of several machines that share the jets of the plant, opened after those before it.

    Parameters
    ----------
    name : str
    jets : str
        ``jet 1`` or ``jets 2 to 4``.
    flow_m3s, power_w : float
        With its jets open and those of the machines before it.
    """

    name: str
    jets: str
    flow_m3s: float
    power_w: float


def shared_jets(study: Study) -> tuple[SharedJets, ...]:
    """The machines that share fixed jets, in the order in which they are opened; none where they do not."""
    from .machines import groups

    known = study.expectation
    if known is None:
        return ()
    found = []
    for each in groups(study):
        place = int(np.flatnonzero(known.jets == each.last)[0])
        found.append(
            SharedJets(
                name=each.name,
                jets=each.jets,
                flow_m3s=float(known.flow_m3s[place]),
                power_w=float(known.power_w[place]),
            )
        )
    return tuple(found)


def machine_sets(study: Study) -> MachineSets | None:
    """The sets of the machines of a plant; None where there is one machine, or all are alike."""
    if study.plant is None or not study.site.machine:
        return None
    sets = getattr(study.plant.jets, "sets", ())
    if len(sets) < 2:
        return None
    # among these flows is every one at which another set begins to give most
    flow = np.unique(study.plant.curve().flow_m3s)
    found = study.plant.running().at_si(flow)
    kwh, days = _by_set(study, study.plant) or (np.full(len(sets), np.nan),) * 2
    whole = float(kwh.sum())
    made = []
    for number, names in enumerate(sets):
        here = np.flatnonzero(found.opening == number)
        after = here[-1] + 1 if len(here) else len(flow)
        made.append(
            MachineSet(
                names=tuple(names),
                from_m3s=float(flow[here[0]]) if len(here) else np.nan,
                to_m3s=float(flow[after]) if after < len(flow) else np.nan,
                most_w=float(found.power_w[here].max()) if len(here) else np.nan,
                kwh=float(kwh[number]),
                days=float(days[number]),
                share=float(kwh[number]) / whole if whole > 0 else np.nan,
            )
        )
    return MachineSets(
        sets=tuple(made),
        begins_m3s=float(flow[np.argmax(found.opening >= 0)]),
        all_from_m3s=made[-1].from_m3s,
    )


def _by_set(study: Study, plant: Chain) -> tuple[np.ndarray, np.ndarray] | None:
    """Energy of a mean year in kWh, and days, of each set of machines; None without a record."""
    from . import year as build_year

    if study.year is None:
        return None
    usable = sure(build_year.taken(study)).dropna()
    flow, month = usable.to_numpy(), np.asarray(days_of(usable).month)
    kwh, days = (np.zeros(len(plant.jets.openings())) for _ in range(2))
    for months in plant.alike():
        found = plant.at_si(flow[np.isin(month, months)], months[0])
        runs = found.state != STOPPED
        kwh += np.bincount(found.opening[runs], found.power_w[runs] * 0.024, len(kwh))
        days += np.bincount(found.opening[runs], minlength=len(kwh))
    years = len(usable) / 365.25
    return kwh / years, days / years
