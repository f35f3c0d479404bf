"""Every file that a site file names, read once by a check, whether or not the study comes to use it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..columns import read_csv
from ..errors import HydrokitError, InputError, Mistake
from ..files import read_text, shown_path
from .schema import SECTIONS

__all__ = ["maker_efficiency", "named_files"]


def maker_efficiency(study: Any, turbine: dict) -> Any:
    """The maker's table of efficiencies as a curve."""
    from ..plant.turbine import maker_table

    where = "[turbine] efficiency_table"
    table = read_csv(
        study.folder.file(turbine["efficiency_table"], where),
        {"flow": "ratio", "efficiency": "ratio"},
    )
    return study.folder.sentence(
        where,
        lambda: maker_table.si(
            table["efficiency"].to_numpy(),
            table["flow"].to_numpy(),
            minimum_ratio=turbine.get("minimum_flow"),
            kind=turbine.get("kind", "pelton"),
        ),
    )


def _neighbour(study: Any, stream: dict) -> Any:
    from ..stream.record import read_record

    return read_record(study.folder.file(stream["neighbour_record"], "[stream] neighbour_record"))


def _columns(
    wanted: dict[str, str], optional: dict[str, str] | None = None
) -> Callable[[Any, str, str], Any]:
    return lambda study, name, where: read_csv(study.folder.file(name, where), wanted, optional)


# Sheets that are of use only beside another key; without it nothing else reads them.
_ALONE: dict[tuple[str, str], Callable[[Any, str, str], Any]] = {
    ("stream", "salt_calibration"): _columns(
        {"added": "m^3", "conductivity": "S/m"}, {"temperature": "K"}
    ),
    ("stream", "float_section"): _columns({"across": "m", "depth": "m"}, {"station": "m"}),
    ("costs", "cables"): _columns({"size": "text", "price": "money/m"}),
    ("costs", "pipes"): _columns({"size": "text", "price": "money/m"}),
}


def named_files(study: Any) -> None:
    """Read each of them.

    Raises
    ------
    InputError
        Every mistake of every file, all at once.
    """
    read = {path for path in study.folder.read if path.suffix != ".toml"}
    mistakes: list[Mistake] = []
    for section, keys in SECTIONS.items():
        body = study.site[section]
        for key in (key for key, about in keys.items() if about.kind == "file" and key in body):
            where = f"[{section}] {key}"
            try:
                path = study.folder.file(body[key], where)
                if (section, key) == ("turbine", "efficiency_table"):
                    maker_efficiency(study, body)
                elif (section, key) == ("stream", "neighbour_record"):
                    _neighbour(study, body)
                elif path not in read:
                    read_text(path)
                    if (section, key) in _ALONE:
                        _ALONE[section, key](study, body[key], where)
            except InputError as error:
                mistakes += error.mistakes
            except HydrokitError as error:
                mistakes.append(Mistake(shown_path(study.path / "site.toml"), where, str(error)))
    if mistakes:
        raise InputError(mistakes)
