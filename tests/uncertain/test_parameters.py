"""Distributions with uncertain parameters: against closed forms of the predictive, and of the two loops."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from overbank.uncertain.blockage_models import InflatedBetaModels
from overbank.uncertain.bounded import Beta, InflatedBeta
from overbank.uncertain.distributions import Normal, Uniform
from overbank.uncertain.parameters import MODELS, DistributionModels, UncertainParameters, chosen


def uncertain_normal(mean_sd=0.6, sd=0.8):
    return UncertainParameters.of("normal", {"mean": Normal(5.0, mean_sd), "sd": sd})


def test_predictive_of_a_normal_with_an_uncertain_mean_is_the_wider_normal():
    # Closed form: N(5, 0.6^2 + 0.8^2).
    ours, exact = uncertain_normal(), stats.norm(5.0, 1.0)
    assert (ours.mean, ours.sd) == (pytest.approx(5.0, abs=1e-3), pytest.approx(1.0, abs=5e-3))
    z = np.linspace(-2.7, 2.7, 55)  # further out so few models are felt
    np.testing.assert_allclose(ours.value(z), exact.ppf(ndtr(z)), atol=0.02)
    x = np.linspace(2.0, 8.0, 61)
    np.testing.assert_allclose(ours.cdf(x), exact.cdf(x), atol=2e-3)


def test_predictive_of_a_uniform_with_an_uncertain_end_by_brute_force():
    ours = UncertainParameters.of("uniform", {"low": 0.0, "high": Uniform(1.0, 2.0)})
    high = 1.0 + (np.arange(200_000) + 0.5) / 200_000
    x = np.linspace(0.05, 1.95, 39)
    exact = np.array([np.mean(np.minimum(each / high, 1.0)) for each in x])
    np.testing.assert_allclose(ours.cdf(x), exact, atol=2e-3)
    assert ours.support == (0.0, pytest.approx(2.0, abs=0.01))


def test_value_and_score_are_inverse_and_rise():
    for ours in (uncertain_normal(), UncertainParameters.of("gumbel", {"location": 1.0, "scale": Uniform(0.2, 0.4)})):
        z = np.linspace(-7.5, 7.5, 301)
        x = ours.value(z)
        assert np.all(np.diff(x) > 0.0)
        np.testing.assert_allclose(ours.score(x), z, atol=1e-9)
        np.testing.assert_array_equal(ours.score_below(x), ours.score(x))


def test_lumps_stay_lumps_with_their_mean_chance():
    ours = UncertainParameters.of("inflated_beta", {"at_zero": Uniform(0.1, 0.3), "a": 2.0, "b": 3.0, "at_one": 0.05})
    assert [place for place, _ in ours.atoms] == [0.0, 1.0]
    assert [chance for _, chance in ours.atoms] == pytest.approx([0.2, 0.05], abs=1e-4)
    assert ndtr(ours.score(0.0)) == pytest.approx(0.2, abs=1e-4)
    assert ours.score_below(0.0) == -np.inf
    assert ndtr(ours.score_below(1.0)) == pytest.approx(0.95, abs=1e-4)
    assert ours.score(1.0) == np.inf
    z = np.linspace(-4.0, 4.0, 4001)
    drawn = ours.value(z)
    assert np.all(drawn[ndtr(z) < 0.199] == 0.0)
    assert np.all(drawn[ndtr(z) > 0.951] == 1.0)
    inside = 0.4
    assert ndtr(ours.score(inside)) == pytest.approx(0.2 + 0.75 * stats.beta(2.0, 3.0).cdf(inside), abs=1e-4)


def test_many_inflated_betas_are_each_the_family():
    rng = np.random.default_rng(2)
    at_zero, at_one = rng.uniform(0.0, 0.4, 12), rng.uniform(0.0, 0.4, 12)
    a, b = rng.uniform(0.5, 3.0, 12), rng.uniform(0.5, 3.0, 12)
    models = InflatedBetaModels.ranked(at_zero, a, b, at_one)
    assert np.all(np.diff(models.means) >= 0.0)
    z = np.linspace(-5.0, 5.0, 41)
    for k in range(12):
        alone = InflatedBeta(models.at_zero[k], models.a[k], models.b[k], models.at_one[k])
        place = np.full(z.size, k)
        x = models.value(z, place)
        np.testing.assert_allclose(x, alone.value(z), atol=1e-7)
        for ours, theirs in ((models.score, alone.score), (models.score_below, alone.score_below)):
            x = np.array([-0.1, 0.0, 0.01, 0.4, 0.99, 1.0, 1.1])
            np.testing.assert_allclose(ours(x, np.full(7, k)), theirs(x), atol=1e-6)
        assert (models.means[k], models.sds[k]) == pytest.approx((alone.mean, alone.sd))


def test_two_loops_make_the_predictive_and_know_what_is_knowledge():
    ours = uncertain_normal()
    rng = np.random.default_rng(3)
    states, floods = rng.standard_normal((4096, 1)), rng.standard_normal((4096, 32))
    place = np.broadcast_to(chosen(ours.models, states), floods.shape)
    drawn = ours.models.value(floods, place)
    # Closed form: the mean over a state's floods varies with sd sqrt(0.6^2 + 0.8^2/32), all of them with sd 1.
    assert np.std(drawn) == pytest.approx(1.0, abs=0.02)
    assert np.std(drawn.mean(axis=1)) == pytest.approx(math.sqrt(0.36 + 0.64 / 32.0), abs=0.025)
    np.testing.assert_allclose(ours.models.score_below(drawn, place), floods, atol=1e-9)


def test_models_are_ranked_and_chosen_alike():
    ours = uncertain_normal()
    medians = [each.median for each in ours.models.distributions]
    assert medians == sorted(medians)
    assert len(ours.models) == MODELS
    assert chosen(ours.models, [-9.0, 9.0]).tolist() == [0, MODELS - 1]
    assert np.all(np.diff(chosen(ours.models, np.linspace(-3.0, 3.0, 50))) >= 0)


def test_a_single_model_is_its_own_predictive():
    ours = UncertainParameters(DistributionModels.ranked([Beta(1.5, 2.5)]), "one")
    z = np.linspace(-4.0, 4.0, 33)
    np.testing.assert_allclose(ours.value(z), Beta(1.5, 2.5).value(z), atol=1e-4)
    assert ours.words == "one"
    lumpy = InflatedBeta(0.2, 1.5, 2.5, 0.0)
    assert UncertainParameters(DistributionModels.ranked([lumpy]), "one").atoms == lumpy.atoms


def test_words_tell_what_is_uncertain():
    assert uncertain_normal().words == "normal, sd 0.8, mean uncertain (normal, mean 5, standard deviation 0.6)"


def test_what_cannot_be_is_refused_with_the_parameters_drawn():
    with pytest.raises(ValueError, match=r"^expected .*sd.*; this came of uncertain parameters drawn as sd -"):
        UncertainParameters.of("normal", {"mean": 1.0, "sd": Normal(0.5, 0.5)})
    with pytest.raises(ValueError, match="expected at least one parameter with a distribution, got none"):
        UncertainParameters.of("normal", {"mean": 1.0, "sd": 0.5})
    with pytest.raises(ValueError, match="expected at_zero between 0 and 1, got"):
        UncertainParameters.of("inflated_beta", {"at_zero": Normal(0.1, 0.1), "a": 1.0, "b": 1.0, "at_one": 0.0})
