"""Every file that a site file names, read once by a check, whether or not the study comes to use it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..columns import read_csv
from ..errors import HydrokitError, InputError, Mistake
from ..files import read_text, shown_path
from .keys import Key
from .schema import SECTIONS
from .schema_plant import Turbine

if TYPE_CHECKING:
    from .opened import Opened

__all__ = ["maker_efficiency", "named_files"]


def maker_efficiency(study: Opened, turbine: Turbine) -> Any:
    """The manufacturer's table of efficiencies as a curve, or None."""
    from ..plant.turbine import maker_table

    key = turbine.schema["efficiency_table"]
    if turbine.efficiency_table is None or key.columns is None:
        return None
    where = "[turbine] efficiency_table"
    table = read_csv(study.folder.file(turbine.efficiency_table, where), key.columns)
    return study.folder.sentence(
        where,
        lambda: maker_table.si(
            table["efficiency"].to_numpy(),
            table["flow"].to_numpy(),
            minimum_ratio=turbine.minimum_flow,
            kind=turbine.kind or "pelton",
        ),
    )


def _neighbour(study: Opened) -> None:
    from ..stream.record import read_record

    name = study.site.stream.neighbour_record
    if name is not None:
        read_record(study.folder.file(name, "[stream] neighbour_record"))


def named_files(study: Opened) -> None:
    """Read each of them.

    Raises
    ------
    InputError
        Every mistake of every file, all at once.
    """
    read = {path for path in study.folder.read if path.suffix != ".toml"}
    mistakes: list[Mistake] = []
    for section, keys in SECTIONS.items():
        for name, key in keys.items():
            file, where = study.site[section].get(name), f"[{section}] {name}"
            if key.kind != "file" or file is None:
                continue
            try:
                path = study.folder.file(file, where)
                if path not in read:
                    _read(path, key)
                # In these more must hold than that their columns can be read.
                if where == "[turbine] efficiency_table":
                    maker_efficiency(study, study.site.turbine)
                elif where == "[stream] neighbour_record":
                    _neighbour(study)
                elif where == "[survey] points":
                    _ = study.sketch
            except InputError as error:
                mistakes += error.mistakes
            except HydrokitError as error:
                mistakes.append(Mistake(shown_path(study.path / "site.toml"), where, str(error)))
    if mistakes:
        raise InputError(mistakes)


def _read(path: Path, key: Key) -> None:
    """The sheet by the columns of its key, or its text where the key names none."""
    if key.columns is None:
        read_text(path, [])  # in any encoding that a table may have
    else:
        read_csv(path, key.columns, key.optional)
