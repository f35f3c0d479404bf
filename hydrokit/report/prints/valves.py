"""Sheets for hands at the valves: the emergency card, and how each line is drained and filled, step
by step."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ...study.build.in_hand import valves
from ...study.build.machines import opened
from ..pages.common import caution_text
from ..pages.p09.told import place_told, step_number
from .sheet import Sheet, care, fill, fitted, grid, numbered

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ...running.steps import Step
    from ...study.build.in_hand import Valve
    from ...study.study import Study
    from ...study.view import View

__all__ = ["drain_and_fill", "emergency_card"]

_ROOM_MM = 184.0  # for the rows of a sheet of steps
_STEP = (
    ("step", 11.0),
    ("do", 54.0),
    ("where", 20.0),
    ("how much", 20.0),
    ("why", 47.0),
    ("done", 13.0),
)
_LINES_OF_CARD = 17  # up to which the emergency card has room for letters of full size
_LINES = {
    "penstock": "the penstock",
    "diversion": "the line from the creek",
}
_PARTS = {"drain": ("shut down", "drain"), "fill": ("fill and vent", "restart")}
# Beside pressure and vents: where the hands are, at a machine or at the creek.
_DANGERS = {
    ("drain", "penstock"): ("ice",),
    ("drain", "diversion"): ("water", "ice"),
    ("fill", "penstock"): ("electric",),
    ("fill", "diversion"): ("water",),
}
_THIS = re.compile(r"\b(than|at) this(?! high| low)")
_CALLS = (
    "Emergency services",
    "Owner",
    "Second person who knows the plant",
    "Neighbours below the line",
    "Licensed electrician",
    "Manufacturer of the machine",
    "Authority for water and dams",
    "Place for a helicopter or an ambulance",
)
_FIRST = (
    "People before the plant. Warn, call the number above, then stop the water if you can do so in safety.",
    (
        "Do not touch anyone who is held by electricity before the circuit is dead. A generator "
        "that turns is live."
    ),
)
_REFILL = "Was the pipe drained or broken? Then fill it by its own sheet first, its vents open."


def _cautions(*names: str) -> str:
    return care(caution_text(each) for each in names)


# --- drain and fill -----------------------------------------------------------------------------


def drain_and_fill(study: Study, view: View) -> list[Sheet]:
    """For each line that is described one sheet to drain it and one to fill and start it; more
    where it has many high points."""
    return [
        sheet for line in _LINES for part in _PARTS for sheet in _steps(study, view, line, part)
    ]


def _steps(study: Study, view: View, line: str, part: str) -> list[Sheet]:
    steps = [each for each in study.steps[line] or () if each.part in _PARTS[part]]
    if not steps:
        return []
    rows = [(str(number), *_cells(study, view, each)) for number, each in enumerate(steps, 1)]
    parts = fitted([share for _, share in _STEP], rows, _ROOM_MM)
    named = f"{'Drain' if part == 'drain' else 'Fill and start'} {_LINES[line]}"
    who = fill(("Date, time", "Who", "Weather, air temperature"), thirds=True)
    dangers = ["pressure", "vent", *(_DANGERS[part, line])]
    if not study.frosty:
        dangers = [each for each in dangers if each != "ice"]
    return [
        Sheet(
            f"{part}_{line}" + (f"_{number}" if number > 1 else ""),
            named + (f": sheet {number} of {len(parts)}" if len(parts) > 1 else ""),
            "to hang beside the valves",
            about="In this order; tick each step when it is done",
            body=who + grid(_STEP, shown, size_pt=size, kind="steps") + _cautions(*dangers),
        )
        for number, (size, shown) in enumerate(parts, 1)
    ]


def _cells(study: Study, view: View, step: Step) -> tuple[str, str, str, str, str]:
    return (
        step.action,
        place_told(view, step.place_m),
        step_number(study, step, view),
        step.why,
        "",
    )


# --- the emergency card -------------------------------------------------------------------------


def emergency_card(study: Study, view: View) -> list[Sheet]:
    """How the plant is stopped and started again, whom to call, where each valve is."""
    steps = study.steps["penstock"]
    if not steps:
        return []
    stop, start = (
        [each for each in steps if each.part == part] for part in ("shut down", "restart")
    )
    # Nobody who stops in an emergency stays to read the gauge.
    stop = [each for each in stop if each.kind != "gauge pressure"]
    again = [_REFILL, *_told(study, view, start)]
    listed = _listed(study, view)
    lines = len(stop) + len(again) + len(listed)
    body = (
        f'<div class="{"tight" if lines > _LINES_OF_CARD else "ample"}">'
        f"<h2>Call</h2>{fill(_CALLS)}"
        + care(_FIRST)
        + f"<h2>Stop</h2>{numbered(_told(study, view, stop))}"
        + f"<h2>If</h2>{grid((('what is seen', 30.0), ('first', 90.0)), _cases(study), size_pt=9.0)}"
        + f"<h2>Start again</h2>{numbered(again)}"
        + grid(
            (("valve", 40.0), ("where", 34.0), ("its mark", 30.0), ("turns to shut", 20.0)),
            listed,
            size_pt=8.5,
        )
        + "</div>"
    )
    return [
        Sheet(
            "emergency",
            "Emergency stop and restart",
            "to hang by the door of the powerhouse",
            about="Fill in the numbers and the marks of the valves by hand",
            body=body,
        )
    ]


def _listed(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """Valves by name, with room for their marks; vents of a line of many high points in one row."""
    named: dict[str, list[Valve]] = {}
    for each in valves(study):
        named.setdefault(each.name, []).append(each)
    rows = []
    for name, same in named.items():
        places = ", ".join(
            view.text(each.place_m, "length", 3) for each in same if each.place_m is not None
        )
        where = same[0].where + ("s" if len(same) > 1 else "")
        rows.append(
            (
                f"{name}s" if len(same) > 1 else name,
                where + (f" at {places}" if places else ""),
                "",
                "",
            )
        )
    return rows


def _told(study: Study, view: View, steps: Sequence[Step]) -> list[str]:
    """Steps as lines, each with its figure where the step speaks of it."""
    lines = []
    for each in steps:
        number = step_number(study, each, view)
        line = _THIS.sub(lambda found: f"{found[1]} {number}", each.action, count=1)
        beside = f" ({number})" if number and line == each.action else ""
        lines.append(f"{line}{beside}.")
    return lines


def _cases(study: Study) -> list[tuple[str, str]]:
    """What may go wrong at once and what is done first. Common practice."""
    what = "the jets" if opened(study) == "jet" else "the gates"
    return [
        (
            "a pipe burst, a joint apart",
            (
                "Keep away from the spray and the washed ground. See that the vent below the "
                "upper valve is open, then shut the upper valve: without air a thin pipe folds "
                "flat."
            ),
        ),
        (
            "the runner races",
            (
                f"Nobody in line with the runner. Shut {what}, no faster than step 1 says: faster "
                "bursts the pipe."
            ),
        ),
        (
            "smoke, sparks, a shock",
            (
                "Shut the water off; open the breaker only if it can be reached dry and clear of "
                "smoke. Nothing is switched on again before an electrician has looked."
            ),
        ),
        (
            "bank or dam leaks, high water",
            (
                "Stop taking water at the creek, open the drain or the flood gate, warn those who "
                "live below, call the authority."
            ),
        ),
    ]
