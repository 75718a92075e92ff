"""The threshold method where the integrated input depends on another in a family with a tail; against plain counts.

Level 30 + flow score + exp(blockage score)/2 (invented); the water goes over at the bank. Counts of another sample,
drawn by inverting a conditional distribution written out here, share nothing with the code under test.
"""

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from overbank.analysis import by_blockage, exceedance
from overbank.analysis.ladder import tail_probability
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores

THETA = 1.0760904  # survival Clayton with the rank correlation 0.5 (computed independently)
BANK = 32.0


def level(flow, debris):
    return 30.0 + flow + 0.5 * np.exp(debris)


def counted_sample(count=2**20):
    """Flow and debris scores by Clayton's conditional inversion, turned about."""
    rng = np.random.default_rng(5)
    v, w = rng.random(count), rng.random(count)
    u = ((w * v ** (THETA + 1.0)) ** (-THETA / (1.0 + THETA)) + 1.0 - v**-THETA) ** (-1.0 / THETA)
    return ndtri(1.0 - v), ndtri(1.0 - u)


@pytest.fixture(scope="module")
def ours():
    names = ("flow", "debris")
    copula = Copula.from_rank_correlations(names, {names: 0.5}, {names: "survival_clayton"})
    z = copula.correlate(scores("sobol", 16 * 512, 2, seed=6, replicates=16))
    return z, copula.given(1, z)


def test_probability_of_going_over(ours):
    z, law = ours
    with np.errstate(divide="ignore", invalid="ignore"):
        critical = np.where(z[..., 0] < BANK - 30.0, np.log(np.maximum(2.0 * (BANK - 30.0 - z[..., 0]), 0.0)), -np.inf)
    found = tail_probability(critical, lambda x: x, law=law).mean()
    flow, debris = counted_sample()
    counted = np.mean(level(flow, debris) > BANK)
    assert abs(found - counted) <= 4.0 * np.sqrt(counted / flow.size)


def test_exceedance_of_levels(ours):
    z, law = ours
    nodes = np.linspace(-7.0, 7.0, 141)
    own = level(z[..., 0], z[..., 1])
    grid = np.array([30.5, 31.5, 33.0, 36.0])
    part = exceedance.count(
        nodes,
        level(z[..., 0], nodes[:, None, None]),
        grid,
        score_below=lambda x: x,
        law=law,
        own_levels=own,
        tolerance=1e-4,
    )
    found = exceedance.conditional([part]).probability
    flow, debris = counted_sample()
    counted = np.mean(level(flow, debris)[:, None] > grid, axis=0)
    assert np.all(np.abs(found - counted) <= 4.0 * np.sqrt(counted / flow.size))


def test_overtopping_given_a_blockage(ours):
    z, law = ours
    # blockage b = Phi(score) cut off at 0.2 and at 0.9, where it has lumps
    with np.errstate(divide="ignore", invalid="ignore"):
        critical_score = np.where(z[..., 0] < 2.0, np.log(np.maximum(2.0 * (2.0 - z[..., 0]), 0.0)), -np.inf)
    critical = np.clip(ndtr(critical_score), 0.2, None)
    critical = np.where(critical > 0.9, 0.9, critical)
    critical = np.where(critical_score > ndtri(0.9), np.inf, critical)
    grid = np.array([0.2, 0.6, 0.8])
    found = by_blockage.given(
        critical, grid, score_at=ndtri(grid), score_below=np.array([-np.inf, *ndtri(grid[1:])]), law=law
    )
    flow, debris = counted_sample()
    for place, blockage in enumerate(grid):
        near = debris <= ndtri(0.2) if place == 0 else np.abs(ndtr(debris) - blockage) < 0.004
        share = np.mean(level(flow[near], ndtri(blockage)) > BANK)
        assert abs(found.probability[place] - share) <= 4.0 * np.sqrt(share / near.sum() + 1e-7) + 0.002
