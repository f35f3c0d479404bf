"""How far rated flows lie off: an error for each height of the flow, one and the same for the whole record.

A rating is least sure at its ends: low, where a few millimetres of cease-to-flow or of the staff gauge
are a good part of the depth, and high, where nobody gauged. One number for all flows hides that.
"""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..units import Alike
from .rating_curve import Rating, rating_stage
from .transfer import NODES, TransferError

__all__ = ["rating_error"]

_BEYOND = 2.0  # times the highest flow of the record: a rare flood


def rating_error(rating: Rating, flow_m3s: Alike) -> TransferError:
    r"""Error of the logarithm of rated flows by flow, from the covariance of the curve.

    Parameters
    ----------
    rating : Rating
    flow_m3s : pandas.Series or array
        Flows of the record, in m³/s; NaN is left out.

    Returns
    -------
    TransferError
        At the flows that so many days exceed.

    Raises
    ------
    HydrokitError
        A record without a flow above zero.

    Notes
    -----
    With :math:`s(h)` the change of ln Q with the parameters and C their covariance, the errors of
    the curve at two stages have the covariance :math:`s(h_1)^T C\, s(h_2)`. What all gaugings of a
    method have in common is in C (:func:`hydrokit.stream.rating.fit_rating`).

    References
    ----------
    .. [1] JCGM 102:2011, extension of the GUM to any number of output quantities, 6.2.
    .. [2] ISO 18320:2020, Hydrometry: determination of the stage-discharge relationship:
           uncertainty by stage.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> found = rating_error(rating, [0.004, 0.010, 0.020, 0.040, 0.080, 0.300])
    >>> [f"{found.sd_si(flow):.1%}" for flow in (0.005, 0.040, 0.300)]
    ['27.0%', '3.5%', '25.6%']
    """
    flow = np.asarray(flow_m3s, dtype=float)
    flow = flow[flow > 0]
    if len(flow) == 0:
        raise HydrokitError("rating_error(): the record has no flow above zero")
    ends = flow.min(), flow.max(), _BEYOND * flow.max()
    nodes = np.unique(np.r_[np.quantile(flow, 1 - NODES), ends])
    slopes = rating.slopes(rating_stage.si(nodes, rating))
    return TransferError(nodes, slopes @ rating.covariance @ slopes.T)
