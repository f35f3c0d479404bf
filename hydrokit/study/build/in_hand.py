"""What the sheets at the powerhouse speak of: what tells that there is water to spare, and where
the valves are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .forebay import pond
from .machines import opened
from .penstock_pressures import high_points

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Valve", "brims", "brims_asked", "brims_not", "parts_jets", "valves"]

_ONE_OR_ALL = (
    "The same readings fit one jet that gained {one} % of its area and all jets alike that gained "
    "{each} % each. "
)
_BY_VALVES = (
    "To part them open the jets one at a time and read gauge and watts: a single worn jet shows "
    "in its own reading alone, all alike in every one."
)
_BY_BORE = "To part them shut off, let the runner stand still and lock it, and measure the bore of every jet."


def parts_jets(study: Study) -> str:
    """That one worn jet and all worn alike read the same, with places for both sizes, and which
    readings would part them."""
    known = study.signatures
    return _ONE_OR_ALL + (_BY_VALVES if known is not None and known.plant.valves else _BY_BORE)


def brims(study: Study) -> str:
    """What is seen while the jets get all they ask for: ``the forebay spills``, or where there is
    none, that water is left over at the intake."""
    return "the forebay spills" if pond(study) is not None else "water is left over at the intake"


def brims_not(study: Study) -> str:
    """What is seen while they do not get it."""
    return (
        "the forebay does not spill"
        if pond(study) is not None
        else "no water is left over at the intake"
    )


def brims_asked(study: Study) -> str:
    """Whether they get it, as a question."""
    return (
        "Does the forebay spill?"
        if pond(study) is not None
        else "Is water left over at the intake?"
    )


@dataclass(frozen=True)
class Valve:
    """A valve, vent or drain of the penstock: its name, where it is in words, its distance along
    the slope where that says more."""

    name: str
    where: str
    place_m: float | None = None


def valves(study: Study) -> tuple[Valve, ...]:
    """The valves, vents and drains that the steps of the penstock speak of, down the line."""
    count = 1 if study.plant is None else study.plant.jets.count
    shuts = "each jet's valve" if count > 1 else "the jet's valve"
    return (
        Valve("upper valve", "at the inlet of the penstock"),
        Valve("vent below the upper valve", "just below it"),
        *(Valve("vent", "high point", each.at_m) for each in high_points(study)),
        Valve("valve at the foot", "before the machine"),
        Valve(shuts if opened(study) == "jet" else "gates of the machine", "at the machine"),
        Valve("drain at the foot", "lowest point of the pipe"),
    )
