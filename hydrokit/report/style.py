"""How figures look: one style, colours told apart by everyone and on paper, a unit on every axis."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Iterator

from ..errors import one_line
from ..stream.record import MONTH_NAMES
from .plot_settings import settings_from_elsewhere

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.colors import Colormap

__all__ = [
    "COLOURS",
    "BAND",
    "CREEK",
    "GROUND",
    "ICE",
    "INK",
    "LEAF",
    "PALE",
    "RUST",
    "SUN",
    "WARNING",
    "MONTH_LETTERS",
    "MONTH_NAMES",
    "figure",
    "legend_above",
    "near_to_far",
    "plain_label",
    "plain_log",
    "thousands",
]

# Dark enough on white, apart in lightness as well as in hue.
INK, CREEK, RUST, LEAF, SUN, ICE, GROUND, PALE, WARNING = (
    "#1f2a30", "#1c5d84", "#b0532a", "#4f7a3a", "#c9962b", "#7fb3c8", "#8a7a66", "#d9d5cc", "#a3123a",
)  # fmt: skip
COLOURS = {
    "ink": INK, "creek": CREEK, "rust": RUST, "leaf": LEAF, "sun": SUN, "ice": ICE, "ground": GROUND, "pale": PALE, "warning": WARNING,
}  # fmt: skip
BAND = 0.22  # opacity of a band
MONTH_LETTERS = list("JFMAMJJASOND")

_RULES: Any = {
    "font.family": "DejaVu Sans", "font.size": 9.5, "axes.titlesize": 10.5, "axes.titleweight": "bold", "axes.titlelocation": "left",
    "axes.labelsize": 9.5, "axes.edgecolor": INK, "axes.labelcolor": INK, "text.color": INK, "xtick.color": INK, "ytick.color": INK,
    "axes.spines.top": False, "axes.spines.right": False, "axes.grid": True, "grid.color": "#e4e1da", "grid.linewidth": 0.7,
    "axes.axisbelow": True, "legend.frameon": False, "legend.fontsize": 8.5, "lines.linewidth": 1.8, "lines.solid_capstyle": "round",
    "axes.linewidth": 0.8, "xtick.major.width": 0.8, "ytick.major.width": 0.8, "hatch.linewidth": 0.6,
    "text.parse_math": False,  # a price in a name is no formula
}  # fmt: skip


def near_to_far() -> Colormap:
    """How far from the best: dark leaf at the best, sand, paper far off. Lightness alone tells it too."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(
        "near to far", ["#22341a", LEAF, "#a7a865", "#ddcfa4", "#f7f3ea"]
    )


@contextmanager
def figure(
    width: float = 7.4, height: float = 3.9, rows: int = 1, columns: int = 1, **choices: Any
) -> Iterator[tuple[Any, Any]]:
    """A figure and its axes in hydrokit's style; the style is left behind afterwards.

    Inches. With one row and one column the axes come alone, else as an array.
    """
    settings_from_elsewhere()
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with matplotlib.rc_context(_RULES):
        made = Figure(figsize=(width, height), layout="constrained")
        FigureCanvasAgg(made)
        yield made, made.subplots(rows, columns, **choices)


def plain_label(text: object, most: int = 48) -> str:
    """Text of a file as a label: on one line, cut short where long, never taken for a sign to hide it.

    >>> plain_label("_a\\nb"), len(plain_label("x" * 300))
    (' _a b', 48)
    """
    label = one_line(text, most)
    return f" {label}" if label.startswith("_") else label


def legend_above(axes: Axes, columns: int | None = None) -> None:
    """A legend above the axes, where it covers nothing; in two lines where one would be too wide."""
    handles, labels = axes.get_legend_handles_labels()
    if columns is None:
        columns = (
            len(labels) if sum(len(each) + 6 for each in labels) < 95 else (len(labels) + 1) // 2
        )
    axes.legend(
        handles,
        labels,
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        ncols=max(columns, 1),
        borderaxespad=0.2,
        columnspacing=1.4,
    )


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
