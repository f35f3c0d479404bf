"""Page 09, trends: what the log shows over the years, one small panel for each thing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    CREEK,
    GROUND,
    INK,
    LEAF,
    PALE,
    RUST,
    SMALL,
    figure,
    thousands,
)
from ..common import needs

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....study.build.trends import HealthByJets, Trends

__all__ = ["trend_figure", "trend_words"]

_MOST_JETS = 5  # panels for numbers of jets


@needs(Study.trends, quiet=True)
def trend_figure(study: Study, view: View, found: Trends) -> Picture | Words:
    """Watts in health by jets open, days since the screen was cleaned, temperature, through the log."""
    by_jets = found.by_jets[-_MOST_JETS:]
    cleaned, warm = (
        np.isfinite(each).any() for each in (found.since_clean_days, found.temperature_k)
    )
    panels = len(by_jets) + int(cleaned) + int(warm)
    if not panels:
        return Words("")
    with figure(7.4, 0.4 + 0.86 * panels, panels, 1, sharex=True, squeeze=False) as (made, grid):
        axes = list(grid[:, 0])
        for each in axes:
            for start, end in found.gaps:
                each.axvspan(start, end, color=PALE, alpha=0.6, linewidth=0, hatch="///")
        for each, panel in zip(by_jets, axes):
            _health_axes(panel, view, found, each)
        rest = axes[len(by_jets) :]
        if cleaned:
            rest[0].plot(found.time, found.since_clean_days, color=LEAF, linewidth=1.2)
            rest[0].set(ylim=(0, None))
            _named(rest[0], "days since a cleaning of the screen brought the water back")
        if warm:
            rest[-1].plot(
                found.time,
                view.number(found.temperature_k, "temperature"),
                color=CREEK,
                linewidth=0.9,
                marker=".",
                markersize=3,
            )
            name = (
                "water temperature"
                if found.of_water
                else "air temperature (water is not written down)"
            )
            _named(rest[-1], view.header(name, "temperature"))
    return Picture(made, _told(view, found, by_jets))


def _health_axes(axes: Axes, view: View, found: Trends, each: HealthByJets) -> None:
    """Healthy readings with so many jets, their months, and what was commissioned."""
    kind = "power" if found.basis == "watts" else "gauge pressure"
    axes.plot(
        each.time,
        view.number(each.value_si, kind),
        linestyle="",
        marker=".",
        markersize=3,
        color=GROUND,
    )
    axes.plot(
        each.month,
        view.number(each.monthly_si, kind),
        color=INK,
        linewidth=1.4,
        marker="o",
        markersize=2.5,
    )
    if np.isfinite(each.commissioned_si):
        axes.axhline(
            float(view.number(each.commissioned_si, kind)),
            color=RUST,
            linewidth=1,
            linestyle=(0, (5, 2)),
        )
    jets = f"{each.jets} jet{'' if each.jets == 1 else 's'}"
    dashed = "; dashed: commissioned" if np.isfinite(each.commissioned_si) else ""
    _named(axes, view.header(f"{found.basis} in health, {jets}", kind) + dashed)
    thousands(axes.yaxis)


def _named(axes: Axes, name: str) -> None:
    axes.set_title(name, fontsize=SMALL, fontweight="normal", pad=2)
    axes.tick_params(labelsize=SMALL)
    axes.locator_params(axis="y", nbins=3)


@needs(Study.trends, quiet=True)
def trend_words(study: Study, view: View, found: Trends) -> Words:
    """What the panels show."""
    return Words(
        _told(view, found, found.by_jets)
        + (
            " Hatched: more than three weeks without a reading; what lies between is not known, "
            "and no line crosses it."
        )
        if found.gaps
        else _told(view, found, found.by_jets)
    )


def _told(view: View, found: Trends, by_jets: tuple[HealthByJets, ...]) -> str:
    moved = [
        (
            f"{'rose' if each.change > 0 else 'fell'} by "
            f"{plain_number(100 * abs(each.change), 2)} % with {each.jets} open"
        )
        for each in by_jets
        if each.sure
    ]
    steady = [str(each.jets) for each in by_jets if np.isfinite(each.change) and not each.sure]
    text = ""
    if moved:
        text += (
            f"From the first third of the log to the last the {found.basis} in health "
            f"{series_text(moved)}. "
        )
    if steady:
        text += (
            f"With {series_text(steady)} open {'they' if found.basis == 'watts' else 'it'} "
            "changed by no more than readings scatter. "
        )
    if np.isfinite(found.longest_days):
        text += (
            "The longest without a cleaning that brought the water back was "
            f"{found.longest_days:.0f} days, up to {found.longest_day}. "
        )
    if np.isfinite(found.coldest_k):
        what = "The water" if found.of_water else "The air"
        text += (
            f"{what} was {view.range(found.coldest_k, found.warmest_k, 'temperature', 2)} at the "
            "readings."
        )
    return text.strip()
