"""The plant curve: net power against the water the creek offers, with its steps kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any, Sequence

import numpy as np

from ..result import Result
from ..units import Q_, Floats, Number, Quantity

if TYPE_CHECKING:
    from ..units import Alike
    from .operation import Operation

__all__ = ["FULL", "PART", "UNDER_FED", "STATES", "STOPPED", "PlantCurve", "most_taken"]

STOPPED, UNDER_FED, PART, FULL = 0, 1, 2, 3
STATES = ("stopped", "under_fed", "part", "full")

# Where a straight line between two nodes may depart from the curve: a share of the power there,
# and of the greatest power. A year's energy is then right to about 1e-5.
_OF_POWER, _OF_GREATEST = 3e-5, 3e-6
_FIRST_MESH = 129
_FAN = 64


@dataclass(frozen=True, eq=False)
class PlantCurve(Result):
    """What the plant gives at every flow offered to its intake.

    Between nodes the power is a straight line; a flow that stands twice is a jump, its left value
    first. Beyond the last node nothing changes any more.

    Parameters
    ----------
    flow_m3s : ndarray
        Usable flow of the creek at the nodes, rising, first 0.
    power_w : ndarray
        Net power at the loads.
    used_m3s : ndarray
        Flow through the jets.
    net_head_m : ndarray
        Head at the jets while they run; 0 when stopped.
    jets_open : ndarray of int
        Jets (or units) open from this node to the next; 0 when stopped.
    state : ndarray of int
        From this node to the next: `STOPPED` (no net power), `UNDER_FED` (less arrives than the
        open jets would take), `PART` (more water would bring more power), `FULL`.
    """

    flow_m3s: np.ndarray
    power_w: np.ndarray
    used_m3s: np.ndarray
    _: KW_ONLY
    net_head_m: np.ndarray
    jets_open: np.ndarray
    state: np.ndarray

    @property
    def flow(self) -> Quantity:
        """Usable flow at the nodes."""
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def power(self) -> Quantity:
        """Net power at the nodes."""
        return Q_(self.power_w, "W")

    @property
    def rated_w(self) -> float:
        """Greatest power."""
        return float(self.power_w.max())

    @property
    def full_flow_m3s(self) -> float:
        """Least flow that gives the power of plentiful water."""
        return (
            float(self.flow_m3s[np.argmax(self.state == FULL)])
            if np.any(self.state == FULL)
            else float(self.flow_m3s[-1])
        )

    @property
    def most_used_m3s(self) -> float:
        """Greatest flow through the jets."""
        return float(self.used_m3s.max())

    @property
    def most_taken_m3s(self) -> float:
        """Flow the creek must offer for that, what leaks away on the way included: more changes nothing.

        A cap on what is taken at the intake is this, never :attr:`most_used_m3s`.
        """
        apart = self.state != self.state[-1]
        for values in (self.used_m3s, self.power_w):
            apart |= np.abs(values - values[-1]) > 1e-9 * np.max(np.abs(values), initial=1e-300)
        last = np.flatnonzero(apart)
        return float(self.flow_m3s[last[-1] + 1]) if len(last) else 0.0

    def place_si(self, flow_m3s: Number) -> tuple[np.ndarray, np.ndarray]:
        """Interval each flow falls in (number of its left node) and how far along it, 0 to 1."""
        return place(self.flow_m3s, flow_m3s)

    def power_si(self, flow_m3s: Number) -> Alike:
        """Net power in W at usable flows of any shape; NaN stays NaN."""
        return self._at(self.power_w, flow_m3s)

    def used_si(self, flow_m3s: Number) -> Number:
        """Flow through the jets in m³/s."""
        return self._at(self.used_m3s, flow_m3s)

    def net_head_si(self, flow_m3s: Number) -> Number:
        """Head at the jets in m."""
        return self._at(self.net_head_m, flow_m3s)

    def jets_si(self, flow_m3s: Number) -> Number:
        """Jets open."""
        return self.jets_open[self.place_si(flow_m3s)[0]]

    def state_si(self, flow_m3s: Floats) -> np.ndarray:
        """State as a number, an index of ``STATES``."""
        return self.state[self.place_si(flow_m3s)[0]]

    def _at(self, values: np.ndarray, flow_m3s: Number) -> Floats:
        node, along = self.place_si(flow_m3s)
        after = np.minimum(node + 1, len(values) - 1)
        return (values[node] + along * (values[after] - values[node]))[()]


def most_taken(curves: PlantCurve | Sequence[PlantCurve]) -> np.ndarray:
    """Most that a plant takes at the intake in each month, January first, in m³/s, from one curve
    or twelve."""
    each = [curves] if isinstance(curves, PlantCurve) else curves
    return np.broadcast_to([curve.most_taken_m3s for curve in each], 12)


def place(nodes: np.ndarray, flow_m3s: Number) -> tuple[np.ndarray, np.ndarray]:
    """Left node and share of the way to the next, right-continuous; the last node holds for all beyond."""
    flow = np.asarray(flow_m3s, dtype=float)
    last = len(nodes) - 1
    # NaN sorts behind everything, which leaves it NaN in the share
    node = np.clip(np.searchsorted(nodes, flow, side="right") - 1, 0, last)
    left, right = nodes[node], nodes[np.minimum(node + 1, last)]
    width = right - left
    along = np.where(
        width > 0,
        (flow - left) / np.where(width > 0, width, 1.0),
        np.where(np.isnan(flow), np.nan, 0.0),
    )
    return node, np.where(flow < 0, 0.0, along)


def trace(
    at_si: Callable[[np.ndarray], Operation],
    knots: Floats,
    highest_m3s: float,
    sketched: bool = False,
) -> PlantCurve:
    """The curve of a plant whose operation at any flow is known.

    Parameters
    ----------
    at_si : callable
        Flows to an ``Operation``.
    knots : sequence of float
        Flows where its slope or value is known to change.
    highest_m3s : float
        Flow beyond which nothing changes.
    sketched : bool
        Without closing in on changes, and without more nodes where it bends.
    """
    knots = np.asarray(knots, dtype=float)
    knots = np.unique(
        np.concatenate([[0.0, highest_m3s], knots[(knots > 0) & (knots < highest_m3s)]])
    )
    mesh = np.concatenate(
        [np.linspace(0.0, highest_m3s, _FIRST_MESH), knots, np.nextafter(knots[1:], 0.0)]
    )
    table = _sorted(_rows(at_si, np.unique(mesh)))
    if sketched:
        return _curve(table)
    table = _sorted(np.concatenate([table, _either_side_of_changes(at_si, table)]))
    table = _refined(at_si, table)
    return _curve(table)


# A table has one row a node: flow, power, used, head, jets, opening, state.
_FLOW, _POWER, _JETS, _OPENING, _STATE = 0, 1, 4, 5, 6


def _rows(at_si: Any, flow: np.ndarray) -> np.ndarray:
    found = at_si(flow)
    columns = (
        flow,
        found.power_w,
        found.used_m3s,
        found.net_head_m,
        found.jets_open,
        found.opening,
        found.state,
    )
    return np.stack(
        [np.broadcast_to(column, flow.shape).astype(float) for column in columns], axis=1
    )


def _sorted(table: np.ndarray) -> np.ndarray:
    return table[np.unique(table[:, _FLOW], return_index=True)[1]]


def _changes(table: np.ndarray) -> np.ndarray:
    """Rows after which another opening or state holds."""
    return np.flatnonzero(np.any(table[1:, _OPENING:] != table[:-1, _OPENING:], axis=1))


def _either_side_of_changes(at_si: Any, table: np.ndarray) -> np.ndarray:
    """Rows that close in on each change of opening or state, down to neighbouring floats."""
    found = [table[:0]]
    open_ends = _changes(table)
    low, high = table[open_ends], table[open_ends + 1]
    share = np.arange(1, _FAN) / _FAN
    while True:
        wide = np.nextafter(low[:, _FLOW], np.inf) < high[:, _FLOW]
        found += [low[~wide], high[~wide]]
        low, high = low[wide], high[wide]
        if not len(low):
            return np.concatenate(found)
        between = low[:, _FLOW, None] + share * (high[:, _FLOW] - low[:, _FLOW])[:, None]
        rows = _rows(at_si, between.ravel()).reshape(*between.shape, -1)
        fan = np.concatenate([low[:, None], rows, high[:, None]], axis=1)
        differs = np.any(fan[:, 1:, _OPENING:] != fan[:, :-1, _OPENING:], axis=2)
        # every change within the fan is followed up, so that none hides behind another
        which, step = np.nonzero(differs)
        low, high = fan[which, step], fan[which, step + 1]


def _refined(at_si: Any, table: np.ndarray) -> np.ndarray:
    """More rows where straight lines would depart from the power."""
    greatest = table[:, _POWER].max()
    narrowest = 1e-10 * table[-1, _FLOW]
    check = np.arange(len(table) - 1)
    while len(check):
        left, right = table[check], table[check + 1]
        middle = (left[:, _FLOW] + right[:, _FLOW]) / 2
        rows = _rows(at_si, middle)
        departs = np.abs(rows[:, _POWER] - (left[:, _POWER] + right[:, _POWER]) / 2)
        wanted = (departs > _OF_POWER * rows[:, _POWER] + _OF_GREATEST * greatest) & (
            right[:, _FLOW] - left[:, _FLOW] > narrowest
        )
        added = rows[wanted]
        table = _sorted(np.concatenate([table, added]))
        place_of_new = np.searchsorted(table[:, _FLOW], added[:, _FLOW])
        check = np.unique(np.concatenate([place_of_new - 1, place_of_new]))
    return table


def _curve(table: np.ndarray) -> PlantCurve:
    """Neighbouring floats made one flow that stands twice; left values dropped where nothing jumps."""
    flow = table[:, _FLOW].copy()
    twins = np.flatnonzero(flow[1:] <= np.nextafter(flow[:-1], np.inf))
    flow[twins] = flow[twins + 1]
    kept = np.ones(len(flow), dtype=bool)
    scale = np.abs(table[:, 1:_JETS]).max(axis=0) + 1e-300
    jumps = np.any(np.abs(table[twins + 1, 1:_JETS] - table[twins, 1:_JETS]) > 1e-9 * scale, axis=1)
    kept[twins[~jumps]] = False
    flow, table = flow[kept], table[kept]
    return PlantCurve(
        flow,
        table[:, 1],
        table[:, 2],
        net_head_m=table[:, 3],
        jets_open=table[:, _JETS].astype(int),
        state=table[:, _STATE].astype(int),
    )
