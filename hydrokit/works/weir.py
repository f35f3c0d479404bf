"""The weir across the creek at the intake: the notch that leaves the creek its water, and the flood
over it all."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding
from ..result import Result
from ..sentences import Amount, Sentence
from .intake import crest, crest_head, crest_length
from .open_channel import LEAST_FREEBOARD_M
from .solve import require

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["CREST_SHAPES", "IntakeWeir", "Notch"]

CREST_SHAPES = {
    "broad": 0.58,
    "thin plate": 0.62,
    "rounded": 0.75,
}  # coefficients of works.intake.crest
PEAK_OVER_MEAN = (
    2.0  # a small creek's peak against the mean of its day: often more; common practice
)
# A square sill, and a notch much narrower than its plate, pass alike (0.577; 0.587 by Kindsvater and Carter).
_NOTCH = 0.58


@dataclass(frozen=True, eq=False)
class Notch:
    """The opening whose sill lies below the intake's crest, so that the creek is served before the plant.

    Parameters
    ----------
    depth_m : float
        From its sill up to the crest of the intake.
    keep_m3s : ndarray of 12
        Residual flow, January first.
    width_m : float or None
        As built; None where it is still to be made.
    """

    depth_m: float
    keep_m3s: np.ndarray
    width_m: float | None = None

    def __post_init__(self) -> None:
        require(
            "Notch",
            "above zero",
            depth_m=self.depth_m,
            **({} if self.width_m is None else {"width_m": self.width_m}),
        )
        require("Notch", "zero or more", keep_m3s=self.keep_m3s)

    @property
    def needed_m(self) -> float:
        """Width that passes the residual flow of every month with the water at the crest of the intake."""
        return float(crest_length.si(np.max(self.keep_m3s), self.depth_m, _NOTCH))

    @property
    def used_m(self) -> float:
        """The width that is used."""
        return self.needed_m if self.width_m is None else self.width_m

    def flow_si(self, head_m: Number) -> Number:
        """Flow in m³/s at a level over its sill."""
        return crest.si(head_m, self.used_m, _NOTCH)

    def head_si(self, flow_m3s: Number) -> Number:
        """Level in m over its sill at which a flow passes: what to mark on a staff gauge beside it."""
        return crest_head.si(flow_m3s, self.used_m, _NOTCH)

    @property
    def before_the_intake_m3s(self) -> float:
        """What it passes before the intake takes any."""
        return float(self.flow_si(self.depth_m))

    @property
    def short_months(self) -> tuple[int, ...]:
        """Months in which the intake takes water before the residual flow has passed."""
        return tuple(
            int(month)
            for month in np.flatnonzero(self.keep_m3s > 1.001 * self.before_the_intake_m3s) + 1
        )


@dataclass(frozen=True, eq=False)
class IntakeWeir(Result):
    """What stands across the creek.

    Parameters
    ----------
    length_m : float
        Of the crest that the flood runs over.
    flood_m3s : tuple of float or None
        Least, middle and most of the flood it must survive.
    flood_is : str
        Where that comes from: ``"given"`` or ``"daily means"``.
    flood_years : float
        Return period; NaN where the flood was given without one.
    banks_m : float
        Height of the banks or walls beside it over the crest; NaN where not known.
    notch : Notch or None
    shape : {"broad", "thin plate", "rounded"}
    notes : tuple of Finding
    peak_over_mean : float
        Momentary peak over the mean of its day, for a flood made from daily means.
    """

    length_m: float
    flood_m3s: tuple[float, float, float] | None = None
    flood_is: str = "given"
    _: KW_ONLY
    flood_years: float = float("nan")
    banks_m: float = float("nan")
    notch: Notch | None = None
    shape: str = "broad"
    notes: tuple[Finding, ...] = ()
    peak_over_mean: float = PEAK_OVER_MEAN

    def __post_init__(self) -> None:
        require("IntakeWeir", "above zero", length_m=self.length_m)

    def depth_si(self, flow_m3s: Number) -> Number:
        """Depth in m over the crest at a flow of the creek; the notch and the intake are taken as choked."""
        return crest_head.si(flow_m3s, self.length_m, CREST_SHAPES[self.shape])

    def flow_si(self, depth_m: Number) -> Number:
        """Flow in m³/s over the crest at a depth, such as that of a high-water mark."""
        return crest.si(depth_m, self.length_m, CREST_SHAPES[self.shape])

    @property
    def peak_m3s(self) -> float:
        """The flood to build for: the middle one, with the peak of the day where only daily means
        are known."""
        if self.flood_m3s is None:
            return float("nan")
        return self.flood_m3s[1] * (self.peak_over_mean if self.flood_is == "daily means" else 1.0)

    @property
    def peak_depth_m(self) -> float:
        """Depth over the crest at that flood."""
        return float("nan") if math.isnan(self.peak_m3s) else float(self.depth_si(self.peak_m3s))

    @property
    def freeboard_m(self) -> float:
        """What the banks leave above that flood; negative where it goes round, NaN where either is
        not known."""
        return self.banks_m - self.peak_depth_m

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader must know."""
        found = list(self.notes)
        if self.peak_depth_m > self.banks_m:
            text = Sentence(
                "the flood of {flood} stands {depth} over the crest and the banks only {banks}: "
                "it goes round the weir and takes the bank with it",
                flood=Amount(self.peak_m3s, "large flow"),
                depth=Amount(self.peak_depth_m, "head", 2),
                banks=Amount(self.banks_m, "head", 2),
            )
            found.append(Finding("caution", "weir", text))
        elif self.freeboard_m <= LEAST_FREEBOARD_M:
            found.append(
                Finding(
                    "caution",
                    "weir",
                    Sentence(
                        "over the flood of {flood} the banks leave {freeboard}, too little for "
                        "waves and floating wood: {least} is common practice",
                        flood=Amount(self.peak_m3s, "large flow"),
                        freeboard=Amount(self.freeboard_m, "head", 2),
                        least=Amount(LEAST_FREEBOARD_M, "head", 2),
                    ),
                )
            )
        if self.notch is not None and self.notch.short_months:
            found.append(
                Finding(
                    "caution",
                    "weir",
                    Sentence(
                        "the notch passes {passes} before the intake takes any, less than the "
                        "residual flow of {keep}",
                        passes=Amount(self.notch.before_the_intake_m3s, "flow", 2),
                        keep=Amount(np.max(self.notch.keep_m3s), "flow", 2),
                    ),
                )
            )
        return tuple(found)
