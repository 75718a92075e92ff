"""Pairs with tails of their own among normal scores: sampled, conditioned and moved; against brute integrals."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.pair_tails import pair_of
from overbank.uncertain.reflected import ReflectedGiven

TAILS = ("survival_clayton", "gumbel", "t")
NAMES = ("flow", "blockage", "roughness", "level")
PAIRS = {("flow", "blockage"): 0.5, ("flow", "level"): 0.4, ("blockage", "roughness"): 0.3}


def made(tail, pairs=PAIRS, names=NAMES, more=()):
    return Copula.from_rank_correlations(names, pairs, dict.fromkeys((("flow", "blockage"), *more), tail))


@pytest.mark.parametrize("pairs", [{("a", "b"): 0.5}, {("a", "b"): 0.5, ("a", "c"): 0.3}])
@pytest.mark.parametrize("sign", [1, -1])
def test_laws_of_batches_joined_are_that_of_all_samples(sign, pairs):
    copula = Copula.from_rank_correlations(("a", "b", "c"), pairs, {("a", "b"): "gumbel"})
    z = copula.correlate(scores("monte_carlo", 2 * 64, 3, seed=3, replicates=2))
    for column in range(3):
        whole, first, second = (copula.given(column, part) for part in (z, z[:, :40], z[:, 40:]))
        if sign < 0:
            whole, first, second = (ReflectedGiven(each) for each in (whole, first, second))
        joined, at = first.joined([second]), np.linspace(-1.0, 1.0, 64)
        np.testing.assert_array_equal(joined.above(at), whole.above(at))
        np.testing.assert_array_equal(joined[1].density(at), whole[1].density(at))


@pytest.mark.parametrize("tail", TAILS)
def test_samples_have_the_rank_correlation_and_the_tail_of_the_family(tail):
    z = made(tail).correlate(scores("monte_carlo", 16 * 4096, 4, seed=3, replicates=16))
    seen = [stats.spearmanr(each[:, 0], each[:, 1]).statistic for each in z]
    assert abs(np.mean(seen) - 0.5) <= 4.0 * np.std(seen, ddof=1) / 4.0
    # P(both above their 98 % points), from the library-free closed forms of C with the published parameters
    at = 0.98
    theta = {"survival_clayton": 1.0760904, "gumbel": 1.5410702}
    if tail == "gumbel":
        both = 1.0 - 2.0 * at + math.exp(-((2.0 * (-math.log(at)) ** theta[tail]) ** (1.0 / theta[tail])))
    elif tail == "survival_clayton":
        both = (2.0 * (1.0 - at) ** -theta[tail] - 1.0) ** (-1.0 / theta[tail])
    else:
        r = pair_of("t", 0.5).r
        x = stats.t.ppf(1.0 - at, 4)
        both = float(stats.multivariate_t([0.0, 0.0], [[1.0, r], [r, 1.0]], df=4, seed=1).cdf([x, x], maxpts=20_000))
    seen = [np.mean((each[:, 0] > ndtri(at)) & (each[:, 1] > ndtri(at))) for each in z]
    assert abs(np.mean(seen) - both) <= 4.0 * np.std(seen, ddof=1) / 4.0
    for column in z.reshape(-1, 4)[:32768].T:
        assert stats.kstest(column, "norm").pvalue > 1e-4


@pytest.mark.parametrize("tail", TAILS)
def test_independent_scores_are_found_again(tail):
    copula = made(tail)
    z = scores("monte_carlo", 256, 4, seed=5, replicates=2)
    np.testing.assert_allclose(copula.independent(copula.correlate(z)), z, atol=1e-9)


@pytest.mark.parametrize("tail", TAILS)
def test_a_pair_alone_is_conditioned_as_the_family_says(tail):
    copula = made(tail, {("flow", "blockage"): 0.5}, ("flow", "blockage"))
    family = pair_of(tail, 0.5)
    z = np.array([[0.3, 1.2], [2.0, -1.0]])
    for j, other in ((0, 1), (1, 0)):
        given = copula.given(j, z)
        np.testing.assert_allclose(given.above(np.array([1.0, 0.5])), ndtr(-family.inner([1.0, 0.5], z[:, other])))


@pytest.mark.parametrize("tail", TAILS)
@pytest.mark.parametrize("j", range(4))
def test_conditional_chance_against_samples(tail, j):
    # Law of total probability on a box of the others: mean of P(Z_j > 1 | others) = share of samples with Z_j > 1.
    copula = made(tail)
    z = copula.correlate(scores("monte_carlo", 32 * 256, 4, seed=8, replicates=32))
    chance = copula.given(j, z).above(np.full(z.shape[:-1], 1.0))
    others = np.delete(z, j, axis=-1)
    for box in (others[..., 0] > 0.5, others[..., 1] > 0.5, np.all(others[..., :2] > 0.3, axis=-1), others[..., 2] < 0):
        missed = [np.mean((each[:, j] > 1.0) * b - p * b) for each, p, b in zip(z, chance, box, strict=True)]
        assert abs(np.mean(missed)) <= 4.0 * np.std(missed, ddof=1) / math.sqrt(len(missed))


@pytest.mark.parametrize("tail", TAILS)
def test_a_hub_given_its_member_and_another_by_brute_integration(tail):
    # Joint density of three scores written out anew: normal density of those behind them times the slope of the member.
    pairs = {("flow", "blockage"): 0.6, ("blockage", "level"): 0.5, ("flow", "level"): 0.4}
    copula = made(tail, pairs, ("flow", "blockage", "level"))
    hub = copula.tails[0].hub
    member = copula.tails[0].member
    z = np.array([[1.4, 0.9, 0.7], [-0.5, 2.5, 1.5], [0.0, -2.0, 1.0]])
    x = np.linspace(-9.0, 9.0, 4001)
    law = stats.multivariate_normal(np.zeros(3), copula.correlation)
    for row in z:
        tried = np.repeat(row[None], x.size, axis=0)
        tried[:, hub] = x
        up, down = tried.copy(), tried.copy()
        up[:, member] += 5e-5
        down[:, member] -= 5e-5
        slope = (copula.normal(up)[:, member] - copula.normal(down)[:, member]) / 1e-4
        density = law.pdf(copula.normal(tried)) * slope
        given = copula.given(hub, row[None])
        for at in (-1.0, 0.5, 2.0, 3.0):
            beyond = np.linspace(at, 9.0, 4001)
            above = np.trapezoid(np.interp(beyond, x, density), beyond) / np.trapezoid(density, x)
            assert given.above(np.array([at]))[0] == pytest.approx(above, rel=2e-3, abs=1e-7)
        at = np.array([0.5])
        expected = np.interp(0.5, x, density) / np.trapezoid(density, x)
        assert given.density(at)[0] == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("tail", TAILS)
@pytest.mark.parametrize("j", [0, 1])
def test_density_is_the_slope_of_the_chance(tail, j):
    copula = made(tail)
    z = copula.correlate(scores("monte_carlo", 64, 4, seed=2, replicates=1))[0]
    given, at = copula.given(j, z), np.full(64, 0.7)
    slope = (given.above(at - 1e-3) - given.above(at + 1e-3)) / 2e-3
    np.testing.assert_allclose(given.density(at), slope, rtol=3e-3, atol=1e-5)


@pytest.mark.parametrize("tail", TAILS)
@pytest.mark.parametrize("j", range(3))
def test_samples_moved_to_a_score_have_the_law_given_that_score(tail, j):
    # Samples moved to score 1.5 against samples that happened to lie there (within 0.04): means of the others.
    names, pairs = ("flow", "blockage", "level"), {("flow", "blockage"): 0.6, ("flow", "level"): 0.5}
    copula = Copula.from_rank_correlations(names, pairs, {("flow", "blockage"): tail, ("flow", "level"): tail})
    z = copula.correlate(scores("monte_carlo", 2**17, 3, seed=4, replicates=1))[0]
    moved = copula.moved(z[: 2**13], j, 1.5)
    there = z[np.abs(z[:, j] - 1.5) < 0.04]
    assert np.all(moved[:, j] == 1.5)
    for other in range(3):
        if other != j:
            for image in (lambda x: x, lambda x: x > 1.0, np.abs):
                ours, theirs = image(moved[:, other]), image(there[:, other])
                error = math.hypot(np.std(ours) / math.sqrt(len(ours)), np.std(theirs) / math.sqrt(len(theirs)))
                assert abs(np.mean(ours) - np.mean(theirs)) <= 4.0 * error + 0.005


def test_moved_normal_scores_shift_by_the_correlation():
    copula = Copula.from_rank_correlations(("a", "b"), {("a", "b"): 0.5})
    z = np.array([[0.2, -0.3]])
    r = copula.correlation[0, 1]
    np.testing.assert_allclose(copula.moved(z, 0, 1.7), [[1.7, -0.3 + r * 1.5]])
    np.testing.assert_allclose(copula.moved(copula.moved(z, 0, 1.7), 0, 0.2), z)


def test_scores_of_some_samples_and_of_more_axes():
    copula = made("gumbel", more=(("flow", "level"),))
    z = copula.correlate(scores("monte_carlo", 2 * 64, 4, seed=2, replicates=2))
    given = copula.given(0, z)
    levels = np.linspace(-3.0, 3.0, 5)[:, None, None] + np.zeros((2, 64))
    whole = given.above(levels)
    assert whole.shape == (5, 2, 64)
    np.testing.assert_array_equal(given[1, 10:20].above(levels[:, 1, 10:20]), whole[:, 1, 10:20])
    ends = given.above(np.array([-np.inf, np.inf])[:, None, None] + np.zeros((2, 64)))
    np.testing.assert_allclose(ends[0], 1.0, atol=1e-12)
    np.testing.assert_allclose(ends[1], 0.0, atol=1e-12)


def test_a_part_keeps_the_pairs_that_are_whole():
    copula = made("gumbel")
    kept = copula.part([1, 0])
    assert kept.names == ("blockage", "flow")
    assert [(each.hub, each.member) for each in kept.tails] == [(1 - copula.tails[0].hub, 1 - copula.tails[0].member)]
    assert copula.part([0, 2]).tails == ()


@pytest.mark.parametrize(
    ("tails", "message"),
    [
        (
            {("flow", "roughness"): "gumbel"},
            "expected a rank correlation between flow and roughness, got a tail without one",
        ),
        (
            {("flow", "blockage"): "gumbel", ("blockage", "roughness"): "gumbel", ("roughness", "level"): "t"},
            "expected pairs with tails of their own that have no number in common, or all the same one, got flow and",
        ),
    ],
)
def test_tails_that_do_not_go_together_are_refused(tails, message):
    pairs = {**PAIRS, ("roughness", "level"): 0.2}
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        Copula.from_rank_correlations(NAMES, pairs, tails)
    assert message in str(refusal.value)


def test_weights_alone_cannot_tell_of_a_pair_with_its_own_tail():
    with pytest.raises(ValueError, match="expected jointly normal scores"):
        made("t").conditional(0)


@pytest.mark.parametrize("tail", ["gaussian", *TAILS])
@pytest.mark.parametrize("fresh", [[0], [1], [1, 3], [2]])
def test_numbers_drawn_anew_keep_the_law_of_all(tail, fresh):
    names, pairs = NAMES, {("flow", "blockage"): 0.6, ("roughness", "level"): 0.5}
    copula = Copula.from_rank_correlations(names, pairs, {("flow", "blockage"): tail})
    z = copula.correlate(scores("monte_carlo", 2**15, 4, seed=7, replicates=1))[0]
    again = copula.redrawn(z, fresh, np.random.default_rng(1).standard_normal((2**15, len(fresh))))
    kept = [j for j in range(4) if j not in fresh]
    np.testing.assert_allclose(again[:, kept], z[:, kept], atol=1e-9)
    for first, second in ((0, 1), (2, 3), (0, 2)):
        before = stats.spearmanr(z[:, first], z[:, second]).statistic
        assert stats.spearmanr(again[:, first], again[:, second]).statistic == pytest.approx(before, abs=0.02)
    both = np.mean((z[:, 0] > 1.5) & (z[:, 1] > 1.5))
    assert np.mean((again[:, 0] > 1.5) & (again[:, 1] > 1.5)) == pytest.approx(both, abs=4.0 * np.sqrt(both / 2**15))
    for j in fresh:
        assert abs(stats.spearmanr(again[:, j], z[:, j]).statistic) < 0.45  # new, but for what the partners say


def test_a_hub_with_more_than_its_pair_cannot_be_drawn_anew_alone():
    copula = made("gumbel", {("flow", "blockage"): 0.5, ("flow", "level"): 0.4})
    z = np.zeros((3, 4))
    with pytest.raises(ValueError, match="expected nothing but the one dependence stated of flow and blockage"):
        copula.redrawn(z, [0], np.zeros((3, 1)))
    assert copula.redrawn(z, [0, 1], np.zeros((3, 2))).shape == (3, 4)
