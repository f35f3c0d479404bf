"""Gauging by bucket and watch."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError, counted
from ..units import Given, units
from .gauging import Gauging, findings_from, positive, scatter_of_mean

__all__ = ["bucket"]


@units(None, volume="m^3", time="s", volume_uncertainty="ratio", time_uncertainty="s")
def bucket(
    volume: Given, time: Given, volume_uncertainty: Given = "2 %", time_uncertainty: Given = "0.2 s"
) -> Gauging:
    r"""Flow from the time a container of known volume takes to fill.

    Parameters
    ----------
    volume : Quantity or str [length³]
        Volume caught, :math:`V`; one value, or one for each fill.
    time : Quantity, str or list of them [time]
        Filling time, :math:`t`, of each fill.
    volume_uncertainty : ratio
        Standard uncertainty of the container's mark.
    time_uncertainty : Quantity or str [time]
        Standard uncertainty of starting and stopping the watch, taken as alike in every fill.

    Returns
    -------
    Gauging
        Parts ``volume``, ``timing``, ``repeats``. For an overflow bucket beside an intake, add
        what the pipe takes with :func:`total`.

    Raises
    ------
    HydrokitError
        A volume or time that is not above zero.

    Notes
    -----
    .. math:: Q = \sum V / \sum t

    With fewer than three fills their scatter cannot be judged; 5 % a fill is assumed (common
    practice).

    References
    ----------
    .. [1] State of Colorado, Division of Reclamation, Mining and Safety, plan 717889, p. 37:
       spring into a container, at least three fillings.

    Examples
    --------
    >>> g = bucket("10 L", ["4.9 s", "5.1 s", "5.0 s"])
    >>> print(f"{g.flow.to('L/s'):.2f~P} ± {g.uncertainty:.1%}")
    2.00 L/s ± 4.6%
    >>> print(f"{bucket('5 gal', '60 s').flow.to('gpm'):.2f~P}")
    5.00 gpm
    """
    time = positive("bucket", "time", time)
    volume = positive("bucket", "volume", volume)
    if len(volume) not in (1, len(time)):
        raise HydrokitError(
            f"bucket(): give one volume or one for each of the {len(time)} times, got {len(volume)}"
        )
    fills = np.broadcast_to(volume, time.shape) / time
    flow = np.broadcast_to(volume, time.shape).sum() / time.sum()
    spread = np.ptp(fills) / flow
    parts = {
        "volume": volume_uncertainty,
        "timing": time_uncertainty * len(time) / time.sum(),
        "repeats": scatter_of_mean(fills, 0.05),
    }
    findings = findings_from(
        "bucket",
        (
            len(time) < 3,
            "note",
            f"{counted(len(time), 'fill')}; three or more show whether they agree",
        ),
        (
            np.any(time < 5),
            "caution",
            "a fill takes less than 5 s; use a larger container, or catch part of the flow",
        ),
        (
            spread > 0.2,
            "caution",
            f"the fills differ by {100 * spread:.0f} %; look for water that misses the container",
        ),
    )
    return Gauging.from_parts(flow, parts, "bucket", findings, {"fills_m3s": fills})


bucket.measurement = ("volume", "time")
