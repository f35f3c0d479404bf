"""Page 02: what must stay in the creek, and what may be taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import series_text
from ....study.build.flow_regime import bypassed
from ....study.build.monthly_flow import uncertain_month
from ....study.build.rights import HALF_AT_WORST
from ....study.keyed import plain
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    ABOVE_SHARE,
    CREEK,
    LEAF,
    MONTH_NAMES,
    figure,
    legend_above,
    plain_log,
    share_of_days,
)
from ..common import needs
from .duration import EXCEEDANCE, taken_words

if TYPE_CHECKING:
    from ....stream.duration import Duration
    from ....study.build.flow_regime import BypassedReach

__all__ = ["bypassed_figure", "bypassed_words", "rights_table", "rights_words"]


def rights_table(study: Study, view: View) -> Table:
    """Residual and available flow, month by month."""
    rights, regime, rows = study.rights, study.flow_regime, []
    stays = study.answer("water.residual")
    for month in range(12):
        limit = rights.licence_m3s[month]
        rows.append(
            (
                MONTH_NAMES[month],
                "" if stays is None else view.shown(stays.month(month + 1), unit=False),
                f"{100 * rights.share_left[month]:.0f} %" if rights.share_left[month] else "",
                float(view.number(limit, "flow")) if np.isfinite(limit) else "no limit given",
                ""
                if regime is None
                else float(view.number(regime.available_of_month_m3s[month], "flow")),
            )
        )
    unit = view.label("flow")
    if len({tuple(plain(str(each)) for each in row[1:]) for row in rows}) == 1:
        rows = [("every month", *rows[0][1:])]
    return Table(
        (
            "month",
            f"residual flow [{unit}]",
            "and at least, of the flow",
            f"licence [{unit}]",
            f"{taken_words(study)}, mean [{unit}]",
        ),
        rows,
        "Residual flow and licence"
        if regime is None
        else "Residual flow, and what may be taken (available flow)",
    )


def _none_stays(study: Study) -> str:
    told = (
        "all water counts as available, which the law hardly allows"
        if study.record is not None
        else HALF_AT_WORST
    )
    return f"{told[0].upper()}{told[1:]}"


def rights_words(study: Study, view: View) -> Words:
    """The rules as they were understood, and whose word counts."""
    rules = "; ".join(view.told(each.text) for each in study.rights.rules)
    limits = (
        [
            (
                f"at most {view.text(study.rights.volume_m3, 'water of a year')} in a year that "
                f"begins with {MONTH_NAMES[study.rights.start_month - 1]}"
            )
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
        else (
            f"**No rule says what must stay in the creek.** {_none_stays(study)}; ask before "
            "relying on any figure here."
        )
    )
    taken_told = f" What is taken is limited too: {series_text(limits)}." if limits else ""
    return Words(f"{said}{_how_sure(study, view)}{taken_told} {study.rights.statement}")


def _how_sure(study: Study, view: View) -> str:
    """That a residual flow in the creek's own statistics is as unsure as these are, in the month in
    which most stays."""
    stays, number = study.answer("water.residual"), uncertain_month(study)
    if stays is None or number is None:
        return ""
    month = stays.month(number)
    return (
        " What the rules ask for in the creek's own statistics is as uncertain as the record: "
        f"{view.shown(month)} (90 % interval {view.interval(month)}); a longer record, or the "
        "authority's figure as a flow, settles it."
    )


@needs(bypassed, Study.duration)
def bypassed_figure(study: Study, view: View, reach: BypassedReach, creek: Duration) -> Picture:
    """The duration curve of the reach between intake and outfall, beside that of the whole creek."""
    days = 365 * EXCEEDANCE
    with figure(7.4, 3.4) as (made, axes):
        shown = [
            np.where(each > 0, each, np.nan)
            for each in (creek.flow_at_si(EXCEEDANCE), reach.curve.flow_at_si(EXCEEDANCE))
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
        share_of_days(axes)
        legend_above(axes, over=ABOVE_SHARE)
    return Picture(
        made,
        (
            "Duration curves of the creek and of the reach between intake and outfall, which "
            f"keeps {view.text(reach.mean_m3s, 'flow')} on average and "
            f"{view.text(reach.lean_m3s, 'flow')} on 95 % of the days, if "
            f"{'the plant takes what it can' if reach.by_plant else 'all that may be taken is taken'}."
        ),
    )


@needs(bypassed, quiet=True)
def bypassed_words(study: Study, view: View, reach: BypassedReach) -> Words:
    """What the reach between intake and outfall is left with."""
    dry, always = reach.dry_days, reach.dry_without_plant
    told = (
        f" It falls dry on {dry:.0f} days a year, with or without it."
        if dry - always < 0.5
        else (
            f" **It falls dry on {dry:.0f} days a "
            f"year{f', {always:.0f} of them without the plant too' if always >= 0.5 else ''}.**"
        )
    )
    return Words(
        f"Between intake and outfall the creek keeps {view.text(reach.mean_m3s, 'flow')} on "
        f"average, and at least {view.text(reach.lean_m3s, 'flow')} on 95 % of the days, if "
        f"{'the plant takes all it may and can' if reach.by_plant else 'all that may be taken is taken'}; "
        f"without the plant it is {view.shown(study.answer('flow.lean'))} on as many days."
        + (told if dry >= 0.5 else "")
    )
