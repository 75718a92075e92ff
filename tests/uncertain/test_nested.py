"""States of knowledge with floods in them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from overbank.uncertain.blockage_models import InflatedBetaModels
from overbank.uncertain.bounded import Beta, InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Normal
from overbank.uncertain.nested import nested_scores, weighted_floods
from overbank.uncertain.parameters import UncertainParameters, chosen
from overbank.uncertain.tabulated import Discrete

DRAWN = nested_scores("sobol", 64, 16, 3, 2, seed=5, replicates=8, nets=2)


def test_the_outer_scores_are_alike_in_all_floods_of_a_state() -> None:
    assert DRAWN.shape == (8, 64, 16, 5)
    assert np.all(DRAWN[..., :3] == DRAWN[:, :, :1, :3])
    assert np.unique(DRAWN[:, :, 0, 0]).size == 8 * 64


def test_the_floods_of_every_state_fill_each_direction_evenly() -> None:
    # A Sobol' net of 8 points has one in every eighth; shifted, each eighth still holds one, or a neighbour's.
    for half in (DRAWN[:, :, :8, 3:], DRAWN[:, :, 8:, 3:]):
        cells = np.sort(np.floor(8 * ndtr(half) - 1e-9), axis=2)
        assert np.all(np.abs(cells - np.arange(8)[:, np.newaxis]) <= 1)


def test_the_floods_of_one_net_have_one_in_every_part() -> None:
    whole = nested_scores("sobol", 64, 16, 3, 2, seed=5, replicates=8)
    cells = np.sort(np.floor(16 * ndtr(whole[..., 3:]) - 1e-9), axis=2)
    assert np.all(np.abs(cells - np.arange(16)[:, np.newaxis]) <= 1)


def test_the_halves_of_a_state_are_independent() -> None:
    first, second = (ndtr(DRAWN[:, :, half, 3]) % 0.125 for half in (0, 8))  # the shifts
    assert abs(np.corrcoef(first.ravel(), second.ravel())[0, 1]) < 4.0 / np.sqrt(first.size)


@pytest.mark.parametrize("design", ["sobol", "latin_hypercube", "monte_carlo"])
def test_all_scores_are_standard_normal_and_independent(design) -> None:  # type: ignore[no-untyped-def]
    z = nested_scores(design, 256, 16, 2, 2, seed=2, replicates=8).reshape(-1, 4)
    assert np.all(np.isfinite(z))
    assert np.allclose(z.mean(axis=0), 0.0, atol=0.08)
    assert np.allclose(np.cov(z.T), np.eye(4), atol=0.1)


def test_without_inner_numbers_all_floods_are_alike() -> None:
    z = nested_scores("sobol", 16, 1, 2, 0, seed=1, replicates=2)
    assert z.shape == (2, 16, 1, 2)


def test_floods_come_in_powers_of_two() -> None:
    with pytest.raises(ValueError, match="a power of two of floods in each state, got 12"):
        nested_scores("sobol", 16, 12, 2, 1, seed=1, replicates=2)


SCREEN = InflatedBeta(0.2, 1.5, 2.5, 0.05)


def weighted(pairs, distributions, floods=32, states=64, tails=None):  # type: ignore[no-untyped-def]
    """Correlated scores of a roughness, of each flood's numbers and of the flood of a year; and the weights."""
    names = ("roughness", *(f"number {k}" for k in range(len(distributions))), "flood")
    copula = Copula.from_rank_correlations(names, pairs, tails)
    z = nested_scores("sobol", states, floods, 1, len(names) - 1, seed=3, replicates=8, nets=2)
    z, weights = weighted_floods(z, copula, {1 + k: each for k, each in enumerate(distributions)})
    return copula.correlate(z), weights


@pytest.mark.parametrize("floods", [8, 32])
@pytest.mark.parametrize("others", [(), (Normal(0.0, 1.0),)])
def test_every_lump_weighs_in_every_state_what_it_should(floods, others) -> None:  # type: ignore[no-untyped-def]
    z, weights = weighted({}, (SCREEN, *others), floods)
    drawn = SCREEN.value(z[..., 1])
    assert np.allclose(weights.mean(axis=2), 1.0)
    assert np.allclose((weights * (drawn == 0.0)).mean(axis=2), 0.2)
    assert np.allclose((weights * (drawn == 1.0)).mean(axis=2), 0.05)


def test_lumps_weigh_what_the_numbers_before_make_them_likely() -> None:
    """Correlated with what is known: P(shut | roughness score x) = Phi((r x - 1.645)/sqrt(1 - r^2)), closed form."""
    z, weights = weighted({("roughness", "number 0"): 0.5}, (SCREEN,))
    r = 2.0 * np.sin(np.pi * 0.5 / 6.0)
    expected = ndtr((r * z[:, :, 0, 0] - 1.6448536269514722) / np.sqrt(1.0 - r**2))
    assert np.allclose((weights * (SCREEN.value(z[..., 1]) == 1.0)).mean(axis=2), expected)


@pytest.mark.parametrize(("floods", "error"), [(8, 0.03), (16, 0.003), (32, 5e-4)])
def test_a_smooth_mean_is_told_well_in_every_state(floods: int, error: float) -> None:
    """Mean of exp(2 b), b of a beta(1.5, 2.5), by quadrature; unweighted floods miss it by far more."""
    z, weights = weighted({}, (Beta(1.5, 2.5),), floods)
    grid = (np.arange(200_000) + 0.5) / 200_000
    exact = float(np.mean(np.exp(2.0 * stats.beta(1.5, 2.5).ppf(grid))))
    found = (weights * np.exp(2.0 * Beta(1.5, 2.5).value(z[..., 1]))).mean(axis=2)
    assert np.max(np.abs(found / exact - 1.0)) < error
    assert found.mean() == pytest.approx(exact, rel=error / 5.0)


@pytest.mark.parametrize(("floods", "rank_correlation"), [(8, 0.6), (32, -0.4)])
def test_a_number_alone_keeps_its_law_within_its_lumps(floods: int, rank_correlation: float) -> None:
    """The flood goes with it there too: P(score <= a) = Phi(a), and the rank correlation is as stated (Spearman)."""
    z, weights = weighted({("number 0", "flood"): rank_correlation}, (SCREEN,), floods, states=2048)
    flat, weight = z.reshape(-1, 3), weights.ravel() / weights.sum()
    for at in (-2.0, -1.2, -0.9, 0.0, 1.66, 1.8, 2.2):
        assert weight @ (flat[:, 1] <= at) == pytest.approx(ndtr(at), abs=0.003)
    ranks = ndtr(flat) - 0.5
    assert 12.0 * weight @ (ranks[:, 1] * ranks[:, 2]) == pytest.approx(rank_correlation, abs=0.01)


@pytest.mark.parametrize("tail", [None, "survival_clayton"])
def test_weighted_floods_have_the_law_that_they_had(tail) -> None:  # type: ignore[no-untyped-def]
    """Weighted means of products of the scores are the correlations, and every score stays standard normal."""
    pair = ("number 0", "flood")
    z, weights = weighted({pair: 0.5}, (SCREEN, Normal(0.0, 1.0)), states=512, tails=tail and {pair: tail})
    flat, weight = z.reshape(-1, 4), weights.ravel() / weights.sum()
    for column in range(4):
        for at in (-1.5, 0.0, 1.0):
            assert weight @ (flat[:, column] <= at) == pytest.approx(ndtr(at), abs=0.01)
    ranks = ndtr(flat) - 0.5
    # Spearman's rank correlation is 12 times the covariance of the ranks
    assert 12.0 * weight @ (ranks[:, 1] * ranks[:, 3]) == pytest.approx(0.5, abs=0.02)
    assert 12.0 * weight @ (ranks[:, 0] * ranks[:, 3]) == pytest.approx(0.0, abs=0.02)


def test_more_lumps_than_floods_are_drawn_like_any_other_number() -> None:
    many = Discrete(range(20), [0.05] * 20)
    z, weights = weighted({}, (many, Normal(0.0, 1.0)))
    assert np.array_equal(weights, np.ones(weights.shape))
    assert np.bincount(many.value(z[..., 1]).astype(int).ravel(), minlength=20).min() > 0


def test_where_nothing_comes_out_anew_floods_weigh_one() -> None:
    z = nested_scores("sobol", 16, 1, 2, 1, seed=1, replicates=2)
    moved, weights = weighted_floods(z, Copula.from_rank_correlations("abc", {}), {})
    assert np.array_equal(moved, z)
    assert np.all(weights == 1.0)


def test_the_lumps_of_every_states_own_model_weigh_what_they_should() -> None:
    """Each state's model has its own chance of shut, of which its floods weigh exactly as much."""
    models = InflatedBetaModels.ranked(np.full(64, 0.1), np.full(64, 1.5), np.full(64, 2.5), np.linspace(0.0, 0.6, 64))
    number = UncertainParameters(models, "a screen")
    copula = Copula.from_rank_correlations("bq", {})
    z = nested_scores("sobol", 32, 16, 1, 2, seed=3, replicates=8, nets=2)
    place = chosen(models, z[:, :, 0, 0])
    z, weights = weighted_floods(z[..., 1:], copula, {0: number}, {0: (models, place)})
    spread = np.broadcast_to(place[:, :, np.newaxis], weights.shape)
    drawn = models.value(z[..., 0], spread)
    assert np.allclose((weights * (drawn == 1.0)).mean(axis=2), models.at_one[place])
    assert np.allclose((weights * (drawn == 0.0)).mean(axis=2), 0.1)
