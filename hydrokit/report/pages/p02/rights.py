"""Page 02: what must stay in the creek, and what may be taken."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import series_text
from ....stream.duration import flow_duration
from ....study.build.rights import HALF_AT_WORST
from ....study.build.year import taken
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    LEAF,
    MONTH_NAMES,
    figure,
    legend_above,
    plain_log,
)
from ..common import needs
from .duration import EXCEEDANCE, taken_words

__all__ = ["bypassed_figure", "bypassed_words", "rights_table", "rights_words"]


def rights_table(study: Any, view: View) -> Table:
    """What stays and what may be taken, month by month."""
    rights, rows = study.rights, []
    usable = taken(study)
    for month in range(12):
        limit = rights.licence_m3s[month]
        rows.append(
            (
                MONTH_NAMES[month],
                float(view.number(rights.keep_m3s[month], "flow")),
                f"{100 * rights.share_left[month]:.0f} %" if rights.share_left[month] else "",
                float(view.number(limit, "flow")) if np.isfinite(limit) else "no limit given",
                ""
                if usable is None
                else float(view.number(usable[usable.index.month == month + 1].mean(), "flow")),
            )
        )
    unit = view.label("flow")
    return Table(
        (
            "month",
            f"stays [{unit}]",
            "and at least, of the flow",
            f"licence [{unit}]",
            f"{taken_words(study)}, mean [{unit}]",
        ),
        rows,
        "What stays, what may be taken",
    )


def _none_stays(study: Any) -> str:
    told = (
        "all water is counted as usable, which the law hardly allows"
        if study.record is not None
        else HALF_AT_WORST
    )
    return f"{told[0].upper()}{told[1:]}"


def rights_words(study: Any, view: View) -> Words:
    """The rules as they were understood, and whose word counts."""
    rules = "; ".join(view.told(each.text) for each in study.rights.rules)
    limits = (
        [
            f"at most {view.text(study.rights.volume_m3, 'water of a year')} in a year that begins with {MONTH_NAMES[study.rights.start_month - 1]}"
        ]
        if np.isfinite(study.rights.volume_m3)
        else []
    )
    ramp = study.rights.ramp_m3s_per_day
    limits += (
        [f"no more than {view.text(ramp, 'flow')} above the day before"]
        if np.isfinite(ramp)
        else []
    )
    said = (
        f"Rules as given: {rules}."
        if rules
        else f"**No rule says what must stay in the creek.** {_none_stays(study)}; ask before relying on any figure here."
    )
    taken_told = f" What is taken is limited too: {series_text(limits)}." if limits else ""
    return Words(f"{said}{taken_told} {study.rights.statement}")


def _left(study: Any) -> tuple[Any, bool]:
    """Flow left between intake and outfall, and whether that is by what the plant takes or by all that may be taken."""
    full = study.full_flow_m3s
    return (
        study.record - (study.usable if full is None else taken(study).clip(upper=full))
    ).dropna(), full is not None


@needs("usable")
def bypassed_figure(study: Any, view: View) -> Picture:
    """The duration curve of the reach between intake and outfall, beside that of the whole creek."""
    left, by_plant = _left(study)
    days, curve = 365 * EXCEEDANCE, flow_duration(left)
    with figure(7.4, 3.2) as (made, axes):
        shown = [
            np.where(each > 0, each, np.nan)
            for each in (study.duration.flow_at_si(EXCEEDANCE), curve.flow_at_si(EXCEEDANCE))
        ]
        axes.plot(days, view.number(shown[0], "flow"), color=CREEK, label="without the plant")
        axes.plot(
            days,
            view.number(shown[1], "flow"),
            color=LEAF,
            linestyle=(0, (5, 2)),
            label="left in the bypassed reach",
        )
        axes.set(
            xlim=(0, 365),
            xlabel="days a year the flow is reached or exceeded",
            ylabel=view.header("flow", "flow"),
        )
        if any(np.isfinite(each).any() for each in shown):
            plain_log(axes)
        legend_above(axes)
    return Picture(
        made,
        f"Duration curves of the creek and of the reach between intake and outfall, if {'the plant takes what it can' if by_plant else 'all that may be taken is taken'}.",
    )


@needs("usable", quiet=True)
def bypassed_words(study: Any, view: View) -> Words:
    """What the reach between intake and outfall is left with."""
    left, by_plant = _left(study)
    curve, natural = flow_duration(left), study.duration
    dry, always = (365 * float(np.mean(each <= 0)) for each in (left, study.record.dropna()))
    told = (
        f" It falls dry on {dry:.0f} days a year, with or without it."
        if dry - always < 0.5
        else f" **It falls dry on {dry:.0f} days a year{f', {always:.0f} of them without the plant too' if always >= 0.5 else ''}.**"
    )
    return Words(
        f"Between intake and outfall the creek keeps {view.text(float(left.mean()), 'flow')} on average, and at least "
        f"{view.text(float(curve.flow_at_si(0.95)), 'flow')} on 95 % of the days, if {'the plant takes all it may and can' if by_plant else 'all that may be taken is taken'}; "
        f"without the plant that would be {view.text(float(natural.flow_at_si(0.95)), 'flow')}."
        + (told if dry >= 0.5 else "")
    )
