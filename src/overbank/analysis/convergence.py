"""Are there enough samples? The figure from half of them beside the figure from all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array, Estimate
from overbank.analysis.overtopping import agree
from overbank.errors import DomainError


@dataclass(frozen=True)
class Verdict:
    """Comparison of half the samples with all of them.

    settled : both agree, or differ by no more than the wanted half width, and the interval is as narrow as wanted
    words : the comparison in a sentence
    """

    half: Estimate
    full: Estimate
    settled: bool
    words: str


def verdict(table: Array, estimate: Callable[[Array], Estimate], wanted_half_width: float, unit: str = "") -> Verdict:
    """Compare the estimate from the first half of every replicate with that from the whole.

    The first half of a Sobol' sequence is itself a balanced set of points.

    Parameters
    ----------
    table : what the estimate is made from, shape (R, N): probabilities, margins, levels, critical values
    estimate : (R, n) -> Estimate
    wanted_half_width : of the 95 % interval, in the unit of the figure
    unit : for the words
    """
    if table.ndim != 2 or table.shape[1] < 2 or not wanted_half_width > 0:
        raise DomainError(
            "convergence: expected a table (replicates, samples) of at least two samples and a half width "
            f"above 0; got shape {table.shape} and {wanted_half_width}"
        )
    half, full = estimate(table[:, : table.shape[1] // 2]), estimate(table)
    reached = 0.5 * (full.high - full.low)
    narrow = bool(reached <= wanted_half_width)
    same = agree(half, full) or abs(half.value - full.value) <= wanted_half_width
    figures = (
        f"{_figure(half.value, unit)} from half of the samples, {_figure(full.value, unit)} from all of "
        f"them, 95 % interval {_figure(full.low, unit)} to {_figure(full.high, unit)}"
    )
    if not np.isfinite(reached):
        words = f"Cannot tell: {figures}."
    elif narrow and same:
        words = f"Settled: {figures}."
    elif not same:
        words = f"Not settled: {figures}; the two intervals do not overlap, so use more samples."
    else:
        times = float(np.ceil((reached / wanted_half_width) ** 2))
        words = (
            f"Not settled: {figures}; wanted is plus or minus {_figure(wanted_half_width, unit)}, for which "
            f"up to {times:.0f} times the samples are needed."
        )
    return Verdict(half, full, narrow and same, words)


def _figure(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".rstrip()
