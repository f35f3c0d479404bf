"""Page 02: how much water there is through the year, and how much may be taken."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....errors import counted
from ....sentences import plain_number, series_text
from ....stream.duration import TABLE, flow_duration
from ....stream.months import told_months
from ....study.build.days import fed_steps
from ....study.build.machines import opened
from ....study.build.record import lean_flow
from ....study.build.year import taken
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    BAND,
    CREEK,
    INK,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    figure,
    legend_above,
    plain_log,
)
from ..common import needs, sources

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


@needs("record", headline=True)
def headline(study: Any, view: View) -> Words:
    """The answer in two sentences."""
    curve, usable = study.duration, taken(study).dropna()
    low, high = curve.band_si(0.5, 0.9)
    half = float(curve.flow_at_si(0.5))
    part = f"{100 * usable.mean() / study.record.mean():.0f} %"
    share = (
        f"of the whole water, {part} {_MAY}."
        if taken_words(study) == _MAY
        else f"{taken_words(study)} {part} of the whole water."
    )
    unseen = _months_unseen(study)
    if unseen:
        days = counted(int(study.record.notna().sum()), "day")
        return Words(
            f"**There is no year of record yet:** of its {days} half bring **{view.text(half, 'flow')}** or more; {share} "
            f"Nothing is known of {told_months(unseen)}, and every figure below that speaks of a year rests on the other months alone."
        )
    first = f"Half the days of a year bring **{view.text(half, 'flow')}** or more (90 % sure it is {view.range(low, high, 'flow')}); {share}"
    steps = fed_steps(study)
    if not steps:
        lean, dry = float(curve.flow_at_si(0.95)), 365 * float(np.mean(study.record.dropna() <= 0))
        return Words(
            f"{first} Nineteen days in twenty bring at least {view.text(lean, 'flow')}."
            if lean > 0
            else f"{first} The creek is dry on {dry:.0f} days a year."
        )
    jets = f"{opened(study)}s"
    said = [
        f"{count} {jets if count > 1 else jets[:-1]} ({view.text(full, 'flow')}) {days:.0f} days"
        for count, full, days in reversed(steps)
    ]
    return Words(f"{first} Enough water to feed, a year: {series_text(said)}.")


_MAY = "may be taken"


def taken_words(study: Any) -> str:
    """What `taken` is: what a plant may take by rules with a memory depends on how much it can."""
    return "this plant may take" if study.rights.has_memory and study.plant is not None else _MAY


def _months_unseen(study: Any) -> list[int]:
    """Calendar months of which the record holds no day."""
    seen = set(study.record.dropna().index.month)
    return [month for month in range(1, 13) if month not in seen]


@needs("record")
def curve_figure(study: Any, view: View) -> Picture:
    """The duration curve with its band, what stays, what may be taken, the jets' steps."""
    curve = study.duration
    low, high = curve.band_si(EXCEEDANCE, 0.9)
    usable = flow_duration(taken(study).dropna()).flow_at_si(EXCEEDANCE)
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
                xytext=(4, 2),
                textcoords="offset points",
                color=RUST,
                fontsize=8,
            )
        axes.set(
            yscale="log",
            xlim=(0, 365),
            xlabel="days a year the flow is reached or exceeded",
            ylabel=view.header("flow", "flow"),
        )
        axes.set_ylim(bottom=0.5 * float(view.number(lean_flow(study), "flow")))
        plain_log(axes)
        legend_above(axes)
    q = {share: view.text(float(curve.flow_at_si(share)), "flow") for share in (0.1, 0.5, 0.95)}
    return Picture(
        made,
        f"Flow duration curve of {study.name}: exceeded 10 % of the days {q[0.1]}, half the days {q[0.5]}, 95 % {q[0.95]}; with a 90 % band and the flow that may be taken.",
    )


@needs("record", quiet=True)
def curve_words(study: Any, view: View) -> Words:
    """What the curve means and what would change it."""
    curve = study.duration
    low, high = curve.band_si(0.95, 0.9)
    doubt = study.record_uncertainty
    years = len(curve.years) if hasattr(curve, "years") else int(round(curve.days / 365.25))
    text = (
        f"The curve rests on {counted(curve.days, 'day')}. Its band holds two uncertainties: other years than these could have come, and the whole "
        f"record may read {100 * doubt:.0f} % high or low (one standard deviation). "
    )
    text += (
        f"The low end decides a winter: the flow exceeded on 95 % of the days is most likely {view.range(low, high, 'flow')}."
        if high > 0
        else "At its low end the creek is dry."
    )
    if _months_unseen(study):
        text += " **It leaves out the months without a record**, so it is the curve of those days and not of a year."
    elif years < 10:
        text += " With so few years the band says little about a dry decade; a long gauge nearby would say more."
    return Words(text)


@needs("record", quiet=True)
def curve_table(study: Any, view: View) -> Table:
    """Flow at 5, 10, … 99 % with its band, and what may be taken."""
    shares = TABLE
    curve, usable = study.duration, flow_duration(taken(study).dropna())
    low, high = curve.band_si(shares, 0.9)
    columns = [
        view.number(each, "flow")
        for each in (curve.flow_at_si(shares), low, high, usable.flow_at_si(shares))
    ]
    rows = [
        (f"{100 * share:.0f} %", round(365 * share), *(float(column[index]) for column in columns))
        for index, share in enumerate(shares)
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


@needs("record")
def month_figure(study: Any, view: View) -> Picture:
    """What each month brings: middle, half and nine tenths of its days; and what stays."""
    record = study.record.dropna()
    by_month = [record[record.index.month == month].to_numpy() for month in range(1, 13)]
    shares = np.array(
        [
            np.quantile(each, [0.05, 0.25, 0.5, 0.75, 0.95]) if len(each) else np.full(5, np.nan)
            for each in by_month
        ]
    )
    shown = view.number(shares, "flow")
    months = np.arange(1, 13)
    with figure(7.4, 3.6) as (made, axes):
        axes.bar(
            months,
            shown[:, 4] - shown[:, 0],
            0.72,
            bottom=shown[:, 0],
            color=CREEK,
            alpha=0.18,
            label="nine days in ten",
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
            shown[:, 2], months - 0.36, months + 0.36, color=INK, linewidth=2, label="middle day"
        )
        keep = view.number(study.rights.keep_m3s, "flow")
        if np.any(keep > 0):
            axes.step(
                np.append(months - 0.5, 12.5),
                np.append(keep, keep[-1]),
                where="post",
                color=RUST,
                linewidth=1.4,
                label="stays in the creek",
            )
        axes.set(yscale="log", xlim=(0.5, 12.5), xticks=months, ylabel=view.header("flow", "flow"))
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        plain_log(axes)
        legend_above(axes)
    lowest = int(np.nanargmin(shares[:, 2]))
    return Picture(
        made,
        f"Flow by month; the middle day is lowest in {MONTH_NAMES[lowest]} with {view.text(shares[lowest, 2], 'flow')}.",
    )


@needs("record", quiet=True)
def month_words(study: Any, view: View) -> Words:
    """The lean months in words."""
    record = study.record.dropna()
    middle = record.groupby(record.index.month).median()
    lean, rich = int(middle.idxmin()), int(middle.idxmax())
    if len(middle) < 12:
        return Words(
            f"The record has days of {told_months(middle.index)} only; which month is leanest it cannot tell."
        )
    if not middle[lean] > 0:
        dry = series_text([MONTH_NAMES[month - 1] for month in middle.index[middle == 0]])
        return Words(
            f"On the middle day of {dry} the creek is dry; {MONTH_NAMES[rich - 1]}'s brings {view.text(middle[rich], 'flow')}."
        )
    return Words(
        f"{MONTH_NAMES[lean - 1]} is the leanest month: its middle day brings {view.text(middle[lean], 'flow')}; "
        f"{MONTH_NAMES[rich - 1]}'s brings {view.text(middle[rich], 'flow')}, {plain_number(middle[rich] / middle[lean], 2)} times as much."
        if middle[rich] > 1.5 * middle[lean]
        else f"The creek is even: the middle days of all months are {view.range(middle[lean], middle[rich], 'flow')}."
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Plotting positions m/(n + 1): W. Weibull, as used for flow duration by J. K. Searcy, USGS Water-Supply Paper 1542-A, 1959.",
        "Low-flow statistics: WMO-No. 1029, Manual on Low-flow Estimation and Prediction, 2008.",
        "Log-Pearson III by moments: Interagency Advisory Committee on Water Data, Bulletin 17B, 1982. Extreme values by L-moments: J. R. M. Hosking and J. R. Wallis, Regional Frequency Analysis, 1997.",
        "Base flow by filter: V. Lyne and M. Hollick, 1979, as A. R. Ladson and others, Australian Journal of Water Resources 17(1), 2013.",
        "MOVE.1: R. M. Hirsch, Water Resources Research 18(4), 1982.",
        "Rules on residual flow are examples: D. L. Tennant, 1975; Swiss Waters Protection Act (SR 814.20), art. 31.",
    )
