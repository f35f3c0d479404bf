"""A result as a notebook shows it: each of its fields in the reader's units.

The fields of results carry their SI unit in their name; what is shown follows from that, so that no
result needs a form of its own.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.study.view import View
>>> print(table_of(FixedJets((0.012, 0.012), 0.95), View("us")))  # doctest: +ELLIPSIS
what | value
diameters | 0.472 in
coefficient | 0.95...
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ..result import Result
from ..sentences import Sentence, plain_number
from ..study.view import View
from .display import Table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["frame_of", "html_of", "is_result", "read_in", "reader", "table_of"]

# Last part of a field's name -> how it is shown.
_KIND_OF_UNIT = {
    "m3s": "flow",
    "m": "length",
    "m2": "area",
    "m3": "volume",
    "w": "power",
    "kwh": "kWh",
    "j": "energy",
    "pa": "pressure",
    "s": "time",
    "k": "temperature",
    "ms": "velocity",
    "v": "voltage",
    "a": "current",
    "share": "share",
    "kgm3": "density",
    "n": "force",
    "kg": "mass",
    "days": "days",
    "years": "years",
}
MOST_VALUES = 12  # one for each month; more are a figure's matter
_SHARES = ("uncertainty",)  # of the value beside it, one standard deviation
# Lengths that are said in millimetres or inches.
_SMALL = ("diameter", "diameters", "bore", "wall", "roughness", "outside_diameter")


_notebook: Mapping[str, object] = {}  # names of the notebook that shows results


def read_in(names: Mapping[str, object]) -> None:
    """Show results in the units of a notebook's ``view`` from now on."""
    global _notebook
    _notebook = names


def reader() -> View:
    """The units of the notebook's reader; metric outside of one."""
    found = _notebook.get("view")
    return found if isinstance(found, View) else View()


def is_result(thing: object) -> bool:
    """Whether it is a frozen result of one of hydrokit's rooms that does not show itself."""
    return isinstance(thing, Result) or (
        is_dataclass(thing)
        and not isinstance(thing, type)
        and type(thing).__module__.startswith("hydrokit.")
        and not any(hasattr(thing, f"_repr_{form}_") for form in ("html", "markdown", "mimebundle"))
    )


def html_of(result: Result) -> str:
    """A result as a table on a page."""
    return table_of(result, reader())._repr_html_()


def frame_of(result: Result) -> pd.DataFrame:
    """The same table in pandas, by name."""
    import pandas as pd

    shown = table_of(result, reader())
    return pd.DataFrame(shown.rows, columns=list(shown.columns)).set_index(shown.columns[0])


def table_of(result: object, view: View) -> Table:
    """Fields and plain properties of a result, one a row, in the reader's units."""
    rows = []
    for name in _names(result):
        value = getattr(result, name)
        shown = _shown(name, value, view)
        if shown:
            rows.append((_words(name), shown))
    return Table(("what", "value"), rows, _words(_spaced(type(result).__name__)))


def _names(result: object) -> Iterator[str]:
    assert is_dataclass(result)
    for each in fields(result):
        if not each.name.startswith("_"):
            yield each.name
    for name, each in vars(type(result)).items():
        if not name.startswith("_") and isinstance(each, (property, cached_property)):
            yield name


def _kind(name: str) -> str:
    stem, _, unit = name.rpartition("_")
    if name == "uncertainty":
        return "share"
    if stem.endswith("_per"):
        return ""
    if name in _SHARES:
        return "share"
    if unit == "m" and stem in _SMALL:
        return "diameter"
    return _KIND_OF_UNIT.get(unit, "") if stem else ""


def _words(name: str) -> str:
    """A field's name as a reader says it."""
    stem, _, unit = name.rpartition("_")
    return (stem if stem and unit in _KIND_OF_UNIT else name).replace("_", " ")


def _spaced(name: str) -> str:
    """``EnergyUncertainty`` as ``energy uncertainty``."""
    return "".join(f" {each.lower()}" if each.isupper() else each for each in name).strip()


def _shown(name: str, value: Any, view: View) -> str:
    if value is None or callable(value):
        return ""
    if isinstance(value, Sentence):
        return view.told(value)
    if isinstance(value, Enum):
        return value.name.lower().replace("_", " ")
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, (float, int, np.number)):
        return _one(name, float(value), view)
    if not isinstance(value, (tuple, list, np.ndarray)) or not _kind(name) or not len(value):
        return ""  # a table, or a part that is shown by itself
    numbers = np.asarray(value, dtype=float)
    if numbers.size > MOST_VALUES or not np.all(np.isfinite(numbers)):
        return ""
    return _range(name, float(numbers.min()), float(numbers.max()), view)


def _one(name: str, value: float, view: View) -> str:
    kind = _kind(name)
    if not np.isfinite(value):
        return "not known" if np.isnan(value) else "no limit"
    return view.amount(value, kind) if kind else plain_number(value, 4)


def _range(name: str, low: float, high: float, view: View) -> str:
    return view.amount((low, high), _kind(name))
