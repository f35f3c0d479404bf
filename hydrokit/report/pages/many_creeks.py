"""The page of many creeks: the ten best, and head against flow of all."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...energy.creeks import ASSUMED, Sifted
from ...errors import counted
from ...sentences import plain_number
from ...study.view import View
from ..display import Picture, Table, Words, escape_markdown
from ..many_creeks import Among
from ..style import CREEK, INK, figure, plain_label
from .common import cautions

__all__ = ["HEADING", "headline", "picture", "sections", "subject", "summary"]

HEADING = "Which of these creeks deserve a visit?"
_NAMED = 5  # creeks named in the picture
_LARGEST = 900.0  # area of the largest circle, in square points
_COUNTED = {"pelton": "jet", "turgo": "jet"}


def subject(among: Among) -> str:
    """What stands above the heading."""
    return f"{counted(len(among), 'creek')} of one table"


def headline(among: Among, view: View) -> Words:
    """The best, and how many there are."""
    if not among.best:
        return Words("**None of these creeks carries a plant** by what is known of them.")
    first = among.best[0]
    text = (
        f"**{escape_markdown(first.creek.name)}** first: {_energy(first)} a year with {_plant(first, view)}, "
        f"{_per_length(first, view)}. Of {counted(len(among), 'creek')} {among.sized:,} carry a plant."
    )
    return Words(text)


def summary(among: Among, view: View) -> list[str]:
    """The same in a few lines."""
    left = f", {among.mistaken:,} with mistakes in the table" if among.mistaken else ""
    lines = [f"{counted(len(among), 'creek')}: {among.sized:,} sized, {among.unsized:,} not{left}"]
    for each in among.best[:3]:
        lines.append(
            f"  {each.creek.name}: {_plant(each, view)}, {_energy(each)} a year, {_per_length(each, view)}"
        )
    lines += [
        f"  {each.creek.name}: not worked out: {view.told(each.reason)}"
        for each in among.without
        if each.reason
    ]
    return [*lines, "A first sieve. Taken as given:", *(f"  {line}" for line in ASSUMED)]


def sections(among: Among, view: View) -> list[object]:
    """What stands below the headline, from top to bottom."""
    found: list[object] = []
    if among.best:
        found += [
            f"## The {len(among.best)} best" if len(among.best) > 1 else "## The best",
            Words(
                "The order is by the energy for each length of pipe, since costs are not known. "
                "Visit the first of them with a bucket and a level before anything is planned."
            ),
            best_table(among, view),
            "## Where do they stand?",
            picture(among, view),
        ]
    if among.without:
        found += ["## Which carry no plant, and why?", without_table(among, view)]
    found += [
        "## What was taken as given?",
        Words("\n".join(f"- {escape_markdown(each)}." for each in ASSUMED)),
        cautions("rights", "estimate"),
    ]
    return found


def best_table(among: Among, view: View) -> Table:
    """The ten best with what they would be and bring."""
    rows = [
        (
            place,
            each.creek.name,
            float(view.number(each.creek.head_m, "head")),
            float(view.number(each.creek.length_m, "length")),
            float(view.number(each.design_m3s, "flow")),
            _machine(each),
            each.pipe,
            float(view.number(each.rated_w, "large power")),
            f"{plain_number(each.low_kwh, 2)} to {plain_number(each.high_kwh, 2)}",
            each.kwh / float(view.number(each.creek.length_m, "length")),
        )
        for place, each in enumerate(among.best, 1)
    ]
    columns = (
        "",
        "creek",
        view.header("head", "head"),
        view.header("pipe length", "length"),
        view.header("design flow", "flow"),
        "machine",
        "pipe",
        view.header("greatest power", "large power"),
        "energy of a mean year [kWh]",
        f"per length of pipe [kWh/{view.label('length')}]",
    )
    return Table(
        columns,
        rows,
        (
            "The best of the table. The range of the energy is that of flows smaller and larger "
            "than the neighbour tells"
        ),
        digits=2,
    )


def without_table(among: Among, view: View) -> Table:
    """Creeks without a plant, and rows with mistakes."""
    rows = [
        (
            each.creek.name,
            "; ".join(map(view.told, each.mistakes)) or view.told(each.reason),
        )
        for each in among.without
    ]
    count = among.unsized + among.mistaken
    more = f" The first {len(rows)} of {count:,}; the table has all" if count > len(rows) else ""
    return Table(("creek", "why"), rows, f"Not worked out.{more}")


def picture(among: Among, view: View) -> Picture:
    """Head against design flow, energy as the size of the circle; the best named."""
    drawn = among.drawn
    head = np.array([float(view.number(each.creek.head_m, "head")) for each in drawn])
    flow = np.array([float(view.number(each.design_m3s, "flow")) for each in drawn])
    share, largest = among.share_of_largest(), among.largest
    with figure(7.4, 4.6) as (made, axes):
        order = np.argsort(-share)  # the small in front of the large
        axes.scatter(
            flow[order],
            head[order],
            s=_LARGEST * share[order],
            color=CREEK,
            alpha=0.35,
            edgecolors=INK,
            linewidths=0.6,
        )
        best = among.best[:_NAMED]
        x, y = (
            [float(view.number(value, kind)) for value in values]
            for values, kind in (
                ([each.design_m3s for each in best], "flow"),
                ([each.creek.head_m for each in best], "head"),
            )
        )
        axes.plot(x, y, "P", color=INK, markersize=6, linestyle="none", label="one of the best")
        for place, each in enumerate(best):
            axes.annotate(
                f"{place + 1} {plain_label(each.creek.name, 18)}",
                (x[place], y[place]),
                xytext=(7, 5),
                textcoords="offset points",
                fontsize=8.5,
            )
        for shown in (1.0, 0.1):
            axes.scatter(
                [],
                [],
                s=_LARGEST * shown,
                color=CREEK,
                alpha=0.35,
                edgecolors=INK,
                linewidths=0.6,
                label=f"{plain_number(shown * largest.kwh, 2)} kWh a year",
            )
        _logarithmic(axes)
        axes.set(xlabel=view.header("design flow", "flow"), ylabel=view.header("head", "head"))
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=3,
            borderpad=1.2,
            columnspacing=2.2,
            handletextpad=1.4,
        )
    named = "; ".join(
        f"{each.creek.name} {view.text(each.creek.head_m, 'head', 2)} and "
        f"{view.text(each.design_m3s, 'flow', 2)}"
        for each in best
    )
    return Picture(
        made,
        f"Head against design flow of {counted(len(drawn), 'creek')}, energy as the size of the "
        f"circle. Best: {named}. Most energy: {largest.creek.name}, "
        f"{plain_number(largest.kwh, 2)} kWh a year.",
    )


def _logarithmic(axes: Any) -> None:
    """Both axes logarithmic, labelled in plain numbers, with some room for the circles."""
    from matplotlib.ticker import FuncFormatter, LogLocator

    for axis, scale in ((axes.xaxis, axes.set_xscale), (axes.yaxis, axes.set_yscale)):
        scale("log")
        axis.set_major_locator(LogLocator(base=10, subs=(1, 2, 5)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))
        axis.set_minor_formatter(FuncFormatter(lambda value, _: ""))
    axes.margins(0.12)


def _energy(each: Sifted) -> str:
    return f"{plain_number(each.low_kwh, 2)} to {plain_number(each.high_kwh, 2)} kWh"


def _machine(each: Sifted) -> str:
    return (
        f"{each.machine}, {counted(each.jets, 'jet')}" if each.machine in _COUNTED else each.machine
    )


def _plant(each: Sifted, view: View) -> str:
    return f"{view.text(each.design_m3s, 'flow', 2)}, {view.text(each.rated_w, 'large power', 2)}"


def _per_length(each: Sifted, view: View) -> str:
    value = each.kwh / float(view.number(each.creek.length_m, "length"))
    return f"{plain_number(value, 2)} kWh for each {view.label('length')} of pipe"
