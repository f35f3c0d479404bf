"""What to have on the shelf before it is needed: each piece with the size that this plant asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...study.build.electric_parts import gauge_items
from ...study.build.machines import opened
from ..parts_list import STICK_M, pipes_of
from .sheet import Sheet, care, fitted, grid

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ...plant.chain import Chain
    from ...study.study import Study
    from ...study.view import View

__all__ = ["spares_list"]

_COLUMNS = (
    ("part", 30.0),
    ("size", 60.0),
    ("keep", 14.0),
    ("have", 14.0),
    ("lies where, number stamped on it", 54.0),
)
_ROOM_MM = 190.0
Spare = tuple[str, str, str]


def spares_list(study: Study, view: View) -> list[Sheet]:
    """The spares of a plant that is described; none where nothing is known of it."""
    plant = study.plant
    if plant is None:
        return []
    rows = [
        (what, size, keep, "", "")
        for what, size, keep in (
            *_water(study, plant, view),
            *_machine(study, plant, view),
            *_electric(study, plant, view),
        )
    ]
    parts = fitted([share for _, share in _COLUMNS], rows, _ROOM_MM)
    return [
        Sheet(
            "spares" + (f"_{number}" if number > 1 else ""),
            "Spares" + (f": sheet {number} of {len(parts)}" if len(parts) > 1 else ""),
            "for the shelf in the powerhouse",
            about=(
                "How many to keep is common practice; the manufacturer's list comes first. Sizes "
                "are those of the site file: measure before you order"
            ),
            body=grid(_COLUMNS, shown, size_pt=size)
            + care(
                (
                    "Shut off, let the runner stand still and lock it, and drain before "
                    "anything is taken apart. Wiring, breakers and heaters are for a licensed "
                    "electrician.",
                )
            ),
        )
        for number, (size, shown) in enumerate(parts, 1)
    ]


def _water(study: Study, plant: Chain, view: View) -> Iterator[Spare]:
    """Screens, pipes, valves."""
    for entry in study.site.part:
        if "mesh_open" in entry:
            name = entry.kind if entry.name is None else entry.name
            yield "mesh", f"for the {name}, as it is now", "1"
    yield "brush and rake for the screen", "with a handle long enough to stand on the bank", "1"
    lines = [] if study.diversion_line is None else list(study.diversion_line.line.pipes)
    seen = set()
    for pipe in (*lines, *pipes_of(plant)):
        size = f"{pipe.name}, {view.text(pipe.diameter_m, 'diameter')} inside"
        if size not in seen:
            seen.add(size)
            yield "pipe", f"{size}, {view.text(STICK_M[view.system], 'length', 2)}", "1"
            yield "repair couplings", size, "2"
    yield "air valve or vent plug", "as on the line", "1"
    yield "seals and gaskets", "for the valve at the foot, the jets and the housing", "1 set"


def _machine(study: Study, plant: Chain, view: View) -> Iterator[Spare]:
    """Jets, bearings, belts."""
    if hasattr(plant.jets, "diameters_m"):
        for bore in sorted(set(plant.jets.diameters_m)):
            yield "jet", f"{view.text(bore, 'diameter')} bore", "1"
    elif opened(study) == "jet":
        yield "needle and seat", "of the spear jet", "1 set"
    yield "bearings and their seals", "runner shaft and generator", "1 set"
    yield "grease", "the kind that the manufacturer names", "1"
    yield "belt or coupling insert", "where the machine drives through one", "1"
    for each in gauge_items(study, plant, view):
        if each.what.startswith("pressure gauge"):
            yield "pressure gauge", each.what.removeprefix("pressure gauge "), "1"


def _electric(study: Study, plant: Chain, view: View) -> Iterator[Spare]:
    """What burns out."""
    kind = study.site.generator.kind
    if kind == "synchronous":
        yield (
            "brushes or rotating rectifier, voltage regulator",
            "of the generator, where it has them",
            "1 set",
        )
    if kind == "induction":
        yield "capacitors", "as fitted to the generator", "1 set"
    found = study.wires
    if found is not None and found.main.asks is not None:
        yield "breaker or fuses", f"{found.main.asks.breaker_a:g} A", "1 set"
        stages = found.ballast.fitted.stages_w
        if len(stages):
            yield "ballast heater", view.text(max(stages), "power"), "1"
    yield "card of the controller or governor", "where the plant has one", "1"
    yield "lamp, gloves, insulated tools, first-aid box", "", "1 set"
