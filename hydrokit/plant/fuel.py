"""Fuel a plant's heat saves: cords, pellets, gas, oil, from tables that say gross or net."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding, HydrokitError, did_you_mean
from ..tables import load, row
from ..units import Q_, Given, Number, Quantity, units
from ..works.solve import require

__all__ = ["STOVES", "FuelSaved", "fuel_heat", "fuel_saved", "fuels"]

_BTU = 1055.05585262

# Useful over gross heat of wood. The first two are defaults a regulator used until 2015, the others
# means of tests.
STOVES = {
    "non-catalytic": (0.63, "EPA default efficiency, dropped in 2015"),
    "catalytic": (0.72, "EPA default efficiency, dropped in 2015"),
    "non-catalytic, tested": (
        0.71,
        "mean of tested stoves, gross heat: Alliance for Green Heat from the EPA list, 2018",
    ),
    "catalytic, tested": (
        0.77,
        "mean of tested stoves, gross heat: Alliance for Green Heat from the EPA list, 2018",
    ),
    "hybrid, tested": (
        0.78,
        "mean of tested stoves, gross heat: Alliance for Green Heat from the EPA list, 2018",
    ),
    "pellet, tested": (
        0.74,
        "mean of tested stoves, gross heat: Alliance for Green Heat from the EPA list, 2018",
    ),
}


@dataclass(frozen=True, eq=False)
class FuelSaved:
    """Amount of a fuel that gives the same useful heat."""

    fuel: str
    amount: float
    unit: str
    _: KW_ONLY
    useful_j_per_unit: float
    source: str
    findings: tuple[Finding, ...]

    @property
    def useful(self) -> Quantity:
        """Useful heat of one unit of the fuel."""
        return Q_(self.useful_j_per_unit, "J").to("kWh")


def fuels() -> tuple[str, ...]:
    """The fuels in the table."""
    return load("wood")["name"]


@units("J", efficiency="ratio")
def fuel_heat(fuel: str, efficiency: Given = None) -> Number:
    """Useful heat of one unit of a fuel: a cord, a short ton, a gallon.

    Parameters
    ----------
    fuel : str
        One of :func:`fuels`.
    efficiency : number or str, optional
        Of the stove or furnace, for a fuel whose table gives gross heat; ``STOVES`` has usual ones.
        Refused where the table is net of it already.

    Returns
    -------
    Quantity [energy]

    Raises
    ------
    HydrokitError
        An unknown fuel; an efficiency missing, not wanted, or not above 0 and at most 1.

    Notes
    -----
    The tables of firewood are for wood seasoned to 20 % moisture; do not correct them for dryness
    again. Tables of different houses differ by 8 % for the same wood.

    References
    ----------
    .. [1] University of Kentucky Forestry and Kansas State University Extension, firewood tables (gross).
    .. [2] USDA Forest Products Laboratory, TechLine on fuel values (net).

    Examples
    --------
    >>> print(f"{fuel_heat('red oak', '63 %').to('kWh'):.0f~P}")
    4782 kWh
    >>> print(f"{fuel_heat('propane').to('Btu'):.0f~P}")
    71000 Btu
    """
    if fuel not in fuels():
        raise HydrokitError(
            f"fuel {fuel!r} is not known{did_you_mean(fuel, fuels())}; known are {', '.join(fuels())}."
        )
    found = row("wood", fuel)
    if found["heat"] == "net":
        if efficiency is not None:
            raise HydrokitError(
                f"fuel {fuel!r}: its table is net of the stove already; leave the efficiency out."
            )
        return found["btu_per_unit"] * _BTU
    if efficiency is None:
        raise HydrokitError(
            f'fuel {fuel!r}: its table is gross; give the efficiency of the stove, such as "63 %".'
        )
    for rule in ("above zero", "a share from 0 to 1"):
        require("fuel_heat", rule, efficiency=efficiency)
    return found["btu_per_unit"] * _BTU * np.asarray(efficiency)


@units(None, heat="J", efficiency="ratio")
def fuel_saved(heat: Given, fuel: str, efficiency: Given = None) -> FuelSaved:
    """How much fuel a plant's heat stands for.

    Parameters
    ----------
    heat : Quantity or str [energy]
        Useful heat given to the house, such as the met part of a heat balance.
    fuel, efficiency
        As in :func:`fuel_heat`.

    Returns
    -------
    FuelSaved

    References
    ----------
    .. [1] As in :func:`fuel_heat`.

    Examples
    --------
    >>> saved = fuel_saved("14400 kWh", "red oak", "63 %")
    >>> print(f"{saved.amount:.1f} {saved.unit}s")
    3.0 cords
    >>> print(f"{fuel_saved('10000 kWh', 'propane').amount:.0f} gal")
    481 gal
    """
    each = fuel_heat.si(fuel, efficiency)
    found = row("wood", fuel)
    findings: tuple[Finding, ...] = ()
    if found["unit"] == "cord":
        findings = (
            Finding(
                "note",
                "fuel",
                "tables of firewood differ by 8 % for the same wood, and stacked cords by more",
            ),
        )
    return FuelSaved(
        fuel,
        heat / each,
        found["unit"],
        useful_j_per_unit=each,
        source=found["source"],
        findings=findings,
    )
