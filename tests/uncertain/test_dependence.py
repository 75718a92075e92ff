"""The Gaussian copula against samples, the partitioned covariance and a known chance of two events."""

import math

import numpy as np
import pytest
from scipy import stats

from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores

NAMES = ("flow", "blockage", "roughness", "level")
PAIRS = {("flow", "blockage"): 0.4, ("roughness", "flow"): -0.6, ("blockage", "level"): 0.25}


@pytest.fixture(scope="module")
def correlated():
    copula = Copula.from_rank_correlations(NAMES, PAIRS)
    return copula.correlate(scores("monte_carlo", 16 * 4096, 4, seed=11, replicates=16))


@pytest.mark.parametrize("first", range(4))
@pytest.mark.parametrize("second", range(4))
def test_samples_have_the_rank_correlations_asked_for(correlated, first, second):
    # A chain: roughness, flow, blockage, level. Pairs that are not named have the product of those on the way.
    chain = ("roughness", "flow", "blockage", "level")
    steps = [2.0 * math.sin(math.pi * rho / 6.0) for rho in (-0.6, 0.4, 0.25)]
    low, high = sorted((chain.index(NAMES[first]), chain.index(NAMES[second])))
    expected = 6.0 / math.pi * math.asin(math.prod(steps[low:high]) / 2.0)
    seen = [stats.spearmanr(z[:, first], z[:, second]).statistic for z in correlated]
    error = np.std(seen, ddof=1) / math.sqrt(len(seen))
    assert abs(np.mean(seen) - expected) <= 4.0 * error + 1e-12


def test_correlation_of_scores_follows_from_the_rank_correlation():
    # Closed form for the bivariate normal: rho_s = (6/pi) asin(rho/2); 0.5 gives 2 sin(pi/12) = 0.517638.
    copula = Copula.from_rank_correlations(("a", "b"), {("a", "b"): 0.5})
    assert copula.correlation[0, 1] == pytest.approx(0.5176380902, rel=1e-9)
    assert 6.0 / math.pi * math.asin(copula.correlation[0, 1] / 2.0) == pytest.approx(0.5, rel=1e-14)


# Worked examples of the greatest determinant, computed independently (product, block rule, a descent for the cycle).
COMPLETIONS = [
    ("abc", {"ab": 0.7, "bc": 0.5}, {"ac": 0.35}, 0.3825),
    ("abcd", {"ab": 0.6, "ac": 0.3, "bc": 0.5, "bd": 0.4, "cd": 0.2}, {"ad": 0.24}, 0.4032),
    ("abcd", {"ab": 0.6, "bc": 0.5, "cd": 0.4, "ad": 0.3}, {"ac": 0.3371564, "bd": 0.2803812}, 0.3873142),
]


@pytest.mark.parametrize(("names", "stated", "filled", "determinant"), COMPLETIONS)
def test_pairs_not_named_get_the_greatest_determinant(names, stated, filled, determinant):
    pairs = {(pair[0], pair[1]): 6.0 / math.pi * math.asin(r / 2.0) for pair, r in stated.items()}
    found = Copula.from_rank_correlations(names, pairs).correlation
    for (first, second), r in {**stated, **filled}.items():
        assert found[names.index(first), names.index(second)] == pytest.approx(r, abs=5e-7)
    assert np.linalg.det(found) == pytest.approx(determinant, abs=5e-7)


def test_what_could_not_hold_with_nothing_elsewhere_is_completed():
    # a chain of 0.8 and 0.8 with 0 between its ends is not positive definite, with the product 0.64 it is
    r = 6.0 / math.pi * math.asin(0.4)
    found = Copula.from_rank_correlations("abc", {("a", "b"): r, ("b", "c"): r}).correlation
    assert found[0, 2] == pytest.approx(0.64, abs=1e-9)
    with pytest.raises(ValueError, match="positive definite"):
        Copula.from_rank_correlations("abc", {("a", "b"): r, ("b", "c"): r, ("a", "c"): 0.0})


def test_the_greatest_determinant_leaves_noughts_in_the_inverse():
    pairs = {("a", "b"): 0.8, ("b", "c"): 0.8, ("c", "d"): 0.8, ("d", "e"): 0.8, ("a", "e"): 0.6, ("b", "e"): 0.5}
    found = np.linalg.inv(Copula.from_rank_correlations("abcdef", pairs).correlation)
    for first in range(6):
        for second in range(first):
            if not {("abcdef"[second], "abcdef"[first])} & set(pairs):
                assert found[first, second] == pytest.approx(0.0, abs=1e-9)


def test_scores_stay_standard_normal(correlated):
    flat = correlated.reshape(-1, 4)
    for column in flat.T:
        assert stats.kstest(column, "norm").pvalue > 1e-4


def test_independent_scores_pass_unchanged():
    z = scores("monte_carlo", 64, 3, seed=1, replicates=2)
    np.testing.assert_array_equal(Copula.from_rank_correlations(("a", "b", "c"), {}).correlate(z), z)
    partly = Copula.from_rank_correlations(("a", "b", "c"), {("a", "c"): 0.5}).correlate(z)
    np.testing.assert_array_equal(partly[..., :2], z[..., :2])
    assert not np.any(partly[..., 2] == z[..., 2])


def test_correlate_leaves_its_argument_alone_and_takes_any_shape():
    copula = Copula.from_rank_correlations(NAMES, PAIRS)
    z = scores("monte_carlo", 64, 4, seed=1, replicates=4)
    before = z.copy()
    whole = copula.correlate(z)
    np.testing.assert_array_equal(z, before)
    np.testing.assert_allclose(copula.correlate(z[2, 5]), whole[2, 5], rtol=1e-14)


@pytest.mark.parametrize("j", range(4))
def test_conditional_equals_the_partitioned_covariance(j):
    # Closed form: weights = S_rr^-1 s_rj, variance = 1 - s_jr S_rr^-1 s_rj.
    copula = Copula.from_rank_correlations(NAMES, PAIRS)
    rest = [i for i in range(4) if i != j]
    inner, across = copula.correlation[np.ix_(rest, rest)], copula.correlation[rest, j]
    weights = np.linalg.solve(inner, across)
    ours = copula.conditional(j)
    np.testing.assert_allclose(ours.weights, weights, atol=1e-14)
    assert ours.spread == pytest.approx(math.sqrt(1.0 - across @ weights), rel=1e-12)


@pytest.mark.parametrize("j", range(4))
def test_conditional_equals_what_a_regression_on_samples_finds(correlated, j):
    ours = Copula.from_rank_correlations(NAMES, PAIRS).conditional(j)
    found = []
    for z in correlated:
        rest = np.delete(z, j, axis=1)
        weights, _, _, _ = np.linalg.lstsq(rest, z[:, j])
        found.append([*weights, np.std(z[:, j] - rest @ weights)])
    error = np.std(found, axis=0, ddof=1) / math.sqrt(len(found))
    assert np.all(np.abs(np.mean(found, axis=0) - [*ours.weights, ours.spread]) <= 4.0 * error)


def test_conditional_of_an_independent_score_is_the_standard_normal():
    ours = Copula.from_rank_correlations(("a", "b", "c"), {("a", "b"): 0.7}).conditional(2)
    assert list(ours.weights) == [0.0, 0.0]
    assert ours.spread == 1.0
    alone = Copula.from_rank_correlations(("a",), {}).conditional(0)
    assert alone.weights.shape == (0,)
    assert alone.spread == 1.0


def test_conditional_probability_integrates_to_the_joint_one():
    # Bivariate normal: P(both > 0) = 1/4 + asin(rho)/(2 pi), Sheppard's formula (closed form).
    copula = Copula.from_rank_correlations(("a", "b"), {("a", "b"): 0.5})
    given = copula.conditional(1)
    z, weights = np.polynomial.legendre.leggauss(200)
    z, weights = 5.0 * (z + 1.0), 5.0 * weights
    above = stats.norm.cdf(z * given.weights[0] / given.spread)
    both = float(np.sum(weights * stats.norm.pdf(z) * above))
    assert both == pytest.approx(0.25 + math.asin(copula.correlation[0, 1]) / (2.0 * math.pi), rel=1e-12)


def test_correlations_that_cannot_hold_at_once_are_named_with_a_way_out():
    pairs = {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9, ("d", "e"): 0.5}
    with pytest.raises(ValueError, match=r"^expected rank correlations that can all hold at once") as refusal:
        Copula.from_rank_correlations(("a", "b", "c", "d", "e"), pairs)
    message = str(refusal.value)
    for pair in ("a and b (0.9)", "b and c (0.9)", "a and c (-0.9)"):
        assert pair in message
    assert "d and e" not in message
    # Closed form: the matrix with r, r, -r has the smallest eigenvalue 1 - 2r, r = 2 sin(0.15 pi).
    assert f"smallest eigenvalue of {1.0 - 4.0 * math.sin(0.15 * math.pi):.3g}" in message
    factor = float(message.partition("multiplied by ")[2].partition(" ")[0])
    Copula.from_rank_correlations("abcde", {pair: factor * rho for pair, rho in pairs.items()})
    assert 0.0 < factor < 1.0
    more = {pair: (factor + 0.01) * rho for pair, rho in pairs.items()}
    with pytest.raises(ValueError, match="positive definite"):
        Copula.from_rank_correlations("abcde", more)


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        (
            {("flow", "blockage"): 1.0},
            "expected a rank correlation between -1 and 1, both excluded, between flow",
        ),
        ({("flow", "blockage"): -1.2}, "between flow and blockage, got -1.2"),
        ({("flow", "blockage"): math.nan}, "between flow and blockage, got nan"),
        ({("flow", "blokage"): 0.5}, "got 'blokage' (did you mean 'blockage'?)"),
        ({("flow", "xyz"): 0.5}, "expected the names of two uncertain numbers, got 'xyz'"),
        ({("flow", "flow"): 0.5}, "expected two different uncertain numbers, got flow twice"),
        (
            {("flow", "blockage"): 0.5, ("blockage", "flow"): 0.5},
            "expected one rank correlation between blockage and flow, got two",
        ),
    ],
)
def test_a_pair_that_cannot_be_is_refused_in_one_sentence(pairs, message):
    with pytest.raises(ValueError, match=r"^expected .*, got ") as refusal:
        Copula.from_rank_correlations(NAMES, pairs)
    assert message in str(refusal.value)


def test_names_must_differ():
    with pytest.raises(ValueError, match="expected names that all differ, got a, a"):
        Copula.from_rank_correlations(("a", "a"), {})
