"""The error of a rating by flow, of the stage read, and of what gaugings of one method have in common."""

import numpy as np
import pytest

from hydrokit.errors import HydrokitError
from hydrokit.stream.gauging import METHODS
from hydrokit.stream.rating import fit_rating
from hydrokit.stream.rating_error import rating_error

STAGE = np.array([0.20, 0.25, 0.30, 0.36, 0.44, 0.52, 0.60])
FLOW = 0.9 * (STAGE - 0.1) ** 2


def fitted(uncertainty=0.05, **more):
    return fit_rating.si(STAGE, FLOW, np.full(len(STAGE), uncertainty), cease_to_flow=0.1, **more)


def simulated(random, stage_sd=0.0, shared=0.0, own=0.05, **more):
    """Ratings of many gaugings of one creek, measured as said; ln of their flow over the true one at some stages."""
    found = []
    for _ in range(400):
        stage = STAGE + stage_sd * random.standard_normal(len(STAGE))
        error = shared * random.standard_normal() + own * random.standard_normal(len(STAGE))
        rating = fit_rating.si(
            stage,
            FLOW * np.exp(error),
            np.full(len(STAGE), np.hypot(own, shared)),
            cease_to_flow=0.1 + 0.005 * random.standard_normal(),
            **more,
        )
        found.append(np.log(rating.flow_si(AT) / (0.9 * (AT - 0.1) ** 2)))
    return np.array(found)


AT = np.array([0.18, 0.30, 0.60])


@pytest.mark.parametrize("shared", [0.0, 0.10])
def test_error_by_flow_is_that_of_simulated_ratings(shared):
    """Independent: 400 ratings from gaugings drawn with stages misread and one error in common."""
    found = simulated(
        np.random.default_rng(5),
        stage_sd=0.003,
        shared=shared,
        stage_uncertainty=0.003,
        methods=["float"] * len(STAGE) if shared else None,
    )
    rating = fitted(
        np.hypot(0.05, shared),
        stage_uncertainty=0.003,
        methods=["float"] * len(STAGE) if shared else None,
    )
    error = rating_error(rating, rating.flow_si(np.linspace(0.15, 0.7, 400)))
    assert error.sd_si(rating.flow_si(AT)) == pytest.approx(found.std(axis=0), rel=0.15)


def test_more_gaugings_by_one_method_do_not_lessen_what_they_share():
    many = np.tile(STAGE, 40)
    rating = fit_rating.si(
        many,
        0.9 * (many - 0.1) ** 2,
        np.full(len(many), 0.15),
        cease_to_flow=0.1,
        cease_to_flow_uncertainty=1e-6,
        methods=["float"] * len(many),
    )
    assert rating.log_sd(0.36) == pytest.approx(METHODS["float"].shared, rel=0.02)
    one_each = fit_rating.si(
        many,
        0.9 * (many - 0.1) ** 2,
        np.full(len(many), 0.15),
        cease_to_flow=0.1,
        cease_to_flow_uncertainty=1e-6,
        methods=[str(each) for each in range(len(many))],
    )
    assert one_each.log_sd(0.36) < 0.02


def test_a_method_for_each_gauging_is_asked():
    with pytest.raises(HydrokitError, match="one method for each of the 7 gaugings"):
        fitted(methods=["float"])


def test_a_dry_record_has_no_error():
    with pytest.raises(HydrokitError, match="no flow above zero"):
        rating_error(fitted(), [0.0, np.nan])
