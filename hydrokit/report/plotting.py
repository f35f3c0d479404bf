"""One call that draws a result: ``s.duration.plot()``, or ``workbook.plot(s.record)``.

The rooms below hold numbers and draw nothing; what can be drawn is one row of a table here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Callable

import numpy as np
import pandas as pd

from ..energy.accounts import Accounts
from ..energy.year import Year
from ..errors import HydrokitError
from ..plant.curve import PlantCurve
from ..sentences import series_text
from ..stream.duration import Duration
from ..stream.rating_curve import Rating
from ..study.answer import Answer
from ..study.build.part_load import PartLoad
from ..study.view import View
from ..works.profile import Profile
from .showing import reader
from .style import BAND, CREEK, INK, MONTH_LETTERS, STROKES, WIDE, figure, plain_log, thousands

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plot"]

_EXCEEDANCE = np.linspace(0.005, 0.995, 199)


def plot(result: object, ax: Axes | None = None, view: View | None = None) -> Axes:
    """Draw a result in the reader's units.

    Parameters
    ----------
    result
        A daily record, a duration curve, a rating, a surveyed profile, a curve of the plant, its
        efficiency at part load, a year, the accounts, or an answer by month.
    ax : Axes, optional
        Drawn into; a figure of its own where none is given.
    view : View, optional
        The reader's units; those of the notebook where none is given, else metric.

    Returns
    -------
    Axes

    Raises
    ------
    HydrokitError
        A result of which there is no figure.

    Examples
    --------
    >>> from hydrokit.study.view import View
    >>> days = pd.date_range("2024-01-01", periods=3, name="day")
    >>> plot(pd.Series([0.01, 0.02, 0.04], days, name="flow_m3s"), view=View()).get_ylabel()
    'flow [L/s]'
    """
    draw = next((how for kind, _, how in _DRAWN if isinstance(result, kind)), None)
    if draw is None:
        raise HydrokitError(
            f"plot(): there is no figure of a {type(result).__name__}; it draws "
            f"{series_text([name for _, name, _ in _DRAWN])}, for example plot(s.duration)"
        )
    if ax is None:
        with figure(WIDE, 3.2) as (_, ax):
            draw(ax, result, view or reader())
            return ax
    draw(ax, result, view or reader())
    return ax


def _record(axes: Axes, flow: pd.Series, view: View) -> None:
    axes.plot(flow.index, view.number(flow.to_numpy(), "flow"), color=CREEK, linewidth=0.9)
    axes.set_ylabel(view.header("flow", "flow"))
    if (flow.dropna() > 0).any():
        plain_log(axes)


def _duration(axes: Axes, curve: Duration, view: View) -> None:
    days = 365 * _EXCEEDANCE
    low, high = (view.number(each, "flow") for each in curve.band_si(_EXCEEDANCE))
    axes.fill_between(days, low, high, color=CREEK, alpha=BAND, linewidth=0, label="90 % band")
    axes.plot(days, view.number(curve.flow_at_si(_EXCEEDANCE), "flow"), color=CREEK)
    axes.set(
        xlim=(0, 365),
        xlabel="days a year the flow is reached or exceeded",
        ylabel=view.header("flow", "flow"),
    )
    plain_log(axes)


def _rating(axes: Axes, rating: Rating, view: View) -> None:
    low, high = float(rating.gauged_stage_m.min()), float(rating.gauged_stage_m.max())
    stage = np.linspace(low, high, 100)
    axes.plot(view.number(stage, "stage"), view.number(rating.flow_si(stage), "flow"), color=CREEK)
    axes.set(xlabel=view.header("stage", "stage"), ylabel=view.header("flow", "flow"))
    plain_log(axes)


def _profile(axes: Axes, found: Profile, view: View) -> None:
    axes.plot(view.number(found.distance_m, "length"), view.number(found.elevation_m, "length"))
    axes.set(
        xlabel=view.header("distance along the pipe", "length"),
        ylabel=view.header("level", "length"),
    )


def _year(axes: Axes, year: Year, view: View) -> None:
    months = np.arange(1, 13)
    axes.bar(months, year.monthly_kwh.to_numpy(), 0.75, color=CREEK, alpha=0.75)
    _by_month(axes, months, "energy of a mean month [kWh]")


def _accounts(axes: Axes, found: Accounts, view: View) -> None:
    axes.step(found.years, found.owner_flow.cumulated, where="mid", color=CREEK)
    axes.axhline(0.0, color=INK, linewidth=0.8)
    axes.set(xlabel="year", ylabel=f"money of the owner so far [{view.currency}]")
    thousands(axes.yaxis)


def _plant(axes: Axes, curve: PlantCurve, view: View) -> None:
    axes.plot(view.number(curve.flow_m3s, "flow"), curve.power_w, color=CREEK)
    axes.set(xlabel=view.header("available flow", "flow"), ylabel="power [W]")
    axes.set_ylim(bottom=0)
    thousands(axes.yaxis)


def _part_load(axes: Axes, found: PartLoad, view: View) -> None:
    flow = view.number(found.flow_m3s, "flow")
    for (colour, dashes), name, share in zip(
        STROKES, ("together", "pipe", "machine"), (found.together, found.pipe, found.machine)
    ):
        axes.plot(flow, 100 * share, color=colour, linestyle=dashes, label=name)
    axes.set(xlabel=view.header("available flow", "flow"), ylabel="efficiency [%]", ylim=(0, 102))
    axes.legend()


def _months(axes: Axes, answer: Answer, view: View) -> None:
    if np.shape(answer.value) != (12,):
        raise HydrokitError(
            f"plot(): {answer.key or 'the answer'} is one number; an answer by month is "
            "drawn, for example plot(s.answer('energy.month.p50'))"
        )
    months, kwh = np.arange(1, 13), answer.kind == "kWh"
    shown, low, high = (
        np.asarray(each, dtype=float) if kwh else view.number(each, answer.kind)
        for each in np.broadcast_arrays(answer.value, answer.low, answer.high)
    )
    axes.bar(months, shown, 0.75, color=CREEK, alpha=0.75)
    axes.vlines(months, low, high, color=INK, linewidth=1.2)
    unit = "[kWh]" if kwh else f"[{view.label(answer.kind)}]"
    _by_month(axes, months, f"{answer.key} {unit}")


def _by_month(axes: Axes, months: np.ndarray, title: str) -> None:
    axes.set(xticks=months, ylabel=title)
    axes.set_xticklabels(MONTH_LETTERS)
    axes.grid(axis="x", visible=False)
    thousands(axes.yaxis)


_DRAWN: tuple[tuple[type, str, Callable[[Any, Any, View], None]], ...] = (
    (pd.Series, "a daily record", _record),
    (Duration, "a duration curve", _duration),
    (Rating, "a rating", _rating),
    (Profile, "a surveyed profile", _profile),
    (PlantCurve, "a curve of the plant", _plant),
    (PartLoad, "the efficiency at part load", _part_load),
    (Year, "a year", _year),
    (Accounts, "the accounts", _accounts),
    (Answer, "an answer by month", _months),
)
