"""A small study, sound and quick to work out, for tests that break it."""

from __future__ import annotations

import copy
import importlib
import inspect
import json
import math
import re
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Callable, Iterator

import hydrokit.report.pages as pages
from hydrokit.report.display import Picture, Words

__all__ = [
    "FILES",
    "SITE",
    "changed",
    "NOT_A_NUMBER",
    "page_sections",
    "said",
    "toml",
    "told_by_sections",
    "write",
]
NOT_A_NUMBER = re.compile(r"\b(nan|inf)\b|\bNone\b(?! of)")

SITE: dict[str, Any] = {
    "site": {"name": "Small Creek", "place": "nowhere", "altitude": "300 m", "water_temperature": "8 degC", "winter": [12, 1, 2]},
    "stream": {
        "gaugings": "gaugings.csv", "record": "flow.csv", "record_uncertainty": "10 %", "temperature": "temperature.csv",
        "cease_to_flow": "0 m", "control": "riffle",
    },
    "rights": {"licence": "20 L/s", "residual": [{"rule": "fixed", "flow": "3 L/s"}]},
    "intake": {"capacity": "30 L/s"},
    "penstock": {"profile": "penstock.csv", "closing_time": "10 s", "pipe": [{"size": "PVC-U PN 10 140 mm"}]},
    "turbine": {"kind": "pelton", "jets": 2, "jet_kind": "conical nozzle", "jet_diameter": "20 mm", "efficiency": "75 % ± 3 %"},
    "generator": {"efficiency": "85 %"},
    "cable": {"length": "60 m", "size": "16 mm2", "voltage": "230 V"},
    "loads": {"demand": "600 kWh"},
    "costs": {"fixed": 5000, "per_power": "1000 per kW", "pipes": "prices.csv", "value": "0.2 per kWh", "discount_rate": "4 %"},
    "sizing": {"flows": ["8 L/s", "12 L/s"], "jets": [1, 2]},
    "uncertainty": {"draws": 100},
    "upgrade": [{"name": "a third jet", "cost": 200, "jets": 3}],
}  # fmt: skip
_DAYS = [date(2021, 10, 1) + timedelta(each) for each in range(731)]
_STAGES = (0.15, 0.2, 0.25, 0.3, 0.12, 0.1)
FILES = {
    "flow.csv": "date,flow [L/s]\n"
    + "".join(
        f"{day},{14 + 9 * math.cos(2 * math.pi * (number - 60) / 365):.2f}\n"
        for number, day in enumerate(_DAYS)
    ),
    "temperature.csv": "date,temperature [degC]\n"
    + "".join(
        f"{day},{8 - 9 * math.cos(2 * math.pi * (number - 100) / 365):.1f}\n"
        for number, day in enumerate(_DAYS)
    ),
    "gaugings.csv": "date,stage [m],flow [L/s],uncertainty [%],method\n"
    + "".join(
        f"2022-0{number}-11,{stage},{300 * stage**2:.2f},5,bucket\n"
        for number, stage in enumerate(_STAGES, 1)
    ),
    "penstock.csv": "chainage [m],elevation [m]\n0,300\n2,299.3\n60,285\n150,262\n",
    "prices.csv": "size,price [money/m]\nPVC-U PN 10 125 mm,8\nPVC-U PN 10 140 mm,10\n",
}


def write(folder: Path, site: dict | str = SITE, **files: str) -> Path:
    """Write the study into a folder; ``write(folder, flow="...")`` puts another text into flow.csv."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = (
        FILES
        | {f"{name}.csv": text for name, text in files.items()}
        | {"site.toml": site if isinstance(site, str) else toml(site)}
    )
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return folder


def toml(table: dict) -> str:
    """A TOML file that says what a dict says."""
    return "".join(f"{_written(str(key))} = {_written(value)}\n" for key, value in table.items())


def _written(value: Any) -> str:
    if isinstance(value, dict):
        return (
            "{"
            + ", ".join(f"{_written(str(key))} = {_written(each)}" for key, each in value.items())
            + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(map(_written, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value).lower() if isinstance(value, (bool, float)) else str(value)


def changed(folder: Path, files: Any = (), **changes: Any) -> Any:
    """The small study with some of its sections changed, opened; a section or a key of None is taken out."""
    from hydrokit.study.opening import open_study

    site = copy.deepcopy(SITE)
    for name, value in changes.items():
        if isinstance(value, dict) and isinstance(site.get(name), dict):
            value = {key: each for key, each in (site[name] | value).items() if each is not None}
        site[name] = value
    return open_study(
        write(
            folder,
            {name: value for name, value in site.items() if value is not None},
            **dict(files),
        )
    )


def page_sections() -> Iterator[tuple[str, str, Callable]]:
    """Every section of every page that shows something of one study: module, name, function."""
    for module in page_modules():
        for name in module.__all__:
            if "study" in inspect.signature(getattr(module, name)).parameters:
                short = module.__name__.removeprefix("hydrokit.report.pages.")
                yield short, name, getattr(module, name)


def told_by_sections(study: Any) -> Iterator[tuple[str, str]]:
    """The name of every such section and its text, a picture's by its description; nothing of it may be no number."""
    for module, name, function in page_sections():
        shown = function(study, study.view())
        text = (
            shown.text
            if isinstance(shown, Words)
            else shown.alt
            if isinstance(shown, Picture)
            else repr(shown)
        )
        found = NOT_A_NUMBER.search(text)
        assert not found, (
            f"{module}.{name}: {text[max(0, found.start() - 80) : found.end() + 40]!r}"
        )
        yield name, text


def page_modules(*numbers: str) -> list[Any]:
    """The modules of all pages of a study, or of those named: ``page_modules("p07")``."""
    folder = Path(pages.__file__).parent
    return [
        importlib.import_module(f"hydrokit.report.pages.{path.parent.name}.{path.stem}")
        for path in sorted(folder.glob("p*/*.py"))
        if path.stem != "__init__" and (not numbers or path.parent.name in numbers)
    ]


def said(page: Any, study: Any, system: str = "metric") -> str:
    """All that a page says of a study, the pictures by their descriptions; nothing of it may be no number."""
    view = study.view(system)
    modules = page if isinstance(page, (list, tuple)) else [page]
    shown = [getattr(each, name)(study, view) for each in modules for name in each.__all__]
    text = "\n".join(each.alt if isinstance(each, Picture) else str(each) for each in shown)
    assert not re.search(r"\b(nan|inf|None)\b", text), text
    return text
