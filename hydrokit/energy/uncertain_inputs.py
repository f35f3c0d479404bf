"""What is not known of creek and plant: a standard deviation for each, and watts read on the plant."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..stream.transfer import TransferError

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["FlowError", "Metered", "PLANT", "SOURCES", "Uncertainties"]

SOURCES = ("rating", "extension", "head", "loss", "efficiency", "jet_area")
PLANT = SOURCES[2:]


@dataclass(frozen=True, eq=False)
class FlowError:
    """The errors of rating and extension as one error of the flow.

    Parameters
    ----------
    sd : ndarray
        What one standard deviation of it does to the logarithm of each flow.
    extension : float
        Its correlation with the error of the extension.
    """

    sd: np.ndarray
    extension: float


@dataclass(frozen=True, eq=False)
class Uncertainties:
    """Standard deviations of what the energy rests on, as shares of the value itself.

    The defaults are common practice for a small plant measured with care; put your own in.

    Parameters
    ----------
    rating : float, pairs of flow [m³/s] and float, or TransferError
        Natural flow, one error for the whole record. 0.10: a rating from a dozen gaugings; take it
        from the rating's own band where there is one. Pairs let it grow toward floods and drought,
        and so does :func:`hydrokit.stream.rating_error.rating_error`.
    extension : float or TransferError
        More of the same where the record was lengthened from another creek, alike at all flows or
        by flow (:attr:`hydrokit.stream.extend.Extension.error`). 0.0: not lengthened.
    head : float
        Gross head. 0.01: a levelled survey, or a tested gauge.
    loss : float
        Loss of the penstock. 0.15: twice the roughness of a plastic pipe changes its friction by
        5 to 15 %, and a fitting's coefficient is known to a fifth.
    efficiency : float
        Water to wire. 0.05: manufacturer's promise against what small machines have been measured to do.
    jet_area : float
        Bore and discharge coefficient of the jets. 0.03: half the spread of a kind of nozzle in
        ``plant.jets.JET_KINDS``.
    intake : float
        What the intake passes, where that was measured. 0.0: taken as it is.
    outage : float
        Standard deviation of the unplanned share of time lost itself (not a share of it). 0.01.
    correlated : tuple of (source, source, coefficient)
        Sources whose errors go together, such as ``("efficiency", "jet_area", -0.9)`` after a
        commissioning with watts only. All others are independent.
    """

    rating: float | np.ndarray | TransferError = 0.10
    extension: float | TransferError = 0.0
    head: float = 0.01
    _: KW_ONLY
    loss: float = 0.15
    efficiency: float = 0.05
    jet_area: float = 0.03
    outage: float = 0.01
    intake: float = 0.0
    correlated: tuple[tuple[str, str, float], ...] = ()

    def __post_init__(self) -> None:
        for each in fields(self)[:-1]:
            if isinstance(getattr(self, each.name), TransferError):
                continue
            sd = np.asarray(getattr(self, each.name), dtype=float)
            sd = sd[:, 1] if sd.ndim == 2 else sd
            if np.any(~(sd >= 0)) or np.any(sd > 1):
                raise HydrokitError(
                    f"Uncertainties: {each.name} is a standard deviation as a share, 0 to 1; "
                    f"got {getattr(self, each.name)!r}"
                )
        for first, second, _ in self.correlated:
            if first not in SOURCES or second not in SOURCES:
                raise HydrokitError(
                    f"Uncertainties: correlated must name two of {', '.join(SOURCES)}; got "
                    f"{first!r} and {second!r}"
                )

    def rating_si(self, flow_m3s: Number) -> Number:
        """Standard deviation of the logarithm of a natural flow, extension included."""
        transfer = self.extension
        extension = transfer.sd_si(flow_m3s) if isinstance(transfer, TransferError) else transfer
        return np.hypot(self._rating_alone(flow_m3s), extension)

    def _rating_alone(self, flow_m3s: Number) -> Number:
        if isinstance(self.rating, TransferError):
            return self.rating.sd_si(flow_m3s)
        if np.ndim(self.rating) == 2:
            flow, sd = np.asarray(self.rating, dtype=float).T
            return np.interp(np.log(np.maximum(flow_m3s, 1e-9)), np.log(flow), sd)
        return float(self.rating)

    def flow_error(self, flow_m3s: np.ndarray, weight: np.ndarray) -> FlowError:
        """Both errors of the flow as one, as a sum sees them that answers to each flow by its weight."""
        transfer, rating = self.extension, self.rating
        if isinstance(rating, TransferError):
            rating = rating.along_si(flow_m3s, weight)
        else:
            rating = np.broadcast_to(
                np.asarray(self._rating_alone(flow_m3s), dtype=float), flow_m3s.shape
            )
        if isinstance(transfer, TransferError):
            extension = transfer.along_si(flow_m3s, weight)
        else:
            extension = np.full(flow_m3s.shape, float(transfer))
        answers = float(weight @ rating), float(weight @ extension)
        whole = float(np.hypot(*answers))
        if not whole > 0:
            return FlowError(np.hypot(rating, extension), 0.0)
        share = answers[1] / whole
        return FlowError((rating * answers[0] + extension * answers[1]) / whole, share)

    @property
    def statement(self) -> str:
        """What goes together, in words."""
        tied = [
            f"{first} and {second} go together ({coefficient:+.2f})"
            for first, second, coefficient in self.correlated
        ]
        return "; ".join(
            [
                (
                    "one error of the flow, the head, the loss, the jets or gates, the efficiency and the "
                    "outages a draw, the same in all its years"
                ),
                "errors are independent of each other and of the weather"
                if not tied
                else ", ".join(tied) + "; all other errors are independent",
                (
                    "flow, temperature and demand of a year stay together; a year is like the one "
                    "before as the record and other creeks show"
                ),
                "what so few years leave open of their mean and their spread is included, by Student's t",
            ]
        )

    def mixing(self) -> np.ndarray:
        """Matrix that gives independent normal numbers the wanted correlations."""
        matrix = np.eye(len(SOURCES))
        for first, second, coefficient in self.correlated:
            i, j = SOURCES.index(first), SOURCES.index(second)
            matrix[i, j] = matrix[j, i] = coefficient
        try:
            return np.linalg.cholesky(matrix)
        except np.linalg.LinAlgError:
            raise HydrokitError(
                "Uncertainties: these correlations cannot all be true together; weaken one of them"
            ) from None


@dataclass(frozen=True, eq=False)
class Metered:
    """Watts measured on the running plant: they tie head, loss, jets and efficiency together.

    Parameters
    ----------
    power_w : float
        Net power read.
    sd : float
        Its standard deviation as a share, how steady the plant was included.
    jets : int or None
        Jets open meanwhile.
    flow_m3s : float
        Flow offered meanwhile; infinite when the pond was spilling.
    month : int or None
        Whose state of screens, air and ice held.
    """

    power_w: float
    sd: float = 0.03
    jets: int | None = None
    _: KW_ONLY
    flow_m3s: float = np.inf
    month: int | None = None
