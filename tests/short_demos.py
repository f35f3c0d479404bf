"""The demo studies with two years of record, and with something left out: quick enough to be worked out by the dozen."""

import copy
import re
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import small_study

__all__ = ["NAMES", "parts_of", "without"]

ROOT = Path(__file__).resolve().parents[1]
NAMES = sorted(each.parent.name for each in ROOT.glob("studies/*/site.toml"))
FROM, SHARED_FROM = "2023-10-01", "2021-10-01"
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def parts_of(name: str) -> Iterator[tuple[str, ...]]:
    """Every section of a demo's site file, and every list within one."""
    for section, body in _site(name).items():
        yield (section,)
        if isinstance(body, dict):
            yield from (
                (section, key)
                for key, value in body.items()
                if isinstance(value, list) and isinstance(value[0], dict)
            )


def without(base: Path, name: str, *parts: tuple[str, ...]) -> Path:
    """A short demo without some sections, lists or keys of its site file; its folder."""
    folder = base / "studies" / name
    folder.mkdir(parents=True)
    _shorten(ROOT / "studies" / name, folder, FROM)
    if not (base / "data").is_dir():
        (base / "data").mkdir()
        _shorten(ROOT / "data", base / "data", SHARED_FROM)
    site = _site(name)
    for part in parts:
        held = site
        for step in part[:-1]:
            held = held.get(step, {})
        held.pop(part[-1], None)
    if ("uncertainty",) not in parts:
        site.setdefault("uncertainty", {})["draws"] = 100
    (folder / "site.toml").write_text(small_study.toml(site), encoding="utf-8")
    return folder


def _site(name: str) -> dict[str, Any]:
    return copy.deepcopy(
        tomllib.loads((ROOT / "studies" / name / "site.toml").read_text(encoding="utf-8"))
    )


def _shorten(source: Path, target: Path, first: str) -> None:
    for sheet in source.glob("*.csv"):
        lines = sheet.read_text(encoding="utf-8").splitlines(keepends=True)
        if len(lines) < 500:
            shutil.copy(sheet, target)
            continue
        kept = [line for line in lines if not _DAY.match(line) or line[:10] >= first]
        (target / sheet.name).write_text("".join(kept), encoding="utf-8", newline="")
