"""Page 03, what the penstock must hold: surge, vacuum, bends, supports."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.judged import SAFE_VACUUM
from ....study.build.laid_pipes import buoyancy, snow_and_ice, spans
from ....study.build.machines import opened
from ....study.build.part_names import stretch_name
from ....study.build.penstock_pressures import in_pascals, overstressed, return_wave, too_hot
from ....study.study import Study
from ....study.view import View
from ....works.surge import DEFLECTORS, STORED_PRESSURE_CAUTION, VACUUM_CAUTION
from ...display import Cautions, Table, Words, escape_markdown
from ..common import needs

if TYPE_CHECKING:
    from ....works.bends import Bend
    from ....works.bridge import PipeBridge
    from ....works.pressures import Pressures

__all__ = [
    "pressure_cautions",
    "supports_table",
    "supports_words",
    "surge_table",
    "surge_words",
    "uplift_words",
    "vacuum_words",
]


@needs(Study.pressures)
def surge_table(study: Study, view: View, held: Pressures) -> Table:
    """Pressure waves in numbers."""
    rows = [
        ("speed of the water at full flow", water_speed(view, held)),
        ("speed of a pressure wave", view.text(held.wave_speed_ms, "velocity")),
        ("a wave runs up and back in", view.shown(study.answer("wave.round_trip"))),
        (
            "rise over rest at the foot if everything stops at once",
            _rise(study, view, "surge.at_once"),
        ),
    ]
    if held.rejoined_m is not None:
        rows.append(
            (
                "the same where the water column parts and rejoins",
                f"from that rise to as much as {view.text(held.rejoined_m[1], 'head', 2)}",
            )
        )
    for name, metres in study.single_surges:
        rows.append(
            (
                f"rise if {name} alone stops at once",
                f"{view.text(metres, 'head', 2)}, {view.text(in_pascals(study, metres), 'pressure', 2)}",
            )
        )
    if held.closing_time_s is not None:
        rows.append(
            (
                f"rise over rest when it closes evenly in {view.text(held.closing_time_s, 'time', 2)}",
                _rise(study, view, "surge.closing"),
            )
        )
    rows.append(("shortest even closing that the pipe bears", _safe(study, view, held)))
    rows.append(
        (
            f"time to take over the whole travel of {_shuts(study)}",
            view.shown(study.answer("closing_time")),
        )
    )
    return Table(("what", "number"), rows, "Surge")


def _rise(study: Study, view: View, key: str) -> str:
    """A rise of pressure as head and as pressure."""
    rise = study.answer(key)
    if rise is None:
        return view.shown(None)
    return f"{view.shown(rise)}, {view.text(in_pascals(study, rise.value), 'pressure', 2)}"


def _safe(study: Study, view: View, held: Pressures) -> str:
    seconds = held.safe_time_s
    if np.isnan(seconds):
        return (
            "none: no rating holds at its warmest"
            if too_hot(study)
            else "not known without a rating"
        )
    if np.isinf(seconds):
        return "none: the pressure at rest is too much already"
    return "any" if seconds == 0 else view.shown(study.answer("closing_time.even"))


def _shuts(study: Study) -> str:
    """What shuts the water off at the machine."""
    return "a valve or needle" if opened(study) == "jet" else "a valve or the gates"


def water_speed(view: View, held: Pressures) -> str:
    """How fast the water runs; from the widest pipe to the narrowest, where they differ."""
    slow, fast = (view.text(each, "velocity", 2) for each in (held.slowest_ms, held.fastest_ms))
    if slow == fast:
        return slow
    return f"{view.range(held.slowest_ms, held.fastest_ms, 'velocity')} (widest and narrowest pipe)"


def closing_verdict(study: Study, view: View, held: Pressures) -> str:
    """How slowly to close and why, in the same words wherever it is asked."""
    if np.isinf(held.safe_time_s):
        return "The pressure at rest is already above the rating: no closing is slow enough. "
    travel = (
        f"Take {view.shown(study.answer('closing_time'))} or more over the whole travel of "
        f"{_shuts(study)}"
    )
    if too_hot(study):
        return (
            "No rating of its pipe holds at its warmest, so no closing is known to be safe then. "
            f"{travel}, and only while the pipe is cool. "
        )
    if np.isnan(held.safe_time_s):
        return (
            "Without the pipe's rating no safe time can be calculated; find it printed on the "
            f"pipe. {travel} until then. "
        )
    if held.safe_time_s == 0:
        return (
            "Even stopped at once the pressure stays within the derated rating everywhere, yet "
            f"joints, bends and old plastic take repeated blows badly. {travel} all the same. "
        )
    why = []
    if held.use_at_once > 1:
        why.append(
            "stopped at once the pressure would reach "
            f"{plain_number(100 * held.use_at_once, 3)} % of the derated rating"
        )
    if held.at_once_parts_m is not None and held.rejoined_m is not None:
        why.append(
            "stopped at once the water column would **part** at "
            f"{view.text(held.at_once_parts_m, 'length')}, and the blow when it rejoins may "
            "raise the head at the foot by as much as "
            f"{view.text(held.rejoined_m[1], 'head', 2)} over rest, by an estimate for a pipe "
            f"without friction{_beyond_rating(view, held)}"
        )
    text = (
        f"An even closing must take {view.shown(study.answer('closing_time.even'))} or more: "
        f"{'; '.join(why)}. "
    )
    return f"{text}A gate does most of its closing in the last quarter of its travel. {travel}. "


def _beyond_rating(view: View, held: Pressures) -> str:
    """That the blow of a column that rejoins is more than the pipe is rated for."""
    if not held.rejoined_use > 1:
        return ""
    return (
        f": {view.text(held.rejoined_pa, 'pressure', 2)} at the foot, where the pipe is rated for "
        f"{view.text(float(held.rating_pa[-1]), 'pressure')}"
    )


@needs(Study.pressures, quiet=True)
def surge_words(study: Study, view: View, held: Pressures) -> Words:
    """What closing does, and how slowly it must be done."""
    text = (
        f"Water stopped faster than in {view.shown(study.answer('wave.round_trip'))} acts as if "
        f"it were stopped at once: the foot would see {view.shown(study.answer('pressure.at_once'))}. "
    )
    if study.penstock is not None and len(study.penstock.joined.pipes) > 1:
        text += (
            "Where bores or walls differ the waves meet again, and the highest is not the first. "
        )
    if held.closing_time_s is not None:
        text += (
            f"Closed in {view.text(held.closing_time_s, 'time', 2)} it sees "
            f"{view.shown(study.answer('pressure.highest'))}. "
        )
        wave = return_wave(study)
        if wave is not None and wave.parts:
            text += (
                "On the way back the wave pulls so hard that the water column **parts**; the blow "
                "when it closes again comes on top of these figures. "
            )
        elif wave is not None and wave.worth_telling:
            text += (
                "On the way back the wave pulls the pipe to "
                f"{view.text(wave.lowest_pa, 'pressure', 2)} at {view.text(wave.at_m, 'length')}. "
            )
    else:
        text += (
            "The site file does not say how quickly the valve can close; time it, and give it as "
            "closing_time. "
        )
    deflector = f"{DEFLECTORS.split(':')[0]}." if opened(study) == "jet" else ""
    return Words((text + closing_verdict(study, view, held) + deflector).rstrip())


@needs(Study.pressures, quiet=True)
def vacuum_words(study: Study, view: View, pressures: Pressures) -> Words:
    """Whether a vacuum can crush the pipe."""
    safety = pressures.vacuum_safety
    if np.isnan(safety):
        return Words(
            "**Vacuum.** The pipe's wall is not known, so whether a vacuum would crush it is "
            "not known: give the pipe by its size and class."
        )
    where = "" if study.altitude_m is None else " at this altitude"
    text = (
        f"**Vacuum.** A full vacuum{where} would have to be {plain_number(safety, 2)} times as "
        "strong to fold the pipe were it perfectly round, while it is new and cold; "
        f"{SAFE_VACUUM:.0f} times is the usual demand, for no pipe is round. "
    )
    if safety < SAFE_VACUUM:
        text += (
            "**This pipe needs air inlets** just below every valve at its upper end, wide enough "
            "to let in as much air as the jets let out water. "
        )
    elif safety < 2 * SAFE_VACUUM:
        text += (
            "That is little more than is asked: an old, warm or dented pipe falls below it. An "
            "open air pipe just below the inlet costs next to nothing. "
        )
    else:
        text += "A vacuum alone will not crush it; but it draws dirt and air in at joints. "
    return Words(
        text
        + (
            "Vacuum comes when the inlet blocks, the forebay is drawn down, or an upper valve is "
            "shut while the plant runs."
        )
    )


def supports_table(study: Study, view: View) -> Table | Words:
    """Thrust at the bends, spans of the bridges."""
    rows = []
    for bend in study.bends[:4]:
        rows.append(
            (
                f"bend of {plain_number(np.degrees(bend.angle_rad), 2)}°",
                view.text(bend.distance_m, "length"),
                (
                    f"{_pushed(bend.thrust_n)} with {view.text(abs(bend.thrust_n), 'force', 2)} "
                    f"if all stops at once, at {view.text(bend.pressure_pa, 'pressure', 2)}"
                    f"{_rejoined(view, bend)}"
                ),
                (
                    f"{_pushed(bend.slow_thrust_n)} with "
                    f"{view.text(abs(bend.slow_thrust_n), 'force', 2)} {_slowly(study)}, at "
                    f"{view.text(bend.slow_pressure_pa, 'pressure', 2)}"
                ),
            )
        )
    for each in study.bridges:
        judged = "too far" if each.span_m > each.longest_m else "near enough"
        printed = (
            ""
            if each.published_m is None
            else f"; printed for it without snow or ice {view.text(each.published_m, 'length', 2)}"
        )
        under = f"with its {_laden(study, each)}" if _laden(study, each) else "without snow or ice"
        rows.append(
            (
                each.name,
                f"supports {view.text(each.span_m, 'length', 2)} apart: {judged}",
                f"may be {view.text(each.allowed_m, 'length', 2)} {under}{printed}",
                f"sags {view.text(each.sag_m, 'diameter', 2)} between them"
                if each.stands
                else "does not bear its own water",
            )
        )
    if not rows:
        return Words("")
    return Table(("what", "where", "number", ""), rows, "Bends and bridges")


def _slowly(study: Study) -> str:
    """What the lesser thrust of a bend goes with."""
    held = study.pressures
    return (
        "at rest" if held is None or held.closing_time_s is None else "closing as slowly as given"
    )


def _pushed(thrust_n: float) -> str:
    """Which way the water moves a bend; under suction it is inwards."""
    return "pushes outwards" if thrust_n >= 0 else "pulls inwards"


def _rejoined(view: View, bend: Bend) -> str:
    """The blow of a column that parts and rejoins, as the most that a bend may see."""
    if bend.rejoined_thrust_n is None:
        return ""
    most = view.text(bend.rejoined_thrust_n, "force", 2)
    return f" (as much as {most} where the water column parts and rejoins)"


def _laden(study: Study, bridge: PipeBridge) -> str:
    """What of snow and ice is counted on a bridge."""
    return " and ".join(snow_and_ice(study, bridge.name))


def supports_words(study: Study, view: View) -> Words:
    """What holds bends and bridges."""
    text = ""
    if study.bends:
        worst = study.bends[0]
        text = (
            f"**Bends and bridges.** At {view.text(worst.distance_m, 'length')} a bend of "
            f"{plain_number(np.degrees(worst.angle_rad), 2)}° "
            f"{'is pushed outwards' if worst.thrust_n >= 0 else 'is sucked inwards'} with "
            f"{view.text(abs(worst.thrust_n), 'force', 2)} if all stops at once"
            f"{_rejoined(view, worst)}, "
            f"{view.text(abs(worst.slow_thrust_n), 'force', 2)} {_slowly(study)}: design its "
            "block for the greater force; glued or welded pipe in firm ground takes a small thrust along its "
            "length, push-fit joints need a block for each. "
        )
    for each in study.bridges:
        if each.span_m > each.longest_m:
            under = (
                f"with the {_laden(study, each)} it may carry"
                if _laden(study, each)
                else "even without snow or ice, which are not given"
            )
            text += (
                f"The supports of the {escape_markdown(each.name)} stand "
                f"{view.text(each.span_m, 'length', 2)} apart and should stand no more than "
                f"{view.text(each.longest_m, 'length', 2)} apart {under}. "
            )
    known = {each.name for each in study.bridges}
    unknown = [name for name in (stretch_name(*told) for told in spans(study)) if name not in known]
    if unknown:
        text += (
            f"How far apart the supports of the {escape_markdown(series_text(unknown))} may stand "
            "is not known, for the pipe's wall is not: give the pipe by its size and class. "
        )
    return Words(text)


def uplift_words(study: Study, view: View) -> Words:
    """What holds a pipe down that lies full of air under water."""
    metre, per = (1.0, "metre") if view.system == "metric" else (0.3048, "foot")
    told = []
    for each in buoyancy(study):
        lift, half, stone = (
            view.text(kilograms * metre, "mass", 2)
            for kilograms in (each.empty_kgm, each.half_full_kgm, each.stone_kgm)
        )
        half_full = (
            f"half full with {half}" if each.half_full_kgm > 0 else "half full it stays down"
        )
        told.append(
            f"the {each.name} rises with {lift} for each {per} ({half_full}) and needs "
            f"{stone} of stone or strap for each {per}, a margin of one half"
        )
    if not told:
        return Words("")
    return Words(
        "**Buoyancy.** Where it lies under water, in a pond, a flooded trench or wet ground, "
        f"an empty pipe floats up: {'; '.join(told)}. Tie it down before the first filling; a "
        "pipe that has risen once holds air at a new high point."
    )


def pressure_cautions() -> Cautions:
    """Before anyone works on a full pipe."""
    return Cautions(
        [
            STORED_PRESSURE_CAUTION,
            VACUUM_CAUTION,
            (
                "Thrust blocks, bridges and pipes over places where people go are designed by an "
                "engineer licensed where the plant stands."
            ),
        ]
    )


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change on the penstock."""
    held, section, rows = study.pressures, study.section, []
    for each in study.bridges:
        if each.span_m > each.longest_m:
            rows.append(
                (
                    "closer supports",
                    each.name,
                    (
                        f"{view.text(each.longest_m, 'length', 2)} instead of "
                        f"{view.text(each.span_m, 'length', 2)}"
                    ),
                    "it sags or bends too far"
                    + (f" under {_laden(study, each)}" if _laden(study, each) else ""),
                )
            )
    if held is None or section is None:
        return rows
    for start, end in section.above_source:
        rows.append(
            (
                "the penstock laid lower",
                f"{view.text(start, 'length')} to {view.text(end, 'length')}",
                "below the level of the forebay",
                "it stands above its forebay and fills only as a siphon",
            )
        )
    weak = overstressed(study)
    if weak is not None:
        rows.append(
            (
                "stronger pipe",
                f"{view.text(weak.from_m, 'length')} to {view.text(weak.to_m, 'length')}",
                view.text(weak.highest_pa, "pressure"),
                f"{view.shown(study.answer('pressure.share_of_rating'))} of the derated rating",
            )
        )
    if held.too_fast and held.closing_time_s is not None:
        rows.append(
            (
                "a slow valve",
                "foot of the penstock",
                f"{view.shown(study.answer('closing_time.even'))} or more, even closing",
                "surge beyond the rating" if held.use_of_rating > 1 else "the water column parts",
            )
        )
    elif held.closing_time_s is None:
        rows.append(
            (
                "time the valve",
                "foot of the penstock",
                f"stopped at once {view.shown(study.answer('surge.at_once'))} of surge",
                "its closing time is not known",
            )
        )
    if np.isfinite(held.vacuum_safety) and held.vacuum_safety < 2 * SAFE_VACUUM:
        rows.append(
            (
                "an air pipe",
                "just below the inlet of the penstock",
                f"its wall withstands {plain_number(held.vacuum_safety, 2)} times a vacuum",
                f"{SAFE_VACUUM:.0f} times is the least",
            )
        )
    listed = {round(entry["angle"], 6) for entry in study.site["penstock.bend"]}
    for bend in study.bends:
        if round(bend.angle_rad, 6) in listed:
            rows.append(
                (
                    "a thrust block",
                    view.text(bend.distance_m, "length"),
                    _thrust(view, bend),
                    f"bend of {plain_number(np.degrees(bend.angle_rad), 2)}°",
                )
            )
    return rows


def _thrust(view: View, bend: Bend) -> str:
    """The force on the block of a bend, and when it comes."""
    told = f"{view.text(abs(bend.thrust_n), 'force', 2)} if all stops at once"
    if bend.rejoined_thrust_n is None:
        return told
    most = view.text(abs(bend.rejoined_thrust_n), "force", 2)
    return f"{told}, {most} where the water column parts and rejoins"
