"""Normal, lognormal, uniform and triangular against SciPy's and chaospy's, tails included."""

import math

import chaospy
import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from overbank.uncertain.distributions import Lognormal, Normal, Triangular, Uniform

LOG_SD = math.sqrt(math.log(1.0 + 0.18**2))  # closed form: sigma^2 = ln(1 + cov^2)

PAIRS = [
    (Normal(10.0, 2.0), stats.norm(10.0, 2.0)),
    (Lognormal(7.5, 0.18), stats.lognorm(LOG_SD, scale=7.5)),
    (Uniform(-1.0, 0.0), stats.uniform(-1.0, 1.0)),
    (Triangular(0.012, 0.014, 0.018), stats.triang(1 / 3, 0.012, 0.006)),
    (Triangular(-3.0, -3.0, 1.0), stats.triang(0.0, -3.0, 4.0)),
    (Triangular(-3.0, 1.0, 1.0), stats.triang(1.0, -3.0, 4.0)),
]
IDS = [f"{type(ours).__name__}-{number}" for number, (ours, _) in enumerate(PAIRS)]
Z = np.linspace(-7.0, 7.0, 281)


@pytest.mark.parametrize(("ours", "theirs"), PAIRS, ids=IDS)
def test_values_equal_scipys_quantiles_in_both_tails(ours, theirs):
    lower, upper = Z[Z <= 0], Z[Z > 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-10, atol=1e-13)
    np.testing.assert_allclose(ours.value(upper), theirs.isf(ndtr(-upper)), rtol=1e-10, atol=1e-13)


@pytest.mark.parametrize(("ours", "theirs"), PAIRS, ids=IDS)
def test_scores_equal_scipys_distribution_function(ours, theirs):
    x = theirs.ppf(np.linspace(0.001, 0.999, 501))
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), rtol=1e-10)
    np.testing.assert_allclose(ndtr(-ours.score(x)), theirs.sf(x), rtol=1e-10)
    np.testing.assert_array_equal(ours.score(x), ours.score_below(x))


@pytest.mark.parametrize(("ours", "theirs"), PAIRS, ids=IDS)
def test_moments_and_support_equal_scipys(ours, theirs):
    assert ours.mean == pytest.approx(theirs.mean(), rel=1e-12)
    assert ours.sd == pytest.approx(theirs.std(), rel=1e-10)
    assert ours.median == pytest.approx(theirs.median(), rel=1e-12)
    assert ours.support == pytest.approx(theirs.support(), rel=1e-12)
    assert ours.atoms == ()


@pytest.mark.parametrize(
    ("ours", "sibling"),
    [
        (Normal(10.0, 2.0), chaospy.Normal(10.0, 2.0)),
        (Lognormal(7.5, 0.18), chaospy.LogNormal(math.log(7.5), LOG_SD)),
        (Uniform(-1.0, 0.0), chaospy.Uniform(-1.0, 0.0)),
        (Triangular(0.012, 0.014, 0.018), chaospy.Triangle(0.012, 0.014, 0.018)),
    ],
    ids=["normal", "lognormal", "uniform", "triangular"],
)
def test_quantiles_equal_chaospys(ours, sibling):
    p = np.linspace(0.01, 0.99, 99)
    np.testing.assert_allclose(ours.quantile(p), sibling.inv(p), rtol=1e-9)


def test_the_tail_towards_zero_keeps_its_digits_at_either_end():
    # Closed form: a uniform number on (-1, 0) lies above -t with probability t, here 1 - Phi(7) = 1.28e-12.
    assert float(Uniform(-1.0, 0.0).value(7.0)) == pytest.approx(-stats.norm.sf(7.0), rel=1e-12)
    assert float(Uniform(0.0, 1.0).value(-7.0)) == pytest.approx(stats.norm.cdf(-7.0), rel=1e-12)
    # Closed form: a triangle falling to 0 from its mode -1 lies above -t with probability t^2.
    assert float(Triangular(-1.0, -1.0, 0.0).value(7.0)) == pytest.approx(-math.sqrt(stats.norm.sf(7.0)), rel=1e-12)


def test_lognormal_from_mean_and_sd_has_that_mean_and_sd():
    # Closed form: median = mean / sqrt(1 + cov^2), sigma^2 = ln(1 + cov^2); moments by SciPy's lognorm.
    made = Lognormal.from_mean(mean=8.0, sd=2.0)
    assert made.cov == pytest.approx(0.25)
    assert made.median == pytest.approx(8.0 / math.sqrt(1.0625), rel=1e-14)
    theirs = stats.lognorm(made.log_sd, scale=made.median)
    assert (theirs.mean(), theirs.std()) == pytest.approx((8.0, 2.0), rel=1e-12)
    assert (made.mean, made.sd) == pytest.approx((8.0, 2.0), rel=1e-12)


def test_lognormal_cov_from_the_sd_of_the_logarithm():
    # Closed form: cov = sqrt(exp(sigma^2) - 1) gives sigma back.
    assert Lognormal(12.0, math.sqrt(math.expm1(0.35**2))).log_sd == pytest.approx(0.35, rel=1e-14)


def test_nothing_is_possible_outside_the_support():
    assert list(Uniform(1.0, 2.0).score([0.0, 1.0, 2.0, 3.0])) == [-np.inf, -np.inf, np.inf, np.inf]
    assert list(Triangular(1.0, 1.0, 2.0).score([0.0, 1.0, 2.0])) == [-np.inf, -np.inf, np.inf]
    assert list(Lognormal(1.0, 0.5).score([-1.0, 0.0])) == [-np.inf, -np.inf]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Normal(1.0, 0.0), "expected sd above 0, got 0.0"),
        (lambda: Normal(math.nan, 1.0), "expected a finite number for mean, got nan"),
        (lambda: Lognormal(-7.5, 0.2), "expected median above 0, got -7.5"),
        (lambda: Lognormal(7.5, 0.0), "expected cov above 0, got 0.0"),
        (lambda: Lognormal(7.5, 1e-200), "expected a coefficient of variation large enough to count, got 1e-200"),
        (lambda: Lognormal.from_mean(0.0, 1.0), "expected mean above 0, got 0.0"),
        (lambda: Uniform(2.0, 1.0), "expected low below high, got low 2 and high 1"),
        (lambda: Uniform(0.0, math.inf), "expected a finite number for high, got inf"),
        (lambda: Triangular(1.0, 3.0, 2.0), "expected mode between low 1 and high 2, got 3.0"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_in_one_sentence(make, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        make()
    assert str(refusal.value) == message


def test_words_are_plain():
    assert Lognormal(7.5, 0.18).words == "lognormal, median 7.5, coefficient of variation 0.18"
    assert Normal(1.0, 0.05).words == "normal, mean 1, standard deviation 0.05"
    assert Uniform(1.4, 1.7).words == "uniform between 1.4 and 1.7"
    assert Triangular(0.012, 0.014, 0.018).words == "triangular between 0.012 and 0.018, most likely 0.014"


def test_a_number_too_large_to_reckon_with_is_refused() -> None:
    with pytest.raises(ValueError, match=r"expected a number for high no larger than 1e\+100, got 1e\+300"):
        Triangular(0.0, 1.0, 1e300)
