"""Learning from floods seen, against the conjugate normal closed form; what is refused and in which words."""

import numpy as np
import pytest
from known_answers import scores, standard_error
from scipy.special import ndtr, ndtri

from overbank.analysis import intervals, learning
from overbank.errors import DomainError
from overbank.uncertain.dependence import Copula

SLOPES = np.array([0.30, 0.20])
ERRORS = np.array([0.10, 0.15])
SEEN = np.array([0.35, 0.20])
NAMES = ("flood of 1998", "flood of 2007")


def foretold(z):
    """Two floods: levels 0.3 z1 + 0.2 z2, and 0.3 z1."""
    return np.stack([z @ SLOPES, SLOPES[0] * z[..., 0]])


def posterior():
    """Mean and covariance of z by Gaussian conditioning (closed form)."""
    rows = np.array([SLOPES, [SLOPES[0], 0.0]])
    gain = rows.T @ np.linalg.inv(rows @ rows.T + np.diag(ERRORS**2))
    return gain @ SEEN, np.eye(2) - gain @ rows


def is_near(found, truth):
    return abs(found.value - truth) <= 4 * standard_error(found.low, found.high, 16)


@pytest.fixture(scope="module")
def learnt():
    z = scores(16, 1024, 2, seed=81)
    return z, learning.weights(foretold(z), SEEN, ERRORS, NAMES)


def test_the_conjugate_normal_posterior(learnt):
    z, found = learnt
    mean, covariance = posterior()
    for j in (0, 1):
        assert is_near(learning.mean(z[..., j], found.weights), mean[j])
        assert is_near(learning.mean((z[..., j] - mean[j]) ** 2, found.weights), covariance[j, j])
        for p in (0.1, 0.5, 0.95):
            exact = mean[j] + np.sqrt(covariance[j, j]) * ndtri(p)
            at = learning.quantile(z[..., j], found.weights, p)
            assert is_near(at, exact)
            assert at.low < at.value < at.high


def test_prior_and_posterior_side_by_side(learnt):
    z, found = learnt
    mean, covariance = posterior()
    table = learning.side_by_side(z, ["z1", "z2"], found.weights)
    assert table["input"].tolist() == ["z1", "z2"]
    np.testing.assert_allclose(table["prior_mean"], 0.0, atol=1e-3)
    np.testing.assert_allclose(table["prior_sd"], 1.0, atol=1e-2)
    np.testing.assert_allclose(table["prior_95"], ndtri(0.95), atol=0.02)
    np.testing.assert_allclose(table["posterior_mean"], mean, atol=0.02)
    np.testing.assert_allclose(table["posterior_sd"], np.sqrt(np.diag(covariance)), atol=0.02)
    np.testing.assert_allclose(table["posterior_5"], mean + np.sqrt(np.diag(covariance)) * ndtri(0.05), atol=0.05)
    np.testing.assert_allclose(table["narrowed"], 1 - np.sqrt(np.diag(covariance)), atol=0.02)


def test_effective_samples_and_chances():
    # one flood, level z, seen at m with an error s: E[w]^2/E[w^2] of the normal kernel (closed form)
    z = scores(16, 4096, 1, seed=82)[..., 0]
    m, s = 0.8, 0.3
    found = learning.weights(z[np.newaxis], np.array([m]), np.array([s]), ("f",))
    first = s / np.sqrt(1 + s**2) * np.exp(-(m**2) / (2 * (1 + s**2)))
    second = s / np.sqrt(2 + s**2) * np.exp(-(m**2) / (2 + s**2))
    assert found.effective == pytest.approx(z.size * first**2 / second, rel=5e-3)
    assert found.effective == pytest.approx(1 / np.sum(found.weights**2))
    assert found.chances[0] == pytest.approx(2 * ndtr(-m / np.sqrt(1 + s**2)), rel=5e-3)
    assert np.sum(found.weights) == pytest.approx(1.0)


def test_equal_weights_change_nothing():
    z = scores(16, 256, 1, seed=83)[..., 0]
    even = np.full(z.shape, 1.0 / z.size)
    plain, weighted = intervals.replicated_quantile(z, 0.9), learning.quantile(z, even, 0.9)
    assert (weighted.value, weighted.low, weighted.high) == (plain.value, plain.low, plain.high)
    assert learning.mean(z, even).value == pytest.approx(np.mean(z))


def test_a_flood_that_the_model_does_not_give_contradicts_it():
    z = scores(16, 256, 2, seed=84)
    with pytest.raises(
        DomainError, match=r"flood of 2007: the observation contradicts the model.*1\.60 m; foretold -0\.7"
    ):
        learning.weights(foretold(z), np.array([0.3, 1.6]), ERRORS, NAMES)
    with pytest.raises(DomainError, match="contradicts the model"):
        learning.weights(np.full((1, 4, 8), np.inf), np.array([31.0]), np.array([0.1]), ("f",))
    # far out, but with an error that allows for it
    assert learning.weights(foretold(z), np.array([0.3, 1.6]), np.array([0.1, 1.0]), NAMES).effective > 50


def test_no_flood_seen_is_refused():
    none = np.empty(0)
    with pytest.raises(DomainError, match=r"expected levels .* and 0"):
        learning.weights(np.empty((0, 4, 8)), none, none, ())


def test_floods_that_contradict_each_other():
    z = scores(16, 256, 2, seed=85)
    same = np.stack([foretold(z)[1]] * 2)
    with pytest.raises(DomainError, match=r"contradict each other.*flood of 1998 by 20\.0, flood of 2007 by 20\.0"):
        learning.weights(same, np.array([-0.4, 0.4]), np.array([0.02, 0.02]), NAMES)


def test_too_few_effective_samples_ask_for_more():
    z = scores(16, 64, 2, seed=86)
    with pytest.raises(DomainError, match=r"only \d+ effective samples.*take more samples"):
        learning.weights(foretold(z), SEEN, np.array([0.002, 0.15]), NAMES)


def test_failed_runs_weigh_nothing_and_many_are_refused():
    z = scores(16, 1024, 2, seed=81)
    levels = foretold(z)
    levels[0, :, 3] = np.nan
    levels[1, :, 5] = np.inf
    found = learning.weights(levels, SEEN, ERRORS, NAMES)
    assert found.failed == 16
    assert np.all(found.weights[:, [3, 5]] == 0.0)
    assert is_near(learning.mean(z[..., 0], found.weights), posterior()[0][0])
    levels[0, :, :100] = np.nan
    with pytest.raises(DomainError, match="1600 of 16384 samples hold a failed run"):
        learning.weights(levels, SEEN, ERRORS, NAMES)


def test_a_missing_value_is_left_out_of_mean_and_quantile(learnt):
    z, found = learnt
    holed = z[..., 0].copy()
    holed[:, 7] = np.nan
    assert is_near(learning.mean(holed, found.weights), posterior()[0][0])
    assert is_near(learning.quantile(holed, found.weights, 0.5), posterior()[0][0])


@pytest.mark.parametrize(
    ("observed", "errors", "names"),
    [([0.1], [0.1], NAMES), ([0.1, 0.2], [0.1, 0.0], NAMES), ([0.1, np.nan], [0.1, 0.1], NAMES), ([], [], ())],
)
def test_wrong_observations_are_refused(observed, errors, names):
    z = scores(4, 64, 2, seed=88)
    with pytest.raises(DomainError, match="learning from floods seen: expected"):
        learning.weights(foretold(z), np.array(observed), np.array(errors), names)


def test_draws_are_averaged_within_each_observation():
    # two observations, two samples, two draws: every likelihood by hand; s = 1
    predicted = np.array([[[[0.0, 1.0], [2.0, 2.0]]], [[[1.0, 1.0], [0.0, 3.0]]]])
    likelihood = np.exp(-0.5 * predicted**2)
    product = likelihood.mean(axis=3).prod(axis=0)
    tables = np.repeat(predicted, 60, axis=1)  # sixty replicates, so that enough samples are effective
    found = learning.weights(tables, np.zeros(2), np.ones(2), ["a", "b"])
    assert found.weights == pytest.approx(np.repeat(product / product.sum() / 60, 60, axis=0))
    assert found.effective == pytest.approx(60 * product.sum() ** 2 / np.sum(product**2))


def test_a_draw_without_a_way_through_counts_nothing_and_a_failed_one_loses_its_sample():
    predicted = np.zeros((1, 2, 200, 2))
    predicted[0, 0, 0] = [np.inf, 0.0]
    predicted[0, 0, 1] = [np.nan, 0.0]
    found = learning.weights(predicted, np.zeros(1), np.ones(1), ["a"])
    assert found.failed == 1
    assert found.weights[0, 1] == 0.0
    assert found.weights[0, 0] == pytest.approx(0.5 * found.weights[1, 0])


@pytest.mark.parametrize("error", [1e-160, 1e-200, 1e-320])
def test_an_error_so_small_that_its_square_is_nothing_is_refused_in_words(error):
    """Without a warning of numbers that overflow: the tests take one for a failure."""
    with pytest.raises(DomainError, match=r"flood of 1998|flood of 2007"):
        learning.weights(foretold(scores(4, 64, 2, seed=81)), SEEN, np.full(2, error), NAMES)


def seen_with_dependence(r, learnt_jointly):
    """One flood seen: level 0.2 c + 0.3 b + error, of a coefficient's and a blockage's score of correlation r."""
    copula = Copula(("c", "b"), np.array([[1.0, r], [r, 1.0]]))
    z = copula.correlate(scores(16, 1024, 2, seed=83))
    rng, draws = np.random.default_rng(4), []
    for _ in range(16):
        fresh = rng.standard_normal((16, 1024, 1))
        again = copula.redrawn(z, [1], fresh) if learnt_jointly else np.concatenate([z[..., :1], fresh], axis=2)
        draws.append(0.2 * again[..., 0] + 0.3 * again[..., 1])
    found = learning.weights(np.stack(draws, axis=-1)[np.newaxis], np.array([0.6]), np.array([0.1]), ("f",))
    return z, found.weights


@pytest.mark.parametrize("r", [0.6, -0.5])
def test_a_coefficient_that_goes_with_the_blockage_is_learnt_from_both(r):
    # Conjugate normal: y = 0.2 c + 0.3 b + e, Cov(c, y) = 0.2 + 0.3 r, Var y = 0.13 + 0.12 r + 0.01 (closed form).
    covariance, variance = 0.2 + 0.3 * r, 0.13 + 0.12 * r + 0.01
    mean, sd = covariance / variance * 0.6, np.sqrt(1.0 - covariance**2 / variance)
    z, weights = seen_with_dependence(r, learnt_jointly=True)
    found = learning.mean(z[..., 0], weights)
    assert abs(found.value - mean) <= 4 * standard_error(found.low, found.high, 16) + 0.02
    found = learning.mean((z[..., 0] - mean) ** 2, weights)
    assert np.sqrt(found.value) == pytest.approx(sd, abs=0.03)
    # the blockage of the next flood goes with what was learnt: mean r E[c], variance r^2 Var c + 1 - r^2
    found = learning.mean(z[..., 1], weights)
    assert abs(found.value - r * mean) <= 4 * standard_error(found.low, found.high, 16) + 0.02
    found = learning.mean((z[..., 1] - r * mean) ** 2, weights)
    assert found.value == pytest.approx(r**2 * sd**2 + 1.0 - r**2, abs=0.05)
    apart, weights = seen_with_dependence(r, learnt_jointly=False)
    wrong = learning.mean(apart[..., 0], weights).value
    assert abs(wrong - mean) > 0.15  # what leaving the dependence out does


def test_a_sample_beyond_all_doubt_counts_nothing_and_overflows_nothing():
    """A quarter of the samples meet the mark: 1/n each. The others miss it by 1e200 and by endlessly many errors."""
    levels = np.zeros((1, 4, 128))
    levels[..., 32:96], levels[..., 96:] = 1.0, 1e150
    found = learning.weights(levels + 10.0, np.array([10.0]), np.array([1e-200]), NAMES[:1])
    np.testing.assert_allclose(found.weights[..., :32], 1.0 / 128.0, rtol=1e-12)
    assert not found.weights[..., 32:].any()
    assert found.effective == pytest.approx(128.0)
