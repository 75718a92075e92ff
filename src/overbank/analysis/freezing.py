"""Model runs that share a subset of their inputs and nothing else, for inputs that depend on each other.

Scores z of sample A are kept for the frozen inputs u. Those of the free inputs w are drawn anew given them:

    z_w = C_wu C_uu^-1 z_u + L e_w,    L L' = C_ww - C_wu C_uu^-1 C_uw,

C the correlation of the scores (Gaussian copula) and e the independent scores of sample B. The covariance of
the outputs before and after is Var(E[Y | X_u]). Without dependence this is a plain crossing of columns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import compress

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from overbank.analysis.groups import Columns
from overbank.analysis.intervals import Array
from overbank.analysis.sensitivity import check_tables
from overbank.errors import DomainError

Model = Callable[[Array], Array]

ROWS = 2**14
"""So many at a time keep every core busy."""


def frozen_outputs(
    model: Model, scores_A: Array, scores_B: Array, correlation: Array, groups: Sequence[Columns]
) -> Array:
    """The model with every subset of the groups frozen at A's values; shape (2^g, R, n).

    Row `subset` has group k frozen where bit k of the number is set: row 0 shares nothing with the last row,
    which is A itself.

    Parameters
    ----------
    model : correlated scores (M, d) -> outputs (M,)
    scores_A, scores_B : independent scores, shape (R, n, d): the two halves of one design with 2d columns
    correlation : of the scores, shape (d, d)
    groups : columns of each; every column is in one of them

    Raises
    ------
    DomainError : A and B not independent or not finite; not a positive definite correlation matrix
    """
    check_tables(scores_A, scores_B)
    C = checked_correlation(correlation, scores_A.shape[-1])
    own = scores_A @ np.linalg.cholesky(C).T

    def redrawn(subset: int) -> Array:
        frozen = [column for k, group in enumerate(groups) if subset >> k & 1 for column in group]
        return _redrawn(own, scores_B, C, sorted(frozen))

    return np.array(list(of_each(model, map(redrawn, range(1 << len(groups))))))


def of_each(model: Model, tables: Iterable[Array]) -> Iterator[Array]:
    """The model of every table of scores (R, n, d), many rows at a time: a call with few of them costs as much."""
    waiting: list[Array] = []
    for table in tables:
        waiting.append(table)
        if len(waiting) * table[..., 0].size >= ROWS:
            yield from _together(model, waiting)
            waiting = []
    if waiting:
        yield from _together(model, waiting)


def _together(model: Model, tables: Sequence[Array]) -> Array:
    stacked = np.stack(tables)
    return np.asarray(model(stacked.reshape(-1, stacked.shape[-1]))).reshape(stacked.shape[:-1])


def checked_correlation(correlation: Array, inputs: int) -> Array:
    """The correlation matrix of so many inputs, refused unless it is one and positive definite."""
    C = np.asarray(correlation, dtype=np.float64)
    if (
        C.shape != (inputs, inputs)
        or not np.all(np.isfinite(C))
        or not np.allclose(C, C.T, rtol=0, atol=1e-12)
        or not np.allclose(np.diag(C), 1.0, rtol=0, atol=1e-12)
        or np.linalg.eigvalsh(C)[0] <= 0.0
    ):
        raise DomainError(
            f"Shapley effects: expected a positive definite correlation matrix of {inputs} inputs with ones on its "
            f"diagonal; got {C!r}"
        )
    return C


def _redrawn(own: Array, fresh: Array, C: Array, u: list[int]) -> Array:
    """Scores with columns u from `own`, correlated, and the rest drawn given them from `fresh`, independent."""
    w = list(compress(range(len(C)), [column not in u for column in range(len(C))]))
    if not w:
        return own
    z = own.copy()
    weights = cho_solve(cho_factor(C[np.ix_(u, u)]), C[np.ix_(u, w)]) if u else np.empty((0, len(w)))
    spread = np.linalg.cholesky(C[np.ix_(w, w)] - C[np.ix_(w, u)] @ weights)
    z[..., w] = own[..., u] @ weights + fresh[..., w] @ spread.T
    return z
