"""From the changes a site file names to a staircase: what each does to the plant, and what that is worth."""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass, replace
from typing import Any, Callable

import numpy as np

from ..errors import HydrokitError
from . import capacity_site, choosing, demand_site, log_site, sizing_net
from . import site as build
from . import works_site as works
from .demand_site import HOURS

__all__ = ["base_case", "changes", "measure_next", "rules_price", "upgrades"]

WORLDS = 24
ALL_MONTHS = tuple(range(1, 13))
KWH_PER_W = 8.766  # of a year
# Causes in a log that a cleaner screen, and fewer stops, do away with.
_CLOGGED, _STOPPED = ("clogging",), ("stop", "ice stop", "no load", "sudden drop", "frazil")
SECONDS_BETWEEN = 2.0  # two lines that tell how far the weighing of many changes is


def base_case(study: Any) -> Any:
    """The plant as it stands, on the days of its record or on the months whose flow is known; or None.

    None too where the record is too short to hold every month: there is no year to change then. Under
    a yearly volume or a ramp each changed plant is offered what the rules leave to that one.
    """
    from ..energy.cases import Case, Taken

    if study.plant is None or (study.record is not None and study.year is None):
        return None
    if study.record is None:
        usable = _known_months(study)
    else:
        usable = Taken(study.record, study.rights) if study.rights.has_memory else study.usable
    return None if usable is None else Case(study.plant, usable, build.outages(study.site))


def _known_months(study: Any) -> dict[int, float] | None:
    """Usable flow of each month that is known; beside a log that tells the year also of those in which at least so much came."""
    found = study.monthly_flow
    if found is None:
        return None
    known = np.isfinite(
        found.usable_m3s if log_site.by_log(study) else found.natural_m3s
    )  # else the months that were gauged
    return {
        month: float(found.usable_m3s[month - 1]) for month in ALL_MONTHS if known[month - 1]
    } or None


def logged_months(study: Any) -> Any:
    """What the log says of each month, where no daily record does it better; or None."""
    from ..energy.by_log import LoggedMonths

    if study.record is not None or not log_site.by_log(study):
        return None
    table = study.history.monthly()
    sums = table.groupby(table.index.month).sum().reindex(ALL_MONTHS).fillna(0.0)
    clogging, stops = (
        sums[[each for each in names if each in sums]].sum(axis=1).to_numpy(dtype=float)
        for names in (_CLOGGED, _STOPPED)
    )
    whole = np.maximum(sums["made_j"].to_numpy(dtype=float) + clogging + stops, 1e-9)
    return LoggedMonths(study.log_year.monthly_kwh * 1000 / HOURS, clogging / whole, stops / whole)


def changes(study: Any) -> tuple[Any, ...]:
    """The changes the site file names, each ready to be made, along the water: their order in the file has no part in any answer."""
    made = [
        (
            _rank(study, entry),
            study.folder.sentence(
                f"[[upgrade]] {number}", lambda entry=entry: _upgrade(study, entry)
            ),
        )
        for number, entry in enumerate(study.site["upgrade"], 1)
    ]
    return tuple(change for _, change in sorted(made, key=lambda each: (each[0], each[1].name)))


def _rank(study: Any, entry: dict) -> tuple[int, float]:
    """Where a change stands among the others: by the first thing it changes, and of two such the larger last, so that it holds."""
    first = min((place for place, key in enumerate(_ACTS) if key in entry), default=len(_ACTS))
    return first, _size([*_ACTS][first], entry) if first < len(_ACTS) else 0.0


def _size(key: str, entry: dict) -> float:
    """How large a change of one kind is, against others of its kind."""
    from ..plant.cable import conductor
    from ..works.catalogue import pipe_size

    value = entry[key]
    try:
        if key in ("pipe", "diversion_pipe"):
            return pipe_size(value).pipe(1.0).diameter_m
        if key == "cable_size":
            return float(conductor(value).section_m2)
    except HydrokitError:  # told where it is made
        return 0.0
    if key in ("clogged", "unplanned"):
        return -float(np.sum(value))
    return float(len(value)) if key == "diversion_vents" else float(value)


def upgrades(study: Any) -> Any:
    """The changes of the site file as a staircase, or None where there are none or no plant."""
    from ..energy.by_log import logged_power
    from ..energy.upgrades import draw_worlds, staircase, watts, year_kwh

    changes, case = study.changes, study.base_case
    if not changes or case is None:
        return None
    costs = choosing.costs(study.site)
    doubt = build.uncertainties(study)
    if study.record is not None:
        evaluate, aim = (
            year_kwh(study.demand_w, study.winter, kept=sizing_net.left(study)),
            "useful_kwh" if study.demand_w is not None else "kwh",
        )
        worlds = draw_worlds(doubt, WORLDS, natural=study.record, rights=study.rights)
    else:
        demand, log = demand_of_months(study), study.logged_months
        evaluate = watts(study.winter, demand, None if log is None else logged_power(case, log))
        aim = ("" if demand is None else "useful_") + ("kwh" if len(case.usable) == 12 else "w")
        aim = "mean_w" if aim == "w" else aim
        worlds = draw_worlds(doubt, WORLDS)
    value, spare = (
        None if each is None else each * (KWH_PER_W if aim.endswith("_w") else 1.0)
        for each in values(study)
    )
    return study.folder.sentence(
        "[[upgrade]]",
        lambda: staircase(
            case,
            changes,
            evaluate,
            aim,
            costs,
            value,
            worlds,
            spare_money=spare or 0.0,
            finish=_finish(study),
            say=_spoken(),
        ),
    )


def values(study: Any) -> tuple[float | None, float]:
    """What one more kWh is worth that is used, as the page on money counts it, and one that is left over; None where nobody said."""
    section, money = study.site["costs"], study.money
    if "value" not in section:
        return None, 0.0
    value, export = section["value"] * 3.6e6, section.get("export", 0.0) * 3.6e6
    heat = section["heat_value"] * 3.6e6 if "heat_value" in section else None
    if money is None or not money.energy.demand_known:
        return value, 0.0
    energy = money.energy
    share = energy.heat_kwh / energy.kwh if heat is not None and energy.kwh > 0 else 0.0
    left = energy.made_kwh - energy.kwh
    warms = min(energy.extra_heat_kwh / left, 1.0) if heat is not None and left > 0 else 0.0
    return value * (1 - share) + (heat or 0.0) * share, warms * (heat or 0.0) + (1 - warms) * export


def demand_of_months(study: Any) -> dict[int, Any] | None:
    """Power in W that can be used in each month, or on each of its days where heat is wanted; None where no need is stated."""
    loads, air = study.site["loads"], study.temperature
    if "need" in loads:
        return dict(enumerate(demand_site.other_w(study), 1))
    if study.house is None or air is None:
        return None
    seen = air.dropna()
    wanted = loads.get("base_power", 0.0) + study.house.conductance_w_k * (
        loads.get("inside_temperature", 293.15) - 273.15 - seen
    ).clip(lower=0.0)
    found = {
        month: days.to_numpy(dtype=float) for month, days in wanted.groupby(wanted.index.month)
    }
    return found if len(found) == 12 else None


def rules_price(study: Any) -> Any:
    """Energy given up to each rule on the creek's water, or None without a year."""
    from ..energy.worth import given_up

    return (
        None
        if study.year is None
        else given_up(
            study.record,
            study.rights,
            study.plant.curves(),
            build.outages(study.site),
            study.winter,
        )
    )


def measure_next(study: Any) -> Any:
    """Measurements in the order in which they would narrow the annual energy, those that can be made; or None without a year."""
    from ..energy.worth import what_to_measure_next

    if study.doubt is None:
        return None
    # a rating is behind the record only where the record was made from stages
    rating = (
        study.rating if study.stage is not None and "record" not in study.site["stream"] else None
    )
    found = what_to_measure_next(
        study.record,
        study.rights,
        study.plant.curves(),
        rating,
        study.record_uncertainty,
        study.doubt.tornado,
        build.outages(study.site),
    )
    return tuple(each for each in found if each.narrowed >= LEAST_NARROWED)


LEAST_NARROWED = 0.005  # of the standard deviation; what narrows less is not worth the walk


# --- what a change does ---------------------------------------------------------------------


def _upgrade(study: Any, entry: dict) -> Any:
    from ..energy.upgrades import Upgrade

    months = entry.get("months", ALL_MONTHS)
    acts = [
        make(study, entry, months)
        for make in dict.fromkeys(make for key, make in _ACTS.items() if key in entry)
    ]
    all_year = [key for key in _ACTS if key in entry and key not in _BY_MONTH]
    if "months" in entry and all_year:
        raise HydrokitError(
            f"'{entry['name']}': {all_year[0]} acts all year; months go with {', '.join(_BY_MONTH)}"
        )
    if not acts:
        raise HydrokitError(
            f"'{entry['name']}' changes nothing; name what it changes: {', '.join(_ACTS)}"
        )

    def apply(case: Any) -> Any:
        for act in acts:
            case = act(case)
        return case

    return Upgrade(
        entry["name"],
        apply,
        entry.get("cost", 0.0),
        entry.get("life"),
        entry.get("months", ()),
        entry.get("needs", ()),
        handling="close_jets" in entry or "jets_as_fed" in entry,
        kind=" ".join(key for key in _ACTS if key in entry),
    )


def _finish(study: Any) -> Callable[[Any, Any], Any]:
    """What follows from changes: where the power of the plant changes, a generator of another size is bought."""
    rebuilt = {entry["name"] for entry in study.site["upgrade"] if set(_REBUILDS) & set(entry)}
    return lambda case, names: (
        replace(case, chain=build.refitted(study, case.chain)) if rebuilt & names else case
    )


def _pipe(study: Any, entry: dict, months: tuple) -> Callable:
    from ..works.catalogue import pipe_size
    from ..works.pipe import Line

    if study.penstock is None:
        raise HydrokitError("a new pipe needs the old one described under [[penstock.pipe]]")
    line = Line(
        (
            pipe_size(entry["pipe"]).pipe(
                study.penstock.length_m, None, sum(pipe.fittings for pipe in study.penstock.pipes)
            ),
        )
    )
    return lambda case: replace(
        case,
        chain=case.chain.replace(penstock=replace(case.chain.penstock, line=line, loss_factor=1.0)),
    )


def _jets(study: Any, entry: dict, months: tuple) -> Callable:
    count, bore = entry.get("jets"), entry.get("jet_diameter")

    def act(case: Any) -> Any:
        nozzles = case.chain.jets
        if not hasattr(nozzles, "diameters_m"):
            raise HydrokitError(
                "only fixed jets can be added or bored out; this machine is adjustable"
            )
        number = nozzles.count if count is None else int(count)
        # More jets of the bore there is: a worn or doubtful area factor holds for the new ones too.
        return replace(
            case,
            chain=case.chain.replace(
                jets=replace(nozzles, diameters_m=(bore or nozzles.diameters_m[0],) * number)
            ),
        )

    return act


def _intake(study: Any, entry: dict, months: tuple) -> Callable:
    """A new intake takes the place of the rated one and of every screen above the pond."""
    from ..works.rated import Rated

    def act(case: Any) -> Any:
        chain = case.chain
        supply = chain.supply
        if "capacity" in entry:
            supply = (
                Rated(entry["capacity"], name="intake"),
                *(part for part in supply if not catches(part)),
            )
        shares = entry.get("clogged", (None,) * 12)
        states = tuple(_states(told, supply, share) for told, share in zip(chain.states, shares))
        return replace(case, chain=chain.replace(supply=supply, states=states))

    return act


def catches(part: Any) -> bool:
    """Whether leaves and ice settle on a part: a rated intake or a screen, not a line or open ground."""
    from ..works import screen_parts
    from ..works.rated import as_built

    part = as_built(part)
    return part.name == "intake" or isinstance(
        part,
        (
            screen_parts.Screen,
            screen_parts.DrilledPipe,
            screen_parts.BarRack,
            screen_parts.BottomRack,
            screen_parts.TiltedScreen,
        ),
    )


def _states(told: Any, supply: tuple, share: float | None) -> dict[str, Any]:
    """A month's states part by part; what catches leaves is blocked by a share where one is given."""
    from ..plant.chain import part_name, state_of

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


def _efficiency(study: Any, entry: dict, months: tuple) -> Callable:
    """A better runner: the curve of the old one at part load, lifted in the ratio of their best."""
    if study.site["machine"]:
        raise HydrokitError(
            "a new efficiency cannot be given to several machines at once; give it under [[machine]]"
        )

    def act(case: Any) -> Any:
        chain = case.chain
        # without a generator of its own the chain's efficiency is from water to wire, and that of the old runner must be told
        told = study.site["turbine"].get("efficiency")
        old = chain.best_efficiency if chain.electric else None if told is None else told.value
        if old is None:
            raise HydrokitError(
                f"'{entry['name']}' gives the efficiency of a new runner, but of the old plant only that from water to wire is known; give [turbine] efficiency, that of the old runner"
            )
        # in the place of whatever runner was chosen before it
        before = chain.runner.efficiency_factor / study.plant.runner.efficiency_factor
        return replace(case, chain=chain.factors(efficiency=entry["efficiency"] / old / before))

    return act


@dataclass(frozen=True)
class _Saved:
    """What a heavier cable saves of watts that were metered at its end."""

    gain: float
    name: str = "cable"

    def output_si(self, input_w: Any) -> Any:
        return self.gain * np.asarray(input_w)


def _cable(study: Any, entry: dict, months: tuple) -> Callable:
    """A heavier cable in the place of the old; where only watts at its end are known, by the share it saves."""
    from ..plant.parts import Wire

    new_site = {**study.site, "cable": {**study.site["cable"], "size": entry["cable_size"]}}
    if not build.wire(study.site) or not build.wire(new_site):
        raise HydrokitError(
            "a heavier cable needs the old one described: [cable] size, length and voltage"
        )

    def act(case: Any) -> Any:
        old, new = build.wire(study.site), build.wire(new_site)
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


def _unplanned(study: Any, entry: dict, months: tuple) -> Callable:
    return lambda case: replace(case, outages=replace(case.outages, unplanned=entry["unplanned"]))


def _close(study: Any, entry: dict, months: tuple) -> Callable:
    from ..energy.upgrades import close_jets

    return lambda case: replace(
        case, chain=close_jets(case.chain, int(entry["close_jets"]), months)
    )


def _as_fed(study: Any, entry: dict, months: tuple) -> Callable:
    def act(case: Any) -> Any:
        rules = tuple(
            None if month in months else rule for month, rule in enumerate(case.chain.schedule, 1)
        )
        return replace(case, chain=case.chain.replace(schedule=rules))

    return act


def _water(study: Any, entry: dict, months: tuple) -> Callable:
    more = entry["extra_flow"] * np.isin(ALL_MONTHS, months)
    return lambda case: replace(
        case, brought_m3s=more if case.brought_m3s is None else case.brought_m3s + more
    )


def _spoken() -> Callable[[str], None]:
    """Tells on the screen how far the weighing of many changes is, now and then; nobody watches the runner's kernel."""
    last = time.monotonic()

    def say(line: str) -> None:
        nonlocal last
        if not os.environ.get("HYDROKIT_RUN") and time.monotonic() - last > SECONDS_BETWEEN:
            last = time.monotonic()
            print(line, file=sys.stderr, flush=True)

    return say


def _new_line(study: Any, entry: dict, months: tuple) -> Callable:
    """Another pipe for the line from creek to pond, or more vents on it."""
    from ..works.diversion import DiversionLine
    from ..works.rated import as_built

    if study.diversion_line is None:
        raise HydrokitError(
            "the line from creek to pond is not described: give [diversion] profile and its size or inside_diameter"
        )
    relaid = works.relaid(study, entry["diversion_pipe"]) if "diversion_pipe" in entry else None
    vents = works.vents_along(study, entry.get("diversion_vents", ()))

    def act(case: Any) -> Any:
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
            carries_m3s=capacity_site.carried_by_line(study, place > 0, line).flow_m3s,
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
_BY_MONTH = ("close_jets", "jets_as_fed", "extra_flow")
# Key of an [[upgrade]] -> what it does to a case, along the water: in this order they are made. A new kind of change is one row here and in the schema.
_ACTS = {
    "extra_flow": _water, "capacity": _intake, "clogged": _intake, "diversion_pipe": _new_line, "diversion_vents": _new_line, "pipe": _pipe, "jets": _jets,
    "jet_diameter": _jets, "efficiency": _efficiency, "cable_size": _cable, "unplanned": _unplanned, "close_jets": _close, "jets_as_fed": _as_fed,
}  # fmt: skip
