"""The current of a short circuit that a small generator feeds, and whether a breaker trips on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Given, units
from ..works.solve import require
from .phases import REACTANCE

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["MAGNETIC", "short_circuit_current"]

# Times its rating at which a breaker surely trips at once: IEC 60898 curves, from memory.
MAGNETIC = {"B": 5.0, "C": 10.0}
_LOOPS = {"one-phase": 1.0, "three-phase": np.sqrt(3.0)}


@units("A", rating="W", voltage="V", reactance="ratio", resistance="ohm", crosswise="ohm")
def short_circuit_current(
    rating: Given,
    voltage: Given,
    reactance: Given = REACTANCE,
    system: str = "one-phase",
    resistance: Given = "0 ohm",
    crosswise: Given = "0 ohm",
) -> Number:
    r"""Current in the first cycles of a short circuit at the end of a cable.

    Parameters
    ----------
    rating : Quantity or str [power]
        Rated apparent power of the generator, :math:`S_r`.
    voltage : Quantity or str [voltage]
        Rated, :math:`U`; between two phases where there are three.
    reactance : number
        Transient, on its own rating, :math:`x`.
    system : {"one-phase", "three-phase"}
        Three: all three phases together.
    resistance, crosswise : Quantity or str [resistance]
        Resistance and reactance of the cable to the place: out and back of one phase, of one
        conductor of three.

    Returns
    -------
    Quantity [current]

    Raises
    ------
    HydrokitError
        Another system, or a generator without a rating.

    Notes
    -----
    .. math:: I = \frac{U}{b\,|R + j(X + x\,U^2/S_r)|}

    with b = 1 for one phase, √3 for three. It falls within a second or so to what the regulator
    holds; an induction generator that excites itself, and one of permanent magnets behind an
    inverter, give less. A fault from one phase to earth of a three-phase set is not in this.

    References
    ----------
    .. [1] Thevenin circuit of the transient reactance; at the terminals :math:`1/x` of the rated current.

    Examples
    --------
    >>> print(f"{short_circuit_current('10 kVA', '400 V', 0.2, 'three-phase'):.1f~P}")
    72.2 A
    >>> print(f"{short_circuit_current('10 hp', '240 V', 0.2):.0f~P}")
    155 A
    """
    require(
        "short_circuit_current", "above zero", rating=rating, voltage=voltage, reactance=reactance
    )
    require("short_circuit_current", "zero or more", resistance=resistance, crosswise=crosswise)
    if system not in _LOOPS:
        raise HydrokitError(
            f"short_circuit_current(): system must be one-phase or three-phase, got {system!r}."
        )
    behind = reactance * np.square(voltage) / rating
    return voltage / (_LOOPS[system] * np.hypot(resistance, np.asarray(crosswise) + behind))
