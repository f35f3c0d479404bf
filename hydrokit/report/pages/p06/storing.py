"""Ballast and battery: tables and words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.study import Study
from ....study.view import View
from ...display import Table, Words
from ..common import needs

if TYPE_CHECKING:
    from ....study.build.wiring import Wires

_KWH = 3.6e6

__all__ = ["ballast_table", "ballast_words", "between_table", "store_table", "store_words"]


@needs(Study.wires, quiet=True)
def ballast_table(study: Study, view: View, wires: Wires) -> Table:
    """Stages of a ballast that takes the whole output."""
    asked = wires.ballast.asked
    rows: list[tuple[int | float | str, ...]] = [
        (number, float(watts), float(ohms), float(amps))
        for number, (watts, ohms, amps) in enumerate(
            zip(asked.stages_w, asked.resistances_ohm, asked.currents_a), 1
        )
    ]
    rows.append(("together", view.shown(study.answer("ballast.power"), unit=False), "", ""))
    three = wires.main.system == "three-phase"
    return Table(
        (
            "stage",
            "power [W]",
            "each resistor, hot [Ω]" if three else "resistance, hot [Ω]",
            "current in each phase [A]" if three else "current [A]",
        ),
        rows,
        "Ballast for a plant that stands alone, "
        + ("three resistors in star a stage" if three else "one resistor a stage"),
        mark=(len(rows) - 1,),
    )


@needs(Study.wires, quiet=True)
def ballast_words(study: Study, view: View, found: Wires) -> Words:
    """Why the ballast must take everything, and whether what is there does."""
    dump = found.ballast
    text = (
        "A plant that stands alone must have somewhere for all of its "
        f"{view.shown(study.answer('power.sending'))} at any moment, or it speeds up and its "
        f"voltage rises. The ballast shown takes {view.shown(study.answer('ballast.power'))}, "
        f"{100 * (dump.asked.total_w / found.sent_w - 1):.0f} % more ({dump.asked.source}). "
    )
    if np.isfinite(dump.there_w):
        if dump.there_w < found.sent_w:
            text += f"**What is there takes only {view.text(dump.there_w, 'power')}.** "
        elif dump.there_w < dump.asked.total_w:
            text += (
                f"What is there takes {view.text(dump.there_w, 'power')}: the whole output, with "
                "less margin than the rule asks. "
            )
        else:
            text += f"What is there takes {view.text(dump.there_w, 'power')}: enough. "
    if dump.heaters_w > 0:
        enough = dump.heaters_w >= found.sent_w
        text += f"Heaters on the circuits take {view.text(dump.heaters_w, 'power')}; " + (
            "they could be the ballast, if nothing but the regulator can switch them off. "
            if enough
            else "they can be a part of it. "
        )
    if found.main.system == "three-phase":
        text += (
            "With three phases each stage is made of three resistors, a third of its power in "
            "each phase. "
        )
    return Words(
        text
        + (
            "A water heater that serves as ballast needs a second load beside it, for when its "
            "water is hot. A plant that feeds a grid needs no ballast while the grid is live, and "
            "must disconnect at once when it is not."
        )
    )


@needs(Study.wires, quiet=True)
def between_table(study: Study, view: View, wires: Wires) -> Table | Words:
    """Transformers and inverter: efficiency at full, half and a tenth of their load, and what they
    draw all year."""
    standing = wires.between
    if not standing:
        return Words("")
    rows = [
        (
            each.name,
            f"{each.kind}, at the {each.at}" if each.name != each.kind else f"at the {each.at}",
            each.rated_w,
            *(f"{100 * share:.1f} %" for share in each.efficiencies),
            each.idle_j / _KWH,
        )
        for each in standing
    ]
    return Table(
        (
            "part",
            "where",
            "rated [W]",
            "efficiency, full",
            "half",
            "a tenth",
            "standing loss in a year [kWh]",
        ),
        rows,
        "Between generator and loads",
    )


@needs(Study.wires, quiet=True)
def store_table(study: Study, view: View, wires: Wires) -> Table | Words:
    """Energy a battery must carry through a usual day, and its charge."""
    store = wires.store
    if store is None:
        return Words("")
    rows = [
        (
            name,
            float(watts),
            "" if np.isnan(stored) else stored / 3.6e6,
            "cannot meet the day" if np.isnan(charge) else float(charge),
        )
        for name, watts, stored, charge in store.needs
    ]
    return Table(
        (
            "case",
            "power of the plant [W]",
            "to be stored [kWh]",
            f"charge at {plain_number(store.voltage_v)} V [Ah]",
        ),
        rows,
        "What a battery must carry through a usual day",
    )


@needs(Study.wires, quiet=True)
def store_words(study: Study, view: View, wires: Wires) -> Words:
    """Whether a battery helps, and whether that which is there is large enough."""
    store = wires.store
    if store is None:
        return Words("")
    text = (
        f"A usual day takes {plain_number(store.day_kwh)} kWh with a peak of "
        f"{view.text(store.peak_w, 'power')}. "
    )
    able = [(name, charge) for name, _, _, charge in store.needs if np.isfinite(charge)]
    unable = [name for name, _, _, charge in store.needs if not np.isfinite(charge)]
    if unable:
        text += (
            f"In {series_text(unable)} the plant makes less in a day than is used: no battery can "
            "change that. "
        )
    if able and np.isfinite(store.charge_ah):
        short = [name for name, charge in able if charge > store.charge_ah]
        carried = series_text([name for name, charge in able if charge <= store.charge_ah])
        text += f"The bank of {plain_number(store.charge_ah)} Ah " + (
            f"is too small for {series_text(short)}. "
            if short
            else f"carries the day in {carried}. "
        )
    if len(store.needs) == 1:
        text += "What the plant makes in a lean month is not known, so none is shown. "
    text += (
        f"Depth of discharge {100 * store.depth_ratio:.0f} %, efficiency "
        f"{100 * store.efficiency:.0f} %; cold reduces both. A battery balances hours: it cannot "
        "supply what a dry month lacks."
    )
    return Words(text)
