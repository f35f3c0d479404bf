"""Ice on the creek: how thick, which nights make frazil, and what a cold thermometer says."""

from __future__ import annotations

import math

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, Number, units
from .frost import FREEZING_POINT
from .solve import require

__all__ = [
    "ICE_CAUTION",
    "RUNNING_WATER",
    "frazil_nights",
    "ice_coefficients",
    "ice_thickness",
    "stream_thermometer",
]

MOST_SUPERCOOLING = (
    0.040  # K, the greatest seen in two turbulent Alaska streams (Osterkamp and others)
)
# 1 in/√(°F·d) in cm/√(°C·d)
_INCH_PER_ROOT_F = 2.54 / math.sqrt(5 / 9)

ICE_CAUTION = (
    "No ice over moving water is safe: it is thin where the water is fast, where snow lies on it "
    "and beside rocks, pipes and banks. A computed thickness is never a reason to walk on it. Do "
    "not clear an intake alone; wear a rope held by somebody ashore, keep out of the way of ice "
    "that may let go, and leave it if cold or wet."
)
RUNNING_WATER = Sentence(
    "A creek stays open in deep frost while still water beside it freezes, because the water you "
    "see is new every moment. Each metre of it gives off heat at the surface, but the water has "
    "crossed that metre within seconds, springs and the ground feed it at a few degrees above "
    "zero, and the fall turns to heat on the way: {fall} of fall warms it by {warming}. Stirring "
    "keeps the whole depth at one temperature, so no quiet warm layer is left below a freezing "
    "skin, and snow and ice along the banks cover much of it. Still water in a pipe has none of "
    "this: what it loses, it loses for good. When running water does reach its freezing point it "
    "stays there. It can be supercooled by hundredths of a degree only, {most} at the most in "
    "streams that were measured, and only for minutes, because ice then forms in it and gives "
    "back its latent heat. A thermometer that shows one or several degrees below zero in a stream "
    "is wrong: it is out of adjustment, in the air, or frozen in. Read it as {frost}, and check "
    "it in a bucket of melting ice.",
    fall=Amount(100.0, "head"),
    warming=Amount(0.23, "temperature difference", 2),
    most=Amount(MOST_SUPERCOOLING, "temperature difference", 1),
    frost=Amount(FREEZING_POINT, "temperature"),
)


# Low and high of α in cm/√(°C·d). River rows: the printed tables of one agency's manual disagree by
# 3.3 times (0.4 to 0.5 against 0.12 to 0.15 in/√(°F·d)), so their low end is the lowest printed.
_ICE_COEFFICIENTS = {
    "windy lake without snow": (2.7, 2.7),
    "lake with snow": (1.7, 2.4),
    "river with snow": (0.12 * _INCH_PER_ROOT_F, 1.7),
    "sheltered small river": (0.12 * _INCH_PER_ROOT_F, 1.4),
}


def ice_coefficients(water: str) -> tuple[float, float]:
    """Low and high of the coefficient of ice growth, in cm per root of a degree Celsius day.

    Parameters
    ----------
    water : {"windy lake without snow", "lake with snow", "river with snow", "sheltered small river"}

    Raises
    ------
    HydrokitError
        Another water.
    """
    if water not in _ICE_COEFFICIENTS:
        raise HydrokitError(
            f"ice_thickness(): water must be one of {', '.join(_ICE_COEFFICIENTS)}; got {water!r}"
        )
    return _ICE_COEFFICIENTS[water]


@units(("m", "m"), freezing_index="delta_degC*d", coefficient="count")
def ice_thickness(
    freezing_index: Given, water: str = "sheltered small river", coefficient: Given = None
) -> tuple[Number, Number]:
    r"""Thickness of ice grown by a frost, as a band for the kind of water.

    Parameters
    ----------
    freezing_index : Quantity or str [temperature difference · time]
        Sum of the degrees of air below 0 °C over the days since freeze-up, :math:`F`.
    water : {"windy lake without snow", "lake with snow", "river with snow", "sheltered small river"}
    coefficient : float, optional
        :math:`\alpha` in cm/√(°C·d) from one's own drilling, instead of the band. One in/√(°F·d)
        is 3.408 of these.

    Returns
    -------
    low, high : Quantity [length]
        Never a reason to walk on it: see ``ICE_CAUTION``.

    Raises
    ------
    HydrokitError
        Another water, a negative coefficient.

    Notes
    -----
    :math:`h = \alpha\sqrt F`. The river bands are wide because the printed tables conflict.

    References
    ----------
    .. [1] USACE ice engineering practice, table of α by water, as carried by public code
       (2.7; 1.7-2.4; 1.4-1.7; 0.7-1.4 cm/√(°C·d)).
    .. [2] A page quoting CRREL TN 04-3 with 0.12 to 0.15 in/√(°F·d) for rivers.

    Examples
    --------
    >>> print("{:.0f~P} to {:.0f~P}".format(*(each.to('cm') for each in ice_thickness('250 delta_degC*d'))))
    6 cm to 22 cm
    >>> print("{:.1f~P}".format(ice_thickness('70 delta_degF*d', coefficient=2.045)[0].to('in')))
    5.0 in
    """
    low, high = ice_coefficients(water) if coefficient is None else (coefficient, coefficient)
    require("ice_thickness", "zero or more", coefficient=low)
    root = np.sqrt(np.maximum(freezing_index, 0.0)) / 100
    return low * root, high * root


@units(None, lowest_air="K", water_temperature="K", threshold="K", water_limit="K")
def frazil_nights(
    lowest_air: Given,
    water_temperature: Given,
    threshold: Given = "-6 degC",
    water_limit: Given = "1 degC",
) -> np.ndarray:
    r"""Which nights can make frazil: ice needles that glue a screen shut within hours.

    Parameters
    ----------
    lowest_air : Quantity or list [temperature]
        Of the night.
    water_temperature : Quantity or list [temperature]
        Of the creek in the evening.
    threshold : Quantity or str [temperature]
        Air colder than this, under a clear sky, over open turbulent water.
    water_limit : Quantity or str [temperature]
        Water warmer than this in the evening does not get down to 0 °C by morning: turbulent
        streams cooled by 1 to 3 thousandths of a degree a minute, 0.6 to 1.8 K in ten hours.

    Returns
    -------
    bool or ndarray of bool
        NaN gives False: an unknown night is not counted, so count the known ones too.

    Notes
    -----
    A rule, not a forecast: a creek under a closed cover of ice or snow makes none, and cloud or a
    spring just above the intake prevent it.

    References
    ----------
    .. [1] Clear nights with air at or below about -6 °C: articles citing S. F. Daly 1994.
    .. [2] T. E. Osterkamp and others, Annals of Glaciology (field study of two turbulent Alaska
           streams), abstract.

    Examples
    --------
    >>> frazil_nights(["-12 degC", "-4 degC", "-9 degC"], ["0.2 degC", "0.2 degC", "3 degC"])
    array([ True, False, False])
    >>> bool(frazil_nights("10 degF", "32.5 degF"))
    True
    """
    with np.errstate(invalid="ignore"):
        return (np.asarray(lowest_air) <= threshold) & (
            np.asarray(water_temperature) <= water_limit
        )


frazil_nights.measurement = ("lowest_air", "water_temperature")


@units(None, reading="K")
def stream_thermometer(reading: Given) -> Sentence:
    r"""What a thermometer held in a running stream really says.

    Parameters
    ----------
    reading : Quantity or str [temperature]

    Returns
    -------
    Sentence

    References
    ----------
    .. [1] T. E. Osterkamp and others, Annals of Glaciology, abstract: supercooling of 0.040 K at
       the most, 0.003 to 0.009 K once ice forms.

    Examples
    --------
    >>> str(stream_thermometer("-2 degC")).split(":")[0]
    'no stream is that cold'
    >>> str(stream_thermometer("33 degF")).split(":")[0]
    'above freezing'
    """
    if reading >= FREEZING_POINT + MOST_SUPERCOOLING:
        return Sentence(
            "above freezing: ice forms only where water stands still or cools on the way down"
        )
    if reading >= FREEZING_POINT - MOST_SUPERCOOLING:
        return Sentence(
            "at the freezing point: on a clear cold night expect frazil, whatever the last hundredth says"
        )
    return Sentence(
        "no stream is that cold: moving water is supercooled by {most} at the most, so the "
        "thermometer is out of adjustment, in the air or frozen in; take the water as {frost} and "
        "check the thermometer in melting ice",
        most=Amount(MOST_SUPERCOOLING, "temperature difference", 1),
        frost=Amount(FREEZING_POINT, "temperature"),
    )
