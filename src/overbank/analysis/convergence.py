"""Are there enough samples? The figure from half of them beside the figure from all, and its way there."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array, Estimate
from overbank.analysis.overtopping import agree
from overbank.errors import DomainError

LEAST, HALVINGS = 32, 5
"""Samples of each replicate from which the way begins at the earliest, and how often all of them are halved at most."""


@dataclass(frozen=True)
class Convergence:
    """Comparison of half the samples with all of them.

    half, full : the figure from half of the samples and from all of them
    wanted : half width of the 95 % interval
    settled : both agree, or differ by no more than the wanted half width, and the interval is as narrow as wanted
    words : the comparison in a sentence
    way : samples, all replicates together, and the figure from them, the fewest first and all of them last
    unit : of the figure; "m" for a level, empty for a share
    """

    half: Estimate
    full: Estimate
    wanted: float
    settled: bool
    words: str
    way: tuple[tuple[int, Estimate], ...]
    unit: str = ""


def settling(
    table: Array, estimate: Callable[[Array], Estimate], wanted_half_width: float, unit: str = ""
) -> Convergence:
    """Compare the estimate from the first half of every replicate with that from the whole.

    The first half of a Sobol' sequence is itself a balanced set of points.

    Parameters
    ----------
    table : what the estimate is made from, shape (R, N): probabilities, depths over the bank, levels, critical values
    estimate : (R, n) -> Estimate
    wanted_half_width : of the 95 % interval, in the unit of the figure
    unit : of the figure
    """
    if table.ndim != 2 or table.shape[1] < 2 or not wanted_half_width > 0:
        raise DomainError(
            "convergence: expected a table (replicates, samples) of at least two samples and a half width "
            f"above 0; got shape {table.shape} and {wanted_half_width}"
        )
    half, full = estimate(table[:, : table.shape[1] // 2]), estimate(table)
    reached = 0.5 * (full.high - full.low)
    narrow = bool(reached <= wanted_half_width)
    neither = bool(np.isnan(half.value) and np.isnan(full.value))
    same = neither or agree(half, full) or abs(half.value - full.value) <= wanted_half_width
    half_said, full_said, low, high, wanted = (
        _figure(number, wanted_half_width, unit)
        for number in (half.value, full.value, full.low, full.high, wanted_half_width)
    )
    figures = f"{half_said} from half of the samples, {full_said} from all of them, 95 % interval {low} to {high}"
    if neither:
        words = f"Settled: {full.note or 'none'}, from half of the samples and from all of them."
    elif not np.isfinite(reached):
        words = f"Cannot tell: {figures}."
    elif narrow and same:
        words = f"Settled: {figures}."
    elif not same:
        words = f"Not settled: {figures}; the two intervals do not overlap, so use more samples."
    else:
        times = float(np.ceil((reached / wanted_half_width) ** 2))
        words = (
            f"Not settled: {figures}; wanted is plus or minus {wanted}, for which up to {times:.0f} times the samples "
            "are needed."
        )
    way = (*_way(table, estimate), (table[:, : table.shape[1] // 2].size, half), (table.size, full))
    return Convergence(half, full, wanted_half_width, neither or (narrow and same), words, way, unit)


def parts(samples: int) -> tuple[int, ...]:
    """The first samples of every replicate by which a figure is looked at: ever more, half, all of them."""
    few = [samples >> halving for halving in range(HALVINGS, 1, -1)]
    return (*(part for part in few if part >= LEAST), samples // 2, samples)


def _way(table: Array, estimate: Callable[[Array], Estimate]) -> Iterator[tuple[int, Estimate]]:
    """The figure from ever more samples, before half of them; a part that gives none is passed over."""
    for samples in parts(table.shape[1])[:-2]:
        part = table[:, :samples]
        with suppress(DomainError):
            yield part.size, estimate(part)


def _figure(value: float, wanted: float, unit: str) -> str:
    """To a tenth of what is wanted."""
    if math.isnan(value):
        return "none"
    return f"{value:.{max(0, math.ceil(1.0 - math.log10(wanted)))}f} {unit}".rstrip()
