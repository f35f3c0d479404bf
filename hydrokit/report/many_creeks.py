"""Many creeks in a table: what was found of each as a row, and what stands out among all."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from ..energy.creeks import Sifted
from ..files import write_csv_text
from ..study.view import View
from .display import csv_number, csv_text

__all__ = ["Among", "table_header", "table_row", "table_text"]

_BEST = 10  # told on the page
_DRAWN = 400  # creeks that are all drawn; of more, the best of those that are alike
_CELLS = 10  # that a tenfold head, or a tenfold flow, is parted into
_SEEN = 0.007  # of the largest circle, the least
_TOLD = 12  # creeks without an answer that are named


class Among:
    """What stands out among creeks that pass by one by one; as much of it as a page can hold.

    Attributes
    ----------
    sized, unsized, mistaken : int
        Creeks with a plant, with none, and rows with mistakes.
    """

    def __init__(self, found: Iterable[Sifted] = ()) -> None:
        self.sized = self.unsized = self.mistaken = 0
        self._best: list[tuple[float, int, Sifted]] = []
        self._drawn: dict[Any, Sifted] = {}
        self._room = _DRAWN
        self.without: list[Sifted] = []
        for each in found:
            self.add(each)

    def __len__(self) -> int:
        return self.sized + self.unsized + self.mistaken

    def add(self, each: Sifted) -> None:
        """Take one more."""
        place = len(self)
        if each.mistakes or each.reason:
            self.mistaken += bool(each.mistakes)
            self.unsized += not each.mistakes
            if len(self.without) < _TOLD:
                self.without.append(each)
            return
        self.sized += 1
        # of two alike the one that stands first in the table
        heapq.heappush(self._best, (each.kwh_per_m, -place, each))
        if len(self._best) > _BEST:
            heapq.heappop(self._best)
        self._drawn[place] = each
        if len(self._drawn) > self._room:
            self._drawn = self._thinned()
            self._room = 2 * len(self._drawn) + _DRAWN

    @property
    def best(self) -> tuple[Sifted, ...]:
        """The ten that bring the most energy for each metre of pipe, the first first."""
        return tuple(each for *_, each in sorted(self._best, reverse=True))

    @property
    def drawn(self) -> tuple[Sifted, ...]:
        """The creeks of a picture: all of them, or of those alike in head and flow the one with the
        most energy."""
        few = self.sized <= _DRAWN
        return tuple((self._drawn if few else self._thinned()).values())

    @property
    def largest(self) -> Sifted:
        """The one drawn that brings the most energy."""
        return max(self.drawn, key=lambda each: each.kwh)

    def share_of_largest(self) -> np.ndarray:
        """Energy of each that is drawn over that of the largest; none so small that it could not be seen."""
        kwh = np.array([each.kwh for each in self.drawn])
        return np.maximum(kwh / self.largest.kwh, _SEEN)

    def _thinned(self) -> dict[Any, Sifted]:
        cells: dict[Any, Sifted] = {}
        for each in self._drawn.values():
            cell = (
                round(_CELLS * float(np.log10(each.creek.head_m))),
                round(_CELLS * float(np.log10(each.design_m3s))),
            )
            if cell not in cells or each.kwh > cells[cell].kwh:
                cells[cell] = each
        return cells


_COLUMNS = (
    ("head", "head", lambda each: each.creek.head_m),
    ("length", "length", lambda each: each.creek.length_m),
    ("mean flow", "flow", lambda each: each.mean_m3s),
    ("usable flow", "flow", lambda each: each.usable_m3s),
    ("design flow", "flow", lambda each: each.design_m3s),
    ("greatest power", "large power", lambda each: each.rated_w),
    ("power on 95 % of days", "large power", lambda each: each.firm_w),
)
_ENERGY = ("kwh", "low_kwh", "high_kwh", "winter_kwh")


def table_header(view: View) -> list[str]:
    """The header of the table of what was found."""
    header = [
        "name",
        *(view.header(name, kind) for name, kind, _ in _COLUMNS),
        "energy [kWh]",
        "low energy [kWh]",
        "high energy [kWh]",
        "winter energy [kWh]",
    ]
    return header + [
        view.header("energy for each length of pipe", "length").replace("[", "[kWh/"),
        "head lost [%]",
        "machine",
        "jets",
        "pipe",
        "mind",
        "not worked out because",
        "mistakes",
        "what is wrong",
    ]


def table_row(each: Sifted, view: View) -> list[object]:
    """One creek's row of it."""
    numbers = [view.number(of(each), kind) for _, kind, of in _COLUMNS] + [
        getattr(each, name) for name in _ENERGY
    ]
    numbers += [each.kwh / view.number(each.creek.length_m, "length"), 100 * each.loss_share]
    told = [
        each.machine,
        each.jets or "",
        each.pipe,
        "; ".join(map(view.told, each.mind)),
        view.told(each.reason),
        len(each.mistakes) or "",
        "; ".join(map(view.told, each.mistakes)),
    ]
    return [
        csv_text(each.creek.name),
        *(csv_number(number) for number in numbers),
        *map(csv_text, told),
    ]


def table_text(found: Sequence[Sifted], view: View) -> str:
    """The sifted creeks as CSV, in the order of the table."""
    return write_csv_text(table_header(view), [table_row(each, view) for each in found])
