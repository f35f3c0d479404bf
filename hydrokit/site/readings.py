"""What was read in the powerhouse: the sheet of readings, and those written in the site file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..columns import read_csv
from ..errors import InputError, Mistake
from ..files import shown_path
from .sheets import Folder

if TYPE_CHECKING:
    from .schema import Site

__all__ = ["ALSO_READ", "READ", "Readings", "readings"]


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of gauge and meters, one entry each.

    Parameters
    ----------
    jets : ndarray of int
        Jets open; 0 is shut-off.
    pressure_pa : ndarray
        Gauge pressure, the gauge's zero error taken off.
    power_w, volts, amps : ndarray
        NaN where not read.
    spilling : ndarray of object
        True, False or None.
    needle : tuple of str
        ``"steady"``, ``"fluctuates"`` (``"hunts"`` before 0.2) or ``""``.
    date : ndarray of datetime64
        NaT where not said.
    where : tuple of str
        File and line, or entry of the site file.
    commissioning : ndarray of bool
        Whether the owner marked it as one of a commissioning.
    """

    jets: np.ndarray
    pressure_pa: np.ndarray
    power_w: np.ndarray
    _: KW_ONLY
    volts: np.ndarray
    amps: np.ndarray
    spilling: np.ndarray
    needle: tuple[str, ...]
    date: np.ndarray
    where: tuple[str, ...]
    commissioning: np.ndarray

    def __len__(self) -> int:
        return len(self.jets)


READ = {"jets": "count", "pressure": "Pa"}
ALSO_READ = {
    "date": "date",
    "volts": "V",
    "amps": "A",
    "watts": "W",
    "spilling": "yes/no",
    "needle": "text",
    "commissioning": "yes/no",
}


def readings(folder: Folder, site: Site) -> Readings | None:
    """Readings from the sheet and from the site file's own entries, or None."""
    rows = [
        _row(entry, f"[[reading]] {number}", folder.path / "site.toml")
        for number, entry in enumerate(site.reading, 1)
    ]
    if site.readings.file is not None:
        path = folder.file(site.readings.file, "[readings] file")
        table = read_csv(path, READ, ALSO_READ, notes=folder.notes)
        rows += [
            _row(row, f"{path.name} line {row['line']}", path) for row in table.to_dict("records")
        ]
    if not rows:
        return None
    column = {
        name: np.array([row[name] for row in rows], dtype=float)
        for name in ("jets", "pressure", "volts", "amps", "watts")
    }
    mistakes = []
    most = site.turbine.jets
    for number, row in enumerate(rows):
        where, place = shown_path(row["file"]), row["where"].removeprefix(f"{row['file'].name} ")
        if not (column["jets"][number] >= 0 and column["jets"][number] % 1 == 0):
            mistakes.append(Mistake(where, place, "jets must be a whole number: 0, 1, 2 ..."))
        elif most is not None and column["jets"][number] > most:
            mistakes.append(
                Mistake(
                    where,
                    place,
                    f"{column['jets'][number]:g} jets are open, but [turbine] jets says {most:g}",
                )
            )
        if not column["pressure"][number] >= 0:
            told = "the pressure is missing or below zero; write 0 where the gauge showed nothing"
            mistakes.append(Mistake(where, place, told))
    if mistakes:
        raise InputError(mistakes)
    watts = np.where(
        np.isnan(column["watts"]),
        column["volts"] * column["amps"] * site.readings.power_factor,
        column["watts"],
    )
    return Readings(
        column["jets"].astype(int),
        column["pressure"] - site.penstock.gauge_zero,
        watts,
        volts=column["volts"],
        amps=column["amps"],
        spilling=np.array([row["spilling"] for row in rows], dtype=object),
        needle=tuple(row["needle"] for row in rows),
        date=np.array([_second(row["date"]) for row in rows]),
        where=tuple(row["where"] for row in rows),
        commissioning=np.array([row["commissioning"] for row in rows], dtype=bool),
    )


def _row(entry: Mapping[Any, Any], where: str, file: Path) -> dict[str, Any]:
    """One reading, of the site file or of a sheet."""
    read = _NOT_READ | dict(entry)
    spilling, commissioning = (_said(read[name]) for name in ("spilling", "commissioning"))
    return {
        **{name: read[name] for name in ("jets", "pressure", "volts", "amps", "watts", "date")},
        "spilling": spilling,
        "commissioning": bool(commissioning),
        "needle": read["needle"] or "",
        "where": where,
        "file": file,
    }


def _second(day: Any) -> np.datetime64:
    """A day or a moment; of an empty cell, which a table holds as a NaT of its own, none."""
    return np.datetime64("NaT" if day is None or day != day else day, "s")


def _said(value: Any) -> bool | None:
    """Yes or no; None of an empty cell."""
    return None if value is None or value != value else bool(value)


_NOT_READ = {
    **dict.fromkeys(("jets", "pressure", "volts", "amps", "watts"), np.nan),
    "spilling": None,
    "commissioning": None,
    "needle": "",
    "date": np.datetime64("NaT", "s"),
}
