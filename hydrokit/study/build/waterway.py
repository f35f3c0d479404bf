"""The water's way from the site file: parts above the pond, the diversion line, pressures, frost."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from ...site.schema_parts import Line
from ...site.schema_screens import (
    BottomIntake,
    DrilledPipe,
    InclinedScreen,
    Screen,
    TrashRack,
)
from . import capacity, forebay, gate_meters, open_reaches
from .part_names import part_name

if TYPE_CHECKING:
    from ...works.rated import Rated
    from ...works.state import State
    from ..study import Study

__all__ = ["PIECES", "SQUARE_INLET", "states", "supply"]

# --- parts above the pond -------------------------------------------------------------------


def _screen(entry: Screen, name: str) -> Any:
    return _screens().Screen(entry.area, entry.open, entry.head, gap_m=entry.wire_gap, name=name)


def _drilled_pipe(entry: DrilledPipe, name: str) -> Any:
    return _screens().DrilledPipe(
        (entry.holes,), (entry.hole,), (entry.head,), mesh_open_share=entry.mesh_open, name=name
    )


def _trash_rack(entry: TrashRack, name: str) -> Any:
    return _screens().BarRack(
        entry.width * entry.depth,
        entry.bar,
        entry.gap,
        slope_rad=entry.angle,
        head_m=entry.head,
        name=name,
    )


def _inclined_screen(entry: InclinedScreen, name: str) -> Any:
    from ...works.inclined import inclined_screen_band

    slots, band = (entry.width, entry.gap, entry.wire, entry.slope), None
    if all(each is not None for each in slots) and entry.given("length"):
        low, high = inclined_screen_band.si(entry.length, *slots)
        band = (float(low), float(high))
    return _screens().InclinedScreen(
        entry.rating,
        entry.length,
        entry.drop,
        source=entry.rated_by,
        band_m3s=band,
        name=name,
    )


def _bottom_intake(entry: BottomIntake, name: str) -> Any:
    return _screens().BottomRack(
        entry.width, entry.length, entry.bar, gap_m=entry.gap, slope_rad=entry.slope, name=name
    )


# Kinds of screens: kind in the site file -> what builds it from its entry and name.
SCREENS: dict[str, Callable[[Any, str], Any]] = {
    "screen": _screen,
    "drilled pipe": _drilled_pipe,
    "trash rack": _trash_rack,
    "inclined screen": _inclined_screen,
    "bottom intake": _bottom_intake,
}
# The other parts that limit or lose water; a pond does neither.
PARTS: dict[str, Callable[[Any, str], Any]] = {
    **SCREENS,
    "orifice": gate_meters.orifice,
    "gate": gate_meters.gate,
    "open ground": open_reaches.open_ground,
    "channel": open_reaches.channel,
}


def _screens() -> Any:
    from ...works import screen_parts

    return screen_parts


def _rated(capacity_m3s: float, share_lost: float, name: str) -> Rated:
    from ...works.rated import Rated

    return Rated(capacity_m3s, share_lost, name)


def supply(study: Study) -> tuple[Any, ...]:
    """What stands above the pond, in the order of the site file.

    The intake's capacity counts where no screen is listed above the last pond, and where it was
    measured: then a listed screen passes that. The diversion line counts where it is described,
    before the open ground, channel or pond if it is not listed, with what it carries today.
    """
    from ...works.diversion import DiversionLine

    entries, folder, line = list(study.site.part), study.folder, study.diversion_line
    if line is not None and not any(entry.kind == "line" for entry in entries):
        place = next(
            (
                number
                for number, entry in enumerate(entries)
                if entry.kind in ("open ground", "channel", "forebay")
            ),
            len(entries),
        )
        entries.insert(place, Line(kind="line"))
    names = [part_name(entry) for entry in entries]
    for name in names:
        if names.count(name) > 1:
            raise folder.wrong(
                "[[part]]", f"two parts are called '{name}'; give each a name of its own"
            )
    made: list[Any] = []
    capacity_, above = study.site.intake.capacity, entries[: forebay.place_of_pond(entries)]
    if capacity_ is not None and not any(entry.kind in SCREENS for entry in above):
        made.append(_rated(capacity_.value, 0.0, "intake"))
    for entry, name in zip(entries, names):
        if entry.kind == "line" and line is not None:
            made.append(
                DiversionLine(line, name, capacity.carried_by_line(study, bool(made)).flow_m3s)
            )
        elif entry.kind in PARTS:
            made.append(
                folder.sentence(f"[[part]] {name}", partial(PARTS[entry.kind], entry, name))
            )
    screens = [name for entry, name in zip(above, names) if entry.kind in SCREENS]
    return capacity.as_measured(study, tuple(made), screens)


def states(study: Study) -> tuple[dict[str, State], ...]:
    """State of each part in each month from its clogged shares; empty where nothing clogs."""
    from ...works.state import State

    shares = {part_name(entry): entry["clogged"] for entry in study.site.part if "clogged" in entry}
    if study.site.intake.given("clogged"):
        shares["intake"] = study.site.intake.clogged
    known = {part.name for part in study.supply}
    shares = {name: monthly for name, monthly in shares.items() if name in known}
    if not shares:
        return ()
    # Months that are alike share one mapping, by which the chain knows them as alike.
    seen: dict[tuple[float, ...], dict[str, State]] = {}
    for month in zip(*shares.values()):
        seen.setdefault(month, {name: State(share) for name, share in zip(shares, month)})
    return tuple(seen[month] for month in zip(*shares.values()))


PIECES, SQUARE_INLET = 12, 0.5
