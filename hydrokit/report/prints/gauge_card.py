"""The gauge card: what gauge and meters should show, in figures that are read at arm's length."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from ...sentences import plain_number
from ...study.build.in_hand import brims, brims_not
from ...study.build.machines import opened
from ...study.build.metering import card_at
from ...study.view import View
from ..pages.p09.card import closing_line, hung_line
from ..pages.p09.told import alike
from .sheet import Sheet, care, marked

if TYPE_CHECKING:
    from ...running.card import Card, Row
    from ...study.study import Study

__all__ = ["gauge_card"]

_MOST = 8  # rows of a sheet, but for the one with everything shut
_FEW = 6  # up to which the figures are as large as they come
_LARGE, _SMALL = (28.0, 20.0), (17.0, 14.0)  # pt: of the gauge, of the rest
_LETTERS = 5.0  # up to which a figure is as large as its column


def gauge_card(study: Study, view: View) -> list[Sheet]:
    """The card, on as many sheets as its rows ask for: one, but for plants of many machines."""
    card = study.card
    if card is None:
        return []
    parts = [card.rows[first : first + _MOST] for first in range(0, len(card.rows), _MOST)]
    return [
        Sheet(
            "gauge_card" if not number else f"gauge_card_{number + 1}",
            "Gauge card" if not number else f"Gauge card, sheet {number + 1}",
            "to hang beside the gauge",
            about=f"{_begun(card.rests)}; valid while {brims(study)}",
            body=_table(study, view, card, rows) + _what_to_do(study, view, card),
        )
        for number, rows in enumerate(parts)
    ]


def _other(view: View) -> View:
    return View("metric" if view.system == "us" else "us")


def _figure(
    view: View, pascals: float, told: str = "", band: tuple[float, float] | None = None
) -> str:
    """A pressure: the reader's large, its band and the other unit small."""
    mine = told or view.amount(pascals, "gauge pressure", unit=False)
    small = (
        ""
        if band is None
        else f"<small>{marked(view.amount(band, 'gauge pressure', unit=False))}</small>"
    )
    other = _other(view).amount(pascals, "gauge pressure")
    return f"<b>{marked(mine)}</b>{small}<small>{marked(other)}</small>"


def _counted(value: float, low: float, high: float, told: str = "") -> str:
    """Watts or amps with their band."""
    if not np.isfinite(value):
        return ""
    band = " to ".join(alike(low, high))
    return f"<b>{marked(told or plain_number(value))}</b><small>{marked(band)}</small>"


def _table(study: Study, view: View, card: Card, rows: tuple[Row, ...]) -> str:
    unit, thing = view.label("gauge pressure"), opened(study)
    closes = study.signatures is not None and any(np.isfinite(row.close_pa) for row in card.rows)
    watts, amps = (
        any(np.isfinite(getattr(row, name)) for row in card.rows) for name in ("power_w", "amps")
    )
    columns = [
        f"{thing}s {'open' if thing == 'jet' else 'running'}",
        f"gauge [{unit}]",
        f"walk up below [{unit}]",
        *([f"close a jet below [{unit}]"] if closes else []),
        *([f"watts at the {card_at(study)}"] if watts else []),
        *([f"amps at the generator, {card.volts:.0f} V"] if amps else []),
    ]
    body = [_shut(study, view, card, len(columns), closes)]
    body += [_row(study, view, row, row is card.rows[-1], closes, watts, amps) for row in rows]
    few = len(body) <= _FEW
    sizes, kind = (_LARGE, "card") if few else (_SMALL, "card many")
    cells = "".join(
        "<tr>"
        + "".join(
            f'<td style="font-size:{_size(cell, sizes[place > 1]):.3g}pt">{cell}</td>'
            for place, cell in enumerate(row)
        )
        + "</tr>"
        for row in body
    )
    head = "".join(f'<th scope="col">{marked(each)}</th>' for each in columns)
    return (
        '<div class="wide" tabindex="0"><table '
        f'class="{kind}"><thead><tr>{head}</tr></thead><tbody>{cells}</tbody></table></div>'
    )


def _size(cell: str, size_pt: float) -> float:
    """The size of the figure of a cell, so that it stays on one line."""
    shown = re.sub(r"<small>.*?</small>|<[^>]*>", "", cell)
    return max(size_pt * min(_LETTERS / max(len(shown), 1), 1.0), 11.0)


def _shut(study: Study, view: View, card: Card, width: int, closes: bool) -> list[str]:
    """With everything shut."""
    cells = [
        "shut",
        _figure(
            view,
            card.shut_off_pa,
            view.shown(study.answer("pressure.shut_off"), unit=False),
            (card.shut_off_low_pa, card.shut_off_high_pa),
        ),
        _figure(view, card.shut_alarm_pa),
    ]
    cells += ["–"] if closes else []
    return cells + ["0"] * (width - len(cells))


def _row(
    study: Study, view: View, row: Row, last: bool, closes: bool, watts: bool, amps: bool
) -> list[str]:
    told = view.shown(study.answer("pressure.all_open"), unit=False) if last else ""
    cells = [
        marked(row.name or str(row.jets)),
        _figure(view, row.pressure_pa, told, (row.pressure_low_pa, row.pressure_high_pa)),
        _figure(view, row.alarm_pa),
    ]
    if closes:
        cells.append(_figure(view, row.close_pa) if np.isfinite(row.close_pa) else "–")
    if watts:
        cells.append(_counted(row.power_w, row.power_low_w, row.power_high_w))
    if amps:
        cells.append(_counted(row.amps, row.amps_low, row.amps_high))
    return cells


# --- what to do ---------------------------------------------------------------------------------


def _what_to_do(study: Study, view: View, card: Card) -> str:
    """What each way to read wrong says, and what to do; below it how the gauge hangs and how fast a
    valve may close."""
    tables = study.signatures
    faults = {} if tables is None else {each.key: each for each in tables.faults}
    spills = brims(study)
    rows = [
        (
            "shut, gauge under “walk up below”",
            (
                "A leak above the gauge, the water at the inlet low, or the gauge itself. Look "
                "before anything is opened."
            ),
        )
    ]
    if faults:
        under_fed, friction = faults["under_fed"], faults["friction"]
        rows = [
            (
                f"gauge under “walk up below” and {brims_not(study)}",
                f"{_begun(under_fed.name)}. {under_fed.action}",
            ),
            (
                f"gauge under “walk up below” though {spills}",
                f"Air in the pipe, or {friction.name}. {faults['air'].action} {friction.action}",
            ),
            (
                "gauge over its range, watts under theirs",
                f"{_begun(faults['blocked'].name)}. {faults['blocked'].action}",
            ),
            (
                "gauge in its range, watts under theirs",
                f"{_begun(faults['machine'].name)}. {faults['machine'].action}",
            ),
            *rows,
        ]
    listed = "".join(
        f'<tr><th scope="row" style="width:27%">{marked(seen)}</th><td>{marked(told)}</td></tr>'
        for seen, told in rows
    )
    small = "<p>Small figures: where 90 % of healthy readings lie, and the other unit.</p>"
    closing = marked(closing_line(study, view, card).replace("**", ""))
    since = f"<p><b>{marked(card.changed)}</b></p>" if card.changes else ""
    return (
        f'{since}{small}<table style="font-size:{9 if len(card.rows) < _FEW else 8}pt">{listed}</table>'
        f"<p>{closing} {marked(hung_line(study, view, card))}</p>"
        + care(
            (
                "Close valves slowly; stand aside of joints. Nothing is opened, reached into "
                "or wired while the runner turns.",
            )
        )
    )


def _begun(name: str) -> str:
    return name[:1].upper() + name[1:]
