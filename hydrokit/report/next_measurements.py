"""What to measure next, in words: one list for every page that gives one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import counted
from ..sentences import Amount, Sentence, series_text
from ..study.build.log import by_log
from ..study.build.record import stages_wait_for
from ..study.view import View
from .style import MONTH_NAMES

if TYPE_CHECKING:
    from ..energy.measuring import Measurement
    from ..study.study import Study

__all__ = ["everything", "lines", "sentences", "told"]
_MONTHS_TOLD = 3


def _told(study: Study, each: Measurement) -> Sentence | str:
    """One measurement in words."""
    from ..energy.advice import against_uncertainty

    if each.flows_m3s:
        stage = Sentence("")
        if np.isfinite(each.stage_m):
            stage = Sentence(", stage about {stage}", stage=Amount(each.stage_m, "stage"))
        months = series_text([MONTH_NAMES[month - 1] for month in each.months[:_MONTHS_TOLD]])
        return Sentence(
            "gauge the creek once more at {flows}{stage}, best met in {months}",
            flows=Amount(tuple(each.flows_m3s), "flow", 2),
            stage=stage,
            months=months,
        )
    years = 0 if study.energy_uncertainty is None else len(study.energy_uncertainty.whole_years)
    own = {
        "extension": (
            "keep this creek's own gauge running: every year of its own record replaces a "
            "borrowed one"
        ),
        "years": f"{counted(years, 'more year')} of record: "
        + (
            "keep the creek's gauge running, or lengthen the record from a neighbour's long one"
            if study.extension is None
            else "ask for a neighbour's gauge that reaches further back"
        ),
        "intake": (
            "measure once more what the intake passes, clean: catch it below, or time how fast "
            "the forebay fills"
        ),
    }
    return (against_uncertainty(not study.exists) | own).get(each.what, each.what)


def told(study: Study, view: View, each: Measurement) -> str:
    """One measurement in the reader's words."""
    return view.told(_told(study, each))


def sentences(study: Study, most: int = 5) -> list[Sentence | str]:
    """What to measure next, the most worth first, each with what it narrows; empty where nothing tells."""
    if study.measure_next:
        return [
            Sentence(
                "{what} (narrows the uncertainty of the long-run annual energy by {share})",
                what=_told(study, each),
                share=_share(each),
            )
            for each in study.measure_next[:most]
        ]
    ranked: list[Sentence | str] = (
        [] if study.bracket is None else list(study.bracket.next_measurements[:most])
    )
    if not by_log(study):
        return ranked
    return [_KEEP_THE_LOG, *ranked][:most]


_KEEP_THE_LOG = (
    "keep the log, and hold its meters against a good one once: each year of it narrows what a year "
    "brings (what follows narrows only the bracket of the gaugings beside it)"
)


def _share(each: Measurement) -> str:
    one = f"{100 * each.narrowed:.0f} %"
    if each.gaugings < 2:
        return one
    return f"{one}; {each.gaugings} gaugings there by {100 * each.narrowed_by_all:.0f} %"


def lines(study: Study, view: View, most: int = 5) -> list[str]:
    """The same in the reader's units."""
    return [view.told(each) for each in sentences(study, most)]


# What a study may lack, along the water; what its readings would say cannot be ranked before they are there.
_MEASURED = (
    "gaugings",
    "record",
    "rating",
    "head",
    "penstock",
    "profile",
    "temperature",
    "house",
    "money",
)
_OF_A_RUNNING_PLANT = ("readings", "log")


def everything(study: Study, view: View) -> list[str]:
    """All that is worth measuring, each once: first what narrows the energy and by how much, then
    what is lacking, with how to get it."""
    from .pages.lack_words import LACKING, STAGES_GIVE, waiting

    ranked = [f"{each[0].upper()}{each[1:]}." for each in lines(study, view)]
    names = [*_MEASURED, *(_OF_A_RUNNING_PLANT if study.exists else ())]
    waits = stages_wait_for(study)
    if waits is not None:
        ranked.append(view.told(waiting(waits)))
        names = [name for name in names if name not in STAGES_GIVE]
    return ranked + [
        LACKING[name]
        for name in names
        if getattr(study, name) is None and name not in study.refused
    ]
