"""How figures look: one style, colours told apart by everyone and on paper, a unit on every axis."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Iterator

import numpy as np

from ..errors import one_line
from ..stream.months import MONTH_NAMES
from .plot_settings import settings_from_elsewhere

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.colors import Colormap

__all__ = [
    "ABOVE_SHARE",
    "BAND",
    "CREEK",
    "GROUND",
    "FILLS",
    "ICE",
    "INK",
    "LEAF",
    "PALE",
    "RUST",
    "SMALL",
    "STROKES",
    "SUN",
    "TALLEST",
    "WARNING",
    "WIDE",
    "apart",
    "MONTH_LETTERS",
    "MONTH_NAMES",
    "ON_LINES",
    "figure",
    "folded",
    "legend_above",
    "near_to_far",
    "plain_label",
    "plain_log",
    "share_of_days",
    "thousands",
]

# Dark enough on white, apart in lightness as well as in hue.
INK, CREEK, RUST, LEAF, SUN, ICE, GROUND, PALE, WARNING = (
    "#1f2a30",
    "#1c5d84",
    "#b0532a",
    "#4f7a3a",
    "#c9962b",
    "#7fb3c8",
    "#8a7a66",
    "#d9d5cc",
    "#a3123a",
)
BAND = 0.22  # opacity of a band
# Lines and filled areas that stand beside each other, in this order: by dashes or hatch as well as by colour,
# since four of the colours are one grey.
STROKES: tuple[tuple[str, Any], ...] = (
    (CREEK, "-"),
    (RUST, (0, (5, 2))),
    (INK, (0, (1, 1.5))),
    (LEAF, (0, (5, 2, 1, 2))),
    (GROUND, (0, (9, 3))),
    (SUN, "-"),
)
FILLS = (
    (CREEK, ""),
    (RUST, "//"),
    (SUN, ""),
    (LEAF, "xx"),
    (ICE, ".."),
    (GROUND, "\\\\"),
    (INK, ""),
    ("#9b6fa0", "++"),
)
WIDE = 7.4  # inches: 188 mm, of which a page prints 156
TALLEST = (
    5.55  # inches, printed 118 mm tall with a figure as wide; a taller one would be printed smaller
)
SMALL = 8.5  # points: what is written small, 7 pt and a little in print
# The white ground of words that stand among lines.
ON_LINES = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
MONTH_LETTERS = list("JFMAMJJASOND")

_RULES: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9.5,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 9.5,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#e4e1da",
    "grid.linewidth": 0.7,
    "axes.axisbelow": True,
    "legend.frameon": False,
    "legend.fontsize": SMALL,
    "lines.linewidth": 1.8,
    "lines.solid_capstyle": "round",
    "axes.linewidth": 0.8,
    "xtick.major.width": 0.8,
    "ytick.major.width": 0.8,
    "hatch.linewidth": 0.6,
    "text.parse_math": False,  # a price in a name is no formula
}


def near_to_far() -> Colormap:
    """How far from the best: dark leaf at the best, sand, paper far off. Lightness alone tells it too."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(
        "near to far", ["#22341a", LEAF, "#a7a865", "#ddcfa4", "#f7f3ea"]
    )


@contextmanager
def figure(
    width: float = WIDE, height: float = 3.9, rows: int = 1, columns: int = 1, **choices: Any
) -> Iterator[tuple[Any, Any]]:
    """A figure and its axes in hydrokit's style; the style is left behind afterwards.

    Inches, and never so tall that its letters would be too small in print. With one row and one column
    the axes come alone, else as an array.
    """
    settings_from_elsewhere()
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with matplotlib.rc_context(_RULES):
        made = Figure(figsize=(width, min(height, TALLEST * width / WIDE)), layout="constrained")
        FigureCanvasAgg(made)
        yield made, made.subplots(rows, columns, **choices)


def plain_label(text: object, most: int = 48) -> str:
    """Text of a file as a label: on one line, cut short where long, never taken for a sign to hide it.

    >>> plain_label("_a\\nb"), len(plain_label("x" * 300))
    (' _a b', 48)
    """
    label = one_line(text, most)
    return f" {label}" if label.startswith("_") else label


def folded(text: str, most: int = 40) -> str:
    """A title on as many lines as it needs beside another.

    >>> folded("levelised cost of a useful kWh [crowns]", 30)
    'levelised cost of a useful kWh\\n[crowns]'
    """
    return "\n".join(textwrap.wrap(text, most, break_long_words=False))


def legend_above(axes: Axes, columns: int | None = None, over: float = 2.0) -> None:
    """A legend above the axes, where it covers nothing; in as many columns as there is room for.

    `columns` is the most of them, `over` the points between it and the axes.
    """
    handles, labels = axes.get_legend_handles_labels()
    if labels:
        fitting = _columns(labels, _room_points(axes))
        axes.legend(
            handles,
            labels,
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=min(columns or fitting, fitting),
            borderaxespad=over / SMALL,
            columnspacing=1.4,
        )


def apart(
    axes: Axes, labels: Sequence[tuple[float, str]], lines: int = 2
) -> list[tuple[float, str]]:
    """Labels of levels on a y axis, moved as far apart as so many lines of small letters need."""
    from matplotlib.transforms import IdentityTransform

    scale = axes.yaxis.get_transform() or IdentityTransform()
    ends = scale.transform(np.asarray(axes.get_ylim(), dtype=float))
    made = axes.get_figure(root=True)
    assert made is not None
    tall = 72 * made.get_figheight() * _AXES_SHARE
    step = lines * 1.25 * SMALL * float(ends[1] - ends[0]) / tall
    placed: list[tuple[float, str]] = []
    lowest = -np.inf
    for level, text in sorted(labels):
        at = max(float(scale.transform(np.array([level]))[0]), lowest)
        placed.append((float(scale.inverted().transform(np.array([at]))[0]), text))
        lowest = at + step
    return placed


_AXES_SHARE = 0.7  # of a figure's height, what its axes are at least


def share_of_days(axes: Axes) -> None:
    """A second scale above a duration curve drawn over days of a year: the share of the days."""
    above = axes.secondary_xaxis(
        "top",
        functions=(
            lambda days: np.asarray(days, dtype=float) / 3.65,
            lambda share: np.asarray(share, dtype=float) * 3.65,
        ),
    )
    above.set_xticks(range(0, 101, 10))
    above.set_xlabel("share of the days [%]", fontsize=SMALL)
    above.tick_params(labelsize=SMALL)


ABOVE_SHARE = 32.0  # points between axes and legend that the scale of `share_of_days` takes
_MARK, _GAP, _BESIDE = (
    2.8,
    1.4,
    60.0,
)  # a mark with its gap, between columns: in letters' heights; an axis' labels: points


def _room_points(axes: Axes) -> float:
    """Width of the axes in points, as nearly as it is known before they are laid out."""
    made = axes.get_figure(root=True)
    assert made is not None
    place = axes.get_subplotspec()
    share = 1.0 if place is None else len(place.colspan) / place.get_gridspec().ncols
    return 72 * made.get_figwidth() * share - _BESIDE


def _columns(labels: Sequence[str], room: float) -> int:
    """The most columns, filled from top to bottom, that a legend of these labels has room for."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=SMALL)
    widths = [
        text_to_path.get_text_width_height_descent(each, font, ismath=False)[0] for each in labels
    ]
    for columns in range(len(widths), 1, -1):
        long, more = divmod(len(widths), columns)  # the first columns are one longer
        ends = [long * (each + 1) + min(each + 1, more) for each in range(columns)]
        needed = sum(max(widths[start:end]) for start, end in zip([0, *ends], ends))
        if needed + SMALL * (_MARK * columns + _GAP * columns) <= room:
            return -(-len(widths) // -(-len(widths) // columns))  # no last line of one
    return 1


def thousands(axis: Axis) -> None:
    """Numbers of an axis with their thousands parted."""
    from matplotlib.ticker import FuncFormatter

    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))


def plain_log(axes: Axes) -> None:
    """A logarithmic y axis labelled 1, 2, 5, 10 in plain numbers."""
    from matplotlib.ticker import FuncFormatter, LogLocator

    axes.set_yscale("log")
    axes.yaxis.set_major_locator(LogLocator(base=10, subs=(1, 2, 5)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))
    axes.yaxis.set_minor_formatter(FuncFormatter(lambda value, _: ""))
