"""States of knowledge with floods in them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from overbank.uncertain.nested import nested_scores

DRAWN = nested_scores("sobol", 64, 16, 3, 2, seed=5, replicates=8)


def test_the_outer_scores_are_alike_in_all_floods_of_a_state() -> None:
    assert DRAWN.shape == (8, 64, 16, 5)
    assert np.all(DRAWN[..., :3] == DRAWN[:, :, :1, :3])
    assert np.unique(DRAWN[:, :, 0, 0]).size == 8 * 64


def test_the_floods_of_every_state_fill_each_direction_evenly() -> None:
    cells = np.sort(np.floor(16 * ndtr(DRAWN[..., 3:]) - 1e-9), axis=2)
    # A Sobol' net of 16 points has one in every sixteenth; shifted, each sixteenth still holds one, or a neighbour's.
    assert np.all(np.abs(cells - np.arange(16)[:, np.newaxis]) <= 1)


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
