"""The water's way from the site file: parts above the pond, the diversion line, pressures, frost."""

from __future__ import annotations

from typing import Any

import numpy as np

from . import capacity, forebay, gate_meters, open_reaches
from .part_names import part_name

__all__ = ["PIECES", "SQUARE_MOUTH", "states", "supply"]

# --- parts above the pond -------------------------------------------------------------------

# Kinds of screens: kind in the site file -> what builds it from its entry and name.
SCREENS = {
    "screen": lambda entry, name: _screens().Screen(entry["area"], entry["open"], entry["head"], gap_m=entry.get("wire_gap"), name=name),
    "drilled pipe": lambda entry, name: _screens().DrilledPipe((int(entry["holes"]),), (entry["hole"],), (entry["head"],), mesh_open_share=entry.get("mesh_open"), name=name),
    "trash rack": lambda entry, name: _screens().BarRack(entry["width"] * entry["depth"], entry["bar"], entry["gap"], slope_rad=entry.get("angle", np.pi / 3), head_m=entry["head"], name=name),
    "inclined screen": lambda entry, name: _screens().TiltedScreen(entry["rating"], entry.get("length", 1.0), entry.get("drop", 0.0), source=entry.get("rated_by", "maker"), name=name),
    "bottom intake": lambda entry, name: _screens().BottomRack(entry["width"], entry["length"], entry["bar"], gap_m=entry["gap"], slope_rad=entry.get("slope", np.radians(10)), name=name),
}  # fmt: skip
# The other parts that limit or lose water; a pond does neither.
PARTS = {
    **SCREENS,
    "orifice": gate_meters.orifice,
    "gate": gate_meters.gate,
    "open ground": open_reaches.open_ground,
    "channel": open_reaches.channel,
}  # fmt: skip


def _screens() -> Any:
    from ...works import screen_parts

    return screen_parts


def _rated(capacity_m3s: float, share_lost: float, name: str) -> Any:
    from ...works.rated import Rated

    return Rated(capacity_m3s, share_lost, name)


def supply(study: Any) -> tuple[Any, ...]:
    """What stands above the pond, in the order of the site file.

    The intake's capacity counts where no screen is listed above the last pond, and where it was
    measured: then a listed screen passes that. The diversion line counts where it is described,
    before the open ground, channel or pond if it is not listed, with what it carries today.
    """
    from ...works.diversion import DiversionLine

    entries, folder, line = list(study.site["part"]), study.folder, study.diversion_line
    if line is not None and not any(entry["kind"] == "line" for entry in entries):
        place = next(
            (
                number
                for number, entry in enumerate(entries)
                if entry["kind"] in ("open ground", "channel", "forebay")
            ),
            len(entries),
        )
        entries.insert(place, {"kind": "line"})
    names = [part_name(entry) for entry in entries]
    for name in names:
        if names.count(name) > 1:
            raise folder.wrong(
                "[[part]]", f"two parts are called '{name}'; give each a name of its own"
            )
    made, place = [], forebay.place_of_pond(entries)
    if "capacity" in study.site["intake"] and not any(
        entry["kind"] in SCREENS for entry in entries[:place]
    ):
        made.append(_rated(study.site["intake"]["capacity"].value, 0.0, "intake"))
    for entry, name in zip(entries, names):
        if entry["kind"] == "line" and line is not None:
            made.append(
                DiversionLine(line, name, capacity.carried_by_line(study, bool(made)).flow_m3s)
            )
        elif entry["kind"] in PARTS:
            made.append(
                folder.sentence(
                    f"[[part]] {name}",
                    lambda entry=entry, name=name: PARTS[entry["kind"]](entry, name),
                )
            )
    screens = [name for entry, name in zip(entries[:place], names) if entry["kind"] in SCREENS]
    return capacity.as_measured(study, tuple(made), screens)


def states(study: Any) -> Any:
    """State of each part in each month from its clogged shares; empty where nothing clogs."""
    from ...works.state import State

    shares = {
        part_name(entry): entry["clogged"] for entry in study.site["part"] if "clogged" in entry
    }
    if "clogged" in study.site["intake"]:
        shares["intake"] = study.site["intake"]["clogged"]
    known = {part.name for part in study.supply}
    shares = {name: monthly for name, monthly in shares.items() if name in known}
    if not shares:
        return ()
    # Months that are alike share one mapping, by which the chain knows them as alike.
    seen: dict[tuple[float, ...], dict[str, State]] = {}
    for month in zip(*shares.values()):
        seen.setdefault(month, {name: State(share) for name, share in zip(shares, month)})
    return tuple(seen[month] for month in zip(*shares.values()))


PIECES, SQUARE_MOUTH = 12, 0.5
