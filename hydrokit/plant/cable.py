"""Cables: resistance by section or gauge, drop and loss, and which cable to buy."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding, HydrokitError, did_you_mean
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Q_, Given, Number, Quantity, units
from .conductor import Conductor, conductor, resistance_factor

__all__ = ["CableRun", "cable", "cable_run"]
# Wires that carry the current; volts between terminals for one volt in a wire; volts of drop for
# one in a wire.
_SYSTEMS = {
    "dc": (2, 1.0, 2.0),
    "one-phase": (2, 1.0, 2.0),
    "three-phase": (3, np.sqrt(3.0), np.sqrt(3.0)),
}
# Share of the end-load drop and loss when the load sits along the line: integrals of (1 - x) and (1
# - x^2), and of their squares.
_LOADS = {"at the end": (1.0, 1.0), "even along": (1 / 2, 1 / 3), "growing along": (2 / 3, 8 / 15)}
USUAL_DROP, LARGE_DROP = 0.03, 0.05


@dataclass(frozen=True, eq=False)
class CableRun(Result):
    """What a cable does to the power sent through it.

    ``resistance_ohm`` is out and back for direct current and one phase, of one conductor for three
    phases: what :class:`hydrokit.plant.wire.Wire` takes.
    """

    conductor: Conductor
    current_a: Number
    drop_v: float
    _: KW_ONLY
    drop_ratio: float
    loss_w: float
    loss_ratio: float
    delivered_w: float
    resistance_ohm: float
    findings: tuple[Finding, ...]

    @property
    def current(self) -> Quantity:
        return Q_(self.current_a, "A")

    @property
    def drop(self) -> Quantity:
        return Q_(self.drop_v, "V")

    @property
    def loss(self) -> Quantity:
        return Q_(self.loss_w, "W")

    @property
    def delivered(self) -> Quantity:
        return Q_(self.delivered_w, "W")


def line_current(power: Number, voltage: float, system: str, power_factor: float = 1.0) -> Number:
    """Current in each wire [A], from SI floats."""
    if system not in _SYSTEMS:
        raise HydrokitError(
            f"cable: system must be dc, one-phase or three-phase, got {system!r}"
            f"{did_you_mean(system, _SYSTEMS)}."
        )
    if np.any((np.asarray(power_factor) <= 0) | (np.asarray(power_factor) > 1)):
        raise HydrokitError(
            f"cable: power_factor must be above 0 and at most 1, got {np.min(power_factor):g}."
        )
    if system == "dc" and np.any(np.asarray(power_factor) != 1):
        raise HydrokitError("cable: direct current has no power factor; leave it at 1.")
    if np.any(np.asarray(voltage) <= 0) or np.any(np.asarray(power) < 0):
        raise HydrokitError("cable: voltage must be above zero and power not below it.")
    return np.asarray(power) / (voltage * _SYSTEMS[system][1] * power_factor)


@units(
    None,
    power="W",
    voltage="V",
    length="m",
    power_factor="ratio",
    temperature="K",
    reactance="ohm/m",
)
def cable(
    power: Given,
    voltage: Given,
    length: Given,
    section: Conductor | str,
    system: str = "one-phase",
    material: str = "copper",
    power_factor: Given = 1.0,
    temperature: Given = "40 degC",
    reactance: Given = "0.08 ohm/km",
    load: str = "at the end",
    parallel: int = 1,
) -> CableRun:
    r"""Current, voltage drop and loss of a cable.

    Parameters
    ----------
    power : Quantity or str [power]
        Sent into the cable, :math:`P`.
    voltage : Quantity or str [voltage]
        Between the wires at the sending end, :math:`U`.
    length : Quantity or str [length]
        Of the route, one way, :math:`L`.
    section : str, Quantity or Conductor
        ``"16 mm^2"``, ``"6 AWG"``, ``"250 kcmil"``: a standard section.
    system : {"one-phase", "three-phase", "dc"}
    material : {"copper", "aluminium", "flexible copper", "solid copper"}
    power_factor : number
        :math:`\cos\varphi`.
    temperature : Quantity or str [temperature]
        Of the conductor at work; 70 degC is the limit of common PVC insulation.
    reactance : Quantity or str [resistance/length]
        Of one conductor, :math:`X'`; tells only at a power factor below 1. Common practice for a
        multi-core cable; wires apart in a conduit have up to twice as much.
    load : {"at the end", "even along", "growing along"}
        Where the load sits: "growing along" rises in proportion to the distance.
    parallel : int
        Equal cables side by side.

    Returns
    -------
    CableRun

    Raises
    ------
    HydrokitError
        A section that is not standard, or a cable that cannot carry the power to its end.

    Notes
    -----
    .. math:: \Delta U = b I L (R'\cos\varphi + X'\sin\varphi),\quad P_v = m I^2 R' L

    with b = 2, m = 2 for direct current and one phase, :math:`b=\sqrt3`, m = 3 for three.
    :math:`R' = R'_{20}(230 + t)/250`. The current a cable may carry by its heating is not judged
    here: that is in the local code.

    References
    ----------
    .. [1] IEC 60228:2004, tables 1 to 3 and annex (temperature factor).
    .. [2] NEC chapter 9, tables 8 and 9.
    .. [3] T. Gönen, *Electric Power Distribution System Engineering*, ex. 4.2 to 4.5 (load along the line).

    Examples
    --------
    >>> run = cable("3 kW", "230 V", "200 m", "16 mm^2", temperature="20 degC")
    >>> print(f"{run.current:.2f~P}, {run.drop:.2f~P}, {run.loss:.1f~P}")
    13.04 A, 6.00 V, 78.3 W
    >>> print(f"{cable('1.8 kW', '120 V', '100 ft', '12 AWG', temperature='75 degC').drop:.2f~P}")
    5.94 V
    """
    run = cable_run(
        power,
        voltage,
        length,
        conductor(section, material),
        system,
        power_factor,
        temperature,
        reactance,
        load,
        parallel,
    )
    if np.any(run.delivered_w < 0) or np.any(run.drop_ratio >= 1):
        raise HydrokitError(
            Sentence(
                "cable: {name} over {length} cannot bring the {power} to its end; take a "
                "thicker cable or a higher voltage.",
                name=run.conductor.name,
                length=Amount(np.max(length), "length"),
                power=Amount(np.max(power), "power"),
            )
        )
    return run


def cable_run(
    power: float,
    voltage: float,
    length: float,
    chosen: Conductor,
    system: str,
    power_factor: float,
    temperature: float,
    reactance: float,
    load: str = "at the end",
    parallel: int = 1,
) -> CableRun:
    if load not in _LOADS:
        raise HydrokitError(f"cable: load must be one of {', '.join(_LOADS)}, got {load!r}.")
    if not parallel >= 1:
        raise HydrokitError(f"cable: parallel must be 1 or more, got {parallel}.")
    current = line_current(power, voltage, system, power_factor)
    wires, _, drop_factor = _SYSTEMS[system]
    drop_share, loss_share = _LOADS[load]
    each = current / parallel
    resistance = chosen.resistance_20c_ohm_m * resistance_factor.si(temperature) * length
    crosswise = 0.0 if system == "dc" else reactance * length * np.sqrt(1 - np.square(power_factor))
    drop = drop_share * drop_factor * each * (resistance * power_factor + crosswise)
    loss = loss_share * wires * parallel * np.square(each) * resistance
    sent = np.asarray(power, dtype=float)
    return CableRun(
        chosen,
        current,
        drop,
        drop_ratio=drop / voltage,
        loss_w=loss,
        loss_ratio=loss / np.where(sent > 0, sent, 1.0),
        delivered_w=sent - loss,
        resistance_ohm=(1 if wires == 3 else 2) * resistance / parallel,
        findings=_findings(chosen, drop / voltage),
    )


def _findings(chosen: Conductor, drop_ratio: float) -> tuple[Finding, ...]:
    worst = float(np.max(drop_ratio))
    said = [
        Finding(
            "note",
            "cable",
            "the local code and a licensed electrician decide which current it may carry without overheating",
        )
    ]
    if worst > USUAL_DROP:
        large = worst > LARGE_DROP
        text = Sentence(
            "{name}: the voltage drops by {drop}; {usual} is common practice",
            name=chosen.name,
            drop=Amount(worst, "share", 2),
            usual="5 % in all" if large else "3 % in one run",
        )
        said.append(Finding("caution" if large else "note", "cable", text))
    return tuple(said)
