"""A channel, lined or not, or a pipe that runs part full, as a part of the water's way."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding
from ..sentences import Amount, Sentence
from .channel import FULLEST, ChannelFlow, circle, normal_depth, part_full_depth, trapezoid, uniform
from .section import critical_depth, critical_depth_pipe
from .solve import require
from .state import CLEAN, State

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["OpenChannel"]

LEAST_FREEBOARD_M = 0.15  # common practice
_NEAR_CRITICAL = 0.2  # a Froude number so near to 1 runs in waves; common practice
_SILTING_MS = 0.3  # below it sand settles; common practice


@dataclass(frozen=True, eq=False)
class OpenChannel:
    """Water led along a slope with a free surface.

    Parameters
    ----------
    length_m, slope : float
        The slope as fall over length.
    manning : float
        Manning's n.
    width_m, side_slope : float
        Floor, and across to one up, of a channel.
    depth_m : float
        Of the channel, floor to bank; the diameter of a round one.
    freeboard_m : float
        Bank that must stay dry. Of no meaning in a round one, which may fill to where it carries most.
    round : bool
        A pipe running part full.
    lost_m3s : float
        Water that leaves it on the way, whatever it carries.
    share_lost : float
        Share that leaves it, where that was gauged at both ends.
    highest_speed_ms : float
        At which its floor and sides stand; NaN where not known.
    name : str
    """

    length_m: float
    slope: float
    manning: float
    _: KW_ONLY
    depth_m: float
    width_m: float = 0.0
    side_slope: float = 0.0
    freeboard_m: float = 0.0
    round: bool = False
    lost_m3s: float = 0.0
    share_lost: float = 0.0
    highest_speed_ms: float = float("nan")
    name: str = "channel"

    def __post_init__(self) -> None:
        where = f"OpenChannel '{self.name}'"
        require(
            where,
            "above zero",
            length_m=self.length_m,
            slope=self.slope,
            manning=self.manning,
            depth_m=self.depth_m,
        )
        require(where, "above zero", water_under_the_freeboard_m=self.depth_m - self.freeboard_m)
        require(
            where,
            "zero or more",
            width_m=self.width_m,
            side_slope=self.side_slope,
            freeboard_m=self.freeboard_m,
            lost_m3s=self.lost_m3s,
        )
        require(where, "a share from 0 to 1", share_lost=self.share_lost)
        if not self.round:
            require(where, "above zero", width_or_side_slope=self.width_m + self.side_slope)

    @property
    def water_m(self) -> float:
        """Deepest the water may stand in it."""
        return FULLEST * self.depth_m if self.round else self.depth_m - self.freeboard_m

    @property
    def most(self) -> ChannelFlow:
        """Uniform flow at that depth."""
        return self.at_depth_si(self.water_m)

    def at_depth_si(self, depth_m: float) -> ChannelFlow:
        """Uniform flow at a depth in m."""
        return uniform(*self.section_si(depth_m), self.slope, self.manning)

    def section_si(self, depth_m: float) -> tuple[Number, Number, Number]:
        """Area, wetted perimeter and width of the surface at a depth."""
        depth = np.asarray(depth_m, dtype=float)
        return (
            circle(depth / self.depth_m, self.depth_m)
            if self.round
            else trapezoid(depth, self.width_m, self.side_slope)
        )

    def normal_depth_si(self, flow_m3s: float) -> float:
        """Depth in m at which a flow runs; NaN where a round one would be full."""
        if self.round:
            return part_full_depth.si(flow_m3s, self.depth_m, self.slope, self.manning)
        return normal_depth.si(flow_m3s, self.width_m, self.slope, self.manning, self.side_slope)

    def critical_depth_si(self, flow_m3s: float) -> float:
        """Depth of least energy in m; deeper the water is tranquil, shallower it shoots."""
        return (
            critical_depth_pipe.si(flow_m3s, self.depth_m)
            if self.round
            else critical_depth.si(flow_m3s, self.width_m, self.side_slope)
        )

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s that leaves its lower end; weeds, leaves and ice take their share of it."""
        return np.maximum(
            self.most.flow_m3s * state.open * (1 - self.share_lost) - self.lost_m3s, 0.0
        )[()]

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Its fall, for any flow: the water uses it up by itself."""
        return self.slope * self.length_m + np.zeros_like(np.asarray(flow_m3s, dtype=float))

    def findings_si(self, flow_m3s: float) -> tuple[Finding, ...]:
        """What a reader must know of it at a flow."""
        depth, found = float(self.normal_depth_si(flow_m3s)), []
        if not depth <= self.water_m:
            text = (
                "it would run full"
                if self.round
                else Sentence(
                    "the water would stand {depth} deep, above the {most} that its freeboard leaves",
                    depth=Amount(depth, "length", 2),
                    most=Amount(self.water_m, "length", 2),
                )
            )
            told = Sentence("at {flow} {text}", flow=Amount(flow_m3s, "flow"), text=text)
            return (Finding("caution", self.name, told),)
        runs = self.at_depth_si(depth)
        speed, froude = float(runs.velocity_ms), float(runs.froude)
        if speed > self.highest_speed_ms:
            found.append(
                Finding(
                    "caution",
                    self.name,
                    Sentence(
                        "its water runs at {speed}, faster than the {most} such a floor "
                        "withstands: it scours",
                        speed=Amount(speed, "velocity", 2),
                        most=Amount(self.highest_speed_ms, "velocity", 2),
                    ),
                )
            )
        if flow_m3s > 0 and speed < _SILTING_MS:
            found.append(
                Finding(
                    "note",
                    self.name,
                    Sentence(
                        "its water runs at {speed}: sand and silt settle in it, and weeds grow",
                        speed=Amount(speed, "velocity", 2),
                    ),
                )
            )
        if abs(froude - 1) < _NEAR_CRITICAL:
            found.append(
                Finding(
                    "note",
                    self.name,
                    "its water runs near its critical depth: it stands in waves, so give it "
                    + ("a wider bore" if self.round else "more freeboard")
                    + " or another slope",
                )
            )
        if not self.round and self.freeboard_m < LEAST_FREEBOARD_M:
            found.append(
                Finding(
                    "note",
                    self.name,
                    Sentence(
                        "its banks stand {freeboard} above the highest water; {least} is "
                        "common practice, for waves, leaves and snow",
                        freeboard=Amount(self.freeboard_m, "length", 2),
                        least=Amount(LEAST_FREEBOARD_M, "length", 2),
                    ),
                )
            )
        return tuple(found)
