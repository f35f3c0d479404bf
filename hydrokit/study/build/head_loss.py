"""Where the head goes between the pond and the jets, part by part, at full flow."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

from .waterway import SQUARE_INLET

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["HeadLoss", "HeadLosses", "head_losses"]

_LEAST_SHARE = 1e-3  # of the loss, below which a part of it is not named
_LEVELS_APART = 0.01  # of the head: levels and gauge that differ by more are told apart


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
        Together they are the answer ``loss.penstock``; where the gauge at rest shows another head than
        the levels, that difference stands with them.
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
    apart = levels_above_gauge(study)
    if apart:
        named += (HeadLoss("the gauge at rest, beside the levels", apart),)
    net = float(head.value) - float(whole.value) - apart
    return HeadLosses(float(head.value), net, flow, parts=named)


def levels_above_gauge(study: Study) -> float:
    """By how many metres the head of the levels lies above that of the gauge at rest, which the
    plant as read works under; 0 where they hardly differ."""
    if study.plant is None or study.head is None:
        return 0.0
    apart = float(study.head.value) - float(study.plant.penstock.static_si())
    return apart if abs(apart) > _LEVELS_APART * float(study.head.value) else 0.0
