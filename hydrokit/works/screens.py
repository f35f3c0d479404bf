"""Loss coefficients and sizes of screens and racks, and what fish can bear."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..tables import load, row
from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from .solve import require

__all__ = [
    "bar_rack_loss",
    "bottom_rack_band",
    "bottom_rack_length",
    "fish_screen_area",
    "perforated_loss_coefficient",
    "slot_open_share",
    "wire_loss_coefficient",
]

# Bar shapes, Kirschmer. Sharp rectangular read in public code citing Metcalf and Eddy; the others
# from memory.
BAR_SHAPES = {
    "sharp rectangular": 2.42,
    "one end round": 1.83,
    "circular": 1.79,
    "both ends round": 1.67,
    "streamlined": 0.76,
}
# Factor on the depth of water along a bottom rack by its slope in degrees, Frank; from memory.
_RACK_SLOPE_DEG = (0.0, 8.0, 10.0, 12.0, 14.0, 20.0, 26.0)
_RACK_DEPTH = (1.000, 0.927, 0.910, 0.894, 0.879, 0.837, 0.800)


@units("number", open_share="ratio")
def perforated_loss_coefficient(open_share: Given) -> Number:
    r"""Loss coefficient of perforated plate or flat-edged mesh, on the approach velocity head.

    Parameters
    ----------
    open_share : float
        Open over gross area, blocked holes counted as closed, :math:`\alpha`.

    Returns
    -------
    float or ndarray
        :math:`K`, infinite when closed.

    Raises
    ------
    HydrokitError
        A share outside 0 to 1.

    Warns
    -----
    RangeWarning
        Below 0.05 open, where the table ends and :math:`2.5/\alpha^2` carries on.

    Notes
    -----
    Between the rows by straight lines.

    References
    ----------
    .. [1] R. D. Blevins, *Applied Fluid Dynamics Handbook*, 1984, perforated plates.

    Examples
    --------
    >>> round(perforated_loss_coefficient(0.5), 2)
    3.8
    >>> round(perforated_loss_coefficient("30 %"), 1)
    17.0
    """
    require("perforated_loss_coefficient", "a share from 0 to 1", open_share=open_share)
    share = np.asarray(open_share, dtype=float)
    table = load("screens")
    inside = np.interp(share, [*table["open_share"], 1.0], [*table["k"], 0.0])
    with np.errstate(divide="ignore"):
        return np.where(share < table["open_share"][0], 2.5 / share**2, inside)[()]


@perforated_loss_coefficient.valid
def _(open_share: Given) -> Iterator[Outside]:
    yield np.asarray(open_share) < 0.05, "screen less than 5 % open: beyond the measured table"


@units("number", open_share="ratio", reynolds="ratio", tilt="rad")
def wire_loss_coefficient(
    open_share: Given, reynolds: Given = 400.0, tilt: Given = "0 deg"
) -> Number:
    r"""Loss coefficient of a screen of round wires or bars, on the approach velocity head.

    Parameters
    ----------
    open_share : float
        Open over gross area, :math:`\alpha`.
    reynolds : float
        Of the approach, with the gap between the wires, :math:`Vb/\nu`; constant beyond 20 to 400.
    tilt : Quantity or str [angle]
        Between the flow and the square to the screen.

    Returns
    -------
    float or ndarray
        :math:`K = \beta\,\gamma\,(1-\alpha^2)/\alpha^2`, infinite when closed; :math:`\gamma` is
        the squared cosine of the tilt up to 45 degrees and a table beyond.

    Raises
    ------
    HydrokitError
        A share outside 0 to 1.

    References
    ----------
    .. [1] R. D. Blevins, *Applied Fluid Dynamics Handbook*, 1984, round-edged screens.

    Examples
    --------
    >>> round(wire_loss_coefficient(0.5, 100), 2)
    2.1
    >>> round(wire_loss_coefficient("50 %", 100, "45 deg"), 2)
    1.05
    """
    require("wire_loss_coefficient", "a share from 0 to 1", open_share=open_share)
    table = load("wire_screens")
    slowness = np.interp(reynolds, table["reynolds"], table["beta"])
    degrees = np.degrees(np.abs(tilt))
    turned = np.where(degrees <= 45, np.cos(tilt) ** 2, np.interp(degrees, *_TILT))
    with np.errstate(divide="ignore"):
        return (
            slowness
            * turned
            * (1 - np.asarray(open_share) ** 2)
            / np.asarray(open_share, dtype=float) ** 2
        )


_TILT = (
    (45, 50, 60, 70, 80, 85),
    (0.50, 0.45, 0.30, 0.23, 0.15, 0.09),
)  # degrees, factor; same source


@units("number", slot="m", wire="m")
def slot_open_share(slot: Given, wire: Given) -> Number:
    """Open share of a profile-wire (wedge-wire) screen.

    Parameters
    ----------
    slot, wire : Quantity or str [length]
        Gap, and face width of the wire.

    Returns
    -------
    float or ndarray

    References
    ----------
    .. [1] Geometry, as in specifications of intake screens.

    Examples
    --------
    >>> round(slot_open_share("2.54 mm", "1.8 mm"), 3)
    0.585
    >>> round(slot_open_share("0.04 in", "0.0625 in"), 3)
    0.39
    """
    return np.asarray(slot) / (np.asarray(slot) + wire)


@units("m", speed="m/s", bar="m", gap="m", slope="rad", blocked="ratio")
def bar_rack_loss(
    speed: Given,
    bar: Given,
    gap: Given,
    slope: Given,
    shape: str = "sharp rectangular",
    blocked: Given = 0.0,
) -> Number:
    r"""Head lost in a trash rack (Kirschmer).

    Parameters
    ----------
    speed : Quantity or str [velocity]
        Approach speed on the gross area, :math:`V_0`.
    bar, gap : Quantity or str [length]
        Thickness of the bars, :math:`t`, and clear width between them, :math:`b`.
    slope : Quantity or str [angle]
        Of the rack over the floor, :math:`\alpha`; 90 deg stands upright.
    shape : str
        sharp rectangular, one end round, both ends round, circular or streamlined bars.
    blocked : float
        Share of the gaps that is closed; their width is counted to the bars.

    Returns
    -------
    Quantity [length]
        Infinite when fully blocked.

    Raises
    ------
    HydrokitError
        A bar or gap not above zero, an unknown shape.

    Warns
    -----
    RangeWarning
        A rack in part blocked: counting leaves as wider bars is our assumption, a fair guess at best.

    Notes
    -----
    .. math:: h = K_t \left(\frac{t}{b}\right)^{4/3} \frac{V_0^2}{2g} \sin\alpha

    :math:`K_t` 2.42 for sharp bars was read; the other shapes are from memory.

    References
    ----------
    .. [1] O. Kirschmer, 1926, as in Metcalf and Eddy, *Wastewater Engineering*, eq. 5-3.

    Examples
    --------
    >>> print(f"{bar_rack_loss('0.8 m/s', '10 mm', '20 mm', '60 deg').to('mm'):.1f~P}")
    27.1 mm
    >>> print(f"{bar_rack_loss('2 ft/s', '0.25 in', '1 in', '70 deg').to('in'):.2f~P}")
    0.27 in
    """
    require("bar_rack_loss", "above zero", bar=bar, gap=gap)
    require("bar_rack_loss", "a share from 0 to 1", blocked=blocked)
    if shape not in BAR_SHAPES:
        raise HydrokitError(
            f"bar_rack_loss(): shape is one of {', '.join(BAR_SHAPES)}, not {shape!r}"
        )
    free = np.asarray(gap) * (1 - np.asarray(blocked, dtype=float))
    with np.errstate(divide="ignore"):
        narrowing = ((np.asarray(bar) + gap) / free - 1) ** (4 / 3)
    return BAR_SHAPES[shape] * narrowing * np.asarray(speed) ** 2 / (2 * GRAVITY) * np.sin(slope)


@bar_rack_loss.valid
def _(blocked: Given) -> Iterator[Outside]:
    yield (
        np.asarray(blocked) > 0,
        "the loss of a partly blocked rack is an estimate: leaves are counted as wider bars",
    )


@units("m", flow="m^3/s", width="m", gap="m", pitch="m", slope="rad", contraction="ratio")
def bottom_rack_length(
    flow: Given,
    width: Given,
    gap: Given,
    pitch: Given,
    slope: Given = "10 deg",
    contraction: Given = 0.85,
) -> Number:
    r"""Length of a bottom (Tyrolean) rack that takes in a flow.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    width : Quantity or str [length]
        Of the rack across the creek, :math:`B`.
    gap, pitch : Quantity or str [length]
        Clear width between bars, :math:`e`, and from axis to axis, :math:`d`.
    slope : Quantity or str [angle]
        Of the bars, :math:`\beta`, 0 to 26 deg.
    contraction : float
        :math:`\mu`, 0.75 to 0.85 for round bars.

    Returns
    -------
    Quantity [length]
        Along the bars, clean. The coefficients are from memory; common practice is to build half
        as long again for stones and leaves.

    Raises
    ------
    HydrokitError
        A flow, width, gap or pitch not above zero, a pitch below the gap.

    Warns
    -----
    RangeWarning
        A slope outside 0 to 26 deg.

    Notes
    -----
    .. math:: Q = \tfrac23\, c\, \mu\, B L \sqrt{2 g h},\quad c = 0.6\,\tfrac{e}{d}\cos^{3/2}\beta,\quad
              h = \tfrac23 \chi(\beta) \cdot 1.5\, h_c

    References
    ----------
    .. [1] J. Frank, *Der Bauingenieur* 31, 1956; H. Drobir, 1981; all coefficients from memory.

    Examples
    --------
    >>> print(f"{bottom_rack_length('200 L/s', '1 m', '10 mm', '20 mm'):.2f~P}")
    0.71 m
    >>> print(f"{bottom_rack_length('2 cfs', '4 ft', '0.4 in', '0.8 in').to('ft'):.2f~P}")
    0.88 ft
    """
    require(
        "bottom_rack_length",
        "above zero",
        flow=flow,
        width=width,
        gap=gap,
        pitch=pitch,
        contraction=contraction,
    )
    require("bottom_rack_length", "zero or more", pitch_above_gap=np.asarray(pitch) - gap)
    critical = np.cbrt((np.asarray(flow) / width) ** 2 / GRAVITY)
    depth = np.interp(np.degrees(slope), _RACK_SLOPE_DEG, _RACK_DEPTH) * critical
    entering = 0.6 * (np.asarray(gap) / pitch) * np.cos(slope) ** 1.5
    return np.asarray(flow) / (
        2 / 3 * entering * contraction * width * np.sqrt(2 * GRAVITY * depth)
    )


@bottom_rack_length.valid
def _(slope: Given) -> Iterator[Outside]:
    yield (np.degrees(slope) < 0) | (np.degrees(slope) > 26), "rack slope outside 0 to 26 degrees"


@units(("m", "m"), flow="m^3/s", width="m", gap="m", pitch="m", contraction="ratio")
def bottom_rack_band(
    flow: Given, width: Given, gap: Given, pitch: Given, contraction: Given = 0.85
) -> tuple[Number, Number]:
    r"""Length of a level bottom rack that takes in a flow, by two published theories that disagree
    by three times.

    Parameters
    ----------
    flow, width, gap, pitch, contraction
        As in :func:`bottom_rack_length`.

    Returns
    -------
    short, long : Quantity [length]
        With the whole energy head pressing the water through the slots (Mostkow), and with only its
        depth pressing (De Marchi). Measured racks lie between.

    Raises
    ------
    HydrokitError
        A flow, width, gap or pitch not above zero, a pitch below the gap.

    Notes
    -----
    Constant energy head :math:`E = 1.5\,h_c` along the rack, open share :math:`\varepsilon = e/d`:

    .. math:: L = \frac{E}{\varepsilon\mu}\,\frac{2}{3\sqrt 3}, \qquad
              L = \frac{E}{\varepsilon\mu}\,\frac{\arcsin\sqrt{2/3} + \sqrt 2}{2}

    References
    ----------
    .. [1] The two classes as named in the introduction of a review, *Water* 10(8):1035, 2018;
       integrated here.

    Examples
    --------
    >>> print("{:.2f~P} to {:.2f~P}".format(*bottom_rack_band("200 L/s", "1 m", "10 mm", "20 mm")))
    0.22 m to 0.67 m
    >>> print("{:.2f~P}".format(bottom_rack_band("2 cfs", "4 ft", "0.4 in", "0.8 in")[1].to("ft")))
    0.83 ft
    """
    require(
        "bottom_rack_band",
        "above zero",
        flow=flow,
        width=width,
        gap=gap,
        pitch=pitch,
        contraction=contraction,
    )
    require("bottom_rack_band", "zero or more", pitch_above_gap=np.asarray(pitch) - gap)
    energy = 1.5 * np.cbrt((np.asarray(flow) / width) ** 2 / GRAVITY)
    passed = energy * np.asarray(pitch) / (np.asarray(gap) * contraction)
    whole, depth = 2 / (3 * np.sqrt(3)), (np.arcsin(np.sqrt(2 / 3)) + np.sqrt(2)) / 2
    return whole * passed, depth * passed


@units("m^2", flow="m^3/s")
def fish_screen_area(flow: Given, criterion: str = "juvenile salmonids self-cleaning") -> Number:
    """Least wetted screen area at which fish are not held against the screen.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    criterion : str
        A name of the table ``fish_screens``. Your own authority's rule goes first.

    Returns
    -------
    Quantity [area]
        Gross wetted area, clean.

    Raises
    ------
    HydrokitError
        A negative flow, an unknown criterion.

    References
    ----------
    .. [1] NMFS Southwest Region, juvenile fish screen criteria for pump intakes; California Code
       of Regulations, title 14, exhibit D, 2000.

    Examples
    --------
    >>> print(f"{fish_screen_area('15 L/s'):.3f~P}")
    0.123 m²
    >>> print(f"{fish_screen_area('1 cfs', 'california self-cleaning').to('ft^2'):.2f~P}")
    3.03 ft²
    """
    require("fish_screen_area", "zero or more", flow=flow)
    return np.asarray(flow) / float(row("fish_screens", criterion)["approach_ms"])
