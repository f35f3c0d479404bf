"""What one more gauging would do to a rating: its covariance before the creek is visited again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import HydrokitError
from ..units import Given, units
from .rating_curve import Rating

__all__ = ["LEAST_SCATTER", "one_more_gauging", "scatter_of_one_more"]

LEAST_SCATTER = 0.05  # of one more gauging, however well the others agree


def scatter_of_one_more(rating: Rating) -> float:
    """Relative standard deviation of a gauging like those that made the curve, about it."""
    return max(float(rating.scatter), LEAST_SCATTER)


@units(None, stage="m", uncertainty="ratio")
def one_more_gauging(rating: Rating, stage: Given, uncertainty: Given = None) -> Rating:
    r"""The rating with the certainty that one more gauging at a stage would bring; the curve itself stays.

    Parameters
    ----------
    rating : Rating
    stage : Quantity or str [length]
        Where it is gauged, above cease-to-flow.
    uncertainty : ratio, optional
        Relative standard deviation of that gauging about the curve; left out, that of a gauging like the
        others, 5 % at the least.

    Returns
    -------
    Rating
        With the covariance that is left.

    Raises
    ------
    HydrokitError
        A stage at which the creek does not flow, an uncertainty that is not above zero.

    Notes
    -----
    With s the change of ln Q at the stage with the parameters, C their covariance and σ the scatter,

    .. math:: C' = C - \frac{C s s^T C}{\sigma^2 + s^T C s}

    What the gauging will read is not known before, so that only the spread changes. Linearised, as
    the fit is.

    References
    ----------
    .. [1] Recursive least squares: the covariance after one more observation (J. Sherman, W. J. Morrison,
       Annals of Mathematical Statistics 21(1), 1950, p. 124; from memory).

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> for stage in ("0.15 m", "0.40 m"):
    ...     sharper = one_more_gauging(rating, stage)
    ...     print(f"{rating.log_sd(0.15):.1%} to {sharper.log_sd(0.15):.1%}")
    46.4% to 5.0%
    46.4% to 45.5%
    >>> print(f"{one_more_gauging(rating, '0.5 ft', '10 %').log_sd(0.15):.1%}")
    10.1%
    """
    if not stage > rating.c:
        raise HydrokitError(
            "one_more_gauging(): the creek does not flow at that stage; name one above cease-to-flow"
        )
    scatter = scatter_of_one_more(rating) if uncertainty is None else float(uncertainty)
    if not scatter > 0:
        raise HydrokitError("one_more_gauging(): uncertainty must be above zero")
    slopes = rating.slopes(float(stage))
    tied = rating.covariance @ slopes
    left = rating.covariance - np.outer(tied, tied) / (scatter**2 + slopes @ tied)
    return replace(rating, covariance=left)
