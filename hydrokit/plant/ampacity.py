"""What a conductor bears by its heating, and which bear a breaker. For planning: the local code decides."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..tables import load
from ..units import Given, units
from .conductor import Conductor, standard_sections

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["SOURCES", "ambient_factor", "ampacity", "sections_that_bear"]

SOURCES = {
    "AWG": (
        "NEC table 310.16, from memory: the lowest column to 1 AWG, the middle one above, three "
        "conductors in a conduit in the air of the table"
    ),
    "mm2": (
        "IEC 60364-5-52 table B.52.4, from memory: method B2, PVC, three conductors in a conduit "
        "on a wall in the air of the table; in the open or in the ground a cable bears more"
    ),
}
# Breakers of these are not above it, whatever the column says: NEC 240.4(D), from memory.
_SMALL = {"14 AWG": 15.0, "12 AWG": 20.0, "10 AWG": 30.0}
_SMALL_ALUMINIUM = {"12 AWG": 15.0, "10 AWG": 25.0}
_LAST_OF_60 = 100.0  # A: circuits to here have terminals for 60 degC (NEC 110.14(C), from memory)


@units("number", ambient="K", limit="K", reference="K")
def ambient_factor(
    ambient: Given, limit: Given = "70 degC", reference: Given = "30 degC"
) -> Number:
    r"""Share of its current that a conductor bears where it is warmer or colder around than its table has it.

    Parameters
    ----------
    ambient : Quantity or str [temperature]
        Around the cable, :math:`T_a`.
    limit : Quantity or str [temperature]
        The insulation bears, :math:`T_c`: 70 degC PVC, 90 degC cross-linked.
    reference : Quantity or str [temperature]
        Of the table, :math:`T_r`: 30 degC in air, 20 degC in the ground.

    Returns
    -------
    float or array

    Raises
    ------
    HydrokitError
        A limit that is not above the others.

    Notes
    -----
    .. math:: \sqrt{\frac{T_c - T_a}{T_c - T_r}}

    References
    ----------
    .. [1] NEC 310.15(B), equation and tables; IEC 60364-5-52, tables B.52.14 and B.52.15.

    Examples
    --------
    >>> print(f"{ambient_factor('40 degC'):.2f}")
    0.87
    >>> print(f"{ambient_factor('104 degF', '167 degF', '86 degF'):.2f}")
    0.88
    """
    if np.any(np.asarray(limit) <= ambient) or np.any(np.asarray(limit) <= reference):
        raise HydrokitError(
            "ambient_factor(): the limit of the insulation must be above the temperature around it."
        )
    return np.sqrt((np.asarray(limit) - ambient) / (np.asarray(limit) - reference))


def ampacity(chosen: Conductor) -> float:
    """Current in A that a conductor bears for good; NaN where no table has it.

    Notes
    -----
    The lower of what is usual, so that a plan errs on the safe side; :data:`SOURCES` says which.
    """
    in_gauge = chosen.name.endswith(("AWG", "kcmil"))
    metal = "aluminium" if chosen.material == "aluminium" else "copper"
    table = load("ampacity_awg" if in_gauge else "ampacity_iec")
    if chosen.name not in table["name"]:
        return np.nan
    place = table["name"].index(chosen.name)
    if not in_gauge:
        return float(table[f"{metal}_70c_a"][place])
    cool = float(table[f"{metal}_60c_a"][place])
    borne = (
        cool
        if cool <= _LAST_OF_60 or chosen.name == "1 AWG"
        else float(table[f"{metal}_75c_a"][place])
    )
    small = _SMALL_ALUMINIUM if metal == "aluminium" else _SMALL
    return min(borne, small.get(chosen.name, np.inf)) if np.isfinite(borne) else np.nan


def sections_that_bear(rating_a: float, material: str, system: str) -> tuple[Conductor, ...]:
    """Standard conductors that bear a breaker of a rating, thin to thick."""
    return tuple(
        each
        for each in standard_sections(material, system)
        if ampacity(each) >= rating_a * (1 - 1e-9)
    )
