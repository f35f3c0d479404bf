"""Page 03: where the head goes between pond and jets."""

from __future__ import annotations

import numpy as np

from ....sentences import series_text
from ....study.build.head_loss import HeadLosses, head_losses
from ....study.build.machines import users
from ....study.study import Study
from ....study.view import View
from ...display import Picture
from ...style import CREEK, FILLS, INK, SMALL, WIDE, figure, plain_label
from ..common import in_picture, needs

__all__ = ["loss_figure"]


@needs(head_losses, quiet=True)
def loss_figure(study: Study, view: View, found: HeadLosses) -> Picture:
    """From the gross to the net head, one bar a part of the penstock."""
    gross, net = (study.answer(key) for key in ("head.gross", "head.net"))
    names = [
        "gross head",
        *(plain_label(each.name) for each in found.parts),
        f"net head at the {users(study)}",
    ]
    amounts = [view.amount(abs(each.head_m), "head", 2, unit=False) for each in found.parts]
    last = len(names) - 1
    with figure(WIDE, 1.0 + 0.32 * len(names)) as (made, axes):
        for row, head, answer, share in (
            (0, found.gross_m, gross, 0.55),
            (last, found.net_m, net, 1.0),
        ):
            long = float(view.number(head, "head"))
            axes.barh(row, long, 0.62, color=CREEK, alpha=share)
            axes.text(
                long, row, f" {in_picture(view, answer, unit=False)}", fontsize=SMALL, va="center"
            )
        left = found.gross_m
        for row, (each, amount) in enumerate(zip(found.parts, amounts), 1):
            colour, hatch = FILLS[row % len(FILLS)]
            start, end = (float(view.number(at, "head")) for at in (left - each.head_m, left))
            axes.barh(
                row,
                end - start,
                0.62,
                left=start,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
            )
            sign = "−" if each.head_m > 0 else "+"
            axes.text(max(start, end), row, f" {sign}{amount}", fontsize=SMALL, va="center")
            left -= each.head_m
        axes.set_yticks(np.arange(len(names)), names)
        axes.invert_yaxis()
        axes.set_xlabel(
            view.header(f"head at {view.text(found.flow_m3s, 'flow')}, all jets open", "head")
        )
        axes.set_xlim(0, 1.12 * float(view.number(found.gross_m, "head")))
        axes.grid(axis="y", visible=False)
    told = series_text(
        [f"{each.name} {view.amount(each.head_m, 'head', 2)}" for each in found.parts]
    )
    return Picture(
        made,
        (
            f"From the gross head, {in_picture(view, gross)}, to the net head at the {users(study)}, "
            f"{in_picture(view, net)}: {told}."
        ),
    )
