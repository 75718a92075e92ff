"""Overtopping as a function of blockage, read off the critical blockages of the threshold method."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from overbank.analysis.bands import Curve, ascending, from_counts
from overbank.analysis.intervals import Array, Estimate, counted_half_width, effective, join_notes, replicated_quantile
from overbank.analysis.ladder import Law
from overbank.analysis.learning import quantile
from overbank.errors import DomainError

ATOM = 1e-6
"""A jump of the normal score larger than this is an atom of the distribution, not rounding."""

FEW = 50
"""Fewer effective samples than this make a weighted figure unreliable (common practice, no source)."""


def curve(critical: Array, grid: Array, weights: Array | None = None) -> Curve:
    """P(overtop) with the blockage *set* to each value of the grid: P(b* <= b), all other inputs as sampled.

    Parameters
    ----------
    critical : critical blockage b* of each sample, shape (R, N); -inf always over, +inf never, nan failed
    grid : blockages [-], ascending, shape (L,)
    weights : of the samples, where floods that were seen make some likelier than others, shape (R, N)

    Raises
    ------
    DomainError : grid not ascending, or a replicate without any sample left
    """
    places = ascending(grid, "overtopping by blockage")
    if weights is not None:
        return _weighted_curve(critical, places, weights)
    rows = [np.sort(row[~np.isnan(row)]) for row in np.atleast_2d(critical)]
    counts = np.array([np.searchsorted(row, places, side="right") for row in rows])
    trials = np.array([row.size for row in rows])
    result = from_counts(places, counts, trials, "share of critical blockages, Student t over replicates")
    lost = critical.size - int(trials.sum())
    return replace(result, note=join_notes(result.note, _lost_words(lost, critical.size)))


def given(
    critical: Array,
    grid: Array,
    *,
    score_at: Array,
    score_below: Array,
    conditional_mean: Array | None = None,
    spread: float = 1.0,
    law: Law | None = None,
) -> Curve:
    """P(overtop) *given that* the blockage is each value of the grid, when blockage depends on other inputs.

    Learning the blockage then tells something of its partners (much debris: probably a large flood), so each
    sample of the others counts with weight

        w(b) = phi((z_b - m)/s), or Phi((z_b - m)/s) - Phi((z_b- - m)/s) where b is an atom,

    m and s being the mean and spread of the blockage's normal score given the others; weights are normalised
    by their sum. Nothing can be said at the ends of the support when there is no atom: nan there.

    Parameters
    ----------
    critical : critical blockage of each sample, shape (R, N)
    grid : blockages [-], ascending, shape (L,)
    score_at, score_below : Phi^-1(P(B <= b)) and Phi^-1(P(B < b)) at the grid, shape (L,)
    conditional_mean : m, shape (R, N)
    spread : s, above 0
    law : of the blockage's score given the others (R, N), in place of mean and spread where that is not normal

    Returns
    -------
    Curve with `effective`, the effective number of samples (sum w)^2 / sum w^2 at each place.
    """
    if not spread > 0:
        raise DomainError(f"overtopping given blockage: expected a spread above 0; got {spread}")
    mean = np.zeros(critical.shape) if conditional_mean is None else conditional_mean
    if law is None and np.ptp(mean) == 0:
        result = curve(critical, grid)
        everyone = np.full(result.at.shape, float(np.count_nonzero(~np.isnan(critical))))
        return replace(result, effective=everyone)
    places = ascending(grid, "overtopping given blockage")
    usable = ~np.isnan(critical)
    replicates = np.empty((critical.shape[0], places.size))
    value, alike = np.empty(places.size), np.empty(places.size)
    for place, blockage in enumerate(places):
        weight = _weights(score_at[place], score_below[place], mean, spread, law) * usable
        replicates[:, place], value[place] = _weighted_share(weight, critical <= blockage)
        alike[place] = effective(weight)
    half = counted_half_width(replicates, np.maximum(alike, 1.0))
    notes = [_lost_words(int(np.count_nonzero(~usable)), critical.size)]
    if np.any(alike < FEW):
        notes.append(f"fewer than {FEW} effective samples at {int(np.sum(alike < FEW))} of the blockages")
    return Curve(
        at=places,
        probability=value,
        low=np.clip(value - half, 0, 1),
        high=np.clip(value + half, 0, 1),
        replicates=replicates,
        method="weighted share of critical blockages, Student t over replicates",
        note=join_notes(*notes),
        effective=alike,
    )


def grid(atoms: Sequence[float]) -> Array:
    """Blockages at which the curve is given: from 0 to 1 whatever is assumed of the blockage, with its lumps."""
    return np.unique(np.concatenate([np.linspace(0.0, 1.0, 101), np.asarray(atoms, dtype=np.float64)]))


def largest_within(critical: Array, target: float, weights: Array | None = None) -> Estimate:
    """Largest blockage b, set to from 0 to 1, with P(overtop | blockage = b) <= target.

    1 where even a fully blocked screen meets the target. nan where none meets it, with words; then the high end tells
    up to where one might yet, within the sampling error.

    Parameters
    ----------
    critical : critical blockage of each sample, from a ladder that spans 0 to 1, shape (R, N)
    target : probability of overtopping that is accepted [-]
    weights : of the samples, where they are not alike (`learning.weights`), same shape
    """
    found = replicated_quantile(critical, target) if weights is None else quantile(critical, weights, target)
    method = "quantile of critical blockages, interval by replicates"
    if found.value < 0.0:
        high = float(min(found.high, 1.0)) if found.high >= 0.0 else np.nan
        return Estimate(np.nan, np.nan, high, method, join_notes("none: even clean exceeds the target", found.note))
    words = "even fully blocked meets the target" if found.value > 1.0 else ""
    value, low, high = (float(np.clip(end, 0.0, 1.0)) for end in (found.value, found.low, found.high))
    return Estimate(value, low, high, method, join_notes(words, found.note))


def _weights(score_at: float, score_below: float, mean: Array, spread: float, law: Law | None) -> Array:
    """How likely each sample's other inputs make this blockage, up to a common factor."""
    if law is not None:
        return _weights_by(law, np.full(mean.shape, score_at), np.full(mean.shape, score_below))
    upper, lower = (score_at - mean) / spread, (score_below - mean) / spread
    if score_at > score_below and score_at - score_below > ATOM:
        flip = lower > 0  # differences of small tails, not of numbers close to 1
        return np.asarray(np.where(flip, ndtr(-lower) - ndtr(-upper), ndtr(upper) - ndtr(lower)))
    if not np.isfinite(score_at):
        return np.zeros(mean.shape)
    exponent = -0.5 * upper**2
    return np.asarray(np.exp(exponent - exponent.max()))


def _weights_by(law: Law, at: Array, below: Array) -> Array:
    """The same where the blockage's score given the others is not normal."""
    if at.flat[0] > below.flat[0] and at.flat[0] - below.flat[0] > ATOM:
        return np.asarray(np.maximum(law.above(below) - law.above(at), 0.0))
    if not np.isfinite(at.flat[0]):
        return np.zeros(at.shape)
    density = law.density(at)
    return np.asarray(density / max(float(density.max()), 1e-300))


def _weighted_curve(critical: Array, places: Array, weights: Array) -> Curve:
    """Weighted shares of critical blockages at every place."""
    usable = ~np.isnan(critical)
    found = [_weighted_share(weights * usable, critical <= place) for place in places]
    replicates = np.array([each for each, _ in found]).T
    value = np.array([share for _, share in found])
    half = counted_half_width(replicates, np.maximum(effective(weights * usable), 1.0))
    return Curve(
        at=places,
        probability=value,
        low=np.clip(value - half, 0, 1),
        high=np.clip(value + half, 0, 1),
        replicates=replicates,
        method="weighted share of critical blockages, Student t over replicates",
        note=_lost_words(int(np.count_nonzero(~usable)), critical.size),
    )


def _weighted_share(weight: Array, event: NDArray[np.bool_]) -> tuple[Array, float]:
    """Weighted share of events: of each replicate, linearised about the share of all, and of all together."""
    over, total = np.mean(weight * event, axis=1), np.mean(weight, axis=1)
    if not np.sum(total) > 0:
        return np.full(total.shape, np.nan), np.nan
    share = float(np.sum(over) / np.sum(total))
    return share + (over - share * total) / np.mean(total), share


def _lost_words(lost: int, total: int) -> str:
    return f"{lost} of {total} samples failed and are left out" if lost else ""
