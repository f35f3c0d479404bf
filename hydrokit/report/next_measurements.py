"""What to measure next, in words: one list for every page that gives one."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import counted
from ..sentences import series_text
from ..study.view import View
from .style import MONTH_NAMES

__all__ = ["lines", "told"]
_MONTHS_TOLD = 3


def told(study: Any, view: View, each: Any) -> str:
    """One measurement in words."""
    from ..energy.advice import against_uncertainty

    if each.flows_m3s:
        at = (
            f", stage about {view.text(each.stage_m, 'stage')}" if np.isfinite(each.stage_m) else ""
        )
        months = series_text([MONTH_NAMES[month - 1] for month in each.months[:_MONTHS_TOLD]])
        return f"gauge the creek at {view.range(*each.flows_m3s, 'flow')}{at}: {counted(each.gaugings, 'gauging')}, best met in {months}"
    years = 0 if study.energy_uncertainty is None else len(study.energy_uncertainty.whole_years)
    own = {
        "extension": "keep this creek's own gauge running: every year of its own record replaces a borrowed one",
        "years": f"{counted(years, 'more year')} of record: keep the creek's gauge running, or lengthen the record from a neighbour's long one",
        "intake": "measure once more what the intake passes, clean: catch it below, or time how fast the forebay fills",
    }
    return (against_uncertainty(not study.exists) | own).get(each.what, each.what)


def lines(study: Any, view: View, most: int = 5) -> list[str]:
    """What to measure next, the most worth first, each with what it narrows; empty where nothing tells."""
    if study.measure_next:
        return [
            f"{told(study, view, each)} (narrows the uncertainty of the long-run annual energy by {100 * each.narrowed:.0f} %)"
            for each in study.measure_next[:most]
        ]
    return (
        []
        if study.bracket is None
        else [view.told(each) for each in study.bracket.next_measurements[:most]]
    )
