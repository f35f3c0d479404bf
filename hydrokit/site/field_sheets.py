"""From the field sheets of a visit to gaugings: bucket, float, weir plate, meter, salt, flood marks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Callable

import numpy as np

from ..columns import read_csv
from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import shown_path
from ..sentences import Amount, Sentence
from .schema import Site
from .schema_creek import Reach
from .sheets import FieldGaugings, Folder, filled
from .sheets import gaugings as listed_gaugings

__all__ = ["field_sheets", "gaugings", "is_listed", "leaks", "meter_ways"]

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


def field_sheets(study: Any) -> dict[str, Any]:
    """Gaugings worked out from the field sheets that are there: name to Gauging."""
    folder, site, found = study.folder, study.site, {}
    for name, (key, make) in _SHEETS.items():
        if key in site.stream:
            found[name] = folder.sentence(f"[stream] {key}", lambda make=make: make(folder, site))
    return found


def _sheet(
    folder: Folder,
    site: Site,
    key: str,
    wanted: dict[str, str],
    optional: dict[str, str] | None = None,
) -> tuple[Any, Any]:
    path = folder.file(site.stream[key], f"[stream] {key}")
    table = read_csv(path, wanted, {**(optional or {}), "date": "date"}, notes=folder.notes)
    if "date" in table and table["date"].notna().any():
        folder.dates[key] = table["date"].dropna().iloc[0].to_datetime64()
    return path, table


def gaugings(study: Any) -> FieldGaugings | None:
    """The gaugings of the site's sheet, and those that field sheets with a date come to and no line of it says yet; or None."""
    listed = listed_gaugings(study.folder, study.site.stream)
    more = [
        (study.folder.dates[key], sheet, name)
        for name, sheet in study.field_sheets.items()
        if name != "flood marks"
        and (key := _SHEETS[name][0]) in study.folder.dates
        and not is_listed(listed, sheet)
    ]
    if not more:
        return listed
    count = len(more)
    added = FieldGaugings(
        np.array([date for date, _, _ in more], dtype="datetime64[ns]"),
        np.full(count, np.nan),
        np.array([sheet.flow_m3s for _, sheet, _ in more]),
        np.array([sheet.uncertainty for _, sheet, _ in more]),
        tuple(name for _, _, name in more),
        np.zeros(count, dtype=bool),
        tuple(
            Finding(
                "note",
                "gaugings",
                f"the {name} sheet's gauging counts, with the day it is dated; write it into the list with its stage, and it serves the rating too",
            )
            for _, _, name in more
        ),
    )
    return (
        added
        if listed is None
        else FieldGaugings(
            date=np.concatenate([listed.date, added.date]),
            stage_m=np.concatenate([listed.stage_m, added.stage_m]),
            flow_m3s=np.concatenate([listed.flow_m3s, added.flow_m3s]),
            uncertainty=np.concatenate([listed.uncertainty, added.uncertainty]),
            method=listed.method + added.method,
            ice=np.concatenate([listed.ice, added.ice]),
            findings=listed.findings + added.findings,
        )
    )


_SAME = 0.02  # a sheet's flow as it was rounded into the list of gaugings


def is_listed(listed: FieldGaugings | None, sheet: Any) -> bool:
    """Whether a sheet's flow stands in a line of the gaugings."""
    return listed is not None and bool(np.any(np.abs(listed.flow_m3s / sheet.flow_m3s - 1) < _SAME))


def _told(value: Any, method: str) -> Any:
    """A flow of the site file as a gauging."""
    from ..stream.gauging import Gauging

    return Gauging.from_parts(
        value.value,
        {"gauging": _USUAL_UNCERTAINTY if value.relative is None else value.relative},
        method,
    )


def _bucket(folder: Folder, site: Site) -> Any:
    from ..stream.bucket import bucket
    from ..stream.gauging import total

    path, table = _sheet(folder, site, "bucket", {"volume": "m^3", "time": "s"})
    filled(path, table, "volume", "time", above_zero=("volume", "time"))
    caught = bucket.si(table["volume"].to_numpy(), table["time"].to_numpy())
    beside = site.stream.bucket_beside
    return (
        caught
        if beside is None or beside.value == 0
        else total(caught, _told(beside, "beside the bucket"))
    )


def _float(folder: Folder, site: Site) -> Any:
    from ..stream.floats import float_coefficient, float_gauging

    stream = site.stream
    path, table = _sheet(folder, site, "float", {"length": "m", "time": "s"})
    filled(path, table, "length", "time", above_zero=("length", "time"))
    if not stream.given("float_section"):
        raise HydrokitError(
            'needs the section the floats cross: float_section = "sheet_section.csv" with the columns across [m], depth [m]'
        )
    sections = _sections(folder, site, "float_section")
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


def _slope_area(folder: Folder, site: Site) -> Any:
    from ..stream.slope_area import slope_area

    manning = site.stream.slope_area_manning
    if manning is None:
        raise HydrokitError(
            'needs the roughness of the reach, judged by eye: slope_area_manning = "0.05 ± 0.01"'
        )
    sections = _sections(folder, site, "slope_area", level=True)
    if len(sections) < 2:
        raise HydrokitError(
            f"needs the marks at two sections at least, each with its own station; got {len(sections)}"
        )
    station, level, area, perimeter, _ = (np.array(each) for each in zip(*sections))
    uncertainty = {} if manning.relative is None else {"manning_uncertainty": manning.relative}
    return slope_area.si(area, perimeter, level, station, manning.value, **uncertainty)


def _sections(
    folder: Folder, site: Site, key: str, level: bool = False
) -> list[tuple[float, float, float, float, float]]:
    """(station, level, area, wetted perimeter, width) of every section of a sheet, from upstream to downstream."""
    from ..stream.cross_section import cross_section

    wanted = {"across": "m", "depth": "m"} | ({"station": "m", "level": "m"} if level else {})
    path, table = _sheet(folder, site, key, wanted, {} if level else {"station": "m"})
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


def _weir(folder: Folder, site: Site) -> Any:
    from ..stream.weir_board import BOARD_NEEDS, weir_gauging

    path, table = _sheet(folder, site, "weir", {"head": "m"})
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
    lacking = [name for name in BOARD_NEEDS[plate.kind] if not plate.given(name)]
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


def _verticals(folder: Folder, site: Site) -> tuple[Any, ...]:
    """(distance, depth, mean velocity, fewest points in a vertical) of the current-meter sheet."""
    from ..stream.verticals import vertical_velocity

    optional = {name: "m/s" for names in _AT.values() for name in names}
    path, table = _sheet(folder, site, "current_meter", {"distance": "m", "depth": "m"}, optional)
    filled(path, table, "distance", "depth", none_below_zero=("depth",))
    distance, depth = table["distance"].to_numpy(), table["depth"].to_numpy()
    if (
        "velocity" not in table and "velocity at 0.6" in table
    ):  # one point stands at 0.6 of the depth
        table["velocity"] = table["velocity at 0.6"]
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


def _current_meter(folder: Folder, site: Site) -> Any:
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = _verticals(folder, site)
    return velocity_area.si(distance, depth, velocity, points=points)


def meter_ways(study: Any) -> tuple[tuple[str, str, Any], ...] | None:
    """The current-meter sheet in every way of sum and uncertainty: (panels, way, Gauging); None without one."""
    if not study.site.stream.given("current_meter"):
        return None
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = _verticals(study.folder, study.site)
    ways = [("mid-section", "ISO 748"), ("mean-section", "ISO 748")] + (
        [("mid-section", "interpolated variance")] if len(distance) >= 8 else []
    )
    return tuple(
        (panels, way, velocity_area.si(distance, depth, velocity, panels, points, way))
        for panels, way in ways
    )


def _salt(folder: Folder, site: Site) -> Any:
    from ..stream.conductivity import conductivity_at_25
    from ..stream.salt import mixing_check, salt_slug

    stream = site.stream
    if stream.salt_mass is None or stream.salt_background is None:
        raise HydrokitError(
            'needs salt_mass = "0.15 kg" and salt_background = "84 uS/cm" beside it'
        )
    path, table = _sheet(
        folder,
        site,
        "salt",
        {"time": "s", "conductivity": "S/m"},
        {"second probe": "S/m", "temperature": "K"},
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


# What it is called -> its key under [stream], and what works it out. A new kind of sheet is one row here and in the schema.
_SHEETS: dict[str, tuple[str, Callable]] = {
    "bucket": ("bucket", _bucket),
    "float": ("float", _float),
    "weir": ("weir", _weir),
    "current meter": ("current_meter", _current_meter),
    "salt": ("salt", _salt),
    "flood marks": ("slope_area", _slope_area),
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
