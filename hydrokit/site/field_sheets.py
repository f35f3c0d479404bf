"""From the field sheets of a visit to gaugings: bucket, float, weir plate, meter, salt, flood marks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..columns import read_csv
from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import shown_path
from ..sentences import Amount, Sentence
from .schema import Site
from .schema_creek import Reach
from .sheets import Folder, filled

__all__ = ["KINDS", "SheetKind", "leaks", "meter_ways", "read_sheet"]

# Columns of a current-meter sheet, by the points they make in a vertical; the most points that are there count.
_AT = {
    5: (
        "velocity at surface",
        "velocity at 0.2",
        "velocity at 0.6",
        "velocity at 0.8",
        "velocity at bed",
    ),
    3: ("velocity at 0.2", "velocity at 0.6", "velocity at 0.8"),
    2: ("velocity at 0.2", "velocity at 0.8"),
    1: ("velocity",),
}
_USUAL_UNCERTAINTY = 0.08  # of a flow given without its uncertainty, common practice


# What any sheet may say of its visit beside its readings.
_OF_THE_VISIT = {"date": "date", "stage": "m", "ice": "yes/no"}


@dataclass(frozen=True)
class SheetKind:
    """A kind of field sheet.

    Parameters
    ----------
    key : str
        Its key under [stream].
    make : callable
        Works a gauging out of the rows of one visit: (folder, site, path, table).
    wanted, optional : dict
        Its columns.
    a_gauging : bool
        Whether it tells the flow of a visit; flood marks tell of a day that nobody gauged.
    one_visit : bool
        Whether other keys say something of the visit, so that one sheet cannot hold two.
    """

    key: str
    make: Callable[[Folder, Site, Path, Any], Any]
    wanted: Mapping[str, str]
    optional: Mapping[str, str] = field(default_factory=dict)
    a_gauging: bool = True
    one_visit: bool = False


def read_sheet(folder: Folder, site: Site, kind: SheetKind) -> tuple[Path, Any]:
    """The file of a sheet, and its table."""
    return _sheet(folder, site, kind.key, kind.wanted, {**_OF_THE_VISIT, **kind.optional})


def _sheet(
    folder: Folder,
    site: Site,
    key: str,
    wanted: Mapping[str, str],
    optional: Mapping[str, str] | None = None,
) -> tuple[Path, Any]:
    path = folder.file(site.stream[key], f"[stream] {key}")
    return path, read_csv(
        path, dict(wanted), {"date": "date", **(optional or {})}, notes=folder.notes
    )


def _told(value: Any, method: str) -> Any:
    """A flow of the site file as a gauging."""
    from ..stream.gauging import Gauging

    return Gauging.from_parts(
        value.value,
        {"gauging": _USUAL_UNCERTAINTY if value.relative is None else value.relative},
        method,
    )


def _bucket(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.bucket import bucket
    from ..stream.gauging import total

    filled(path, table, "volume", "time", above_zero=("volume", "time"))
    caught = bucket.si(table["volume"].to_numpy(), table["time"].to_numpy())
    beside = site.stream.bucket_beside
    return (
        caught
        if beside is None or beside.value == 0
        else total(caught, _told(beside, "beside the bucket"))
    )


def _float(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.floats import float_coefficient, float_gauging

    stream = site.stream
    filled(path, table, "length", "time", above_zero=("length", "time"))
    if not stream.given("float_section"):
        raise HydrokitError(
            'needs the section the floats cross: float_section = "sheet_section.csv" with the columns across [m], depth [m]'
        )
    sections = _sections(
        *_sheet(folder, site, "float_section", {"across": "m", "depth": "m"}, {"station": "m"})
    )
    given, bed = stream.float_coefficient, stream.float_bed
    depth = np.mean([area / width for _, _, area, _, width in sections])
    coefficient = float(float_coefficient.si(depth, bed)) if given is None else given.value
    strange = (
        [
            Finding("caution", "float", each.sentence)
            for each in float_coefficient.check_si((depth, bed))
        ]
        if given is None
        else []
    )
    uncertainty = (
        {}
        if given is None or given.relative is None
        else {"coefficient_uncertainty": given.relative}
    )
    areas = np.array([area for _, _, area, _, _ in sections])
    gauging = float_gauging.si(
        table["length"].to_numpy() / table["time"].to_numpy(), areas, coefficient, **uncertainty
    )
    return replace(gauging, findings=(*gauging.findings, *strange))


def _slope_area(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.slope_area import slope_area

    manning = site.stream.slope_area_manning
    if manning is None:
        raise HydrokitError(
            'needs the roughness of the reach, judged by eye: slope_area_manning = "0.05 ± 0.01"'
        )
    sections = _sections(path, table)
    if len(sections) < 2:
        raise HydrokitError(
            f"needs the marks at two sections at least, each with its own station; got {len(sections)}"
        )
    station, level, area, perimeter, _ = (np.array(each) for each in zip(*sections))
    uncertainty = {} if manning.relative is None else {"manning_uncertainty": manning.relative}
    return slope_area.si(area, perimeter, level, station, manning.value, **uncertainty)


def _sections(path: Path, table: Any) -> list[tuple[float, float, float, float, float]]:
    """(station, level, area, wetted perimeter, width) of every section of a sheet, from upstream to downstream."""
    from ..stream.cross_section import cross_section

    level = "level" in table
    stations = table["station"].ffill() if "station" in table else table["across"] * 0.0
    filled(
        path,
        table.assign(station=stations),
        "across",
        "depth",
        "station",
        none_below_zero=("depth",),
    )
    sections = []
    for station, rows in table.groupby(stations.to_numpy(), sort=True):
        levels = rows["level"].dropna().unique() if level else [0.0]
        where = f"line {rows['line'].iloc[0]}"
        if len(levels) != 1:
            raise InputError(
                Mistake(
                    shown_path(path),
                    where,
                    Sentence(
                        "the section at {place} needs one level of the mark, got {levels}",
                        place=Amount(station, "length", 4),
                        levels=len(levels),
                    ),
                )
            )
        try:
            area, perimeter = cross_section.si(rows["across"].to_numpy(), rows["depth"].to_numpy())
        except HydrokitError as error:
            raise InputError(
                Mistake(shown_path(path), where, str(error).partition(": ")[2])
            ) from error
        sections.append(
            (
                float(station),
                float(levels[0]),
                float(area),
                float(perimeter),
                float(np.ptp(rows["across"])),
            )
        )
    return sections


def _weir(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.weir_plate import PLATE_NEEDS, weir_gauging

    filled(path, table, "head", above_zero=("head",))
    plate = site.weir
    if plate.kind is None:
        raise HydrokitError(
            'needs the weir plate: [weir] kind = "v-notch" and angle = "90 deg", or width and the others of its kind'
        )
    shape = {
        name: getattr(plate, name)
        for name in ("kind", "angle", "width", "channel_width", "crest_height", "notch_depth")
    }
    lacking = [name for name in PLATE_NEEDS[plate.kind] if not plate.given(name)]
    if lacking:
        raise HydrokitError(f"the {plate.kind} plate needs {' and '.join(lacking)} under [weir]")
    gauging = weir_gauging.si(
        table["head"].to_numpy(), head_uncertainty=plate.head_uncertainty, **shape
    )
    return (
        gauging
        if shape["kind"] != "rectangular"
        else replace(
            gauging,
            details={**gauging.details, "francis_m3s": _francis(gauging.details["head_m"], shape)},
        )
    )


def _francis(head_m: float, shape: dict) -> float:
    """The flow by Francis's formula, to stand beside the other."""
    from ..stream.weirs import francis_weir

    return float(
        francis_weir.si(head_m, shape["width"], 2 if shape["width"] < shape["channel_width"] else 0)
    )


def _verticals(path: Path, table: Any) -> tuple[Any, ...]:
    """(distance, depth, mean velocity, fewest points in a vertical) of the current-meter sheet."""
    from ..stream.verticals import vertical_velocity

    filled(path, table, "distance", "depth", none_below_zero=("depth",))
    distance, depth = table["distance"].to_numpy(), table["depth"].to_numpy()
    if (
        "velocity" not in table and "velocity at 0.6" in table
    ):  # one point stands at 0.6 of the depth
        table = table.assign(velocity=table["velocity at 0.6"])
    mean, points = np.full(len(table), np.nan), np.zeros(len(table), dtype=int)
    for count, names in _AT.items():
        if all(name in table for name in names):
            values = table[list(names)].to_numpy()
            there = (points == 0) & ~np.isnan(values).any(axis=1)
            mean[there], points[there] = (
                vertical_velocity.si(values[there], count).reshape(-1),
                count,
            )
    if not points.any():
        raise InputError(
            Mistake(
                shown_path(path),
                "",
                "there is no velocity; write the column velocity [m/s] (at 0.6 of the depth), or velocity at 0.2 [m/s] and velocity at 0.8 [m/s]",
            )
        )
    read = points[(depth > 0) & (points > 0)]
    return distance, depth, mean, int(read.min()) if len(read) else 1


def _current_meter(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = _verticals(path, table)
    return velocity_area.si(distance, depth, velocity, points=points)


def meter_ways(study: Any) -> tuple[tuple[str, str, Any], ...] | None:
    """The last visit with a current meter in every way of sum and uncertainty: (panels, way, Gauging); None without one."""
    visit = next(
        (each for each in reversed(study.visits_gauged) if each.kind == "current meter"), None
    )
    if visit is None:
        return None
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = _verticals(visit.path, visit.rows)
    ways = [("mid-section", "ISO 748"), ("mean-section", "ISO 748")] + (
        [("mid-section", "interpolated variance")] if len(distance) >= 8 else []
    )
    return tuple(
        (panels, way, velocity_area.si(distance, depth, velocity, panels, points, way))
        for panels, way in ways
    )


def _salt(folder: Folder, site: Site, path: Path, table: Any) -> Any:
    from ..stream.conductivity import conductivity_at_25
    from ..stream.salt import mixing_check, salt_slug

    stream = site.stream
    if stream.salt_mass is None or stream.salt_background is None:
        raise HydrokitError(
            'needs salt_mass = "0.15 kg" and salt_background = "84 uS/cm" beside it'
        )
    filled(
        path, table, "time", "conductivity", *(["temperature"] if "temperature" in table else [])
    )
    at_25 = (
        (lambda read: conductivity_at_25.si(read, table["temperature"].to_numpy()))
        if "temperature" in table
        else (lambda read: read)
    )
    before, after = stream.salt_background, stream.salt_background_after
    background = np.array([before, before if after is None else after])
    if "temperature" in table:
        background = conductivity_at_25.si(
            background, table["temperature"].iloc[[0, -1]].to_numpy()
        )
    factor = _calibration(folder, site, "temperature" in table)
    own = (
        {}
        if factor is None
        else {
            "calibration": factor.factor_si,
            "calibration_uncertainty": max(factor.uncertainty, 0.01),
        }
    )
    time, tail = table["time"].to_numpy(), stream.salt_tail
    first = at_25(table["conductivity"].to_numpy())
    slug = salt_slug.si(time, first, stream.salt_mass, background, tail=tail, **own)
    if "second probe" not in table:
        return slug
    second = at_25(table["second probe"].to_numpy())
    if np.sum(~np.isnan(second)) < _BEFORE:
        raise HydrokitError(
            f"the second probe has fewer than {_BEFORE} readings; give more, or leave its column out"
        )
    # No two probes read alike: before the salt the second stands off the first by so much.
    apart = np.mean(second[~np.isnan(second)][:_BEFORE]) - np.mean(first[:_BEFORE])
    return mixing_check(
        slug, salt_slug.si(time, second, stream.salt_mass, background + apart, tail=tail, **own)
    )


_BEFORE = 5  # readings of a probe before the salt arrives


def _calibration(folder: Folder, site: Site, at_25: bool) -> Any:
    """The factor from the creek's own water, or None; at 25 °C where the readings of the slug are brought there."""
    stream = site.stream
    if stream.salt_calibration is None:
        return None
    from ..stream.conductivity import conductivity_at_25, salt_calibration

    if stream.salt_solution is None or stream.salt_sample is None:
        raise HydrokitError(
            'a calibration needs salt_solution = "2 g/L" and salt_sample = "0.5 L" beside it'
        )
    path, table = _sheet(
        folder,
        site,
        "salt_calibration",
        {"added": "m^3", "conductivity": "S/m"},
        {"temperature": "K"},
    )
    if ("temperature" in table) != at_25:
        has, lacks = (
            ("the calibration", "the salt sheet")
            if "temperature" in table
            else ("the salt sheet", "the calibration")
        )
        raise HydrokitError(
            Sentence(
                "{has} has a column temperature, so its conductivity is brought to {reference}, and {lacks} has none: give both that "
                "column, or neither where the probe does it by itself",
                has=has,
                lacks=lacks,
                reference=Amount(298.15, "temperature"),
            )
        )
    filled(path, table, "added", "conductivity", *(["temperature"] if at_25 else []))
    read = table["conductivity"].to_numpy()
    return salt_calibration.si(
        table["added"].to_numpy(),
        conductivity_at_25.si(read, table["temperature"].to_numpy()) if at_25 else read,
        stream.salt_solution,
        stream.salt_sample,
    )


# What it is called -> its kind. A new kind of sheet is one entry here and a key in the schema.
KINDS: dict[str, SheetKind] = {
    "bucket": SheetKind("bucket", _bucket, {"volume": "m^3", "time": "s"}),
    "float": SheetKind("float", _float, {"length": "m", "time": "s"}),
    "weir": SheetKind("weir", _weir, {"head": "m"}),
    "current meter": SheetKind(
        "current_meter",
        _current_meter,
        {"distance": "m", "depth": "m"},
        {name: "m/s" for names in _AT.values() for name in names},
    ),
    "salt": SheetKind(
        "salt",
        _salt,
        {"time": "s", "conductivity": "S/m"},
        {"second probe": "S/m", "temperature": "K"},
        one_visit=True,
    ),
    "flood marks": SheetKind(
        "slope_area",
        _slope_area,
        {"across": "m", "depth": "m", "station": "m", "level": "m"},
        a_gauging=False,
    ),
}


def leaks(study: Any) -> tuple[tuple[str, Any, Any], ...]:
    """What each ditch or reach gains or loses between its two gaugings: (name, flow above in m³/s, GainOrLoss)."""
    entries = enumerate(study.site.stream.reach, 1)
    return tuple(
        (
            entry.name,
            entry.above.value,
            study.folder.sentence(f"[[stream.reach]] {number}", lambda entry=entry: _change(entry)),
        )
        for number, entry in entries
    )


def _change(entry: Reach) -> Any:
    from ..stream.gauging import Gauging, gain_or_loss

    ends = []
    for value in (entry.above, entry.below):
        whole, shared = _told(value, "told").uncertainty, entry.shared
        if value.value == 0:
            whole = shared = 0.0  # no water is seen to be none
        if shared > whole:
            raise HydrokitError(
                f"shared is {100 * shared:.1f} %, more than the whole uncertainty of {100 * whole:.1f} % it is a part of"
            )
        ends.append(
            Gauging.from_parts(
                value.value, {"own": np.sqrt(whole**2 - shared**2), "shared": shared}, "told"
            )
        )
    return gain_or_loss(ends[0], ends[1], shared=("shared",))
