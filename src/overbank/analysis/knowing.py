"""What knowing more before choosing among arrangements is worth over the life, one survey or several together.

Each state of knowledge i has a cost over the life C_a(i) of every arrangement a. Today the least mean cost is chosen.
Had surveys given the results k first, the arrangement with the least E[C_a | k] would have been. The difference,

    min_a E[C_a] - E[ min_a E[C_a | k] ],

is never negative. Here E[C_a - C_today | k] is fitted by least squares on 1, k, k beyond each of some bends, and the
products of different results, to the states of all replicates but one, and the choice that the fit tells is tried on
the states left out. What is saved there is an unbiased figure of what that way of choosing saves: a fit to noise gains
nothing, unlike one tried on the states that it was fitted to. A better way of choosing may save more, so that the
figure errs to the low side where costs bend sharply in the results: by a tenth at the pond of the tests.

Source: preposterior analysis, Raiffa & Schlaifer 1961; regression on samples, Strong, Oakley & Brennan, Med. Decis.
Making 34 (2014) 311 (named in a stored page); trying it on states left out is ours. The tests compare with the closed
form for a normal benefit, s phi(m/s) + m Phi(m/s) - max(m, 0), and with quadrature.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from overbank.analysis.intervals import Array, Estimate, over_replicates
from overbank.errors import DomainError

METHOD = "choice fitted to other states and tried on these, Student t over replicates"
UPPER = "least cost in each state, Student t over replicates"

BENDS = (-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5)
"""Places at which the fit may bend, in standard deviations of a result."""

LEAST_REPLICATES = 3
"""One of them is left out, and the others must still have scatter."""

STATES_A_TERM = 10
"""States that the fit must have for each of its terms; where there are fewer it is a straight one."""


def saved(costs: Array, results: Array) -> Estimate:
    """What choosing after the results saves, on average [money].

    Parameters
    ----------
    costs : over the life of each arrangement in every state of knowledge, shape (A, R, S) [money]
    results : what the surveys would give in each state, in any unit, shape (R, S, m)

    Raises
    ------
    DomainError : fewer than two arrangements or three replicates, shapes that differ, or a cost without a number
    """
    _check(costs, results)
    today = least(costs)
    dearer = costs - costs[today]
    terms = _terms(results)
    replicates = costs.shape[1]
    each = []
    for left_out in range(replicates):
        others = [k for k in range(replicates) if k != left_out]
        known = terms[others].reshape(-1, terms.shape[-1])
        fitted, *_ = np.linalg.lstsq(known, dearer[:, others].reshape(len(costs), -1).T)
        chosen = np.argmin(terms[left_out] @ fitted, axis=1)
        each.append(-np.mean(np.take_along_axis(dearer[:, left_out], chosen[np.newaxis], axis=0)))
    return over_replicates(np.array(each), METHOD)


def least(costs: Array) -> int:
    """Place of the arrangement with the least mean cost; the first of equal ones."""
    return int(np.argmin(np.mean(costs, axis=(1, 2))))


def everything(costs: Array) -> Estimate:
    """What knowing everything but each flood's own numbers would save [money]: no survey can save more.

    The floods of a state tell its cost with an error of their own, which makes this figure too large, never too small.
    """
    _check(costs)
    return over_replicates(np.mean(costs[least(costs)] - costs.min(axis=0), axis=1), UPPER, (0.0, np.inf))


def in_growing_sets(names: Sequence[str], net: dict[str, float]) -> tuple[tuple[str, ...], ...]:
    """Each by itself, then together: the one with the best net worth alone, with the next, and so on up to all."""
    ranked = sorted(names, key=lambda name: -net[name])
    return tuple((name,) for name in ranked) + tuple(tuple(ranked[:n]) for n in range(2, len(ranked) + 1))


def _terms(results: Array) -> Array:
    """1, each result, what it is beyond each bend, products of two (R, S, T); the first two where states are few."""
    spread = np.std(results, axis=(0, 1))
    told = (results - np.mean(results, axis=(0, 1))) / np.where(spread > 0.0, spread, 1.0)
    each = list(np.moveaxis(told, -1, 0))
    columns = [np.ones(told.shape[:-1]), *each]
    more = [np.maximum(one - bend, 0.0) for one in each for bend in BENDS]
    more += [one * other for one, other in combinations(each, 2)]
    if (len(columns) + len(more)) * STATES_A_TERM <= told[..., 0].size:
        columns += more
    return np.stack(columns, axis=-1)


def _check(costs: Array, results: Array | None = None) -> None:
    if costs.ndim != 3 or costs.shape[0] < 2 or costs.shape[1] < LEAST_REPLICATES or not np.all(np.isfinite(costs)):
        raise DomainError(
            "worth over the life: expected a cost of two arrangements or more in every state of three replicates or "
            f"more; got {costs.shape}, {np.count_nonzero(~np.isfinite(costs))} of them without a number"
        )
    if results is not None and (results.ndim != 3 or results.shape[:2] != costs.shape[1:] or results.shape[2] < 1):
        raise DomainError(f"worth over the life: expected results of {costs.shape[1:]} states; got {results.shape}")
