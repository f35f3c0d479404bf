"""Page 02: how much water there is through the year, and how much may be taken."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...errors import counted
from ...stream.duration import TABLE, flow_duration
from ...stream.rules import told_months
from ..days_site import fed_steps
from ..display import Picture, Table, View, Words, plain_number, series_text
from ..machines_site import opened
from ..site import HALF_AT_WORST, taken
from ..stream_site import lean_flow
from ..style import (
    BAND,
    CREEK,
    ICE,
    INK,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    figure,
    legend_above,
    plain_log,
)
from .common import needs, sources

__all__ = [
    "bypassed_figure",
    "bypassed_words",
    "curve_figure",
    "curve_table",
    "curve_words",
    "extension_table",
    "gaps_words",
    "headline",
    "heat_figure",
    "month_figure",
    "month_words",
    "references",
    "rights_table",
    "rights_words",
    "year_curves_figure",
    "year_curves_words",
    "years_figure",
]

_EXCEEDANCE = np.linspace(0.005, 0.995, 199)


@needs("record", headline=True)
def headline(study: Any, view: View) -> Words:
    """The answer in two sentences."""
    curve, usable = study.duration, taken(study).dropna()
    low, high = curve.band_si(0.5, 0.9)
    half = float(curve.flow_at_si(0.5))
    part = f"{100 * usable.mean() / study.record.mean():.0f} %"
    share = (
        f"of the whole water, {part} {_MAY}."
        if _may(study) == _MAY
        else f"{_may(study)} {part} of the whole water."
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


def _may(study: Any) -> str:
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
    low, high = curve.band_si(_EXCEEDANCE, 0.9)
    usable = flow_duration(taken(study).dropna()).flow_at_si(_EXCEEDANCE)
    days = 365 * _EXCEEDANCE
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
            view.number(curve.flow_at_si(_EXCEEDANCE), "flow"),
            color=CREEK,
            label="in the creek",
        )
        shown = np.where(usable > 0, usable, np.nan)
        axes.plot(
            days, view.number(shown, "flow"), color=LEAF, linestyle=(0, (5, 2)), label=_may(study)
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
            f"{_may(study)} [{unit}]",
        ),
        rows,
        "Flow duration",
    )


@needs("record", quiet=True)
def years_figure(study: Any, view: View) -> Picture:
    """Every year over the calendar, the median and the driest year stressed."""
    from ...stream.record import WATER_YEAR, whole_years, year_labels

    record = study.record
    label = year_labels(record.index, WATER_YEAR)
    whole = tuple(whole_years(record, WATER_YEAR))
    years = whole or tuple(np.unique(label))
    smooth = record.rolling(7, center=True, min_periods=1).mean()
    totals = {year: float(record[label == year].mean()) for year in years}
    driest = min(totals, key=totals.get)
    with figure(7.4, 3.6) as (made, axes):
        matrix = []
        for year in years:
            values = _of_water_year(smooth[label == year], view)
            axes.plot(np.arange(len(values)), values, color=ICE, linewidth=0.6, alpha=0.8)
            if np.isfinite(values).all():
                matrix.append(values)
        if len(matrix) > 2:
            axes.plot(np.arange(365), np.median(matrix, axis=0), color=CREEK, label="median year")
        name = f"{'driest: ' if len(whole) > 1 else ''}{driest - 1}/{driest % 100:02d}"
        axes.plot(
            np.arange(365),
            _of_water_year(smooth[label == driest], view),
            color=RUST,
            linewidth=1.4,
            label=name,
        )
        starts = np.cumsum([0, 31, 30, 31, 31, 28, 31, 30, 31, 30, 31, 31])
        axes.set(
            yscale="log",
            xlim=(0, 365),
            ylabel=view.header("flow, mean of 7 days", "flow"),
            xticks=starts + 15,
        )
        axes.set_xticklabels([MONTH_LETTERS[(9 + each) % 12] for each in range(12)])
        axes.grid(axis="x", visible=False)
        plain_log(axes)
        legend_above(axes)
    if not whole:
        return Picture(
            made,
            f"Flow on the days of record from October {years[0] - 1} to September {years[-1]}; no year of it is whole.",
        )
    told = (
        f"every year from October to September; the driest is {driest - 1}/{driest},"
        if len(whole) > 1
        else f"the year {driest - 1}/{driest} from October to September,"
    )
    return Picture(made, f"Flow of {told} with a mean of {view.text(totals[driest], 'flow')}.")


def _of_water_year(flow: Any, view: View) -> np.ndarray:
    """The flows of one year on the 365 days from October on, each at its place; the 366th is left out."""
    values = np.full(366, np.nan)
    start = np.datetime64(f"{flow.index[0].year - (flow.index[0].month < 10)}-10-01")
    values[(flow.index.to_numpy() - start).astype("timedelta64[D]").astype(int)] = view.number(
        flow.to_numpy(), "flow"
    )
    return values[:365]


_ENOUGH_DAYS = 20  # of a month, for its mean


@needs("record")
def heat_figure(study: Any, view: View) -> Any:
    """Month by month and year by year, how each stands among its like."""
    record = study.record
    table = record.groupby([record.index.year, record.index.month]).agg(["mean", "count"])
    mean = (
        table["mean"].where(table["count"] >= _ENOUGH_DAYS).unstack().reindex(columns=range(1, 13))
    )
    if not mean.notna().any(axis=None):
        return Words(
            f"*No month has {_ENOUGH_DAYS} days of record, so months cannot be set beside each other.*"
        )
    mean = mean.reindex(range(mean.index[0], mean.index[-1] + 1))
    rank = (mean.rank() - 0.5) / mean.notna().sum()
    years, flows = len(mean), view.number(mean.to_numpy(), "flow")
    numbers = years <= 24
    with figure(7.4, float(np.clip(1.1 + (0.24 if numbers else 0.14) * years, 2.2, 9.0))) as (
        made,
        axes,
    ):
        shown = axes.imshow(
            np.ma.masked_invalid(rank.to_numpy()),
            cmap=_dry_to_wet(),
            vmin=0,
            vmax=1,
            aspect="auto",
            interpolation="none",
        )
        if numbers:
            for row, column in zip(*np.nonzero(np.isfinite(flows))):
                dark = rank.iloc[row, column] > 0.78 or rank.iloc[row, column] < 0.15
                axes.text(
                    column,
                    row,
                    plain_number(float(flows[row, column]), 2),
                    ha="center",
                    va="center",
                    fontsize=7,
                    color="white" if dark else INK,
                )
        every = 1 if years <= 24 else 5
        axes.set(xticks=range(12), yticks=range(0, years, every))
        axes.set_xticklabels(MONTH_LETTERS)
        axes.set_yticklabels(mean.index[::every])
        axes.set_xlabel(view.header("numbers: mean of the month", "flow") if numbers else "month")
        axes.grid(False)
        axes.tick_params(length=0)
        bar = made.colorbar(shown, ax=axes, ticks=[0.05, 0.5, 0.95], aspect=30, pad=0.02)
        bar.ax.set_yticklabels(["driest", "middle", "wettest"])
        bar.outline.set_visible(False)
    span = f"from {mean.index[0]} to {mean.index[-1]}" if years > 1 else f"of {mean.index[0]}"
    return Picture(
        made,
        f"Mean flow of every month {span}, coloured from the driest to the wettest of its calendar month.",
    )


def _dry_to_wet() -> Any:
    """Rust for dry, blue for wet, pale between: apart for every eye, and on paper."""
    from matplotlib.colors import LinearSegmentedColormap

    made = LinearSegmentedColormap.from_list(
        "dry to wet", ["#7a3416", RUST, "#e6c9a8", "#f4f1ea", "#a9cbd8", CREEK, "#0f3650"]
    )
    return made.with_extremes(bad="#ffffff")


@needs("record")
def year_curves_figure(study: Any, view: View) -> Any:
    """Curves of a median, a wet and a dry year, over those of all years."""
    curve = study.duration
    if not curve.whole.any():
        return Words("*No year of the record is whole, so years cannot be set beside each other.*")
    days = 365 * _EXCEEDANCE
    each = np.atleast_2d(curve.year_curves_si(_EXCEEDANCE))
    each = np.where(each > 0, each, np.nan)
    with figure(7.4, 3.6) as (made, axes):
        for number, year in enumerate(each):
            axes.plot(
                days,
                view.number(year, "flow"),
                color=ICE,
                linewidth=0.7,
                alpha=0.8,
                label="every year" if not number else None,
            )
        for share, colour, style, name in (
            (0.9, LEAF, (0, (5, 2)), "wet year, one in ten"),
            (0.5, CREEK, "-", "median year"),
            (0.1, RUST, (0, (1, 1.5)), "dry year, one in ten"),
        ):
            values = np.asarray(curve.typical_year_si(_EXCEEDANCE, share))
            axes.plot(
                days,
                view.number(np.where(values > 0, values, np.nan), "flow"),
                color=colour,
                linestyle=style,
                label=name,
            )
        axes.set(
            xlim=(0, 365),
            xlabel="days a year the flow is reached or exceeded",
            ylabel=view.header("flow", "flow"),
        )
        if np.isfinite(each).any():
            plain_log(axes)
        legend_above(axes)
    return Picture(
        made,
        f"Duration curves of {len(each)} {'year' if len(each) == 1 else 'years'}, with those of a median, a wet and a dry year.",
    )


@needs("record", quiet=True)
def year_curves_words(study: Any, view: View) -> Words:
    """How far a dry year lies below a median one."""
    curve = study.duration
    if not curve.whole.any():
        return Words("")
    count = len(curve.year_curves_si(np.array([0.5])))
    if count < 5:
        return Words(
            f"{'One year shows' if count == 1 else f'{count} years show'} little of how years differ; ten or more would."
        )
    dry, middle, wet = (float(curve.typical_year_si(0.5, share)) for share in (0.1, 0.5, 0.9))
    lean = [float(curve.typical_year_si(0.9, share)) for share in (0.1, 0.5)]
    return Words(
        f"Half the days of a median year bring {view.text(middle, 'flow')} or more, of a dry year {view.text(dry, 'flow')}, of a wet one {view.text(wet, 'flow')}. "
        + (
            f"On nine days in ten a median year brings at least {view.text(lean[1], 'flow')}, a dry one only {view.text(lean[0], 'flow')}: "
            if lean[1] > 0
            else "More than one day in ten of a median year is dry: "
        )
        + "a plant that must carry a house is sized by the dry year."
    )


@needs("record", quiet=True)
def gaps_words(study: Any, view: View) -> Words:
    """Where the record has gaps, and which were filled."""
    found = study.gaps
    if not len(found):
        return Words("The record has no gap.")
    listed = [
        f"{counted(int(row.days), 'day')} from {row.first:%Y-%m-%d}{' (filled)' if row.filled else ''}"
        for row in found.head(6).itertuples(index=False)
    ]
    more = f", and {len(found) - 6} more, none longer" if len(found) > 6 else ""
    told = (
        "Filled were only gaps up to the length the site file allows, along the recession: a filled gap never shows a flood."
        if found["filled"].any()
        else "None was filled; fill_gaps under [stream] says up to how many days may be."
    )
    return Words(
        f"The record has {counted(len(found), 'gap')}, {counted(int(found['days'].sum()), 'day')} together: {series_text(listed) if not more else ', '.join(listed)}{more}. {told}"
    )


@needs("extension_ways", quiet=True)
def extension_table(study: Any, view: View) -> Table:
    """How well each way of lengthening the record foretells days that were held back."""
    rows = []
    for way, found in study.extension_ways:
        chosen = "taken" if found is study.extension else ""
        if isinstance(found, str) or found.skill is None:
            rows.append(
                (
                    _WAYS[way],
                    "",
                    "",
                    "",
                    "",
                    view.told(found)
                    if isinstance(found, str)
                    else "no days in common to try it on",
                )
            )
            continue
        skill = found.skill
        rows.append(
            (
                _WAYS[way],
                f"{100 * skill.volume_ratio:.0f} %",
                f"{plain_number(skill.factor)} times",
                f"{skill.efficiency:.2f}",
                f"{skill.log_efficiency:.2f}",
                chosen,
            )
        )
    own = study.extension
    tie = (
        f"; correlation of the logarithms {own.correlation:.2f} over {own.overlap_days:,} days in common"
        if np.isfinite(own.correlation)
        else ""
    )
    return Table(
        (
            "way",
            "volume foretold",
            "typical error of a day",
            "efficiency, 1 is perfect",
            "the same on logarithms",
            "remark",
        ),
        rows,
        f"The record lengthened by a neighbour's: each part of the common days left out in turn{tie}",
    )


_WAYS = {
    "move1": "line of equal variance (MOVE.1)",
    "area": "ratio of the catchments",
    "duration": "from duration curve to duration curve",
}


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
            f"{_may(study)}, mean [{unit}]",
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
    days, curve = 365 * _EXCEEDANCE, flow_duration(left)
    with figure(7.4, 3.2) as (made, axes):
        shown = [
            np.where(each > 0, each, np.nan)
            for each in (study.duration.flow_at_si(_EXCEEDANCE), curve.flow_at_si(_EXCEEDANCE))
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
