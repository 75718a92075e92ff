"""How a result changes along one input: E[level | input] and P(overtop | input), from the samples already made.

The pooled samples are sorted by the input and cut into bins of equal count; a value that holds a bin's share of
the samples or more (a blockage of exactly 0) is a bin of its own. Of each bin the mean is taken, with a Student t
interval over the replicates. Inputs may depend on each other: the curve then says what *learning* the input
tells, partners included.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.intervals import Array, join_notes, t_half_width, wilson
from overbank.analysis.outputs import refuse_no_event, usable_rows
from overbank.analysis.shares import of_replicates
from overbank.errors import DomainError

BINS = 24


@dataclass(frozen=True)
class Effect:
    """Mean of an output along one input, pointwise 95 % band; L bins.

    input : name
    at : mean of the input in each bin, in its own unit, ascending; shape (L,)
    mean, low, high : of the output, in its unit (a probability [-]); shape (L,)
    samples : in each bin; shape (L,)
    method, note : in words
    """

    input: str
    at: Array
    mean: Array
    low: Array
    high: Array
    samples: NDArray[np.intp]
    method: str
    note: str = ""

    def table(self) -> pd.DataFrame:
        """One row a bin: input, at, mean, low, high, samples."""
        names = ("at", "mean", "low", "high", "samples")
        return pd.DataFrame({"input": self.input, **{name: getattr(self, name) for name in names}})


def level_given(values: Array, levels: Array, names: Sequence[str], bins: int = BINS) -> tuple[Effect, ...]:
    """E[level | input] along every input.

    Parameters
    ----------
    values : sampled inputs, in their own units, shape (R, N, d)
    levels : [m], or any other output, shape (R, N); nan is a failed run, left out and counted
    names : of the d inputs
    bins : how many

    Raises
    ------
    DomainError : more than 1 % failed; infinite levels; inputs that are not finite; wrong shape
    """
    usable = _checked(values, levels, names, bins)
    return tuple(_effect(name, values[:, :, j], levels, usable, bins) for j, name in enumerate(names))


def overtopping_given(
    values: Array, probabilities: Array, names: Sequence[str], integrated: str | None, bins: int = BINS
) -> tuple[Effect, ...]:
    """P(overtop | input) along every input but the integrated input, from the conditional probabilities.

    The integrated input is integrated out of the probabilities, so they cannot tell anything of it: its curve is
    `by_blockage.given`, from the critical values.

    Parameters
    ----------
    values, names, bins : as for `level_given`
    probabilities : p of each sample, shape (R, N); nan where it is not known
    integrated : name of the integrated input; None when the outputs are the 0/1 events themselves, and every input
        gets a curve

    Raises
    ------
    DomainError : as for `level_given`; p outside 0 to 1; an event that never or always happens
    """
    if integrated is not None and integrated not in names:
        raise DomainError(
            f"curves along the inputs: expected an integrated input among {', '.join(names)}; got {integrated!r}"
        )
    usable = _checked(values, probabilities, names, bins)
    refuse_no_event(probabilities, "curves along the inputs")
    return tuple(
        _as_probability(_effect(name, values[:, :, j], probabilities, usable, bins))
        for j, name in enumerate(names)
        if name != integrated
    )


def _checked(values: Array, outputs: Array, names: Sequence[str], bins: int) -> NDArray[np.bool_]:
    """The samples that can be used, shape (R, N)."""
    if values.ndim != 3 or outputs.shape != values.shape[:2] or values.shape[2] != len(names):
        raise DomainError(
            f"curves along the inputs: expected inputs (replicates, samples, {len(names)}) and outputs "
            f"(replicates, samples); got {values.shape} and {outputs.shape}"
        )
    if not np.all(np.isfinite(values)):
        raise DomainError("curves along the inputs: expected inputs that are finite in every sample")
    if not 2 <= bins <= outputs.size // 2:
        raise DomainError(
            f"curves along the inputs: expected at least two bins, of at least two samples each; got {bins} for "
            f"{outputs.size} samples"
        )
    return usable_rows(outputs[:, None, :], "curves along the inputs")


def _effect(name: str, column: Array, outputs: Array, usable: NDArray[np.bool_], bins: int) -> Effect:
    """Means of the output in the bins of one input, and their band."""
    replicates = column.shape[0]
    replicate = np.broadcast_to(np.arange(replicates)[:, None], column.shape)[usable]
    x, y = column[usable], outputs[usable]
    bin_of = _bins(x, bins)
    used = int(bin_of.max()) + 1
    counts = np.bincount(bin_of, minlength=used)
    at = np.bincount(bin_of, x) / counts
    cell, size = replicate * used + bin_of, replicates * used
    sums = np.asarray(np.bincount(cell, y, size), dtype=np.float64).reshape(replicates, used)
    each = np.asarray(np.bincount(cell, minlength=size), dtype=np.float64).reshape(replicates, used)
    figures = np.stack([of_replicates(sums[:, place], each[:, place]) for place in range(used)], axis=1)
    mean, half = figures.mean(axis=0), t_half_width(figures)
    lost = outputs.size - y.size
    note = join_notes(
        "one replicate: no band" if replicates == 1 else "",
        f"{lost} of {outputs.size} samples failed and are left out" if lost else "",
    )
    method = "means in bins of equal count, Student t over replicates"
    return Effect(name, at, mean, mean - half, mean + half, counts, method, note)


def _bins(x: Array, bins: int) -> NDArray[np.intp]:
    """Number of the bin that each sample is in, rising with x; none is empty."""
    numbers, counts = np.unique(x, return_counts=True)
    atoms = numbers[counts * bins >= x.size]
    rest = x[~np.isin(x, atoms)]
    if rest.size:
        parts = max(1, round(bins * rest.size / x.size))
        cuts = np.quantile(rest, np.arange(1, parts) / parts)
    else:
        cuts = np.empty(0)
    above = np.nextafter(atoms, np.inf)
    edges = np.unique(np.concatenate([cuts, atoms, above]))
    found = np.searchsorted(edges, x, side="right")
    return np.unique(found, return_inverse=True)[1].astype(np.intp)


def _as_probability(effect: Effect) -> Effect:
    """The band within 0 to 1; where all samples of a bin are certain, the exact one-sided limit stands in."""
    low, high = np.clip(effect.low, 0.0, 1.0), np.clip(effect.high, 0.0, 1.0)
    for place, count in enumerate(effect.samples):
        if effect.mean[place] in (0.0, 1.0):
            limit = wilson(round(effect.mean[place]) * int(count), int(count))
            low[place], high[place] = limit.low, limit.high
    return Effect(effect.input, effect.at, effect.mean, low, high, effect.samples, effect.method, effect.note)
