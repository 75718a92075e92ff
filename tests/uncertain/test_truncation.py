"""Truncation at one bound, at both, at none, far out, and through atoms, against SciPy and closed forms."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.distributions import Lognormal, Normal, Uniform
from overbank.uncertain.extremes import GeneralisedExtremeValue, Gumbel
from overbank.uncertain.scipy_frozen import FromSciPy
from overbank.uncertain.tabulated import Discrete
from overbank.uncertain.truncation import Truncated

Z = np.linspace(-7.0, 7.0, 141)
BOUNDS = [(15.0, math.inf), (-math.inf, 25.0), (15.0, 32.0), (50.0, math.inf), (-math.inf, 0.0), (50.0, 51.0)]


@pytest.mark.parametrize(("low", "high"), BOUNDS)
def test_truncated_normal_equals_scipys(low, high):
    ours = Truncated(Normal(30.0, 8.0), low, high)
    theirs = stats.truncnorm((low - 30.0) / 8.0, (high - 30.0) / 8.0, 30.0, 8.0)
    lower, upper = Z[Z <= 0], Z[Z > 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-9)
    # SciPy's truncnorm.isf errs by up to 2e-6 here: algebra of the two tails with its normal instead.
    whole = stats.norm(30.0, 8.0)
    above = whole.sf(high) * ndtr(upper) + whole.sf(low) * ndtr(-upper)
    below = whole.cdf(high) * ndtr(upper) + whole.cdf(low) * ndtr(-upper)
    expected = np.where(above < below, whole.isf(above), whole.ppf(below))
    np.testing.assert_allclose(ours.value(upper), expected, rtol=1e-9, atol=1e-13)
    x = theirs.ppf(np.linspace(0.01, 0.99, 99))
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), rtol=1e-9)
    np.testing.assert_allclose(ndtr(-ours.score(x)), theirs.sf(x), rtol=1e-9)
    assert (ours.mean, ours.sd) == pytest.approx((theirs.mean(), theirs.std()), rel=1e-7)
    assert ours.support == pytest.approx((low, high))


def test_the_open_tail_of_a_one_sided_truncation_stays_exact():
    # Closed form: P(X > x | X > 0) = P(X > x)/P(X > 0) for the standard normal: twice the tail.
    ours = Truncated(Normal(0.0, 1.0), low=0.0)
    assert float(ours.value(7.0)) == pytest.approx(stats.norm.isf(stats.norm.sf(7.0) / 2.0), rel=1e-13)
    # And the tail against the bound: x -> 0 as Phi(z)/(2 phi(0)).
    assert float(ours.value(-7.0)) == pytest.approx(ndtr(-7.0) * math.sqrt(2.0 * math.pi) / 2.0, rel=1e-3)


def test_infinite_bounds_change_nothing():
    ours = Truncated(Lognormal(7.5, 0.18))
    np.testing.assert_allclose(ours.value(Z), Lognormal(7.5, 0.18).value(Z), rtol=1e-13)
    assert (ours.mean, ours.sd) == pytest.approx((Lognormal(7.5, 0.18).mean, Lognormal(7.5, 0.18).sd), rel=1e-9)
    assert ours.words == Lognormal(7.5, 0.18).words


def test_bounds_beyond_the_support_change_nothing():
    ours = Truncated(Uniform(1.0, 2.0), 0.0, 5.0)
    np.testing.assert_allclose(ours.value(Z), Uniform(1.0, 2.0).value(Z), rtol=1e-12)
    assert ours.support == (1.0, 2.0)


def test_truncated_gumbel_of_a_known_river_problem():
    # Closed form: F^-1(A + u (B - A)) with F = exp(-exp(-(q - 1013)/558)), kept between 500 and 3000.
    # Flow of the dyke problem of Iooss and Lemaitre (2015).
    def chance(q):
        return math.exp(-math.exp(-(q - 1013.0) / 558.0))

    u = np.linspace(0.01, 0.99, 99)
    p = chance(500.0) + u * (chance(3000.0) - chance(500.0))
    expected = 1013.0 - 558.0 * np.log(-np.log(p))
    ours = Truncated(Gumbel(1013.0, 558.0), 500.0, 3000.0)
    np.testing.assert_allclose(ours.quantile(u), expected, rtol=1e-12)


def test_an_atom_on_a_bound_is_kept():
    # Algebra: 0.2 at zero, 0.75 x I_0.5 of the beta below one half.
    inner = InflatedBeta(0.2, 1.5, 2.5, 0.05)
    ours = Truncated(inner, high=0.5)
    kept = 0.2 + 0.75 * stats.beta(1.5, 2.5).cdf(0.5)
    assert ours.atoms == (pytest.approx((0.0, 0.2 / kept), rel=1e-10),)
    assert float(ours.value(ndtri(0.2 / kept) - 1e-6)) == 0.0
    assert 0.0 < float(ours.value(ndtri(0.2 / kept) + 1e-3)) < 0.5
    assert float(ours.cdf(0.0)) == pytest.approx(0.2 / kept, rel=1e-10)
    assert float(ours.score_below(0.0)) == -np.inf
    assert Truncated(inner, low=0.0, high=1.0).atoms == inner.atoms


def test_a_truncated_discrete_shares_out_the_weight_that_is_left():
    ours = Truncated(Discrete((0.0, 1.0, 2.0), (0.2, 0.3, 0.5)), high=1.5)
    assert ours.atoms == (pytest.approx((0.0, 0.4)), pytest.approx((1.0, 0.6)))
    assert list(ours.quantile([0.39, 0.41, 0.99])) == [0.0, 1.0, 1.0]
    assert (ours.mean, ours.sd) == pytest.approx((0.6, math.sqrt(0.24)), rel=1e-10)
    np.testing.assert_allclose(ours.cdf([-1.0, 0.0, 0.5, 1.0]), [0.0, 0.4, 0.4, 1.0], rtol=1e-12)


def test_moments_are_infinite_only_when_the_heavy_tail_is_left_open():
    # A GEV of shape -0.6 has a mean but no variance: moments exist up to the order 1/0.6.
    heavy = GeneralisedExtremeValue(3.0, 1.0, -0.6)
    left_open = Truncated(heavy, low=2.0)
    assert left_open.sd == math.inf
    assert left_open.mean == pytest.approx(heavy_mean_above_two(), rel=1e-3)
    assert math.isfinite(Truncated(heavy, high=50.0).sd)
    assert Truncated(FromSciPy(stats.pareto(0.8)), low=2.0).mean == math.inf


def heavy_mean_above_two():
    theirs = stats.genextreme(-0.6, 3.0, 1.0)
    u = (np.arange(4_000_000) + 0.5) / 4_000_000
    return float(np.mean(theirs.isf(u * theirs.sf(2.0))))


@pytest.mark.parametrize(
    ("low", "high", "message"),
    [
        (2.0, 1.0, "expected low below high, got low 2 and high 1"),
        (math.nan, 1.0, "expected a number for the bound low, got nan"),
        (
            6.0,
            9.0,
            "expected bounds that keep some probability of the uniform between 1 and 5, got low 6 and high 9",
        ),
    ],
)
def test_bounds_that_cannot_be_are_refused_in_one_sentence(low, high, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        Truncated(Uniform(1.0, 5.0), low, high)
    assert str(refusal.value) == message


def test_words_name_the_bounds():
    normal = Normal(1.0, 0.05)
    assert Truncated(normal, low=0.9).words == f"{normal.words}, kept above 0.9"
    assert Truncated(normal, high=1.1).words == f"{normal.words}, kept below 1.1"
    assert Truncated(normal, 0.9, 1.1).words == f"{normal.words}, kept between 0.9 and 1.1"
