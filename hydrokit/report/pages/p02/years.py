"""Page 02: how years and days differ, gaps, and the lengthened record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....sentences import plain_number, series_text
from ....stream.days import days_of
from ....study.build.flow_regime import typical_years, yearly_flows
from ....study.build.record import missing_days
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import (
    ABOVE_SHARE,
    CREEK,
    ICE,
    INK,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    SMALL,
    figure,
    legend_above,
    plain_log,
    share_of_days,
)
from ..common import needs
from .duration import EXCEEDANCE

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.colors import Colormap

    from ....stream.duration import Duration
    from ....stream.extend import Extension
    from ....study.build.flow_regime import TypicalYears, YearlyFlows
    from ....study.build.record_beside import Beside, Catchment
    from ....study.build.record_method import RecordMethod

__all__ = [
    "catchments_table",
    "extension_table",
    "gaps_words",
    "heat_figure",
    "method_words",
    "year_curves_figure",
    "year_curves_words",
    "years_figure",
]


@needs(Study.record, yearly_flows, quiet=True)
def years_figure(study: Study, view: View, record: pd.Series, found: YearlyFlows) -> Picture:
    """Every year over the calendar, the median and the driest year stressed."""
    from ....stream.record import WATER_YEAR, year_labels

    years, driest, whole = tuple(found.mean_m3s), found.driest, found.whole
    label = year_labels(days_of(record), WATER_YEAR)
    smooth = record.rolling(7, center=True, min_periods=1).mean()
    with figure(7.4, 3.6) as (made, axes):
        matrix = []
        for year in years:
            values = _of_water_year(smooth[label == year], view)
            axes.plot(np.arange(len(values)), values, color=ICE, linewidth=0.6, alpha=0.8)
            if np.isfinite(values).all():
                matrix.append(values)
        if len(matrix) > 2:
            axes.plot(np.arange(365), np.median(matrix, axis=0), color=CREEK, label="median year")
        name = f"{'driest: ' if whole and len(years) > 1 else ''}{driest - 1}/{driest % 100:02d}"
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
            (
                f"Flow on the days of record from October {years[0] - 1} to September "
                f"{years[-1]}; no year of it is whole."
            ),
        )
    told = (
        f"every year from October to September; the driest is {driest - 1}/{driest},"
        if len(years) > 1
        else f"the year {driest - 1}/{driest} from October to September,"
    )
    return Picture(
        made, f"Flow of {told} with a mean of {view.text(found.mean_m3s[driest], 'flow')}."
    )


def _of_water_year(flow: pd.Series, view: View) -> np.ndarray:
    """The flows of one year on the 365 days from October on, each at its place; the 366th is left out."""
    values = np.full(366, np.nan)
    start = np.datetime64(f"{flow.index[0].year - (flow.index[0].month < 10)}-10-01")
    values[(flow.index.to_numpy() - start).astype("timedelta64[D]").astype(int)] = view.number(
        flow.to_numpy(), "flow"
    )
    return values[:365]


_ENOUGH_DAYS = 20  # of a month, for its mean


@needs(Study.record)
def heat_figure(study: Study, view: View, record: pd.Series) -> Picture | Words:
    """Month by month and year by year, how each stands among its like."""
    table = record.groupby([days_of(record).year, days_of(record).month]).agg(["mean", "count"])
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
                    fontsize=SMALL,
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
        bar.ax.set_yticklabels(["driest", "median", "wettest"])
        bar.outline.set_visible(False)
    row, column = divmod(int(np.nanargmin(mean.to_numpy())), mean.shape[1])
    least = (
        f"{MONTH_NAMES[column]} {mean.index[row]}: "
        f"{view.text(float(mean.to_numpy(dtype=float)[row, column]), 'flow')}"
    )
    span = f"from {mean.index[0]} to {mean.index[-1]}" if years > 1 else f"of {mean.index[0]}"
    return Picture(
        made,
        (
            f"Mean flow of every month {span}, coloured from the driest to the wettest of its "
            f"calendar month; the least water came in {least}."
        ),
    )


def _dry_to_wet() -> Colormap:
    """Rust for dry, blue for wet, pale between: apart for every eye, and on paper."""
    from matplotlib.colors import LinearSegmentedColormap

    made = LinearSegmentedColormap.from_list(
        "dry to wet", ["#7a3416", RUST, "#e6c9a8", "#f4f1ea", "#a9cbd8", CREEK, "#0f3650"]
    )
    return made.with_extremes(bad="#ffffff")


@needs(Study.duration)
def year_curves_figure(study: Study, view: View, curve: Duration) -> Picture | Words:
    """Curves of a median, a wet and a dry year, over those of all years."""
    if not curve.whole.any():
        return Words("*No year of the record is whole, so years cannot be set beside each other.*")
    days = 365 * EXCEEDANCE
    each = np.atleast_2d(curve.year_curves_si(EXCEEDANCE))
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
            values = np.asarray(curve.typical_year_si(EXCEEDANCE, share))
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
        share_of_days(axes)
        legend_above(axes, over=ABOVE_SHARE)
    dry, median, wet = (
        view.text(float(curve.typical_year_si(0.5, share)), "flow") for share in (0.1, 0.5, 0.9)
    )
    return Picture(
        made,
        (
            f"Duration curves of {len(each)} {'year' if len(each) == 1 else 'years'}; half the "
            f"days bring {median} or more in a median year, {dry} in a dry and {wet} in a wet "
            "one."
        ),
    )


@needs(typical_years, quiet=True)
def year_curves_words(study: Study, view: View, found: TypicalYears) -> Words:
    """How far a dry year lies below a median one."""
    if found.count < _FEW_YEARS:
        return Words(
            f"{'One year shows' if found.count == 1 else f'{found.count} years show'} little "
            "of how years differ; ten or more would."
        )
    dry, median, wet = found.half_m3s
    dry_lean, lean, _ = found.lean_m3s
    return Words(
        f"Half the days of a median year bring {view.text(median, 'flow')} or more, of a dry year "
        f"{view.text(dry, 'flow')}, of a wet one {view.text(wet, 'flow')} (one year in ten is "
        "drier, one in ten wetter). "
        + (
            f"On 90 % of its days a median year brings at least {view.text(lean, 'flow')}, a "
            f"dry one only {view.text(dry_lean, 'flow')}: "
            if lean > 0
            else "More than 10 % of the days of a median year are dry: "
        )
        + "a plant that must carry a house is sized by the dry year."
    )


_FEW_YEARS = 5  # show little of how years differ


@needs(Study.gaps, quiet=True)
def gaps_words(study: Study, view: View, found: pd.DataFrame) -> Words:
    """Where the record has gaps, and which were filled."""
    if not len(found):
        return Words("The record has no gap.")
    listed = [
        f"{counted(int(days), 'day')} from {first:%Y-%m-%d}{' (filled)' if filled else ''}"
        for days, first, filled in found.head(6)[["days", "first", "filled"]].itertuples(
            index=False
        )
    ]
    more = f", and {len(found) - 6} more, none longer" if len(found) > 6 else ""
    told = (
        "Filled were only gaps up to the length the site file allows, along the recession: a "
        "filled gap never shows a flood."
        if found["filled"].any()
        else "None was filled; fill_gaps under [stream] says up to how many days may be."
    )
    return Words(
        f"The record has {counted(len(found), 'gap')}, {counted(missing_days(study), 'day')} "
        f"together: {series_text(listed) if not more else ', '.join(listed)}{more}. {told}"
    )


@needs(Study.record_method, quiet=True)
def method_words(study: Study, view: View, found: RecordMethod) -> Words:
    """How the record was made, its water against the catchment, and whether the years have a trend."""
    text = (
        "The record is "
        f"**{found.told}**{f', by {escape_markdown(found.by)}' if found.by else ''}: from "
        f"{found.first} to {found.last}, {_days_told(found)}, "
        f"{counted(found.whole_years, 'whole year')} counted from "
        f"{MONTH_NAMES[found.start_month - 1]} on. "
        f"{counted(found.gaugings, 'gauging') if found.gaugings else 'No gauging'} "
        f"{'stand' if found.gaugings > 1 else 'stands'} beside it. All its flows together may be "
        f"wrong by {100 * found.sd:.0f} % (one standard deviation)."
    )
    text += _beside_told(study.beside_record, view)
    if found.runoff_m is not None:
        text += (
            " Spread over the catchment, a mean year's water is "
            f"{view.text(found.runoff_m, 'small length')} deep"
        )
        text += (
            "."
            if found.coefficient is None
            else (
                f", {100 * found.coefficient:.0f} % of the rain and snow that falls (runoff "
                f"coefficient {found.coefficient:.2f})."
            )
        )
    if found.trend is not None:
        text += (
            f" The yearly means change by {view.text(found.trend.slope, 'flow', 2)} a year (Sen's "
            "slope); years without a trend change as much with a chance of "
            f"{100 * found.trend.p_value:.0f} % (test of Mann and Kendall)."
        )
    return Words(text)


def _days_told(found: RecordMethod) -> str:
    if not found.estimated_days:
        return counted(found.own_days, "day")
    return (
        f"{counted(found.own_days, 'day')} of its own and "
        f"{counted(found.estimated_days, 'day')} estimated from another creek"
    )


def _beside_told(found: Beside | None, view: View) -> str:
    """How far readings by hand lie off the record of the same days."""
    text = ""
    if found is None:
        return text
    if found.gaugings:
        spread = (
            f", with a spread of {100 * found.spread:.0f} % (one standard deviation)"
            if np.isfinite(found.spread)
            else ""
        )
        day = "the day" if found.gaugings == 1 else f"the {found.gaugings} days"
        text += (
            f" On {day} with a gauging in open water the flow gauged lies "
            f"{abs(100 * found.off):.0f} % {'above' if found.off >= 0 else 'below'} the "
            f"record{' in the median' if found.gaugings > 1 else ''}{spread}."
        )
    if found.staff:
        spread = (
            f", with a spread of {view.text(found.staff_spread_m, 'small length', 2)}"
            if np.isfinite(found.staff_spread_m)
            else ""
        )
        text += (
            f" {counted(found.staff, 'staff reading')} "
            f"{'stands' if found.staff == 1 else 'stand'} "
            f"{view.text(abs(found.staff_off_m), 'small length', 2)} "
            f"{'above' if found.staff_off_m >= 0 else 'below'} the "
            f"logger{' in the median' if found.staff > 1 else ''}{spread}."
        )
    return text


@needs(Study.catchments, quiet=True)
def catchments_table(study: Study, view: View, found: tuple[Catchment, ...]) -> Table:
    """The catchment beside the neighbour's: what falls on each, and what runs off, on the same days."""
    rows = [
        (
            each.whose,
            *(
                float(view.number(value, kind))
                for value, kind in (
                    (each.area_m2, "catchment"),
                    (each.altitude_m, "length"),
                    (each.rain_m, "small length"),
                    (each.mean_m3s, "flow"),
                    (each.runoff_m, "small length"),
                )
            ),
            f"{each.coefficient:.2f}" if np.isfinite(each.coefficient) else "",
        )
        for each in found
    ]
    shared = ", on the days that both records have" if len(found) > 1 else ""
    return Table(
        (
            "catchment",
            view.header("area", "catchment"),
            view.header("altitude", "length"),
            view.header("rain and snow a year", "small length"),
            view.header("mean flow", "flow"),
            view.header("runoff a year", "small length"),
            "runoff coefficient",
        ),
        rows,
        f"What falls on the catchment and what runs off{shared}; altitude is that of the intake or the gauge",
    )


@needs(Study.extension_ways, Study.extension, quiet=True)
def extension_table(
    study: Study,
    view: View,
    ways: tuple[tuple[str, Extension | str], ...],
    own: Extension,
) -> Table:
    """How well each way of lengthening the record foretells days that were held back."""
    rows = []
    for way, found in ways:
        chosen = "taken" if found is own else ""
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
    tie = (
        f"; correlation of the logarithms {own.correlation:.2f} over {own.overlap_days:,} days in common"
        if np.isfinite(own.correlation)
        else ""
    )
    return Table(
        (
            "way",
            "volume predicted",
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
