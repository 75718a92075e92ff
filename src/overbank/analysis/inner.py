"""How well the floods of a state of knowledge tell its annual probability, and what all states err by alike.

The floods of a state come in two halves that are independent: one net of n points, shifted by a random amount d/n in
every direction, 0 <= d < 1. The mean over such a net is a periodic function of the shift, and its error e(d) has the
mean 0. What the states have in common of that error is taken out by its first harmonics c(d) = cos and sin of 2 pi k d
in every direction (control variates):

    p1 - p2 = b [c(d1) - c(d2)] + rest      least squares over all states; a state's own probability drops out
    p - b [c(d1) + c(d2)]/2                 is its probability with less error, and still without bias
    v = rest^2/4 (N + K)/(N - K)            unbiased estimate of the variance of what is left, K harmonics, N states

The error goes with the state or not: it is taken as alike for all, as here, and in proportion to p, or to 1 - p,
p1 = p [1 + b c(d1)], which gives p1 - p2 = b [p2 c(d1) - p1 c(d2)]. What leaves least is taken, and nothing where
nothing helps or a state would leave 0 to 1. States that never go over, or always, have no error and stay as they are.

Source: control variates are textbook; harmonics of the shift of a net, common to all states, are our own. The tests
compare with quadrature.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array

MOST_WAVES = 2
"""Harmonics in every direction."""

STATES_A_TERM = 8
"""States for each harmonic, sine and cosine, at the least: with fewer fewer are looked for."""

LARGEST = 0.5
"""Share of a probability that an error in proportion may have."""


def by_state(probabilities: Array, weights: Array | None = None) -> Array:
    """Annual probability in each state of knowledge, (R, S, ...), from that in each of its floods, (R, S, M, ...).

    Floods without a number are left out; a state of nothing else has none.

    Parameters
    ----------
    weights : of the floods (R, S, M), where they are not alike
    """
    each = np.ones(probabilities.shape[:3]) if weights is None else weights
    weight = np.where(np.isnan(probabilities), 0.0, each.reshape(*each.shape, *(1,) * (probabilities.ndim - 3)))
    whole = weight.sum(axis=2)
    total = np.where(weight > 0.0, probabilities * weight, 0.0).sum(axis=2)
    return np.where(whole > 0.0, total / np.where(whole > 0.0, whole, 1.0), np.nan)


def told(probabilities: Array, weights: Array | None = None, shifts: Array | None = None) -> tuple[Array, Array]:
    """Annual probability of each state (R, S, ...), and the variance of its inner error.

    The variance is 0 where a state has one flood, for then nothing comes out anew in it.

    Parameters
    ----------
    probabilities : of each flood (R, S, M, ...), the two halves one after the other
    weights : of the floods (R, S, M), where they are not alike
    shifts : of the nets of both halves (R, S, 2, d), within 0 and 1; without them nothing is taken out
    """
    whole, floods = by_state(probabilities, weights), probabilities.shape[2]
    if floods < 2:
        return whole, np.zeros_like(whole)
    parts = (slice(None, floods // 2), slice(floods // 2, None))
    halves = np.stack(
        [by_state(probabilities[:, :, part], None if weights is None else weights[:, :, part]) for part in parts]
    )
    waves = _waves(np.empty((*whole.shape[:2], 2, 0)) if shifts is None else shifts)
    if not waves.size:
        return whole, 0.25 * np.nan_to_num(halves[0] - halves[1]) ** 2
    better = _in_common(halves.reshape(2, waves.shape[1], -1), waves).reshape(halves.shape)
    moved = np.nan_to_num(better.mean(axis=0) - halves.mean(axis=0))
    return whole + moved, 0.25 * np.nan_to_num(better[0] - better[1]) ** 2


def _waves(shifts: Array) -> Array:
    """Harmonics of the shifts of both halves, (2, N, K); none where the states are too few for one."""
    replicates, states, halves, numbers = shifts.shape
    each = np.moveaxis(shifts.reshape(replicates * states, halves, numbers), 1, 0)
    most = min(MOST_WAVES, each.shape[1] // (STATES_A_TERM * 2 * max(numbers, 1)))
    angles = [2.0 * np.pi * k * each for k in range(1, most + 1)]
    return np.concatenate([each[..., :0], *map(np.cos, angles), *map(np.sin, angles)], axis=-1)


def _in_common(halves: Array, waves: Array) -> Array:
    """The halves (2, N, L) without what the states have in common of their error, by harmonics (2, N, K).

    They lie so far apart that a quarter of the square of their difference tells the variance of what is left.
    """
    free = ~(np.isnan(halves).any(axis=0) | np.all(halves == 0.0, axis=0) | np.all(halves == 1.0, axis=0))
    best = given = np.where(free, halves, 0.0)
    apart = given[0] - given[1]
    others = _in_proportion(given, waves, free), 1.0 - _in_proportion(1.0 - given, waves, free)
    for found in (_alike(given, waves, free), *others):
        middle, left = found.mean(axis=0), np.where(free, _widened(found[0] - found[1], waves), 0.0)
        inside = np.all(~free | ((middle >= 0.0) & (middle <= 1.0)), axis=0)
        better = inside & (np.sum(left**2, axis=0) < np.sum(apart**2, axis=0))
        best, apart = np.where(better, middle + 0.5 * np.stack([left, -left]), best), np.where(better, left, apart)
    return np.where(free, best, halves)


def _widened(apart: Array, waves: Array) -> Array:
    """What is left between halves (N, L), as if its factors had not been found from the same states."""
    count, terms = waves.shape[1:]
    return np.asarray(apart * np.sqrt((count + terms) / (count - terms)))


def _alike(halves: Array, waves: Array, free: NDArray[np.bool_]) -> Array:
    """Halves (2, N, L) that err alike in all states that are free to, p + b c, without it."""
    terms = (waves[0] - waves[1])[..., np.newaxis] * free[:, np.newaxis]
    slope = _least_squares(terms, halves[0] - halves[1])
    return np.asarray(halves - waves @ slope)


def _in_proportion(halves: Array, waves: Array, free: NDArray[np.bool_]) -> Array:
    """Halves (2, N, L) that err in proportion, p (1 + b c), without it; as they were where b c is too large."""
    terms = halves[1][:, np.newaxis] * waves[0][..., np.newaxis] - halves[0][:, np.newaxis] * waves[1][..., np.newaxis]
    share = waves @ _least_squares(terms * free[:, np.newaxis], halves[0] - halves[1])
    small = np.all(np.abs(share) <= LARGEST, axis=(0, 1))
    return np.asarray(halves / (1.0 + np.where(small, share, 0.0)))


def _least_squares(terms: Array, apart: Array) -> Array:
    """The factors b (K, L) with which the sum over states of (apart - terms b)^2 is least; terms (N, K, L)."""
    square = np.einsum("nkl,njl->lkj", terms, terms)
    across = np.einsum("nkl,nl->lk", terms, apart)
    return np.asarray(np.einsum("lkj,lj->kl", np.linalg.pinv(square, hermitian=True), across))
