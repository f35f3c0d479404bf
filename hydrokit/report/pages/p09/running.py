"""Page 09, the answer: what the gauge should read today, and what is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....study.build.in_hand import brims, brims_not
from ....study.build.machines import opened
from ....study.build.metering import card_at
from ....study.study import Study
from ....study.view import View
from ...display import Words, escape_markdown
from ..common import needs, sources

if TYPE_CHECKING:
    from ....running.card import Card, Row

__all__ = ["headline", "references"]

US, METRIC = View("us"), View("metric")


def opened_words(study: Study, count: int) -> str:
    """``2 jets``, as plain text."""
    return counted(count, opened(study))


def _running(study: Study, row: Row) -> str:
    """What is open in a row of the card: so many jets, or machines by name."""
    return escape_markdown(row.name) if row.name else opened_words(study, row.jets)


def every_so_often(study: Study) -> str:
    """Whatever shuts the water off at the machine."""
    return (
        "each jet's valve"
        if opened(study) == "jet" and study.plant is not None and study.plant.jets.count > 1
        else "the jet's valve"
        if opened(study) == "jet"
        else "the gates of a machine"
    )


@needs(Study.card, headline=True)
def headline(study: Study, view: View, card: Card) -> Words:
    """What the gauge should read, what to do when it does not, what the last visit showed."""
    row = card.rows[-1]
    fixed = study.signatures is not None
    text = (
        f"With {_running(study, row)} open the gauge should read "
        f"**{view.shown(study.answer('pressure.all_open'))}** "
        f"({view.range(row.pressure_low_pa, row.pressure_high_pa, 'gauge pressure')})"
    )
    if np.isfinite(row.power_w):
        healthy = study.answer("plant.healthy_power")
        same = healthy is not None and np.isclose(healthy.value, row.power_w, rtol=1e-9)
        text += (
            f" and the meters {view.shown(healthy) if same else view.text(row.power_w, 'power')} "
            f"at the {card_at(study)}"
        )
    text += f", and {view.shown(study.answer('pressure.shut_off'))} with everything shut"
    text += ". " if card.commissioned else ": that is the plan, not a reading. "
    if fixed:
        closing = (
            f" (under {view.text(row.close_pa, 'gauge pressure')} close a jet first: that gives more)"
            if np.isfinite(row.close_pa)
            else ""
        )
        text += (
            f"**Below {view.text(row.alarm_pa, 'gauge pressure')}, and {brims_not(study)}: walk "
            f"up{closing}. Below it, and {brims(study)}: air or a valve.**"
        )
    last = _last(study)
    return Words(text + (f" {last}" if last else ""))


def _last(study: Study) -> str:
    """What the last visit showed, in a sentence; empty where there was none."""
    found = study.diagnose() if study.visits else None
    if found is None:
        return ""
    first, when = found.first, study.visits[-1].when
    named = "that all was well" if first.key == "well" else f"**{first.name}**"
    return (
        f"The last visit, on {when.astype('datetime64[D]')}, showed "
        f"{'' if first.probability > 0.9 else 'most likely '}{named}, with a posterior "
        f"probability of {chance(first.probability)}."
    )


def chance(probability: float) -> str:
    """A chance in per cent; no reading makes certain."""
    return "over 99 %" if probability > 0.995 else f"{100 * probability:.0f} %"


def references() -> Words:
    """What the pages on card and diagnosis rest on."""
    return sources(
        "Jets: Q = C·A·√(2gH), K. Subramanya, 1000 Solved Problems in Fluid Mechanics, ch. "
        "16; pipe: Colebrook and Darcy, as on the page of the water's way.",
        (
            "Evidence: R. E. Kass, A. E. Raftery, Bayes factors, J. Am. Stat. Assoc. 90:773-795, "
            "1995: odds above 20 to 1 are strong."
        ),
        "Closing of valves: J. Michaud, 1878; four times by hand is common practice.",
        (
            "Common practice, no source: how often each fault is met; what is seen while jets are "
            "under-fed; with jets unchanged, a running pressure below its usual value means that "
            "the pipe is not full."
        ),
    )
