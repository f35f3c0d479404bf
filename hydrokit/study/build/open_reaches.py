"""Open ground and channels from the site file: what leaks on the way, how they run at full flow."""

from __future__ import annotations

import functools
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...errors import HydrokitError
from ...result import Result
from ...site.schema_parts import SOILS

if TYPE_CHECKING:
    from ...site.schema_parts import Channel, OpenGround
    from ...works.ditch import OpenLoss
    from ...works.open_channel import OpenChannel
    from ...works.rated import Rated
    from ..study import Study

__all__ = [
    "ChannelState",
    "Reach",
    "carried",
    "channel",
    "channels",
    "gauged_loss",
    "open_ground",
    "reaches",
]


@dataclass(frozen=True, eq=False)
class Reach(Result):
    """Open ground or a channel with what leaves it.

    Parameters
    ----------
    name, kind : str
    length_m : float
    loss : OpenLoss
        By its ground and its surface.
    soil : str
    share : float or None
        Gauged at both ends, as a share of what it carries.
    channel : OpenChannel or None
    """

    name: str
    kind: str
    length_m: float
    _: KW_ONLY
    loss: OpenLoss | None
    soil: str
    share: float | None = None
    channel: OpenChannel | None = None


def _seepage(
    entry: OpenGround | Channel, ground: str
) -> tuple[str, float, tuple[float, float] | None]:
    """What the ground is, its seepage in m/s, and the bounds of that where they are known."""
    from ...tables import row

    if "seepage" in entry:
        return "as measured", entry["seepage"], None
    found = row("seepage", SOILS[entry.soil or ground])
    day = 86400.0
    bounds = (found["low"] / day, found["high"] / day)
    return (
        entry.soil or ground,
        found["m_per_day"] / day,
        bounds if np.isfinite(bounds).all() else None,
    )


def open_ground(entry: OpenGround, name: str) -> Rated:
    """Open ground as a part: by the share that was gauged, else by its ground."""
    from ...works.rated import Rated

    if "loss" in entry:
        return Rated(np.inf, entry["loss"], name)
    return Rated(np.inf, 0.0, name, lost_m3s=_ground_loss(entry).middle_m3s)


def _ground_loss(entry: OpenGround) -> OpenLoss:
    from ...works.ditch import open_loss

    _, rate, bounds = _seepage(entry, "not known")
    return open_loss(entry["length"], entry["width"], entry["width"], rate, bounds)


_TIGHT = (
    "pipe",
    "metal",
    "boards",
    "cement plaster",
)  # walls that let nothing through worth counting


def channel(entry: Channel, name: str) -> OpenChannel:
    """A channel or part-full pipe as a part, with what it loses."""
    from ...works.open_channel import OpenChannel

    n, speed, _ = _wall(entry)
    round_ = "diameter" in entry
    other = [key for key in ("width", "depth", "side_slope", "freeboard") if key in entry]
    if round_ and other:
        raise HydrokitError(
            f"its diameter says that it is a pipe, its {other[0]} that it is not: leave out one or the other"
        )
    if not round_ and not ("width" in entry and "depth" in entry):
        raise HydrokitError(
            "give its width and depth, or the diameter of a pipe that runs part full"
        )
    depth = entry["diameter"] if round_ else entry["depth"]
    if not round_ and (entry.freeboard or 0.0) >= depth:
        raise HydrokitError(
            "its freeboard leaves no depth for the water: give a smaller freeboard or a deeper channel"
        )
    shape = (
        {"round": True}
        if round_
        else {
            "width_m": entry["width"],
            "side_slope": entry.side_slope,
            "freeboard_m": 0.25 * depth if entry.freeboard is None else entry.freeboard,
        }
    )
    made = OpenChannel(
        entry["length"],
        entry["slope"],
        n,
        depth_m=depth,
        highest_speed_ms=speed,
        name=name,
        **shape,
    )
    if "loss" in entry:
        return replace(made, share_lost=entry["loss"])
    loss = _channel_loss(entry, made)
    return made if loss is None else replace(made, lost_m3s=loss.middle_m3s)


def _wall(entry: Channel) -> tuple[float, float, str]:
    """Manning's n, the speed it stands, and the name of the wall."""
    from ...tables import row

    if "lining" not in entry and "manning" not in entry:
        raise HydrokitError(
            'give its lining: lining = "concrete", or Manning\'s n: manning = 0.015'
        )
    found = (
        row("manning", entry["lining"])
        if "lining" in entry
        else {"n": entry["manning"], "highest_speed_ms": np.nan, "name": ""}
    )
    return (
        float(found["n"] if entry.manning is None else entry.manning),
        float(found["highest_speed_ms"]),
        found["name"],
    )


def _ground(entry: Channel) -> str | None:
    """The ground a channel seeps into where the site file does not say; None for a tight wall."""
    wall = _wall(entry)[2]
    if wall.startswith(_TIGHT):
        return None
    return "concrete" if wall.startswith(("concrete", "masonry")) else "not known"


def _channel_loss(entry: Channel, made: OpenChannel) -> OpenLoss | None:
    """What a channel full to its freeboard loses; None where its wall is tight."""
    from ...works.ditch import open_loss

    ground = _ground(entry)
    if ground is None and not {"soil", "seepage"} & set(entry):
        return None
    _, perimeter, top = made.section_si(made.water_m)
    _, rate, bounds = _seepage(entry, ground or "not known")
    return open_loss(entry["length"], float(perimeter), float(top), rate, bounds)


def reaches(study: Study) -> tuple[Reach, ...]:
    """Every stretch of open ground and every channel, in the order of the water."""
    from .part_names import part_name

    built, found = {part.name: part for part in study.supply}, []
    for entry in study.site.part:
        name = part_name(entry)
        if entry.kind == "open ground":
            found.append(
                Reach(
                    name,
                    "open ground",
                    entry.length,
                    loss=_ground_loss(entry),
                    soil=_seepage(entry, "not known")[0],
                    share=entry.loss,
                )
            )
        elif entry.kind == "channel":
            made = built[name]
            loss, ground = _channel_loss(entry, made), _ground(entry)
            told = "tight" if loss is None else _seepage(entry, ground or "not known")[0]
            found.append(
                Reach(
                    name,
                    "channel",
                    entry.length,
                    loss=loss,
                    soil=told,
                    share=entry.loss,
                    channel=made,
                )
            )
    return tuple(found)


# --- at full flow ---------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class ChannelState:
    """How a channel runs at the flow that feeds the jets.

    Parameters
    ----------
    name : str
    flow_m3s : float
        That it carries then.
    depth_m : float
        NaN where a pipe runs full and no depth carries it.
    critical_m : float
    velocity_ms : float or None
        None where it does not fit.
    runs : str
    left_m : float or None
        Of its depth, above the water.
    most_m3s : float
        That it carries to its freeboard.
    """

    name: str
    flow_m3s: float
    depth_m: float
    critical_m: float
    velocity_ms: float | None
    runs: str
    left_m: float | None
    most_m3s: float


def channels(study: Study) -> tuple[ChannelState, ...]:
    """How each channel runs at the flow that feeds the jets."""
    return tuple(
        _at_full_flow(study, reach, reach.channel)
        for reach in study.reaches
        if reach.channel is not None and study.full_flow_m3s is not None
    )


def _at_full_flow(study: Study, reach: Reach, made: OpenChannel) -> ChannelState:
    flow = carried(study, reach)
    depth, critical = float(made.normal_depth_si(flow)), float(made.critical_depth_si(flow))
    fits = depth <= made.water_m
    if fits:
        runs = "tranquil" if depth > critical else "shooting"
    else:
        runs = "it runs full" if made.round else "it runs over"
    return ChannelState(
        name=reach.name,
        flow_m3s=flow,
        depth_m=depth,
        critical_m=critical,
        velocity_ms=float(made.at_depth_si(depth).velocity_ms) if fits else None,
        runs=runs,
        left_m=made.depth_m - depth if fits else None,
        most_m3s=float(made.most.flow_m3s),
    )


def carried(study: Study, reach: Reach) -> float:
    """Flow in m³/s that enters a reach so that the jets are fed."""
    from ...plant.operation import Passage

    names = [part.name for part in study.supply]
    below = functools.reduce(Passage.through, study.supply[names.index(reach.name) :], Passage())
    return float(below.needs_si(study.full_flow_m3s))


def gauged_loss(study: Study, reach: Reach) -> float:
    """What a reach loses at full flow in m³/s by the share that was gauged; NaN where it was not,
    or no flow is known."""
    if reach.share is None or study.full_flow_m3s is None:
        return np.nan
    return reach.share * carried(study, reach)
