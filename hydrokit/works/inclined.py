"""What a screen of wedge wire passes that the water shoots over: two classes of theory, carried
down a slope."""

from __future__ import annotations

from typing import Any, Iterator

import numpy as np

from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from .solve import require

__all__ = ["inclined_screen_band"]

_STEPS, _ROUNDS = 200, 14


@units(
    ("m^3/s", "m^3/s"),
    length="m",
    width="m",
    gap="m",
    wire="m",
    slope="rad",
    contraction="ratio",
)
def inclined_screen_band(
    length: Given,
    width: Given,
    gap: Given,
    wire: Given,
    slope: Given,
    contraction: Given = 0.85,
) -> tuple[Number, Number]:
    r"""Most flow that an inclined screen takes in clean, by two published theories of slots under
    shooting water.

    Parameters
    ----------
    length : Quantity or str [length]
        From crest to toe along the screen, :math:`L`.
    width : Quantity or str [length]
        Of the crest, :math:`B`.
    gap, wire : Quantity or str [length]
        Clear width of a slot, and of the face of a wire.
    slope : Quantity or str [angle]
        Of the screen from level, :math:`\theta`; the mean of a curved one.
    contraction : float
        :math:`\mu` of a slot; 0.75 to 0.85 for round bars, from memory.

    Returns
    -------
    low, high : Quantity [length³/time]
        With only the depth of the water pressing it through the slots (De Marchi), and with its
        whole energy head (Mostkow), which the edges of tilted wires come nearer to. Use them beside
        the manufacturer's figure: no printed equation for such wires was found whose numbers could
        be checked.

    Raises
    ------
    HydrokitError
        A size not above zero.

    Warns
    -----
    RangeWarning
        A slope outside 0 to 70 deg.

    Notes
    -----
    Critical depth at the crest, energy head :math:`E = 1.5\,h_c + x\sin\theta` along the screen,
    open share :math:`\varepsilon` = gap over gap and wire:

    .. math:: \frac{dq}{dx} = -\varepsilon\mu\sqrt{2 g H}, \qquad H = h\cos\theta \ \text{or}\ E,
              \qquad q = h\sqrt{2 g (E - h\cos\theta)}

    and the flow found whose last drop goes through at the toe. On a level screen both become those
    of :func:`hydrokit.works.screens.bottom_rack_band`. Friction, and a drop above the crest that
    speeds the water up, are left out.

    References
    ----------
    .. [1] The two classes as named in the introduction of a review, *Water* 10(8):1035, 2018;
       integrated here along a slope.
    .. [2] T. L. Wahl, *J. Hydraul. Eng.* 127(6), 2001: that a slot's coefficient depends on the
       angle at which the water meets it; abstract only, not used.

    Examples
    --------
    >>> print("{:.0f~P} to {:.0f~P}".format(*(each.to("L/s") for each in inclined_screen_band("0.5 m", "0.6 m", "1 mm", "1.5 mm", "45 deg"))))
    28 L/s to 374 L/s
    >>> print("{:.0f~P}".format(inclined_screen_band("20 in", "2 ft", "0.04 in", "0.06 in", "45 deg")[0].to("gpm")))
    468 gpm
    """
    require(
        "inclined_screen_band",
        "above zero",
        length=length,
        width=width,
        gap=gap,
        wire=wire,
        contraction=contraction,
    )
    require("inclined_screen_band", "zero or more", slope=slope)
    length, width, gap, wire, slope, contraction = np.broadcast_arrays(
        *(np.asarray(each, dtype=float) for each in (length, width, gap, wire, slope, contraction))
    )
    opens = gap / (gap + wire) * contraction
    return tuple(
        (width * _taken(length, opens, slope, wets))[()] for wets in (_wet_by_depth, _wet_by_energy)
    )


@inclined_screen_band.valid
def _(slope: Given) -> Iterator[Outside]:
    steep = np.degrees(np.asarray(slope))
    yield (steep < 0) | (steep > 70), "screen slope outside 0 to 70 degrees"


def _taken(length: np.ndarray, opens: np.ndarray, slope: np.ndarray, wets: Any) -> np.ndarray:
    """Flow in m²/s that wets just the length: the wetted length grows with a power of it near two thirds."""
    # on a level screen the first guess of either theory is exact but for a factor
    flow = np.sqrt(GRAVITY) * (opens * length) ** 1.5
    for _ in range(_ROUNDS):
        flow = flow * (length / wets(flow, opens, slope)) ** 1.25
    return np.asarray(flow)


def _energy(flow: np.ndarray) -> np.ndarray:
    return np.asarray(1.5 * np.cbrt(flow**2 / GRAVITY))


def _wet_by_energy(flow: np.ndarray, opens: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """Length over which it all goes through with its whole energy head: closed form."""
    energy, fall = _energy(flow), np.sin(slope)
    through = flow / (opens * np.sqrt(2 * GRAVITY))
    level = through / np.sqrt(energy)
    with np.errstate(divide="ignore", invalid="ignore"):
        falling = ((energy**1.5 + 1.5 * fall * through) ** (2 / 3) - energy) / fall
    return np.where(fall * level < 1e-9 * energy, level, falling)


def _wet_by_depth(flow: np.ndarray, opens: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """The same with the depth pressing: stepped in what is left, q = q0 (1 - s)², in which it is
    smooth to the end."""
    energy, fall, across = _energy(flow), np.sin(slope), np.cos(slope)

    def along(left: float, reached: np.ndarray) -> np.ndarray:
        head = energy + reached * fall
        ratio = 27 * (flow * left**2 * across) ** 2 / (4 * GRAVITY * head**3)
        turn = np.arccos(np.clip(1 - ratio, -1.0, 1.0))
        press = (
            head / 3 * (1 - 2 * np.cos((turn + np.pi) / 3))
        )  # of the two depths the shooting one
        return np.asarray(2 * flow * left / (opens * np.sqrt(2 * GRAVITY * press)))

    reached, step = np.zeros_like(flow), 1 / _STEPS
    for place in range(_STEPS):
        half = along(
            1 - (place + 0.5) * step, reached + step / 2 * along(1 - place * step, reached)
        )
        reached = reached + step * half
    return reached
