"""The threshold method: solve for the input value that just overtops, then read its probability.

One input, the *integrated input* (blockage, flow or tailwater: whichever the model rises with), is set to the same
K nodes for every sample of all the other inputs. The depth over the bank, level minus bank, then rises along the nodes,
and the **critical value** x* of a sample is where it passes zero. The water goes over the bank exactly when
the integrated input is x* or more, so

    P(overtop) = E[ P(X >= x* | all other inputs) ],

a smooth integrand in which no event is ever rare.

Convention at equality: a sample overtops when its depth over the bank is *greater* than zero. x* is therefore always
above the last node that does not overtop (by one floating-point step if need be), and P(X >= x*) then counts a
probability that sits on a node, say on clean or on fully blocked, exactly as the plain count would. Let such atoms be
nodes. The nodes are ascending and span the support of the integrated input; what lies beyond the outermost ones is
taken to be like them: for an unbounded input leave less than 1e-9 outside.

The level may dip along the nodes: in a channel with a fast flow it can stand some millimetres lower at a greater flow.
That is no matter unless the dip goes through the bank level (`trusted`).

Source: conditional Monte Carlo, called pre-integration in Griewank, Kuo, Leovey & Sloan, J. Comput. Appl.
Math. 344 (2018) 259; cited from memory, unverified. The tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from overbank.analysis.crossings import fill_crossings
from overbank.analysis.intervals import Array
from overbank.analysis.overtopping import events
from overbank.errors import DomainError

Mask = NDArray[np.bool_]


class Law(Protocol):
    """What the other inputs of each sample say of the integrated input's normal score Z, where that is not a normal
    law."""

    def above(self, score: Array) -> Array:
        """P(Z >= score | the others), any shape that ends in the samples' own; -inf gives 1, +inf gives 0."""
        ...

    def density(self, score: Array) -> Array:
        """Density of Z at the score given the others."""
        ...

    def __getitem__(self, index: Any) -> Law:
        """The same for some of the samples."""
        ...


def check_nodes(nodes: Array) -> None:
    """Refuse nodes that are not at least two finite ascending numbers."""
    if nodes.ndim != 1 or nodes.size < 2 or not np.all(np.isfinite(nodes)) or np.any(np.diff(nodes) <= 0):
        raise DomainError(f"ladder: expected at least two nodes, finite and ascending; got {nodes!r}")


def falls(table: Array, tolerance: float) -> Mask:
    """Where a table (K, ...), along its first axis, drops over `tolerance` below its highest value so far."""
    lowest, highest = dips(table, tolerance)
    return np.asarray(lowest < highest)


def dips(table: Array, tolerance: float) -> tuple[Array, Array]:
    """Lowest and highest value that falls along the nodes go through, for every column of a table (K, ...).

    A fall counts from `tolerance` on, from the highest value so far, and with its own size below and above: between
    the nodes it may reach further. Any value outside is passed once, as far as the nodes can tell. inf and -inf where
    nothing falls.
    """
    highest = table[0]
    lowest_of, highest_of = np.full(table.shape[1:], np.inf), np.full(table.shape[1:], -np.inf)
    for row in table[1:]:
        with np.errstate(invalid="ignore"):  # endless both times: no fall
            drop = highest - row
        fallen = drop > tolerance
        lowest_of = np.where(fallen, np.minimum(lowest_of, row - drop), lowest_of)
        highest_of = np.where(fallen, np.maximum(highest_of, highest + drop), highest_of)
        highest = np.maximum(highest, row)
    return lowest_of, highest_of


def trusted(depths: Array, tolerance: float) -> Mask:
    """Samples without failed node whose depth over the bank (K, ...) no fall takes through zero."""
    lowest, highest = dips(depths, tolerance)
    return np.asarray(~np.any(np.isnan(depths), axis=0) & ~((lowest <= 0.0) & (highest > 0.0)))


@dataclass(frozen=True)
class Crossing:
    """Critical value of the integrated input for each sample, and the two nodes that hold it; all of shape (R, N).

    value : smallest x that overtops; -inf when every x does, +inf when none does, nan for a failed sample
    low, high : neighbouring nodes, the lower one not overtopping; equal to `value` where that is not finite
    depth_low, depth_high : depths over the bank at these two nodes [m]; nan where there are none
    """

    value: Array
    low: Array
    high: Array
    depth_low: Array
    depth_high: Array

    @property
    def solvable(self) -> Mask:
        """Samples whose critical value lies between two nodes, so that it can be polished."""
        return np.isfinite(self.value)


def critical(nodes: Array, depths: Array) -> Crossing:
    """Critical value x* of each sample by monotone piecewise-cubic interpolation between the nodes.

    Parameters
    ----------
    nodes : ascending, shape (K,)
    depths : level minus bank [m], shape (K, R, N); +inf where the water has no way through, nan for a failed run

    Where the depth over the bank is finite at one node and +inf at the next, x* is guessed (`crossings.pole_crossing`);
    `polish` finds it properly.
    """
    check_nodes(nodes)
    table = depths.reshape(nodes.size, -1)
    found = np.empty((1, table.shape[1]))
    fill_crossings(nodes, np.ascontiguousarray(table.T), np.zeros(1), found)
    value = found[0]
    upper = np.argmax(table > 0, axis=0)
    inside = np.isfinite(value)
    lower = np.maximum(upper - 1, 0)
    column = np.arange(value.size)
    shape = depths.shape[1:]
    return Crossing(
        value=value.reshape(shape),
        low=np.where(inside, nodes[lower], value).reshape(shape),
        high=np.where(inside, nodes[upper], value).reshape(shape),
        depth_low=np.where(inside, table[lower, column], np.nan).reshape(shape),
        depth_high=np.where(inside, table[upper, column], np.nan).reshape(shape),
    )


def tail_probability(
    critical_value: Array,
    score_below: Callable[[Array], Array],
    conditional_mean: Array | float = 0.0,
    conditional_spread: float = 1.0,
    law: Law | None = None,
) -> Array:
    """P(X >= x* | all other inputs) for each sample; nan stays nan.

    p = Phi((m - z*) / s), z* = Phi^-1(P(X < x*)), because X never falls as its normal score rises and the
    score given the others is normal with mean m and spread s. P(X < x*) instead of P(X <= x*) counts an atom.

    Parameters
    ----------
    critical_value : x*, any shape; -inf gives 1 and +inf gives 0, exactly
    score_below : x -> Phi^-1(P(X < x)), for finite x; may return -inf or +inf
    conditional_mean : m, same shape, or 0 when the integrated input is independent of the others
    conditional_spread : s, above 0; 1 when independent
    law : takes the place of mean and spread where the score given the others is not normal

    Raises
    ------
    DomainError : spread not above 0
    """
    if not conditional_spread > 0:
        raise DomainError(
            f"tail probability: expected a conditional spread above 0; got {conditional_spread}. The integrated "
            "input is fixed by the others: integrate over another input"
        )
    inside = np.isfinite(critical_value)
    if law is not None:
        scores = critical_value.astype(np.float64)
        scores[inside] = score_below(critical_value[inside])
        return np.where(np.isnan(critical_value), np.nan, law.above(scores))
    probability = np.where(np.isneginf(critical_value), 1.0, np.where(np.isposinf(critical_value), 0.0, np.nan))
    mean = np.broadcast_to(np.asarray(conditional_mean, dtype=np.float64), critical_value.shape)[inside]
    probability[inside] = ndtr((mean - score_below(critical_value[inside])) / conditional_spread)
    return probability


@dataclass(frozen=True)
class Mended:
    """Conditional probabilities after the plain count has stood in where the ladder cannot be trusted.

    probabilities : shape (R, N); nan where the plain run failed too
    replaced : samples in which the plain count stands in
    """

    probabilities: Array
    replaced: int


def mend(probabilities: Array, trusted: Mask, own_depth: Array) -> Mended:
    """Put the plain 0 or 1 of the sample's own run where the ladder fell through the bank level or failed.

    Whether a ladder is trusted does not depend on the sample's own value of the integrated input, so the mixture
    estimates the same probability without bias.

    Parameters
    ----------
    probabilities : conditional probability of each sample, shape (R, N)
    trusted : from `trusted`, shape (R, N)
    own_depth : depth over the bank with the sampled value of the integrated input [m], shape (R, N); nan for a
        failed run
    """
    return Mended(np.where(trusted, probabilities, events(own_depth)), int(np.count_nonzero(~trusted)))
