"""The owner's survey as a sketch: plan and profile of its points, not to scale for construction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import counted
from ..sentences import series_text
from .display import Picture, Words, escape_markdown
from .style import FILLS, INK, ON_LINES, SMALL, WIDE, figure, plain_label, thousands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Annotation
    from matplotlib.transforms import Bbox

    from ..study.build.sketch import Sketch
    from ..study.study import Study
    from ..study.view import View

__all__ = ["drawn_plan", "profile_parts", "survey_parts", "survey_words"]

_MOST_NAMES = 25  # written in the sketch
_STROKES = ("-", "--", "-.", ":")
_APART = 0.05  # share by which sketch and study may differ in a pipe's length before it is told


def survey_parts(study: Study, view: View) -> list[Words | Picture]:
    """Coordinates, sketch and what it shows; nothing where the owner gave none."""
    told, found = study.site.site.coordinates, study.sketch
    parts: list[Words | Picture] = []
    if told is not None:
        parts.append(Words(f"Coordinates, as the owner gives them: {escape_markdown(told)}."))
    if found is not None:
        parts += [survey_words(study, view, found), plan_figure(study, view, found)]
    return parts


def profile_parts(study: Study, view: View) -> list[Picture]:
    """The survey's profile; nothing where it has no levels."""
    found = study.sketch
    return [profile_figure(view, found)] if found is not None and found.levelled else []


def survey_words(study: Study, view: View, found: Sketch) -> Words:
    """What the sketch joins, how well its walk closes, and how long its lines are."""
    north = study.site.survey.north
    text = (
        "**The owner's own sketch, not to scale for construction.** It joins "
        f"{counted(len(found.places), 'point')} of the owner's survey as they were given; north "
        f"is {'not said which' if north is None else f'{north} north'}. No page counts with it. "
    )
    for name, missed in found.misses:
        share = missed / found.walked_m
        text += (
            f"The walk comes back to {escape_markdown(name)} and misses it by "
            f"{view.text(missed, 'length', 2)} of {view.text(found.walked_m, 'length')} "
            f"({100 * share:.1f} %): "
        )
        text += (
            "good for a compass. "
            if share <= _GOOD
            else "more than a compass should, so walk it again. "
        )
    for name in found.lines:
        text += _compared(study, view, found, name)
    return Words(text.rstrip())


_GOOD = 0.02  # of the length of a walk with compass and tape, common practice


def _compared(study: Study, view: View, found: Sketch, name: str) -> str:
    """The length of a line, beside the study's own where it is the penstock."""
    length = found.length_m(name)
    text = (
        f"{escape_markdown(name[0].upper() + name[1:])} measures {view.text(length, 'length')} in "
        "the sketch"
    )
    line = None if study.penstock is None else study.penstock
    if name.strip().lower() != "penstock" or line is None:
        return f"{text}. "
    laid = sum(float(each.length_m) for each in line.pipes)
    text += f", {view.text(laid, 'length')} in the study"
    if abs(length - laid) > _APART * laid:
        return (
            f"{text}: **the two differ by {100 * abs(length - laid) / laid:.0f} %, so one of them "
            "is wrong.** "
        )
    return f"{text}. "


def plan_figure(study: Study, view: View, found: Sketch) -> Picture:
    """Points and lines from above, north upwards, with a scale."""
    wide, tall = (max(each, 1e-9) for each in _size(found))
    return drawn_plan(view, found, (WIDE, float(np.clip(4.4 * tall / wide, 2.6, 3.0))), SMALL)


def drawn_plan(view: View, found: Sketch, inches: tuple[float, float], letters: float) -> Picture:
    """The plan at a size, with letters of so many points."""
    x, y = (
        np.array([float(view.number(getattr(each, axis), "length")) for each in found.places])
        for axis in ("x_m", "y_m")
    )
    with figure(*inches) as (made, axes):
        _lines(axes, view, found)
        axes.plot(x, y, "o", color=INK, markersize=letters / 2)
        names = [
            axes.annotate(
                plain_label(place.name, 18),
                (east, north),
                (4, 4),
                textcoords="offset points",
                fontsize=letters,
                bbox=ON_LINES,
            )
            for place, east, north in list(zip(found.places, x, y))[:_MOST_NAMES]
        ]
        axes.set_aspect("equal", adjustable="datalim")
        axes.margins(0.12, 0.2)
        thousands(axes.xaxis)
        thousands(axes.yaxis)
        axes.set_xlabel(view.header("east", "length"), fontsize=letters + 1)
        axes.set_ylabel(view.header("north", "length"), fontsize=letters + 1)
        axes.tick_params(labelsize=letters)
        axes.annotate(
            "N",
            (0.97, 0.97),
            (0, -3.2 * letters),
            xycoords="axes fraction",
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=letters + 2.5,
            arrowprops={"arrowstyle": "->", "color": INK},
        )
        narrow = inches[0] < WIDE
        axes.set_title(
            "Sketch plan by the owner"
            + (",\n" if narrow else ", ")
            + "not to scale for construction",
            fontsize=letters + 2,
        )
        if found.lines:
            axes.legend(loc="best", fontsize=letters)
        _part_names(made, names)
    named = series_text([plain_label(each.name, 18) for each in found.places[:6]])
    return Picture(
        made,
        (
            f"Sketch plan by the owner: {counted(len(found.places), 'point')} over "
            f"{view.text(float(np.hypot(*_size(found))), 'length', 2)}, among them {named}."
        ),
    )


def _part_names(made: Figure, names: list[Annotation]) -> None:
    """Take away the names that would lie over another; the first and the last of the survey stay."""
    made.draw_without_rendering()
    kept: list[Bbox] = []
    for name in [*names[:1], *names[:0:-1]]:
        box = name.get_window_extent()
        if any(box.overlaps(other) for other in kept):
            name.remove()
        else:
            kept.append(box)


def _size(found: Sketch) -> tuple[float, float]:
    return (
        float(np.ptp([each.x_m for each in found.places])),
        float(np.ptp([each.y_m for each in found.places])),
    )


def _lines(axes: Axes, view: View, found: Sketch) -> None:
    for number, (name, places) in enumerate(found.lines.items()):
        axes.plot(
            [float(view.number(each.x_m, "length")) for each in places],
            [float(view.number(each.y_m, "length")) for each in places],
            linestyle=_STROKES[number % len(_STROKES)],
            color=FILLS[number % len(FILLS)][0],
            label=plain_label(name, 24),
        )


def profile_figure(view: View, found: Sketch) -> Picture:
    """Elevation along each line that is levelled."""
    with figure(WIDE, 2.8) as (made, axes):
        falls = []
        for number, (name, places) in enumerate(found.levelled.items()):
            heights = [float(view.number(each.elevation_m, "length")) for each in places]
            axes.plot(
                [float(view.number(each, "length")) for each in found.along_m(name)],
                heights,
                marker="o",
                markersize=4,
                linestyle=_STROKES[number % len(_STROKES)],
                color=FILLS[number % len(FILLS)][0],
                label=plain_label(name, 24),
            )
            fall = places[0].elevation_m - places[-1].elevation_m
            falls.append(
                f"{plain_label(name, 24)} {'falls' if fall >= 0 else 'rises'} "
                f"{view.text(abs(fall), 'length')}"
            )
        thousands(axes.xaxis)
        thousands(axes.yaxis)
        axes.set(
            xlabel=view.header("level distance along it", "length"),
            ylabel=view.header("elevation", "length"),
        )
        axes.set_title("Sketch profile by the owner, heights drawn larger than lengths")
        axes.legend(loc="best")
    return Picture(made, f"Sketch profile by the owner: {series_text(falls)}.")
