"""Log-Pearson III against SciPy's pearson3, whose exact inverse is slow."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.special import ndtr

from overbank.uncertain.distributions import Lognormal
from overbank.uncertain.log_pearson import LogPearson3

SKEWS = [-2.5, -0.7, -0.05, -0.01, 0.01, 0.05, 0.4, 1.5, 6.0]
Z = np.linspace(-8.0, 8.0, 161) + 0.00123


@pytest.mark.parametrize("skew", SKEWS)
def test_values_equal_ten_to_scipys_pearson3(skew):
    # SciPy's pearson3 itself goes through 1 - p, so it is a reference in the middle only.
    middle = Z[np.abs(Z) < 2.5]
    theirs = stats.pearson3(skew, 0.9, 0.2).ppf(ndtr(middle))
    np.testing.assert_allclose(np.log10(LogPearson3(0.9, 0.2, skew).value(middle)), theirs, atol=1e-8)


@pytest.mark.parametrize("skew", SKEWS)
def test_both_tails_have_the_probability_of_scipys_gamma(skew):
    # Definition: K = (G - r^2)/r, r = 2/|skew|, mirrored when the skew is negative.
    root, sign = 2.0 / abs(skew), np.sign(skew)
    log10 = np.log10(LogPearson3(0.0, 1.0, skew).value(Z))
    gamma = stats.gamma(root**2)
    g = root * (sign * log10 + root)
    tail = np.where(sign * Z > 0, gamma.sf(g), gamma.cdf(g))
    inner = np.abs(log10) < 300.0  # what a float can hold
    usable = inner & (g > 1e-6 * root**2)  # nearer to the bound log10 has lost the digits of g
    np.testing.assert_allclose(tail[usable], ndtr(-np.abs(Z))[usable], rtol=1e-6)


def test_published_frequency_factors():
    # Bulletin 17B (1982), appendix 3, factors K for 1 % a year and skew -1, 0, 1; from memory, unverified.
    for skew, factor in ((-1.0, 1.58838), (0.0, 2.32635), (1.0, 3.02256)):
        assert float(np.log10(LogPearson3(0.0, 1.0, skew).quantile(0.99))) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize("skew", SKEWS)
def test_scores_equal_scipys_distribution_function(skew):
    theirs = stats.pearson3(skew, 0.9, 0.2)
    p = np.linspace(0.1, 0.999, 201)  # nearer to the bound of the largest skew x itself has too few digits
    np.testing.assert_allclose(LogPearson3(0.9, 0.2, skew).cdf(10.0 ** theirs.ppf(p)), p, atol=1e-9)


def test_without_skew_it_is_lognormal():
    spread = 0.2 * math.log(10.0)
    lognormal = Lognormal(10.0**0.9, math.sqrt(math.expm1(spread**2)))
    ours = LogPearson3(0.9, 0.2, 0.0)
    np.testing.assert_allclose(ours.value(Z), lognormal.value(Z), rtol=1e-12)
    np.testing.assert_allclose(ours.score(lognormal.value(Z)), Z, atol=1e-12)
    assert (ours.mean, ours.sd) == pytest.approx((lognormal.mean, lognormal.sd), rel=1e-12)
    assert ours.median == pytest.approx(10.0**0.9)


@pytest.mark.parametrize("skew", [-1.5, -0.4, -0.01, 0.01, 0.4, 1.5])
def test_moments_equal_the_integral_over_scipys_density(skew):
    ours, theirs = LogPearson3(0.9, 0.1, skew), stats.pearson3(skew, 0.9, 0.1)
    low, high = theirs.ppf(1e-14), theirs.isf(1e-14)

    def moment(power):
        return quad(lambda y: 10.0 ** (power * y) * theirs.pdf(y), low, high, limit=200, points=[0.9])[0]

    assert ours.mean == pytest.approx(moment(1), rel=1e-6)
    assert ours.sd == pytest.approx(math.sqrt(moment(2) - moment(1) ** 2), rel=1e-5)


def test_moments_that_do_not_exist_are_infinite():
    # E[X^r] is finite while r sd ln 10 < 2/skew (moment generating function of the gamma distribution).
    assert LogPearson3(0.9, 0.2, 4.0).mean < math.inf
    assert LogPearson3(0.9, 0.2, 4.0).sd == math.inf
    assert LogPearson3(0.9, 0.2, 5.0).mean == math.inf


def test_the_bound_of_a_skewed_one():
    # Pearson III is bounded by mean - 2 sd/skew.
    assert LogPearson3(0.9, 0.2, 0.5).support == (pytest.approx(10.0**0.1), math.inf)
    assert LogPearson3(0.9, 0.2, -0.5).support == (0.0, pytest.approx(10.0**1.7))
    assert list(LogPearson3(0.9, 0.2, 0.5).score([-1.0, 0.0, 1.0])) == [-np.inf] * 3
    assert float(LogPearson3(0.9, 0.2, -0.5).score(60.0)) == np.inf


@pytest.mark.parametrize(
    ("sd", "skew", "message"),
    [
        (0.0, 0.3, "expected sd_log10 above 0, got 0.0"),
        (0.2, 0.001, "expected skew_log10 of 0, or of at least 0.01 in size (give 0 for less), got 0.001"),
        (0.2, -7.0, "expected skew_log10 between -6 and 6, got -7.0"),
        (0.2, math.inf, "expected a finite number for skew_log10, got inf"),
    ],
)
def test_parameters_that_cannot_be_are_refused_in_one_sentence(sd, skew, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        LogPearson3(0.9, sd, skew)
    assert str(refusal.value) == message


def test_words():
    assert LogPearson3(0.9, 0.2, -0.1).words == (
        "log-Pearson III, mean 0.9, standard deviation 0.2 and skew -0.1 of log10"
    )
