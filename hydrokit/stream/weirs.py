"""Weirs: the flow over a measured plate or sill from the head upstream of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Iterator

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Floats, Given, Number, Outside, units
from ..water import GRAVITY

__all__ = ["broad_crested", "cipolletti", "francis_weir", "rectangular_weir"]

LEAST_HEAD_M = 0.05


def shown(length_m: float) -> Amount:
    return Amount(length_m, "small length", 2)


FOOT = 0.3048
_FRANCIS = 3.33 * np.sqrt(FOOT)  # 3.33 ft^0.5/s
_CIPOLLETTI = 3.367 * np.sqrt(FOOT)  # 3.367 ft^0.5/s

# Kindsvater-Carter: opening over channel width; Ce = a + a' h/p; kb in m. From memory (ISO 1438)
# but for the full-width row, which was read; held in the tests against Fenton's formula (read).
_CONTRACTION = np.array([0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.9, 1.0])
_A = np.array([0.587, 0.589, 0.591, 0.593, 0.594, 0.596, 0.598, 0.602])
_A_HEAD = np.array([-0.0023, -0.0018, 0.0058, 0.018, 0.030, 0.045, 0.064, 0.075])
_WIDTH_CORRECTION_M = np.array([2.4, 2.4, 2.7, 3.7, 4.1, 4.2, 3.7, -0.9]) / 1000


def wet_head(head: Number) -> Number:
    """Head above the crest; below it nothing flows. NaN stays NaN."""
    return np.maximum(np.asarray(head, dtype=float), 0.0)


def flow_over(head: Number, flow: Number) -> Floats:
    return np.where(np.asarray(head) <= 0, 0.0, flow)


def _kindsvater_carter(
    head: Number, width: float, contraction: Number, height_ratio: Number
) -> Any:
    coefficient = (
        np.interp(contraction, _CONTRACTION, _A)
        + np.interp(contraction, _CONTRACTION, _A_HEAD) * height_ratio
    )
    return coefficient, width + np.interp(contraction, _CONTRACTION, _WIDTH_CORRECTION_M), 0.001


def _fenton(head: float, width: float, contraction: Floats, height_ratio: Floats) -> Any:
    coefficient = 0.589 - 0.008 * height_ratio + contraction**2 * (0.013 + 0.083 * height_ratio)
    return coefficient, width, 0.001


def _rehbock(head: float, width: float, contraction: float, height_ratio: float) -> Any:
    return 0.602 + 0.0832 * height_ratio, width, 0.00125


def _ackers(head: float, width: float, contraction: float, height_ratio: float) -> Any:
    # Written by its author without the factor (2/3) sqrt 2.
    return 0.564 * (1 + 0.150 * height_ratio) / (2 / 3 * np.sqrt(2)), width, 0.001


_RECTANGULAR: dict[str, Callable[..., tuple[Number, Number, Number]]] = {
    "Kindsvater-Carter": _kindsvater_carter,
    "Fenton": _fenton,
    "Rehbock": _rehbock,
    "Ackers": _ackers,
}
_FULL_WIDTH_ONLY = ("Rehbock", "Ackers")


@units("m^3/s", head="head", width="m", channel_width="m", crest_height="m")
def rectangular_weir(
    head: Given,
    width: Given,
    channel_width: Given,
    crest_height: Given,
    method: str = "Kindsvater-Carter",
) -> Number:
    r"""Flow over a thin-plate rectangular weir, contracted or full width.

    Parameters
    ----------
    head : Quantity or str [length]
        Still-water level above the crest, :math:`h`, upstream. Scalar or array.
    width : Quantity or str [length]
        Crest length, :math:`b`.
    channel_width : Quantity or str [length]
        Width of the approach, :math:`B`; equal to `width` for a full-width (suppressed) weir.
    crest_height : Quantity or str [length]
        Crest above the pool's floor, :math:`p`.
    method : {"Kindsvater-Carter", "Fenton", "Rehbock", "Ackers"}
        The last two are for full width only.

    Returns
    -------
    Quantity [length³/time]

    Raises
    ------
    HydrokitError
        A crest longer than the approach is wide; an unknown method; a full-width method for a
        contracted weir.

    Warns
    -----
    RangeWarning
        Head below 30 mm, crest shorter than 0.15 m or lower than 0.10 m, h/p above 2.5 (limits
        from memory of [2]_).

    Notes
    -----
    .. math:: Q = \tfrac23 C_e \sqrt{2g}\,(b + k_b)(h + k_h)^{3/2}

    Kindsvater-Carter: :math:`C_e = a + a' h/p` with a, a', :math:`k_b` tabulated by b/B (from memory,
    except b/B = 1: 0.602 + 0.075 h/p, :math:`k_b` = -0.9 mm) and interpolated; :math:`k_h` = 1 mm.
    Fenton [3]_: :math:`C_e = 0.589 - 0.008h/p + (b/B)^2(0.013 + 0.083h/p)`, :math:`k_h` = 1 mm; the two
    agree within 0.5 %. A full-width nappe needs air beneath it.

    References
    ----------
    .. [1] C. E. Kindsvater, R. W. C. Carter, "Discharge characteristics of rectangular thin-plate
       weirs", J. Hydraul. Div. ASCE 83(HY6), 1957.
    .. [2] ISO 1438:2017.
    .. [3] J. D. Fenton, Calculating flow over rectangular sharp-edged weirs, Alternative Hydraulics
       Paper 6, 2015, eq. 24.

    Examples
    --------
    >>> print(f"{rectangular_weir('0.2 m', '0.5 m', '1.5 m', '0.4 m').to('L/s'):.1f~P}")
    79.2 L/s
    >>> print(f"{rectangular_weir('0.5 ft', '2 ft', '2 ft', '1.5 ft').to('cfs'):.2f~P}")
    2.39 cfs
    """
    if method not in _RECTANGULAR:
        raise HydrokitError(
            f"rectangular_weir(): method must be one of {', '.join(_RECTANGULAR)}; got {method!r}"
        )
    contraction = np.asarray(width, dtype=float) / channel_width
    if np.any(contraction > 1 + 1e-9):
        raise HydrokitError(
            "rectangular_weir(): the crest cannot be longer than the approach channel is wide"
        )
    if method in _FULL_WIDTH_ONLY and np.any(contraction < 1 - 1e-9):
        raise HydrokitError(
            f"rectangular_weir(): {method} is for full-width weirs, width equal to channel_width"
        )
    wet = wet_head(head)
    coefficient, effective_width, head_correction = _RECTANGULAR[method](
        wet, width, contraction, wet / crest_height
    )
    flow = (
        2
        / 3
        * coefficient
        * np.sqrt(2 * GRAVITY)
        * effective_width
        * (wet + head_correction) ** 1.5
    )
    return flow_over(head, flow)


@rectangular_weir.valid
def _(head: Given, width: Given, crest_height: Given) -> Iterator[Outside]:
    head = np.asarray(head)
    yield (
        (head > 0) & (head < 0.03),
        Sentence("head below {least}: the water clings to the crest", least=shown(0.03)),
    )
    yield (
        np.asarray(width) < 0.15,
        Sentence("crest shorter than {least}; a V-notch serves better", least=shown(0.15)),
    )
    yield (
        np.asarray(crest_height) < 0.10,
        Sentence("crest less than {least} above the floor", least=shown(0.1)),
    )
    yield head / crest_height > 2.5, "head above 2.5 of the crest height"


@units("m^3/s", head="head", width="m", contractions="count", approach_velocity="m/s")
def francis_weir(
    head: Given, width: Given, contractions: Given = 2, approach_velocity: Given = "0 m/s"
) -> Number:
    r"""Flow over a rectangular weir by Francis's formula, beside Kindsvater-Carter.

    Parameters
    ----------
    head : Quantity or str [length]
        Head on the crest, :math:`h`. Scalar or array.
    width : Quantity or str [length]
        Crest length, :math:`b`.
    contractions : count
        End contractions, :math:`n`: 2 for a free notch, 0 for full width.
    approach_velocity : Quantity or str [length/time]
        Mean velocity in the approach, with head :math:`h_0 = v^2/2g`.

    Returns
    -------
    Quantity [length³/time]

    Warns
    -----
    RangeWarning
        Head above a third of the crest length; contractions other than 0, 1 or 2.

    Notes
    -----
    .. math:: Q = 3.33\,(b - 0.1 n h)\left[(h + h_0)^{3/2} - h_0^{3/2}\right]

    in feet and seconds.

    References
    ----------
    .. [1] T. G. Hicks, Civil Engineering Formulas, McGraw-Hill, eq. 12.125, p. 403.

    Examples
    --------
    >>> print(f"{francis_weir('0.2 m', '1 m').to('L/s'):.1f~P}")
    157.9 L/s
    >>> print(f"{francis_weir('0.5 ft', '2 ft').to('cfs'):.4f~P}")
    2.2369 cfs
    """
    wet, velocity_head = wet_head(head), np.asarray(approach_velocity) ** 2 / (2 * GRAVITY)
    length = np.asarray(width) - 0.1 * np.asarray(contractions) * wet
    return _FRANCIS * length * ((wet + velocity_head) ** 1.5 - velocity_head**1.5)


@francis_weir.valid
def _(head: Given, width: Given, contractions: Given) -> Iterator[Outside]:
    yield np.asarray(head) / width > 1 / 3, "head above a third of the crest length"
    yield ~np.isin(contractions, (0, 1, 2)), "end contractions are 0, 1 or 2"


@units("m^3/s", head="head", width="m")
def cipolletti(head: Given, width: Given) -> Number:
    r"""Flow over a Cipolletti weir: trapezoidal, sides 1 across to 4 up, fully contracted.

    Parameters
    ----------
    head : Quantity or str [length]
        Head on the crest, :math:`h`. Scalar or array.
    width : Quantity or str [length]
        Length of the level crest, :math:`L`.

    Returns
    -------
    Quantity [length³/time]
        Within 5 % of experiment.

    Warns
    -----
    RangeWarning
        Head below 60 mm, or above a third of the crest length.

    Notes
    -----
    .. math:: Q = 3.367\,L\,h^{3/2}

    in feet and seconds; 1.859 in metres.

    References
    ----------
    .. [1] USBR, Water Measurement Manual, 3rd ed., 2001, ch. 7, sec. 12, eq. 7-7.

    Examples
    --------
    >>> print(f"{cipolletti('0.1 m', '0.5 m').to('L/s'):.2f~P}")
    29.39 L/s
    >>> print(f"{cipolletti('0.5 ft', '2 ft').to('cfs'):.4f~P}")
    2.3808 cfs
    """
    return _CIPOLLETTI * np.asarray(width) * wet_head(head) ** 1.5


@cipolletti.valid
def _(head: Given, width: Given) -> Iterator[Outside]:
    head = np.asarray(head)
    yield (
        (head > 0) & (head < 0.06),
        Sentence("head below {least}: the water clings to the crest", least=shown(0.06)),
    )
    yield head / width > 1 / 3, "head above a third of the crest length"


@units("m^3/s", head="head", width="m", coefficient="ratio", crest_length="m")
def broad_crested(
    head: Given, width: Given, coefficient: Given = 0.848, crest_length: Given = None
) -> Number:
    r"""Flow over a long sill on which the water runs critical.

    Parameters
    ----------
    head : Quantity or str [length]
        Energy head on the sill, :math:`H`; the level itself where the approach is slow.
    width : Quantity or str [length]
        Width across the flow, :math:`b`.
    coefficient : ratio
        Real over ideal flow, :math:`C_d`: 0.848 for a long square-edged sill; up to 1 for a
        rounded one.
    crest_length : Quantity or str [length], optional
        Length along the flow, :math:`L`; only to check that the sill is long.

    Returns
    -------
    Quantity [length³/time]

    Raises
    ------
    HydrokitError
        A coefficient outside 0 to 1: no sill passes more than the ideal.

    Warns
    -----
    RangeWarning
        Head below 50 mm; H/L outside 0.08 to 0.33 (from memory of [1]_).

    Notes
    -----
    .. math:: Q = C_d\,(2/3)^{3/2}\sqrt g\,b\,H^{3/2}

    References
    ----------
    .. [1] T. W. Sturm, Open Channel Hydraulics, 3rd ed., McGraw-Hill, 2021, eq. 2.47.

    Examples
    --------
    >>> print(f"{broad_crested('0.2 m', '1 m').to('L/s'):.1f~P}")
    129.3 L/s
    >>> print(f"{broad_crested('1 ft', '1 ft', 1.0).to('cfs'):.2f~P}")
    3.09 cfs
    """
    if not np.all((np.asarray(coefficient) > 0) & (np.asarray(coefficient) <= 1)):
        raise HydrokitError(
            f"broad_crested(): coefficient must lie between 0 and 1, got {coefficient}"
        )
    return (
        np.asarray(coefficient)
        * (2 / 3) ** 1.5
        * np.sqrt(GRAVITY)
        * np.asarray(width)
        * wet_head(head) ** 1.5
    )


@broad_crested.valid
def _(head: Given, crest_length: Given) -> Iterator[Outside]:
    head = np.asarray(head)
    yield (
        (head > 0) & (head < LEAST_HEAD_M),
        Sentence("head below {least}: friction on the sill counts", least=shown(LEAST_HEAD_M)),
    )
    if crest_length is not None:
        slenderness = head / crest_length
        yield (
            (head > 0) & ((slenderness < 0.08) | (slenderness > 0.33)),
            "head over sill length outside 0.08 to 0.33",
        )
