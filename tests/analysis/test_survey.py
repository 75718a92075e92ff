"""What a survey narrows, against the closed form of a linear Gaussian model with dependent inputs."""

from dataclasses import replace

import numpy as np
import pytest
from known_answers import scores, standard_error
from scipy import integrate, stats
from scipy.special import ndtr

from overbank.analysis import survey
from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError

SLOPES = np.array([0.30, 0.20, 0.15])
CORRELATION = np.array([[1.0, 0.5, 0.0], [0.5, 1.0, 0.0], [0.0, 0.0, 1.0]])
BANK = 0.6
WIDTH = 2 * stats.norm.ppf(0.95)


def correlated(samples, seed):
    return scores(16, samples, 3, seed) @ np.linalg.cholesky(CORRELATION).T


def straight(z):
    """level = a'z, over the bank above 0.6."""
    levels = z @ SLOPES
    return levels, (levels > BANK).astype(float)


def exact(column, left):
    """sd before and after, and sd of P(over) over the results: Gaussian conditioning and one quadrature."""
    covariance = CORRELATION[:, column] @ SLOPES * np.sqrt(1 - left**2)
    sd = np.sqrt(SLOPES @ CORRELATION @ SLOPES)
    after = np.sqrt(sd**2 - covariance**2)
    squared = integrate.quad(lambda k: stats.norm.pdf(k) * ndtr((covariance * k - BANK) / after) ** 2, -9, 9)[0]
    return sd, after, np.sqrt(squared - ndtr(-BANK / sd) ** 2)


def is_near(found, truth, more=0.0):
    return abs(found.value - truth) <= 4 * standard_error(found.low, found.high, 16) + more


@pytest.mark.parametrize("left", [0.0, 0.4, 0.9])
@pytest.mark.parametrize("column", [0, 1, 2])
def test_a_linear_model_with_dependent_inputs(column, left):
    found = survey.narrowing("x", correlated(64, seed=5), column, CORRELATION, left, 200.0, straight)
    sd, after, spread = exact(column, left)
    assert is_near(found.sd_before, sd)
    assert is_near(found.sd_after, after)
    assert is_near(found.band_before, WIDTH * sd)
    assert is_near(found.band_after, WIDTH * after)
    assert is_near(found.narrowing, WIDTH * (sd - after))
    assert is_near(found.probability_spread, spread, more=0.002)
    assert found.narrowing.high - found.narrowing.low < 0.15
    assert found.per_cost.value == pytest.approx(found.narrowing.value / 200)
    assert (found.runs, found.failed) == (34 * 16 * 64, 0)


def test_surveying_one_input_tells_of_its_partner():
    z = correlated(64, seed=6)
    alone = survey.narrowing("x", z @ np.linalg.inv(np.linalg.cholesky(CORRELATION)).T, 0, np.eye(3), 0.3, 1, straight)
    both = survey.narrowing("x", z, 0, CORRELATION, 0.3, 1, straight)
    assert both.narrowing.low > alone.narrowing.high


def test_a_survey_of_what_does_nothing_narrows_exactly_nothing():
    def blind(z):
        return straight(z * np.array([1.0, 1.0, 0.0]))

    found = survey.narrowing("x", scores(16, 64, 3, seed=7), 2, np.eye(3), 0.2, 1.0, blind)
    for nothing in (found.narrowing, found.probability_spread):
        assert (nothing.value, nothing.low, nothing.high) == (0.0, 0.0, 0.0)


def test_scores_after_the_survey_average_out_to_those_of_today():
    # today's covariance = that within a result + that between results, whatever is left
    z = correlated(4096, seed=8).reshape(-1, 3)
    for left in (0.0, 0.5):
        within = np.cov(survey.after(z, 1, CORRELATION, left, 0.7), rowvar=False)
        between = (1 - left**2) * np.outer(CORRELATION[1], CORRELATION[1])
        np.testing.assert_allclose(within + between, CORRELATION, atol=2e-3)
        middle = survey.after(z, 1, CORRELATION, left, 0.7).mean(axis=0)
        np.testing.assert_allclose(middle, 0.7 * np.sqrt(1 - left**2) * CORRELATION[1], atol=2e-3)


def test_variance_between_results_is_the_mean_product_of_two_replicates():
    # noise of two replicates has no product in the mean: by hand, weights of the results w, sum(w a b) for deviations
    found = np.random.default_rng(10).random((survey.CHANCE.size, 2))
    a, b = (found - np.average(found, axis=0, weights=survey.CHANCE)).T
    by_hand = np.average(a * b, weights=survey.CHANCE)
    assert survey._variance_between(found) == pytest.approx(by_hand, rel=1e-12)


def test_the_result_of_a_survey_is_a_standard_normal_score():
    z = scores(1, 1 << 14, 1, seed=9)[0, :, 0]
    told = survey.result(z, 0.6, np.random.default_rng(9))
    assert np.std(told) == pytest.approx(1.0, abs=0.02)
    assert np.corrcoef(told, z)[0, 1] == pytest.approx(0.8, abs=0.01)  # sqrt(1 - 0.6^2)


def test_share_left_of_normal_and_lognormal():
    assert survey.share_left(lambda z: 31.0 + 0.05 * z, 0.02) == pytest.approx(0.4, abs=1e-9)
    assert survey.share_left(lambda z: 31.0 + 0.05 * z, 0.0) == 0.0
    # lognormal: mean square left = e^(s^2) (e^(s^2) - e^(s^2 (1 - r^2)))
    for s in (0.2, 0.8):
        left = survey.share_left(lambda z, s=s: np.exp(s * z), 0.1)
        mean_square = np.exp(s**2) * (np.exp(s**2) - np.exp(s**2 * (1 - left**2)))
        assert np.sqrt(mean_square) == pytest.approx(0.1, rel=1e-3)


def test_a_survey_that_would_not_narrow_is_refused():
    with pytest.raises(DomainError, match=r"below today's 0\.05; got 0\.05.*would not narrow"):
        survey.share_left(lambda z: 31.0 + 0.05 * z, 0.05)
    with pytest.raises(DomainError, match="would not narrow"):
        survey.narrowing("x", correlated(8, seed=1), 0, CORRELATION, 1.0, 1.0, straight)
    with pytest.raises(DomainError, match="at least 3"):
        survey.narrowing("x", correlated(8, seed=1)[:2], 0, CORRELATION, 0.5, 1.0, straight)


def test_failed_runs_are_counted_and_many_refused():
    z = correlated(64, seed=5)
    rows = z.size // 3

    def broken(asked, share):
        levels, over = straight(asked)
        levels[np.arange(len(levels)) % rows < int(share * rows)] = np.nan  # the same rows of every table
        return levels, over

    found = survey.narrowing("x", z, 0, CORRELATION, 0.4, 1.0, lambda z: broken(z, 0.005))
    assert found.failed == 34 * 5
    assert is_near(found.sd_after, exact(0, 0.4)[1])
    with pytest.raises(DomainError, match="refused"):
        survey.narrowing("x", z, 0, CORRELATION, 0.4, 1.0, lambda z: broken(z, 0.02))
    with pytest.raises(DomainError, match="infinite"):
        survey.narrowing("x", z, 0, CORRELATION, 0.4, 1.0, lambda z: (np.full(len(z), np.inf), np.ones(len(z))))


def test_the_table_puts_the_most_narrowing_for_its_cost_first():
    one = survey.narrowing("a", correlated(16, seed=5), 0, CORRELATION, 0.4, 100.0, straight)
    narrow = replace(one, input="b", narrowing=Estimate(0.01, 0.001, 0.02, ""), cost=0.5)
    free = replace(narrow, input="c", cost=0.0)
    nothing = Estimate(0.0, 0.0, 0.0, "")
    idle = replace(one, input="d", narrowing=nothing, probability_spread=nothing, cost=0.0)
    noise = replace(one, input="e", narrowing=Estimate(0.2, -0.1, 0.5, ""), probability_spread=nothing, cost=0.1)
    bank = replace(one, input="f", narrowing=nothing, probability_spread=Estimate(0.02, 0.01, 0.03, ""))
    table = survey.table([idle, one, noise, narrow, bank, free])
    assert table["input"].tolist() == ["c", "b", "a", "f", "e", "d"]
    assert np.isinf(table["narrowing_per_cost"][0])
    assert table["spread_per_cost"][3] == pytest.approx(0.0002)
    assert table["narrowing_per_cost"][5] == 0.0


@pytest.mark.slow
def test_intervals_cover():
    sd, after, spread = exact(0, 0.4)
    truth = np.array([WIDTH * sd, WIDTH * after, WIDTH * (sd - after), sd, after, spread])
    inside = np.zeros(6)
    for seed in range(200):
        found = survey.narrowing("x", correlated(256, seed=5000 + seed), 0, CORRELATION, 0.4, 1.0, straight)
        figures = (found.band_before, found.band_after, found.narrowing)
        figures += (found.sd_before, found.sd_after, found.probability_spread)
        inside += [figure.low <= exactly <= figure.high for figure, exactly in zip(figures, truth, strict=True)]
    print(f"narrowing of a survey: {inside / 200}")
    assert np.all((inside / 200 >= 0.90) & (inside / 200 <= 0.99)), inside / 200
