"""The probability of being among the worst few, against its integral and by hand."""

from __future__ import annotations

import numpy as np
from scipy.integrate import quad
from scipy.stats import norm, qmc

from overbank.analysis.among_worst import among_worst, apart

MEANS, SPREADS = np.array([1.0, 1.5, 2.0, 2.5, 3.0]), np.array([0.5, 1.0, 0.5, 1.0, 0.5])
PUBLISHED = {
    1: [0.00042761, 0.0603002, 0.0386530, 0.3046446, 0.5959746],
    2: [0.0115451, 0.1851669, 0.2742787, 0.6112162, 0.9177930],
}
"""Independent normal scores, by the integral over each score of the chance that fewer than k others exceed it."""


def integral(item: int, count: int) -> float:
    """P(fewer than `count` of the others exceed the item's score), the number that exceed being Poisson-binomial."""

    def density(score: float) -> float:
        chances = np.array([1.0])
        for other in set(range(5)) - {item}:
            above = norm.sf(score, MEANS[other], SPREADS[other])
            chances = np.convolve(chances, [1.0 - above, above])
        return norm.pdf(score, MEANS[item], SPREADS[item]) * chances[:count].sum()

    return quad(density, -5.0, 9.0, limit=200)[0]


def test_independent_normal_scores_match_the_integral() -> None:
    z = norm.ppf(qmc.Sobol(5, rng=np.random.default_rng(1)).random(2**15))
    scores = (MEANS + SPREADS * z).T
    for count, published in PUBLISHED.items():
        exact = [integral(item, count) for item in range(5)]
        np.testing.assert_allclose(exact, published, atol=1e-6)
        np.testing.assert_allclose(among_worst(scores, count), exact, atol=2e-3)


def test_drawn_apart_the_same_scores_become_independent() -> None:
    z = norm.ppf((np.arange(2**14) + 0.5) / 2**14)
    together = MEANS[:, None] + SPREADS[:, None] * z
    assert np.abs(among_worst(together, 1) - PUBLISHED[1]).max() > 0.05
    np.testing.assert_allclose(among_worst(apart(together, 3), 1), PUBLISHED[1], atol=0.015)


def test_equal_scores_share_the_places_and_all_add_up() -> None:
    scores = np.array([[1.0, 0.0], [1.0, 0.0], [0.5, 2.0], [np.nan, 0.0]])
    np.testing.assert_allclose(among_worst(scores, 1), [0.25, 0.25, 0.5, 0.0])
    np.testing.assert_allclose(among_worst(scores, 3).sum(), 3.0)
    np.testing.assert_array_equal(among_worst(scores, 9), 1.0)
