"""What one more gauging would do to a rating, against the least squares that it is of."""

import numpy as np
import pytest

from hydrokit.errors import HydrokitError
from hydrokit.stream.one_more_gauging import one_more_gauging, scatter_of_one_more
from hydrokit.stream.rating import fit_rating

STAGE = np.array([0.17, 0.20, 0.24, 0.30, 0.38, 0.50])
FLOW = 0.5 * (STAGE - 0.05) ** 2 * np.exp([0.05, -0.04, 0.03, 0.02, -0.06, 0.01])
RATING = fit_rating.si(
    STAGE, FLOW, np.full(6, 0.06), cease_to_flow=0.05, cease_to_flow_uncertainty=0.0
)


def straight(stages, sd):
    """Covariance of a weighted straight line of ln Q on ln(h - c), from its normal equations."""
    design = np.stack([np.ones(len(stages)), np.log(np.array(stages) - 0.05)], axis=1)
    return np.linalg.inv(design.T @ (design / np.square(sd)[:, None]))


def test_it_is_the_least_squares_with_one_row_more():
    """Analytic: with cease-to-flow known the rating is a straight line, and its normal equations take one more row."""
    assert RATING.covariance[:2, :2] == pytest.approx(straight(STAGE, np.full(6, 0.06)), rel=1e-6)
    for stage in (0.08, 0.24, 0.90):
        sharper = one_more_gauging.si(RATING, stage, 0.10)
        wanted = straight([*STAGE, stage], np.append(np.full(6, 0.06), 0.10))
        assert sharper.covariance[:2, :2] == pytest.approx(wanted, rel=1e-6)
        assert (sharper.a, sharper.b, sharper.c) == (RATING.a, RATING.b, RATING.c)


def test_it_is_what_a_gauging_on_the_curve_leaves_after_a_new_fit():
    """Independent: the whole fit again, cease-to-flow free, with the gauging added where the curve has it."""
    stage = np.linspace(0.16, 0.60, 40)
    exact = 0.5 * (stage - 0.05) ** 2
    before = fit_rating.si(stage, exact, np.full(40, 0.08))
    for added in (0.12, 0.90):
        again = fit_rating.si(
            np.append(stage, added), np.append(exact, before.flow_si(added)), np.full(41, 0.08)
        )
        sharper = one_more_gauging.si(before, added, 0.08)
        for at in (0.10, 0.2, 1.0):
            assert sharper.log_sd(at) == pytest.approx(again.log_sd(at), rel=0.02)


def test_it_never_widens_and_helps_most_where_nobody_gauged():
    stages = np.array([0.1, 0.2, 0.3, 0.5, 0.8])
    for stage in stages:
        assert np.all(one_more_gauging.si(RATING, stage).log_sd(stages) <= RATING.log_sd(stages))
    low = [one_more_gauging.si(RATING, stage).log_sd(0.08) for stage in (0.08, 0.3, 0.5)]
    assert low[0] == min(low)
    assert scatter_of_one_more(RATING) >= 0.05


def test_nonsense_is_refused_in_a_sentence():
    with pytest.raises(HydrokitError, match="does not flow at that stage"):
        one_more_gauging(RATING, "4 cm")
    with pytest.raises(HydrokitError, match="uncertainty must be above zero"):
        one_more_gauging(RATING, "40 cm", "0 %")
