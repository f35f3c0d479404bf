"""Shutdown, draining, filling, venting and restart of this very line, step by step, to print.

Nothing here is a general recipe: the numbers come from the line's profile, its pipes and its air.
"""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import Any, Mapping

import numpy as np

from ..result import Result
from ..water import GRAVITY, density
from ..works.air import high_points
from ..works.falling import FallingLine, penstock_line
from ..works.filling_steps import FILLING_SPEED
from ..works.pipe import Line
from ..works.pressures import Pressures, valve_time
from ..works.profile import LongSection, Profile

__all__ = ["Pool", "Step", "penstock_steps", "pools"]

_HIGH_POINT_M = 1.0


@dataclass(frozen=True)
class Step(Result):
    """One thing to do.

    Parameters
    ----------
    number : int
    part : str
        ``"shut down"``, ``"drain"``, ``"fill and vent"`` or ``"restart"``.
    action, why : str
    value, kind : float and str
        Its figure in SI and what it is: a kind of ``display.View``; NaN and empty for none.
    place_m : float or None
        Where, along the slope.
    caution : str
        What can hurt; empty for nothing out of the ordinary.
    question : str
        Key of the question that its figure answers; empty where it is only a step's.
    """

    number: int
    part: str
    action: str
    _: KW_ONLY
    why: str
    value: float = float("nan")
    kind: str = ""
    place_m: float | None = None
    caution: str = ""
    question: str = ""


@dataclass(frozen=True)
class Pool:
    """Water that stays in a line when it is drained at its lower end.

    Parameters
    ----------
    low_m : float
        Distance along the slope of its lowest point, where a drain belongs.
    length_m, volume_m3 : float
    """

    low_m: float
    length_m: float
    volume_m3: float


def pools(profile: Profile, line: Line) -> tuple[Pool, ...]:
    """Places in which a line keeps water when it is drained at its lower end.

    Parameters
    ----------
    profile : Profile
    line : Line
        Its narrowest bore decides what counts as a dip, its mean area the volume.

    Returns
    -------
    tuple of Pool
    """
    area = float(line.volume_m3) / float(line.length_m)
    bore = min(pipe.diameter_m for pipe in line.pipes)
    distance = np.unique(
        np.concatenate([profile.distance_m, np.linspace(0.0, profile.length_m, 400)])
    )
    level = np.interp(distance, profile.distance_m, profile.elevation_m)
    sill = np.maximum.accumulate(level[::-1])[::-1]  # highest ground between here and the lower end
    full = sill - level > 1e-9
    edges = np.diff(np.concatenate([[0], full.astype(int), [0]]))
    found = []
    for first, after in zip(
        np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist()
    ):
        inside = slice(first, after)
        if np.max((sill - level)[inside]) > bore / 2:
            length = float(distance[min(after, len(distance) - 1)] - distance[first])
            found.append(
                Pool(float(distance[inside][np.argmin(level[inside])]), length, area * length)
            )
    return tuple(found)


def numbered(rows: list[tuple[str, dict]]) -> tuple[Step, ...]:
    return tuple(Step(number, part, **row) for number, (part, row) in enumerate(rows, 1))


def penstock_steps(
    section: LongSection,
    line: Line,
    pressures: Pressures | None = None,
    gauge_pa: Mapping[int, float] | None = None,
    standing_s: float = float("inf"),
    thing: str = "jet",
    names: Mapping[int, str] | None = None,
    count: int = 2,
    spills: str = "the forebay spills",
    frosty: bool = True,
    air_m: float = 0.0,
) -> tuple[Step, ...]:
    """The steps for a penstock.

    Parameters
    ----------
    section : LongSection
        The line on its profile.
    line : Line
    pressures : Pressures, optional
        For the time a valve must take, and whether a vacuum can crush the pipe.
    gauge_pa : mapping of jets to float, optional
        What the gauge should show with each number of jets open, 0 for all shut; without the latter
        the static pressure at the foot.
    standing_s : float
        How long water may stand in it in the hardest frost known.
    thing : {"jet", "machine"}
        What is opened and shut.
    names : mapping of int to str, optional
        Of the machines that run with each key of `gauge_pa`, where they differ.
    count : int
        How many jets or machines there are.
    spills : str
        What is seen while there is water to spare.
    frosty : bool
        Whether ice is a question there at all.
    air_m : float
        Head that air kept behind its high points takes in `gauge_pa`. Filled with its vents open
        the pipe has none, and shows so much more.

    Returns
    -------
    tuple of Step
    """
    falling = penstock_line(section, line)
    fill = FILLING_SPEED * math.pi / 4 * min(pipe.diameter_m for pipe in line.pipes) ** 2
    hours = float(line.volume_m3) / fill
    gauge_pa = gauge_pa or {}
    static = float(gauge_pa.get(0, section.static_pressure_pa[-1]))
    rows = [
        ("shut down", row)
        for row in _shut(
            pressures,
            static,
            standing_s,
            f"the {thing}" if count == 1 else f"the {thing}s one after the other, each",
        )
    ]
    low = pools(falling.profile, line)
    filled = static + float(density.si(falling.temperature_k)) * GRAVITY * air_m
    rows += [("drain", row) for row in _drain(pressures, tops(falling), low, hours, frosty)]
    rows += [
        ("fill and vent", row)
        for row in _fill(
            falling, fill, hours, filled, thing if count == 1 else f"{thing}s", spills, frosty
        )
    ]
    rows += [
        ("restart", row)
        for row in _restart(
            {key: each for key, each in gauge_pa.items() if key},
            thing,
            names or {},
            count,
            spills,
            air_m > 0,
        )
    ]
    return numbered(rows)


def _shut(pressures: Pressures | None, static: float, standing_s: float, what: str) -> list[dict]:
    shut: dict[str, Any] = {
        "action": f"Shut {what} no faster than this, with the load still on",
        "caution": "pressure",
        "why": "a machine without load overspeeds in seconds; water stopped fast hammers the pipe",
    }
    if pressures is not None:
        shut |= {"value": valve_time(pressures), "kind": "time", "question": "closing_time"}
    rows: list[dict[str, Any]] = [
        shut,
        {
            "action": "Write down the gauge with everything shut",
            "why": "it shows the gauge's error, and a leak above it",
            "value": static,
            "kind": "gauge pressure",
        },
    ]
    rows.append(
        {
            "action": "Open the breaker once the runner stands, and lock it open",
            "why": "nobody is to start a machine that another works on",
            "caution": "electric",
        }
    )
    if np.isfinite(standing_s):
        rows.append(
            {
                "action": "If the stop will last longer than this in frost: drain",
                "why": (
                    "in the hardest frost known its worst stretch is blocked by then, whether "
                    "snow lies or not"
                ),
                "value": standing_s,
                "kind": "hours",
                "caution": "ice",
                "question": "freeze.line.penstock",
            }
        )
    return rows


def tops(line: FallingLine) -> list[tuple[float, float]]:
    """Distance and level of every high point, down the line."""
    cut = line.reaches
    return [
        (float(cut.distance_m[top]), float(cut.elevation_m[top])) for top, _ in high_points(line)
    ]


def vented(place: float) -> dict[str, object]:
    """Air let in at a high point before any water is let out."""
    return {
        "action": (
            "Open the vent at this high point, a quarter turn at a time, standing to the side; "
            "without one have it made before you drain"
        ),
        "why": "drained from below first, the low point seals and the leg behind it is pulled flat",
        "place_m": place,
        "caution": "vacuum",
    }


def _drain(
    pressures: Pressures | None,
    tops: list[tuple[float, float]],
    low: tuple[Pool, ...],
    fill_s: float,
    frosty: bool,
) -> list[dict]:
    factor = float("nan") if pressures is None else pressures.vacuum_safety
    if factor >= 3:
        why = f"its wall stands {factor:.2g} times a full vacuum, but its inlet or a coupling's seal may not"
    elif factor > 0:
        why = (
            f"its wall stands only {factor:.1f} times a full vacuum: with sun, age or ovality it "
            "can be folded flat"
        )
    else:
        why = "a vacuum can fold a thin pipe flat within seconds"
    rows: list[dict[str, Any]] = [
        {
            "action": "Open the air vent just below the upper valve, and see that nothing covers it",
            "why": why,
            "caution": "vacuum",
        },
        {"action": "Shut the upper valve", "why": "the water above it stays where it is"},
        *(vented(place) for place, _ in tops),
        {
            "action": "Open the drain at the foot by a quarter, and let it run; it takes at least this long",
            "why": "air must follow as fast as the water leaves",
            "value": fill_s,
            "kind": "minutes",
            "caution": "pressure",
        },
    ]
    rows += [left_below(each, frosty) for each in low]
    rows.append(
        {
            "action": "Leave drains and vents open until it is filled again",
            "why": (
                "snow melting at the pipe inlet would fill it to stand and freeze"
                if frosty
                else "what seeps past the upper valve would fill it unseen"
            ),
        }
    )
    return rows


def left_below(pool: Pool, frosty: bool) -> dict[str, object]:
    """Water let out of a dip that the drain at the foot leaves full."""
    return {
        "action": "Open the drain at this low point; without one this much water stays"
        + (" and freezes" if frosty else ""),
        "why": "the line rises again behind it",
        "value": pool.volume_m3,
        "kind": "volume",
        "place_m": pool.low_m,
    }


def _fill(
    falling: FallingLine,
    flow: float,
    seconds: float,
    static: float,
    what: str,
    spills: str,
    frosty: bool,
) -> list[dict]:
    high = tops(falling)
    rows: list[dict[str, Any]] = [
        {
            "action": (
                f"Shut every drain and the {what}; look along the line for joints apart, pipe off its "
                f"supports, {'ice' if frosty else 'wood or stones'} in the pipe inlet"
            ),
            "why": "the whole static pressure comes on it",
            "caution": "height",
        },
        {
            "action": "See that the vent just below the upper valve is open and nothing covers it",
            "why": "the pipe's air leaves through it as the water comes in",
        },
    ]
    rows += [
        {
            "action": "See that the vent at this high point is open before any water comes",
            "why": (
                "the water that runs over it fills the leg behind from below, and its air has no "
                "other way out"
            ),
            "place_m": place,
        }
        for place, _ in high
    ]
    rows += [
        {
            "action": "Open the upper valve a crack: no more than this",
            "why": "air must get out ahead of the water",
            "value": flow,
            "kind": "flow",
            "caution": "pressure",
        },
        {
            "action": "Let it fill for at least this long",
            "why": "the water moves down the pipe at a slow walk",
            "value": seconds,
            "kind": "minutes",
        },
    ]
    weight = float(density.si(falling.temperature_k)) * GRAVITY
    for place, level in sorted(high, key=lambda each: each[1]):
        row: dict[str, Any] = {
            "action": "Shut the vent at this high point when it runs solid",
            "why": "low to high, as the water rises; air that stays behind it costs head",
            "place_m": place,
            "caution": "air",
        }
        # Behind a higher one further down the foot may still be dry, and the gauge tells nothing.
        if all(level >= other for further, other in high if further > place):
            row["action"] += " and the gauge shows this; if it shows less, air or a leak is below"
            row |= {
                "value": static - weight * (falling.source_level_m - level),
                "kind": "gauge pressure",
            }
        rows.append(row)
    rows += [
        {
            "action": "Shut the vent below the upper valve when it runs solid",
            "why": "the lower vents first: air climbs",
            "caution": "air",
        },
        {
            "action": f"Wait until {spills} and the gauge is steady at this",
            "why": "lower means air or a leak; go and look before anything is opened",
            "value": static,
            "kind": "gauge pressure",
        },
        {
            "action": "Open the upper valve fully, slowly",
            "why": "half open it costs head and chatters",
        },
    ]
    return rows


def _restart(
    running_pa: Mapping[int, float],
    thing: str,
    names: Mapping[int, str],
    most: int,
    spills: str,
    airy: bool,
) -> list[dict]:
    rows: list[dict[str, Any]] = [
        {
            "action": (
                "Have load or ballast ready before the water comes, in the order the manufacturer "
                "of the machine gives"
            ),
            "why": "a runner that finds no load overspeeds",
            "caution": "electric",
        }
    ]
    if airy and running_pa:
        rows.append(
            {
                "action": "Expect more on the gauge than below where vents let the pipe's air out",
                "why": "these are the figures of the pipe with its air in it",
            }
        )
    for count in sorted(running_pa) or [1]:
        first = count == min(running_pa, default=1)
        settles = "; the gauge should settle at this" if count in running_pa else ""
        row: dict[str, Any] = {
            "action": _opens(count, first, thing, names, most, spills) + settles,
            "why": (
                "a gauge that fluctuates or sinks means air in the line or too little water: shut "
                "it again"
            ),
        }
        rows.append(
            row
            | (
                {"value": running_pa[count], "kind": "gauge pressure"}
                if count in running_pa
                else {}
            )
        )
    rows.append(
        {
            "action": (
                "Write the first line of the new log page: time, what is open, pressure, volts, "
                "amps, spilling"
            ),
            "why": "the next fault is seen against it",
        }
    )
    return rows


def _opens(
    key: int, first: bool, thing: str, names: Mapping[int, str], most: int, spills: str
) -> str:
    if names:
        return f"Run {names[key]}, opened slowly" + ("" if first else f", only while {spills}")
    if first:
        return f"Open the {'first ' if most > 1 else ''}{thing} slowly"
    return f"Open {thing} {key} only while {spills}"
