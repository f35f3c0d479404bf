"""The year's jobs, month by month, each with its reason and its number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from datetime import date, timedelta
from itertools import zip_longest

import numpy as np

from ..result import Result
from ..stream.months import MONTH_NAMES, WATER_YEAR
from .winter import Climate, UntilThaw

__all__ = ["Facts", "Job", "calendar", "day_text", "early", "together"]

_SUMMER = 7  # month from which winters are told apart
_STILL_NIGHTS = 2.0  # nights of frazil weather in a mean month from which it is a month of frazil


@dataclass(frozen=True)
class Job(Result):
    """Something to do.

    Parameters
    ----------
    month : int
        1 to 12.
    job : str
    reason : str
    value, kind : float and str
        The number behind it, in SI, and what it is: a kind of ``display.View``, ``"days"``,
        ``"nights"``, ``"day of the year"``, ``"share a day"`` or ``""`` for none.
    caution : str
        What can hurt: ``"ice"``, ``"height"``, ``"pressure"``, ``"electric"``, ``"water"`` or ``""``.
    question : str
        Key of the question that the number answers; empty where it is only a job's.
    due : bool
        Whether the number is the day of the year by which it is to be done.
    """

    month: int
    job: str
    reason: str
    _: KW_ONLY
    value: float = float("nan")
    kind: str = ""
    caution: str = ""
    question: str = ""
    due: bool = False


@dataclass(frozen=True, eq=False)
class Facts:
    """What a calendar is made from; whatever is not known is left out, and its jobs with it.

    Parameters
    ----------
    climate : Climate or None
    leaf_months : tuple of int
        In which the screen clogs.
    clogs, screen, mesh : str, bool, bool
        What clogs: its name, whether it is a screen to be brushed, and whether a fine mesh is on it.
    clogging_rate : float
        Share of the clean screen's flow lost each day then.
    interval_s : float
        Time between cleanings that is worth the walk.
    stop : UntilThaw or None
    freezing_months : tuple of int
        In which a stop is blocked by ice within days in the cold that is known.
    worst_name, worst_hours_s : str, float
        Stretch that freezes first, and how long water may stand in it in the hardest frost known,
        whether snow lies or not.
    bare_names, bare_hours_s, bare_questions : tuple of str, of float, of str
        Stretches that lie open to the air, how long water may stand in each, and whose question that answers.
    low_month : int or None
        Month of least water.
    full_month : int or None
        Month of most water, when all jets can be read.
    idle_month : int or None
        Month in which a stop costs least, or that the site file plans it for.
    closing : tuple of (int, int)
        Month and number of jets to go down to.
    temporary : bool
        Whether there is pipe to take out before the freshet.
    freshet_day : float
        Day of the year by which.
    thing, count : str, int
        What is opened and shut, ``"jet"`` or ``"machine"``, and how many.
    fixed : bool
        Whether the jets have a bore of their own, to be measured.
    spills : str
        What is seen while there is water to spare.
    """

    climate: Climate | None = None
    leaf_months: tuple[int, ...] = ()
    clogs: str = "screen"
    _: KW_ONLY
    screen: bool = True
    mesh: bool = False
    clogging_rate: float = float("nan")
    interval_s: float = float("nan")
    stop: UntilThaw | None = None
    freezing_months: tuple[int, ...] = ()
    worst_name: str = ""
    worst_hours_s: float = float("nan")
    bare_names: tuple[str, ...] = ()
    bare_hours_s: tuple[float, ...] = ()
    bare_questions: tuple[str, ...] = ()
    low_month: int | None = None
    full_month: int | None = None
    idle_month: int | None = None
    closing: tuple[tuple[int, int], ...] = ()
    temporary: bool = False
    freshet_day: float = float("nan")
    thing: str = "jet"
    count: int = 2
    fixed: bool = True
    spills: str = "the forebay spills"


def calendar(facts: Facts) -> tuple[Job, ...]:
    """The jobs of a year, in order of its months from October on.

    Parameters
    ----------
    facts : Facts

    Returns
    -------
    tuple of Job
    """
    jobs = [
        *_leaves(facts),
        *_before_frost(facts),
        *_in_frost(facts),
        *_spring(facts),
        *_summer(facts),
        *_always(),
    ]
    return tuple(sorted(jobs, key=lambda job: ((job.month - WATER_YEAR) % 12, job.job)))


def _before(month: int, by: int = 1) -> int:
    return (month - 1 - by) % 12 + 1


def _first_of(months: tuple[int, ...]) -> int:
    """The first of months that follow each other, even across New Year."""
    inside = set(months)
    return next((month for month in months if _before(month) not in inside), months[0])


def _last_of(months: tuple[int, ...]) -> int:
    """The last of months that follow each other, even across New Year."""
    inside = set(months)
    return next((month for month in months if month % 12 + 1 not in inside), months[-1])


def _leaves(facts: Facts) -> list[Job]:
    if not facts.leaf_months:
        return []
    jobs, clear = [], f"{'Brush' if facts.screen else 'Clear'} the {facts.clogs}"
    for month in facts.leaf_months:
        if np.isfinite(facts.interval_s):
            jobs.append(
                Job(
                    month,
                    f"{clear} at this interval",
                    "the power won pays the walk no sooner and no later",
                    value=facts.interval_s / 86400,
                    kind="days",
                    caution="water",
                )
            )
        else:
            jobs.append(
                Job(
                    month,
                    f"{clear} as soon as the pressure sinks",
                    "leaves or needles clog it",
                    value=facts.clogging_rate,
                    kind="share a day",
                    caution="water",
                )
            )
    if facts.mesh:
        first = _before(_first_of(facts.leaf_months))
        jobs.append(
            Job(
                first,
                "Renew the fine mesh",
                "it wears through in about a year (common practice), and it clogs next month",
                caution="water",
            )
        )
    return jobs


def _before_frost(facts: Facts) -> list[Job]:
    found = facts.climate
    frazil = _frazil_months(found)
    if found is None or not frazil:
        return []
    early = float(np.min(found.first_frazil)) if found.first_frazil else np.nan
    # One winter's first night may come before the months that have such nights in the mean.
    first = _first_of(frazil)
    night = first if np.isnan(early) else _month_of(early)
    month = _before(min(first, night, key=lambda each: (each - _SUMMER) % 12))
    jobs = [
        Job(
            month,
            "Gauge the creek once more",
            "ice at the control spoils every stage reading until spring",
            caution="water",
        )
    ]
    jobs.append(
        Job(
            month,
            "Try drains and vents, and mark them with stakes above the snow",
            "the earliest night of frazil weather on record",
            value=early,
            kind="day of the year",
            caution="pressure",
        )
    )
    if facts.bare_names:
        several = len(facts.bare_names) > 1
        bare = sorted(
            zip_longest(facts.bare_names, facts.bare_hours_s, facts.bare_questions),
            key=lambda each: np.inf if each[1] is None else each[1],
        )
        _, hours, question = bare[0]
        jobs.append(
            Job(
                month,
                f"Wrap or bank the bare stretch{'es' if several else ''}: "
                + "; ".join(str(name) for name, _, _ in bare),
                f"water standing in {'the first of them' if several else 'it'} is blocked by "
                "then in the hardest frost known",
                value=np.nan if hours is None else hours,
                kind="hours",
                caution="height",
                question=question or "",
            )
        )
    return jobs


def _month_of(day: float) -> int:
    """The month of a day of the year; days past 365 belong to the next."""
    return (date(2023, 1, 1) + timedelta(days=int(day) - 1)).month


def _frazil_months(found: Climate | None) -> tuple[int, ...]:
    if found is None:
        return ()
    return tuple(
        month
        for month in range(1, 13)
        if np.nan_to_num(found.frazil_nights[month - 1]) >= _STILL_NIGHTS
    )


def _in_frost(facts: Facts) -> list[Job]:
    found = facts.climate
    jobs: list[Job] = []
    for month in _frazil_months(found):
        nights = np.nan if found is None else float(found.frazil_nights[month - 1])
        jobs.append(
            Job(
                month,
                "Read the gauge before bed and on rising; be ready to lift ice off the screen by hand",
                "nights with the weather for frazil, at the most",
                value=nights,
                kind="nights",
                caution="ice",
                question=f"frazil.nights.{month}",
            )
        )
    if facts.freezing_months and facts.worst_name and np.isfinite(facts.worst_hours_s):
        last = MONTH_NAMES[_last_of(facts.freezing_months) - 1]
        text = (
            f"From now to the end of {last}: when the flow stops, start it again or drain within "
            f"this time ({facts.worst_name})"
        )
        jobs.append(
            Job(
                _first_of(facts.freezing_months),
                text,
                "in the hardest frost known it is blocked by then, whether snow lies or not",
                value=facts.worst_hours_s,
                kind="hours",
                caution="pressure",
                question="freeze.worst",
            )
        )
    if facts.stop is not None and facts.stop.worst_month:
        worst = facts.stop.worst_month
        jobs.append(
            Job(
                worst,
                "Do no work now that can stop the flow",
                "half of the stops that freeze the line this month cost more than",
                value=float(facts.stop.energy_j[worst - 1]),
                kind="energy",
            )
        )
    jobs += [
        Job(
            month,
            (
                f"Close down to {jets} {facts.thing}{'s' if jets > 1 else ''} when the pressure "
                "begins to fluctuate"
            ),
            "so many give most on the median day of the month",
        )
        for month, jets in facts.closing
    ]
    if facts.low_month is not None:
        icy = found is not None and facts.low_month in found.frost_months
        reason = (
            "this month decides how many jets winter feeds"
            if icy
            else "the lowest water decides what can be relied on"
        )
        jobs.append(
            Job(
                facts.low_month,
                "Gauge the creek at its lowest",
                reason,
                caution="ice" if icy else "water",
            )
        )
    return jobs


def _spring(facts: Facts) -> list[Job]:
    found = facts.climate
    jobs: list[Job] = []
    if found is None or len(found.frost_months) < 2 or not np.isfinite(facts.freshet_day):
        return jobs
    day = facts.freshet_day
    month = _month_of(day)
    what = (
        "Take temporary pipe and the intake's winter parts out of the creek by this date"
        if facts.temporary
        else "Have loose gear out of the creek by this date"
    )
    jobs.append(
        Job(
            month,
            what,
            "a week before the snow melts in the earliest spring of ten",
            value=day,
            kind="day of the year",
            caution="water",
            due=True,
        )
    )
    jobs.append(
        Job(
            month % 12 + 1,
            "Walk the line: couplings, supports, bridges, slipped banks",
            "frost and thaw move them",
            caution="height",
        )
    )
    jobs.append(
        Job(
            month % 12 + 1,
            "Flush forebay and basin, clear gravel from the intake",
            "the freshet brings most of a year's silt",
            caution="water",
        )
    )
    return jobs


def _summer(facts: Facts) -> list[Job]:
    jobs = []
    if facts.full_month is not None:
        each = (
            f"with the {facts.thing} {'open' if facts.thing == 'jet' else 'running'}"
            if facts.count == 1
            else f"1, 2, … all {facts.thing}s"
        )
        jobs.append(
            Job(
                facts.full_month,
                f"Read shut-off and {each} while {facts.spills}",
                "the baseline everything else is held against",
                caution="pressure",
            )
        )
    if facts.idle_month is not None:
        jobs.append(
            Job(
                facts.idle_month,
                f"Stop for the year's maintenance: bearings, runner, connections, {_wears(facts)}",
                "the month in which a stop costs least",
                caution="electric",
            )
        )
    return jobs


def _wears(facts: Facts) -> str:
    """What the water wears at the machine."""
    if facts.fixed:
        return "bore of every jet" if facts.count > 1 else "bore of the jet"
    return "needles and their seats" if facts.thing == "jet" else "gates and their seals"


def _always() -> list[Job]:
    return [
        Job(
            month,
            "Shut off once and write down the pressure",
            "shows the gauge's error and a leak above it; compare with the last",
            caution="pressure",
        )
        for month in (1, 4, 7, 10)
    ]


def together(jobs: Sequence[Job]) -> tuple[tuple[Job, ...], ...]:
    """Jobs by what is to be done: the same in several months stands once, where it first comes."""
    found: dict[tuple[str, str], list[Job]] = {}
    for job in jobs:
        found.setdefault((job.job, job.reason), []).append(job)
    return tuple(map(tuple, found.values()))


def early(days: tuple[int, ...], ahead: int = 7) -> float:
    """A day of the year that lies so many days before that which one year in ten is earlier; NaN of none."""
    return float(np.quantile(days, 0.1) - ahead) if days else float("nan")


def day_text(day: float) -> str:
    """A day of the year as ``18 October``; days past 365 belong to the next year."""
    moment = date(2023, 1, 1) + timedelta(days=int(round(day)) - 1)
    return f"{moment.day} {moment:%B}"
