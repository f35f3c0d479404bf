"""What can be measured of a drawn figure: how large its letters are in print, what lies outside or over what, and
whether what its legend names can be told apart by everyone and on grey paper.

Colour vision is simulated after Machado, Oliveira and Fernandes, IEEE Transactions on Visualization and
Computer Graphics 15(6), 2009, at full severity, and distances are those of CAM02-UCS, both by colorspacious.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
from colorspacious import cspace_convert
from matplotlib.collections import Collection
from matplotlib.colors import to_rgb, to_rgba
from matplotlib.lines import Line2D
from matplotlib.text import Annotation, Text

TEMPLATE = Path(__file__).parents[1] / "hydrokit" / "report" / "template" / "report.css"
LEAST_POINTS = 7.0
PAGE_DPI = 144  # of a page's pictures
TOUCHING = 1.5  # pixels by which the boxes of two texts may lie in each other: a box is taller than its letters
# Distances in CAM02-UCS. Twelve apart in lightness is a clear step between two greys in print.
LEAST_LIGHTNESS = 12.0
LEAST_APART = 12.0
DEFICIENCIES = ("protanomaly", "deuteranomaly", "tritanomaly")


@cache
def printed_millimetres() -> tuple[float, float]:
    """The largest width and height at which a page prints a figure."""
    height, width = re.search(
        r"@media print.*?img \{ max-height: ([\d.]+)mm; max-width: ([\d.]+)mm",
        TEMPLATE.read_text(),
        re.S,
    ).groups()
    return float(width), float(height)


@cache
def own_millimetres(of: str) -> float:
    """The width at which the page of the whole story prints a figure of its own."""
    css = TEMPLATE.read_text()
    return float(re.search(rf"\.{of} img {{ max-width: ([\d.]+)mm; max-height: none", css)[1])


def shrinking(figure, of: str = "") -> float:
    """Printed size over the size it was drawn at."""
    width, height = (25.4 * each for each in figure.get_size_inches())
    if of:
        return min(own_millimetres(of) / width, 1.0)
    most_width, most_height = printed_millimetres()
    return min(most_width / width, most_height / height)


def texts_of(figure) -> list[Text]:
    """Every text that shows."""
    hidden = set()
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            shown = (
                _shown_labels(axis)
                if axis.get_visible() and axes.get_visible() and axes.axison
                else set()
            )
            hidden |= {each for each in axis.findobj(Text) if each not in shown}
    return [
        each
        for each in figure.findobj(Text)
        if each.get_visible()
        and each.get_text().strip()
        and each not in hidden
        and _inside_axes(each)
    ]


def _shown_labels(axis) -> set[Text]:
    low, high = sorted(axis.get_view_interval())
    slack = 1e-9 * (high - low)
    shown = {axis.label, axis.offsetText}
    for tick in axis.get_major_ticks() + axis.get_minor_ticks():
        if low - slack <= tick.get_loc() <= high + slack:
            shown |= {each for each in (tick.label1, tick.label2) if each.get_visible()}
    return shown


def _inside_axes(text: Text) -> bool:
    """A label of a point outside the axes is not drawn."""
    return not (
        isinstance(text, Annotation) and not text._check_xy(text.figure.canvas.get_renderer())
    )


def corners(text: Text) -> np.ndarray:
    """The four corners of a text's box in pixels, turned as the text is."""
    turned = text.get_rotation()
    if turned % 90 == 0:
        box = text.get_window_extent()
        return np.array([(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)])
    upright = text.get_window_extent()
    middle = np.array([(upright.x0 + upright.x1) / 2, (upright.y0 + upright.y1) / 2])
    text.set_rotation(0)
    flat = text.get_window_extent()
    text.set_rotation(turned)
    half = np.array([flat.width, flat.height]) / 2
    angle = np.radians(turned)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return middle + np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half @ turn.T


def overlap(one: np.ndarray, other: np.ndarray) -> float:
    """How many pixels two rectangles lie in each other: below zero where they are apart (separating axes)."""
    least = np.inf
    for box in (one, other):
        for side in (box[1] - box[0], box[3] - box[0]):
            length = np.hypot(*side)
            if length == 0:
                continue
            along = side / length
            first, second = one @ along, other @ along
            least = min(least, min(first.max(), second.max()) - max(first.min(), second.min()))
    return least


def mistakes_of(figure, of: str = "") -> list[str]:
    """What is wrong with a figure that was drawn and so laid out, each in a line; `of` names the
    place of one that a page prints at a width of its own."""
    figure.set_layout_engine("none")
    figure.set_dpi(PAGE_DPI)
    figure.draw_without_rendering()  # its letters now have their places, in pixels of its own
    texts = texts_of(figure)
    return [
        *_small(figure, texts, of),
        *_outside(figure, texts),
        *_over_each_other(texts),
        *_struck_through(figure),
        *_legends_over_data(figure),
        *_unparted(figure),
        *alike(figure),
    ]


def _unparted(figure) -> list[str]:
    """Numbers of an axis whose thousands are not parted, as they are in every text; years are none."""
    found = []
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            labels = [each.get_text() for each in _shown_labels(axis) if axes.axison]
            bare = [each for each in labels if re.fullmatch(r"[-−]?\d{4,}(\.\d+)?", each)]
            if any(not 1900 <= float(each.replace("−", "-")) < 2100 for each in bare):
                found.append(f"thousands not parted: {', '.join(sorted(bare))}")
    return found


def _small(figure, texts, of) -> list[str]:
    share = shrinking(figure, of)
    small = [each for each in texts if each.get_fontsize() * share < LEAST_POINTS]
    if not small:
        return []
    least = min(small, key=lambda each: each.get_fontsize())
    return [
        f"{len(small)} texts below {LEAST_POINTS:g} pt in print, the smallest {least.get_text()!r} at {least.get_fontsize() * share:.1f} pt"
    ]


def _outside(figure, texts) -> list[str]:
    width, height = figure.canvas.get_width_height()
    wrong = []
    for each in texts:
        box = corners(each)
        if box.min() < -1 or box[:, 0].max() > width + 1 or box[:, 1].max() > height + 1:
            wrong.append(f"{each.get_text()!r} is cut by the edge of the figure")
    return wrong


def _over_each_other(texts) -> list[str]:
    boxes = [corners(each) for each in texts]
    return [
        f"{one.get_text()!r} lies over {other.get_text()!r}"
        for (one, first), (other, second) in combinations(zip(texts, boxes), 2)
        if overlap(first, second) > TOUCHING
    ]


_STRUCK = 0.3  # of a text's height, above and below, that a line may graze


def _struck_through(figure) -> list[str]:
    """Words in the axes with a line through their middle, and no ground of their own to stand on."""
    wrong = []
    for axes in (each for each in figure.axes if each.get_visible()):
        lines = [each for each in axes.get_lines() if each.get_visible()]
        for text in axes.texts:
            if not text.get_visible() or not text.get_text().strip() or text.get_bbox_patch():
                continue
            box = text.get_window_extent()
            box.y0, box.y1 = box.y0 + _STRUCK * box.height, box.y1 - _STRUCK * box.height
            for line in (each for each in lines if each.get_linestyle() != "None"):
                points = line.get_transform().transform(
                    np.column_stack(line.get_data(orig=False)).astype(float)
                )
                if _crosses(points[np.all(np.isfinite(points), axis=1)], box, axes.bbox, True):
                    wrong.append(f"{text.get_text()!r} is struck through by a line")
                    break
    return wrong


def _legends_over_data(figure) -> list[str]:
    wrong = []
    for axes in figure.axes:
        legend = axes.get_legend()
        if legend is None or not axes.get_visible():
            continue
        box = legend.get_window_extent()
        for line in axes.get_lines():
            points = line.get_transform().transform(
                np.column_stack(line.get_data(orig=False)).astype(float)
            )
            joined = line.get_linestyle() != "None"
            if _crosses(points[np.all(np.isfinite(points), axis=1)], box, axes.bbox, joined):
                wrong.append(f"the legend lies over the line {line.get_label()!r}")
        for patch in axes.patches:
            if patch.get_window_extent().overlaps(box):
                wrong.append(f"the legend lies over a bar {patch.get_label()!r}")
    return wrong


def _crosses(points, box, drawn, joined) -> bool:
    if len(points) == 0:
        return False
    if joined:
        share = np.linspace(0, 1, 50)[:, None, None]
        points = (points[:-1] + share * (points[1:] - points[:-1])).reshape(-1, 2)
    # What a line has outside its axes is not drawn.
    least = np.maximum((box.x0, box.y0), (drawn.x0, drawn.y0))
    most = np.minimum((box.x1, box.y1), (drawn.x1, drawn.y1))
    return bool(np.any(np.all((points > least) & (points < most), axis=1)))


def alike(figure) -> list[str]:
    """Entries of a legend that some readers cannot tell apart."""
    wrong = []
    for legend in [each.get_legend() for each in figure.axes if each.get_legend()] + figure.legends:
        named = [
            (text.get_text(), mark) for text, mark in zip(legend.get_texts(), legend.legend_handles)
        ]
        for (one, first), (other, second) in combinations(named, 2):
            reason = cannot_tell(look(first), look(second))
            if reason:
                wrong.append(f"{one!r} and {other!r} look alike {reason}")
    return wrong


def look(mark) -> dict:
    """What an eye sees of a legend's entry: its kind, colour on white, dashes, marker, hatch, width."""
    if (
        hasattr(mark, "get_children")
        and not isinstance(mark, (Line2D, Collection))
        and mark.get_children()
    ):
        mark = next((each for each in mark.get_children() if isinstance(each, Line2D)), mark)
    if isinstance(mark, Line2D):
        drawn = mark.get_linestyle() not in ("None", "", " ")
        marker = mark.get_marker() not in ("None", "", " ", None)
        colour = to_rgba(
            mark.get_color() if drawn else mark.get_markerfacecolor(), mark.get_alpha()
        )
        return {
            "kind": "line" if drawn else "point",
            "colour": _on_white(colour),
            "dash": str(mark._unscaled_dash_pattern) if drawn else "",
            "marker": mark.get_marker() if marker else "",
            "hatch": "",
            "width": mark.get_linewidth() if drawn else mark.get_markersize(),
        }
    if isinstance(mark, Collection):
        face = mark.get_facecolor()
        edge = mark.get_edgecolor()
        filled = len(face) and face[0][3] > 0
        lines = not filled
        styles = mark.get_linestyle()
        return {
            "kind": "line" if lines else "patch",
            "colour": _on_white(edge[0] if lines else face[0]),
            "dash": str(styles[0]) if lines else "",
            "marker": "",
            "hatch": mark.get_hatch() or "",
            "width": float(np.atleast_1d(mark.get_linewidth())[0]) if lines else 0.0,
        }
    face = to_rgba(mark.get_facecolor())
    empty = face[3] == 0 or not mark.get_fill()
    return {
        "kind": "patch",
        "colour": _on_white(face),
        "dash": "",
        "marker": "empty" if empty else "",
        "hatch": mark.get_hatch() or "",
        "width": 0.0,
    }


def _on_white(colour) -> tuple[float, float, float]:
    share = colour[3]
    return tuple(share * each + 1 - share for each in colour[:3])


def cannot_tell(one: dict, other: dict) -> str:
    """For whom, if for anybody, two looks are the same."""
    if any(one[each] != other[each] for each in ("kind", "dash", "marker", "hatch")):
        return ""
    widths = sorted((one["width"], other["width"]))
    if widths[0] > 0 and widths[1] >= 2 * widths[0]:
        return ""
    colours = np.array([to_rgb(one["colour"]), to_rgb(other["colour"])])
    seen = cspace_convert(colours, "sRGB1", "CAM02-UCS")
    if abs(seen[0, 0] - seen[1, 0]) < LEAST_LIGHTNESS:
        return f"in grey ({abs(seen[0, 0] - seen[1, 0]):.0f} apart)"
    for each in DEFICIENCIES:
        simulated = cspace_convert(
            colours, {"name": "sRGB1+CVD", "cvd_type": each, "severity": 100}, "sRGB1"
        )
        seen = cspace_convert(np.clip(simulated, 0, 1), "sRGB1", "CAM02-UCS")
        apart = float(np.linalg.norm(seen[0] - seen[1]))
        if apart < LEAST_APART:
            return f"with {each} ({apart:.0f} apart)"
    return ""
