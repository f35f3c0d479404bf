"""Ratings: the fit, its bands, few gaugings, ice, shifts."""

import csv
from pathlib import Path

import numpy as np
import pytest
from published.worked_rating import KROKFORS_BAND, krokfors
from scipy.optimize import curve_fit, least_squares

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.stream.ice import open_water
from hydrokit.stream.rating import (
    CONTROLS,
    fit_rating,
    level_uncertainty,
    rating_band,
    rating_stage,
)
from hydrokit.units import Q_, UnitsError

DATA = Path(__file__).parents[1] / "data"
STAGES = np.array([0.22, 0.25, 0.27, 0.31, 0.38, 0.45, 0.52, 0.60, 0.75, 0.90])


def truth(stage, a=0.9, c=0.12, b=2.1):
    return a * (np.asarray(stage) - c) ** b


def fit(stage, flow, **options):
    return fit_rating(Q_(stage, "m"), Q_(flow, "m^3/s"), **options)


def provo():
    with (DATA / "gaugings_provo.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    stage, flow, sigma = (
        np.array([float(row[name]) for row in rows])
        for name in ("stage_ft", "flow_cfs", "flow_sigma_cfs")
    )
    return stage, flow, sigma / flow, [row["datetime"][:10] for row in rows]


def messages(result, level=None):
    return " | ".join(each.message for each in result.findings if level in (None, each.level))


# --- the fit --------------------------------------------------------------------------------


def test_exact_gaugings_give_the_curve_back():
    rating = fit(STAGES, truth(STAGES))
    assert (rating.a, rating.c, rating.b) == pytest.approx((0.9, 0.12, 2.1), rel=1e-6)


def test_two_exact_pieces_give_the_break_back():
    stage = np.linspace(0.2, 1.2, 24)
    flow = np.where(stage < 0.62, truth(stage), truth(0.62) * ((stage - 0.12) / 0.5) ** 1.4)
    rating = fit(stage, flow, pieces=2)
    assert (rating.c, rating.b, rating.upper_b, rating.break_m) == pytest.approx(
        (0.12, 2.1, 1.4, 0.62), rel=1e-4
    )
    np.testing.assert_allclose(rating.flow_si(stage), flow, rtol=1e-4)
    one = fit(stage, flow * np.random.default_rng(0).lognormal(0, 0.02, 24))
    assert one.bends and "two pieces fit them far better" in messages(one)


def test_fit_and_covariance_agree_with_scipy():
    """Independent: scipy's curve_fit of the same model on ln Q."""
    flow = truth(STAGES) * np.random.default_rng(2).lognormal(0, 0.06, len(STAGES))
    rating = fit(STAGES, flow)
    model = lambda h, log_a, b, c: log_a + b * np.log(np.maximum(h - c, 1e-9))  # noqa: E731
    found, covariance = curve_fit(
        model, STAGES, np.log(flow), p0=[0, 2, 0.1], xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    np.testing.assert_allclose([np.log(rating.a), rating.b, rating.c], found, rtol=1e-5)
    np.testing.assert_allclose(rating.covariance, covariance, rtol=1e-3)


def test_weights_agree_with_scipy():
    """Independent: curve_fit with absolute sigmas, where the scatter is no more than the gaugings' own."""
    uncertainty = np.linspace(0.03, 0.15, len(STAGES))
    flow = truth(STAGES) * np.exp(
        0.5 * uncertainty * np.random.default_rng(8).normal(size=len(STAGES))
    )
    rating = fit(STAGES, flow, uncertainty=uncertainty)
    model = lambda h, log_a, b, c: log_a + b * np.log(np.maximum(h - c, 1e-9))  # noqa: E731
    found, covariance = curve_fit(
        model,
        STAGES,
        np.log(flow),
        p0=[0, 2, 0.1],
        sigma=uncertainty,
        absolute_sigma=True,
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    np.testing.assert_allclose([np.log(rating.a), rating.b, rating.c], found, rtol=1e-5)
    np.testing.assert_allclose(rating.covariance, covariance, rtol=1e-3)


def test_two_pieces_agree_with_scipy():
    """Independent: scipy's least_squares from many starts finds nothing better."""
    stage = np.linspace(0.2, 1.2, 24)
    flow = np.where(stage < 0.62, truth(stage), truth(0.62) * ((stage - 0.12) / 0.5) ** 1.4)
    log_flow = np.log(flow) + np.random.default_rng(4).normal(0, 0.04, 24)

    def misses(p):
        over, corner = np.log(np.maximum(stage - p[2], 1e-6)), np.log(max(p[4] - p[2], 1e-6))
        return (
            log_flow - p[0] - p[1] * np.minimum(over, corner) - p[3] * np.maximum(over - corner, 0)
        )

    best = min(
        2
        * least_squares(
            misses, [0, 2, c, 1.5, at], bounds=([-9, 0, -5, 0, 0.3], [9, 9, 0.199, 9, 1.1])
        ).cost
        for c in (0.0, 0.1, 0.15)
        for at in (0.45, 0.6, 0.75)
    )
    rating = fit(stage, np.exp(log_flow), pieces=2)
    assert np.sum(rating.residuals**2) <= best * 1.001


def test_common_scatter_keeps_one_sure_gauging_from_ruling():
    """Uncertainties far below the scatter: weights become nearly equal, as without uncertainties."""
    flow = truth(STAGES) * np.random.default_rng(2).lognormal(0, 0.15, len(STAGES))
    uncertainty = np.full(len(STAGES), 0.02)
    uncertainty[0] = 0.001
    sure, plain = fit(STAGES, flow, uncertainty=uncertainty), fit(STAGES, flow)
    assert sure.b == pytest.approx(plain.b, rel=0.02)


def test_us_units_give_the_same_curve():
    stage, flow, uncertainty, _ = provo()
    us = fit_rating(Q_(stage, "ft"), Q_(flow, "cfs"), uncertainty=uncertainty)
    metric = fit(stage * 0.3048, flow * 0.3048**3, uncertainty=uncertainty)
    assert (us.a, us.b, us.c) == pytest.approx((metric.a, metric.b, metric.c), rel=1e-7)


def test_provo_fits_sensibly():
    """A snowmelt river over 200-fold flow: a common exponent, a creek that stops below its lowest gauging.

    Two gaugings of the winter 2019-20 carry a fifth to a quarter less than the curve at their
    stage, as ice or a choked control would make them; all others lie within 20 %.
    """
    stage, flow, uncertainty, dates = provo()
    rating = fit_rating(Q_(stage, "ft"), Q_(flow, "cfs"), uncertainty=uncertainty, dates=dates)
    assert 1.5 < rating.b < 3 and rating.scatter < 0.15
    assert 0.5 < rating.c / 0.3048 < 2.2
    winter = np.isin(dates, ["2019-12-17", "2020-01-30"])
    off = np.expm1(rating.residuals)
    assert winter.sum() == 2 and np.all(off[winter] < -0.19) and np.all(np.abs(off[~winter]) < 0.20)
    assert "shifted" not in messages(rating)
    assert rating.highest_flow_m3s == pytest.approx(6040 * 0.3048**3)
    open_water_only = fit_rating(
        Q_(stage, "ft"), Q_(flow, "cfs"), uncertainty=uncertainty, ice=winter
    )
    assert open_water_only.scatter < 0.8 * rating.scatter


def test_krokfors_lies_inside_the_published_band():
    """Published: 95 % band of a generalised power law on the same gaugings; ours is another model."""
    for stage, low, high in KROKFORS_BAND:
        assert low < krokfors().flow_si(stage) < high


# --- flow, stage, bands ---------------------------------------------------------------------


def test_curve_rises_and_is_dry_below_cease_to_flow():
    rating = fit(STAGES, truth(STAGES))
    stage = np.linspace(-1, 2, 400)
    flow = rating.flow_si(stage)
    assert np.all(np.diff(flow) >= 0) and np.all(flow[stage <= rating.c] == 0)
    assert np.isnan(rating.flow_si(np.array([np.nan, 0.5]))[0])


def test_stage_is_the_inverse_of_flow():
    stage = np.linspace(0.2, 1.2, 24)
    flow = np.where(stage < 0.62, truth(stage), truth(0.62) * ((stage - 0.12) / 0.5) ** 1.4)
    for pieces in (1, 2):
        rating = fit(stage, flow, pieces=pieces)
        np.testing.assert_allclose(
            rating_stage.si(rating.flow_si(stage), rating), stage, rtol=1e-10
        )
        np.testing.assert_allclose(
            rating.stage(Q_(rating.flow_si(stage), "m^3/s")).m_as("m"), stage, rtol=1e-10
        )


def test_extrapolation_is_told():
    rating = fit(STAGES, truth(STAGES))
    with pytest.warns(RangeWarning, match="1.5 times the highest gauging"):
        rating.flow("1.2 m")
    assert rating.check(["0.5 m", "0.9 m"]) == []
    assert "33.3 %" in rating.check(["0.5 m", "0.9 m", "1.4 m"])[0].message
    assert "no water" in rating.check(["0.5 m", "0.05 m"])[0].message
    at_limit = rating.stage(Q_(rating.trusted_flow_m3s, "m^3/s")).m_as("m")
    assert rating.extrapolated([at_limit - 1e-6, at_limit + 1e-6]).tolist() == [False, True]


def test_band_is_the_delta_method_of_the_parameters():
    """Independent: draws of the parameters, curve by curve."""
    flow = truth(STAGES) * np.random.default_rng(2).lognormal(0, 0.04, len(STAGES))
    rating = fit(STAGES, flow)
    draws = np.random.default_rng(1).multivariate_normal(
        [np.log(rating.a), rating.b, rating.c], rating.covariance, 40_000
    )
    stage = 0.5
    logs = draws[:, 0] + draws[:, 1] * np.log(stage - draws[:, 2])
    assert rating.log_sd(stage) == pytest.approx(logs.std(), rel=0.03)


def test_band_holds_the_true_curve_as_often_as_it_says():
    """Independent: 400 sets of gaugings from a known curve; 90 % bands, 1 in 40 sets of luck allowed."""
    random = np.random.default_rng(11)
    held = np.zeros(3)
    stage = np.array([0.24, 0.45, 0.85])
    for _ in range(400):
        rating = fit_rating.si(STAGES, truth(STAGES) * random.lognormal(0, 0.08, len(STAGES)))
        low, high = rating_band.si(stage, rating, 0.90)
        held += (low < truth(stage)) & (truth(stage) < high)
    assert np.all((held / 400 > 0.86) & (held / 400 < 0.94))


def test_band_widens_with_level_and_away_from_the_gaugings():
    rating = fit(STAGES, truth(STAGES) * np.random.default_rng(2).lognormal(0, 0.05, len(STAGES)))
    narrow, wide = rating.band("0.5 m", "68 %"), rating.band("0.5 m", 0.95)
    assert wide[0] < narrow[0] < rating.flow("0.5 m") < narrow[1] < wide[1]
    assert rating.log_sd(0.14) > rating.log_sd(0.4) < rating.log_sd(1.5)
    assert np.all(np.isfinite(rating.log_sd(np.array([-1.0, 0.0, rating.c]))))
    with pytest.raises(HydrokitError, match="level"):
        rating.band("0.5 m", 1.0)


def test_level_uncertainty_is_that_of_the_whole_record():
    """Independent: the record rated anew with drawn parameters."""
    flow = truth(STAGES) * np.random.default_rng(2).lognormal(0, 0.05, len(STAGES))
    rating = fit(STAGES, flow)
    random = np.random.default_rng(6)
    stage = random.uniform(0.25, 0.8, 500)
    draws = random.multivariate_normal(
        [np.log(rating.a), rating.b, rating.c], rating.covariance, 5000
    )
    sums = [np.sum(np.exp(log_a) * (stage - c) ** b) for log_a, b, c in draws]
    record = rating.flow_si(stage)
    assert level_uncertainty(rating, record, shared=0.0) == pytest.approx(
        np.std(np.log(sums)), rel=0.04
    )
    assert level_uncertainty(rating, np.append(record, np.nan), shared=0.03) == pytest.approx(
        np.hypot(level_uncertainty(rating, record, shared=0.0), 0.03)
    )
    with pytest.raises(HydrokitError, match="no flow above zero"):
        level_uncertainty(rating, [0.0, np.nan])


def test_a_century_of_hours_is_rated_at_once():
    rating = fit(STAGES, truth(STAGES))
    stage = np.random.default_rng(0).uniform(0.1, 1.0, 876_000)
    np.testing.assert_allclose(
        rating.flow_si(stage)[::1000],
        [rating.flow_si(float(each)) for each in stage[::1000]],
        rtol=1e-12,
    )


# --- few gaugings ---------------------------------------------------------------------------


def test_one_gauging_with_a_surveyed_control():
    rating = fit([0.42], truth([0.42]), cease_to_flow="0.12 m", control="v-notch")
    assert rating.b == 2.5 and rating.c == 0.12
    assert rating.flow_si(0.42) == pytest.approx(truth(0.42))
    assert "leans on" in messages(rating, "caution")
    # With nothing else told one gauging is taken to be good to 10 %.
    assert rating.log_sd(0.42) == pytest.approx(0.10, rel=1e-9)


@pytest.mark.parametrize(
    "control, exponent",
    [("rectangular", 1.5), ("channel", 5 / 3), ("riffle", 2.0), ("v-notch", 2.5)],
)
def test_exponent_of_a_control_is_that_of_critical_flow(control, exponent):
    """Analytic: critical flow through a section of width ~ z^m has Q ~ H^(m + 3/2); Manning's wide channel 5/3."""
    assert CONTROLS[control][0] == pytest.approx(exponent)


def test_uncertainty_of_held_parameters_is_that_of_brute_force():
    """Independent: refit with the held values moved by their uncertainty; gaugings that leave no scatter of their own."""
    stage, flow = np.array([0.30, 0.50]), truth([0.30, 0.50], b=2.0)
    held = {
        "cease_to_flow": "0.12 m",
        "exponent": 2.0,
        "cease_to_flow_uncertainty": "8 mm",
        "exponent_uncertainty": 0.2,
        "uncertainty": 1e-4,
    }
    rating = fit(stage, flow, **held)
    asked, spread = 0.9, 0.0
    for moved in ({"cease_to_flow": "0.1201 m"}, {"exponent": 2.001}):
        other = fit(stage, flow, **(held | moved))
        step, uncertainty = (1e-4, 0.008) if "cease_to_flow" in moved else (1e-3, 0.2)
        spread += (np.log(other.flow_si(asked) / rating.flow_si(asked)) / step * uncertainty) ** 2
    assert rating.log_sd(asked) == pytest.approx(np.sqrt(spread), rel=0.01)


def test_a_control_not_named_is_assumed_with_a_wide_uncertainty_and_told():
    stage = [0.3, 0.4, 0.5]
    unnamed = fit(stage, truth(stage), cease_to_flow="0.12 m")
    named = fit(stage, truth(stage), cease_to_flow="0.12 m", control="riffle")
    assert unnamed.b == named.b == 2.0
    assert "name it" in messages(unnamed, "problem") and messages(named, "problem") == ""
    assert unnamed.log_sd(1.0) > named.log_sd(1.0)


def test_few_gaugings_without_a_survey_fit_cease_to_flow():
    stage = np.array([0.3, 0.4, 0.5])
    rating = fit(stage, truth(stage, b=2.0), control="riffle")
    assert rating.c == pytest.approx(0.12, abs=1e-6)


def test_many_gaugings_at_few_stages_are_few():
    stage = np.array([0.3, 0.3, 0.3, 0.4, 0.4, 0.5])
    rating = fit(stage, truth(stage, b=2.0))
    assert rating.b == 2.0 and rating.c == pytest.approx(0.12, abs=1e-6)
    assert "at 3 stages" in messages(rating, "caution")


# --- findings and refusals ------------------------------------------------------------------


def test_iced_gaugings_are_left_out_and_told():
    """A stage held up 0.2 m by ice must not move the curve."""
    stage = np.append(STAGES, [0.55, 0.60])
    flow = np.append(truth(STAGES), truth([0.35, 0.40]))
    ice = np.arange(12) >= 10
    rating = fit(stage, flow, ice=ice)
    assert rating.b == pytest.approx(2.1, rel=1e-5) and rating.gaugings == 10
    assert "2 gaugings with ice" in messages(rating, "note")
    assert fit(stage, flow).b != pytest.approx(2.1, rel=0.01)
    with pytest.raises(HydrokitError, match="every gauging"):
        fit(STAGES, truth(STAGES), ice=[True] * 10)


def test_a_shift_of_the_control_is_found_and_dated():
    random = np.random.default_rng(9)
    stage = random.permutation(np.tile(STAGES, 2))
    dates = np.datetime64("2015-03-01") + 90 * np.arange(20)
    noise = random.lognormal(0, 0.03, 20)
    moved = truth(stage - 0.03 * (np.arange(20) >= 12)) * noise
    shifted = fit(stage, moved, dates=dates)
    assert str(dates[12]) in messages(shifted, "problem") and "shifted" in messages(shifted)
    assert "shifted" not in messages(fit(stage, truth(stage) * noise, dates=dates))
    assert "shifted" not in messages(fit(stage, moved))


def test_shifts_are_seldom_cried_without_cause():
    random = np.random.default_rng(10)
    dates = np.datetime64("2015-03-01") + 90 * np.arange(20)
    stage = np.tile(STAGES, 2)
    cries = sum(
        "shifted"
        in messages(fit_rating.si(stage, truth(stage) * random.lognormal(0, 0.1, 20), dates=dates))
        for _ in range(150)
    )
    assert cries <= 4


def test_an_odd_gauging_is_named():
    flow = truth(np.tile(STAGES, 2)) * np.random.default_rng(2).lognormal(0, 0.02, 20)
    flow[3] *= 1.8
    assert "0.310 m" in messages(fit(np.tile(STAGES, 2), flow), "caution")


def test_narrow_and_high_gaugings_are_told():
    stage = np.array([0.80, 0.82, 0.84, 0.86, 0.88])
    rating = fit(stage, truth(stage) * np.array([1.02, 0.97, 1.03, 0.98, 1.01]))
    assert "hardly tell" in messages(rating) and "span" in messages(rating)


@pytest.mark.parametrize(
    "stage, flow, options, sentence",
    [
        ([0.3, 0.4], [0.1, 0.0], {}, "gauging 2 needs a stage and a flow above zero"),
        ([0.3, np.nan], [0.1, 0.2], {}, "gauging 2 needs"),
        ([0.3, 0.4, 0.5], [0.1, 0.2], {}, "a stage for each flow"),
        ([0.3, 0.4], [0.1, 0.2], {"cease_to_flow": "0.35 m"}, "does not lie above cease-to-flow"),
        ([0.3], [0.1], {}, "one stage alone"),
        ([0.3, 0.4], [0.1, 0.2], {"control": "dam"}, "control must be one of"),
        ([0.3, 0.4], [0.1, 0.2], {"control": "riffle", "exponent": 2.0}, "not both"),
        ([0.3, 0.4], [0.1, 0.2], {"exponent": 9.0}, "between 0.5 and 5"),
        ([0.3, 0.4], [0.1, 0.2], {"pieces": 2}, "ten gaugings"),
        ([0.3, 0.4], [0.1, 0.2], {"uncertainty": [0.1, 0.0]}, "every uncertainty"),
        ([0.3, 0.4], [0.1, 0.2], {"ice": [True]}, "one ice mark"),
        ([0.3, 0.4], [0.1, 0.2], {"dates": ["2024-01-01"]}, "one date"),
    ],
)
def test_fit_refuses(stage, flow, options, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        fit(stage, flow, **options)


def test_bare_numbers_are_refused():
    with pytest.raises(UnitsError, match="stage"):
        fit_rating([0.3, 0.4], Q_([0.1, 0.2], "m^3/s"))
    with pytest.raises(UnitsError, match="stage"):
        fit(STAGES, truth(STAGES)).flow(0.4)


# --- ice ------------------------------------------------------------------------------------


def test_open_water_by_months():
    times = np.arange("2024-01", "2025-01", dtype="datetime64[M]")
    assert np.flatnonzero(~open_water(times)).tolist() == [0, 1, 2, 11]
    assert np.flatnonzero(~open_water(times, ice_months=(6, 7))).tolist() == [5, 6]


def test_open_water_by_the_mean_of_the_last_days():
    """Independent: pandas' trailing mean."""
    import pandas as pd

    days = pd.date_range("2023-11-01", periods=150)
    air = np.random.default_rng(0).normal(-2, 6, 150)
    expected = pd.Series(air, index=days).rolling("7D").mean() >= -3
    found = open_water(days.to_numpy(), air_temperature=Q_(air, "degC"))
    assert found.tolist() == expected.tolist()
    with pytest.raises(HydrokitError, match="rising times"):
        open_water(days.to_numpy()[::-1], air_temperature=Q_(air, "degC"))


@pytest.mark.parametrize("seed", range(6))
def test_a_shift_is_found_where_a_hand_loop_finds_it(seed):
    """The same search by slices, split by split."""
    from hydrokit.stream.rating import _shift

    rng = np.random.default_rng(seed)
    count = 5 + 9 * seed
    when = np.datetime64("2020-01-01") + rng.permutation(count)
    residuals = rng.normal(0.3, 0.06, count)
    if seed % 2:
        residuals[np.argsort(when) >= count // 2] += 0.2
        residuals = residuals[rng.permutation(count)] if seed == 3 else residuals
    ordered, days, best = residuals[np.argsort(when)], np.sort(when), (4.0, None)
    for split in range(3, count - 2):
        before, after = ordered[:split], ordered[split:]
        within = np.sqrt((before.var() * split + after.var() * (count - split)) / (count - 2))
        strength = abs(after.mean() - before.mean()) / (
            within * np.sqrt(1 / split + 1 / (count - split))
        )
        if strength > best[0] and abs(after.mean() - before.mean()) > 0.05:
            best = (strength, (str(days[split]), float(np.expm1(after.mean() - before.mean()))))
    found = _shift(residuals, when)
    assert (found is None) == (best[1] is None)
    if found:
        assert found[0] == best[1][0] and found[1] == pytest.approx(best[1][1], rel=1e-9)
