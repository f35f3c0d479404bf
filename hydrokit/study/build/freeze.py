"""From the site to how long its still water has: every stretch on the coldest day known, as it lies and without its snow."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["STATES", "Freeze", "climate", "coldest", "freeze", "soonest"]

HARD_NIGHT_K = 263.15  # where nothing is known of the cold: an example, told as one
STATES = (
    "bare",
    "snow",
)  # before the snow has come, or where it was cleared; and as it lies in mid winter


@dataclass(frozen=True, eq=False)
class Freeze:
    """How long water may stand in one stretch.

    Parameters
    ----------
    stretch : Stretch
    slug : str
        Its name in the keys of questions.
    snow_s, bare_s : float
        Until it is blocked by ice, as it lies and without snow; infinite where it never is.
    """

    stretch: Any
    slug: str
    snow_s: float
    bare_s: float

    @property
    def soonest_s(self) -> float:
        """The worse of the two: what a printed sheet says, for nobody knows in autumn whether snow will lie."""
        return min(self.snow_s, self.bare_s)


def climate(study: Study) -> Any:
    """The year's air, or None without a year of it."""
    from ...running.winter import climate as worked_out

    if study.temperature is None or study.temperature.notna().sum() < 365:
        return None
    return worked_out(study.temperature)


def coldest(study: Study) -> tuple[float, str]:
    """Coldest day to allow for, in K, and where it comes from: the colder of record and site file, else an example."""
    told = study.site["site"].get("coldest")
    seen = None if study.temperature is None else float(study.temperature.min()) + 273.15
    if seen is not None and (told is None or seen <= told):
        return seen, "the coldest day of the record"
    return (
        (HARD_NIGHT_K, "an example, for no record of air temperature is named")
        if told is None
        else (told, "the coldest day known here")
    )


def freeze(study: Study) -> tuple[Freeze, ...]:
    """Every stretch, the one that is blocked first first."""
    if study.frost is None:
        return ()
    bare = {each.stretch.name: each.blocked_s for each in study.frost.without_snow}
    found: list[Freeze] = []
    taken: set[str] = set()
    for each in study.frost.stretches:
        slug = _slug(each.stretch.name, taken)
        taken.add(slug)
        found.append(
            Freeze(each.stretch, slug, float(each.blocked_s), float(bare[each.stretch.name]))
        )
    return tuple(sorted(found, key=lambda each: each.soonest_s))


def _slug(name: str, taken: set[str]) -> str:
    """A name as it may stand in a key, unlike any taken."""
    plain = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") or "stretch"
    return next(
        each
        for each in (plain, *(f"{plain}_{number}" for number in range(2, len(taken) + 3)))
        if each not in taken and each not in ("worst", "line")
    )


def soonest(study: Study, line: str = "") -> Freeze | None:
    """The stretch of a line, or of all, that is blocked first, whether snow lies or not."""
    return next((each for each in study.freeze if line in ("", each.stretch.line)), None)


def until(study: Study, line: str) -> float:
    """Seconds that water may stand in a line; infinite where it never freezes, or nothing is known."""
    found = soonest(study, line)
    return (
        np.inf if found is None or coldest(study)[1].startswith("an example") else found.soonest_s
    )
