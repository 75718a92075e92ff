"""Second-order Sobol' indices: the share of the variance that comes from two inputs acting together.

S_ij = Var(E[Y | X_i, X_j]) / Var(Y) - S_i - S_j. They need d more tables than first and total indices: B with
column i from A.

Source: Saltelli, Comput. Phys. Commun. 145 (2002) 280, for the estimator, which is SALib's (named in SALib's
source, read in the source). Of a pair, i and j can change places in it; the mean of both is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

import numpy as np
import pandas as pd

from overbank.analysis.groups import Columns
from overbank.analysis.intervals import Array
from overbank.analysis.outputs import heavy_tail, refuse_constant, usable_rows
from overbank.analysis.sensitivity import blocks, standard, with_columns
from overbank.analysis.shares import columns
from overbank.errors import DomainError


@dataclass(frozen=True)
class SecondOrder:
    """Second-order Sobol' indices of one output.

    table : one row a pair: input, other, second, second_low, second_high
    rows, dropped, warning : as of `sensitivity.Indices`
    """

    table: pd.DataFrame
    rows: int
    dropped: int
    warning: str = ""


def pair_blocks(
    scores_A: Array, scores_B: Array, correlation: Array | None = None, groups: Sequence[Columns] | None = None
) -> Iterator[Array]:
    """The tables of `sensitivity.blocks`, then B with each column (or group of columns) in turn from A.

    The first d + 2 of the outputs give first and total indices as well.
    """
    together: list[Columns] = [(j,) for j in range(scores_A.shape[-1])] if groups is None else list(groups)
    mirrored = (with_columns(scores_B, scores_A, group) for group in together)
    return chain(blocks(scores_A, scores_B, correlation, together), mirrored)


def pair_indices(outputs: Array, names: Sequence[str]) -> SecondOrder:
    """Second-order indices with 95 % intervals.

    Parameters
    ----------
    outputs : in the order of `pair_blocks`, shape (R, 2 d + 2, n); nan is a failed run: its row is left out
    names : of the d inputs, or groups

    Raises
    ------
    DomainError : more than 1 % of rows failed; infinite outputs; an output that does not vary; wrong shape
    """
    d = len(names)
    if outputs.ndim != 3 or outputs.shape[1] != 2 * d + 2 or d < 2:
        raise DomainError(
            f"second order: expected outputs of shape (replicates, {2 * d + 2}, samples) for {d} inputs, at "
            f"least two of them; got {outputs.shape}"
        )
    usable = usable_rows(outputs, "second order")
    kept = [table[:, rows] for table, rows in zip(outputs, usable, strict=True)]
    pairs = [table[:2] for table in kept]
    refuse_constant(pairs, "second order")
    found = np.array([_of_replicate(standard(table), d) for table in kept])
    rows = [
        {"input": names[i], "other": names[j], **columns("second", found[:, place])}
        for place, (i, j) in enumerate(combinations(range(d), 2))
    ]
    return SecondOrder(pd.DataFrame(rows), usable.size, int(np.count_nonzero(~usable)), heavy_tail(pairs))


def _of_replicate(y: Array, d: int) -> Array:
    """Second-order index of every pair from one replicate; shape (pairs,)."""
    from SALib.analyze.sobol import second_order  # here: its import takes most of a second

    A, B, from_B, from_A = y[0], y[1], y[2 : d + 2], y[d + 2 :]

    def of_pair(i: int, j: int) -> float:
        return float(second_order(A, from_B[i], from_B[j], from_A[i], B))

    return np.array([0.5 * (of_pair(i, j) + of_pair(j, i)) for i, j in combinations(range(d), 2)])
