"""Page 02: how much water there is through the year, and how much may be taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....sentences import plain_number, series_text
from ....stream.months import told_months
from ....study.build.days import fed_steps
from ....study.build.machines import opened
from ....study.build.record import lean_flow
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    ABOVE_SHARE,
    BAND,
    CREEK,
    GROUND,
    INK,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    ON_LINES,
    RUST,
    SMALL,
    apart,
    figure,
    legend_above,
    plain_log,
    share_of_days,
)
from ..common import in_picture, needs, sources

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....stream.duration import Duration
    from ....study.build.flow_regime import DurationRow, FlowRegime

__all__ = [
    "curve_figure",
    "curve_table",
    "curve_words",
    "headline",
    "month_figure",
    "month_words",
    "references",
]

EXCEEDANCE = np.linspace(0.005, 0.995, 199)


@needs(Study.flow_regime, headline=True)
def headline(study: Study, view: View, regime: FlowRegime) -> Words:
    """The answer in two sentences."""
    half = f"**{view.shown(study.answer('flow.median'))}** or more"
    part = f"{100 * regime.available_share:.0f} %"
    share = (
        f"of the whole water, {part} {_MAY}{_TERM}."
        if taken_words(study) == _MAY
        else f"{taken_words(study)} {part} of the whole water{_TERM}."
    )
    if regime.months_unseen:
        return Words(
            f"**There is no year of record yet:** of its {counted(regime.days, 'day')} half bring "
            f"{half}; {share} Nothing is known of {told_months(regime.months_unseen)}, and every "
            "figure below that speaks of a year rests on the other months alone."
        )
    first = (
        f"Half the days of a year bring {half} (90 % interval "
        f"{view.interval(study.answer('flow.median'))}); {share}"
    )
    steps = fed_steps(study)
    if not steps:
        lean = study.answer("flow.lean")
        return Words(
            f"{first} 95 % of the days bring at least {view.shown(lean)}."
            if lean is not None and lean.value > 0
            else f"{first} The creek is dry on {regime.dry_days:.0f} days a year."
        )
    jets = f"{opened(study)}s"
    said = [
        f"{count} {jets if count > 1 else jets[:-1]} ({view.text(full, 'flow')}) {days:.0f} days"
        for count, full, days in reversed(steps)
    ]
    return Words(f"{first} Enough water to feed, a year: {series_text(said)}.")


_MAY, _TERM = "may be taken", " (available flow)"


def taken_words(study: Study) -> str:
    """What is available to the plant: by rules with a memory it depends on how much the plant can take."""
    return "this plant may take" if study.rights.has_memory and study.plant is not None else _MAY


@needs(Study.duration, Study.flow_regime)
def curve_figure(study: Study, view: View, curve: Duration, regime: FlowRegime) -> Picture:
    """The duration curve with its band, what stays, what may be taken, the jets' steps."""
    low, high = curve.band_si(EXCEEDANCE, 0.9)
    usable = regime.available.flow_at_si(EXCEEDANCE)
    days = 365 * EXCEEDANCE
    with figure(7.4, 4.2) as (made, axes):
        axes.fill_between(
            days,
            view.number(low, "flow"),
            view.number(high, "flow"),
            color=CREEK,
            alpha=BAND,
            linewidth=0,
            label="90 % band",
        )
        axes.plot(
            days,
            view.number(curve.flow_at_si(EXCEEDANCE), "flow"),
            color=CREEK,
            label="in the creek",
        )
        shown = np.where(usable > 0, usable, np.nan)
        axes.plot(
            days,
            view.number(shown, "flow"),
            color=LEAF,
            linestyle=(0, (5, 2)),
            label=taken_words(study),
        )
        for count, full, fed in fed_steps(study):
            level = float(view.number(full, "flow"))
            axes.plot([0, fed], [level, level], color=RUST, linewidth=1.2)
            axes.plot([fed, fed], [level, level * 0.86], color=RUST, linewidth=1.2)
            axes.annotate(
                f"{count} open: {fed:.0f} days",
                (0, level),
                xytext=(4, -2.5),  # below: what may be taken lies above
                textcoords="offset points",
                va="top",
                color=RUST,
                fontsize=SMALL,
                bbox=ON_LINES,
                zorder=4,
            )
        _mark_days(study, view, axes, curve)
        axes.set(
            yscale="log",
            xlim=(0, 365),
            xlabel="days a year the flow is reached or exceeded",
            ylabel=view.header("flow", "flow"),
        )
        axes.set_ylim(bottom=0.5 * float(view.number(lean_flow(study), "flow")))
        plain_log(axes)
        _mark_rights(study, view, axes)
        share_of_days(axes)
        legend_above(axes, over=ABOVE_SHARE)
    half, lean, mean = (
        view.shown(study.answer(f"flow.{name}")) for name in ("median", "lean", "mean")
    )
    return Picture(
        made,
        (
            f"Flow duration curve of {study.name}: exceeded on half the days {half}, on 95 % of "
            f"them {lean}, the mean is {mean}; with a 90 % band and the flow that may be taken."
        ),
    )


def _mark_days(study: Study, view: View, axes: Axes, curve: Duration) -> None:
    """The mean, the median day and the flow of 95 % of the days, on the curve."""
    for name, key in (("mean", "flow.mean"), ("median", "flow.median"), ("Q95", "flow.lean")):
        answer = study.answer(key)
        if answer is None or not answer.known or not answer.value > 0:
            continue
        day = 365 * float(curve.exceedance_si(answer.value))
        flow = float(view.number(answer.value, "flow"))
        axes.plot(day, flow, "o", color=INK, markersize=5, zorder=5)
        late = day > 300
        axes.annotate(
            f"{name} {in_picture(view, answer)}",
            (day, flow),
            xytext=(4 if not late else 16, 14 if not late else 20),
            textcoords="offset points",
            ha="right" if late else "left",
            fontsize=SMALL,
            bbox=ON_LINES,
            zorder=4,
            arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 0.6, "shrinkB": 3},
        )


def _mark_rights(study: Study, view: View, axes: Axes) -> None:
    """Licence and residual flow as levels, named beside the axes; from the least to the most of the
    months."""
    low, high = axes.get_ylim()
    named = []
    for name, by_month, dashes in (
        ("licence", study.rights.licence_m3s, (0, (1, 1.5))),
        ("residual flow", study.rights.keep_m3s, (0, (5, 2, 1, 2))),
    ):
        months = view.number(by_month[np.isfinite(by_month) & (by_month > 0)], "flow")
        for level in sorted({float(each) for each in months}):
            if low < level < high:
                axes.axhline(level, color=GROUND, linewidth=1.1, linestyle=dashes, zorder=1)
        if len(months) and low < months.max() < high:
            least, most = by_month[by_month > 0].min(), by_month[np.isfinite(by_month)].max()
            amount = (
                view.text(most, "flow")
                if most - least < 1e-9 * most
                else view.range(least, most, "flow")
            )
            named.append((float(months.max()), f"{name}\n{amount}"))
    for level, text in apart(axes, named):
        axes.annotate(
            text,
            (1.0, level),
            xycoords=("axes fraction", "data"),
            xytext=(4, 0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL,
            color=INK,
        )


@needs(Study.flow_regime, quiet=True)
def curve_words(study: Study, view: View, regime: FlowRegime) -> Words:
    """What the curve means and what would change it."""
    lean = study.answer("flow.lean")
    text = (
        f"The curve rests on {counted(regime.days, 'day')}. Its band holds two uncertainties: "
        f"other years than these could have come{_worth(regime)}, and the whole record may read "
        f"high or low{_reads_off(regime, study.record_uncertainty)}. "
    )
    if regime.transfer_sd is not None:
        high, half, low = (f"{100 * each:.0f} %" for each in regime.transfer_sd)
        text += (
            f"What was estimated from another creek adds {high} at the flow exceeded on 5 % of "
            f"the days, {half} at the median and {low} at the flow exceeded on 95 %; a residual "
            "flow stated in the creek's own statistics shares that error. "
        )
    text += (
        "The low end decides a winter: the flow exceeded on 95 % of the days is "
        f"{view.shown(lean)} (90 % interval {view.interval(lean)})."
        if lean is not None and lean.high > 0
        else "At its low end the creek is dry."
    )
    if regime.months_unseen:
        text += (
            " **It leaves out the months without a record**, so it is the curve of those days and "
            "not of a year."
        )
    elif regime.years < _DRY_DECADE:
        text += (
            " With so few years the band says little about a dry decade; a long gauge nearby "
            "would say more."
        )
    return Words(text)


def _worth(regime: FlowRegime) -> str:
    """How many independent years the record is worth, where wet and dry spells last."""
    spread = regime.curve.spread
    if spread.count < 2 or spread.worth > 0.95 * spread.count:
        return ""
    return (
        f" (wet and dry spells last, so {spread.count:.0f} years in a row tell as much of the "
        f"long run as {max(spread.worth, 1.0):.0f} that have nothing to do with each other)"
    )


def _reads_off(regime: FlowRegime, whole: float) -> str:
    """The rating's standard deviation by flow, or of all flows alike."""
    if regime.rating_sd is None:
        return f" by {100 * whole:.0f} % (one standard deviation)"
    high, half, low = (f"{100 * each:.0f} %" for each in regime.rating_sd)
    return (
        f": by {high} at the flow exceeded on 5 % of the days, {half} at the median and {low} at "
        "the flow exceeded on 95 % (one standard deviation of the rating)"
    )


_DRY_DECADE = 10  # years of record, below which nothing is said of a dry decade


@needs(Study.flow_regime, quiet=True)
def curve_table(study: Study, view: View, regime: FlowRegime) -> Table:
    """Flow at 5, 10, … 99 % with its band, and what may be taken."""
    asked = {round(each, 2): name for each, name in ((0.5, "flow.median"), (0.95, "flow.lean"))}

    def flow(row: DurationRow) -> str | float:
        key = asked.get(round(row.exceeded, 2))
        if key is not None:
            return view.shown(study.answer(key), unit=False)
        return float(view.number(row.flow_m3s, "flow"))

    rows = [
        (
            f"{100 * row.exceeded:.0f} %",
            row.days,
            flow(row),
            *(
                float(view.number(each, "flow"))
                for each in (row.low_m3s, row.high_m3s, row.available_m3s)
            ),
        )
        for row in regime.steps
    ]
    unit = view.label("flow")
    return Table(
        (
            "exceeded",
            "days a year",
            f"flow [{unit}]",
            f"low, 90 % [{unit}]",
            f"high, 90 % [{unit}]",
            f"{taken_words(study)} [{unit}]",
        ),
        rows,
        "Flow duration",
    )


@needs(Study.flow_regime)
def month_figure(study: Study, view: View, regime: FlowRegime) -> Picture:
    """What each month brings: its median day, half and 90 % of its days; and the residual flow."""
    shown = view.number(regime.shares_of_month_m3s, "flow")
    months = np.arange(1, 13)
    with figure(7.4, 3.6) as (made, axes):
        axes.bar(
            months,
            shown[:, 4] - shown[:, 0],
            0.72,
            bottom=shown[:, 0],
            color=CREEK,
            alpha=0.18,
            label="90 % of the days",
        )
        axes.bar(
            months,
            shown[:, 3] - shown[:, 1],
            0.72,
            bottom=shown[:, 1],
            color=CREEK,
            alpha=0.45,
            label="half the days",
        )
        axes.hlines(
            shown[:, 2], months - 0.36, months + 0.36, color=INK, linewidth=2, label="median day"
        )
        keep = view.number(study.rights.keep_m3s, "flow")
        if np.any(keep > 0):
            axes.step(
                np.append(months - 0.5, 12.5),
                np.append(keep, keep[-1]),
                where="post",
                color=RUST,
                linewidth=1.4,
                label="residual flow",
            )
        axes.set(yscale="log", xlim=(0.5, 12.5), xticks=months, ylabel=view.header("flow", "flow"))
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        plain_log(axes)
        legend_above(axes)
    lowest = regime.leanest_month - 1
    return Picture(
        made,
        (
            f"Flow by month; the median day is lowest in {MONTH_NAMES[lowest]} with "
            f"{view.text(regime.median_of_month_m3s[lowest], 'flow')}."
        ),
    )


@needs(Study.flow_regime, quiet=True)
def month_words(study: Study, view: View, regime: FlowRegime) -> Words:
    """The lean months in words."""
    if regime.months_unseen:
        seen = [month for month in range(1, 13) if month not in regime.months_unseen]
        return Words(
            f"The record has days of {told_months(seen)} only; which month is leanest it cannot tell."
        )
    median = regime.median_of_month_m3s
    lean, rich = regime.leanest_month - 1, regime.richest_month - 1
    if not median[lean] > 0:
        dry = series_text([name for name, flow in zip(MONTH_NAMES, median) if flow == 0])
        return Words(
            f"On the median day of {dry} the creek is dry; that of {MONTH_NAMES[rich]} brings "
            f"{view.text(median[rich], 'flow')}."
        )
    return Words(
        f"{MONTH_NAMES[lean]} is the leanest month: its median day brings "
        f"{view.text(median[lean], 'flow')}; that of {MONTH_NAMES[rich]} brings "
        f"{view.text(median[rich], 'flow')}, {plain_number(median[rich] / median[lean], 2)} times "
        "as much."
        if median[rich] > 1.5 * median[lean]
        else (
            "The creek is even: the median days of all months are "
            f"{view.range(median[lean], median[rich], 'flow')}."
        )
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Plotting positions m/(n + 1): W. Weibull, as used for flow duration by J. K. Searcy, "
        "USGS Water-Supply Paper 1542-A, 1959.",
        "Low-flow statistics: WMO-No. 1029, Manual on Low-flow Estimation and Prediction, 2008.",
        (
            "Log-Pearson III by moments: Interagency Advisory Committee on Water Data, Bulletin "
            "17B, 1982. Extreme values by L-moments: J. R. M. Hosking and J. R. Wallis, Regional "
            "Frequency Analysis, 1997."
        ),
        (
            "Base flow by filter: V. Lyne and M. Hollick, 1979, as A. R. Ladson and others, "
            "Australian Journal of Water Resources 17(1), 2013."
        ),
        "MOVE.1: R. M. Hirsch, Water Resources Research 18(4), 1982.",
        (
            "Rules on residual flow are examples: D. L. Tennant, 1975; Swiss Waters Protection "
            "Act (SR 814.20), art. 31."
        ),
    )
