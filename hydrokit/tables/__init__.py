"""Small reference tables, each row with its source, read when first asked for."""

from __future__ import annotations

import csv
import functools
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Mapping

import numpy as np

from ..errors import HydrokitError, did_you_mean

if TYPE_CHECKING:
    from ..files import Entries

__all__ = ["load", "names", "row"]

_FOLDER = Path(__file__).parent


def names() -> tuple[str, ...]:
    """The tables there are."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.csv")))


@functools.cache
def load(name: str) -> Mapping[str, Any]:
    """A table as columns.

    Parameters
    ----------
    name : str
        File name without its ending, such as ``"fittings"``.

    Returns
    -------
    mapping of str to ndarray or tuple of str
        A column whose every filled cell is a number comes as a read-only array, NaN where empty;
        any other as a tuple of texts. Units stand at the end of a column's name.

    Raises
    ------
    HydrokitError
        No such table.

    Examples
    --------
    >>> sizes = load("pipe_sizes")
    >>> sizes["nominal"][0], float(sizes["outside_in"][0])
    ('1/2', 0.84)
    """
    path = _FOLDER / f"{name}.csv"
    if name not in names():
        raise HydrokitError(f"there is no table '{name}'{did_you_mean(name, names())}")
    with path.open(encoding="utf-8", newline="") as file:
        head, *lines = [line for line in csv.reader(file) if line and not line[0].startswith("#")]
    wrong = [line for line in lines if len(line) != len(head)]
    if wrong:
        raise HydrokitError(
            f"table '{name}': {wrong[0]} has {len(wrong[0])} cells, not {len(head)}"
        )
    return MappingProxyType(
        {title: _column(cells) for title, cells in zip(head, zip(*lines), strict=True)}
    )


def row(name: str, key: str, column: str = "name") -> Entries:
    """The one row of a table whose `column` reads `key`, upper and lower case alike.

    Raises
    ------
    HydrokitError
        No such row; the sentence offers the nearest.
    """
    table = load(name)
    wanted = " ".join(key.lower().split())
    for index, found in enumerate(table[column]):
        if found.lower() == wanted:
            return {title: cells[index] for title, cells in table.items()}
    raise HydrokitError(f"table '{name}' has no '{key}'{did_you_mean(wanted, table[column])}")


def _column(cells: tuple[str, ...]) -> Any:
    try:
        numbers = np.array([float(cell) if cell.strip() else np.nan for cell in cells])
    except ValueError:
        return tuple(cells)
    if np.isnan(numbers).all():
        return tuple(cells)
    numbers.flags.writeable = False
    return numbers
