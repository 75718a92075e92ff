"""A blockage from inspection records: conjugate closed forms, and what simulated records were made from."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.parameters import chosen
from overbank.uncertain.records import LEAST_WORTH, PRIOR_WORTH, Looks, RecordedBlockage, fit_records

PRIOR = InflatedBeta(0.2, 1.5, 2.5, 0.05)


def looks(values: np.ndarray, error: float = 0.1, weight: float = 1.0) -> Looks:
    """Looks that read each share with an error to either side, and tell 0 and 1 for sure."""
    between = (values > 0.0) & (values < 1.0)
    low = np.where(between, np.maximum(values - error, 0.0), values)
    high = np.where(between, np.minimum(values + error, 1.0), values)
    sure = tuple(map(tuple, (values == 0.0, values == 1.0)))
    return Looks(tuple(low), tuple(high), *sure, (weight,) * values.size)


def bands(values: np.ndarray) -> Looks:
    """Looks that tell only one of three bands, the outer ones with 0 and with 1 in them."""
    place = np.searchsorted([0.1, 0.7], values)
    ends = np.array([[0.0, 0.1], [0.1, 0.7], [0.7, 1.0]])[place]
    return Looks(*map(tuple, (ends[:, 0], ends[:, 1], place == 0, place == 2)), (1.0,) * values.size)


def sampled(truth: InflatedBeta, count: int, seed: int) -> np.ndarray:
    return truth.quantile(np.random.default_rng(seed).random(count))


def test_chances_of_0_and_1_are_those_of_the_dirichlet() -> None:
    """Looks that are surely 0 or 1: the posterior mean is (prior worth + count) / (all), closed form."""
    values = np.array([0.0] * 30 + [1.0] * 10)
    fit = fit_records(looks(values), PRIOR)
    total = PRIOR_WORTH + 40.0
    zero, one = fit.known[:2]
    exact = stats.beta(PRIOR_WORTH * 0.2 + 30.0, total - PRIOR_WORTH * 0.2 - 30.0)
    assert zero.posterior == pytest.approx(exact.mean(), abs=5e-4)
    assert (zero.low, zero.high) == pytest.approx(exact.ppf([0.05, 0.95]), abs=0.01)
    assert one.posterior == pytest.approx((PRIOR_WORTH * 0.05 + 10.0) / total, abs=5e-4)
    assert (fit.nearest.at_zero, fit.nearest.at_one) == pytest.approx((31.0 / total, 10.25 / total))


def test_what_lies_between_is_that_of_a_grid_of_scipys_beta() -> None:
    """Shares read to 0.02, none at an end: mean over a finer grid of m and k, with SciPy's beta and the same prior."""
    values = stats.beta(2.0, 5.0).ppf((np.arange(60) + 0.5) / 60.0)
    fit = fit_records(looks(values, 0.02), PRIOR)
    steps = np.linspace(-4.0, 4.0, 81)
    across, up = np.meshgrid(steps, steps)
    mean = 1.0 / (1.0 + np.exp(-(math.log(0.375 / 0.625) + 0.7 * across)))
    concentration = 4.0 * np.exp(0.6 * up)
    beta = stats.beta(mean * concentration, (1.0 - mean) * concentration)
    chances = [np.maximum(beta.cdf(x + 0.02) - beta.cdf(max(x - 0.02, 0.0)), 1e-300) for x in values]
    likelihood = np.sum(np.log(chances), axis=0)
    height = np.exp(likelihood - likelihood.max() - 0.5 * (across**2 + up**2))
    expected = float(np.sum(height * mean) / np.sum(height))
    inside = fit.nearest.a / (fit.nearest.a + fit.nearest.b)
    assert inside == pytest.approx(expected, abs=0.003)


def test_many_looks_give_back_what_they_were_made_from() -> None:
    truth = InflatedBeta(0.35, 1.2, 4.0, 0.03)
    fit = fit_records(looks(sampled(truth, 800, 1), 0.05), PRIOR)
    x = np.linspace(0.0, 0.99, 34)
    assert np.max(np.abs(fit.nearest.cdf(x) - truth.cdf(x))) < 0.05
    assert not fit.few
    for known, exact in zip(fit.known[:3], (0.35, 0.03, truth.mean), strict=True):
        assert known.low < exact < known.high, known


def test_bands_that_do_not_tell_0_from_a_little_leave_the_mean_right() -> None:
    truth = InflatedBeta(0.3, 1.5, 3.0, 0.1)
    fit = fit_records(bands(sampled(truth, 400, 2)), PRIOR)
    mean = fit.known[2]
    assert mean.low < truth.mean < mean.high
    exact = fit_records(looks(sampled(truth, 400, 2), 0.02), PRIOR).known[0]
    vague = fit.known[0]
    assert vague.high - vague.low > 1.5 * (exact.high - exact.low)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """90 % intervals of the mean over 40 records of 60 looks: at least 31 hold it with a chance of 99 % (binomial)."""
    truth = InflatedBeta(0.3, 1.4, 3.0, 0.04)
    held = 0
    for seed in range(40):
        mean = fit_records(looks(sampled(truth, 60, 100 + seed)), PRIOR).known[2]
        held += mean.low <= truth.mean <= mean.high
    assert held >= stats.binom(40, 0.9).ppf(0.01)


def test_the_matched_predictive_is_near_the_mean_over_all_draws() -> None:
    fit = fit_records(looks(sampled(PRIOR, 60, 3)), InflatedBeta(0.6, 1.5, 6.0, 0.01))
    assert RecordedBlockage.of(fit).miss < 0.02


def test_there_is_no_cliff_at_any_number_of_looks() -> None:
    """All looks shut: the chance of shut is (0.25 + n)/(5 + n), closed form, with 19 looks as with 20."""
    used = [RecordedBlockage.of(fit_records(looks(np.ones(n)), PRIOR)).at_one for n in (3, 19, 20)]
    assert used == pytest.approx([(0.25 + n) / (5.0 + n) for n in (3, 19, 20)], rel=1e-12)


def test_how_much_is_prior_is_told() -> None:
    few, many = (fit_records(looks(sampled(PRIOR, n, 4)), PRIOR) for n in (5, 200))
    assert few.few
    assert not many.few
    assert (few.prior_share, many.prior_share) == pytest.approx((0.5, 5.0 / 205.0))
    assert many.prior_share_between < 0.1
    assert 0.4 < few.prior_share_between <= 1.0
    shared = fit_records(looks(sampled(PRIOR, 38, 4), weight=0.5), PRIOR)
    assert shared.prior_share == pytest.approx(5.0 / 24.0)
    assert shared.few


def test_what_is_not_known_of_the_model_is_that_of_the_dirichlet() -> None:
    """Three visits, all shut: which chance of shut holds is Beta(0.25 + 3, 4.75), closed form, over the models."""
    ours = RecordedBlockage.of(fit_records(looks(np.ones(3)), PRIOR))
    exact = stats.beta(3.25, 4.75)
    shares = (0.05, 0.25, 0.5, 0.75, 0.95)
    assert np.quantile(ours.models.at_one, shares) == pytest.approx(exact.ppf(shares), abs=0.03)
    place = chosen(ours.models, stats.norm.ppf((np.arange(4096) + 0.5) / 4096))
    shut = 1.0 - stats.norm.cdf(ours.models.score_below(np.ones(4096), place))
    assert shut.mean() == pytest.approx(exact.mean(), abs=0.01)
    assert shut.std() == pytest.approx(exact.std(), abs=0.01)


def test_looks_that_show_the_same_debris_count_once() -> None:
    values = sampled(PRIOR, 30, 5)
    once, doubled = fit_records(looks(values), PRIOR), fit_records(looks(np.repeat(values, 2), weight=0.5), PRIOR)
    for left, right in zip(once.known, doubled.known, strict=True):
        assert left.posterior == pytest.approx(right.posterior, abs=0.01)
        assert left.high - left.low == pytest.approx(right.high - right.low, rel=0.15, abs=0.01)


def test_without_looks_the_prior_is_left() -> None:
    fit = fit_records(Looks((), (), (), (), ()), PRIOR)
    assert fit.few
    assert (fit.prior_share, fit.prior_share_between) == pytest.approx((1.0, 1.0), abs=0.05)
    for known in fit.known[:3]:
        assert known.posterior == pytest.approx(known.prior, abs=0.03)


def test_what_the_prior_holds_impossible_can_be_learnt() -> None:
    wide = InflatedBeta(0.85, 1.2, 8.0, 0.0)
    fit = fit_records(looks(np.array([1.0] * 20 + [0.0] * 20)), wide)
    assert fit.known[1].posterior == pytest.approx((LEAST_WORTH + 20.0) / (PRIOR_WORTH + LEAST_WORTH + 40.0), abs=0.02)


def test_the_same_looks_give_the_same_fit() -> None:
    values = sampled(PRIOR, 25, 6)
    first = fit_records(looks(values), PRIOR)
    fit_records.cache_clear()
    assert fit_records(looks(values), PRIOR) == first


def test_the_distribution_carries_its_fit() -> None:
    fit = fit_records(looks(sampled(PRIOR, 40, 7)), PRIOR)
    ours = RecordedBlockage.of(fit, ("a warning",))
    assert ours.fit is fit
    assert ours.warnings == ("a warning",)
    z = np.linspace(-4.0, 4.0, 81)
    # the mean over all draws, and not the inflated beta nearest to it
    place = np.arange(len(fit.models))
    below = [stats.norm.cdf(fit.models.score(np.full(place.size, x), place)).mean() for x in (0.1, 0.4, 0.8)]
    assert stats.norm.cdf(ours.score([0.1, 0.4, 0.8])) == pytest.approx(below, abs=2e-3)
    at = ours.value(z)
    assert np.all(ours.score_below(at) <= z + 1e-9)
    assert np.all(z <= ours.score(at) + 1e-9)
    assert "otherwise beta" in ours.words
    assert len(ours.words) < 90
