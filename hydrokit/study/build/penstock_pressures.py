"""What the penstock must hold: long section, surge, bends."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...columns import read_csv
from ...site.sheets import Folder
from . import healthy, machines
from .line_inlet import along, laid_on_profile
from .waterway import PIECES, SQUARE_INLET

if TYPE_CHECKING:
    from ...works.bends import Bend
    from ...works.pipe import Line
    from ...works.pressures import Pressures
    from ...works.profile import LongSection, Profile
    from ..study import Study

__all__ = [
    "HighPoint",
    "Overstressed",
    "ReturnWave",
    "bends",
    "breaks",
    "column_breaks",
    "ground",
    "high_points",
    "in_pascals",
    "overstressed",
    "pressures",
    "return_wave",
    "section",
    "single_surges",
    "too_hot",
]


def _spread(line: Line, times: float = 1.0) -> Line:
    """The line with its bends and valves spread along it, and only the inlet's own loss left at the inlet.

    The site file gives one sum for them; charged at the inlet it would show suction that is not there.
    Readings may show so many times the loss of the clean pipe.
    """
    from ...works.pipe import Line

    pieces = []
    for number, pipe in enumerate(line.joined.pipes):
        inlet = min(float(pipe.fittings), SQUARE_INLET) if number == 0 else 0.0
        part = replace(
            pipe,
            length_m=pipe.length_m / PIECES,
            fittings=(pipe.fittings - inlet) / PIECES,
            loss_factor=times * pipe.loss_factor,
        )
        pieces += [replace(part, fittings=part.fittings + inlet), *[part] * (PIECES - 1)]
    return Line(tuple(pieces))


def section(study: Study) -> LongSection | None:
    """The penstock laid on its profile at full flow, or None."""
    from ...works.profile import long_section

    line, head = study.penstock, study.head
    if line is None or head is None or not study.full_flow_m3s:
        return None
    laid, source = study.folder.sentence(
        "[penstock]", lambda: laid_on_profile(study, line, head.value)
    )
    return long_section(
        laid,
        _spread(line, healthy.loss_in_use(study)),
        study.full_flow_m3s,
        source,
        study.altitude_m or 0.0,
        study.water_temperature_k,
        study.site.penstock.warmest,
    )


def pressures(study: Study) -> Pressures | None:
    """What the penstock must hold, or None."""
    from ...works.pressures import penstock_pressures

    held, line, flow = study.section, study.penstock, study.full_flow_m3s
    if held is None or line is None or flow is None:
        return None
    return study.folder.sentence(
        "[penstock] closing_time",
        lambda: penstock_pressures(
            held,
            line,
            flow,
            study.site.penstock.closing_time,
            study.altitude_m or 0.0,
            study.water_temperature_k,
        ),
    )


def too_hot(study: Study) -> tuple[str, ...]:
    """Names of the penstock's pipes that are, at their warmest, hotter than any rating of theirs holds."""
    from ...works import profile

    warm, line = study.site.penstock.warmest, study.penstock
    if line is None:
        return ()
    return profile.too_hot(line, study.water_temperature_k if warm is None else warm)


def single_surges(study: Study) -> tuple[tuple[str, float], ...]:
    """What one of several jets or machines does alone if it stops at once: name, and the rise of
    head over rest in m."""
    jets = None if study.plant is None else study.plant.jets
    held, line, full = study.section, study.penstock, study.full_flow_m3s
    if study.pressures is None or held is None or line is None or full is None:
        return ()
    if jets is None or jets.count < 2:
        return ()
    from ...works.pressures import penstock_pressures

    one = full / jets.count
    flows = (
        {each.name: each.design_flow_m3s for each in getattr(jets, "machines", ())}
        or {each.name: each.count * one for each in machines.groups(study)}
        or {f"one of {jets.count}": one}
    )
    return tuple(
        (
            name,
            penstock_pressures(
                held,
                line,
                flow,
                None,
                study.altitude_m or 0.0,
                study.water_temperature_k,
            ).at_once_m,
        )
        for name, flow in flows.items()
    )


def bends(study: Study) -> tuple[Bend, ...]:
    """The bends listed, and the sharpest breaks of slope in the profile, with their thrust."""
    from ...works.bends import profile_bends

    held, line, full = study.pressures, study.penstock, study.full_flow_m3s
    if held is None or line is None or full is None:
        return ()
    listed = study.site.penstock.bend
    where, angle = [entry["at"] for entry in listed], [entry["angle"] for entry in listed]
    if study.profile is not None:
        where = list(along(study.profile, np.array(where, dtype=float)))
        place, turn = breaks(study.profile)
        own = np.array(
            [all(abs(each - at) > _SAME_BEND_M for at in where) for each in place], dtype=bool
        )
        place, turn = place[own], turn[own]  # a listed bend is told once
        sharpest = np.argsort(-turn)[:_BREAKS_SHOWN]
        where, angle = [*where, *place[sharpest]], [*angle, *turn[sharpest]]
    return profile_bends(held, line, full, np.array(where), np.array(angle)) if where else ()


_BREAKS_SHOWN = 3
_SAME_BEND_M = 1.0


def breaks(surveyed: Profile) -> tuple[np.ndarray, np.ndarray]:
    """Places where the slope changes, from the second station of the pipe on, and by what angle."""
    step, rise = np.diff(surveyed.distance_m), np.diff(surveyed.elevation_m)
    slope = np.arcsin(np.clip(rise / step, -1.0, 1.0))[
        1:
    ]  # the first stretch is the water's surface
    return surveyed.distance_m[2:-1], np.abs(np.diff(slope))


def ground(folder: Folder, section: dict) -> np.ndarray | None:
    """Level of the ground at the stations of a profile, where its sheet gives it."""
    if "profile" not in section:
        return None
    table = read_csv(
        folder.file(section["profile"], "profile"),
        {"chainage": "m", "elevation": "m"},
        {"ground": "m"},
        notes=folder.notes,
    )
    return (
        table["ground"].to_numpy()
        if "ground" in table and np.isfinite(table["ground"]).any()
        else None
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class HighPoint:
    """A high point of the penstock: its distance from the inlet, and the pipe behind it down to the
    next low point, in m.

    Parameters
    ----------
    at_m, behind_m : float
    head_m : float
        What the air of that pipe takes of the head at full flow, where nobody lets it out; NaN where
        the flow is not known.
    power_share : float
        The same of the power with all jets open, by the law of fixed jets, P ~ H^1.5.
    clears_m3s : float
        From this flow on every published law says that the air goes.
    verdict : str
        Whether the flow that the plant takes with the air in its pipe carries it away: ``"goes"``,
        ``"stays"``, ``"not settled"``, or nothing.
    vented : bool
        Whether the site file tells of a vent there.
    """

    at_m: float
    behind_m: float
    head_m: float
    power_share: float
    clears_m3s: float
    verdict: str
    vented: bool

    @property
    def kept(self) -> bool:
        """Whether its air stays, as far as is known: no vent there, and not surely carried away."""
        return not self.vented and self.verdict in ("stays", "not settled")


def high_points(study: Study) -> tuple[HighPoint, ...]:
    """The penstock's own high points, down the line; none where it is not laid on a profile."""
    from .kept_air import pockets, vented

    held, line = study.section, study.penstock
    if held is None or line is None or study.profile is None:
        return ()
    flow, plant = study.full_flow_m3s, study.plant
    dry = (
        None
        if plant is None or study.baseline is not None
        else plant.replace(penstock=replace(plant.penstock, air_m=0.0))
    )
    net = np.nan if flow is None else held.net_head_m
    found = []
    for each in pockets(study, line, dry):
        left = max(1 - each.head_m / net, 0.0) if net > 0 else np.nan
        found.append(
            HighPoint(
                at_m=each.at_m,
                behind_m=each.behind_m,
                head_m=np.nan if flow is None else each.head_m,
                power_share=1 - left**1.5,
                clears_m3s=each.high_m3s,
                verdict="" if flow is None else each.verdict,
                vented=vented(study, each.at_m),
            )
        )
    return tuple(found)


# --- what the pages tell of them ------------------------------------------------------------


def in_pascals(study: Study, head_m: float) -> float:
    """Pressure in Pa of a column of this creek's water."""
    from ...water import head_to_pressure

    return float(head_to_pressure.si(head_m, study.water_temperature_k))


def _suction_limit_m(study: Study) -> float:
    """Suction in m of water at which the column breaks at the altitude of this site."""
    from ...works.profile import siphon_limit

    return float(siphon_limit.si(study.altitude_m or 0.0, study.water_temperature_k))


def column_breaks(study: Study) -> bool:
    """Whether the running penstock sucks so hard somewhere that the water column breaks."""
    held = study.section
    return held is not None and bool(held.suction_m >= _suction_limit_m(study))


_WORTH_TELLING = 0.05  # of the static pressure at the foot: less suction is not told


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnWave:
    """The lowest pressure while the valve closes as quickly as the site file says.

    Parameters
    ----------
    lowest_pa, at_m : float
        And its distance from the inlet.
    parts : bool
        Whether the water column parts there.
    worth_telling : bool
        Whether it is suction of any size.
    """

    lowest_pa: float
    at_m: float
    parts: bool
    worth_telling: bool


def return_wave(study: Study) -> ReturnWave | None:
    """The wave on its way back, or None where no penstock or no closing time is given."""
    held = study.pressures
    if held is None or held.closing_time_s is None:
        return None
    place = int(np.argmin(held.lowest_pa))
    lowest = float(held.lowest_pa[place])
    return ReturnWave(
        lowest_pa=lowest,
        at_m=float(held.distance_m[place]),
        parts=lowest < -in_pascals(study, _suction_limit_m(study)),
        worth_telling=bool(lowest < -_WORTH_TELLING * held.static_pa[-1]),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Overstressed:
    """Where the pressure exceeds the derated rating: from and to, in m from the inlet, and the
    highest pressure."""

    from_m: float
    to_m: float
    highest_pa: float


def overstressed(study: Study) -> Overstressed | None:
    """Where the penstock is too weak, or None."""
    held = study.pressures
    if held is None or not held.use_of_rating > 1:
        return None
    at = held.distance_m[held.highest_pa > held.rating_pa]
    return Overstressed(
        from_m=float(at.min()), to_m=float(at.max()), highest_pa=float(np.nanmax(held.highest_pa))
    )
