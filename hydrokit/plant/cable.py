"""Cables: resistance by section or gauge, drop and loss, and which cable to buy."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Mapping

import numpy as np

from ..errors import Finding, HydrokitError, did_you_mean
from ..tables import load
from ..units import Q_, UnitsError, units

__all__ = [
    "CableCost",
    "CableRun",
    "Conductor",
    "cable",
    "cheapest_cable",
    "conductor",
    "resistance_factor",
    "smallest_cable",
    "standard_sections",
]

_MM2 = 1e-6
_FOOT = 0.3048
# Columns of the tables for each material; the IEC one at 20 degC in ohm/km, the AWG one at 75 degC in ohm/kft.
_COLUMNS = {
    "copper": ("copper_ohm_per_km", "copper_ohm_per_kft_75c"),
    "aluminium": ("aluminium_ohm_per_km", "aluminium_ohm_per_kft_75c"),
    "flexible copper": ("copper_flexible_ohm_per_km", None),
    "solid copper": (None, "copper_solid_ohm_per_kft_75c"),
}
# Wires that carry the current; volts between terminals for one volt in a wire; volts of drop for one in a wire.
_SYSTEMS = {
    "dc": (2, 1.0, 2.0),
    "one-phase": (2, 1.0, 2.0),
    "three-phase": (3, np.sqrt(3.0), np.sqrt(3.0)),
}
# Share of the end-load drop and loss when the load sits along the line: integrals of (1 - x) and (1 - x^2), and
# of their squares.
_LOADS = {"at the end": (1.0, 1.0), "even along": (1 / 2, 1 / 3), "growing along": (2 / 3, 8 / 15)}
USUAL_DROP, LARGE_DROP = 0.03, 0.05


@dataclass(frozen=True, eq=False)
class Conductor:
    """One standard conductor: its section and its resistance per length at 20 degC."""

    name: str
    material: str
    section_m2: float
    resistance_20c_ohm_m: float
    source: str

    @property
    def section(self):
        return Q_(self.section_m2 / _MM2, "mm^2")


@units("number", temperature="K")
def resistance_factor(temperature):
    """Resistance of copper or aluminium over that at 20 degC.

    Parameters
    ----------
    temperature : Quantity or str [temperature]
        Of the conductor, :math:`t`.

    Returns
    -------
    float or array

    Notes
    -----
    :math:`(230 + t)/250`, the inverse of the factor that brings a reading *to* 20 degC.

    References
    ----------
    .. [1] IEC 60228:2004, annex B.

    Examples
    --------
    >>> print(f"{resistance_factor('70 degC'):.3f}")
    1.200
    >>> print(f"{resistance_factor('68 degF'):.3f}")
    1.000
    """
    return (230.0 + np.asarray(temperature) - 273.15) / 250.0


@functools.cache
def standard_sections(material: str = "copper", system: str = "mm2") -> tuple[Conductor, ...]:
    """Standard conductors of a material, thin to thick.

    Parameters
    ----------
    material : {"copper", "aluminium", "flexible copper", "solid copper"}
    system : {"mm2", "AWG"}

    Raises
    ------
    HydrokitError
        An unknown material or system.
    """
    material = "aluminium" if material == "aluminum" else material
    if material not in _COLUMNS:
        raise HydrokitError(
            f"cable: material {material!r} is not known{did_you_mean(material, _COLUMNS)}; "
            f"known are {', '.join(_COLUMNS)}."
        )
    if system not in ("mm2", "AWG"):
        raise HydrokitError(f"cable: sections come in mm2 or AWG, got {system!r}.")
    in_mm2 = system == "mm2"
    table = load("cable_iec" if in_mm2 else "cable_awg")
    column = _COLUMNS[material][0 if in_mm2 else 1]
    if column is None:
        return ()
    to_20c = 1e-3 if in_mm2 else 1e-3 / _FOOT / resistance_factor.si(75 + 273.15)
    return tuple(
        Conductor(name, material, float(area * _MM2), float(ohm * to_20c), source)
        for name, area, ohm, source in zip(
            table["name"], table["section_mm2"], table[column], table["source"], strict=True
        )
        if not np.isnan(ohm)
    )


def conductor(section, material: str = "copper") -> Conductor:
    """The standard conductor a text such as ``"16 mm^2"``, ``"6 AWG"`` or ``"250 kcmil"`` means.

    Raises
    ------
    HydrokitError
        Not a standard section of that material, with the nearest ones.

    Examples
    --------
    >>> f"{conductor('16 mm^2').resistance_20c_ohm_m * 1000:.2f} ohm/km"
    '1.15 ohm/km'
    >>> print(f"{conductor('6 AWG').section:.1f~P}")
    13.3 mm²
    """
    if isinstance(section, Conductor):
        return section
    wanted = " ".join(str(section).replace("#", "").split())
    if any(mark in wanted.lower() for mark in ("awg", "kcmil")):
        known = standard_sections(material, "AWG")
        found = [
            each
            for each in known
            if each.name.lower().replace(" ", "") == wanted.lower().replace(" ", "")
        ]
    else:
        known = standard_sections(material, "mm2")
        try:
            area = Q_(section, "m^2").m_as("m^2")
        except UnitsError:
            raise HydrokitError(
                f'cable: section {section!r} is neither a section such as "16 mm^2" nor a gauge such '
                'as "6 AWG".'
            ) from None
        found = [each for each in known if abs(each.section_m2 - area) < 0.01 * area]
    if not found:
        raise HydrokitError(
            f"cable: {wanted} is not a standard section of {material}; "
            f"there are {', '.join(each.name for each in known) or 'none of that kind'}."
        )
    return found[0]


@dataclass(frozen=True, eq=False)
class CableRun:
    """What a cable does to the power sent through it.

    ``resistance_ohm`` is out and back for direct current and one phase, of one conductor for three
    phases: what :class:`hydrokit.plant.parts.Wire` takes.
    """

    conductor: Conductor
    current_a: float
    drop_v: float
    drop_ratio: float
    loss_w: float
    loss_ratio: float
    delivered_w: float
    resistance_ohm: float
    findings: tuple[Finding, ...]

    @property
    def current(self):
        return Q_(self.current_a, "A")

    @property
    def drop(self):
        return Q_(self.drop_v, "V")

    @property
    def loss(self):
        return Q_(self.loss_w, "W")

    @property
    def delivered(self):
        return Q_(self.delivered_w, "W")


def line_current(power, voltage, system, power_factor=1.0):
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
    power,
    voltage,
    length,
    section,
    system="one-phase",
    material="copper",
    power_factor=1.0,
    temperature="40 degC",
    reactance="0.08 ohm/km",
    load="at the end",
    parallel=1,
):
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
    run = _run(
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
            f"cable: {run.conductor.name} over {np.max(length):,.0f} m cannot bring the "
            f"{np.max(power):,.0f} W to its end; take a thicker cable or a higher voltage."
        )
    return run


def _run(
    power,
    voltage,
    length,
    chosen,
    system,
    power_factor,
    temperature,
    reactance,
    load="at the end",
    parallel=1,
):
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
        drop / voltage,
        loss,
        loss / np.where(sent > 0, sent, 1.0),
        sent - loss,
        (1 if wires == 3 else 2) * resistance / parallel,
        _findings(chosen, drop / voltage),
    )


def _findings(chosen: Conductor, drop_ratio) -> tuple[Finding, ...]:
    worst = float(np.max(drop_ratio))
    said = [
        Finding(
            "note",
            "cable",
            "the current it may carry by its heating is for the local code and a licensed electrician",
        )
    ]
    if worst > LARGE_DROP:
        said.append(
            Finding(
                "caution",
                "cable",
                f"{chosen.name}: the voltage drops by {100 * worst:.1f} %; "
                "5 % in all is common practice",
            )
        )
    elif worst > USUAL_DROP:
        said.append(
            Finding(
                "note",
                "cable",
                f"{chosen.name}: the voltage drops by {100 * worst:.1f} %; "
                "3 % in one run is common practice",
            )
        )
    return tuple(said)


@units(
    None,
    power="W",
    voltage="V",
    length="m",
    drop="ratio",
    power_factor="ratio",
    temperature="K",
    reactance="ohm/m",
)
def smallest_cable(
    power,
    voltage,
    length,
    drop="3 %",
    system="one-phase",
    material="copper",
    power_factor=1.0,
    temperature="40 degC",
    reactance="0.08 ohm/km",
    sections="mm2",
):
    """Thinnest standard cable that keeps the voltage drop within a share of the voltage.

    Parameters
    ----------
    power, voltage, length, system, material, power_factor, temperature, reactance
        As in :func:`cable`.
    drop : number or str
        Share of the voltage that may be lost.
    sections : {"mm2", "AWG"}

    Returns
    -------
    CableRun

    Raises
    ------
    HydrokitError
        No standard cable is thick enough.

    References
    ----------
    .. [1] IEC 60228:2004; NEC chapter 9, tables 8 and 9; 3 % in one run is the NEC's informational note.

    Examples
    --------
    >>> smallest_cable("3 kW", "230 V", "200 m").conductor.name
    '16 mm2'
    >>> smallest_cable("1.8 kW", "120 V", "100 ft", "5 %", sections="AWG").conductor.name
    '12 AWG'
    """
    known = standard_sections(material, sections)
    for each in known:
        run = _run(power, voltage, length, each, system, power_factor, temperature, reactance)
        if np.all(run.drop_ratio <= drop):
            return run
    raise HydrokitError(
        f"cable: no {material} up to {known[-1].name if known else 'any section'} keeps the drop within "
        f"{100 * np.min(drop):.3g} % over {np.max(length):,.0f} m; raise the voltage or lay several side by side."
    )


@dataclass(frozen=True, eq=False)
class CableCost:
    """Price of a cable and what its losses cost over its life, in today's money."""

    run: CableRun
    price: float
    lost: float

    @property
    def total(self) -> float:
        return self.price + self.lost


@units(
    None,
    power="W",
    voltage="V",
    length="m",
    value="money/J",
    hours="s",
    power_factor="ratio",
    temperature="K",
    reactance="ohm/m",
    discount_rate="ratio",
)
def cheapest_cable(
    power,
    voltage,
    length,
    prices: Mapping,
    value,
    hours,
    years,
    discount_rate=0.0,
    system="one-phase",
    material="copper",
    power_factor=1.0,
    temperature="40 degC",
    reactance="0.08 ohm/km",
):
    """Cables by what they cost over their life: price and the worth of the energy they lose.

    Parameters
    ----------
    power, voltage, length, system, material, power_factor, temperature, reactance
        As in :func:`cable`; the power at full load.
    prices : mapping of section to Quantity or str [money/length]
        Laid price per length of route: ``{"16 mm^2": "6 money/m", "25 mm^2": "9 money/m"}``.
    value : Quantity or str [money/energy]
        What a kWh is worth.
    hours : Quantity or str [time]
        A year, at full load, that would lose as much as the real year.
    years : number
        Life.
    discount_rate : number
        A year.

    Returns
    -------
    tuple of CableCost
        The cheapest first.

    Raises
    ------
    HydrokitError
        None of the cables can carry the power.

    Notes
    -----
    A year's loss is worth ``loss x hours x value`` at each year's end.

    References
    ----------
    .. [1] Present worth of equal yearly sums; Kelvin's law of the cheapest section (W. Thomson, 1881).

    Examples
    --------
    >>> best = cheapest_cable("4 kW", "230 V", "150 m", {"10 mm^2": "5 money/m", "25 mm^2": "11 money/m"},
    ...                       "0.15 money/kWh", "5000 h", 20, 0.05)[0]
    >>> best.run.conductor.name
    '25 mm2'
    >>> cheapest_cable("1 hp", "120 V", "100 ft", {"10 AWG": "1 money/ft", "6 AWG": "3 money/ft"},
    ...                "0.15 money/kWh", "2000 h", 20, 0.05)[0].run.conductor.name
    '10 AWG'
    """
    worth = years if discount_rate == 0 else (1 - (1 + discount_rate) ** -years) / discount_rate
    costs = []
    for section, price in prices.items():
        run = _run(
            power,
            voltage,
            length,
            conductor(section, material),
            system,
            power_factor,
            temperature,
            reactance,
        )
        if run.delivered_w > 0 and run.drop_ratio < 1:
            price_si = Q_(price, "money/m").m_as("money/m") * length
            costs.append(CableCost(run, price_si, float(run.loss_w * hours * value * worth)))
    if not costs:
        raise HydrokitError(
            "cable: none of the priced cables can carry the power to the end; raise the voltage."
        )
    return tuple(sorted(costs, key=lambda cost: cost.total))
