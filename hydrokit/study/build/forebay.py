"""Water in the open from the site file: weir and notch, gates that measure, open ground and channel, the pond's overflow."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...errors import Finding, HydrokitError
from ...site.schema import SOILS

__all__ = [
    "Meter",
    "Reach",
    "channel",
    "drains",
    "gate",
    "meters",
    "open_ground",
    "orifice",
    "overflow",
    "reaches",
    "weir",
]


# --- open water: what leaks on the way ------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Reach:
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
    loss: Any
    soil: str
    share: float | None = None
    channel: Any = None


def _seepage(entry: dict, ground: str) -> tuple[str, float, tuple[float, float] | None]:
    """What the ground is, its seepage in m/s, and the bounds of that where they are known."""
    from ...tables import row

    if "seepage" in entry:
        return "as measured", entry["seepage"], None
    found = row("seepage", SOILS[entry.get("soil", ground)])
    day = 86400.0
    bounds = (found["low"] / day, found["high"] / day)
    return (
        entry.get("soil", ground),
        found["m_per_day"] / day,
        bounds if np.isfinite(bounds).all() else None,
    )


def open_ground(entry: dict, name: str) -> Any:
    """Open ground as a part: by the share that was gauged, else by its ground."""
    from ...works.rated import Rated

    if "loss" in entry:
        return Rated(np.inf, entry["loss"], name)
    return Rated(np.inf, 0.0, name, lost_m3s=_ground_loss(entry).middle_m3s)


def _ground_loss(entry: dict) -> Any:
    from ...works.ditch import open_loss

    _, rate, bounds = _seepage(entry, "not known")
    return open_loss(entry["length"], entry["width"], entry["width"], rate, bounds)


_TIGHT = (
    "pipe",
    "metal",
    "boards",
    "cement plaster",
)  # walls that let nothing through worth counting


def channel(entry: dict, name: str) -> Any:
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
    if not round_ and entry.get("freeboard", 0.0) >= depth:
        raise HydrokitError(
            "its freeboard leaves no depth for the water: give a smaller freeboard or a deeper channel"
        )
    shape = (
        {"round": True}
        if round_
        else {
            "width_m": entry["width"],
            "side_slope": entry.get("side_slope", 0.0),
            "freeboard_m": entry.get("freeboard", 0.25 * depth),
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


def _wall(entry: dict) -> tuple[float, float, str]:
    """Manning's n, the speed it stands, and the name of the wall."""
    from ...tables import row

    if "lining" not in entry and "manning" not in entry:
        raise HydrokitError(
            'say what it is lined with: lining = "concrete", or Manning\'s n: manning = 0.015'
        )
    found = (
        row("manning", entry["lining"])
        if "lining" in entry
        else {"n": entry["manning"], "highest_speed_ms": np.nan, "name": ""}
    )
    return float(entry.get("manning", found["n"])), float(found["highest_speed_ms"]), found["name"]


def _ground(entry: dict) -> str | None:
    """The ground a channel seeps into where the site file does not say; None for a tight wall."""
    wall = _wall(entry)[2]
    if wall.startswith(_TIGHT):
        return None
    return "concrete" if wall.startswith(("concrete", "masonry")) else "not known"


def _channel_loss(entry: dict, made: Any) -> Any:
    """What a channel full to its freeboard loses; None where its wall is tight."""
    from ...works.ditch import open_loss

    ground = _ground(entry)
    if ground is None and not {"soil", "seepage"} & set(entry):
        return None
    _, perimeter, top = made.section_si(made.water_m)
    _, rate, bounds = _seepage(entry, ground or "not known")
    return open_loss(entry["length"], float(perimeter), float(top), rate, bounds)


def reaches(study: Any) -> tuple[Reach, ...]:
    """Every stretch of open ground and every channel, in the order of the water."""
    from .part_names import part_name

    built, found = {part.name: part for part in study.supply}, []
    for entry in study.site["part"]:
        name = part_name(entry)
        if entry["kind"] == "open ground":
            found.append(
                Reach(
                    name,
                    "open ground",
                    entry["length"],
                    _ground_loss(entry),
                    _seepage(entry, "not known")[0],
                    entry.get("loss"),
                )
            )
        elif entry["kind"] == "channel":
            made = built[name]
            loss, ground = _channel_loss(entry, made), _ground(entry)
            told = "tight" if loss is None else _seepage(entry, ground or "not known")[0]
            found.append(
                Reach(name, "channel", entry["length"], loss, told, entry.get("loss"), made)
            )
    return tuple(found)


# --- gates and orifices that measure --------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Meter:
    """An opening that tells the flow from a level.

    Parameters
    ----------
    name, kind : str
    gate : works.openings.Gate
    lifts_m : tuple of float
        Of a gate: a quarter, a half, all of it. Of an orifice: (1,).
    heads_m : tuple of float
        Those to be tabled, the last the most it gets.
    gaugings : int
    """

    name: str
    kind: str
    gate: Any
    lifts_m: tuple[float, ...]
    heads_m: tuple[float, ...]
    gaugings: int

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of its fit."""
        return tuple(Finding(each.level, self.name, each.message) for each in self.gate.findings)


_GAUGED = {
    "gate": ("gauged_lift", "gauged_head", "gauged_flow"),
    "orifice": ("gauged_head", "gauged_flow"),
}


def _fitted(entry: dict) -> Any:
    """The gate or orifice fitted to its gaugings; with the usual coefficient where there are none."""
    from ...works.openings import Gate, fit_gate, fit_orifice

    gate_ = entry["kind"] == "gate"
    area = 0.0 if gate_ else np.pi / 4 * entry["diameter"] ** 2
    given = [entry.get(key) for key in _GAUGED[entry["kind"]]]
    if all(each is None for each in given):
        return Gate(entry["width"] if gate_ else area, 0.61, float("nan"))
    if any(each is None for each in given):
        raise HydrokitError(
            f"its gaugings need {', '.join(_GAUGED[entry['kind']])}, each a list with one value for each gauging"
        )
    lists = [np.array(each, dtype=float) for each in given]
    fitted = fit_gate.si(*lists, entry["width"]) if gate_ else fit_orifice.si(*lists, area)
    if fitted.coefficient > 1:
        raise HydrokitError(
            f"its gaugings give it a coefficient of {fitted.coefficient:.2f}, and no opening passes more than 1: check its size, {'lifts, ' if gate_ else ''}heads and flows, and their units"
        )
    return fitted


def gate(entry: dict, name: str) -> Any:
    """A gate as a part: wide open under the most head it gets."""
    from ...works.openings import Opening

    return Opening(
        entry["width"] * entry["opening"], entry["head"], _fitted(entry).coefficient, name=name
    )


def orifice(entry: dict, name: str) -> Any:
    """An orifice as a part."""
    from ...works.openings import Opening

    return Opening(
        np.pi / 4 * entry["diameter"] ** 2, entry["head"], _fitted(entry).coefficient, name=name
    )


def meters(study: Any) -> tuple[Meter, ...]:
    """The gates and orifices as flow meters."""
    from .part_names import part_name

    found = []
    for entry in study.site["part"]:
        if entry["kind"] in _GAUGED:
            lifts = (
                tuple(share * entry["opening"] for share in (0.25, 0.5, 1.0))
                if entry["kind"] == "gate"
                else (1.0,)
            )
            heads = tuple(share * entry["head"] for share in (0.25, 0.5, 0.75, 1.0))
            found.append(
                Meter(
                    part_name(entry),
                    entry["kind"],
                    _fitted(entry),
                    lifts,
                    heads,
                    len(entry.get("gauged_flow", ())),
                )
            )
    return tuple(found)


# --- the weir across the creek --------------------------------------------------------------


def weir(study: Any) -> Any:
    """The weir at the intake with its notch and its flood, or None where none is described."""
    from ...works.weir import IntakeWeir, Notch

    section = study.site["intake"]
    if "weir_length" not in section:
        return None
    notch = None
    if "notch_depth" in section and study.site["rights.residual"]:
        notch = Notch(
            section["notch_depth"], np.asarray(study.rights.keep_m3s), section.get("notch_width")
        )
    flood, how, years, notes = _flood(study, section)
    return IntakeWeir(
        section["weir_length"],
        flood,
        how,
        flood_years=years,
        banks_m=section.get("banks", float("nan")),
        notch=notch,
        shape=section.get("weir_crest", "broad"),
        notes=notes,
    )


def _flood(study: Any, section: dict) -> tuple[Any, str, float, tuple[Finding, ...]]:
    """Flood in m³/s least, middle, most; where it comes from; its return period; findings."""
    if "flood" in section:
        given = section["flood"]
        spread = 1.645 * (given.sd or 0.0)
        return (
            (max(given.value - spread, 0.0), given.value, given.value + spread),
            "given",
            float("nan"),
            (),
        )
    known = study.intake_flood
    found = [] if known is None else [each for _, each in known.flows if not isinstance(each, str)]
    if not found:
        text = "no flood is given, and no record is long enough to make one: ask for the flood of a neighbouring gauge, or measure the highest mark"
        return None, "none", float("nan"), (Finding("note", "weir", text),)
    flood = found[0]
    limits = [
        each if np.isfinite(each) else flood.flow_m3s for each in (flood.low_m3s, flood.high_m3s)
    ]
    return (
        (limits[0], flood.flow_m3s, limits[1]),
        "daily means",
        known.return_period_years,
        tuple(Finding(each.level, "flood at the weir", each.message) for each in flood.findings),
    )


# --- the pond's overflow --------------------------------------------------------------------


def overflow(study: Any) -> Any:
    """What spills from the last pond, or None where no overflow is described."""
    from ...plant.operation import Passage
    from ...works.spill import Overflow, SideSpill
    from .part_names import part_name

    entry = pond(study)
    if entry is None:
        return None
    pipe = drains(study)
    ways = [] if pipe is None else [pipe]
    ways += [SideSpill(entry["spill_length"])] if "spill_length" in entry else []
    if not ways:
        return None
    comes, place = np.inf, place_of_pond(study.site["part"])
    below = {part_name(each) for each in study.site["part"][place:]}
    for part in study.supply:
        if (
            part.name in below
        ):  # a rack in the pond, before the penstock: what spills has not passed it
            continue
        comes = min(float(Passage().through(part).leaves_si(comes)), float(part.capacity_si()))
    return Overflow(
        tuple(ways),
        comes if np.isfinite(comes) else float("nan"),
        entry.get("bank", float("nan")),
        name=part_name(entry),
    )


def pond(study: Any) -> dict | None:
    """The last pond of the site file, above the penstock, or None."""
    return next(iter(ponds(study)[::-1]), None)


def ponds(study: Any) -> list[dict]:
    """Every pond of the site file, as the water meets them."""
    return [entry for entry in study.site["part"] if entry["kind"] == "pond"]


def place_of_pond(entries: list[dict]) -> int | None:
    """Where in the list of parts the last pond stands; None without one, so that all parts stand above it."""
    return max(
        (number for number, entry in enumerate(entries) if entry["kind"] == "pond"), default=None
    )


def drains(study: Any) -> Any:
    """The standpipe of the last pond, or None."""
    from ...works.spill import OverflowPipe

    entry = pond(study)
    if entry is None or "standpipe" not in entry:
        return None
    rim = entry["depth"] + entry.get("silt_depth", 0.0)
    return OverflowPipe(entry["standpipe"], rim, entry.get("standpipe_fall", rim))


# --- what is noteworthy ---------------------------------------------------------------------


def findings(study: Any) -> tuple[Finding, ...]:
    """Of channels at full flow, of gates fitted to gaugings, and of an intake's clogging that counts for nothing."""
    from .part_names import part_name

    found = [finding for meter in study.meters for finding in meter.findings]
    for entry in ponds(study)[:-1]:
        if {"standpipe", "spill_length", "bank"} & set(entry):
            found.append(
                Finding(
                    "note",
                    part_name(entry),
                    "what spills from it is not judged here, only from the last pond: see that it spills all that comes down",
                )
            )
    intake = study.site["intake"]
    if "clogged" in intake and not any(part.name == "intake" for part in study.supply):
        why = (
            "a screen is listed as a part: give it there"
            if "capacity" in intake
            else "its capacity is not given"
        )
        found.append(
            Finding("caution", "intake", f"clogged under [intake] changes nothing, for {why}")
        )
    if study.full_flow_m3s is not None:
        for reach in study.reaches:
            if reach.channel is not None:
                found += reach.channel.findings_si(carried(study, reach))
    return tuple(found)


def carried(study: Any, reach: Reach) -> float:
    """Flow in m³/s that enters a reach so that the jets are fed."""
    from ...plant.operation import Passage

    names = [part.name for part in study.supply]
    below = functools.reduce(Passage.through, study.supply[names.index(reach.name) :], Passage())
    return float(below.needs_si(study.full_flow_m3s))
