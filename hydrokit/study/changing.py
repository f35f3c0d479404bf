"""From the changes a site file names to a staircase: what each does to the plant, and what that is worth."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Callable

import numpy as np

from ..errors import HydrokitError
from . import choosing
from . import site as build

__all__ = ["base_case", "changes", "measure_next", "rules_price", "upgrades"]

WORLDS = 24
ALL_MONTHS = tuple(range(1, 13))


def base_case(study: Any) -> Any:
    """The plant as it stands, on the days of its record or on the months it was gauged in; or None.

    None too where the record is too short to hold every month: there is no year to change then.
    """
    from ..energy.cases import Case, Taken

    if study.plant is None or (study.record is not None and study.year is None):
        return None
    if study.record is None:
        usable = _gauged_months(study)
    else:
        usable = Taken(study.record, study.rights) if study.rights.has_memory else study.usable
    return None if usable is None else Case(study.plant, usable, build.outages(study.site))


def _gauged_months(study: Any) -> dict[int, float] | None:
    """Usable flow of each month that was gauged: the mean of its gaugings, less what must stay."""
    gauged = study.gaugings
    if gauged is None:
        return None
    months = np.array([int(str(np.datetime64(day, "M"))[5:7]) for day in gauged.date])
    return {int(month): float(study.rights.usable_si(np.exp(np.log(gauged.flow_m3s[months == month]).mean()), month)) for month in np.unique(months)}


def changes(study: Any) -> tuple[Any, ...]:
    """The changes the site file names, each ready to be made."""
    return tuple(study.folder.sentence(f"[[upgrade]] {number}", lambda entry=entry: _upgrade(study, entry)) for number, entry in enumerate(study.site["upgrade"], 1))


def upgrades(study: Any) -> Any:
    """The changes of the site file as a staircase, or None where there are none or no plant."""
    from ..energy.upgrades import draw_worlds, staircase, watts, year_kwh

    changes, case = study.changes, study.base_case
    if not changes or case is None:
        return None
    costs = choosing.costs(study.site)
    doubt = build.uncertainties(study)
    if study.record is not None:
        evaluate, aim, value = year_kwh(study.demand_w, study.winter), "useful_kwh" if study.demand_w is not None else "kwh", None
        worlds = draw_worlds(doubt, WORLDS, natural=study.record, rights=study.rights)
    else:
        evaluate, aim = watts(study.winter), "mean_w"
        value = None if costs is None or costs.value_money_per_kwh is None else 8.766 * costs.value_money_per_kwh
        worlds = draw_worlds(doubt, WORLDS)
    return study.folder.sentence("[[upgrade]]", lambda: staircase(case, changes, evaluate, aim, costs, value, worlds))


def rules_price(study: Any) -> Any:
    """Energy given up to each rule on the creek's water, or None without a year."""
    from ..energy.worth import given_up

    return None if study.year is None else given_up(study.record, study.rights, study.plant.curves(), build.outages(study.site), study.winter)


def measure_next(study: Any) -> Any:
    """Measurements in the order in which they would narrow the annual energy, or None without a year."""
    from ..energy.worth import what_to_measure_next

    if study.doubt is None:
        return None
    return what_to_measure_next(
        study.record, study.rights, study.plant.curves(), study.rating, study.record_uncertainty, study.doubt.tornado, build.outages(study.site)
    )


# --- what a change does ---------------------------------------------------------------------


def _upgrade(study: Any, entry: dict) -> Any:
    from ..energy.upgrades import Upgrade

    months = entry.get("months", ALL_MONTHS)
    acts = [act for key, make in _ACTS.items() if key in entry for act in (make(study, entry, months),)]
    all_year = [key for key in _ACTS if key in entry and key not in _BY_MONTH]
    if "months" in entry and all_year:
        raise HydrokitError(f"'{entry['name']}': {all_year[0]} acts all year; months go with {', '.join(_BY_MONTH)}")
    if not acts:
        raise HydrokitError(f"'{entry['name']}' changes nothing; name what it changes: {', '.join(_ACTS)}")

    def apply(case: Any) -> Any:
        for act in acts:
            case = act(case)
        return replace(case, chain=build.refitted(study, case.chain)) if set(_REBUILDS) & set(entry) else case

    return Upgrade(entry["name"], apply, entry.get("cost", 0.0), entry.get("life"), entry.get("months", ()), entry.get("needs", ()), handling="close_jets" in entry or "jets_as_fed" in entry)


def _pipe(study: Any, entry: dict, months: tuple) -> Callable:
    from ..works.catalogue import pipe_size
    from ..works.pipe import Line

    if study.penstock is None:
        raise HydrokitError("a new pipe needs the old one described under [[penstock.pipe]]")
    line = Line((pipe_size(entry["pipe"]).pipe(study.penstock.length_m, None, sum(pipe.fittings for pipe in study.penstock.pipes)),))
    return lambda case: replace(case, chain=case.chain.replace(penstock=replace(case.chain.penstock, line=line, loss_factor=1.0)))


def _jets(study: Any, entry: dict, months: tuple) -> Callable:
    count, bore = entry.get("jets"), entry.get("jet_diameter")

    def act(case: Any) -> Any:
        nozzles = case.chain.jets
        if not hasattr(nozzles, "diameters_m"):
            raise HydrokitError("only fixed jets can be added or bored out; this machine is adjustable")
        number = nozzles.count if count is None else int(count)
        # More jets of the bore there is: a worn or doubtful area factor holds for the new ones too.
        return replace(case, chain=case.chain.replace(jets=replace(nozzles, diameters_m=(bore or nozzles.diameters_m[0],) * number)))

    return act


def _intake(study: Any, entry: dict, months: tuple) -> Callable:
    """A new intake takes the place of the rated one and of every screen above the pond."""
    from ..works.rated import Rated

    def act(case: Any) -> Any:
        chain = case.chain
        supply = chain.supply
        if "capacity" in entry:
            supply = (Rated(entry["capacity"], name="intake"), *(part for part in supply if not catches(part)))
        shares = entry.get("clogged", (None,) * 12)
        states = tuple(_states(told, supply, share) for told, share in zip(chain.states, shares))
        return replace(case, chain=chain.replace(supply=supply, states=states))

    return act


def catches(part: Any) -> bool:
    """Whether leaves and ice settle on a part: a rated intake or a screen, not a line or a meadow."""
    from ..works import screen_parts
    from ..works.rated import as_built

    part = as_built(part)
    return part.name == "intake" or isinstance(part, (screen_parts.Screen, screen_parts.DrilledPipe, screen_parts.BarRack, screen_parts.BottomRack, screen_parts.TiltedScreen))


def _states(told: Any, supply: tuple, share: float | None) -> dict[str, Any]:
    """A month's states part by part; what catches leaves is blocked by a share where one is given."""
    from ..plant.chain import part_name, state_of

    by_part = {part_name(part): state_of(told, part) for part in supply}
    blocked = {} if share is None else {part_name(part): replace(by_part[part_name(part)], clogged=share) for part in supply if catches(part)}
    return by_part | blocked


def _efficiency(study: Any, entry: dict, months: tuple) -> Callable:
    """A better runner: the curve of the old one at part load, lifted in the ratio of their best."""
    if study.site["machine"]:
        raise HydrokitError("a new efficiency cannot be given to several machines at once; give it under [[machine]]")

    def act(case: Any) -> Any:
        chain = case.chain
        # without a generator of its own the chain's efficiency is from water to wire, and that of the old runner must be told
        told = study.site["turbine"].get("efficiency")
        old = chain.best_efficiency if chain.electric else None if told is None else told.value
        if old is None:
            raise HydrokitError(f"'{entry['name']}' gives the efficiency of a new runner, but of the old plant only that from water to wire is known; give [turbine] efficiency, that of the old runner")
        return replace(case, chain=chain.factors(efficiency=entry["efficiency"] / old))

    return act


def _cable(study: Any, entry: dict, months: tuple) -> Callable:
    """A heavier cable in the place of the old; where only watts at its end are known, by the share it saves."""
    from ..plant.parts import Wire

    new_site = {**study.site, "cable": {**study.site["cable"], "size": entry["cable_size"]}}
    if not build.wire(study.site) or not build.wire(new_site):
        raise HydrokitError("a heavier cable needs the old one described: [cable] size, length and voltage")

    def act(case: Any) -> Any:
        old, new = build.wire(study.site), build.wire(new_site)
        if any(isinstance(part, Wire) for part in case.chain.electric):
            return replace(case, chain=case.chain.replace(electric=tuple(new[0] if isinstance(part, Wire) else part for part in case.chain.electric)))
        full = float(case.chain.running().at_si(1e3).power_w)
        gain = float(new[0].output_si(full) / old[0].output_si(full))
        return replace(case, chain=case.chain.factors(efficiency=gain))

    return act


def _unplanned(study: Any, entry: dict, months: tuple) -> Callable:
    return lambda case: replace(case, outages=replace(case.outages, unplanned=entry["unplanned"]))


def _close(study: Any, entry: dict, months: tuple) -> Callable:
    from ..energy.upgrades import close_jets

    return lambda case: replace(case, chain=close_jets(case.chain, int(entry["close_jets"]), months))


def _as_fed(study: Any, entry: dict, months: tuple) -> Callable:
    def act(case: Any) -> Any:
        rules = tuple(None if month in months else rule for month, rule in enumerate(case.chain.schedule, 1))
        return replace(case, chain=case.chain.replace(schedule=rules))

    return act


def _water(study: Any, entry: dict, months: tuple) -> Callable:
    from ..energy.upgrades import add_water

    return lambda case: replace(case, usable=add_water(case.usable, entry["extra_flow"], months))


_REBUILDS = ("pipe", "jets", "jet_diameter", "efficiency")  # after which a generator of another size is bought
_BY_MONTH = ("close_jets", "jets_as_fed", "extra_flow")
# Key of an [[upgrade]] -> what it does to a case. A new kind of change is one row here and in the schema.
_ACTS = {
    "pipe": _pipe, "jets": _jets, "jet_diameter": _jets, "capacity": _intake, "clogged": _intake, "efficiency": _efficiency,
    "cable_size": _cable, "unplanned": _unplanned, "close_jets": _close, "jets_as_fed": _as_fed, "extra_flow": _water,
}  # fmt: skip
