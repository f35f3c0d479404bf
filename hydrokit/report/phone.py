"""One page for the phone at the powerhouse: what the gauge says today, answered without a net.

Every fault, size and place of :class:`hydrokit.running.signatures.Signatures` goes into a table in
the page; a script beside it weighs them as :mod:`hydrokit.running.weighing` does for one look.
"""

from __future__ import annotations

import base64
import hashlib
import json
from itertools import combinations
from typing import TYPE_CHECKING, Any

import jinja2
import numpy as np

from ..running.card import Card
from ..running.next_step import WORTH_DOING
from ..running.pairs import exclude
from ..running.signatures import SMALLEST_POWER, Signatures
from ..running.weighing import TOLD_APART, UNDER_FED_FLUCTUATES, UNDER_FED_SPILLS, foretold
from ..study.build.in_hand import brims, brims_asked, brims_not, parts_jets
from ..study.view import View
from .html import TEMPLATES

if TYPE_CHECKING:
    from ..files import Entries
    from ..study.study import Study

__all__ = ["card_page", "table_of"]

_MOST_BYTES = 88_000  # of the table: a page of under 150 kB with it
_WIDEST = 1e4  # a standard deviation over the least of its kind
_OF_A_FAULT = (
    "key",
    "name",
    "prior",
    "kind",
    "size_is",
    "below_zero",
    "action",
    "spills",
    "fluctuates",
    "falls",
    "under_feeds",
    "whole",
)
_SELDOM = 1e-12  # odds of being under-fed below which nothing changes


def card_page(study: Study, view: View) -> str | None:
    """The whole page, or None where nothing can be diagnosed at this plant."""
    tables, card = study.signatures, study.card
    if tables is None or card is None:
        return None
    told = table_of(tables, study, card, view)
    script = (TEMPLATES / "phone.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    room = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES), autoescape=True, trim_blocks=True
    )
    return room.get_template("phone.html.j2").render(
        study=study.name,
        script=script,
        digest=digest,
        table=json.dumps(told, separators=(",", ":"), ensure_ascii=True),
        jets=tables.plant.jets,
        pressure=view.label("pressure"),
        spills=brims_asked(study),
        watts=bool(np.isfinite(tables.plant.baseline.efficiency)),
        rests=card.rests,
        changed=card.changed,
    )


def table_of(tables: Signatures, study: Study, card: Card, view: View) -> Entries:
    """What the script reads: the rows of the signatures, coded in few bytes, and the words.

    Pressures are shares of that with everything shut, watts logarithms of their share of the
    healthy ones, the odds of being under-fed and standard deviations logarithms.
    """
    plant, jets = tables.plant, tables.plant.jets
    kept = _thinned(tables)
    pressure, power, wide_p, wide_w, tied, under_fed = [], [], [], [], [], []
    healthy = tables.table.power_w[tables.healthy]
    for count in range(jets + 1):
        mean, slope, own = foretold(tables, "pressure_pa", count, study.noise, kept)
        pressure.append(mean / plant.static_pa)
        wide_p.append(np.sqrt(own + np.square(slope).sum(axis=1)) / plant.static_pa)
        log_w, slope_w, own_w = foretold(tables, "power_w", max(count, 1), study.noise, kept)
        power.append(log_w - np.log(max(healthy[max(count, 1)], 1e-9)))
        wide_w.append(np.sqrt(own_w + np.square(slope_w).sum(axis=1)))
        tied.append((slope * slope_w).sum(axis=1) / (wide_p[-1] * plant.static_pa * wide_w[-1]))
        under_fed.append(tables.under_fed[kept, count])
    rows = {
        "fault": _bytes(tables.fault[kept], np.uint8),
        "which": _bytes(tables.which[kept], np.uint8),
        "size": _bytes(tables.size[kept], "<f4"),
        "prior": _bytes(_prior(tables, kept), "<f4"),
        "pressure": _bytes(np.clip(np.array(pressure) * 12_000, -32_767, 32_767), "<i2"),
        "power": _bytes(np.clip(np.array(power) * 6_000, -32_767, 32_767), "<i2"),
        "wide_p": _bytes(_coded(np.array(wide_p)), "<u2"),
        "wide_w": _bytes(_coded(np.array(wide_w)), "<u2"),
        "tied": _bytes(np.clip(np.array(tied), -1, 1) * 120, np.int8),
        "under_fed": _bytes(
            np.log(np.maximum(under_fed, _SELDOM)) / np.log(_SELDOM) * 65_535, "<u2"
        ),
    }
    unit = view.number(1e5, "pressure") - view.number(0.0, "pressure")
    return {
        "rows": rows,
        "least_p": float(np.min(wide_p)),
        "least_w": float(np.min(wide_w)),
        "widest": _WIDEST,
        "jets": jets,
        "static": plant.static_pa,
        "zero": card.zero_error_pa,
        "per_unit": 1e5 / float(unit),
        "per_head": 1.0 / float(view.number(1.0, "head")),
        "unit": view.label("pressure"),
        "decimals": view.decimals("gauge pressure"),
        "parts_jets": parts_jets(study),
        "exclude": [
            sorted((a.key, b.key)) for a, b in combinations(tables.faults, 2) if exclude(a, b)
        ],
        "brims": [brims(study), brims_not(study)],
        "head": view.label("head"),
        "healthy": [float(each) for each in healthy],
        "seldom": _SELDOM,
        "floor": SMALLEST_POWER,
        "told_apart": TOLD_APART,
        "worth_doing": WORTH_DOING,
        "watts": bool(np.isfinite(plant.baseline.efficiency)),
        "under_fed_seen": [UNDER_FED_SPILLS, UNDER_FED_FLUCTUATES],
        "expected": _expected(card, view),
        "bands": _bands(tables, card),
        "scales": [list(each) for each in zip(*(part.tolist() for part in study.noise.scales()))],
        "degrees": study.noise.degrees if np.isfinite(study.noise.degrees) else None,
        "faults": [{name: getattr(each, name) for name in _OF_A_FAULT} for each in tables.faults],
    }


def _expected(card: Card, view: View) -> list[list[str]]:
    """What a healthy plant shows, by jets open from none: gauge and watts, as the card has them."""
    gauge = "gauge pressure"
    told = [[view.range(card.shut_off_low_pa, card.shut_off_high_pa, gauge), ""]]
    for row in card.rows:
        watts = (
            view.range(row.power_low_w, row.power_high_w, "power", 3)
            if np.isfinite(row.power_low_w)
            else ""
        )
        told.append([view.range(row.pressure_low_pa, row.pressure_high_pa, gauge), watts])
    return told


def _bands(tables: Signatures, card: Card) -> list[list[float | None]]:
    """Ends of the card's bands by jets open from none: gauge in Pa with its zero taken off, watts."""
    zero = card.zero_error_pa
    told: list[list[float | None]] = [
        [card.shut_off_low_pa - zero, card.shut_off_high_pa - zero, None, None]
    ]
    rows = {row.jets: row for row in card.rows}
    for count in range(1, tables.plant.jets + 1):
        row = rows.get(count)
        if row is None:
            told.append([None] * 4)
            continue
        watts = np.isfinite(row.power_low_w)
        told.append(
            [
                row.pressure_low_pa - zero,
                row.pressure_high_pa - zero,
                row.power_low_w if watts else None,
                row.power_high_w if watts else None,
            ]
        )
    return told


def _thinned(tables: Signatures) -> np.ndarray:
    """Rows to keep: all, or every second, third … of those of many sizes, so that the page stays small."""
    every = np.arange(len(tables.size))
    for step in range(1, 12):
        keep = np.zeros(len(every), dtype=bool)
        for rows in tables.rows_of:
            sizes = np.unique(tables.size[rows])
            few = sizes if len(sizes) < 8 else np.union1d(sizes[::step], sizes[-1:])
            keep[rows] = np.isin(tables.size[rows], few)
        if keep.sum() * (11 * (tables.plant.jets + 1) + 10) <= _MOST_BYTES:
            break
    return every[keep]


def _prior(tables: Signatures, kept: np.ndarray) -> np.ndarray:
    """Of the rows kept within their states, so that what was left out lies with its neighbours."""
    share = np.exp(tables.log_prior[kept])
    fault = tables.fault[kept]
    return np.log(share / np.bincount(fault, share)[fault])


def _coded(wide: np.ndarray) -> np.ndarray:
    """Standard deviations as logarithms over the least of them."""
    return np.clip(np.log(wide / wide.min()) / np.log(_WIDEST), 0, 1) * 65_535


def _bytes(values: Any, kind: Any) -> str:
    exact = np.asarray(values)
    whole = np.rint(exact) if np.issubdtype(np.dtype(kind), np.integer) else exact
    return base64.b64encode(np.ascontiguousarray(whole.astype(kind)).tobytes()).decode()
