"""Page 09: the gauge card."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.in_hand import brims
from ....study.build.machines import groups, opened
from ....study.build.metering import card_at
from ....study.study import Study
from ....study.view import View
from ...display import Table, Words, escape_markdown
from ..common import needs
from .running import METRIC, US, every_so_often, opened_words
from .told import alike

if TYPE_CHECKING:
    from ....running.baseline import Baseline
    from ....running.card import Card

__all__ = ["card_lines", "card_sheet", "card_words"]


# --- the card -------------------------------------------------------------------------------


def _told(view: View, pascals: float, *band: float) -> str:
    """A pressure as the gauge is read, with its band."""
    told = [view.amount(each, "gauge pressure", unit=False) for each in (pascals, *band)]
    return _banded(*told) if band else told[0]


def _banded(middle: str, low: str, high: str) -> str:
    """Value and band, which breaks only between the two."""
    return f"{middle} ({low}\u00a0to\u00a0{high})"


@needs(Study.card)
def card_sheet(study: Study, view: View, card: Card) -> Table:
    """The card: pressures in the reader's unit, and in the other for a gauge that has it."""
    other = METRIC if view.system == "us" else US
    mine, theirs = (each.label("gauge pressure") for each in (view, other))
    watts, amps = (
        any(np.isfinite(getattr(row, name)) for row in card.rows) for name in ("power_w", "amps")
    )
    closes = study.signatures is not None and any(np.isfinite(row.close_pa) for row in card.rows)
    columns = [
        f"{opened(study)}s {'open' if opened(study) == 'jet' else 'running'}",
        f"gauge [{mine}]",
        f"gauge [{theirs}]",
        f"walk up below [{mine}]",
        *([f"close a jet below [{mine}]"] if closes else []),
        view.header("flow", "flow"),
    ]
    band = (card.shut_off_pa, card.shut_off_low_pa, card.shut_off_high_pa)
    shut = [
        "shut",
        *(_told(each, *band) for each in (view, other)),
        _told(view, card.shut_alarm_pa),
    ]
    shut += [""] * (len(columns) - len(shut))
    rows = [shut]
    for row in card.rows:
        band = (row.pressure_pa, row.pressure_low_pa, row.pressure_high_pa)
        close = [_told(view, row.close_pa) if np.isfinite(row.close_pa) else ""]
        rows.append(
            [
                row.name or str(row.jets),
                *(_told(each, *band) for each in (view, other)),
                _told(view, row.alarm_pa),
                *(close if closes else []),
                plain_number(float(view.number(row.flow_m3s, "flow"))),
            ]
        )
    for known, title, name in (
        (watts, f"watts at the {card_at(study)}", "power_w"),
        (amps, f"amps at the generator, {card.volts:.0f} V", "amps"),
    ):
        if known:
            columns.append(title)
            shut.append("0")
            stem = name.removesuffix("_w")
            ends = ("_low_w", "_high_w") if name.endswith("_w") else ("_low", "_high")
            for line, row in zip(rows[1:], card.rows):
                low, high = (getattr(row, stem + end) for end in ends)
                line.append(_banded(plain_number(getattr(row, name)), *alike(low, high)))
    return Table(
        columns,
        rows,
        f"Gauge card of {study.name}, {card.rests}; valid while {brims(study)}",
    )


@needs(Study.card, quiet=True)
def card_lines(study: Study, view: View, card: Card) -> Words:
    """How to read the card, how to open and to close, how the gauge hangs."""
    lines = [
        (
            "In brackets: where 90 % of healthy readings lie. Lower than 'walk up below': "
            "something is wrong, with everything shut a leak above the gauge, low water at the "
            "inlet, or the gauge itself."
        )
    ]
    if card.changes:
        lines.append(card.changed)
    if study.signatures is not None and any(np.isfinite(row.close_pa) for row in card.rows):
        lines.append(
            "Lower than 'close a jet below', once it has settled: close one, for it gives more watts."
        )
    opening, closing = study.card_steps or ((), ())
    lines += [f"Opening {number}. {step}" for number, step in enumerate(opening, 1)]
    lines += [f"Closing {number}. {step}" for number, step in enumerate(closing, 1)]
    lines += [closing_line(study, view, card), hung_line(study, view, card)]
    return Words("\n".join(f"- {line}" for line in lines))


def hung_line(study: Study, view: View, card: Card) -> str:
    """Where the gauge hangs, and what it shows with no pressure on it."""
    height, zero = card.gauge_height_m, card.zero_error_pa
    where = "jets" if opened(study) == "jet" else "machine"
    hung = (
        f"The gauge hangs level with the {where}"
        if abs(height) < 0.05
        else (
            f"The gauge hangs {view.text(abs(height), 'length', 2)} "
            f"{'above' if height > 0 else 'below'} the {where}"
        )
    )
    shown = (
        "shows zero with no pressure on it"
        if abs(zero) < 1
        else f"shows {view.text(zero, 'gauge pressure')} with no pressure on it"
    )
    return f"{hung} and {shown}; both are counted above."


def closing_line(study: Study, view: View, card: Card) -> str:
    """How fast a valve may be closed."""
    if np.isinf(card.closing_s):
        return (
            "The pipe bears its pressure at rest badly: do not close anything quickly, and have "
            "the pipe looked at."
        )
    told = study.answer("closing_time")
    if told is None:
        return (
            "How fast a valve may close is not known for this pipe: take half a minute for each, "
            "and longer for the main valve."
        )
    return (
        f"Take {view.shown(told)} or more over the whole travel of {every_so_often(study)}, and "
        "of the valve at the foot; a valve does most of its closing in the last quarter of its "
        "travel."
    )


@needs(Study.card)
def card_words(study: Study, view: View, card: Card) -> Words:
    """What the card rests on, and how far it can be trusted."""
    noise = study.noise
    row = card.rows[-1]
    if study.baseline is not None and card.commissioned:
        made = f", made{card.on}" if card.days else ""
        text = (
            f"The card rests on {_readings(study.baseline)} readings of the healthy plant{made}; "
            "later readings are held against it and never join it. "
        )
        text += "A new commissioning, marked commissioning = yes beside its readings, replaces it. "
    else:
        text = (
            "Nothing was read on this plant yet: the card shows what head, pipe, "
            f"{'jets and machine' if opened(study) == 'jet' else 'gates and machine'} should give, with "
            "the uncertainty of each. Read the gauge with everything shut and with each number of "
            f"{opened(study)}s open while {brims(study)}, volts and amps each "
            "time: then this card is made again and its bands close. "
        )
    told = "as the log shows" if study.history is not None else "as is usual"
    text += (
        f"The repeatability of one reading is {100 * noise.pressure:.1f} % for the gauge and "
        f"{100 * noise.power:.1f} % for the meters (one standard deviation, {told}); with the "
        "uncertainty of the plant itself 90 % of healthy readings lie within "
        f"{100 * row.half_band:.0f} % of the pressure above. The alarm is set where a healthy "
        "plant reads lower once in 740 times. "
    )
    if np.isfinite(row.close_pa) and study.signatures is not None:
        text += (
            "Under-fed jets lose power with the cube of the flow, and more where the runner's "
            f"speed is held, so {opened_words(study, row.jets - 1)}, fed, "
            f"overtake{'s' if row.jets == 2 else ''} {opened_words(study, row.jets)} once the "
            f"gauge is below {view.text(row.close_pa, 'gauge pressure')}. "
        )
    shared = groups(study)
    if shared:
        text += (
            "Jets are counted in the order in which they are opened: "
            f"{series_text([f'the {escape_markdown(each.name)} has {each.jets}' for each in shared])}. "
        )
    return Words(text)


def _readings(fitted: Baseline) -> int:
    return len({name for name, *_ in fitted.residuals} - {"jets"})
