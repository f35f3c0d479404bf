"""Which kinds of turbine suit a flow and a head: all of them, ranked, each with its reasons."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..sentences import Amount, Sentence
from ..units import Q_, Given, Quantity, units
from ..water import GRAVITY
from .jets import jet_diameter
from .pelton import PELTON, TURGO
from .turbine import hydraulic_power, kinds, part_load, ranges_of, specific_speed, staged

__all__ = ["Choice", "turbine_choice"]

SILT = {"clear": 0.0, "some": 0.5, "much": 1.0}
PROPORTIONS = {of.kind: of for of in (PELTON, TURGO)}
# Share of the score kept by a machine that stands still at the low flow: most of the year it runs.
STANDING_AT_LOW_FLOW = 0.4
# Belt ratio up to here in one step, and what is left of the score there (common practice).
EASY_BELT, HARD_BELT = 3.0, 6.0


@dataclass(frozen=True)
class Choice:
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


def _inside(value: float, low: float, high: float) -> float:
    """1 inside the range, 0 from half its low end and twice its high end on."""
    beyond = max(low / value, value / high, 1.0) if value > 0 else np.inf
    return float(max(0.0, 1.0 - np.log2(beyond)))


def _shaft(
    row: dict, generator_rpm: float, flow: float, head: float, power: float
) -> tuple[float, float, int]:
    """Shaft speed nearest to that of the generator, the belt ratio, and the jets it takes."""
    jets = 0
    if row["kind"] in PROPORTIONS:
        of = PROPORTIONS[row["kind"]]
        tangential = 60 * of.speed_ratio * np.sqrt(2 * GRAVITY * head) / np.pi
        one_jet = jet_diameter.si(flow, head, 1, 0.97)
        jets = int(
            np.clip(
                np.ceil((generator_rpm * of.jet_ratio_tight * one_jet / tangential) ** 2),
                1,
                of.most_jets,
            )
        )
        jet = one_jet / np.sqrt(jets)
        low, high = tangential / (of.jet_ratio_large * jet), tangential / (of.jet_ratio_tight * jet)
    elif row["family"] == "gravity":
        low, high = row["shaft_speed_low_rpm"], row["shaft_speed_high_rpm"]
    else:
        at_one_rpm = specific_speed.si(1.0, power, head)
        low, high = (row[f"specific_speed_{end}"] / at_one_rpm for end in ("low", "high"))
    speed = float(np.clip(generator_rpm, low, high))
    return speed, generator_rpm / speed, jets


def _belt_mark(ratio: float) -> float:
    step = max(ratio, 1 / ratio)
    return float(
        np.interp(np.log(step), np.log([1.0, EASY_BELT, HARD_BELT, 60.0]), [1.0, 0.85, 0.6, 0.4])
    )


def _reasons(
    row: Any,
    head: Any,
    flow: Any,
    ratio: Any,
    low_ratio: Any,
    low_efficiency: Any,
    best: Any,
    jets: Any,
    silt: Any,
) -> Any:
    said: list[str | Sentence] = [
        Sentence(
            "head {head}; usual from {range}",
            head=Amount(head, "head"),
            range=Amount((row["head_low_m"], row["head_high_m"]), "head"),
        ),
        Sentence(
            "flow {flow}; usual from {range}",
            flow=Amount(flow, "flow"),
            range=Amount((row["flow_low_m3s"], row["flow_high_m3s"]), "flow"),
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
            f"needs a belt or gear of {step:.1f} : 1 to {'speed up' if ratio > 1 else 'slow down to'} the generator"
        )
    if silt:
        said.append(
            f"bears silt {'well' if row['silt_tolerance'] >= 0.75 else 'fairly' if row['silt_tolerance'] >= 0.5 else 'badly'}"
        )
    return tuple(said)


def _cautions(row: Any, marks: Any, ratio: Any, silt: Any) -> tuple[str, ...]:
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
) -> Any:
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
    kind: Any, flow: Any, head: Any, low_flow: Any, generator_rpm: Any, silt: Any, temperature: Any
) -> Choice:
    row = ranges_of(kind)
    curve = part_load.si(kind)
    power = hydraulic_power.si(flow, head, temperature) * curve.best
    speed, ratio, jets = _shaft(row, generator_rpm, flow, head, power)
    if jets > 1:
        curve = staged(curve, np.arange(1, jets + 1) / jets)
    low_ratio = None if low_flow is None else low_flow / flow
    low_efficiency = float("nan") if low_flow is None else float(curve.efficiency_si(low_ratio))
    marks = {
        "head": _inside(head, row["head_low_m"], row["head_high_m"]),
        "flow": _inside(flow, row["flow_low_m3s"], row["flow_high_m3s"]),
        "efficiency": curve.best,
        "part load": 1.0
        if low_flow is None
        else STANDING_AT_LOW_FLOW + (1 - STANDING_AT_LOW_FLOW) * low_efficiency / curve.best,
        "speed": _belt_mark(ratio),
        "silt": 1 - silt * (1 - row["silt_tolerance"]),
    }
    return Choice(
        kind,
        float(np.prod(list(marks.values()))),
        tuple(marks.items()),
        reasons=_reasons(row, head, flow, ratio, low_ratio, low_efficiency, curve.best, jets, silt),
        cautions=_cautions(row, marks, ratio, silt),
        speed_rpm=speed,
        belt_ratio=ratio,
        jets=jets,
        best_efficiency=curve.best,
        low_flow_efficiency=low_efficiency,
    )
