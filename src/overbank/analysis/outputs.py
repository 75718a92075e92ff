"""What outputs must be before a share of their variance means anything, and what makes such shares doubtful."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array
from overbank.analysis.overtopping import HEAVY_SHARE
from overbank.errors import DomainError

MOST_FAILED = 0.01
"""Above this share of failed rows nothing is answered."""

TOP_SHARE, TOP_VARIANCE = 0.001, 0.5
"""So few samples with so much of the variance: the indices will not settle."""


def usable_rows(outputs: Array, what: str) -> NDArray[np.bool_]:
    """Rows without a failed run, shape (R, n).

    Parameters
    ----------
    outputs : shape (R, blocks, n); nan is a failed run, which spoils its row in all blocks
    what : the analysis, for the messages

    Raises
    ------
    DomainError : infinite outputs; more than 1 % of the rows failed; a replicate without any row left
    """
    endless = int(np.count_nonzero(np.isinf(outputs)))
    if endless:
        raise DomainError(
            f"{what}: expected finite outputs; got {endless} infinite ones. Cap the levels (at a level beyond "
            "any that matters) before asking"
        )
    usable = np.asarray(~np.any(np.isnan(outputs), axis=1))
    dropped = int(np.count_nonzero(~usable))
    if dropped > MOST_FAILED * usable.size:
        raise DomainError(
            f"{what}: {dropped} of {usable.size} rows hold a failed run; more than {MOST_FAILED:.0%} is "
            "refused. Find out which inputs make the runs fail"
        )
    if not np.all(usable.any(axis=1)):
        raise DomainError(f"{what}: expected a sample with a number in every replicate; got a replicate without any")
    return usable


def refuse_constant(samples: Sequence[Array], what: str) -> None:
    """Refuse an output that is the same in all samples of a replicate, or so nearly that its variance is nought."""
    for of_replicate in samples:
        low, high = float(np.min(of_replicate)), float(np.max(of_replicate))
        if high - low <= 1e-12 * max(abs(low), abs(high)) or np.var(of_replicate) == 0.0:
            raise DomainError(
                f"{what}: the output does not vary (it is {high:g} in all samples of a replicate), so no input "
                "can be said to drive it"
            )


def refuse_no_event(probabilities: Array, what: str) -> None:
    """Refuse numbers that are no probabilities, and an event that never or always happens; nan passes."""
    low, high = float(np.nanmin(probabilities)), float(np.nanmax(probabilities))
    if low < 0.0 or high > 1.0:
        raise DomainError(f"{what}: expected probabilities between 0 and 1; got {low:g} to {high:g}")
    for end, words in ((0.0, "never happens (its probability is exactly 0"), (1.0, "is certain (its probability is 1")):
        if low == high == end:
            raise DomainError(f"{what}: the event {words} in all samples), so no input can be said to drive it")


def refuse_too_rare(probabilities: Array, what: str) -> None:
    """Refuse shares of an event of which one sample carries more than a tenth; nan passes."""
    heaviest = float(np.nanmax(probabilities) / np.nansum(probabilities))
    if heaviest > HEAVY_SHARE:
        raise DomainError(
            f"{what}: one sample carries {heaviest:.0%} of the probability of the event: it is too rare for these "
            "samples. Take more of them, or integrate out an input that the event depends on more"
        )


def heavy_tail(samples: Sequence[Array]) -> str:
    """Words when a few samples carry most of the variance; empty when they do not."""
    pooled = np.concatenate([of_replicate.ravel() for of_replicate in samples])
    squares = (pooled - pooled.mean()) ** 2
    top = max(1, int(np.ceil(TOP_SHARE * squares.size)))
    whole = float(np.sum(squares))
    share = float(np.sum(np.partition(squares, -top)[-top:])) / whole if whole > 0.0 else 0.0
    if share <= TOP_VARIANCE:
        return ""
    return (
        f"{top} of {squares.size} samples carry {share:.0%} of the variance: the output has a very heavy "
        "tail (its variance may not even exist) or is a rare event, and these indices may not settle"
    )
