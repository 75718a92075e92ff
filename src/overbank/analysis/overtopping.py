"""Probability of going over the bank, by the plain count and by the threshold method."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import (
    INDEPENDENT,
    Array,
    Estimate,
    join_notes,
    over_replicates,
    share_over_replicates,
    wilson,
)
from overbank.errors import DomainError

HEAVY_SHARE = 0.1
"""No interval when one sample has more than this share of the whole probability (common practice)."""


@dataclass(frozen=True)
class Probability(Estimate):
    """A probability [-] with its 95 % interval.

    samples : how many entered; failed : how many gave no number and were left out
    """

    samples: int = 0
    failed: int = 0


def plain(depths: Array, design: str) -> Probability:
    """Share of samples with a depth over the bank above zero.

    Parameters
    ----------
    depths : level minus bank [m], shape (R, N); +inf goes over, nan is a failed run, left out and counted
    design : name of the sampling design; "monte_carlo" samples are independent and get a Wilson interval, any
        other gets Student t over the R replicates

    Raises
    ------
    DomainError : a replicate has no sample left
    """
    table, failed = _replicates(depths)
    valid = np.count_nonzero(~np.isnan(table), axis=1)
    events = np.count_nonzero(table > 0, axis=1)
    total, count = int(valid.sum()), int(events.sum())
    if design == INDEPENDENT or count in (0, total):
        # without any scatter between replicates Student t would claim certainty; the one-sided limit does not
        estimate = wilson(count, total)
    else:
        estimate = share_over_replicates(events / valid, total, "counted events, Student t over replicates")
    return _with_failures(estimate, total, failed)


def threshold(probabilities: Array) -> Probability:
    """Mean of the conditional probabilities of the threshold method, Student t over replicates.

    Parameters
    ----------
    probabilities : P(X >= x* | all others), shape (R, N); nan is a failed sample, left out and counted

    When every one of them is exactly 0 (or 1) the result is said in words, with the exact one-sided limit on
    the share of other inputs for which it could be different. No interval is given when one sample carries
    more than a tenth of the whole.

    Raises
    ------
    DomainError : a replicate has no sample left
    """
    table, failed = _replicates(probabilities)
    total = int(np.count_nonzero(~np.isnan(table)))
    method = "threshold method, Student t over replicates"
    if np.nanmax(table) <= 0.0 or np.nanmin(table) >= 1.0:
        return _with_failures(_without_doubt(bool(np.nanmax(table) <= 0.0), total), total, failed)
    estimate = over_replicates(np.nanmean(table, axis=1), method, (0.0, 1.0))
    heaviest = float(np.nanmax(table) / np.nansum(table))
    if heaviest > HEAVY_SHARE:
        words = (
            f"one sample carries {heaviest:.0%} of the probability: too rare for these samples, so no "
            "interval is given and the value may be far too low"
        )
        estimate = Estimate(estimate.value, np.nan, np.nan, method, join_notes(estimate.note, words))
    return _with_failures(estimate, total, failed)


def events(depths: Array) -> Array:
    """1 where a depth over the bank [m] is above zero, 0 where it is not, nan for a failed run; any shape."""
    return np.where(np.isnan(depths), np.nan, depths > 0.0)


def agree(first: Estimate, second: Estimate) -> bool:
    """True unless both intervals are known and do not overlap."""
    apart = first.high < second.low or second.high < first.low
    return not apart


def _replicates(table: Array) -> tuple[Array, int]:
    """The table as (R, N) and the count of nan; a replicate of nothing but nan is refused."""
    rows = np.atleast_2d(table)
    missing = np.isnan(rows)
    if rows.size == 0 or np.any(missing.all(axis=1)):
        raise DomainError(
            "probability of overtopping: expected at least one sample with a number in each of "
            f"{rows.shape[0]} replicates; got one without any. All its runs failed"
        )
    return rows, int(np.count_nonzero(missing))


def _without_doubt(never: bool, total: int) -> Estimate:
    """All conditional probabilities exactly 0, or exactly 1."""
    limit = wilson(0 if never else total, total)
    if never:
        words = (
            f"impossible within the bounds of the inputs: in none of {total} samples of the other inputs "
            "does the water go over, whatever the value of the input integrated out"
        )
    else:
        words = (
            f"certain within the bounds of the inputs: in every one of {total} samples of the other inputs "
            "the water goes over, whatever the value of the input integrated out"
        )
    return Estimate(limit.value, limit.low, limit.high, "threshold method, exact one-sided 95 % limit", words)


def _with_failures(estimate: Estimate, samples: int, failed: int) -> Probability:
    """Add the counts, and say what the failures could hide."""
    note = estimate.note
    if failed:
        share = failed / (samples + failed)
        least, most = estimate.value * (1 - share), estimate.value * (1 - share) + share
        words = (
            f"{failed} of {samples + failed} samples failed and are left out; had none or all of them gone "
            f"over, the probability would be {least:.3g} or {most:.3g}"
        )
        note = join_notes(note, words)
    return Probability(
        estimate.value, estimate.low, estimate.high, estimate.method, note, samples=samples, failed=failed
    )
