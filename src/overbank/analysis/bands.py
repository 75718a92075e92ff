"""A probability as a function of a level or of a blockage, with a 95 % band from independent replicates."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.intervals import Array, Estimate, counted_half_width, join_notes, t_half_width, wilson
from overbank.errors import DomainError


@dataclass(frozen=True)
class Curve:
    """A probability at each of L places, pointwise 95 % band.

    at : levels [m] or blockages [-], ascending, shape (L,)
    probability, low, high : shape (L,)
    replicates : the curve of each replicate, shape (R, L)
    method, note : in words
    effective : effective number of samples at each place, where samples carry weights; else None
    """

    at: Array
    probability: Array
    low: Array
    high: Array
    replicates: Array
    method: str
    note: str = ""
    effective: Array | None = None

    def table(self, at_name: str) -> pd.DataFrame:
        """One row a place: `at_name`, probability, low, high and, where there are weights, effective."""
        columns = {at_name: self.at, "probability": self.probability, "low": self.low, "high": self.high}
        if self.effective is not None:
            columns["effective"] = self.effective
        return pd.DataFrame(columns)


def ascending(grid: Array, what: str) -> Array:
    """The grid as an array, refused unless it rises."""
    places = np.atleast_1d(np.asarray(grid, dtype=np.float64))
    if places.ndim != 1 or not np.all(np.isfinite(places)) or np.any(np.diff(places) <= 0):
        raise DomainError(f"{what}: expected a grid of finite numbers that rise; got {grid!r}")
    return places


def from_means(at: Array, replicates: Array, method: str, note: str = "") -> Curve:
    """Band from smooth (conditional) probabilities: mean over replicates, Student t, kept within [0, 1]."""
    value = np.mean(replicates, axis=0)
    half = t_half_width(replicates)
    if replicates.shape[0] == 1:
        note = join_notes("one replicate: no band", note)
    low, high = np.clip(value - half, 0, 1), np.clip(value + half, 0, 1)
    return Curve(at, value, low, high, replicates, method, note)


def from_counts(at: Array, counts: NDArray[np.int64], trials: NDArray[np.int64], method: str) -> Curve:
    """Band from counted events, counts (R, L) among trials (R,).

    Student t over replicates, no narrower than `least_half_width`; where no sample, or every sample, is an event the
    open end is the exact one-sided limit for independent samples instead.
    """
    if np.any(trials < 1):
        raise DomainError(f"{method}: a replicate has no sample left; all of its samples failed")
    shares, total = counts / trials[:, None], int(trials.sum())
    curve, half = from_means(at, shares, method), counted_half_width(shares, total)
    nothing, everything = wilson(0, total), wilson(total, total)
    never, always = counts.sum(axis=0) == 0, counts.sum(axis=0) == total
    low = np.where(always, everything.low, np.where(never, 0.0, np.maximum(curve.probability - half, 0.0)))
    high = np.where(never, nothing.high, np.where(always, 1.0, np.minimum(curve.probability + half, 1.0)))
    return replace(curve, low=low, high=high)


def inverse(curve: Curve, probability: float, falling: bool, least: float = 0.0) -> Estimate:
    """Where the curve passes a probability, with its interval.

    Parameters
    ----------
    least : half width d below is never less than this; above 0 for a curve in steps, of which both ends count

    The curve is read by straight lines between the places. At the value found, the replicates' own curves
    scatter with Student t half width d; the ends are where the mean curve passes probability - d and + d.
    An end that is off the grid is infinite, and the note says so.
    """
    value = _read(curve, probability, falling)
    notes = [curve.note]
    if not np.isfinite(value):
        side = "above" if value > 0 else "below"
        notes.append(f"lies {side} the range looked at, {curve.at[0]:g} to {curve.at[-1]:g}")
        anchor = curve.at[-1] if value > 0 else curve.at[0]
    else:
        anchor = value
    half = _half_width(curve, anchor)
    if least > 0.0:
        half = max(half, least, _half_width(curve, float(np.nextafter(anchor, -np.inf))))
    if np.isnan(half):
        return Estimate(value, np.nan, np.nan, curve.method, join_notes(*notes))
    ends = sorted(_read(curve, probability + side * half, falling) for side in (-1, 1))
    if np.isfinite(value) and not np.all(np.isfinite(ends)):
        notes.append("an end of the interval lies outside the range looked at")
    return Estimate(value, ends[0], ends[1], curve.method, join_notes(*notes))


def _half_width(curve: Curve, place: float) -> float:
    """Student t half width of the replicates' curves at a place."""
    return float(t_half_width(np.array([np.interp(place, curve.at, row) for row in curve.replicates])))


def _read(curve: Curve, probability: float, falling: bool) -> float:
    """Place at which the mean curve has this probability; infinite when the grid does not reach it."""
    heights = curve.probability[::-1] if falling else curve.probability
    places = curve.at[::-1] if falling else curve.at
    if probability < heights[0]:
        return float(np.inf if falling else -np.inf)
    if probability > heights[-1]:
        return float(-np.inf if falling else np.inf)
    return float(np.interp(probability, heights, places))
