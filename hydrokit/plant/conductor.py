"""Conductors: sections and gauges, resistance by material and temperature."""

from __future__ import annotations

import functools
from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import HydrokitError, UnitsError, did_you_mean
from ..tables import load
from ..units import Q_, Given, Number, Quantity, units
from .gauge import circular_mils

__all__ = ["Conductor", "conductor", "resistance_factor", "standard_sections"]

_MM2 = 1e-6
_FOOT = 0.3048
# Columns of the tables for each material; the IEC one at 20 degC in ohm/km, the AWG one at 75 degC
# in ohm/kft.
_COLUMNS = {
    "copper": ("copper_ohm_per_km", "copper_ohm_per_kft_75c"),
    "aluminium": ("aluminium_ohm_per_km", "aluminium_ohm_per_kft_75c"),
    "flexible copper": ("copper_flexible_ohm_per_km", None),
    "solid copper": (None, "copper_solid_ohm_per_kft_75c"),
}


@dataclass(frozen=True, eq=False)
class Conductor:
    """One standard conductor: its section and its resistance per length at 20 degC."""

    name: str
    material: str
    section_m2: float
    _: KW_ONLY
    resistance_20c_ohm_m: float
    source: str

    @property
    def trade(self) -> str:
        """Its name as a text writes it; ``name`` is that of site files."""
        return self.name.replace("mm2", "mm²")

    @property
    def section(self) -> Quantity:
        return Q_(self.section_m2 / _MM2, "mm^2")

    @property
    def mils(self) -> float:
        """Its section in circular mils."""
        return float(circular_mils.si(self.section_m2))


@units("number", temperature="K")
def resistance_factor(temperature: Given) -> Number:
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
        Conductor(
            name,
            material,
            float(area * _MM2),
            resistance_20c_ohm_m=float(ohm * to_20c),
            source=source,
        )
        for name, area, ohm, source in zip(
            table["name"], table["section_mm2"], table[column], table["source"], strict=True
        )
        if not np.isnan(ohm)
    )


def conductor(section: Conductor | str | None, material: str = "copper") -> Conductor:
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
