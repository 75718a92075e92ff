"""Beta, PERT and zero-and-one-inflated beta: closed forms, and SciPy's exact inverse of the beta function."""

import math

import chaospy
import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad
from scipy.special import ndtr, ndtri

from overbank.uncertain.bounded import Beta, InflatedBeta, Pert

SHAPES = [(1.2, 6.0), (0.5, 0.5), (1.5, 2.5), (3.0, 3.0), (1.0, 2.0), (0.05, 3.0), (300.0, 700.0), (8.0, 0.3)]
Z = np.linspace(-8.0, 8.0, 1601) + 0.00123


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_beta_values_equal_scipys_inverse_in_both_tails(a, b):
    ours, theirs = Beta(a, b), stats.beta(a, b)
    lower, upper = Z[Z <= 0], Z[Z > 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-8)
    np.testing.assert_allclose(ours.value(upper), theirs.isf(ndtr(-upper)), rtol=1e-8)
    exact = np.concatenate([theirs.ppf(ndtr(lower)), theirs.isf(ndtr(-upper))])
    assert np.max(np.abs(ours.value(Z) - exact)) < 1e-8  # of the range


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_beta_keeps_the_distance_to_its_upper_end(a, b):
    # 1 - X has the mirrored beta: on (-1, 0) the upper tail ends at 0, where the last digits survive.
    upper = Z[Z > 0]
    np.testing.assert_allclose(Beta(a, b, -1.0, 0.0).value(upper), -stats.beta(b, a).ppf(ndtr(-upper)), rtol=1e-8)


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_beta_beyond_its_table_is_the_exact_inverse(a, b):
    far = np.array([-12.0, -9.0])
    np.testing.assert_allclose(Beta(a, b).value(far), stats.beta(a, b).ppf(ndtr(far)), rtol=1e-12)
    joined = Beta(a, b).value(np.linspace(-8.3, -8.2, 2001))
    assert np.all(np.diff(joined) >= 0.0)


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_beta_scores_equal_scipys_distribution_function(a, b):
    theirs = stats.beta(a, b)
    x = np.concatenate([np.geomspace(1e-12, 0.5, 200), np.linspace(0.5, 0.999, 200)])
    ours = Beta(a, b)
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), atol=1e-10)
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), rtol=1e-7, atol=1e-290)
    np.testing.assert_allclose(ndtr(-ours.score(x)), theirs.sf(x), rtol=1e-7, atol=1e-290)


def test_beta_stretched_and_its_moments_equal_scipys_and_chaospys():
    ours, theirs = Beta(1.2, 6.0, 0.1, 0.9), stats.beta(1.2, 6.0, 0.1, 0.8)
    assert (ours.mean, ours.sd, ours.median) == pytest.approx((theirs.mean(), theirs.std(), theirs.median()))
    assert ours.support == (0.1, 0.9)
    p = np.linspace(0.01, 0.99, 99)
    np.testing.assert_allclose(ours.quantile(p), chaospy.Beta(1.2, 6.0, 0.1, 0.9).inv(p), rtol=1e-6)


def test_published_beta_checks():
    # Moment matching, closed form: k = m(1 - m)/s^2 - 1, a = m k, b = (1 - m) k; m 0.30, s 0.20 give k 4.25.
    matched = Beta(1.275, 2.975)
    assert (matched.mean, matched.sd) == pytest.approx((0.30, 0.20), rel=1e-6)
    # Mode matching, closed form: a = 1 + m(k - 2); m 0.5, k 6 -> 3. P(B > 0.67) of Beta(3, 3), closed form.
    assert 1.0 - float(Beta(3.0, 3.0).cdf(0.67)) == pytest.approx(0.204963, rel=1e-4)
    # Debris cleared at random times, twice in the time of build-up: Beta(1, 2), P(B > x) = (1 - x)^2.
    assert Beta(1.0, 2.0).mean == pytest.approx(1.0 / 3.0)
    assert 1.0 - float(Beta(1.0, 2.0).cdf(0.67)) == pytest.approx(0.33**2, rel=1e-9)


def test_inflated_beta_published_checks():
    # Algebra of the mixture, computed independently: at_zero 0.35, at_one 0.10, Beta(1.5, 2.5).
    ours = InflatedBeta(0.35, 1.5, 2.5, 0.10)
    assert ours.mean == pytest.approx(0.30625, rel=1e-6)
    assert ours.sd == pytest.approx(0.33066, rel=2e-5)
    assert 1.0 - float(ours.cdf(0.67)) == pytest.approx(0.161215, rel=1e-4)
    assert float(ours.quantile(0.5)) == pytest.approx(0.213265, rel=1e-4)


def test_inflated_beta_atoms_sit_exactly_at_their_scores():
    ours = InflatedBeta(0.2, 1.5, 2.5, 0.05)
    first, last = ndtri(0.2), -ndtri(0.05)
    steps = ours.value([-np.inf, -8.0, first - 1e-9, first, first + 1e-3, last - 1e-3, last + 1e-9, 8.0, np.inf])
    assert list(steps[:4]) == [0.0] * 4
    assert np.all((steps[4:6] > 0.0) & (steps[4:6] < 1.0))
    assert list(steps[6:]) == [1.0] * 3
    assert ours.atoms == ((0.0, 0.2), (1.0, 0.05))
    np.testing.assert_allclose(ndtr(ours.score([-0.1, 0.0, 1.0])), [0.0, 0.2, 1.0], rtol=1e-14)
    np.testing.assert_allclose(ndtr(ours.score_below([0.0, 1.0, 1.1])), [0.0, 0.95, 1.0], rtol=1e-14)


def test_inflated_beta_interior_is_the_beta_of_what_is_left():
    ours, beta = InflatedBeta(0.2, 1.5, 2.5, 0.05), stats.beta(1.5, 2.5)
    x = np.linspace(0.01, 0.99, 99)
    np.testing.assert_allclose(ours.cdf(x), 0.2 + 0.75 * beta.cdf(x), rtol=1e-10)
    p = np.linspace(0.201, 0.949, 99)
    np.testing.assert_allclose(ours.quantile(p), beta.ppf((p - 0.2) / 0.75), rtol=1e-8)
    np.testing.assert_array_equal(ours.score(x), ours.score_below(x))


def test_inflated_beta_without_heaps_is_the_beta():
    z = np.linspace(-7.0, 7.0, 57)
    np.testing.assert_allclose(InflatedBeta(0.0, 1.5, 2.5, 0.0).value(z), Beta(1.5, 2.5).value(z), rtol=1e-12)
    assert InflatedBeta(0.0, 1.5, 2.5, 0.0).atoms == ()


@pytest.mark.parametrize(
    ("at_zero", "at_one", "support", "mean"),
    [(0.3, 0.7, (0.0, 1.0), 0.7), (1.0, 0.0, (0.0, 0.0), 0.0), (0.0, 1.0, (1.0, 1.0), 1.0)],
)
def test_inflated_beta_may_be_heaps_alone(at_zero, at_one, support, mean):
    ours = InflatedBeta(at_zero, 1.5, 2.5, at_one)
    values = ours.value(np.linspace(-8.0, 8.0, 1001))
    assert set(values) <= {0.0, 1.0}
    assert ours.support == support
    assert ours.mean == pytest.approx(mean)
    assert np.mean(ours.quantile((np.arange(1000) + 0.5) / 1000)) == pytest.approx(mean, abs=1e-12)
    assert float(ours.cdf(0.5)) == pytest.approx(at_zero, abs=1e-15)


def test_pert_is_the_beta_of_its_definition():
    # Definition: a = 1 + 4 (mode - low)/(high - low), b = 6 - a; mean (low + 4 mode + high)/6.
    # Mode matching with a + b = 6, closed form: mode 0.5 gives Beta(3, 3), P(X > 0.67) = 0.204963.
    ours, theirs = Pert(0.012, 0.014, 0.018), stats.beta(1 + 4 / 3, 5 - 4 / 3, 0.012, 0.006)
    p = np.linspace(0.001, 0.999, 101)
    np.testing.assert_allclose(ours.quantile(p), theirs.ppf(p), rtol=1e-8)
    np.testing.assert_allclose(ours.cdf(theirs.ppf(p)), p, rtol=1e-9)
    assert (ours.mean, ours.sd) == pytest.approx((theirs.mean(), theirs.std()), rel=1e-12)
    assert ours.median == pytest.approx(theirs.median(), rel=1e-9)
    assert 1.0 - float(Pert(0.0, 0.5, 1.0).cdf(0.67)) == pytest.approx(0.204963, rel=1e-4)


def test_a_beta_with_nearly_all_at_one_end_still_has_its_probabilities():
    # Beta(0.05, 2): half of it lies below 1e-6. Reference: numerical integration of the density in ln x.
    a, b = 0.05, 2.0
    scale = math.exp(-math.lgamma(a) - math.lgamma(b) + math.lgamma(a + b))
    below = quad(lambda t: scale * math.exp(a * t) * (1.0 - math.exp(t)) ** (b - 1), -np.inf, math.log(0.01))[0]
    assert float(Beta(a, b).cdf(0.01)) == pytest.approx(below, rel=1e-7)
    assert float(Beta(a, b).quantile(below)) == pytest.approx(0.01, rel=1e-6)
    assert np.all(np.diff(Beta(a, b).value(np.linspace(-8.0, 8.0, 4001))) >= 0.0)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Beta(0.0, 1.0), "expected a above 0, got 0.0"),
        (lambda: Beta(1.0, -2.0), "expected b above 0, got -2.0"),
        (lambda: Beta(1.0, math.inf), "expected a finite number for b, got inf"),
        (lambda: Beta(1.0, 2.0, 1.0, 0.0), "expected low below high, got low 1 and high 0"),
        (lambda: Pert(0.0, 2.0, 1.0), "expected mode between low 0 and high 1, got 2.0"),
        (
            lambda: InflatedBeta(0.7, 1.0, 2.0, 0.4),
            "expected at_zero and at_one to sum to 1 at most, got 1.1",
        ),
        (lambda: InflatedBeta(-0.1, 1.0, 2.0, 0.4), "expected at_zero between 0 and 1, got -0.1"),
        (lambda: InflatedBeta(0.1, 1.0, 2.0, math.nan), "expected a finite number for at_one, got nan"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_in_one_sentence(make, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        make()
    assert str(refusal.value) == message


def test_a_beta_that_is_two_heaps_is_refused_with_a_way_out():
    with pytest.raises(ValueError, match=r"expected a of at least 0.05 .*inflated_beta.*, got 0.01"):
        Beta(0.01, 1.0)


def test_words_are_plain():
    assert Beta(1.2, 6.0).words == "beta, a 1.2, b 6, between 0 and 1"
    assert Pert(0.0, 2.0, 5.0).words == "PERT between 0 and 5, most likely 2"
    assert InflatedBeta(0.2, 1.5, 2.5, 0.05).words == (
        "0 with probability 0.2, 1 with probability 0.05, otherwise beta, a 1.5, b 2.5"
    )
    assert InflatedBeta(0.4, 1.3, 4.5, 0.0).words == "0 with probability 0.4, otherwise beta, a 1.3, b 4.5"
