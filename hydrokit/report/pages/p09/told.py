"""Figures, places and months of the year's jobs and of the steps at the valves, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....running.jobs import day_text
from ....sentences import plain_number
from ....stream.months import MONTH_NAMES
from ..common import of_month

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ....running.jobs import Job
    from ....running.steps import Step
    from ....study.study import Study
    from ....study.view import View

__all__: list[str] = []  # what is named here is a section of the page; these only help one

_NIGHTS = " nights"


def hours(seconds: float, view: View) -> str:
    """A time to act within: minutes, hours or days."""
    return view.duration(seconds) if np.isfinite(seconds) else "does not freeze"


def _asked(study: Study, view: View, question: str) -> str:
    """The answer to a question; of one month where the key ends in its number."""
    base, _, last = question.rpartition(".")
    if last.isdigit():
        return view.shown(of_month(study.answer(base), int(last)))
    return view.shown(study.answer(question))


def step_number(study: Study, job: Job | Step, view: View) -> str:
    """The figure of a job or a step, in words; empty where it has none."""
    if not job.kind or not np.isfinite(job.value):
        return ""
    if job.question:
        return (
            f"{_asked(study, view, job.question)}{_NIGHTS}"
            if job.kind == "nights"
            else _asked(study, view, job.question)
        )
    if job.kind in ("hours", "minutes"):
        return hours(job.value, view)
    if job.kind == "day of the year":
        return day_text(job.value)
    if job.kind == "share a day":
        return f"{100 * job.value:.0f} % of the flow a day"
    if job.kind == "days":
        number = plain_number(job.value, 2)
        return "every day" if number == "1" else f"every {number} days"
    return view.text(job.value, job.kind, 2)


def place_told(view: View, place_m: float | None) -> str:
    """Where along the pipe a step is done; empty where it says so itself."""
    if place_m is None:
        return ""
    return "at the pipe inlet" if place_m == 0 else f"at {view.text(place_m, 'length', 3)}"


def months_told(jobs: Sequence[Job]) -> str:
    """The months of the same job."""
    if len(jobs) == 1:
        return MONTH_NAMES[jobs[0].month - 1]
    return ", ".join(MONTH_NAMES[job.month - 1][:3] for job in jobs)


def numbers_told(study: Study, jobs: Sequence[Job], view: View) -> str:
    """The figures of the same job in its months, in one where they are alike."""
    told = [step_number(study, job, view) for job in jobs]
    if len(set(told)) == 1:
        return told[0]
    if all(job.kind == "nights" for job in jobs):  # the word once, behind the last
        told[:-1] = [each.removesuffix(_NIGHTS) for each in told[:-1]]
    return ", ".join(told)


def alike(low: float, high: float) -> tuple[str, str]:
    """Both ends of a band, to three digits of the upper one: with as many decimals."""
    if not np.isfinite([low, high]).all() or high <= 0:
        return plain_number(low), plain_number(high)
    decimals = 2 - int(np.floor(np.log10(float(f"{high:.2e}"))))
    if decimals < 0:
        return plain_number(low), plain_number(high)
    return f"{low:,.{decimals}f}", f"{high:,.{decimals}f}"
