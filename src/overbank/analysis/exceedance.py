"""Exceedance curve: the probability of a level, or of a depth over the bank, higher than each of a grid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import reduce
from operator import add

import numpy as np
from numpy.typing import NDArray

from overbank._jit import threads
from overbank.analysis.bands import Curve, ascending, from_counts, from_means, inverse
from overbank.analysis.crossings import fill_crossings
from overbank.analysis.intervals import (
    INDEPENDENT,
    Array,
    Estimate,
    join_notes,
    order_statistic_quantile,
    replicated_quantile,
)
from overbank.analysis.ladder import Law, check_nodes, dips, tail_probability
from overbank.errors import DomainError

PIECE = 1 << 15
"""Most level-sample pairs worked on at a time by a core: they stay in its cache."""


LEAST_ALIKE, ALIKE = 3, 0.1
"""So many samples of one level, and such a share of those between two levels of the grid, make a step of the curve."""


@dataclass(frozen=True)
class Counted:
    """What some samples of every replicate add to an exceedance curve.

    at : levels h of the grid [m], shape (L,)
    sums : of their conditional probabilities of each level, shape (R, L)
    entered : samples that entered, shape (R,)
    stood_in : those of them whose plain count stands in
    given : samples, with those that failed and are left out
    """

    at: Array
    sums: Array
    entered: NDArray[np.int64]
    stood_in: int
    given: int

    def __add__(self, other: Counted) -> Counted:
        """Both together, on the same grid."""
        sums, entered = self.sums + other.sums, self.entered + other.entered
        return Counted(self.at, sums, entered, self.stood_in + other.stood_in, self.given + other.given)


def count(
    nodes: Array,
    levels: Array,
    grid: Array,
    *,
    score_below: Callable[[Array], Array],
    conditional_mean: Array | float = 0.0,
    conditional_spread: float = 1.0,
    own_levels: Array,
    tolerance: float,
    law: Law | None = None,
) -> Counted:
    """P(H > h) for every h of the grid from one ladder, summed over the samples of every replicate.

    For each sample and each h the integrated input's value at which the level passes h comes from the same
    monotone interpolation as the critical value, and its probability from the same `tail_probability`.

    Parameters
    ----------
    nodes : of the integrated input, ascending, shape (K,)
    levels : level, or depth over the bank, at the nodes [m], shape (K, R, N); +inf exceeds every h, nan is a failed run
    grid : levels h [m], ascending, shape (L,)
    score_below, conditional_mean, conditional_spread : of the integrated input, as for `ladder.tail_probability`
    law : of the integrated input given the others (R, N), in place of mean and spread, as for `ladder.tail_probability`
    own_levels : level with the sampled value of the integrated input [m], shape (R, N); stands in where the ladder
        failed, and for the h that a fall of more than `tolerance` [m] goes through

    Raises
    ------
    DomainError : grid or nodes not ascending
    """
    check_nodes(nodes)
    places = ascending(grid, "exceedance")
    mean = np.broadcast_to(np.asarray(conditional_mean, dtype=np.float64), own_levels.shape)
    step = max(1, PIECE // places.size)
    replicates, samples = own_levels.shape

    def piece_sum(piece: tuple[int, slice]) -> tuple[Array, int, int]:
        replicate, part = piece
        curves = levels[:, replicate, part]
        own = own_levels[replicate, part]
        whole = ~np.any(np.isnan(curves), axis=0)
        lowest, highest = dips(curves, tolerance)
        fell = (lowest < highest) & whole
        lost = fell & np.isnan(own)  # nothing can stand in
        kept = whole & ~lost
        found = np.empty((places.size, int(np.count_nonzero(kept))))
        fill_crossings(nodes, np.ascontiguousarray(curves[:, kept].T), places, found)
        own_law = None if law is None else law[replicate, part][kept]
        tails = tail_probability(found, score_below, mean[replicate, part][kept], conditional_spread, own_law)
        if fell.any():
            through = (lowest[kept] <= places[:, None]) & (places[:, None] < highest[kept])
            tails = np.where(through, own[kept] > places[:, None], tails)
        plain_part = own[~whole & ~np.isnan(own)]
        above = np.sum(plain_part[None, :] > places[:, None], axis=1)
        stood_in = plain_part.size + int(np.count_nonzero(fell & kept))
        return tails.sum(axis=1) + above, found.shape[1] + plain_part.size, stood_in

    pieces = [(r, slice(a, min(a + step, samples))) for r in range(replicates) for a in range(0, samples, step)]
    with ThreadPoolExecutor(threads()) as pool:
        results = list(pool.map(piece_sum, pieces))
    sums, entered = np.zeros((replicates, places.size)), np.zeros(replicates, dtype=np.int64)
    for (replicate, _), (total, valid, _) in zip(pieces, results, strict=True):
        sums[replicate] += total
        entered[replicate] += valid
    return Counted(places, sums, entered, sum(each for _, _, each in results), own_levels.size)


def conditional(parts: Sequence[Counted]) -> Curve:
    """The exceedance curve of all samples counted: the mean of their conditional probabilities, replicate by replicate.

    Raises
    ------
    DomainError : a replicate without any sample left
    """
    whole = reduce(add, parts)
    if np.any(whole.entered == 0):
        raise DomainError("exceedance: a replicate has no sample left; all of its runs failed")
    words = f"plain count in {whole.stood_in} samples where the ladder falls or failed" if whole.stood_in else ""
    note = join_notes(words, _lost_words(whole.given - int(whole.entered.sum()), whole.given))
    means = whole.sums / whole.entered[:, None]
    return from_means(whole.at, means, "threshold method, Student t over replicates", note)


def plain(levels: Array, grid: Array) -> Curve:
    """P(H > h) as the share of sampled levels above each h: a step function.

    Parameters
    ----------
    levels : sampled levels [m], shape (R, N); +inf exceeds every h, nan is a failed run, left out and counted
    grid : levels h [m], ascending, shape (L,)
    """
    places = ascending(grid, "exceedance")
    rows = [np.sort(row[~np.isnan(row)]) for row in np.atleast_2d(levels)]
    trials = np.array([row.size for row in rows])
    counts = trials[:, None] - np.array([np.searchsorted(row, places, side="right") for row in rows])
    result = from_counts(places, counts, trials, "counted levels, Student t over replicates")
    words = _lost_words(levels.size - int(trials.sum()), levels.size)
    return replace(result, note=join_notes(result.note, words))


def quantile(curve: Curve, probability: float, levels: Array | None = None) -> Estimate:
    """Level exceeded with this probability, read off an exceedance curve, with its interval [m].

    Infinite, with a note, when it lies off the grid.

    Parameters
    ----------
    levels : sampled levels [m], shape (R, N); where some of them are alike the curve falls in steps there, and the
        quantile is one of them. By straight lines between the levels of the grid if left out
    """
    if not 0 < probability < 1:
        raise DomainError(f"exceedance: expected a probability between 0 and 1; got {probability}")
    if levels is None:
        return inverse(curve, probability, falling=True)
    return inverse(with_steps(curve, levels), probability, falling=True, least=1.0 / levels.size)


def with_steps(curve: Curve, levels: Array) -> Curve:
    """The curve with its steps at the levels that many samples share: discrete inputs give discrete levels.

    What the curve falls by from one level of the grid to the next is shared out as the samples between the two lie.
    Without such levels it is the curve itself.

    Parameters
    ----------
    curve : exceedance at the levels of a grid
    levels : sampled levels [m], shape (R, N); +inf and nan count for nothing here
    """
    lumps, cells = _lumps(curve.at, levels)
    if lumps.size == 0:
        return curve
    within = np.sort(levels[np.isfinite(levels)])
    end = np.searchsorted(within, curve.at[cells + 1], side="right")
    total = end - np.searchsorted(within, curve.at[cells], side="right")
    at_or_above = (end - np.searchsorted(within, lumps, side="left")) / total
    above = (end - np.searchsorted(within, lumps, side="right")) / total
    at, order = np.unique(np.concatenate([curve.at, np.nextafter(lumps, -np.inf), lumps]), return_index=True)

    def stepped(heights: Array) -> Array:
        lower, fall = heights[..., cells + 1], heights[..., cells] - heights[..., cells + 1]
        parts = [heights, lower + fall * at_or_above, lower + fall * above]
        return np.asarray(np.concatenate(parts, axis=-1)[..., order])

    return Curve(
        at=at,
        probability=stepped(curve.probability),
        low=stepped(curve.low),
        high=stepped(curve.high),
        replicates=stepped(curve.replicates),
        method=curve.method,
        note=curve.note,
    )


def _lumps(grid: Array, levels: Array) -> tuple[Array, NDArray[np.intp]]:
    """Levels that many samples share, above one of the grid's and at most the next, and the place of the former."""
    values, counts = np.unique(levels[np.isfinite(levels)], return_counts=True)
    inside = (values > grid[0]) & (values <= grid[-1])
    cells = np.searchsorted(grid, values, side="left") - 1
    in_cell = np.bincount(np.maximum(cells, 0), weights=counts, minlength=grid.size)
    shared = inside & (counts >= LEAST_ALIKE) & (counts >= ALIKE * in_cell[np.clip(cells, 0, grid.size - 1)])
    return values[shared], cells[shared]


def plain_quantile(levels: Array, probability: float, design: str) -> Estimate:
    """Level exceeded with this probability, from the sampled levels (R, N) alone [m].

    Order statistics for independent samples ("monte_carlo"), replicates for any other design.
    """
    if design == INDEPENDENT:
        pooled = levels[~np.isnan(levels)]
        found = order_statistic_quantile(pooled, 1 - probability)
        return replace(found, note=join_notes(found.note, _lost_words(levels.size - pooled.size, levels.size)))
    return replicated_quantile(levels, 1 - probability)


def _lost_words(lost: int, total: int) -> str:
    return f"{lost} of {total} samples failed and are left out" if lost else ""
