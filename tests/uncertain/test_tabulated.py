"""Discrete and observed values against counting, NumPy's quantiles and sums written out."""

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.uncertain.tabulated import Discrete, Empirical

OBSERVED = (0.31, 0.05, 0.12, 0.31, 0.77, 0.20, 0.02, 0.31, 0.55, 0.09)


def test_discrete_values_change_at_the_cumulated_weights():
    ours = Discrete((2.0, 0.0, 1.0), (0.5, 0.2, 0.3))
    edges = ndtri([0.2, 0.5])
    np.testing.assert_array_equal(ours.value(edges - 1e-12), [0.0, 1.0])
    np.testing.assert_array_equal(ours.value(edges + 1e-12), [1.0, 2.0])
    np.testing.assert_array_equal(ours.value([-np.inf, -8.0, 8.0, np.inf]), [0.0, 0.0, 2.0, 2.0])
    assert ours.atoms == ((0.0, 0.2), (1.0, 0.3), (2.0, 0.5))
    assert ours.support == (0.0, 2.0)
    assert ours.median == 1.0


def test_discrete_probabilities_moments_and_quantiles_equal_scipys():
    ours = Discrete((2.0, 0.0, 1.0), (0.5, 0.2, 0.3))
    theirs = stats.rv_discrete(values=([0, 1, 2], [0.2, 0.3, 0.5]))
    x = np.array([-0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5])
    np.testing.assert_allclose(ours.cdf(x), theirs.cdf(x), rtol=1e-14)
    np.testing.assert_allclose(ndtr(ours.score_below(x)), theirs.cdf(x) - theirs.pmf(x), rtol=1e-14)
    assert (ours.mean, ours.sd) == pytest.approx((theirs.mean(), theirs.std()), rel=1e-14)
    p = np.linspace(0.005, 0.995, 100)
    np.testing.assert_array_equal(ours.quantile(p), theirs.ppf(p))


def test_discrete_keeps_a_rare_last_value():
    # P(X = 1) = 1e-17 is lost in 1 - 1e-17 = 1; summed from the other end it is not. Phi(-8.49) = 1.04e-17.
    ours = Discrete((0.0, 1.0), (1.0, 1e-17))
    assert float(ours.value(8.4)) == 0.0
    assert float(ours.value(8.6)) == 1.0
    assert float(ndtr(-ours.score(0.0))) == pytest.approx(1e-17, rel=1e-12)


def test_discrete_never_gives_a_value_of_no_weight():
    ours = Discrete((0.0, 1.0, 2.0), (0.0, 1.0, 0.0))
    assert set(ours.value(np.array([-np.inf, 0.0, np.inf]))) == {1.0}
    assert ours.atoms == ((1.0, 1.0),)


def test_discrete_words_use_the_labels():
    pattern = Discrete((0.0, 1.0), (0.25, 0.75), ("uniform", "floating raft"))
    assert pattern.words == "uniform with probability 0.25, floating raft with probability 0.75"
    many = Discrete(range(10), [0.1] * 10)
    assert many.words == "discrete, 10 values from 0 to 9"


@pytest.mark.parametrize(
    ("values", "weights", "labels", "message"),
    [
        ((), (), None, "expected at least one value, got none"),
        ((1.0, 1.0), (0.5, 0.5), None, "expected values that all differ, got [1.0, 1.0]"),
        ((1.0, 2.0), (0.5,), None, "expected one weight for each value, got 1 weights for 2 values"),
        ((1.0, 2.0), (-0.5, 1.5), None, "expected weights of 0 or more, got [-0.5, 1.5]"),
        ((1.0, 2.0), (0.5, 0.49), None, "expected weights that sum to 1, got a sum of 0.99"),
        ((1.0, np.inf), (0.5, 0.5), None, "expected finite values, got [1.0, inf]"),
        ((1.0, 2.0), (0.5, 0.5), ("dry",), "expected one label for each value, got 1 labels for 2 values"),
    ],
)
def test_a_discrete_that_cannot_be_is_refused_in_one_sentence(values, weights, labels, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        Discrete(values, weights, labels)
    assert str(refusal.value) == message


def test_empirical_quantiles_equal_numpys_median_unbiased_ones():
    # numpy.quantile(method="median_unbiased") is definition 8 of Hyndman and Fan (1996), extremes held.
    p = np.linspace(0.0005, 0.9995, 1000)
    np.testing.assert_allclose(
        Empirical(OBSERVED).quantile(p), np.quantile(OBSERVED, p, method="median_unbiased"), rtol=1e-12
    )
    assert Empirical(OBSERVED).median == pytest.approx(np.median(OBSERVED))


def test_empirical_is_bounded_by_what_was_seen():
    ours = Empirical(OBSERVED)
    assert ours.support == (0.02, 0.77)
    np.testing.assert_array_equal(ours.value([-np.inf, -8.0, 8.0, np.inf]), [0.02, 0.02, 0.77, 0.77])


def test_empirical_atoms_are_the_extremes_and_the_repeated_values():
    # Definition: k-th of n at (k - 1/3)/(n + 1/3); n = 10; 0.31 is the 6th to the 8th.
    atoms = dict(Empirical(OBSERVED).atoms)
    assert list(atoms) == [0.02, 0.31, 0.77]
    assert list(atoms.values()) == pytest.approx([2 / 31, 6 / 31, 2 / 31], rel=1e-12)


def test_empirical_scores_undo_the_quantiles_and_respect_atoms():
    ours = Empirical(OBSERVED)
    np.testing.assert_allclose(ndtr(ours.score(0.31)), (8 - 1 / 3) / (10 + 1 / 3), rtol=1e-12)
    np.testing.assert_allclose(ndtr(ours.score_below(0.31)), (6 - 1 / 3) / (10 + 1 / 3), rtol=1e-12)
    np.testing.assert_allclose(ndtr(ours.score(0.02)), 2 / 31, rtol=1e-12)
    assert list(ours.score([0.01, 0.77, 1.0])) == [-np.inf, np.inf, np.inf]
    assert list(ours.score_below([0.01, 0.02, 1.0])) == [-np.inf, -np.inf, np.inf]
    p = np.array([0.1, 0.25, 0.4, 0.5, 0.8, 0.9])
    np.testing.assert_allclose(ours.cdf(ours.quantile(p)), p, rtol=1e-12)


def test_empirical_moments_equal_a_fine_sum_over_its_quantiles():
    p = (np.arange(400_000) + 0.5) / 400_000
    quantiles = np.quantile(OBSERVED, p, method="median_unbiased")
    ours = Empirical(OBSERVED)
    assert (ours.mean, ours.sd) == pytest.approx((quantiles.mean(), quantiles.std()), rel=1e-8)


def test_an_empirical_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="expected at least two different values, got 1"):
        Empirical([0.3, 0.3])
    with pytest.raises(ValueError, match="expected finite values, got one that is not"):
        Empirical([0.3, np.nan])
    assert Empirical(OBSERVED).words == "10 observed values from 0.02 to 0.77"
