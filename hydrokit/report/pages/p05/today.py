"""What a plant that runs today gives, by jets, and between which figures its year lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....energy.levels import SECURE, SECURE_NAME
from ....sentences import plain_number, series_text
from ....study.build.in_hand import brims
from ....study.build.log import by_log
from ....study.build.metering import metered_at
from ....study.study import Study
from ....study.view import View
from ... import next_measurements
from ...display import Picture, Table, Words
from ...style import (
    BAND,
    CREEK,
    INK,
    LEAF,
    MONTH_LETTERS,
    MONTH_NAMES,
    RUST,
    SUN,
    figure,
    legend_above,
    thousands,
)
from ..common import all_jets, needs, value

if TYPE_CHECKING:
    from ....energy.bracket import Bracket
    from ....running.baseline import Baseline
    from ....running.history import History
    from ....running.log_year import LogYear
    from ....running.missing import Missing
    from ....site.readings import Readings
    from ....site.sheets import FieldGaugings

__all__ = [
    "bracket_figure",
    "bracket_words",
    "headline",
    "today_figure",
    "today_table",
    "today_words",
]


def headline(study: Study, view: View) -> Words:
    """Today's plant in two sentences, and its year as far as it is known."""
    fitted, logged = study.baseline, by_log(study)
    year = None if logged else study.bracket
    if fitted is None and year is None and not logged:
        if not study.exists:
            return Words(
                "**Not known yet.** Without a daily record, and without gaugings and a "
                "described plant, the year is not known."
            )
        return Words(
            "**Not known yet.** Without a daily record and without readings at the powerhouse "
            "the year is not known. Read the gauge with the jets shut and with each number of "
            f"jets open while {brims(study)}."
        )
    if fitted is None:
        described = (
            ""
            if year is None
            else f"A year of this plant, as described, lies {_bracketed(study, year)}"
        )
        return Words(_logged(study, view) if logged else described)
    text = (
        f"With {all_jets(len(fitted.jets))} fed the plant passes "
        f"**{view.shown(study.answer('capacity.jets'))}**"
    )
    if np.isfinite(fitted.power_w[-1]):
        text += (
            f" and gives **{view.shown(study.answer('plant.healthy_power'))}** at the meter, "
            f"{view.shown(study.answer('plant.efficiency'))} of the water's power at the jets"
        )
    text += ". "
    if logged:
        text = f"{_logged(study, view)} {text}"
    elif year is not None:
        text += f"Its year lies {_bracketed(study, year)}"
    return Words(text.strip())


def _logged(study: Study, view: View) -> str:
    """The year by the log, and what faults took of it."""
    made = study.answer("energy.log")
    text = (
        f"By its own log a year of this plant brings **{view.shown(made)}** at the loads "
        f"(P50{_metered(study, view)}); one year lies within {view.interval(made)} with 90 % "
        f"probability, and exceeds {view.shown(study.answer(f'energy.log.p{SECURE}'))} with "
        f"{SECURE} % ({SECURE_NAME})."
    )
    return (
        f"{text} Faults took {view.shown(study.answer('energy.log.faults'))} of it: the healthy "
        f"plant would have made {view.shown(study.answer('energy.log.healthy'))} of the same "
        "water."
    )


def _metered(study: Study, view: View) -> str:
    """What the meter read, where something between it and the loads takes its share."""
    if not value(study, "energy.log.metered") > 1.001 * value(study, "energy.log"):
        return ""
    return f"; {view.shown(study.answer('energy.log.metered'))} at the meter, at the {metered_at(study.site)}"


def _bracketed(study: Study, year: Bracket) -> str:
    days = 0 if study.gaugings is None else len(study.gaugings)
    return (
        f"somewhere between **{plain_number(year.low_kwh, 2)} and "
        f"{plain_number(year.high_kwh, 2)} kWh**: a bracket, not a forecast, because the creek "
        f"was measured on {'one day' if days == 1 else 'a few days'} only."
    )


def _zero_pa(study: Study) -> float:
    """What the gauge shows with no pressure on it: fitted pressures are free of it, the gauge is not."""
    return study.site.penstock.gauge_zero


@needs(Study.baseline)
def today_words(study: Study, view: View, fitted: Baseline) -> Words:
    """What the readings show, and what they cannot tell."""
    missing, zero = study.missing, _zero_pa(study)
    text = (
        f"With the jets shut the gauge shows {view.shown(study.answer('pressure.shut_off'))}; "
        f"with all of them open {view.text(fitted.pressure_pa[-1] + zero, 'gauge pressure')}. The "
        "difference is the head loss of the penstock: "
        f"{view.shown(study.answer('loss.penstock'))} ± "
        f"{view.text(fitted.loss_sd_m[-1], 'head', 1)}"
    )
    if fitted.has_line:
        low, high = fitted.interval("loss")
        factor = fitted.estimate["loss"]
        judged = (
            "as expected of such a pipe"
            if low <= 1 <= high
            else (
                "more than a clean pipe: a valve not fully open, air, or growth"
                if factor > 1
                else "less than its size and length give: check both"
            )
        )
        text += (
            f", {plain_number(factor, 2)} times the "
            f"{view.shown(study.answer('loss.penstock_clean'))} calculated for a clean pipe of "
            f"that size and length ({plain_number(low, 2)} to {plain_number(high, 2)} with 90 % "
            f"probability), which is {judged}"
        )
    text += ". "
    if missing is not None:
        text += _against_the_stated(study, view, missing)
    if fitted.cannot_tell:
        text += (
            "These readings cannot separate: " + "; ".join(map(view.told, fitted.cannot_tell)) + "."
        )
    return Words(text)


def _against_the_stated(study: Study, view: View, missing: Missing) -> str:
    """What was read against a clean pipe and the efficiency that is stated: the plant as read stays
    the healthy one."""
    found, healthy = study.answer("plant.efficiency"), study.answer("plant.healthy_power")
    text = f"From the jets to the meter {view.shown(found)} were found"
    if found is not None:
        text += f"; {found.beside().source} is {view.shown(found.beside())}"
    if healthy is not None:
        clean = [
            healthy.beside(number)
            for number, each in enumerate(healthy.set_aside)
            if each.source.startswith("the clean pipe")
        ]
        text += "".join(
            f", which with a clean pipe would give {view.shown(each)}" for each in clean[:1]
        )
    short, sd = missing.missing_w[-1], missing.sd_w[-1]
    text += (
        f": {view.text(short, 'power', 2)} less was read, {_where_missing(missing, view)}. "
        if short > 2 * sd
        else ": within their uncertainty the readings are no lower. "
    )
    return (
        text
        + "The plant as it was read is the healthy baseline for gauge card, diagnosis and log. "
    )


def _where_missing(missing: Missing, view: View) -> str:
    """The missing watts by pipe and machine; one of the two may be better than it should be."""
    pipe, machine = float(missing.pipe_w[-1]), float(missing.machine_w[-1])
    told = [
        f"{view.text(watts, 'power', 2)} {where}"
        for watts, where in ((pipe, "in the pipe"), (machine, "in runner, generator and wire"))
        if watts > 0
    ]
    back = min(pipe, machine)
    if back < 0:
        told.append(
            f"and {view.text(-back, 'power', 2)} gained back by a "
            f"{'pipe' if back == pipe else 'machine'} better than calculated"
        )
    return ", ".join(told)


@needs(Study.baseline, Study.readings, quiet=True)
def today_figure(study: Study, view: View, fitted: Baseline, seen: Readings) -> Picture:
    """Pressure and power by number of jets: read, fitted, and with a clean pipe and the stated efficiency."""
    missing, jets, zero = study.missing, fitted.jets, _zero_pa(study)
    with figure(7.4, 3.2, 1, 2) as (made, (left, right)):
        middle, spread = (
            view.number(fitted.pressure_pa + zero, "pressure"),
            view.number(fitted.pressure_sd_pa, "pressure"),
        )
        left.fill_between(
            jets,
            middle - 1.96 * spread,
            middle + 1.96 * spread,
            color=CREEK,
            alpha=BAND,
            linewidth=0,
        )
        left.plot(jets, middle, color=CREEK, label="fitted, 95 %")
        good = np.array([each is not False for each in seen.spilling])
        left.plot(
            seen.jets[good],
            view.number(seen.pressure_pa[good] + zero, "pressure"),
            "o",
            color=INK,
            markersize=4.5,
            label="read",
        )
        if (~good).any():
            left.plot(
                seen.jets[~good],
                view.number(seen.pressure_pa[~good] + zero, "pressure"),
                "x",
                color=RUST,
                markersize=6,
                label="forebay not spilling",
            )
        left.set(
            xlabel="jets open",
            ylabel=view.header("gauge pressure", "pressure"),
            xticks=np.arange(0, jets[-1] + 1),
        )
        left.set_ylim(bottom=0)
        legend_above(left)
        if np.isfinite(fitted.power_w).all():
            spread = fitted.power_sd_w
            right.fill_between(
                jets,
                fitted.power_w - 1.96 * spread,
                fitted.power_w + 1.96 * spread,
                color=CREEK,
                alpha=BAND,
                linewidth=0,
            )
            right.plot(jets, fitted.power_w, color=CREEK, label="fitted")
            running = good & (seen.jets > 0)
            right.plot(
                seen.jets[running],
                seen.power_w[running],
                "o",
                color=INK,
                markersize=4.5,
                label="read",
            )
            short = ~good & (seen.jets > 0)
            right.plot(seen.jets[short], seen.power_w[short], "x", color=RUST, markersize=6)
            if missing is not None:
                right.plot(
                    jets,
                    missing.healthy_w,
                    color=LEAF,
                    linestyle=(0, (5, 2)),
                    label="clean pipe, stated efficiency",
                )
            right.set(
                xlabel="jets open",
                ylabel=view.header("power", "power"),
                xticks=np.arange(0, jets[-1] + 1),
            )
            right.set_ylim(bottom=0)
            thousands(right.yaxis)
            legend_above(right)
        else:
            right.set_visible(False)
    watts = (
        f" and {view.text(fitted.power_w[-1], 'power')}"
        if np.isfinite(fitted.power_w[-1])
        else "; no watts were read"
    )
    return Picture(
        made,
        (
            "Gauge pressure and power against jets open; with all open "
            f"{view.text(fitted.pressure_pa[-1] + zero, 'gauge pressure')}{watts}."
        ),
    )


@needs(Study.baseline, quiet=True)
def today_table(study: Study, view: View, fitted: Baseline) -> Table:
    """By jets open: what the gauge should read, flow, loss, power."""
    missing, rows = study.missing, []
    for number, jets in enumerate(fitted.jets):
        if not np.isfinite(fitted.flow_m3s[number]):
            continue  # of jets of unlike bores a number does not say which are open
        rows.append(
            (
                int(jets),
                float(view.number(fitted.pressure_pa[number] + _zero_pa(study), "pressure")),
                float(view.number(fitted.flow_m3s[number], "flow")),
                f"± {100 * fitted.flow_sd_m3s[number] / fitted.flow_m3s[number]:.0f} %",
                float(view.number(fitted.loss_m[number], "head")),
                float(fitted.power_w[number]),
                "" if missing is None else float(missing.healthy_w[number]),
                "" if missing is None else float(missing.missing_w[number]),
            )
        )
    columns = (
        "jets",
        view.header("gauge", "pressure"),
        view.header("flow", "flow"),
        "flow, one standard deviation",
        view.header("head loss", "head"),
        "power [W]",
        "clean pipe, stated efficiency [W]",
        "short of that [W]",
    )
    return Table(columns, rows, "The plant by number of jets, as fitted to the readings")


def bracket_figure(study: Study, view: View) -> Picture | Words:
    """The energy of each month: by the log where there is one, else between which figures it lies."""
    return _log_figure(study, view) if by_log(study) else _bracket_figure(study, view)


@needs(Study.log_year, quiet=True)
def _log_figure(study: Study, view: View, found: LogYear) -> Picture:
    months = np.arange(1, 13)
    made = study.answer("energy.log")
    with figure(7.4, 2.9) as (drawn, axes):
        axes.bar(months, found.monthly_kwh, 0.7, color=CREEK, label="made, mean of the log")
        if study.bracket is not None:
            low, high = (study.bracket.monthly[name].to_numpy() for name in ("low_kwh", "high_kwh"))
            axes.vlines(
                months,
                low,
                high,
                color=SUN,
                linewidth=2,
                label="bracket of the gaugings, set aside",
            )
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="energy of the month [kWh]")
        axes.set_xticklabels(MONTH_LETTERS)
        axes.set_ylim(bottom=0)
        axes.grid(axis="x", visible=False)
        thousands(axes.yaxis)
        legend_above(axes)
    least = int(np.argmin(found.monthly_kwh))
    return Picture(
        drawn,
        (
            f"Energy of each month by the log, together {view.shown(made)} a year; least in "
            f"{MONTH_NAMES[least]}: {plain_number(found.monthly_kwh[least], 2)} kWh."
        ),
    )


@needs(Study.bracket, Study.gaugings, quiet=True)
def _bracket_figure(study: Study, view: View, bracket: Bracket, gaugings: FieldGaugings) -> Picture:
    table, months = bracket.monthly, np.arange(1, 13)
    with figure(7.4, 2.9) as (made, axes):
        low, high = table["low_kwh"].to_numpy(), table["high_kwh"].to_numpy()
        axes.bar(months, high - low, 0.7, bottom=low, color=SUN, alpha=0.6, label="somewhere here")
        gauged = sorted({int(str(np.datetime64(day, "M"))[5:7]) for day in gaugings.date})
        axes.plot(
            gauged,
            np.full(len(gauged), 0.02 * high.max()),
            "^",
            color=RUST,
            markersize=7,
            label="months with a gauging",
        )
        axes.set(xlim=(0.5, 12.5), xticks=months, ylabel="energy of the month [kWh]")
        axes.set_xticklabels(MONTH_LETTERS)
        axes.set_ylim(bottom=0)
        axes.grid(axis="x", visible=False)
        thousands(axes.yaxis)
        legend_above(axes)
    return Picture(
        made,
        (
            "Bracket of the energy of each month, from a few gaugings; together "
            f"{plain_number(bracket.low_kwh, 2)} to {plain_number(bracket.high_kwh, 2)} kWh a "
            "year."
        ),
    )


def bracket_words(study: Study, view: View) -> Words:
    """The year: by the log where there is one; else the bracket, why it is wide, and what would narrow it."""
    return _log_words(study, view) if by_log(study) else _bracket_words(study, view)


@needs(Study.log_year, Study.history, quiet=True)
def _log_words(study: Study, view: View, found: LogYear, history: History) -> Words:
    """What the log made year by year, how sure a year is, what faults cost, and what is set aside."""
    made = study.answer("energy.log")
    whole = series_text([f"{plain_number(each)} kWh" for each in found.years_kwh])
    text = (
        f"The log of {history.years:.1f} years made {whole} in its whole "
        f"year{'' if len(found.years_kwh) == 1 else 's'}. "
        if len(found.years_kwh)
        else f"The log of {history.years:.1f} years holds every month, but no twelve of them in a row. "
    )
    text += (
        f"A year brings {view.shown(made)}; with 90 % probability one year lies within "
        f"{view.interval(made)}: {100 * found.single_sd:.0f} % (one standard deviation), of which "
        "year-to-year variability is the most (that of the log, and "
        f"{view.shown(study.answer('assumed.years_sd'))} as if seen in four more years, common "
        "practice), and the meters and the days between readings the rest. The energy above is "
        "what the plant made and the loads received, with the stops and faults of the log. "
    )
    if found.lost_kwh:
        worst = series_text(
            [
                f"{cause} {plain_number(kwh, 2)} kWh"
                for cause, kwh in list(found.lost_kwh.items())[:4]
            ]
        )
        text += (
            f"Faults took {view.shown(study.answer('energy.log.faults'))} a year ({worst}); the "
            f"healthy plant would have made {view.shown(study.answer('energy.log.healthy'))} of "
            "the same water. "
        )
    if study.bracket is not None:
        text += (
            "\n\nSet aside: the few gaugings alone would give "
            f"{plain_number(study.bracket.low_kwh, 2)} to "
            f"{plain_number(study.bracket.high_kwh, 2)} kWh, a bracket."
        )
    return Words(text.strip())


@needs(Study.bracket)
def _bracket_words(study: Study, view: View, found: Bracket) -> Words:
    reasons = "\n".join(f"- {view.told(each)}" for each in found.reasons)
    steps = "\n".join(
        f"{number}. {each[0].upper()}{each[1:]}"
        for number, each in enumerate(next_measurements.lines(study, view), 1)
    )
    return Words(
        f"A year of this plant makes between **{plain_number(found.low_kwh, 2)} and "
        f"{plain_number(found.high_kwh, 2)} kWh**, stops not counted. No median is given: so few "
        f"readings do not support one. Why the bracket is so wide:\n\n{reasons}\n\nWhat to "
        f"measure next, in order of what it narrows:\n\n{steps}"
    )
