"""Field sheets of a visit: their keys under [stream], and how a gauging is made of each."""

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ..columns import read_csv
from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import shown_path
from ..sentences import Amount, Sentence
from . import keys as key
from .meter_sheet import VELOCITIES, verticals
from .reaches import told_gauging
from .section import Section
from .sheets import Folder, filled
from .values import Measured

if TYPE_CHECKING:
    import pandas as pd

    from ..stream.gauging import Gauging
    from .schema import Site
    from .schema_creek import Stream

__all__ = ["KINDS", "FieldSheets", "SheetKind", "read_sheet"]

# What any sheet may say of its visit beside its readings.
_OF_A_VISIT = {"date": "date", "stage": "m", "ice": "yes/no"}


class FieldSheets(Section):
    """The keys of [stream] that name a gauging's sheet, what must and may stand in it, and what is
    told beside it."""

    gaugings: str | None = key.file(
        "CSV: date, stage [m] (may be empty), flow [L/s], uncertainty [%], method, ice",
        '"gaugings.csv"',
    )
    current_meter: str | None = key.file(
        "CSV field sheet: distance [m], depth [m], velocity [m/s]; or velocity at 0.2, at "
        "0.6, at 0.8, at surface, at bed",
        '"sheet_current_meter.csv"',
        columns={"distance": "m", "depth": "m"},
        optional=_OF_A_VISIT | {name: "m/s" for names in VELOCITIES.values() for name in names},
    )
    salt: str | None = key.file(
        "CSV field sheet: time [s], conductivity [uS/cm]; second probe [uS/cm], temperature "
        "[degC] where read",
        '"sheet_salt.csv"',
        columns={"time": "s", "conductivity": "S/m"},
        optional=_OF_A_VISIT | {"second probe": "S/m", "temperature": "K"},
    )
    salt_mass: float | None = key.number(
        "kg",
        "mass of salt that was added",
        '"0.5 kg"',
        within="1 g to 1000 kg",
        usual=("1 g to 100 kg", "a kilogram does for some hundred L/s"),
    )
    salt_background: float | None = key.number(
        "S/m",
        "conductivity before the salt arrives",
        '"84 uS/cm"',
        usual=("1 uS/cm to 3000 uS/cm", "creeks have some ten to some hundred uS/cm"),
    )
    salt_background_after: float | None = key.number(
        "S/m",
        "conductivity after it has passed, where it drifts",
        '"85 uS/cm"',
        usual=("1 uS/cm to 3000 uS/cm", "creeks have some ten to some hundred uS/cm"),
    )
    salt_tail: Literal["measured", "exponential"] = key.choice(
        "whether the sum ends with the last reading, or adds an exponential tail fitted to "
        "the falling readings",
        '"exponential"',
        default='"measured"',
    )
    salt_calibration: str | None = key.file(
        "CSV field sheet: added [mL] so far from 0 up, conductivity [uS/cm]; temperature "
        "[degC] where the salt sheet has it",
        '"sheet_calibration.csv"',
        columns={"added": "m^3", "conductivity": "S/m"},
        optional={"temperature": "K"},
    )
    salt_solution: float | None = key.number(
        "kg/m^3",
        "salt in the solution that was added",
        '"2 g/L"',
        usual=("0.05 kg/m^3 to 360 kg/m^3", "no more salt dissolves in cold water"),
    )
    salt_sample: float | None = key.number(
        "m^3",
        "volume of creek water it was added to",
        '"0.5 L"',
        usual=("0.02 L to 50 L", "a jar or a bucket is taken"),
    )
    bucket: str | None = key.file(
        "CSV field sheet: volume [L], time [s], one row a fill",
        '"bucket.csv"',
        columns={"volume": "m^3", "time": "s"},
        optional=_OF_A_VISIT,
    )
    bucket_beside: Measured | None = key.measured(
        "m^3/s",
        "flow that went past the bucket meanwhile, such as what the intake took",
        '"5 L/s ± 0.3 L/s"',
        within="0 L/s to 10000 m^3/s",
        usual=(
            "0 L/s to 20 m^3/s",
            "a creek of a small plant has from a cupful to some tens of m³/s",
        ),
    )
    float_: str | None = key.file(
        "CSV field sheet: length [m], time [s], one row a run",
        '"sheet_float.csv"',
        columns={"length": "m", "time": "s"},
        optional=_OF_A_VISIT,
    )
    float_section: str | None = key.file(
        "CSV field sheet of the reach the floats cross: station [m], across [m], depth [m]",
        '"sheet_section.csv"',
        columns={"across": "m", "depth": "m"},
        optional={"station": "m"},
    )
    float_bed: Literal["planks or concrete", "fine gravel", "gravel", "cobbles", "boulders"] = (
        key.choice("bed of that reach, for the floats' coefficient", '"gravel"', default='"gravel"')
    )
    float_coefficient: Measured | None = key.measured(
        "ratio",
        "mean velocity over surface velocity, where it is known",
        '"0.8 ± 0.08"',
        within="10 % to 100 %",
        usual=("50 % to 98 %", "creeks have 65 to 90 %, smooth channels up to 95 %"),
    )
    weir: str | None = key.file(
        "CSV field sheet: head [mm], one row a reading at the weir plate described under [weir]",
        '"sheet_weir.csv"',
        columns={"head": "m"},
        optional=_OF_A_VISIT,
    )
    slope_area: str | None = key.file(
        "CSV field sheet of flood marks: station [m], level [m], across [m], depth [m]",
        '"sheet_flood.csv"',
        columns={"across": "m", "depth": "m", "station": "m", "level": "m"},
        optional=_OF_A_VISIT,
    )
    slope_area_manning: Measured | None = key.measured(
        "count",
        "Manning's n of that reach, judged by eye",
        '"0.05 ± 0.01"',
        within="0.008 to 0.3",
        usual=("0.015 to 0.2", "creeks have 0.03 to 0.08, with boulders up to 0.15"),
    )


@dataclass(frozen=True)
class SheetKind:
    """A kind of field sheet.

    Parameters
    ----------
    key : str
        Its key under [stream].
    make : callable
        Works a gauging out of the rows of one visit: (folder, site, path, table).
    rows : str
        What its rows are.
    a_gauging : bool
        Whether it tells the flow of a visit; flood marks tell of a day that nobody gauged.
    one_visit : bool
        Whether other keys say something of the visit, so that one sheet cannot hold two.
    """

    key: str
    make: Callable[[Folder, "Site", Path, "pd.DataFrame"], "Gauging"]
    _: KW_ONLY
    rows: str
    a_gauging: bool = True
    one_visit: bool = False


def read_sheet(folder: Folder, stream: "Stream", key: str) -> "tuple[Path, pd.DataFrame]":
    """The file that a key of [stream] names, and its table."""
    path, known = folder.file(stream[key], f"[stream] {key}"), FieldSheets.schema[key]
    return path, read_csv(
        path,
        dict(known.columns or {}),
        {"date": "date", **(known.optional or {})},
        notes=folder.notes,
    )


def _bucket(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
    from ..stream.bucket import bucket
    from ..stream.gauging import total

    filled(path, table, "volume", "time", above_zero=("volume", "time"))
    caught = bucket.si(table["volume"].to_numpy(), table["time"].to_numpy())
    beside = site.stream.bucket_beside
    return (
        caught
        if beside is None or beside.value == 0
        else total(caught, told_gauging(beside, "beside the bucket"))
    )


def _float(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
    from ..stream.floats import float_coefficient, float_gauging

    stream = site.stream
    filled(path, table, "length", "time", above_zero=("length", "time"))
    if not stream.given("float_section"):
        raise HydrokitError(
            'needs the section the floats cross: float_section = "sheet_section.csv" with the '
            "columns across [m], depth [m]"
        )
    sections = _sections(*read_sheet(folder, stream, "float_section"))
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


def _slope_area(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
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
    """(station, level, area, wetted perimeter, width) of every section of a sheet, from upstream to
    downstream."""
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


def _weir(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
    from ..stream.weir_plate import PLATE_NEEDS, weir_gauging

    filled(path, table, "head", above_zero=("head",))
    plate = site.weir
    if plate.kind is None:
        raise HydrokitError(
            'needs the weir plate: [weir] kind = "v-notch" and angle = "90 deg", or width and '
            "the others of its kind"
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


def _current_meter(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
    from ..stream.verticals import velocity_area

    distance, depth, velocity, points = verticals(path, table)
    return velocity_area.si(distance, depth, velocity, points=points)


def _salt(folder: Folder, site: "Site", path: Path, table: Any) -> Any:
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


def _calibration(folder: Folder, site: "Site", at_25: bool) -> Any:
    """The factor from the creek's own water, or None; at 25 °C where the readings of the slug are
    brought there."""
    stream = site.stream
    if stream.salt_calibration is None:
        return None
    from ..stream.conductivity import conductivity_at_25, salt_calibration

    if stream.salt_solution is None or stream.salt_sample is None:
        raise HydrokitError(
            'a calibration needs salt_solution = "2 g/L" and salt_sample = "0.5 L" beside it'
        )
    path, table = read_sheet(folder, stream, "salt_calibration")
    if ("temperature" in table) != at_25:
        has, lacks = (
            ("the calibration", "the salt sheet")
            if "temperature" in table
            else ("the salt sheet", "the calibration")
        )
        raise HydrokitError(
            Sentence(
                "{has} has a column temperature, so its conductivity is brought to {reference}, "
                "and {lacks} has none: give both that column, or neither where the probe does it "
                "by itself",
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


# What it is called -> its kind. A new way to gauge is its sheet's key above, what makes a gauging
# of it, and a row here.
KINDS: dict[str, SheetKind] = {
    "bucket": SheetKind("bucket", _bucket, rows="fills of a bucket"),
    "float": SheetKind("float", _float, rows="runs of floats"),
    "weir": SheetKind("weir", _weir, rows="heads over a weir"),
    "current meter": SheetKind(
        "current_meter", _current_meter, rows="verticals of a current meter"
    ),
    "salt": SheetKind("salt", _salt, rows="a salt wave", one_visit=True),
    "flood marks": SheetKind(
        "slope_area", _slope_area, rows="sections of flood marks", a_gauging=False
    ),
}
