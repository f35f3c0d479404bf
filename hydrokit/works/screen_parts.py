"""Screens as parts: what each passes for a head, and how blocked it may get before the plant starves."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..water import GRAVITY
from .screens import (
    bar_rack_loss,
    bottom_rack_band,
    bottom_rack_length,
    perforated_loss_coefficient,
    wire_loss_coefficient,
)
from .solve import bracketed_root, require
from .state import CLEAN, Part, State

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["BarRack", "BottomRack", "DrilledPipe", "Screen", "InclinedScreen", "blocked_share"]

_COLD_WATER = 1.5e-6  # m²/s at 5 °C: the state in which screens starve a plant


def blocked_share(part: Part, flow_m3s: float, state: State = CLEAN) -> Number:
    """How blocked a part may get before it no longer passes a flow.

    Parameters
    ----------
    part : Part
    flow_m3s : float or ndarray
    state : State
        Its ice and air are kept.

    Returns
    -------
    float or ndarray
        Share of the openings; 0 where even the clean part passes no more, NaN where it passes less.
    """
    flow = np.asarray(flow_m3s, dtype=float)

    def spare(clogged: Number) -> Number:
        return part.capacity_si(State(clogged, state.air_m, state.ice)) - flow

    clean = spare(np.zeros_like(flow))
    share = bracketed_root(spare, np.zeros_like(flow), np.ones_like(flow), steps=50)
    return np.where(clean < 0, np.nan, np.where(clean == 0, 0.0, share))[()]


@dataclass(frozen=True, eq=False)
class Screen:
    """Flat or sloped mesh or perforated plate with water on both sides.

    Parameters
    ----------
    area_m2 : float
        Wetted gross area.
    open_share : float
        Open over gross area, clean.
    head_m : float
        Most difference of level it may have before the pond spills or the pipe behind sucks air.
    gap_m : float or None
        Clear width between round wires; None for perforated plate, expanded metal and flat bars.
    viscosity_m2s : float
    name : str
    """

    area_m2: float
    open_share: float
    head_m: float
    _: KW_ONLY
    gap_m: float | None = None
    viscosity_m2s: float = _COLD_WATER
    name: str = "screen"

    def __post_init__(self) -> None:
        require(
            f"Screen '{self.name}'", "above zero", area_m2=self.area_m2, open_share=self.open_share
        )
        require(f"Screen '{self.name}'", "a share from 0 to 1", open_share=self.open_share)
        require(f"Screen '{self.name}'", "zero or more", head_m=self.head_m)

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Difference of level in m across the screen."""
        speed = np.asarray(flow_m3s, dtype=float) / self.area_m2
        share = self.open_share * state.open
        if self.gap_m is None:
            coefficient = perforated_loss_coefficient.si(share)
        else:
            coefficient = wire_loss_coefficient.si(
                share, np.abs(speed) * self.gap_m / self.viscosity_m2s
            )
        with np.errstate(invalid="ignore"):
            return np.where(speed == 0, 0.0, coefficient * speed**2 / (2 * GRAVITY))[()]

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Flow in m³/s at which the screen takes all the head it may."""
        share = self.open_share * state.open
        # Slow water is held more, so that the flow lies between those of the two ends of the table.
        ends = (
            [perforated_loss_coefficient.si(share)] * 2
            if self.gap_m is None
            else [wire_loss_coefficient.si(share, reynolds) for reynolds in (0.0, 1e9)]
        )
        with np.errstate(divide="ignore"):
            slow, fast = (self.area_m2 * np.sqrt(2 * GRAVITY * self.head_m / each) for each in ends)
        if self.gap_m is None or self.head_m == 0:
            return fast
        found = bracketed_root(
            lambda flow: self.head_loss_si(flow, state) - self.head_m, slow, fast, steps=25
        )
        return np.where(np.asarray(fast) == 0, 0.0, np.where(np.isnan(found), fast, found))[()]

    def approach_speed_si(self, flow_m3s: Number) -> Number:
        """Speed in m/s at which the water nears the screen: what fish must outswim."""
        return np.asarray(flow_m3s) / self.area_m2


@dataclass(frozen=True, eq=False)
class DrilledPipe:
    """A pipe with rows of holes in the pond, bare or with mesh clamped round it.

    Mesh clamped on works only over the holes: what lies between them passes nothing, so its area
    is the holes' area.

    Parameters
    ----------
    holes : tuple of int
        Holes in each row.
    diameter_m : tuple of float
        Of the holes of each row.
    depth_m : tuple of float
        Of each row below the lowest pond level that must feed the plant.
    mesh_open_share : float or None
        Of the mesh; None for bare holes.
    coefficient : float
        Of a bare hole.
    name : str
    """

    holes: tuple[int, ...]
    diameter_m: tuple[float, ...]
    depth_m: tuple[float, ...]
    _: KW_ONLY
    mesh_open_share: float | None = None
    coefficient: float = 0.61
    name: str = "drilled pipe"

    def __post_init__(self) -> None:
        if not len(self.holes) == len(self.diameter_m) == len(self.depth_m) > 0:
            raise HydrokitError(
                f"DrilledPipe '{self.name}': give holes, diameter and depth for each row"
            )
        require(
            f"DrilledPipe '{self.name}'",
            "above zero",
            diameter_m=self.diameter_m,
            coefficient=self.coefficient,
        )

    @property
    def hole_area_m2(self) -> float:
        """Area of all holes together."""
        return float(sum(n * math.pi / 4 * d**2 for n, d in zip(self.holes, self.diameter_m)))

    def flow_si(self, head_m: Number, state: State = CLEAN) -> Number:
        """Flow in m³/s when the water inside stands `head_m` lower than the pond.

        A row above the inside level discharges freely under its own depth.
        """
        resistance = 1 / self.coefficient**2
        free = state.open
        if self.mesh_open_share is not None:
            resistance = resistance + perforated_loss_coefficient.si(
                self.mesh_open_share * state.open
            )
            free = 1.0
        total = 0.0
        for number, diameter, depth in zip(self.holes, self.diameter_m, self.depth_m):
            head = np.clip(np.asarray(head_m, dtype=float), 0.0, max(depth, 0.0))
            total = total + number * math.pi / 4 * diameter**2 * np.sqrt(
                2 * GRAVITY * head / resistance
            )
        return free * total

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Flow in m³/s with the pipe inside drawn empty below every row."""
        return self.flow_si(max(max(self.depth_m), 0.0), state)

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Difference of level in m between pond and pipe; infinite beyond the capacity."""
        flow = np.asarray(flow_m3s, dtype=float)
        deepest = np.full(flow.shape, max(max(self.depth_m), 0.0))
        found = bracketed_root(
            lambda head: self.flow_si(head, state) - flow, np.zeros_like(flow), deepest, steps=50
        )
        return np.where(flow > self.capacity_si(state), np.inf, found)[()]


@dataclass(frozen=True, eq=False)
class BarRack:
    """A rack of bars before the inlet.

    Parameters
    ----------
    area_m2 : float
        Wetted gross area, square to the flow.
    bar_m, gap_m : float
    slope_rad : float
        Over the floor.
    head_m : float
        Most difference of level it may have.
    shape : str
    name : str
    """

    area_m2: float
    bar_m: float
    gap_m: float
    _: KW_ONLY
    slope_rad: float
    head_m: float
    shape: str = "sharp rectangular"
    name: str = "trash rack"

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Difference of level in m across the rack."""
        flow = np.asarray(flow_m3s, dtype=float)
        blocked = 1 - state.open
        with np.errstate(invalid="ignore"):
            loss = bar_rack_loss.si(
                flow / self.area_m2, self.bar_m, self.gap_m, self.slope_rad, self.shape, blocked
            )
        return np.where(flow == 0, 0.0, loss)[()]

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Flow in m³/s at which the rack takes all the head it may."""
        return self.area_m2 * np.sqrt(self.head_m / self.head_loss_si(self.area_m2, state))


@dataclass(frozen=True, eq=False)
class BottomRack:
    """Bars along the creek over a trough in its floor: the water falls through, stones roll on.

    Parameters
    ----------
    width_m : float
        Across the creek.
    length_m : float
        Of the bars.
    bar_m, gap_m : float
    slope_rad : float
    name : str

    Notes
    -----
    The flow that a length swallows whole, by :func:`hydrokit.works.screens.bottom_rack_length` turned
    round: the length goes with the flow to the power 2/3. Its coefficients are from memory.
    """

    width_m: float
    length_m: float
    bar_m: float
    _: KW_ONLY
    gap_m: float
    slope_rad: float = math.radians(10)
    name: str = "bottom intake"

    def __post_init__(self) -> None:
        require(
            f"BottomRack '{self.name}'",
            "above zero",
            width_m=self.width_m,
            length_m=self.length_m,
            bar_m=self.bar_m,
            gap_m=self.gap_m,
        )

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s of which nothing runs on over the bars."""
        for_one = bottom_rack_length.si(
            1.0, self.width_m, self.gap_m, self.gap_m + self.bar_m, self.slope_rad
        )
        return (self.length_m * state.open / for_one) ** 1.5

    @property
    def band_m3s(self) -> tuple[float, float]:
        """Least and most that published theories let its length take in, clean and level."""
        short, long = bottom_rack_band.si(1.0, self.width_m, self.gap_m, self.gap_m + self.bar_m)
        return float((self.length_m / long) ** 1.5), float((self.length_m / short) ** 1.5)

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """None counted: the water falls into the trough by itself."""
        return np.zeros_like(np.asarray(flow_m3s, dtype=float))


@dataclass(frozen=True, eq=False)
class InclinedScreen:
    """A self-cleaning inclined wedge-wire screen that the water shoots over.

    It sheds leaves and gravel; frazil freezes it over like any other screen. Its flow is the
    manufacturer's figure or the owner's own gauging: published formulas for it disagree.

    Parameters
    ----------
    rated_flow_m3s : float
        Taken in clean, with the whole length wetted.
    length_m : float
        From crest to toe along the wires.
    drop_m : float
        From crest to the level behind it: head the plant does not get.
    source : {"maker", "gauged", "estimate"}
    band_m3s : tuple of float or None
        Least and most that published theories let it take in, where its slots are known.
    name : str
    """

    rated_flow_m3s: float
    length_m: float
    drop_m: float
    _: KW_ONLY
    source: str = "maker"
    band_m3s: tuple[float, float] | None = None
    name: str = "inclined screen"

    def __post_init__(self) -> None:
        if self.source not in ("maker", "gauged", "estimate"):
            raise HydrokitError(
                f"InclinedScreen '{self.name}': source is maker, gauged or estimate, not {self.source!r}"
            )

    @property
    def relative_uncertainty(self) -> float:
        """One standard deviation of the rated flow: common practice 10 % gauged, 20 % manufacturer,
        50 % estimate."""
        return {"gauged": 0.10, "maker": 0.20, "estimate": 0.50}[self.source]

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s taken in."""
        return self.rated_flow_m3s * state.open

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """The drop over the screen, for any flow."""
        return self.drop_m + np.zeros_like(np.asarray(flow_m3s, dtype=float))

    def wetted_length_si(self, arriving_m3s: Number, state: State = CLEAN) -> Number:
        """Length in m over which the arriving water goes through, counting each metre alike."""
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.asarray(arriving_m3s, dtype=float) / self.capacity_si(state)
        return self.length_m * np.clip(np.nan_to_num(share, nan=0.0), 0.0, 1.0)

    def over_the_toe_si(self, arriving_m3s: Number, state: State = CLEAN) -> Number:
        """Water in m³/s that runs off the end, with the leaves."""
        return np.maximum(np.asarray(arriving_m3s) - self.capacity_si(state), 0.0)
