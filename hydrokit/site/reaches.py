"""What is lost or gained along the creek, from flows that the site file tells at both ends."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError

if TYPE_CHECKING:
    from ..stream.gauging import GainOrLoss, Gauging
    from .opened import Opened
    from .schema_creek import Reach
    from .values import Measured

__all__ = ["leaks", "told_gauging"]

_USUAL_UNCERTAINTY = 0.08  # of a flow given without its uncertainty, common practice


def told_gauging(value: Measured, method: str) -> Gauging:
    """A flow of the site file as a gauging."""
    from ..stream.gauging import Gauging

    return Gauging.from_parts(
        value.value,
        {"gauging": _USUAL_UNCERTAINTY if value.relative is None else value.relative},
        method,
    )


def leaks(study: Opened) -> tuple[tuple[str, float, GainOrLoss], ...]:
    """What each ditch or reach gains or loses between its two gaugings: (name, flow above in m³/s,
    GainOrLoss)."""
    entries = enumerate(study.site.stream.reach, 1)
    return tuple(
        (
            entry.name,
            entry.above.value,
            study.folder.sentence(f"[[stream.reach]] {number}", partial(_change, entry)),
        )
        for number, entry in entries
    )


def _change(entry: Reach) -> GainOrLoss:
    from ..stream.gauging import Gauging, gain_or_loss

    ends = []
    for value in (entry.above, entry.below):
        whole, shared = told_gauging(value, "told").uncertainty, entry.shared
        if value.value == 0:
            whole = shared = 0.0  # no water is seen to be none
        if shared > whole:
            raise HydrokitError(
                f"shared is {100 * shared:.1f} %, more than the whole uncertainty of "
                f"{100 * whole:.1f} % it is a part of"
            )
        ends.append(
            Gauging.from_parts(
                value.value, {"own": np.sqrt(whole**2 - shared**2), "shared": shared}, "told"
            )
        )
    return gain_or_loss(ends[0], ends[1], shared=("shared",))
