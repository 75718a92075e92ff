"""Gumbel, GEV and generalised logistic against SciPy's gumbel_r, genextreme, kappa4 (h = -1), logistic."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.special import ndtr

from overbank.uncertain.extremes import GeneralisedExtremeValue, GeneralisedLogistic, Gumbel

Z = np.linspace(-7.0, 7.0, 141)


def scipys(shape):
    """SciPy's c has the sign of Hosking's k: bounded above when positive."""
    return stats.genextreme(shape, 3.1, 0.9)


@pytest.mark.parametrize("shape", [-0.3, -0.05, 0.0, 0.05, 0.3])
def test_gev_equals_scipys_genextreme(shape):
    ours, theirs = GeneralisedExtremeValue(3.1, 0.9, shape), scipys(shape)
    lower = Z[Z <= 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-10, atol=1e-12)
    x = theirs.ppf(np.linspace(0.001, 0.999, 501))
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), rtol=1e-10)
    np.testing.assert_allclose(ndtr(-ours.score(x)), theirs.sf(x), rtol=1e-10)
    assert ours.support == pytest.approx(theirs.support(), rel=1e-12)
    assert ours.median == pytest.approx(theirs.median(), rel=1e-12)
    assert (ours.mean, ours.sd) == pytest.approx((theirs.mean(), theirs.std()), rel=1e-8)


@pytest.mark.parametrize("shape", [-0.3, -0.05, 0.05, 0.3])
def test_gev_upper_tail_keeps_its_digits(shape):
    # Closed form with the annual exceedance probability q: -ln(1 - q) = -log1p(-q), exact for any small q.
    upper = Z[Z > 0]
    reduced = -np.log1p(-stats.norm.sf(upper))
    expected = 3.1 + 0.9 / shape * (1.0 - reduced**shape)
    np.testing.assert_allclose(GeneralisedExtremeValue(3.1, 0.9, shape).value(upper), expected, rtol=1e-10)


def test_gumbel_published_checks():
    # Closed form, location 8.5 m and scale 0.4 m: 10.3401 m at 1 % a year; 10.6 m is passed with 0.00523377.
    stage = Gumbel(8.5, 0.4)
    assert float(stage.quantile(0.99)) == pytest.approx(10.3401, abs=1e-4)
    assert float(ndtr(-stage.score(10.6))) == pytest.approx(0.00523377, rel=1e-4)


def test_gumbel_equals_scipys_and_is_the_gev_of_shape_nought():
    ours, theirs = Gumbel(1013.0, 558.0), stats.gumbel_r(1013.0, 558.0)
    lower, upper = Z[Z <= 0], Z[Z > 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-10)
    np.testing.assert_allclose(ours.value(upper), theirs.isf(ndtr(-upper)), rtol=1e-10)
    assert (ours.mean, ours.sd, ours.median) == pytest.approx((theirs.mean(), theirs.std(), theirs.median()))
    np.testing.assert_array_equal(ours.value(Z), GeneralisedExtremeValue(1013.0, 558.0, 0.0).value(Z))
    assert ours.support == (-np.inf, np.inf)


@pytest.mark.parametrize("shape", [-0.3, -0.05, 0.0, 0.05, 0.3])
def test_generalised_logistic_equals_scipys_kappa4(shape):
    ours = GeneralisedLogistic(3.1, 0.9, shape)
    theirs = stats.kappa4(-1.0, shape, 3.1, 0.9) if shape else stats.logistic(3.1, 0.9)
    p = np.linspace(0.001, 0.999, 501)
    np.testing.assert_allclose(ours.quantile(p), theirs.ppf(p), rtol=1e-10)
    np.testing.assert_allclose(ours.cdf(theirs.ppf(p)), p, rtol=1e-10)
    assert ours.support == pytest.approx(theirs.support(), rel=1e-12)
    assert ours.median == pytest.approx(theirs.median(), rel=1e-12)


@pytest.mark.parametrize("shape", [-0.3, -0.05, 0.0, 0.05, 0.3])
def test_generalised_logistic_tails_mirror_each_other(shape):
    # Closed form: the odds of the two tails are each other's inverse, so X(k) and -X(-k) are the same.
    one, other = GeneralisedLogistic(0.0, 1.0, shape), GeneralisedLogistic(0.0, 1.0, -shape)
    np.testing.assert_allclose(one.value(Z), -other.value(-Z), rtol=1e-12)


@pytest.mark.parametrize("shape", [-0.3, -0.05, -1e-5, 0.0, 1e-5, 0.05, 0.3])
@pytest.mark.parametrize("family", [GeneralisedExtremeValue, GeneralisedLogistic])
def test_moments_equal_the_integral_of_the_quantile(family, shape):
    # Independent route: E[X^r] = integral of value(z)^r phi(z).
    ours = family(0.0, 1.0, shape)

    def moment(power):
        return quad(lambda z: float(ours.value(z)) ** power * stats.norm.pdf(z), -30.0, 30.0, epsabs=1e-12)[0]

    assert ours.mean == pytest.approx(moment(1), abs=1e-8)
    assert ours.sd == pytest.approx(math.sqrt(moment(2) - moment(1) ** 2), rel=1e-7)


def test_small_shapes_join_the_shape_nought():
    for family in (GeneralisedExtremeValue, GeneralisedLogistic):
        none, small = family(0.0, 1.0, 0.0), family(0.0, 1.0, 1e-9)
        np.testing.assert_allclose(small.value(Z), none.value(Z), rtol=1e-7)
        assert (small.mean, small.sd) == pytest.approx((none.mean, none.sd), abs=1e-7)


def test_moments_that_do_not_exist_are_infinite():
    assert GeneralisedExtremeValue(0.0, 1.0, -1.0).mean == math.inf
    assert GeneralisedExtremeValue(0.0, 1.0, -0.5).sd == math.inf
    assert GeneralisedLogistic(0.0, 1.0, -1.0).mean == math.inf
    assert GeneralisedLogistic(0.0, 1.0, 1.0).mean == -math.inf
    assert GeneralisedLogistic(0.0, 1.0, 0.5).sd == math.inf


@pytest.mark.parametrize("family", [GeneralisedExtremeValue, GeneralisedLogistic])
def test_nothing_is_possible_beyond_the_bound(family):
    assert list(family(0.0, 1.0, 0.5).score([2.0, 3.0])) == [np.inf, np.inf]
    assert list(family(0.0, 1.0, -0.5).score([-2.0, -3.0])) == [-np.inf, -np.inf]


@pytest.mark.parametrize("family", [GeneralisedExtremeValue, GeneralisedLogistic])
def test_a_scale_that_cannot_be_is_refused(family):
    with pytest.raises(ValueError, match=r"expected scale above 0, got 0.0"):
        family(1.0, 0.0, 0.1)
    with pytest.raises(ValueError, match=r"expected a finite number for shape, got nan"):
        family(1.0, 1.0, math.nan)


def test_words_say_which_sign_is_heavy():
    assert Gumbel(8.5, 0.4).words == "Gumbel, location 8.5, scale 0.4"
    assert "shape -0.05 (negative: heavy upper tail)" in GeneralisedExtremeValue(3.1, 0.9, -0.05).words
    assert GeneralisedLogistic(3.1, 0.9, -0.05).words.startswith("generalised logistic, location 3.1")
