"""What the pages call too little, too much or unsafe, as findings; and what the site file gives that has no effect."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from ...errors import Finding, figures
from ...sentences import Amount, Sentence
from . import freeze, line_inlet, open_reaches
from .loan import loan
from .settling import best_basin

__all__ = [
    "SAFE_VACUUM",
    "covered",
    "ignored",
    "judged",
    "mouth",
    "of_the_log",
]

SAFE_VACUUM = 4.0  # AWWA M51, see works.surge.vacuum_safety
LITTLE_ROOM = 0.8  # of the derated rating; common practice
_SOON_S = 86400.0  # a line that is blocked sooner leaves nobody time to be fetched
_DAYS_OF_WINTER = 30.0  # stops on frosty days beyond which the count is hardly of one winter
_WHEEL = (0.40, 0.52)  # speed of the buckets over that of the jet: best near 0.46, common practice


def mouth(study: Any) -> tuple[float, float] | None:
    """Water over the penstock's mouth, and what its full flow needs; None without a survey of the mouth."""
    from ...works.forebay import mouth_cover

    section = study.section
    if (
        study.profile is None
        or section is None
        or not line_inlet.mouth_surveyed(study.profile)
        or section.static_grade_m[0] <= section.elevation_m[0]
    ):
        return None
    return float(section.static_grade_m[0] - section.elevation_m[0]), float(
        mouth_cover.si(study.full_flow_m3s, study.penstock.pipes[0].diameter_m)
    )


def judged(study: Any) -> tuple[Finding, ...]:
    """Along the water: channels, pond, mouth, bores, penstock, bridges, frost."""
    return tuple(
        [
            *_leaks(study),
            *_pond(study),
            *_mouth(study),
            *_bores(study),
            *_penstock(study),
            *_bridges(study),
            *_frost(study),
        ]
    )


def covered(study: Any) -> tuple[Finding, ...]:
    """What neither a battery nor a year's income covers."""
    return tuple([*_bank(study), *_loan(study)])


def _leaks(study: Any) -> Iterator[Finding]:
    for reach in study.reaches:
        lost = open_reaches.gauged_loss(study, reach)
        if reach.loss is not None and lost > reach.loss.high_m3s:
            yield Finding(
                "caution",
                reach.name,
                Sentence(
                    "it loses {lost}, more than the {most} that its ground explains: look for a hole, or a low bank where it runs over",
                    lost=Amount(lost, "flow", 2),
                    most=Amount(reach.loss.high_m3s, "flow", 2),
                ),
            )


def _pond(study: Any) -> Iterator[Finding]:
    best = best_basin(study)
    if best is not None and not best.large_enough:
        yield Finding(
            "caution",
            best.name,
            Sentence(
                "its surface of {has} is too small as a settling basin: grains of {grain} need {needed} and reach the jets",
                has=Amount(best.area_m2, "area", 2),
                grain=Amount(best.grain_m, "small length", 2),
                needed=Amount(best.needed_m2, "area", 2),
            ),
        )


def _mouth(study: Any) -> Iterator[Finding]:
    cover = mouth(study)
    if cover is not None and cover[0] < cover[1]:
        yield Finding(
            "caution",
            "inlet of the penstock",
            Sentence(
                "{has} of water over its middle are too little, about {needed} are needed: it draws air in a vortex",
                has=Amount(cover[0], "stage", 2),
                needed=Amount(cover[1], "stage", 2),
            ),
        )


def _bores(study: Any) -> Iterator[Finding]:
    """Bores that are the name of a size and were hardly measured."""
    from ...works.pipe_sizes import nominal_trap

    for entry in (*study.site["penstock.pipe"], study.site["diversion"]):
        found = nominal_trap(entry["inside_diameter"]) if "inside_diameter" in entry else None
        if found is not None:
            yield found


def _penstock(study: Any) -> Iterator[Finding]:
    held = study.pressures
    if held is None:
        return
    if LITTLE_ROOM < held.use_of_rating <= 1:
        yield Finding(
            "note",
            "penstock",
            f"its pressure uses {held.use_of_rating:.0%} of the derated rating, which leaves little room",
        )
    if held.vacuum_safety < SAFE_VACUUM:
        yield Finding(
            "caution",
            "vacuum",
            f"the pipe stands {figures(held.vacuum_safety, 2)} times a full vacuum and {SAFE_VACUUM:.0f} times is the usual demand: it needs air inlets just below every valve at its upper end",
        )
    elif held.vacuum_safety < 2 * SAFE_VACUUM:
        yield Finding(
            "note",
            "vacuum",
            f"the pipe stands {figures(held.vacuum_safety, 2)} times a full vacuum, little more than the {SAFE_VACUUM:.0f} times asked: give it an open air pipe just below its mouth",
        )


def _bridges(study: Any) -> Iterator[Finding]:
    for each in study.bridges:
        if each.span_m > each.longest_m:
            yield Finding(
                "caution",
                each.name,
                f"its supports stand {figures(each.span_m, 2)} m apart and should stand no more than {figures(each.longest_m, 2)} m apart: the pipe sags or bends too far",
            )


def _frost(study: Any) -> Iterator[Finding]:
    soonest = freeze.soonest(study)
    if soonest is None or study.frost.assumed or soonest.soonest_s > _SOON_S:
        return
    time = study.view().duration(soonest.soonest_s)
    yield Finding(
        "caution",
        "frost",
        f"a line that stands still is blocked by ice within {time} on the coldest day known, first at {soonest.stretch.name}: start it again or drain it in that time",
    )


def of_the_log(study: Any) -> tuple[Finding, ...]:
    """A gauge that read wrong, and what drifts, by the log; and what the last visit showed."""
    return tuple([*_drifts(study), *_last_visit(study)])


def _drifts(study: Any) -> Iterator[Finding]:
    from ...running.drift import DRIFTS

    found = study.upkeep
    if found is None:
        return
    for event in found.gauge:
        if event.kind == "gauge off":
            first, last = (str(np.datetime64(each, "D")) for each in (event.start, event.end))
            yield Finding(
                "caution",
                "gauge",
                f"it read {figures(abs(event.size) / 1e5, 2)} bar too {'low' if event.size < 0 else 'high'} from about {first} to {last} while the watts stayed: readings of that time tell of the gauge, not of the plant",
            )
    if found.drift is not None:
        since = str(np.datetime64(found.drift.start, "M"))
        yield Finding(
            "caution",
            "log",
            f"slowly, since about {since}, {found.drift.kind}: {DRIFTS[found.drift.kind]}",
        )


def _last_visit(study: Any) -> Iterator[Finding]:
    found = study.diagnose() if study.visits else None
    if found is not None and found.first.key != "well":
        day, chance = str(np.datetime64(study.visits[-1].when, "D")), found.first.probability
        sure = "over 99 %" if chance > 0.995 else f"{100 * chance:.0f} %"
        yield Finding(
            "caution",
            "last visit",
            f"the readings of {day} say {found.first.name}, with a posterior probability of {sure}: see the page on running it",
        )


def _bank(study: Any) -> Iterator[Finding]:
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
                f"the bank of {figures(store.charge_ah)} Ah is too small to carry a usual day in {' and in '.join(short)}",
            )


def _loan(study: Any) -> Iterator[Finding]:
    borrowed = loan(study)
    if borrowed is not None and borrowed.short:
        mean = [
            name for name in borrowed.short if borrowed.left_money[name] < borrowed.instalment_money
        ]
        year = "even a mean year" if mean else "a year exceeded with 90% probability"
        yield Finding(
            "caution",
            "loan",
            f"{year} leaves too little after upkeep for the instalment of {borrowed.instalment_money:,.0f} a year",
        )


# --- given, and counted for nothing -----------------------------------------------------------


def ignored(study: Any) -> tuple[Finding, ...]:
    """Keys of the site file that change nothing beside another, and values that hardly anything can be."""
    return tuple([*_weir(study), *_turbine(study), *_sizes(study), *_operation(study)])


def _weir(study: Any) -> Iterator[Finding]:
    weir = study.site["weir"]
    notch = weir.get("kind") == "v-notch"
    if notch and "width" in weir:
        yield Finding(
            "note", "weir plate", "[weir] width changes nothing: a V-notch is told by its angle"
        )
    if "kind" in weir and not notch and "angle" in weir:
        yield Finding(
            "note",
            "weir plate",
            "[weir] angle changes nothing: only a V-notch has one; the others are told by width",
        )


def _turbine(study: Any) -> Iterator[Finding]:
    from . import turbine as build_turbine

    turbine = study.site["turbine"]
    if "speed" in turbine and "runner_diameter" not in turbine:
        yield Finding(
            "note",
            "turbine",
            "[turbine] speed changes no result without runner_diameter, the diameter of the runner at the jets",
        )
    elif (
        {"speed", "runner_diameter"} <= turbine.keys()
        and turbine["kind"] == "pelton"
        and study.described is not None
    ):
        head = float(study.described.at_si(np.inf).net_head_m)
        ratio = (
            np.pi * turbine["runner_diameter"] * turbine["speed"] / np.sqrt(2 * 9.80665 * head)
            if head > 0
            else np.nan
        )
        if not _WHEEL[0] <= ratio <= _WHEEL[1] and np.isfinite(ratio):
            yield Finding(
                "caution",
                "turbine",
                f"at its speed and diameter the buckets run at {ratio:.0%} of the jet's speed; near 46% is best (common practice): check speed and runner_diameter",
            )
    if (
        "minimum_flow" in turbine
        and not study.site["machine"]
        and build_turbine.fixed_jets(turbine)
    ):
        yield Finding(
            "note",
            "turbine",
            "[turbine] minimum_flow changes nothing: jets of fixed bore are open or shut, and run at their own full flow",
        )


def _sizes(study: Any) -> Iterator[Finding]:
    entries = [("[diversion]", study.site["diversion"])]
    entries += [
        (f"[[penstock.pipe]] {number}", entry)
        for number, entry in enumerate(study.site["penstock.pipe"], 1)
    ]
    for where, entry in entries:
        if "size" in entry and "rating" in entry:
            yield Finding(
                "note",
                where,
                "its rating changes nothing: the catalogue's size has its own; give inside_diameter instead of size where the pipe is another",
            )


def _operation(study: Any) -> Iterator[Finding]:
    operation = study.site["operation"]
    if operation.get("freezes_below", 0.0) > 273.15:
        yield Finding(
            "caution",
            "operation",
            f"freezes_below is {operation['freezes_below'] - 273.15:.3g} °C, above freezing: water that stands still does not freeze there; -3 °C is usual",
        )
    if operation.get("stops_per_winter", 0) > _DAYS_OF_WINTER:
        yield Finding(
            "caution",
            "operation",
            f"{operation['stops_per_winter']:g} stops a winter are more than one every few days of frost: each is counted to last until it thaws",
        )
