"""Page 03, the forebay: what settles in it, how long its water lasts, how much silt it holds, the
pipe inlet below it."""

from __future__ import annotations

import numpy as np

from ....sentences import plain_number
from ....study.build.judged import inlet
from ....study.build.settling import Basin, basins, best_basin, grains_kept
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import CREEK, ICE, RUST, SMALL, WIDE, figure, plain_label
from ..common import needs

__all__ = ["silt_figure", "silt_table", "silt_words"]


@needs(Study.full_flow_m3s, quiet=True)
def silt_table(study: Study, view: View, full_flow_m3s: float) -> Table | Words:
    """Share of each grain that each forebay keeps at full flow."""
    found, grains = basins(study), grains_kept(study)
    if not found:
        return Words("")
    rows = [
        (
            view.text(each.grain_m, "diameter", 2),
            view.text(each.sinks_ms, "velocity", 2),
            *(
                f"{100 * still:.0f} %"
                if still - stirred < 0.005
                else f"{100 * stirred:.0f} to {100 * still:.0f} %"
                for stirred, still in each.kept
            ),
            view.text(each.area_m2, "area", 2),
        )
        for each in grains
    ]
    names = [
        f"kept by the {each.name if len(found) > 1 else 'forebay'}: stirred through, to quite still"
        for each in found
    ]
    return Table(
        ("grain", "sinks at", *names, "surface that keeps it, stirred"),
        rows,
        f"What settles at {view.text(full_flow_m3s, 'flow')}",
    )


_MOST_PONDS = 4  # panels abreast


@needs(Study.full_flow_m3s, quiet=True)
def silt_figure(study: Study, view: View, full_flow_m3s: float) -> Picture | Words:
    """A small panel for each pond: what share of each grain it keeps, from stirred through to quite still."""
    found, grains = basins(study)[:_MOST_PONDS], grains_kept(study)
    if not found:
        return Words("")
    place = np.arange(len(grains))
    with figure(WIDE, 2.3, 1, len(found), sharey=True, squeeze=False) as (made, grid):
        for number, (axes, each) in enumerate(zip(grid[0], found)):
            stirred, still = (
                np.array([100 * grain.kept[number][end] for grain in grains]) for end in (0, 1)
            )
            axes.bar(place, stirred, 0.6, color=CREEK, label="kept, stirred through")
            axes.bar(
                place,
                still - stirred,
                0.6,
                bottom=stirred,
                color=ICE,
                hatch="//",
                edgecolor="white",
                label="more, where quite still",
            )
            wanted = [grain.grain_m for grain in grains].index(each.grain_m)
            axes.axvline(
                wanted, color=RUST, linewidth=1.3, linestyle=(0, (5, 2)), label="to be kept"
            )
            axes.set_title(plain_label(each.name, 30), fontsize=SMALL + 1)
            axes.set(xlabel=view.header("grain", "diameter"), ylim=(0, 103), xticks=place)
            axes.set_xticklabels(
                [view.amount(grain.grain_m, "diameter", 2, unit=False) for grain in grains]
            )
            axes.grid(axis="x", visible=False)
        grid[0, 0].set_ylabel("kept [%]")
        handles, labels = grid[0, 0].get_legend_handles_labels()
        made.legend(handles, labels, loc="outside upper left", ncols=3, frameon=False)
    told = "; ".join(
        f"the {each.name} keeps {100 * least:.0f} to {100 * most:.0f} % of grains of "
        f"{view.text(each.grain_m, 'diameter', 2)}"
        for number, each in enumerate(found)
        for least, most in [
            next(grain.kept[number] for grain in grains if grain.grain_m == each.grain_m)
        ]
    )
    return Picture(made, f"At {view.text(full_flow_m3s, 'flow')} {told}.")


@needs(Study.full_flow_m3s)
def silt_words(study: Study, view: View, full_flow_m3s: float) -> Words:
    """How each forebay does as a settling basin, and the forebay as a store."""
    found = basins(study)
    if not found:
        return Words(
            "*Not shown: no forebay or tank is listed. Give its area and the depth that may "
            "be drawn as a part, kind forebay, and it is judged as a settling basin and as a "
            "store.*"
        )
    names = [escape_markdown(each.name) for each in found]
    heads = [f"**{name[0].upper()}{name[1:]}.** " if len(found) > 1 else "" for name in names]
    return Words(" ".join(head + _settles(study, view, each) for head, each in zip(heads, found)))


def _settles(study: Study, view: View, found: Basin) -> str:
    text = (
        f"To keep grains of {view.text(found.grain_m, 'diameter', 2)} from the jets at "
        f"{view.text(study.full_flow_m3s, 'flow')} a basin needs about "
        f"{view.text(found.needed_m2, 'area', 2)} of surface, four to ten times as long as wide; "
        f"this forebay has {view.text(found.area_m2, 'area', 2)} and is "
        f"{'large enough' if found.large_enough else 'too small'}. If it is four times as long as "
        f"wide, its water runs at {view.text(found.speed_ms, 'velocity', 2)}; below "
        f"{view.text(found.limit_ms, 'velocity', 2)} what has settled stays down. "
    )
    if found.last:
        text += (
            f"With no inflow, the depth that may be drawn lasts {span(view, found.lasts_s)} at "
            "full flow. "
        )
    if found.full_s is not None:
        text += (
            "With brown water as it was sampled, the room for silt is full after "
            f"{span(view, found.full_s)} of full flow: flush before that."
        )
    elif found.silt:
        text += (
            "Give the room for silt below the depth that is drawn (silt_depth), and this tells "
            "how often the forebay must be flushed."
        )
    elif found.last:
        text += (
            "Let a jar of brown water stand overnight: the silt in it tells how often the forebay "
            "must be flushed."
        )
    return text.strip()


def span(view: View, seconds: float) -> str:
    """A time in the unit in which people would say it."""
    if seconds < 90:
        return view.text(seconds, "time", 2)
    if seconds < 5400:
        return view.text(seconds, "minutes", 2)
    return (
        view.text(seconds, "hours", 2)
        if seconds < 2 * 86400
        else f"{plain_number(seconds / 86400, 2)} days"
    )


def changes(study: Study, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change at the forebay."""
    rows, cover, basin = [], inlet(study), best_basin(study)
    if basin is not None and not basin.large_enough:
        rows.append(
            (
                "a larger settling basin",
                basin.name,
                f"{view.text(basin.area_m2, 'area', 2)} becomes {view.text(basin.needed_m2, 'area', 2)}",
                f"grains of {view.text(basin.grain_m, 'diameter', 2)} reach the jets",
            )
        )
    if cover is not None and cover[0] < cover[1]:
        ponds = basins(study)
        rows.append(
            (
                "a deeper inlet of the penstock",
                ponds[-1].name if ponds else "forebay",
                f"{view.text(cover[1] - cover[0], 'stage', 2)} deeper",
                "it will draw air",
            )
        )
    return rows
