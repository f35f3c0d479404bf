"""Page 02, second part: how low the creek goes, how high it comes, and what the intake must survive."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ....errors import counted
from ....sentences import capital, plain_number, series_text
from ....stream.frequency import Quantile
from ....stream.low_flow import Recession
from ....study.build.extremes import (
    LEAN_WEEK,
    available_in_lean_week,
    flood_season,
    peak_factor,
    yearly_extremes,
)
from ....study.questions.floods import flood_kind
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import BAND, CREEK, INK, RUST, SUN, figure, legend_above, plain_log
from ..common import bold, needs

if TYPE_CHECKING:
    from ....study.build.extremes import IntakeFlood, YearlyExtremes

__all__ = ["extremes_figure", "flood_table", "flood_words", "low_table", "low_words"]


def _limits(found: Quantile, view: View, kind: str = "flow") -> str:
    if not np.isfinite([found.low_m3s, found.high_m3s]).all():
        return ""
    return " to ".join(
        plain_number(float(view.number(each, kind))) for each in (found.low_m3s, found.high_m3s)
    )


def _remarks(found: Quantile, view: View) -> str:
    return "; ".join(map(view.told, found.findings))


@needs(Study.low_flows)
def low_table(
    study: Study, view: View, low_flows: tuple[tuple[str, Quantile | Recession | float | str], ...]
) -> Table:
    """Low-flow quantiles by both methods, mean yearly minima, base flow and recession."""
    return Table(
        ("what", view.header("flow or share", "flow"), "limits, 90 %", "remark"),
        [_low_row(name, found, view) for name, found in low_flows],
        "How low the creek goes",
    )


def _low_row(
    name: str, found: Quantile | Recession | float | str, view: View
) -> tuple[str, float | str, str, str]:
    if isinstance(found, str):
        return name, np.nan, "", view.told(found)
    if isinstance(found, Recession):
        told = (
            "steady"
            if not np.isfinite(found.days)
            else f"falls to a third (1/e) in {plain_number(found.days, 2)} days without rain"
        )
        spread = f"{100 * found.low:.1f} to {100 * found.high:.1f} % (half of all spells)"
        return (
            "tomorrow's share of today's flow, in a dry spell",
            f"{100 * found.constant:.1f} %",
            spread,
            "; ".join([told, *map(view.told, found.findings)]),
        )
    if isinstance(found, float):
        return (
            (name, f"{100 * found:.0f} %", "", "what seeps out rather than runs off")
            if "share" in name
            else (name, float(view.number(found, "flow")), "", "")
        )
    how = (
        ""
        if not found.flow_m3s > 0
        else _LAWS[found.method]
        if found.method in _LAWS
        else "no distribution assumed, no limits"
    )
    return (
        name,
        float(view.number(found.flow_m3s, "flow")),
        _limits(found, view),
        "; ".join(filter(None, (how, _remarks(found, view)))),
    )


_LAWS = {"lp3": "log-Pearson III", "gev": "generalised extreme value, of -log Q"}


@needs(Study.low_flows, quiet=True)
def low_words(
    study: Study, view: View, low_flows: tuple[tuple[str, Quantile | Recession | float | str], ...]
) -> Words:
    """What the lean week of ten years leaves for the plant."""
    found = dict(low_flows)
    lean, kept = found[LEAN_WEEK], available_in_lean_week(study)
    if not isinstance(lean, Quantile):
        return Words(
            f"The lowest week of ten years cannot be told yet: {view.told(str(lean))}. The "
            "driest years decide whether the plant carries a house; a long gauge nearby would "
            "tell of them."
        )
    if kept is None or not lean.flow_m3s > 0:
        dry = [view.told(each) for each in lean.findings if "ran dry" in each.message]
        return Words(
            "In the lowest week of one year in ten the creek is dry, and the plant "
            f"stops{'; ' + dry[0] if dry else ''}."
        )
    left = (
        f"{view.text(min(kept), 'flow')}"
        if max(kept) - min(kept) < 1e-9
        else f"{view.range(min(kept), max(kept), 'flow')} by month"
    )
    text = (
        "Once in ten years the mean of the lowest week falls to "
        f"{bold(view.text(lean.flow_m3s, 'flow'))} or less"
        + (
            f" (90 % interval {view.range(lean.low_m3s, lean.high_m3s, 'flow')})"
            if np.isfinite(lean.low_m3s)
            else ""
        )
    )
    text += (
        f"; of that, {left} may be taken. "
        if max(kept) > 0
        else "; nothing of that may be taken, and the plant stops. "
    )
    other = found["the same, by plotting positions"]
    if isinstance(other, Quantile) and lean.flow_m3s > 0:
        apart = other.flow_m3s / lean.flow_m3s - 1
        text += f"Read from the yearly minima alone it is {view.text(other.flow_m3s, 'flow')}" + (
            ", the same within a tenth."
            if abs(apart) < 0.1
            else (
                f", {100 * abs(apart):.0f} % {'more' if apart > 0 else 'less'}: the tail is not "
                "settled by these years."
            )
        )
    return Words(text)


@needs(Study.floods, Study.intake_flood)
def flood_table(
    study: Study,
    view: View,
    floods: tuple[tuple[float, Quantile | str, Quantile | str], ...],
    wanted: IntakeFlood,
) -> Table:
    """Floods by return period, by both distributions, with their limits."""
    rows, asked = [], study.answer("flood.intake")
    kind = "flow" if asked is None else asked.kind
    for years, pearson, extreme in (
        *floods,
        (wanted.return_period_years, wanted.flows[0][1], wanted.flows[1][1]),
    ):
        cells: list[Any] = []
        for found in (pearson, extreme):
            cells += (
                [np.nan, ""]
                if isinstance(found, str)
                else [float(view.number(found.flow_m3s, kind)), _limits(found, view, kind)]
            )
        refused = [each for each in (pearson, extreme) if isinstance(each, str)]
        beyond = "" if isinstance(pearson, str) else _beyond(pearson, view)
        rows.append(
            (
                view.shown(study.answer("flood.return_period"))
                if years == wanted.return_period_years
                else f"{plain_number(years)} years",
                f"{plain_number(100 / years)} %",
                *cells,
                "; ".join(map(view.told, dict.fromkeys(refused))) if refused else beyond,
            )
        )
    if asked is not None and not isinstance(rows[-1][2], str) and np.isfinite(rows[-1][2]):
        rows[-1] = (*rows[-1][:2], view.shown(asked, unit=False), *rows[-1][3:])
    unit = view.label(kind)
    columns = (
        "return period",
        "chance in any year (AEP)",
        f"log-Pearson III [{unit}]",
        "limits, 90 %",
        f"extreme value [{unit}]",
        "limits, 90 %",
        "remark",
    )
    return Table(
        columns,
        rows,
        (
            "Floods, from daily means, with their annual exceedance probability (AEP); the last "
            "row is the one the intake must survive"
        ),
        mark=(len(rows) - 1,),
    )


def _beyond(found: Quantile, view: View) -> str:
    """The remarks that are of one return period, not of all."""
    return "; ".join(
        view.told(each)
        for each in found.findings
        if "of record" in each.message or "of peaks" in each.message
    )


@needs(Study.intake_flood, quiet=True)
def flood_words(study: Study, view: View, wanted: IntakeFlood) -> Words:
    """What the intake must survive, when floods come, and what flood marks say."""
    said = (
        "as the site file says"
        if wanted.given
        else "assumed here; write life and flood_risk under [intake]"
    )
    text = (
        f"An intake that is to stand {counted(round(wanted.life_years), 'year')} and may be "
        f"overtopped with a chance of {100 * wanted.risk:.0f} % ({said}) must survive the flood "
        f"of {bold(view.shown(study.answer('flood.return_period')))}"
    )
    known = [found for _, found in wanted.flows if not isinstance(found, str)]
    if not known:
        return Words(
            f"{text}. How great that is cannot be told from this record: "
            f"{view.told(str(wanted.flows[0][1]))}. Look for flood marks, and ask who has "
            "lived here longest."
        )
    first = study.answer("flood.intake")
    kind = "flow" if first is None else first.kind
    beside = "".join(
        f" (the other distribution gives {view.text(each.flow_m3s, kind)})" for each in known[1:]
    )
    text += (
        f": {view.shown(first)} as a daily mean{beside}. The momentary peak of a small creek is "
        "higher, often more than twice as high. "
    )
    odd = [each for each in known[0].findings if "outlier" in each.message]
    text += "".join(f"{capital(view.told(each))}. " for each in odd)
    return Words((text + _season(study) + _marks(study, view, known[0])).rstrip())


def _season(study: Study) -> str:
    found = flood_season(study)
    if found is None:
        return ""
    text = (
        f"The yearly flood came most often in {series_text(found.months)} ({found.most} of "
        f"{counted(found.years, 'year')}" + (" each" if len(found.months) > 1 else "") + ")"
    )
    if found.concentration > 0.6:
        return (
            f"{text}; most floods keep near their mean date, in {found.mean_month}: have the "
            "intake clear well before it. "
        )
    return (
        f"{text}, but it may come at any time of the year. "
        if found.concentration < 0.3
        else f"{text}; its mean date lies in {found.mean_month}, loosely. "
    )


def _marks(study: Study, view: View, design: Quantile) -> str:
    marks = study.field_sheets.get("flood marks")
    if marks is None:
        return ""
    ratio = marks.flow_m3s / design.flow_m3s
    compared = "above" if ratio > 1.1 else "below" if ratio < 0.9 else "about as great as"
    factor = peak_factor(study)
    return (
        "Flood marks in the creek tell of a peak of "
        f"{bold(view.text(marks.flow_m3s, flood_kind(marks.flow_m3s), 2))} ± "
        f"{100 * marks.uncertainty:.0f} % (one standard deviation), {compared} that flood as a "
        "daily mean"
        + ("; build for the peak." if ratio > 0.9 else ".")
        + (
            ""
            if factor is None
            else (
                f" That peak stood {plain_number(factor, 2)} times above the mean of its day, and "
                "the weir is judged by as much."
            )
        )
    )


@needs(yearly_extremes, Study.intake_flood)
def extremes_figure(
    study: Study,
    view: View,
    found_in_both: tuple[YearlyExtremes, YearlyExtremes],
    intake: IntakeFlood,
) -> Picture | Words:
    """Yearly floods and yearly lowest weeks against their return period, with the curves through them."""
    wanted = intake.return_period_years
    floods, weeks = found_in_both
    panels = (("yearly flood, daily mean", RUST), ("lowest 7 days of the year", CREEK))
    with figure(7.4, 3.5, 1, 2) as (made, axes):
        shown = 0
        for panel, found, (name, colour) in zip(axes, found_in_both, panels):
            positive = found.flow_m3s > 0
            if positive.any():
                panel.plot(
                    found.return_years[positive],
                    view.number(found.flow_m3s[positive], "flow"),
                    "o",
                    color=INK,
                    markersize=4,
                    label="years of the record",
                )
                shown += 1
            if found.curve:
                x = [years for years, _ in found.curve]
                low, flow, high = (
                    view.number([getattr(each, end) for _, each in found.curve], "flow")
                    for end in ("low_m3s", "flow_m3s", "high_m3s")
                )
                panel.fill_between(
                    x, low, high, color=colour, alpha=BAND, linewidth=0, label="90 % limits"
                )
                panel.plot(x, flow, color=colour, label="log-Pearson III")
            if found is found_in_both[0]:
                panel.axvline(
                    wanted,
                    color=SUN,
                    linewidth=1.4,
                    linestyle=(0, (4, 2)),
                    label=f"the intake's: {wanted:g} years",
                )
            if positive.any() or found.curve:
                plain_log(panel)
            else:
                panel.text(
                    0.5,
                    0.5,
                    "no flow in any year",
                    transform=panel.transAxes,
                    ha="center",
                    color=INK,
                )
                panel.set_yticks([])
            panel.set_xscale("log")
            panel.set(
                xlabel="return period [years]",
                ylabel=view.header(name, "flow"),
                xticks=[2, 5, 10, 20, 50, 100],
                xlim=(1, 1.1 * max(100.0, wanted)),
            )
            panel.set_xticklabels(["2", "5", "10", "20", "50", "100"])
            panel.minorticks_off()
            legend_above(panel, 2)
    if not shown:
        return Words(
            "*No year of the record is whole, so there is no yearly flood or lowest week to draw.*"
        )
    return Picture(
        made,
        "Left: yearly floods against their return period, with the curve through them and its "
        f"limits; the greatest of {counted(len(floods.flow_m3s), 'year')} is "
        f"{view.text(floods.flow_m3s.max(), flood_kind(floods.flow_m3s.max()))}. Right: the "
        "lowest week of each year, the same way; the least is "
        f"{view.text(weeks.flow_m3s.min(), 'flow')}.",
    )
