"""Which cable to buy: the smallest for a voltage drop, and the cheapest over its life."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Mapping

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Q_, Given, units
from .cable import CableRun, cable_run
from .conductor import conductor, standard_sections

__all__ = ["CableCost", "cheapest_cable", "smallest_cable"]


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
    power: Given,
    voltage: Given,
    length: Given,
    drop: Given = "3 %",
    system: str = "one-phase",
    material: str = "copper",
    power_factor: Given = 1.0,
    temperature: Given = "40 degC",
    reactance: Given = "0.08 ohm/km",
    sections: str = "mm2",
) -> CableRun:
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
        run = cable_run(power, voltage, length, each, system, power_factor, temperature, reactance)
        if np.all(run.drop_ratio <= drop):
            return run
    raise HydrokitError(
        Sentence(
            "cable: no {material} up to {section} keeps the drop within {drop} over {length}; "
            "raise the voltage or lay several side by side.",
            material=material,
            section=known[-1].name if known else "any section",
            drop=Amount(np.min(drop), "share"),
            length=Amount(np.max(length), "length"),
        )
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
    power: Given,
    voltage: Given,
    length: Given,
    prices: Mapping,
    value: Given,
    hours: Given,
    years: int,
    discount_rate: Given = 0.0,
    system: str = "one-phase",
    material: str = "copper",
    power_factor: Given = 1.0,
    temperature: Given = "40 degC",
    reactance: Given = "0.08 ohm/km",
) -> tuple[CableCost, ...]:
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
        run = cable_run(
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
