"""Pressure waves when water is stopped, the time a valve must take, and pipe that a vacuum can crush."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, Outside, units
from ..water import GRAVITY, air_pressure
from .solve import require

__all__ = [
    "DEFLECTORS",
    "STORED_PRESSURE_CAUTION",
    "VACUUM_CAUTION",
    "closing_time",
    "collapse_pressure",
    "critical_time",
    "slow_closure",
    "surge",
    "vacuum_safety",
    "wave_speed",
    "wave_speed_plastic",
]

STORED_PRESSURE_CAUTION = (
    "A full penstock stores energy in its water, and air trapped in it far more. Never stand over "
    "a cap, coupling or vent while the line is filled or a valve is moved, never loosen a joint "
    "under pressure, and close valves slowly. Where a burst could hurt someone, have the line "
    "designed and tested by a licensed engineer."
)
VACUUM_CAUTION = (
    "Draining a pipe, shutting its upper valve or uncovering its inlet in a drawn-down pond pulls "
    "a vacuum that can fold a thin pipe flat within seconds and can draw in fingers, clothing or "
    "dirt at any opening. Air must have a free way in just below every upper valve; keep hands "
    "away from a vent that is drawing air."
)
DEFLECTORS = (
    "A jet deflector turns the jet away from the runner and leaves the flow in the pipe as it "
    "was: it stops the machine at once and causes no surge. A valve or spear that is then closed "
    "slowly ends the flow."
)


@units(
    "m/s",
    diameter="m",
    wall="m",
    modulus="Pa",
    bulk_modulus="Pa",
    density="kg/m^3",
    restraint="ratio",
)
def wave_speed(
    diameter: Given,
    wall: Given,
    modulus: Given = None,
    bulk_modulus: Given = "2.09 GPa",
    density: Given = "999.7 kg/m^3",
    restraint: Given = 1.0,
) -> Number:
    r"""Speed of a pressure wave in a thin-walled pipe full of water.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.
    wall : Quantity or str [length]
        Wall thickness, :math:`t`.
    modulus : Quantity or str [pressure], optional
        Elastic modulus of the wall, :math:`E`; the short-term one for plastics. Left out, the pipe
        is rigid.
    bulk_modulus, density : Quantity or str
        :math:`K` and :math:`\rho` of the water; the defaults are those at 10 °C.
    restraint : float
        :math:`c`: 1 with joints that slide, 1 − ν² held along its length, 1.25 − ν held at one end
        (ν: Poisson's ratio; the last two from memory, they change the speed by a few per cent).

    Returns
    -------
    Quantity [speed]
        :math:`a`, in m/s. Even a little free air in the water makes it far lower.

    Raises
    ------
    HydrokitError
        A size or modulus not above zero.

    Warns
    -----
    RangeWarning
        D/t under 10: the wall is too thick for the formula (it then gives too slow a wave).

    Notes
    -----
    .. math:: a = \sqrt{\frac{K/\rho}{1 + c\,K D/(E t)}}

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problems 14.11 to 14.19.

    Examples
    --------
    >>> print(f"{wave_speed('102.3 mm', '6.02 mm', '2.76 GPa'):.0f~P}")
    388 m/s
    >>> print(f"{wave_speed('4 in', '0.237 in', '400000 psi').to('ft/s'):.0f~P}")
    1277 ft/s
    """
    require(
        "wave_speed",
        "above zero",
        diameter=diameter,
        wall=wall,
        bulk_modulus=bulk_modulus,
        density=density,
    )
    if modulus is None:
        return np.sqrt(bulk_modulus / density) + 0 * np.asarray(diameter) * wall
    require("wave_speed", "above zero", modulus=modulus)
    give = restraint * bulk_modulus * np.asarray(diameter) / (modulus * np.asarray(wall))
    return np.sqrt(bulk_modulus / density / (1 + give))


@wave_speed.valid
def _(diameter: Given, wall: Given) -> Iterator[Outside]:
    yield (
        np.asarray(diameter) / wall < 10,
        "diameter less than ten walls: the thin-wall wave speed is too slow there",
    )


@units("m/s", dimension_ratio="ratio", modulus="Pa", bulk_modulus="Pa")
def wave_speed_plastic(
    dimension_ratio: Given, modulus: Given = "400000 psi", bulk_modulus: Given = "300000 psi"
) -> Number:
    r"""Speed of a pressure wave in plastic pipe, from its dimension ratio.

    Parameters
    ----------
    dimension_ratio : float
        Outside diameter over wall, DR (or SDR).
    modulus : Quantity or str [pressure]
        Short-term modulus of the plastic, :math:`E`; the default is that of PVC.
    bulk_modulus : Quantity or str [pressure]
        Of the water, :math:`K`.

    Returns
    -------
    Quantity [speed]
        In m/s.

    Raises
    ------
    HydrokitError
        A dimension ratio of 2 or less.

    Notes
    -----
    .. math:: a = \frac{4660\ \mathrm{ft/s}}{\sqrt{1 + (K/E)(DR - 2)}}

    References
    ----------
    .. [1] AWWA C900/C905 and M23 form, from memory; its surges of 17.4 psi (DR 18) and 14.7 psi
       (DR 25) for each 1 ft/s are those printed with AWWA C900.

    Examples
    --------
    >>> print(f"{wave_speed_plastic(26):.0f~P}")
    326 m/s
    >>> print(f"{wave_speed_plastic(18, '400000 psi').to('ft/s'):.0f~P}")
    1292 ft/s
    """
    require("wave_speed_plastic", "above zero", modulus=modulus, bulk_modulus=bulk_modulus)
    ratio = np.asarray(dimension_ratio, dtype=float)
    if np.any(ratio <= 2):
        raise HydrokitError(
            "wave_speed_plastic(): dimension_ratio is outside diameter over wall, above 2; "
            f"got {dimension_ratio}"
        )
    return 4660 * 0.3048 / np.sqrt(1 + bulk_modulus / modulus * (ratio - 2))


@units("s", length="m", wave_speed="m/s")
def critical_time(length: Given, wave_speed: Given) -> Number:
    r"""Time in which a pressure wave runs up the pipe and back, :math:`2L/a`.

    Parameters
    ----------
    length : Quantity or str [length]
        From the valve to the pond, :math:`L`.
    wave_speed : Quantity or str [speed]
        :math:`a`.

    Returns
    -------
    Quantity [time]
        Closing in less than this is the same as closing at once.

    Raises
    ------
    HydrokitError
        A wave speed not above zero, a negative length.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problem 14.16, p. 359.

    Examples
    --------
    >>> print(f"{critical_time('420 m', '390 m/s'):.2f~P}")
    2.15 s
    >>> print(f"{critical_time('1380 ft', '1280 ft/s'):.2f~P}")
    2.16 s
    """
    require("critical_time", "above zero", wave_speed=wave_speed)
    require("critical_time", "zero or more", length=length)
    return 2 * np.asarray(length) / wave_speed


@units("m", velocity_change="m/s", wave_speed="m/s", length="m", closing_time="s")
def surge(
    velocity_change: Given, wave_speed: Given, length: Given, closing_time: Given = "0 s"
) -> Number:
    r"""Rise of head at a valve that slows the water in a single pipe from a pond.

    Parameters
    ----------
    velocity_change : Quantity or str [speed]
        By how much the water is slowed, :math:`\Delta V`; negative when a valve is opened, which
        gives a fall of head.
    wave_speed : Quantity or str [speed]
        :math:`a`; see :func:`wave_speed`.
    length : Quantity or str [length]
        From the valve to the pond, :math:`L`.
    closing_time : Quantity or str [time]
        Time the closing takes, :math:`T`. The last quarter of a gate's travel does most of the
        closing: count that part only.

    Returns
    -------
    Quantity [length]
        Head above the running head before closing; the static head is not in it.

    Raises
    ------
    HydrokitError
        A negative time or length, a wave speed not above zero.

    Notes
    -----
    Up to the critical time :math:`2L/a` the closing is rapid (Joukowsky), beyond it slow (Michaud):

    .. math:: \Delta H = \frac{a\,\Delta V}{g}\ (T \le 2L/a), \qquad
              \Delta H = \frac{2 L\,\Delta V}{g T}\ (T > 2L/a)

    Michaud's line is twice what stopping a rigid column evenly would need, and stays above Allievi's
    (:func:`slow_closure`) until the rise is three times the static head.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problems 14.13 to 14.19.
    .. [2] J. Michaud, "Coups de bélier dans les conduites", Bull. Soc. Vaudoise Ing. Arch., 1878.

    Examples
    --------
    >>> print(f"{surge('1.4 m/s', '390 m/s', '420 m'):.1f~P}")
    55.7 m
    >>> print(f"{surge('4.6 ft/s', '1280 ft/s', '1380 ft', '12 s').to('ft'):.1f~P}")
    32.9 ft
    """
    require("surge", "zero or more", closing_time=closing_time)
    critical = critical_time.si(length, wave_speed)
    # Michaud at the critical time is Joukowsky, so the slow form scaled back from it serves both.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # shut at once
        share = np.where(
            np.asarray(closing_time) <= critical, 1.0, critical / np.maximum(closing_time, critical)
        )
    return np.asarray(velocity_change) * wave_speed * share / GRAVITY


@units("s", margin="head", velocity_change="m/s", wave_speed="m/s", length="m")
def closing_time(margin: Given, velocity_change: Given, wave_speed: Given, length: Given) -> Number:
    r"""Shortest time a valve may take so that the surge stays within a margin.

    Parameters
    ----------
    margin : Quantity or str [length]
        Head the weakest place can still bear: its rating at the water's temperature less the
        static head there.
    velocity_change : Quantity or str [speed]
        By how much the water is slowed, :math:`\Delta V`.
    wave_speed : Quantity or str [speed]
    length : Quantity or str [length]
        From the valve to the pond, :math:`L`.

    Returns
    -------
    Quantity [time]
        Zero where even an instant closing stays within the margin; infinite where there is no
        margin at all.

    Raises
    ------
    HydrokitError
        A negative speed or length, a wave speed not above zero.

    Notes
    -----
    The inverse of :func:`surge`: :math:`T = 2 L \Delta V/(g\,\Delta H)`. For a spear or a gate of
    which the last quarter does the closing, four times this for the whole travel (common practice).

    References
    ----------
    .. [1] As :func:`surge`.

    Examples
    --------
    >>> print(f"{closing_time('10 m', '1.4 m/s', '390 m/s', '420 m'):.1f~P}")
    12.0 s
    >>> print(f"{closing_time('200 ft', '4.6 ft/s', '1280 ft/s', '1380 ft'):.1f~P}")
    0.0 s
    """
    require("closing_time", "zero or more", velocity_change=velocity_change, length=length)
    at_once = surge.si(velocity_change, wave_speed, length)
    margin = np.asarray(margin, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = 2 * np.asarray(length) * velocity_change / (GRAVITY * np.maximum(margin, 0.0))
    return np.where(np.isnan(margin), np.nan, np.where(at_once <= margin, 0.0, needed))[()]


@units(("m", "m"), velocity="m/s", length="m", static_head="head", closing_time="s")
def slow_closure(
    velocity: Given, length: Given, static_head: Given, closing_time: Given
) -> tuple[Number, Number]:
    r"""Rise and fall of head at a valve closed slowly, by the closed form of Allievi.

    Parameters
    ----------
    velocity : Quantity or str [speed]
        Of the water before closing, :math:`V`.
    length : Quantity or str [length]
        From the valve to the pond, :math:`L`.
    static_head : Quantity or str [length]
        At the valve, :math:`H_0`.
    closing_time : Quantity or str [time]
        Longer than the critical time, :math:`T`.

    Returns
    -------
    rise, fall : Quantity [length]
        Greatest rise while closing and greatest fall while opening in the same time, both positive.

    Raises
    ------
    HydrokitError
        A head or time not above zero.

    Notes
    -----
    Rigid water and pipe, no friction, the valve's opening shut in proportion to time:

    .. math:: N = \left(\frac{L V}{g H_0 T}\right)^2, \qquad
              \frac{\Delta H}{H_0} = \pm\frac N2 + \sqrt{N + \frac{N^2}4}

    A cross-check on :func:`surge`, which is the larger of the two while N is below 2.25.

    References
    ----------
    .. [1] L. Allievi, *Theory of Water Hammer*, 1925, in the closed form of the textbooks (from memory).

    Examples
    --------
    >>> print("{:.2f~P} {:.2f~P}".format(*slow_closure('1.5 m/s', '400 m', '60 m', '6 s')))
    11.10 m 9.37 m
    >>> print("{:.1f~P}".format(slow_closure('4.92 ft/s', '1312 ft', '197 ft', '6 s')[0].to('ft')))
    36.4 ft
    """
    require("slow_closure", "above zero", static_head=static_head, closing_time=closing_time)
    n = (np.asarray(length) * velocity / (GRAVITY * np.asarray(static_head) * closing_time)) ** 2
    swing = np.sqrt(n + n * n / 4)
    return static_head * (swing + n / 2), static_head * (swing - n / 2)


@units("Pa", dimension_ratio="ratio", modulus="Pa", poisson="ratio")
def collapse_pressure(dimension_ratio: Given, modulus: Given, poisson: Given = 0.38) -> Number:
    r"""Pressure outside over inside at which a long, round, unsupported pipe folds flat.

    Parameters
    ----------
    dimension_ratio : float
        Outside diameter over wall.
    modulus : Quantity or str [pressure]
        :math:`E`; for plastics the one for the time the vacuum lasts (years: a fifth or less).
    poisson : float
        :math:`\nu`: PVC 0.38, polyethylene 0.45, steel 0.3.

    Returns
    -------
    Quantity [pressure]
        Critical difference of pressure. A pipe out of round folds well below it: see
        :func:`vacuum_safety`.

    Raises
    ------
    HydrokitError
        A dimension ratio of 1 or less, a Poisson's ratio outside 0 to 0.5.

    Notes
    -----
    .. math:: p_c = \frac{2E}{1 - \nu^2}\,\frac{1}{(DR - 1)^3}

    References
    ----------
    .. [1] Long thin tube under outside pressure (Bresse, Timoshenko & Gere, *Theory of Elastic
       Stability*, ch. 7), constants from memory.

    Examples
    --------
    >>> print(f"{collapse_pressure(41, '2.76 GPa').to('kPa'):.0f~P}")
    101 kPa
    >>> print(f"{collapse_pressure(26, '400000 psi').to('psi'):.1f~P}")
    59.8 psi
    """
    require("collapse_pressure", "above zero", modulus=modulus)
    ratio, nu = np.asarray(dimension_ratio, dtype=float), np.asarray(poisson, dtype=float)
    if np.any(ratio <= 1):
        raise HydrokitError(
            "collapse_pressure(): dimension_ratio is outside diameter over wall, above 1; got "
            f"{dimension_ratio}"
        )
    if np.any((nu < 0) | (nu > 0.5)):
        raise HydrokitError(f"collapse_pressure(): poisson lies between 0 and 0.5, got {poisson}")
    return 2 * modulus / (1 - nu**2) / (ratio - 1) ** 3


@units("number", dimension_ratio="ratio", modulus="Pa", poisson="ratio", altitude="m")
def vacuum_safety(
    dimension_ratio: Given, modulus: Given, poisson: Given = 0.38, altitude: Given = "0 m"
) -> Number:
    r"""How many times the full vacuum of the place a round pipe would stand.

    Parameters
    ----------
    dimension_ratio, modulus, poisson
        As in :func:`collapse_pressure`.
    altitude : Quantity or str [length]
        Of the pipe above sea level: there is less air to press on it higher up.

    Returns
    -------
    float or ndarray
        Collapse pressure over air pressure. Under 1 the pipe folds; 4 is the usual demand for
        pipe that is not perfectly round.

    Raises
    ------
    HydrokitError
        As :func:`collapse_pressure`.

    Warns
    -----
    RangeWarning
        Less than 4: vents that let air in are needed.

    References
    ----------
    .. [1] AWWA M51, *Air Valves*, 2nd ed., 2016: safety factor 4 against collapse, as quoted in
       public code that cites it.

    Examples
    --------
    >>> round(vacuum_safety(17, '2.76 GPa', altitude='1600 m'), 1)
    18.9
    >>> round(vacuum_safety(21, '400000 psi', altitude='6000 ft'), 1)
    9.9
    """
    return collapse_pressure.si(dimension_ratio, modulus, poisson) / air_pressure.si(altitude)


@vacuum_safety.valid
def _(dimension_ratio: Given, modulus: Given, poisson: Given, altitude: Given) -> Iterator[Outside]:
    safety = vacuum_safety.si(dimension_ratio, modulus, poisson, altitude)
    yield (
        np.asarray(safety) < 4,
        "a pipe this thin can be crushed by a vacuum (less than four times safe): give it air inlets",
    )
