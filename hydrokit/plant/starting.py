"""The start of a motor on a small generator, as a circuit: what its terminals and the motor see."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Given, units
from ..works.solve import require
from .phases import REACTANCE

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["START_POWER_FACTOR", "MotorStart", "largest_start", "motor_start"]

START_POWER_FACTOR = (
    0.35  # of a locked rotor, common practice: 0.2 of large motors to 0.5 of small ones
)


@dataclass(frozen=True, eq=False)
class MotorStart:
    """Voltages while a motor starts, as shares of the rated voltage.

    Parameters
    ----------
    terminals, branch, motor : float
        At the generator, where the motor's cable begins, at the motor.
    current : float
        The motor draws, of what it would draw at the rated voltage.
    """

    terminals: float
    branch: float
    motor: float
    _: KW_ONLY
    current: float

    @property
    def dip(self) -> float:
        """Share of the voltage that the generator loses."""
        return 1.0 - self.terminals


def _impedance(drawn: float, factor: float) -> complex:
    """Of a load that draws an apparent power at the rated voltage 1; without limit where it draws nothing."""
    return complex(np.inf) if drawn == 0 else np.exp(1j * np.arccos(factor)) / drawn


def _beside(first: complex, second: complex) -> complex:
    """Two loads side by side."""
    if not np.isfinite(first):
        return second
    return first if not np.isfinite(second) else first * second / (first + second)


@units(
    None,
    start="W",
    rating="W",
    voltage="V",
    reactance="ratio",
    resistance="ratio",
    start_power_factor="ratio",
    standing="W",
    standing_power_factor="ratio",
    shared_resistance="ohm",
    shared_reactance="ohm",
    own_resistance="ohm",
    own_reactance="ohm",
)
def motor_start(
    start: Given,
    rating: Given,
    voltage: Given,
    reactance: Given = REACTANCE,
    resistance: Given = 0.0,
    start_power_factor: Given = START_POWER_FACTOR,
    standing: Given = "0 W",
    standing_power_factor: Given = 1.0,
    shared_resistance: Given = "0 ohm",
    shared_reactance: Given = "0 ohm",
    own_resistance: Given = "0 ohm",
    own_reactance: Given = "0 ohm",
) -> MotorStart:
    r"""Voltages at generator and motor in the moment after a motor is switched on.

    Parameters
    ----------
    start : Quantity or str [power]
        Apparent power of its locked rotor at the rated voltage: volts times amps, times √3 with three phases.
    rating : Quantity or str [power]
        Rated apparent power of the generator.
    voltage : Quantity or str [voltage]
        Rated; between two phases where there are three.
    reactance, resistance : number
        Transient, of the generator on its own rating.
    start_power_factor : number
        Of the locked rotor; common practice 0.2 to 0.5, small motors highest.
    standing : Quantity or str [power]
        What is on already, at the end of the shared cable.
    standing_power_factor : number
    shared_resistance, shared_reactance : Quantity or str [resistance]
        Of the cable that motor and standing load share: out and back of one phase, of one conductor of three.
    own_resistance, own_reactance : Quantity or str [resistance]
        Of the motor's own cable likewise.

    Returns
    -------
    MotorStart

    Raises
    ------
    HydrokitError
        A power factor outside 0 to 1, or powers and voltage that are not above zero.

    Notes
    -----
    An electromotive force behind :math:`r + jx` that held the rated voltage at the terminals before
    feeds, through the shared cable, the standing load beside the motor with its own cable; both
    loads as constant impedances. The regulator then brings the voltage back within a second or so.

    References
    ----------
    .. [1] A. L. Sheldrake, *Handbook of Electrical Engineering*, Wiley, 2003, study of motor
           starting, pp. 576-578.

    Examples
    --------
    >>> found = motor_start("34.03 kVA", "30 kVA", "400 V", 0.2)
    >>> f"{found.terminals:.3f} at the generator, {found.motor:.3f} at the motor"
    '0.823 at the generator, 0.823 at the motor'
    >>> found = motor_start("20 kVA", "25 kVA", "240 V", 0.2, own_resistance="0.1 ohm")
    >>> f"{found.dip:.3f}, {found.motor:.3f}"
    '0.129, 0.860'
    """
    require("motor_start", "above zero", start=start, rating=rating, voltage=voltage)
    require(
        "motor_start", "zero or more", reactance=reactance, resistance=resistance, standing=standing
    )
    for factor in (start_power_factor, standing_power_factor):
        if not 0 < factor <= 1:
            raise HydrokitError(
                f"motor_start(): a power factor lies above 0 and at most at 1, got {factor:g}."
            )
    # all in shares: of the rated voltage and of the generator's rating
    base = voltage**2 / rating
    behind = complex(resistance, reactance)
    shared = complex(shared_resistance, shared_reactance) / base
    own = complex(own_resistance, own_reactance) / base
    others = _impedance(standing / rating, float(standing_power_factor))
    rotor = _impedance(start / rating, float(start_power_factor))
    before = 0.0 if not np.isfinite(others) else 1.0 / (shared + others)
    emf = 1.0 + before * behind
    loads = _beside(others, own + rotor)
    current = emf / (behind + shared + loads)
    branch = current * loads
    motor = branch * rotor / (own + rotor)
    return MotorStart(
        float(abs(current * (shared + loads))),
        float(abs(branch)),
        float(abs(motor)),
        current=float(abs(motor)),
    )


@units("W", rating="W", reactance="ratio", dip="ratio")
def largest_start(rating: Given, reactance: Given = REACTANCE, dip: Given = 0.15) -> Number:
    r"""Largest apparent power of a locked rotor that a generator starts within a voltage dip.

    Parameters
    ----------
    rating : Quantity or str [power]
        Rated apparent power of the generator, :math:`S_r`.
    reactance : number
        Its transient reactance on that rating, :math:`x`.
    dip : number
        Share of the voltage that may be lost, :math:`d`: 15 % where only motors see it, 5 % where
        lamps burn (common practice).

    Returns
    -------
    Quantity [power]

    Raises
    ------
    HydrokitError
        A dip outside 0 to 1.

    Notes
    -----
    .. math:: S = \frac{S_r}{x} \frac{d}{1-d}

    References
    ----------
    .. [1] Voltage divider of reactance and motor: :func:`hydrokit.plant.phases.starting_dip` turned round.

    Examples
    --------
    >>> print(f"{largest_start('10 kVA', 0.2).to('kW'):.2f~P}")
    8.82 kW
    >>> print(f"{largest_start('20 hp', 0.25).to('hp'):.1f~P}")
    14.1 hp
    """
    require("largest_start", "above zero", rating=rating, reactance=reactance)
    if not np.all((np.asarray(dip) > 0) & (np.asarray(dip) < 1)):
        raise HydrokitError(f"largest_start(): a dip lies between 0 and 1, got {np.min(dip):g}.")
    return np.asarray(rating) / reactance * np.asarray(dip) / (1 - np.asarray(dip))
