"""Which kinds of turbine suit a flow and a head: all of them, ranked, each with its reasons."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Q_, Given, Quantity, units
from .marks import EASY_BELT, marks_of
from .turbine import kinds, ranges_of

__all__ = ["Choice", "cautions_of", "turbine_choice"]

SILT = {"clear": 0.0, "some": 0.5, "much": 1.0}


@dataclass(frozen=True)
class Choice(Result):
    """One kind of machine, how well it suits (0 to 1), and why.

    ``parts`` are the marks that multiply to the score, by name. ``belt_ratio`` is generator
    speed over shaft speed: 1 is a direct drive.
    """

    kind: str
    score: float
    parts: tuple[tuple[str, float], ...]
    _: KW_ONLY
    reasons: tuple[str | Sentence, ...]
    cautions: tuple[str, ...]
    speed_rpm: float
    belt_ratio: float
    jets: int
    best_efficiency: float
    low_flow_efficiency: float

    @property
    def speed(self) -> Quantity:
        return Q_(self.speed_rpm, "rpm")


def _reasons(
    row: Any,
    head: float,
    flow: float,
    ratio: float,
    low_ratio: float | None,
    low_efficiency: float,
    best: float,
    jets: int,
    silt: float,
) -> Any:
    said: list[str | Sentence] = [
        Sentence(
            "head {head}; usual from {range}",
            head=Amount(head, "head"),
            range=Amount((row["head_low_m"], row["head_high_m"]), "head", 2),
        ),
        Sentence(
            "flow {flow}; usual from {range}",
            flow=Amount(flow, "flow"),
            range=Amount((row["flow_low_m3s"], row["flow_high_m3s"]), "flow", 2),
        ),
    ]
    if low_ratio is None:
        said.append("part load not judged: no low flow was given")
    elif low_efficiency == 0:
        said.append(
            Sentence(
                "stops at the low flow, {share} of the full one",
                share=Amount(low_ratio, "share", 2),
            )
        )
    else:
        said.append(
            Sentence(
                "at the low flow, {share} of the full one, {efficiency} efficient against {best} at best",
                share=Amount(low_ratio, "share", 2),
                efficiency=Amount(low_efficiency, "share", 2),
                best=Amount(best, "share", 2),
            )
        )
    step = max(ratio, 1 / ratio)
    if step < 1.02:
        said.append(
            "runs at the speed of the generator"
            + (f" with {jets} jet{'s' if jets > 1 else ''}" if jets else "")
        )
    else:
        said.append(
            f"needs a belt or gear of {step:.1f} : 1 to "
            f"{'speed up' if ratio > 1 else 'slow down to'} the generator"
        )
    if silt:
        said.append(
            "bears silt "
            f"{'well' if row['silt_tolerance'] >= 0.75 else 'fairly' if row['silt_tolerance'] >= 0.5 else 'badly'}"
        )
    return tuple(said)


def cautions_of(row: Any, marks: Any, ratio: float, silt: float) -> tuple[str, ...]:
    """What to watch for with a kind of machine, the gravest first."""
    said = []
    if marks["head"] == 0 or marks["flow"] == 0:
        said.append("far outside the head or flow it is built for")
    elif marks["head"] < 1 or marks["flow"] < 1:
        said.append("at the edge of the head or flow it is built for")
    if max(ratio, 1 / ratio) > EASY_BELT:
        said.append(
            f"more than {EASY_BELT:g} : 1 takes two steps of belts or a gearbox, and some per cent of power"
        )
    if silt and row["silt_tolerance"] < 0.5:
        said.append("silt wears its narrow gaps; it needs a good settling basin")
    if row["family"] == "reaction":
        said.append(
            "the height above the tail water must be checked against cavitation at this altitude"
        )
    if row["kind"] == "pump run backwards":
        said.append("takes one flow only; for less water it must stop or run on and off")
    return tuple(said)


@units(None, flow="m^3/s", head="head", low_flow="m^3/s", generator_speed="rpm", temperature="K")
def turbine_choice(
    flow: Given,
    head: Given,
    low_flow: Given = None,
    generator_speed: Given = "1500 rpm",
    silt: str = "some",
    temperature: Given = "10 degC",
) -> tuple[Choice, ...]:
    """All kinds of turbine for a flow and a head, best suited first, each with its reasons.

    A ranked table and never one verdict: price, who can mend it and what is to be had nearby are
    not in the score.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        Full flow of the machine.
    head : Quantity or str [length]
        Net head at full flow.
    low_flow : Quantity or str [volume/time], optional
        Low flow of a usual dry or cold season, to judge part load by.
    generator_speed : Quantity or str [1/time]
        1500 or 1800 rpm for four poles at 50 or 60 Hz.
    silt : {"clear", "some", "much"}
        Sand and silt that still pass the basin.
    temperature : Quantity or str [temperature]
        Water temperature.

    Returns
    -------
    tuple of Choice
        Score: the product of marks for head, flow, efficiency, part load, speed and silt, each 0 to 1.

    Raises
    ------
    HydrokitError
        An unknown word for silt, no flow or head, a low flow above the full one.

    Notes
    -----
    Ranges of head and flow, belts and marks are common practice; specific speeds of Pelton,
    Francis and Kaplan machines are from [1]_. The weights are a judgement: read the reasons.

    References
    ----------
    .. [1] S. L. Dixon, *Fluid Mechanics and Thermodynamics of Turbomachinery*, table 9.3, p. 280.

    Examples
    --------
    >>> [each.kind for each in turbine_choice("15 L/s", "90 m", low_flow="4 L/s")][:2]
    ['pelton', 'turgo']
    >>> turbine_choice("40 cfs", "12 ft", low_flow="12 cfs", generator_speed="1800 rpm")[0].kind
    'kaplan'
    """
    if silt not in SILT:
        raise HydrokitError(
            f"turbine_choice(): silt must be clear, some or much, got {silt!r}{did_you_mean(silt, SILT)}."
        )
    if not (flow > 0 and head > 0 and generator_speed > 0):
        raise HydrokitError("turbine_choice(): flow, head and generator_speed must be above zero.")
    if low_flow is not None and not 0 <= low_flow <= flow:
        raise HydrokitError("turbine_choice(): low_flow must lie between zero and the full flow.")
    choices = [
        _judge(kind, flow, head, low_flow, generator_speed, SILT[silt], temperature)
        for kind in kinds()
    ]
    return tuple(sorted(choices, key=lambda each: -each.score))


def _judge(
    kind: str,
    flow: float,
    head: float,
    low_flow: float | None,
    generator_rpm: float,
    silt: float,
    temperature: float,
) -> Choice:
    row = ranges_of(kind)
    found = marks_of(
        kind,
        np.atleast_1d(np.asarray(flow, dtype=float)),
        np.atleast_1d(np.asarray(head, dtype=float)),
        None if low_flow is None else np.atleast_1d(np.asarray(low_flow, dtype=float)),
        generator_rpm=generator_rpm,
        silt=silt,
        water_k=temperature,
    )
    marks = {name: float(np.ravel(each)[0]) for name, each in found.marks.items()}
    ratio, jets = float(found.belt_ratio[0]), int(found.jets[0])
    low_ratio = None if low_flow is None else low_flow / flow
    low_efficiency, best = float(found.low_flow_efficiency[0]), found.best_efficiency
    return Choice(
        kind,
        float(np.prod(list(marks.values()))),
        tuple(marks.items()),
        reasons=_reasons(row, head, flow, ratio, low_ratio, low_efficiency, best, jets, silt),
        cautions=cautions_of(row, marks, ratio, silt),
        speed_rpm=float(found.speed_rpm[0]),
        belt_ratio=ratio,
        jets=jets,
        best_efficiency=best,
        low_flow_efficiency=low_efficiency,
    )
