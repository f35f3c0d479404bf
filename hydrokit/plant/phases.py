"""Three phases: what loads of one phase do to a three-phase set, and how far its voltage dips while
a motor starts."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Sequence

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units
from ..works.solve import require

__all__ = [
    "REACTANCE",
    "UNBALANCE_LIMITS",
    "PhaseCurrents",
    "neutral_current",
    "phase_currents",
    "starting_dip",
    "with_ballast",
]

# Of a small machine, on its own rating; 0.16 at the very first (IEEE 141 as quoted, 0.10 to 0.24),
# somewhat more while the motor runs up.
REACTANCE = 0.20
# Negative-sequence current that a salient-pole set bears for long, of its rated current: without
# and with a damper winding (table of standard limits as quoted in a protection manual).
UNBALANCE_LIMITS = (0.05, 0.10)
_TURN = np.exp(2j * np.pi / 3)
_PHASES = np.array([1.0, _TURN**2, _TURN])  # voltages of L1, L2, L3 to the neutral


@units("A", first="A", second="A", third="A")
def neutral_current(first: Given, second: Given, third: Given) -> Number:
    r"""Current in the neutral of three phases that carry resistive loads.

    Parameters
    ----------
    first, second, third : Quantity or str [current]
        In the phases.

    Returns
    -------
    Quantity [current]

    Notes
    -----
    .. math:: I_N = \sqrt{A^2 + B^2 + C^2 - AB - BC - CA}

    Loads with third harmonics (chargers, lamps with electronics) fill the neutral even when balanced.

    References
    ----------
    .. [1] Sum of three phasors a third of a turn apart.

    Examples
    --------
    >>> print(f"{neutral_current('10 A', '10 A', '5 A'):.1f~P}")
    5.0 A
    >>> print(f"{neutral_current('100.17 A', '75.13 A', '50.08 A'):.1f~P}")
    43.4 A
    """
    a, b, c = (np.asarray(each, dtype=float) for each in (first, second, third))
    return np.sqrt(np.maximum(a * a + b * b + c * c - a * b - b * c - c * a, 0.0))


@dataclass(frozen=True, eq=False)
class PhaseCurrents:
    """What each phase of a three-phase set carries.

    Parameters
    ----------
    current_a : ndarray of 3
        In L1, L2, L3.
    neutral_a : float
    negative_a : float
        Negative-sequence current, which heats the rotor.
    phasors_a : ndarray of 3 complex
        The same currents against the voltage of L1.
    """

    current_a: np.ndarray
    neutral_a: float
    negative_a: float
    _: KW_ONLY
    phasors_a: np.ndarray

    def real_w(self, voltage_v: float) -> np.ndarray:
        """Power in W of each phase, its voltage to the neutral given."""
        return voltage_v * np.real(np.conj(self.phasors_a) * _PHASES)


def phase_currents(loads: Sequence[tuple[float, float, str]]) -> PhaseCurrents:
    """Currents of loads of one phase, of two and of three.

    Parameters
    ----------
    loads : sequence of (float, float, str)
        Current in A, power factor, and where it hangs: ``"1"``, ``"2"``, ``"3"`` to the neutral,
        ``"1-2"``, ``"2-3"``, ``"3-1"`` between two phases, ``"123"`` balanced on all.

    Returns
    -------
    PhaseCurrents

    Raises
    ------
    HydrokitError
        A place that is none of these.

    References
    ----------
    .. [1] Symmetrical components: of a single load to the neutral a third of its current is of negative
       sequence, of one between two phases 1/√3 of it.

    Examples
    --------
    >>> found = phase_currents([(21.65, 1.0, "1")])
    >>> f"{found.neutral_a:.2f} A in the neutral, {found.negative_a:.2f} A of negative sequence"
    '21.65 A in the neutral, 7.22 A of negative sequence'
    """
    total = np.zeros(3, dtype=complex)
    for amps, factor, where in loads:
        lag = np.exp(-1j * np.arccos(min(factor, 1.0)))
        if where == "123":
            total += amps * lag * _PHASES
        elif where in ("1", "2", "3"):
            place = int(where) - 1
            total[place] += amps * lag * _PHASES[place]
        elif where in ("1-2", "2-3", "3-1"):
            start, end = (int(each) - 1 for each in where.split("-"))
            between = _PHASES[start] - _PHASES[end]
            flow = amps * lag * between / abs(between)
            total[start] += flow
            total[end] -= flow
        else:
            raise HydrokitError(
                f"phase_currents(): a load hangs on 1, 2, 3, 1-2, 2-3, 3-1 or 123, got {where!r}"
            )
    return _carried(total)


def _carried(total: np.ndarray) -> PhaseCurrents:
    negative = (total[0] + _TURN**2 * total[1] + _TURN * total[2]) / 3
    return PhaseCurrents(
        np.abs(total), float(abs(total.sum())), float(abs(negative)), phasors_a=total
    )


def with_ballast(
    loads: PhaseCurrents, power_w: float, voltage_v: float, each_phase: bool
) -> tuple[np.ndarray, PhaseCurrents]:
    """What a ballast of resistors takes in each phase, and what the set carries then.

    Parameters
    ----------
    loads : PhaseCurrents
    power_w : float
        That the set makes: the ballast takes what the loads leave of it.
    voltage_v : float
        Of a phase to the neutral.
    each_phase : bool
        Whether it fills the emptiest phases first, so that all carry alike as far as can be; else
        its three resistors are switched alike.

    Returns
    -------
    (ndarray of 3, PhaseCurrents)
        Currents in A of the ballast; of loads and ballast together.
    """
    taken = loads.real_w(voltage_v)
    left = max(power_w - float(taken.sum()), 0.0)
    if each_phase:
        # the level to which the phases are filled: of the one, two or three emptiest
        low = np.sort(taken)
        levels = (left + np.cumsum(low)) / np.arange(1, 4)
        filled = max(at for at in range(3) if levels[at] >= low[at] - 1e-9)
        drawn = np.maximum(levels[filled] - taken, 0.0)
    else:
        drawn = np.full(3, left / 3)
    amps = drawn / voltage_v
    return amps, _carried(loads.phasors_a + amps * _PHASES)


@units("number", start="W", rating="W", reactance="ratio")
def starting_dip(start: Given, rating: Given, reactance: Given = REACTANCE) -> Number:
    r"""Share of its voltage that a generator loses while a motor starts.

    Parameters
    ----------
    start : Quantity or str [power]
        Apparent power the motor draws as it starts, :math:`S`: volts times amps of the locked rotor.
    rating : Quantity or str [power]
        Rated apparent power of the generator, :math:`S_r`.
    reactance : number
        Its transient reactance on that rating, :math:`x`: 0.15 to 0.25 (common practice), from its
        plate where there is one.

    Returns
    -------
    float

    Notes
    -----
    .. math:: \frac{\Delta U}{U} = \frac{S x}{S_r + S x}

    The regulator brings the voltage back within a second or so; what contactors and lamps see is
    the dip. A generator of permanent magnets has no regulator, an induction one may lose its voltage.

    References
    ----------
    .. [1] Voltage divider of the reactance and the motor. A motor-start note: 600 A on a source of
           5000 A, 10.7 %.

    Examples
    --------
    >>> print(f"{starting_dip('34.03 kW', '15 kW', 0.12):.3f}")
    0.214
    >>> print(f"{starting_dip('8 hp', '10 hp', 0.2):.3f}")
    0.138
    """
    require("starting_dip", "above zero", rating=rating)
    require("starting_dip", "zero or more", start=start, reactance=reactance)
    drawn = np.asarray(start, dtype=float) * reactance
    return drawn / (rating + drawn)
