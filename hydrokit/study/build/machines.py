"""From the site file to several machines on one pipe."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding, HydrokitError, sure
from ...site.schema_plant import Turbine
from ...site.values import Measured

if TYPE_CHECKING:
    from ...plant.turbine import PartLoad
    from ...site.schema import Site
    from ...site.schema_plant import Machine as MachineKeys
    from ..study import Study

__all__ = [
    "Group",
    "adjustable",
    "curve",
    "fed",
    "groups",
    "machines",
    "opened",
    "stated_efficiencies",
    "under_fed_told",
    "users",
    "with_groups",
]


def users(study: Study) -> str:
    """What uses the water: ``"jets"``, ``"machine"`` or ``"machines"``."""
    if opened(study) == "jet":
        return "jets"
    return "machines" if len(study.site.machine) > 1 else "machine"


def fed(study: Study) -> str:
    """The same with its verb: ``the jets pass``, ``the machine passes``."""
    return f"the {users(study)} pass{'es' if users(study) == 'machine' else ''}"


def under_fed_told(study: Study) -> str:
    """That less arrives than all of it could use."""
    return "the jets are under-fed" if opened(study) == "jet" else "the full flow no longer arrives"


def opened(study: Study) -> str:
    """What is opened to let in more water, in one word everywhere: ``"jet"``, or ``"machine"``
    where each follows the water by its own gates."""
    from . import turbine as build_turbine

    turbine, listed = study.site.turbine, bool(study.site.machine)
    if not turbine.given("kind"):
        turbine = turbine.changed(kind="pelton")
    return (
        "machine"
        if listed and adjustable(study.site) or build_turbine.adjustable_name(turbine) != "jets"
        else "jet"
    )


# --- machines whose jets are of fixed bore ----------------------------------------------------


@dataclass(frozen=True)
class Group:
    """The jets of one machine: the first and the last of them, counted in the order in which they
    are opened."""

    name: str
    first: int
    last: int

    @property
    def count(self) -> int:
        """How many they are."""
        return self.last - self.first + 1

    @property
    def jets(self) -> str:
        """``jet 1`` or ``jets 2 to 4``."""
        return f"jet {self.first}" if self.count == 1 else f"jets {self.first} to {self.last}"


def adjustable(site: Site) -> bool:
    """Whether machines are listed whose needles or gates take what water they like.

    Raises
    ------
    HydrokitError
        Machines that are told in neither way, in both, or some in one and some in the other.
    """
    for number, entry in enumerate(site.machine, 1):
        if ("design_flow" in entry) == ("jets" in entry):
            raise HydrokitError(
                f'{_name(entry, number)} needs design_flow, such as "12 L/s", where needles '
                "or gates set its flow, or jets, such as 3, where they are of fixed bore; one "
                "of the two"
            )
    kinds = {"jets" in entry for entry in site.machine}
    if len(kinds) > 1:
        raise HydrokitError(
            "machines with needles or gates and machines with jets of fixed bore do not go "
            "together here; give design_flow for all of them, or jets for all of them"
        )
    return kinds == {False}


def groups(study: Study) -> tuple[Group, ...]:
    """The machines that share the fixed jets of the plant among them; none where no machine is
    listed, or they are adjustable."""
    entries = study.site.machine
    if not entries or adjustable(study.site):
        return ()
    ends = np.cumsum([int(entry["jets"]) for entry in entries])
    return tuple(
        Group(_name(entry, number), int(end - entry["jets"]) + 1, int(end))
        for number, (entry, end) in enumerate(zip(entries, ends), 1)
    )


def with_groups(study: Study, nozzles: Any) -> Any:
    """The jets with the efficiency of the machines they belong to, in the order in which they are opened.

    Jets alike take the same water, so the efficiency of those open is the mean of theirs.
    """
    from ...plant.parts import steady

    shared, known = groups(study), study.site.machine
    if not shared or nozzles is None:
        return nozzles
    if not hasattr(nozzles, "diameters_m"):
        raise HydrokitError(
            "jets of a machine are jets of fixed bore; give design_flow for a machine with needles or gates"
        )
    if shared[-1].last != nozzles.count:
        raise HydrokitError(
            f"the machines have {shared[-1].last} jets together, but [turbine] jets is "
            f"{nozzles.count}; give the jets of all of them there"
        )
    each = [
        _efficiency(study, entry, fixed=True).best
        for entry, group in zip(known, shared)
        for _ in range(group.count)
    ]
    return replace(
        nozzles,
        by_count=tuple(
            steady(float(np.mean(each[:count])), "machines", "of each machine, by its jets")
            for count in range(1, len(each) + 1)
        ),
    )


def stated_efficiencies(site: Site) -> list[float]:
    """Efficiency that the site file states of the machines that are open, from the first to all of
    them, one for each jet, or for each machine without jets; none where no machine has its own."""
    entries, shared = site.machine, site.turbine.efficiency
    each = [
        (share, entry.efficiency if entry.efficiency is not None else shared and shared.value)
        for entry in entries
        for share in ([1.0] * entry.jets if entry.jets else [entry.design_flow or 1.0])
    ]
    if all(entry.efficiency is None for entry in entries) or any(one is None for _, one in each):
        return []
    flows, efficiencies = np.array([[share, sure(one)] for share, one in each]).T
    return list(np.cumsum(flows * efficiencies) / np.cumsum(flows))


STATED_WITHIN = 0.08  # of a stated efficiency, 90 % interval: 1.645 times 5 %; common practice


def overruled(study: Study) -> tuple[Finding, ...]:
    """That the efficiencies told of single machines do not set the power of a plant that was read,
    with both numbers."""
    entries, found = study.site.machine, study.baseline
    told = [entry for entry in entries if "efficiency" in entry]
    if not told or found is None or not np.isfinite(found.efficiency):
        return ()
    generator = study.site.generator
    electric = generator["efficiency"].value if "efficiency" in generator else 1.0
    by_count = stated_efficiencies(study.site)
    if not by_count:
        return ()
    stated = electric * by_count[-1]
    low, high = found.interval("efficiency")
    apart = stated * (1 + STATED_WITHIN) < low or stated * (1 - STATED_WITHIN) > high
    names = " and ".join(
        f"{100 * entry['efficiency']:.0f} % of {_name(entry, number)}"
        for number, entry in enumerate(entries, 1)
        if "efficiency" in entry
    )
    generated = " with that of the generator" if "efficiency" in generator else " at the shaft"
    text = (
        f"[[machine]] efficiency does not set the power: {names} make {100 * stated:.0f} "
        f"%{generated} with all jets open, the readings show {100 * found.efficiency:.0f} % from "
        "the water at the jets to the meter, and what was read counts"
    )
    return (
        Finding(
            "caution" if apart else "note",
            "plant",
            text + ("; they differ by more than both are uncertain" if apart else ""),
        ),
    )


# --- adjustable machines ----------------------------------------------------------------------


def machines(study: Study) -> Any:
    """The machines of the site file; where all are alike, one turbine of so many units."""
    from ...plant.machines import Machines
    from ...plant.parts import Adjustable

    made = _made(study)
    if _alike(study):
        return Adjustable(sum(each.design_flow_m3s for each in made), len(made), name="turbine")
    return Machines(made)


def curve(study: Study) -> Any:
    """Efficiency of one of them where all are alike, else of all together."""
    return _made(study)[0].part_load if _alike(study) else machines(study).part_load


def _alike(study: Study) -> bool:
    told = [
        {key: value for key, value in entry.items() if key != "name"}
        for entry in study.site.machine
    ]
    return all(each == told[0] for each in told)


def _made(study: Study) -> tuple[Any, ...]:
    from ...plant.machines import Machine

    told = study.site.machine
    return tuple(
        Machine(entry["design_flow"], _efficiency(study, entry), _name(entry, number))
        for number, entry in enumerate(told, 1)
    )


def _name(entry: MachineKeys, number: int) -> str:
    return f"machine {number}" if entry.name is None else entry.name


def _efficiency(study: Study, entry: MachineKeys, fixed: bool = False) -> PartLoad:
    """Efficiency of one machine: by its own numbers; where these are lacking, by those under
    [turbine], if it is of that kind."""
    from . import turbine as build_turbine

    shared = study.site.turbine
    kind = shared.kind if entry.kind is None else entry.kind
    told = shared if kind == shared.kind else Turbine(kind=kind)
    if entry.efficiency is not None:
        if study.site.generator.water_to_wire is not None:
            raise HydrokitError(
                "efficiency of a machine alone does not go with [generator] water_to_wire, "
                "which holds it; give one of the two"
            )
        told = told.changed(efficiency_table=None, efficiency=Measured(entry.efficiency, None))
    if entry.minimum_flow is not None:
        told = told.changed(minimum_flow=entry.minimum_flow)
    return build_turbine.efficiency_curve(study, not fixed, told)
