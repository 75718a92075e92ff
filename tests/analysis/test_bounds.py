"""Probabilities of exactly 0 and 1: the river whose dyke cannot be overtopped, and its like."""

import numpy as np
import pytest
from known_answers import RIVER_LARGEST_S, river_inputs, river_overflow, scores

from overbank.analysis.bounds import certain, corners, direction
from overbank.errors import DomainError

RIVER_LOW = np.array([500, 15, 49, 54, 7, 55, 4990, 295], dtype=np.float64)
RIVER_HIGH = np.array([3000, np.inf, 51, 56, 9, 56, 5010, 305])


def river_corners():
    """Each input's direction from nodes between its ends, for 64 samples of the others; then the two corners."""
    inputs = river_inputs(scores(1, 64, 8, seed=1)[0])
    found = []
    for i, (low, high) in enumerate(zip(RIVER_LOW, np.minimum(RIVER_HIGH, 1e4), strict=True)):
        depths = [river_overflow([*inputs[:i], np.full(64, x), *inputs[i + 1 :]]) for x in np.linspace(low, high, 5)]
        found.append(direction(np.array(depths), 1e-9))
    return found, corners(RIVER_LOW, RIVER_HIGH, np.array(found))


def test_the_dyke_that_cannot_be_overtopped():
    # Iooss & Lemaitre (2015), arXiv 1404.2405; S = -3.6626 with all inputs at their worst ends, computed independently
    directions, (best, worst) = river_corners()
    assert directions == [1, -1, 1, -1, -1, -1, 1, -1]
    assert river_overflow(worst) == pytest.approx(RIVER_LARGEST_S, abs=1e-4)
    found = certain(float(river_overflow(best)), float(river_overflow(worst)))
    assert (found.value, found.low, found.high) == (0.0, 0.0, 0.0)
    assert found.note == (
        "impossible within the stated ranges: with every input at its worst end the water stays 3.66 m below the bank"
    )


def test_a_dyke_that_cannot_hold_and_one_that_may():
    _, (best, worst) = river_corners()
    least, most = float(river_overflow(best)), float(river_overflow(worst))
    sure = certain(least + 30, most + 30)
    assert (sure.value, sure.low, sure.high) == (1.0, 1.0, 1.0)
    assert sure.note.startswith("certain within the stated ranges: with every input at its best end the water stands ")
    assert certain(least + 5, most + 5) is None
    assert certain(0.004, 1.0).note.endswith("the water stands 0.00 m above the bank")  # by however little


@pytest.mark.parametrize(("best", "worst"), [(-1.0, np.inf), (-np.inf, np.inf), (np.nan, 1.0), (-1.0, np.nan)])
def test_nothing_is_claimed_without_a_corner(best, worst):
    assert certain(best, worst) is None


def test_the_bank_itself_is_not_overtopped():
    assert certain(-1.0, 0.0).note.endswith("the water just reaches the bank")
    assert certain(0.0, 1.0) is None
    assert certain(np.inf, np.inf).note.endswith("the water has no way through")


def test_directions():
    rising = np.array([[0.0, 1.0], [0.5, 1.0], [np.inf, 2.0]])
    assert direction(rising, 1e-9) == 1
    assert direction(-np.array([[0.0], [1.0]]), 1e-9) == -1
    assert direction(np.ones((3, 4)), 1e-9) == 0
    assert direction(np.array([[0.0, 1.0], [1.0, 0.0]]), 1e-9) is None
    assert direction(np.array([[0.0, 1.0], [1.0, np.nan]]), 1e-9) is None
    assert direction(np.array([[0.0], [1e-6], [0.0]]), 1e-3) == 0


def test_corners_need_one_shape():
    with pytest.raises(DomainError, match="one shape"):
        corners(np.zeros(2), np.ones(2), np.ones(3))
