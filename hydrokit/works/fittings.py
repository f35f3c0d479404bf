"""Fittings, roughness of walls and what warmth takes off a rating."""

from __future__ import annotations

import math
from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..tables import load, row
from ..units import Given, Number, Outside, Quantity, units
from .solve import require

__all__ = ["contraction", "derating", "enlargement", "fitting", "roughness"]


def fitting(name: str) -> float:
    """Loss coefficient K of a fitting, on the velocity head in the pipe.

    Parameters
    ----------
    name : str
        A name of the table ``fittings``, such as ``"entrance square"`` or ``"bend 45 r/d 3"``.

    Raises
    ------
    HydrokitError
        An unknown name; the sentence offers the nearest.

    Examples
    --------
    >>> fitting("entrance square") + 2 * fitting("bend 45 r/d 3") + fitting("valve gate open")
    1.15
    """
    return float(row("fittings", name)["k"])


def roughness(material: str, condition: str = "normal") -> Quantity:
    """Wall roughness from the table ``roughness``, a quantity.

    Parameters
    ----------
    material : str
    condition : {"good", "normal", "poor"}

    Raises
    ------
    HydrokitError
        An unknown material, or a condition the source does not give.

    Examples
    --------
    >>> print(f"{roughness('steel uncoated', 'poor').to('mm'):.2f~P}")
    0.06 mm
    """
    if condition not in ("good", "normal", "poor"):
        raise HydrokitError(f"roughness(): condition is good, normal or poor, not '{condition}'")
    found = float(row("roughness", material)[f"{condition}_mm"])
    if math.isnan(found):
        raise HydrokitError(
            f"roughness(): the source gives no {condition} value for '{material}'; take normal"
        )
    return Quantity(found / 1000, "m")


@units("number", smaller="m", larger="m")
def enlargement(smaller: Given, larger: Given) -> Number:
    r"""Loss coefficient of a sudden enlargement, on the velocity head in the smaller pipe.

    Parameters
    ----------
    smaller, larger : Quantity or str [length]
        Inside diameters, :math:`d_1 \le d_2`.

    Returns
    -------
    float or ndarray
        :math:`K = (1 - d_1^2/d_2^2)^2`; 1 for the exit into a pond.

    Raises
    ------
    HydrokitError
        A diameter not above zero, or the first above the second.

    References
    ----------
    .. [1] Borda-Carnot, from continuity and momentum.

    Examples
    --------
    >>> round(enlargement("60 mm", "90 mm"), 4)
    0.3086
    >>> round(enlargement("2 in", "4 in"), 4)
    0.5625
    """
    _in_order("enlargement", smaller, larger)
    return (1 - (np.asarray(smaller) / larger) ** 2) ** 2


@units("number", larger="m", smaller="m")
def contraction(larger: Given, smaller: Given) -> Number:
    r"""Loss coefficient of a sudden contraction, on the velocity head in the smaller pipe.

    Parameters
    ----------
    larger, smaller : Quantity or str [length]
        Inside diameters, :math:`d_1 \ge d_2`.

    Returns
    -------
    float or ndarray
        Read off the table by bore ratio; 0.5 beyond its last row (a square entrance).

    Raises
    ------
    HydrokitError
        A diameter not above zero, or the second above the first.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 63, Table 4.4.

    Examples
    --------
    >>> round(contraction("150 mm", "100 mm"), 2)
    0.25
    >>> round(contraction("6 in", "3 in"), 2)
    0.35
    """
    _in_order("contraction", smaller, larger)
    table = load("contraction")
    return np.interp(np.asarray(larger) / smaller, table["bore_ratio"], table["k"])


@units("number", temperature="K")
def derating(temperature: Given, material: str = "PVC") -> Number:
    """Share of a pipe's pressure rating left at a water or wall temperature.

    Parameters
    ----------
    temperature : Quantity or str [temperature]
        The warmer of water and wall: pipe lying in the sun counts with the sun.
    material : str
        PVC, PE or steel, or a pipe's material such as ``"PE100"``.

    Returns
    -------
    float or ndarray
        1 at and below the rating temperature (23 °C PVC, 20 °C PE); NaN where the table ends, since
        the pipe is not made for it.

    Raises
    ------
    HydrokitError
        A material without a table.

    Warns
    -----
    RangeWarning
        Beyond the table's warm end; below 0 °C, where PVC turns brittle.

    References
    ----------
    .. [1] PVC: *Machinery's Handbook*, 31st ed., p. 2770, Table 14. PE: from memory.

    Examples
    --------
    >>> derating("10 degC")
    1.0
    >>> round(derating("100 degF"), 2)
    0.62
    """
    kind = kind_of(material)
    if kind == "steel":
        return np.ones_like(np.asarray(temperature, dtype=float))[()]
    table = load("pvc_temperature" if kind == "PVC" else "pe_temperature")
    return np.interp(
        np.asarray(temperature) - 273.15, table["temperature_degC"], table["factor"], right=np.nan
    )


@derating.valid
def _(temperature: Given, material: Given) -> Iterator[Outside]:
    warmest = {"PVC": 60.0, "PE100": 40.0, "steel": 120.0}[kind_of(material)]
    yield (
        np.asarray(temperature) - 273.15 > warmest,
        Sentence(
            "warmer than {most}: {material} pipe has no rating there",
            most=Amount(warmest + 273.15, "temperature"),
            material=material,
        ),
    )
    yield (
        (np.asarray(temperature) < 273.15) & (kind_of(material) == "PVC"),
        "in frost PVC is brittle: blows crack it",
    )


def _in_order(function: str, smaller: Number, larger: Number) -> None:
    require(function, "above zero", smaller=smaller, larger=larger)
    if np.any(np.asarray(smaller) > larger):
        raise HydrokitError(f"{function}(): the smaller diameter must not exceed the larger")


def kind_of(material: str) -> str:
    """The row of the table ``materials`` a trade name belongs to."""
    plain = material.upper()
    for beginning, kind in (
        ("PVC", "PVC"),
        ("UPVC", "PVC"),
        ("PE", "PE100"),
        ("HDPE", "PE100"),
        ("STEEL", "steel"),
    ):
        if plain.startswith(beginning):
            return kind
    raise HydrokitError(
        f"'{material}' is not a pipe material known here; write PVC, PE100, HDPE or steel"
    )
