"""What the pages call too little, too much or unsafe, as findings; and what the site file gives
that has no effect."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, counted
from ...sentences import Amount, Sentence
from ...water import GRAVITY
from . import freeze, line_inlet, moot, open_reaches
from .judged_money import of_grant, of_keys, of_loan
from .kept_air import beside
from .penstock_pressures import high_points
from .registers import source_findings
from .settling import best_basin

if TYPE_CHECKING:
    from ...site.section import Section
    from ..study import Study

__all__ = [
    "SAFE_VACUUM",
    "covered",
    "ignored",
    "judged",
    "inlet",
    "of_the_log",
]

SAFE_VACUUM = 4.0  # AWWA M51, see works.surge.vacuum_safety
LITTLE_ROOM = 0.8  # of the derated rating; common practice
_SOON_S = 86400.0  # a line that is blocked sooner leaves nobody time to be fetched
_MOST_OVER_INLET_M = 10.0
_WHEEL = (0.40, 0.52)  # speed of the buckets over that of the jet: best near 0.46, common practice


def inlet(study: Study) -> tuple[float, float] | None:
    """Water over the penstock's inlet, and what its full flow needs; None without a survey of the inlet."""
    from ...works.forebay import inlet_cover

    section = study.section
    if (
        study.profile is None
        or section is None
        or study.penstock is None
        or not line_inlet.inlet_surveyed(study.profile)
        or section.static_grade_m[0] <= section.elevation_m[0]
    ):
        return None
    return float(section.static_grade_m[0] - section.elevation_m[0]), float(
        inlet_cover.si(study.full_flow_m3s, study.penstock.pipes[0].diameter_m)
    )


def judged(study: Study) -> tuple[Finding, ...]:
    """Along the water: channels, pond, inlet, bores, penstock, bridges, frost."""
    return tuple(
        [
            *_leaks(study),
            *_pond(study),
            *_source(study),
            *_inlet(study),
            *_bores(study),
            *_penstock(study),
            *_vents(study),
            *_bridges(study),
            *_frost(study),
        ]
    )


def covered(study: Study) -> tuple[Finding, ...]:
    """What neither a battery nor a year's income covers."""
    return tuple([*_bank(study), *of_loan(study), *of_grant(study)])


def _leaks(study: Study) -> Iterator[Finding]:
    for reach in study.reaches:
        lost = open_reaches.gauged_loss(study, reach)
        if reach.loss is not None and lost > reach.loss.high_m3s:
            yield Finding(
                "caution",
                reach.name,
                Sentence(
                    "it loses {lost}, more than the {most} that its ground explains: look for "
                    "a hole, or a low bank where it runs over",
                    lost=Amount(lost, "flow", 2),
                    most=Amount(reach.loss.high_m3s, "flow", 2),
                ),
            )


_FINE_JET_M = 0.03  # bores below it lose most to sand; common practice


def _pond(study: Study) -> Iterator[Finding]:
    best, jets = best_basin(study), None if study.plant is None else study.plant.jets
    bores = getattr(jets, "diameters_m", ())
    if best is None and bores and min(bores) < _FINE_JET_M:
        yield Finding(
            "note",
            "jets",
            Sentence(
                "no settling basin is listed above jets of {bore}: sand wears so fine a jet "
                "and its runner; list the forebay with its area, or add a basin",
                bore=Amount(min(bores), "diameter"),
            ),
        )
    if best is not None and not best.large_enough:
        yield Finding(
            "caution",
            best.name,
            Sentence(
                "its surface of {has} is too small as a settling basin: grains of {grain} "
                "need {needed} and reach the jets",
                has=Amount(best.area_m2, "area", 2),
                grain=Amount(best.grain_m, "small length", 2),
                needed=Amount(best.needed_m2, "area", 2),
            ),
        )


def _source(study: Study) -> Iterator[Finding]:
    line = study.diversion_line
    if line is None:
        return
    over = line.source_level_m - float(line.profile.elevation_m[0])
    if over > _MOST_OVER_INLET_M:
        yield Finding(
            "caution",
            "[diversion] source_level",
            Sentence(
                "the water stands {over} above the inlet of the line; a weir or a pond at a creek "
                "gives a few metres at most (common practice): check the level and the datum of "
                "the profile",
                over=Amount(over, "head", 3),
            ),
        )


def _inlet(study: Study) -> Iterator[Finding]:
    cover = inlet(study)
    if cover is not None and cover[0] < cover[1]:
        yield Finding(
            "caution",
            "inlet of the penstock",
            Sentence(
                "{has} of water over its middle are too little, about {needed} are needed: it "
                "draws air in a vortex",
                has=Amount(cover[0], "stage", 2),
                needed=Amount(cover[1], "stage", 2),
            ),
        )


def _bores(study: Study) -> Iterator[Finding]:
    """Bores that are the name of a size and were hardly measured, and sizes that stand for two bores."""
    from ...works.pipe_sizes import nominal_trap, two_walls

    for entry in (*study.site.penstock.pipe, study.site.diversion):
        if "inside_diameter" in entry:
            found = nominal_trap(entry["inside_diameter"])
        else:
            found = two_walls(entry["size"]) if "size" in entry else None
        if found is not None:
            yield found


def _penstock(study: Study) -> Iterator[Finding]:
    held = study.pressures
    if held is None:
        return
    for each in high_points(study):
        if each.vented:
            continue
        told = Sentence(
            "at {place} it has a high point with {length} of pipe behind it: air stays there "
            "when it is filled and a vacuum pulls there when it is drained, unless a vent is "
            "open",
            place=Amount(each.at_m, "length"),
            length=Amount(each.behind_m, "length", 2),
        )
        if each.kept and study.baseline is None:
            told += Sentence(
                "; the air takes {head} of the head, and the power and the year count it: put "
                "a vent there and write its distance under [penstock] vents",
                head=Amount(each.head_m, "head", 2),
            )
        yield Finding("caution", "penstock", told)
    if LITTLE_ROOM < held.use_of_rating <= 1:
        yield Finding(
            "note",
            "penstock",
            Sentence(
                "its pressure uses {share} of the derated rating, which leaves little margin",
                share=Amount(held.use_of_rating, "share", 2),
            ),
        )
    if held.vacuum_safety < SAFE_VACUUM:
        yield Finding(
            "caution",
            "vacuum",
            Sentence(
                "the pipe withstands {times} times a full vacuum, and {asked} times is "
                "usually required: it needs air inlets just below every valve at its upper "
                "end",
                times=Amount(held.vacuum_safety, "number", 2),
                asked=Amount(SAFE_VACUUM, "number", 1),
            ),
        )
    elif held.vacuum_safety < 2 * SAFE_VACUUM:
        yield Finding(
            "note",
            "vacuum",
            Sentence(
                "the pipe withstands {times} times a full vacuum, little more than the "
                "{asked} times usually required: give it an open air pipe just below its "
                "inlet",
                times=Amount(held.vacuum_safety, "number", 2),
                asked=Amount(SAFE_VACUUM, "number", 1),
            ),
        )


def _bridges(study: Study) -> Iterator[Finding]:
    for each in study.bridges:
        if each.span_m > each.longest_m:
            yield Finding(
                "caution",
                each.name,
                Sentence(
                    "its supports are {span} apart and should be no more than {longest} "
                    "apart: the pipe sags or bends too far",
                    span=Amount(each.span_m, "length", 2),
                    longest=Amount(each.longest_m, "length", 2),
                ),
            )


def _frost(study: Study) -> Iterator[Finding]:
    soonest = freeze.soonest(study)
    if soonest is None or study.frost is None or study.frost.assumed or soonest.soonest_s > _SOON_S:
        return
    yield Finding(
        "caution",
        "frost",
        Sentence(
            "a line whose water stands is blocked by ice within {time} in the hardest frost "
            "known, first at {where}: start it again or drain it in that time",
            time=Amount(soonest.soonest_s, "duration", 2),
            where=soonest.stretch.name,
        ),
    )


def of_the_log(study: Study) -> tuple[Finding, ...]:
    """A gauge that read wrong, and what drifts, by the log; and what the last visit showed."""
    return tuple([*_drifts(study), *_last_visit(study)])


def _drifts(study: Study) -> Iterator[Finding]:
    from ...running.drift import DRIFTS

    found = study.upkeep
    if found is None:
        return
    for event in found.gauge:
        if event.kind == "gauge off":
            first, last = (str(each.astype("datetime64[D]")) for each in (event.start, event.end))
            yield Finding(
                "caution",
                "gauge",
                Sentence(
                    "it read {off} {way} from about {first} to {last} than in the rest of the "
                    "log, while the watts did not change: the gauge, not the plant; which of "
                    "the two is right is not known: hold another gauge, one that is known to "
                    "be right, against it",
                    off=Amount(abs(event.size), "pressure", 2),
                    way="lower" if event.size < 0 else "higher",
                    first=first,
                    last=last,
                ),
            )
    if found.drift is not None:
        since = str(found.drift.start.astype("datetime64[M]"))
        yield Finding(
            "caution",
            "log",
            Sentence(
                "slowly, since about {since}, {kind}: {action}",
                since=since,
                kind=found.drift.kind,
                action=DRIFTS[found.drift.kind],
            ),
        )


def _last_visit(study: Study) -> Iterator[Finding]:
    found = study.diagnose() if study.visits else None
    if found is not None and found.first.key != "well":
        day, chance = str(study.visits[-1].when.astype("datetime64[D]")), found.first.probability
        yield Finding(
            "caution",
            "last visit",
            Sentence(
                "the readings of {day} show {fault}, with a posterior probability of {sure}: "
                "see the page on running it",
                day=day,
                fault=found.first.name,
                sure="over 99 %"
                if chance > 0.995
                else Sentence("{share}", share=Amount(chance, "share", 2)),
            ),
        )


def _bank(study: Study) -> Iterator[Finding]:
    store = None if study.wires is None else study.wires.store
    if store is not None and np.isfinite(store.charge_ah):
        short = [
            name
            for name, _, _, charge in store.needs
            if np.isfinite(charge) and charge > store.charge_ah
        ]
        if short:
            yield Finding(
                "caution",
                "battery",
                Sentence(
                    "the bank of {charge} Ah is too small to carry a usual day in {cases}",
                    charge=Amount(store.charge_ah, "number"),
                    cases=" and in ".join(short),
                ),
            )


# --- given, and counted for nothing -----------------------------------------------------------


def ignored(study: Study) -> tuple[Finding, ...]:
    """Keys of the site file that change nothing beside another, and values that hardly anything can be."""
    return tuple(
        [
            *_weir(study),
            *_turbine(study),
            *_sizes(study),
            *_plan(study),
            *of_keys(study),
            *source_findings(study),
            *moot.findings(study.site),
            *_readings(study),
        ]
    )


def _weir(study: Study) -> Iterator[Finding]:
    weir = study.site.weir
    notch = weir.kind == "v-notch"
    if notch and weir.width is not None:
        yield Finding(
            "note", "weir plate", "[weir] width has no effect: a V-notch is given by its angle"
        )
    if weir.kind is not None and not notch and weir.angle is not None:
        yield Finding(
            "note",
            "weir plate",
            "[weir] angle has no effect: only a V-notch has one; the others are given by width",
        )


def _turbine(study: Study) -> Iterator[Finding]:
    from . import turbine as build_turbine

    turbine = study.site.turbine
    if turbine.speed is not None and turbine.runner_diameter is None:
        yield Finding(
            "note",
            "turbine",
            "[turbine] speed has no effect without runner_diameter, the diameter of the runner at the jets",
        )
    elif (
        turbine.speed is not None
        and turbine.runner_diameter is not None
        and turbine.kind == "pelton"
        and study.described is not None
    ):
        head = float(study.described.at_si(np.inf).net_head_m)
        ratio = (
            np.pi * turbine.runner_diameter * turbine.speed / np.sqrt(2 * GRAVITY * head)
            if head > 0
            else np.nan
        )
        if not _WHEEL[0] <= ratio <= _WHEEL[1] and np.isfinite(ratio):
            yield Finding(
                "caution",
                "turbine",
                Sentence(
                    "at its speed and diameter the buckets run at {share} of the jet's speed; "
                    "near 46 % is best (common practice): check speed and runner_diameter",
                    share=Amount(ratio, "share", 2),
                ),
            )
    if (
        turbine.minimum_flow is not None
        and not study.site.machine
        and build_turbine.fixed_jets(turbine)
    ):
        yield Finding(
            "note",
            "turbine",
            (
                "[turbine] minimum_flow has no effect: jets of fixed bore are open or shut, and "
                "run at their own full flow"
            ),
        )


def _sizes(study: Study) -> Iterator[Finding]:
    entries: list[tuple[str, Section]] = [("[diversion]", study.site.diversion)]
    entries += [
        (f"[[penstock.pipe]] {number}", entry)
        for number, entry in enumerate(study.site.penstock.pipe, 1)
    ]
    for where, entry in entries:
        if "size" in entry and "rating" in entry:
            yield Finding(
                "note",
                where,
                (
                    "its rating has no effect: the catalogue's size has its own; give "
                    "inside_diameter instead of size where the pipe is another"
                ),
            )


def _readings(study: Study) -> Iterator[Finding]:
    """Readings that neither commission the plant nor are a visit."""
    seen = study.readings
    if seen is None or study.baseline is not None:
        return
    idle = int(np.isnat(seen.date).sum())
    if idle:
        yield Finding(
            "note",
            "readings",
            (
                f"{counted(idle, 'reading')} {'has' if idle == 1 else 'have'} no effect: the plant "
                "is fitted to jets of known bore, a pressure with everything shut and one with jets "
                "open, or two numbers of jets open; a reading of a visit needs its date"
            ),
        )


def _vents(study: Study) -> Iterator[Finding]:
    """Vents of the penstock that stand at none of its high points."""
    if study.profile is None or study.penstock is None or not study.site.penstock.vents:
        return
    tops = [each.at_m for each in high_points(study)]
    for vent in study.site.penstock.vents:
        if not any(beside(top, vent) for top in tops):
            yield Finding(
                "note",
                "penstock",
                Sentence(
                    "its vent at {vent} stands at no high point of the profile, and has no effect "
                    "on the calculation",
                    vent=Amount(vent, "length", 4),
                ),
            )


def _plan(study: Study) -> Iterator[Finding]:
    given = study.site.plan
    if not given:
        return
    if given.design_flow is None:
        yield Finding("note", "plan", "[plan] jets has no effect without design_flow: give both")
    elif study.described is not None or study.baseline is not None:
        yield Finding(
            "note",
            "plan",
            (
                "[plan] has no effect: the jets of the site file, or readings of the plant, "
                "already say how much it takes"
            ),
        )
