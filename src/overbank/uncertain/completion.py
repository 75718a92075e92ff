"""Correlations of which only some are stated: the others by the greatest determinant.

Of all positive definite matrices with the stated entries the one with the greatest determinant is unique, and its
inverse is 0 wherever nothing was stated: numbers of which nothing is said together depend on each other only through
the others. In a chain, r13 = r12 r23. It is found entry by entry: with K the inverse, one that is not stated goes to

    r_ab + K_ab / (K_aa K_bb - K_ab^2),

which makes K_ab 0 and raises the determinant. Where the stated entries with 0 elsewhere are not positive definite, all
stated ones grow from 0 together, and the others with them.

Source: the property is that of Gaussian models with stated margins (Dempster 1972, Biometrics 28, 157; from memory,
unverified); the tests hold worked examples.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from overbank.uncertain.scores import Values

SMALLEST_EIGENVALUE = 1e-8
"""Below this the correlations leave no freedom to some combination of the numbers: not positive definite."""

SETTLED, MOST_ROUNDS = 1e-12, 500
"""Rounds over the entries end when none of them moves by more, or after so many."""

LEAST_STEP = 1e-4
"""The stated entries are not looked at more closely than this as they grow together, as a share of themselves."""


def completed(stated: Callable[[float], Values], free: NDArray[np.bool_]) -> tuple[Values, float]:
    """The matrix, and the greatest share of the stated correlations that can be had: 1 where they can all hold.

    Parameters
    ----------
    stated : share -> the matrix with the stated correlations multiplied by the share, and 0 where nothing is stated
    free : where nothing is stated, off the diagonal, shape (d, d)
    """
    joined = np.linalg.matrix_power((~free).astype(np.float64), len(free)) > 0.0
    pairs = np.argwhere(np.triu(free & joined, 1))
    matrix, reached, step = stated(0.0), 0.0, 1.0
    while reached < 1.0:
        share = min(1.0, reached + step)
        trial = np.where(free, matrix, stated(share))
        if _definite(trial):
            matrix, reached = _filled(trial, pairs), share
        elif step > LEAST_STEP:
            step *= 0.5
        else:
            return np.where(free, matrix, stated(1.0)), reached
    return matrix, 1.0


def _definite(matrix: Values) -> bool:
    return bool(np.linalg.eigvalsh(matrix)[0] > SMALLEST_EIGENVALUE)


def _filled(matrix: Values, pairs: NDArray[np.intp]) -> Values:
    """The greatest determinant over the entries `pairs`, from a positive definite matrix."""
    found = matrix.copy()
    for _ in range(MOST_ROUNDS):
        largest = 0.0
        for a, b in pairs:
            inverse = np.linalg.inv(found)
            move = inverse[a, b] / (inverse[a, a] * inverse[b, b] - inverse[a, b] ** 2)
            found[a, b] += move
            found[b, a] = found[a, b]
            largest = max(largest, abs(move))
        if largest < SETTLED:
            break
    return found
