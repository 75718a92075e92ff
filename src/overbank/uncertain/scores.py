"""Normal scores: a probability p written as z = Phi^-1(p), so that neither tail is lost to rounding.

Beyond z = 8 the probability p is 1 to the last bit, while z, and 1 - p = Phi(-z), are still exact.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

Values = NDArray[np.float64]


def as_values(numbers: ArrayLike) -> Values:
    """The numbers as an array of floats (a single number becomes an array without dimensions)."""
    return np.asarray(numbers, dtype=np.float64)


def chance_below(z: ArrayLike) -> Values:
    """Phi(z), the chance that a standard normal number is no more than z; Phi(-z) is the chance above."""
    chance: Values = ndtr(z)
    return chance


def score_of_chance(below: ArrayLike, above: ArrayLike) -> Values:
    """Normal score of a probability given as both p (below) and 1 - p (above); the smaller one is used."""
    score: Values = ndtri(np.minimum(below, above))
    return np.where(np.asarray(below) <= np.asarray(above), score, -score)


def chance_between(low: ArrayLike, high: ArrayLike) -> Values:
    """Phi(high) - Phi(low), taken in the tail where the difference does not cancel."""
    low, high = as_values(low), as_values(high)
    upper = low > 0
    return chance_below(np.where(upper, -low, high)) - chance_below(np.where(upper, -high, low))


def score_in_whole(z: ArrayLike, low: float, high: float) -> Values:
    """Score in the whole distribution of what has score z within the part between the scores low and high.

    Phi(result) = Phi(low) Phi(-z) + Phi(high) Phi(z): all terms are positive, in both tails; nothing cancels.
    """
    z = as_values(z)
    below, above = chance_below(z), chance_below(-z)
    p = chance_below(low) * above + chance_below(high) * below
    q = chance_below(-low) * above + chance_below(-high) * below
    return np.clip(score_of_chance(p, q), low, high)


def score_in_part(z: ArrayLike, low: float, high: float) -> Values:
    """Score within the part between the scores low and high of what has score z in the whole distribution.

    The inverse of `score_in_whole`: -inf up to low, +inf from high. A part without width is a step at low.
    """
    z = as_values(z)
    held = np.clip(z, low, high)
    below, above = chance_between(low, held), chance_between(held, high)
    mass = float(chance_between(low, high))
    inside = score_of_chance(below / mass, above / mass) if mass > 0.0 else np.full_like(z, np.nan)
    return np.where(z <= low, -np.inf, np.where(z >= high, np.inf, inside))
