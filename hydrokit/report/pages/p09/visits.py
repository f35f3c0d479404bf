"""Page 09: what faults cost, and how often a visit is worth it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....running.drift import DRIFTS
from ....running.history import CAUSES
from ....sentences import plain_number, series_text
from ....study.build.upkeep import DAY_S
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    GROUND,
    INK,
    LEAF,
    MONTH_NAMES,
    ON_LINES,
    RUST,
    SMALL,
    figure,
    legend_above,
)
from ..common import needs
from .seasons import KWH, day_words, kwh_words

if TYPE_CHECKING:
    from ....running.drift import Drift
    from ....running.history import Event, History
    from ....study.build.log import LogTold
    from ....study.build.upkeep import Upkeep

__all__ = ["clogging_words", "drift_words", "loss_table", "visit_figure", "visit_words"]


@needs(Study.history, Study.log_told, quiet=True)
def loss_table(study: Study, view: View, happened: History, told: LogTold) -> Table:
    """Energy lost to each cause."""
    rows = [
        (
            kind,
            len(happened.of(kind)),
            round(sum((event.days for event in happened.of(kind)), 0.0)),
            "under 1" if 0 < lost < 0.5 * KWH else lost / KWH,
            CAUSES[kind],
        )
        for kind, lost in told.lost_by_cause.items()
    ]
    return Table(
        ("cause", "times", "days in all", "lost [kWh a year]", "how it is known"),
        rows or [("none", 0, 0, 0.0, "")],
        "Energy lost to each cause, at the meter",
    )


@needs(Study.upkeep, quiet=True)
def clogging_words(study: Study, view: View, found: Upkeep) -> Words:
    """When the screen clogs, how fast, what a screen that cleans itself would save."""
    clogs = found.clogging
    if not clogs.spells:
        return Words(
            "The log shows no spell that a cleaning ended, so nothing can be said of how fast "
            "the screen clogs."
        )
    months = series_text([MONTH_NAMES[month - 1] for month in clogs.season])
    text = (
        f"The screen clogs above all in {months}: it then loses about {100 * found.rate:.0f} % of "
        f"its clean capacity every day. Clogging cost {kwh_words(found.clogging_j)} a year and "
        f"took {plain_number(found.cleanings, 2)} cleanings a year. "
    )
    rates = [rate for _, rate in clogs.spells]
    if len(rates) > 2:
        text += (
            f"Single spells gave {100 * min(rates):.1f} to {100 * max(rates):.1f} % a day: one "
            "storm can bring a week's leaves or needles. "
        )
    spared = found.spared
    text += (
        f"A screen that cleans itself would save at most {kwh_words(spared.energy_j)} and some "
        f"{plain_number(spared.visits, 2)} walks a year; a fifth of the losses and walks is "
        "assumed to remain (common practice)"
    )
    worth = study.answer("upkeep.self_cleaning")
    if worth is not None:
        text += f": {view.shown(worth)} a year"
    return Words(text + ".")


_NO_PRICE = (
    "To say how often a walk is worth it, write down what a walk is worth to you and what a kWh "
    'is worth: visit = 8 and value = "0.30 per kWh" under [costs].'
)


@needs(Study.upkeep, quiet=True)
def visit_figure(study: Study, view: View, found: Upkeep) -> Picture | Words:
    """What a day costs, against the time between cleanings."""
    cost = study.cleaning_cost
    if cost is None or found.best is None:
        return Words(
            "*Not shown: "
            f"{'no spell of clogging is in the log' if not found.clogging.spells else 'what a walk or a kWh is worth is not given'}.*"
        )
    best = found.best.interval_s / DAY_S
    days, walk, energy = cost.interval_s / DAY_S, cost.walk, cost.energy
    with figure(7.4, 2.6) as (made, axes):
        axes.plot(days, walk, color=GROUND, linestyle=(0, (5, 2)), label="walks")
        axes.plot(days, energy, color=RUST, linestyle=(0, (2, 1)), label="energy lost")
        axes.plot(days, walk + energy, color=CREEK, label="together")
        axes.axvline(best, color=LEAF, linewidth=1.2)
        axes.annotate(
            f"best: {best:.1f} days",
            (best, 0.9),
            xycoords=("data", "axes fraction"),
            xytext=(4, 0),
            textcoords="offset points",
            color=LEAF,
            fontsize=SMALL,
            bbox=ON_LINES,
        )
        if np.isfinite(found.usual_s) and found.usual_s / DAY_S < days[-1]:
            usual = found.usual_s / DAY_S
            axes.axvline(usual, color=INK, linewidth=0.9, linestyle=":")
            axes.annotate(
                f"as it was: {usual:.1f} days",
                (usual, 0.8),
                xycoords=("data", "axes fraction"),
                xytext=(-4, 0),
                textcoords="offset points",
                ha="right",
                fontsize=SMALL,
                bbox=ON_LINES,
            )
        axes.set(
            xlabel="days between cleanings",
            ylabel=f"cost [{view.currency} a day]",
            xlim=(0, days[-1]),
            ylim=(0, 2.5 * float((walk + energy).min())),
        )
        legend_above(axes)
    return Picture(
        made,
        f"Cost of walks and of energy lost against the days between cleanings; least at {best:.1f} days.",
    )


@needs(Study.upkeep, quiet=True)
def visit_words(study: Study, view: View, found: Upkeep) -> Words:
    """The interval worth the walk."""
    cost, costs = study.cleaning_cost, study.site.costs
    if not found.known:
        return Words("Without a spell of clogging in the log no interval can be calculated.")
    if cost is None or found.best is None or costs.value is None:
        shown = series_text(
            [
                f"{kwh_words(joules)}: {seconds / DAY_S:.1f} days"
                for joules, seconds in found.by_worth_s
            ]
        )
        return Words(
            f"{_NO_PRICE} If the screen passes just what the jets take, the best interval for "
            f"a walk worth {shown}."
        )
    best = found.best.interval_s / DAY_S
    first, last = (each / DAY_S for each in cost.near_s)
    text = (
        f"With {counted(found.jets, 'jet')} open, a walk worth {view.money(costs.visit)} and a "
        f"kWh worth {view.money(costs.value * KWH, 2)}, cleaning every **{best:.1f} days** costs "
        "least in the clogging season. "
    )
    if found.grace_s > 0.1 * DAY_S:
        text += (
            f"For about {found.grace_s / DAY_S:.1f} days after a cleaning enough water passes in "
            f"spite of what lies on the screen; then these jets lose {100 * found.fall:.0f} % of their water each "
            "day, and three times that share of their power. "
        )
    if np.isfinite(found.usual_s):
        usual = found.usual_s / DAY_S
        text += f"In the log {usual:.1f} days lay between cleanings" + (
            ", which is about right. "
            if first <= usual <= last
            else ", longer than pays. "
            if usual > best
            else ", sooner than pays. "
        )
    text += (
        f"Between {first:.1f} and {last:.1f} days it costs at most a fifth more. After a storm or "
        "the first frost, go sooner."
    )
    return Words(text)


@needs(Study.upkeep, Study.history, quiet=True)
def drift_words(study: Study, view: View, found: Upkeep, happened: History) -> Words:
    """What changes so slowly that no day shows it."""
    parts = [
        _gauge_words(view, event, agrees)
        for event, agrees in zip(found.gauge, found.agrees)
        if event.kind == "gauge off"
    ]
    if not found.drifts:
        parts.append(
            "No slow change of the watts or of the pressure is larger than the scatter of the readings."
            if happened.reference.basis == "watts"
            else "Without watts the log cannot tell a worn jet, silt and a worn machine apart."
        )
    parts += [_slow_words(each) for each in found.drifts]
    if happened.changes:
        parts.insert(0, _stretches_words(happened))
    return Words("\n\n".join(parts))


def _stretches_words(happened: History) -> str:
    """That the log is read in stretches, and where they meet."""
    days = series_text([f"{each.day} ({each.what})" for each in happened.changes])
    return (
        f"The plant was changed on {days}: the log is read in {len(happened.changes) + 1} "
        "stretches, each held against its own healthy readings. What was lost in a stretch is "
        "counted against the plant of that time; the usual watts shown are those of the last."
    )


_AGREES = {
    "spell": (
        "The commissioning agrees with what it showed in that time; that tells that they are the "
        "same gauge, or two alike, not that they are right."
    ),
    "rest": (
        "The commissioning agrees with what it showed in the rest of the log; that tells that "
        "they are the same gauge, or two alike, not that they are right."
    ),
    "": "",
}


def _gauge_words(view: View, event: Event, agrees: str) -> str:
    """That two gauges differ, or one before and after, and how to find out which is right."""
    way = "lower" if event.size < 0 else "higher"
    return (
        f"**From about {day_words(event.start)} to {day_words(event.end)} the gauge read "
        f"{view.text(abs(event.size), 'pressure', 2)} {way} than in the rest of the log**, at "
        "every number of jets, while the watts stayed: the gauge, not the plant. Which of the two "
        f"is right the log cannot tell. {_AGREES[agrees]}{' ' if agrees else ''}To find out: shut "
        "its own valve and bleed it, it must show zero; hold another gauge against it that is "
        "known to be right; or, the jets shut and the forebay full, compare it with the weight of "
        "the water by the surveyed drop from the forebay to the gauge."
    )


def _slow_words(drift: Drift) -> str:
    """A slow change: what, since when, whether it was undone, and what to do."""
    size, sd = 100 * drift.size, 100 * drift.sd
    what = {
        "one jet worn": f"one jet, always open, gained {size:.0f} ± {sd:.0f} % of its area",
        "all jets worn": f"all jets gained {size:.0f} ± {sd:.0f} % of their area",
        "loss grown": f"the loss in the pipe grew by {size:.0f} ± {sd:.0f} %",
        "machine losing": f"the machine lost {size:.1f} ± {sd:.1f} % of its power",
    }[drift.kind]
    shares = series_text(
        [
            f"{100 * share:+.0f} % with {count} jet{'s' if count > 1 else ''}"
            for count, share in drift.watts_share.items()
        ]
    )
    until = f" to {day_words(drift.end)[:10]}" if drift.repaired else ""
    text = (
        f"**Slowly, from about {day_words(drift.start)[:7]}{until}, {what}**: the watts in health "
        f"changed by {shares}. "
    )
    if drift.repaired:
        kept = drift.left / drift.size
        text += (
            "Then it was undone. "
            if kept < 0.1
            else f"Then it was undone in part: {100 * kept:.0f} % of it is left. "
        )
    else:
        text += f"To do: {DRIFTS[drift.kind]}. "
    if "worn" in drift.kind and not drift.repaired:
        text += (
            "More watts from a worn jet are no gain in low water: it uses more water, and meets "
            "the buckets less well."
        )
    return text.strip()
