"""From the site to how long its still water has: every stretch through all the cold that is known,
as it lies and without its snow."""

from __future__ import annotations

import re
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ...result import Result
from ...stream.days import days_of
from ...works.frost import FREEZING_POINT

if TYPE_CHECKING:
    from ...running.winter import Climate
    from ...works.exposed import Cold, Stretch
    from ..study import Study

__all__ = [
    "STATES",
    "Felt",
    "Freeze",
    "ThroughYears",
    "climate",
    "cold",
    "coldest",
    "felt",
    "freeze",
    "freezing_months",
    "frosty",
    "soonest",
]

HARD_NIGHT_K = 263.15  # where nothing is known of the cold: an example, told as one
_YEAR = 365
_SPELL_DAYS = 15  # on either side of the coldest day, where a colder one than the record's is told
_SOON_S = 4 * 86400.0  # a stop that lasts longer is planned
STATES = (
    "bare",
    "snow",
)  # before the snow has come, or where it was cleared; and as it lies in mid winter


@dataclass(frozen=True, eq=False)
class Freeze(Result):
    """How long water may stand in one stretch.

    Parameters
    ----------
    stretch : Stretch
    slug : str
        Its name in the keys of questions.
    snow_s, bare_s : float
        Until it is blocked by ice, as it lies and without snow; infinite where it never is.
    """

    stretch: Stretch
    slug: str
    snow_s: float
    _: KW_ONLY
    bare_s: float

    @property
    def soonest_s(self) -> float:
        """The worse of the two: what a printed sheet says, for nobody knows in autumn whether snow
        will lie."""
        return min(self.snow_s, self.bare_s)


def climate(study: Study) -> Climate | None:
    """The year's air, or None without a year of it."""
    from ...running.winter import climate as worked_out

    if study.temperature is None or study.temperature.notna().sum() < _YEAR:
        return None
    return worked_out(study.temperature)


def frosty(study: Study) -> bool:
    """Whether ice is a question here at all: not where the site file says none, nor where no night
    known comes to freezing point."""
    from ...running.winter import HALF_SWING_K

    if study.site.site.frost == "none":
        return False
    if study.climate is None and study.site.site.coldest is None:
        return True  # nobody knows
    return coldest(study)[0] - HALF_SWING_K < FREEZING_POINT


@dataclass(frozen=True, eq=False)
class ThroughYears(Result):
    """The cold that the pipes must stand.

    Parameters
    ----------
    cold : Cold
    recorded : Cold
        As the record has it, not deepened to a colder day that the site file tells.
    day : DatetimeIndex or None
        None where no year of days is known.
    """

    cold: Cold
    _: KW_ONLY
    recorded: Cold
    day: pd.DatetimeIndex | None

    @property
    def month(self) -> np.ndarray | None:
        """Of each day, 1 to 12."""
        return None if self.day is None else np.asarray(self.day.month)


def cold(study: Study) -> ThroughYears:
    """Day by day from the record of air temperature; without a year of it a month of the coldest day.

    Short gaps are closed; in longer ones the air is as in other years. Where the site file tells a
    colder day than the record's coldest, the spell around that one is deepened to it.
    """
    from ...works.exposed import Cold

    snow = tuple(sorted({each.snow_m for each in study.stretches}))
    lowest = coldest(study)[0]
    if study.climate is None or study.temperature is None:
        spell = Cold.spell(lowest, snow)
        return ThroughYears(spell, recorded=spell, day=None)
    seen = study.temperature.asfreq("D").interpolate(limit=5)
    usual = seen.groupby(days_of(seen).day_of_year).mean().reindex(range(1, 367))
    usual = usual.interpolate(limit_direction="both")
    held = usual.reindex(days_of(seen).day_of_year).to_numpy()
    air = np.where(seen.isna(), held, seen) + 273.15
    place = int(np.argmin(air))
    near = np.maximum(1 - np.abs(np.arange(len(air)) - place) / _SPELL_DAYS, 0.0)
    share = _snow_share(study, pd.DatetimeIndex(seen.index))
    recorded, colder = Cold(air, False, snow, snow_share=share), float(air[place]) - lowest
    deepened = recorded if colder <= 0 else Cold(air - colder * near, False, snow, snow_share=share)
    return ThroughYears(deepened, recorded=recorded, day=pd.DatetimeIndex(seen.index))


def _snow_share(study: Study, days: pd.DatetimeIndex) -> np.ndarray | None:
    """Snow that was read on each day over its own usual depth of mid winter: the median of the
    month that has most."""
    if study.snow is None:
        return None
    read = study.snow
    usual = float(read.groupby(days_of(read).month).median().max())
    return None if not usual > 0 else read.reindex(days).to_numpy(dtype=float) / usual


@dataclass(frozen=True, eq=False)
class Felt(Result):
    """The cold of each day as the stretch that freezes first feels it.

    Parameters
    ----------
    name : str
    temperature : Series
        Daily, in °C: of the air for a pipe in it, of the ground for one that lies in it.
    freezes_below_k : float
        On a day as cold as this, water that stands in it is blocked before the next.
    """

    name: str
    temperature: pd.Series
    freezes_below_k: float


def felt(study: Study) -> Felt | None:
    """What says on which days a stopped plant freezes; None where the owner says so ([operation]
    freezes_below), or nothing is known of its pipes or its years."""
    if study.site.operation.given("freezes_below") or study.frost is None:
        return None
    if study.cold.day is None:
        return None
    from ...works.exposed import frost_on

    first = frost_on((study.frost.stretches[0].stretch,), study.cold.recorded)[0]
    return Felt(
        first.stretch.name,
        pd.Series(first.felt_k - FREEZING_POINT, study.cold.day),
        first.blocking_day_k,
    )


def freezing_months(study: Study) -> tuple[int, ...]:
    """Months, 1 to 12, on some day of whose record a stop was blocked within days; the months of
    winter where no year is known."""
    if study.frost is None or not study.freeze or not np.isfinite(study.freeze[0].soonest_s):
        return ()
    month = study.cold.month
    if month is None:
        return study.site.site.winter
    both = (*study.frost.stretches, *study.frost.without_snow)
    soon = np.min([each.blocked for each in both], axis=0) <= _SOON_S
    return tuple(int(each) for each in np.unique(month[soon]))


def coldest(study: Study) -> tuple[float, str]:
    """Coldest day to allow for, in K, and where it comes from: the colder of record and site file,
    else an example."""
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
            Freeze(each.stretch, slug, float(each.blocked_s), bare_s=float(bare[each.stretch.name]))
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
