"""What each kind of change does to the plant."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Callable

import numpy as np

from ...errors import HydrokitError
from ..attended import attended
from . import capacity, losses
from . import diversion as build_diversion
from . import plant as build_plant
from .clogging import catches

if TYPE_CHECKING:
    from ...energy.cases import Case, Upgrade
    from ...site.schema_money import Upgrade as UpgradeKeys
    from ..study import Study

__all__ = ["ACTS", "finished_by", "spoken_progress", "upgrade_of"]
ALL_MONTHS = tuple(range(1, 13))
SECONDS_BETWEEN = 2.0  # two lines that tell how far the weighing of many changes is


# --- what a change does ---------------------------------------------------------------------


def upgrade_of(study: Study, entry: UpgradeKeys) -> Upgrade:
    from ...energy.cases import Upgrade

    if entry.jets_as_fed is False:  # not asked for
        entry = entry.changed(jets_as_fed=None)
    months = entry.months
    acts = [
        make(study, entry, months)
        for make in dict.fromkeys(make for key, make in ACTS.items() if key in entry)
    ]
    all_year = [key for key in ACTS if key in entry and key not in _BY_MONTH]
    if entry.given("months") and all_year:
        raise HydrokitError(
            f"'{entry.name}': {all_year[0]} acts all year; months go with {', '.join(_BY_MONTH)}"
        )
    if not acts:
        raise HydrokitError(
            f"'{entry.name}' changes nothing; name what it changes: {', '.join(ACTS)}"
        )

    def apply(case: Case) -> Case:
        for act in acts:
            case = act(case)
        return case

    return Upgrade(
        entry.name,
        apply,
        entry.cost,
        life_years=entry.life,
        months=entry.months if entry.given("months") else (),
        needs=entry.requires,
        handling="close_jets" in entry or "jets_as_fed" in entry,
        kind=" ".join(key for key in ACTS if key in entry),
        sizes=tuple(
            (key, name, entry[key], kind) for key, (name, kind) in _SIZES.items() if key in entry
        )
        + ((("jets_as_fed", "jets", "opened as fed", "text"),) if "jets_as_fed" in entry else ()),
    )


def finished_by(study: Study) -> Callable[[Any, Any], Any]:
    """What follows from changes: where the power of the plant changes, a generator of another size
    is bought."""
    rebuilt = {entry.name for entry in study.site.upgrade if set(_REBUILDS) & set(entry)}
    return lambda case, names: (
        replace(case, chain=build_plant.refitted(study, case.chain)) if rebuilt & names else case
    )


def _pipe(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    from ...works.pipe import Line
    from ...works.pipe_sizes import pipe_size

    if study.penstock is None:
        raise HydrokitError("a new pipe needs the old one described under [[penstock.pipe]]")
    line = Line(
        (
            pipe_size(str(entry.pipe)).pipe(
                study.penstock.length_m,
                None,
                sum((pipe.fittings for pipe in study.penstock.pipes), 0.0),
            ),
        )
    )
    return lambda case: replace(
        case,
        chain=case.chain.replace(penstock=replace(case.chain.penstock, line=line, loss_factor=1.0)),
    )


def _jets(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    from ...plant.parts import FixedJets

    count, bore = entry.jets, entry.jet_diameter

    def act(case: Case) -> Case:
        nozzles = case.chain.jets
        if not isinstance(nozzles, FixedJets):
            raise HydrokitError(
                "only fixed jets can be added or bored out; this machine is adjustable"
            )
        number = nozzles.count if count is None else int(count)
        # More jets of the bore that the last one has: a worn or doubtful area factor holds for the
        # new ones too.
        bores = (
            (bore,) * number
            if bore
            else (*nozzles.diameters_m, *(nozzles.diameters_m[-1:] * number))
        )
        return replace(
            case, chain=case.chain.replace(jets=replace(nozzles, diameters_m=bores[:number]))
        )

    return act


def _intake(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    """A new intake takes the place of the rated one and of every screen above the forebay."""
    from ...works.rated import Rated

    def act(case: Case) -> Case:
        chain = case.chain
        supply = chain.supply
        if "capacity" in entry:
            supply = (
                Rated(entry.capacity, name="intake"),
                *(part for part in supply if not catches(part)),
            )
        shares = (None,) * 12 if entry.clogged is None else entry.clogged
        states = tuple(_states(told, supply, share) for told, share in zip(chain.states, shares))
        return replace(case, chain=chain.replace(supply=supply, states=states))

    return act


def _states(told: Any, supply: tuple, share: float | None) -> dict[str, Any]:
    """A month's states part by part; what catches leaves is blocked by a share where one is given."""
    from ...plant.chain import state_of
    from ...plant.parts import part_name

    by_part = {part_name(part): state_of(told, part) for part in supply}
    blocked = (
        {}
        if share is None
        else {
            part_name(part): replace(by_part[part_name(part)], clogged=share)
            for part in supply
            if catches(part)
        }
    )
    return by_part | blocked


def _efficiency(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    """A better runner: the curve of the old one at part load, lifted in the ratio of their best."""
    if study.site.machine:
        raise HydrokitError(
            "a new efficiency cannot be given to several machines at once; give it under [[machine]]"
        )

    def act(case: Case) -> Case:
        chain = case.chain
        # without a generator of its own the chain's efficiency is from water to wire, and that of
        # the old runner must be told
        told = study.site.turbine.efficiency
        old = chain.best_efficiency if chain.electric else None if told is None else told.value
        if old is None:
            raise HydrokitError(
                f"'{entry.name}' gives the efficiency of a new runner, but of the old plant "
                "only that from water to wire is known; give [turbine] efficiency, that of "
                "the old runner"
            )
        # in the place of whatever runner was chosen before it
        standing = 1.0 if study.plant is None else study.plant.runner.efficiency_factor
        before = chain.runner.efficiency_factor / standing
        better = chain.factors(efficiency=(entry.efficiency or 0.0) / old / before)
        # a new runner is bought with the speed that suits the plant it comes to
        return replace(
            case, chain=better.replace(runner=replace(better.runner, suited=None)).installed()
        )

    return act


@dataclass(frozen=True)
class _Saved:
    """What a heavier cable saves of watts that were metered at its end."""

    gain: float
    name: str = "cable"

    def output_si(self, input_w: Any) -> Any:
        return self.gain * np.asarray(input_w)


def _cable(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    """A heavier cable in the place of the old; where only watts at its end are known, by the share
    it saves."""
    from ...plant.wire import Wire

    new_site = study.site.changed(cable=study.site.cable.changed(size=entry.cable_size))
    if not losses.wire(study.site) or not losses.wire(new_site):
        raise HydrokitError(
            "a heavier cable needs the old one described: [cable] size, length and voltage"
        )

    def act(case: Case) -> Case:
        old, new = losses.wire(study.site), losses.wire(new_site)
        if any(isinstance(part, Wire) for part in case.chain.electric):
            return replace(
                case,
                chain=case.chain.replace(
                    electric=tuple(
                        new[0] if isinstance(part, Wire) else part for part in case.chain.electric
                    )
                ),
            )
        bare = tuple(part for part in case.chain.electric if not isinstance(part, _Saved))
        full = float(case.chain.replace(electric=bare).running().at_si(1e3).power_w)
        return replace(
            case,
            chain=case.chain.replace(
                electric=(*bare, _Saved(float(new[0].output_si(full) / old[0].output_si(full))))
            ),
        )

    return act


def _unplanned(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    return lambda case: replace(case, outages=replace(case.outages, unplanned=entry.unplanned))


def _close(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    from ...energy.cases import close_jets

    return lambda case: replace(
        case,
        chain=close_jets(case.chain, entry.close_jets or 0, months),
        jets_set=tuple(sorted({*case.jets_set, *months})),
    )


def _as_fed(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    def act(case: Case) -> Case:
        rules = tuple(
            None if month in months else rule for month, rule in enumerate(case.chain.schedule, 1)
        )
        return replace(
            case,
            chain=case.chain.replace(schedule=rules),
            jets_set=tuple(sorted({*case.jets_set, *months})),
        )

    return act


def _water(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    more = (entry.extra_flow or 0.0) * np.isin(ALL_MONTHS, months)
    return lambda case: replace(
        case, brought_m3s=more if case.brought_m3s is None else case.brought_m3s + more
    )


def spoken_progress() -> Callable[[str], None]:
    """Tells on the screen how far the weighing of many changes is, now and then; nobody watches the
    runner's kernel."""
    last = time.monotonic()

    def say(line: str) -> None:
        nonlocal last
        if attended() and time.monotonic() - last > SECONDS_BETWEEN:
            last = time.monotonic()
            print(line, file=sys.stderr, flush=True)

    return say


def _new_line(study: Study, entry: UpgradeKeys, months: tuple[int, ...]) -> Callable:
    """Another pipe for the line from creek to forebay, or more vents on it."""
    from ...works.diversion import DiversionLine
    from ...works.rated import as_built

    if study.diversion_line is None:
        raise HydrokitError(
            "diversion_pipe and diversion_vents change the line from creek to forebay, which "
            "is not described: give [diversion] profile and its size or inside_diameter"
        )
    relaid = (
        None
        if entry.diversion_pipe is None
        else build_diversion.relaid(study, entry.diversion_pipe)
    )
    vents = build_diversion.vents_along(study, entry.diversion_vents)

    def act(case: Case) -> Case:
        place = next(
            number
            for number, part in enumerate(case.chain.supply)
            if isinstance(as_built(part), DiversionLine)
        )
        old = as_built(case.chain.supply[place])
        line = old.line if relaid is None else replace(relaid, vents_m=old.line.vents_m)
        line = replace(line, vents_m=tuple(sorted({*line.vents_m, *vents})))
        new = replace(
            old,
            line=line,
            carries_m3s=capacity.carried_by_line(study, place > 0, line).flow_m3s,
        )
        supply = (*case.chain.supply[:place], new, *case.chain.supply[place + 1 :])
        return replace(case, chain=case.chain.replace(supply=supply))

    return act


_REBUILDS = (
    "capacity",
    "diversion_pipe",
    "diversion_vents",
    "pipe",
    "jets",
    "jet_diameter",
    "efficiency",
)  # after which a generator of another size is bought
# Key of an [[upgrade]] -> how what is then there is called, and the kind it is shown as.
_SIZES = {
    "extra_flow": ("water brought in", "flow"),
    "capacity": ("intake", "flow"),
    "diversion_pipe": ("line from the creek", "text"),
    "pipe": ("penstock", "text"),
    "jets": ("jets", "count"),
    "jet_diameter": ("bore of the jets", "diameter"),
    "efficiency": ("runner", "share"),
    "cable_size": ("cable", "text"),
    "unplanned": ("unplanned stops", "share"),
    "close_jets": ("jets closed", "count"),
}
_BY_MONTH = ("close_jets", "jets_as_fed", "extra_flow")
# Key of an [[upgrade]] -> what it does to a case, along the water: in this order they are made. A
# new kind of change is one row here and in the schema.
ACTS = {
    "extra_flow": _water,
    "capacity": _intake,
    "clogged": _intake,
    "diversion_pipe": _new_line,
    "diversion_vents": _new_line,
    "pipe": _pipe,
    "jets": _jets,
    "jet_diameter": _jets,
    "efficiency": _efficiency,
    "cable_size": _cable,
    "unplanned": _unplanned,
    "close_jets": _close,
    "jets_as_fed": _as_fed,
}
