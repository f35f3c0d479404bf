"""Where the head goes between the pond and the jets, part by part, at full flow."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

from .waterway import SQUARE_INLET

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["HeadLoss", "HeadLosses", "head_losses"]

_LEAST_SHARE = 1e-3  # of the loss, below which a part of it is not named


@dataclass(frozen=True, eq=False)
class HeadLoss:
    """What one part takes of the head; below zero where readings show less than a clean pipe would take."""

    name: str
    head_m: float


@dataclass(frozen=True, eq=False)
class HeadLosses:
    """From the gross head to the net head at the jets.

    Parameters
    ----------
    gross_m, net_m : float
    flow_m3s : float
    parts : tuple of HeadLoss
        Inlet, friction pipe by pipe, bends and valves, then what readings show beyond a clean pipe.
        Together they are the answer ``loss.penstock``.
    """

    gross_m: float
    net_m: float
    flow_m3s: float
    _: KW_ONLY
    parts: tuple[HeadLoss, ...]


def head_losses(study: Study) -> HeadLosses | None:
    """The head loss of the penstock by its parts, or None where it is not known.

    Friction and fittings follow Darcy and Weisbach: ΔH = (f L/D + ΣK) V²/2g; one part's loss is that
    of the pipe with the other terms left out.
    """
    from ...water import viscosity

    line, flow, head, whole = (
        study.penstock,
        study.full_flow_m3s,
        study.head,
        study.answer("loss.penstock"),
    )
    if line is None or not flow or head is None or whole is None or not whole.known:
        return None
    nu = float(viscosity.si(study.water_temperature_k))
    pipes, fittings, friction = line.joined.pipes, 0.0, []
    for pipe in pipes:
        smooth = float(replace(pipe, fittings=0.0).loss_si(flow, nu))
        fittings += float(pipe.loss_si(flow, nu)) - smooth
        name = f"friction, {pipe.name}" if len(pipes) > 1 else "friction in the pipe"
        friction.append(HeadLoss(name, smooth))
    first = pipes[0]
    at_inlet = replace(first, fittings=min(float(first.fittings), SQUARE_INLET))
    inlet = float(at_inlet.loss_si(flow, nu)) - friction[0].head_m
    clean = sum(each.head_m for each in friction) + fittings
    beyond = float(whole.value) - clean
    parts = [
        HeadLoss("pipe inlet", inlet),
        *friction,
        HeadLoss("bends and valves", fittings - inlet),
        HeadLoss(
            "more than a clean pipe, as read" if beyond > 0 else "less than a clean pipe, as read",
            beyond,
        ),
    ]
    named = tuple(each for each in parts if abs(each.head_m) > _LEAST_SHARE * float(whole.value))
    return HeadLosses(float(head.value), float(head.value) - float(whole.value), flow, parts=named)
