"""Which inputs drive a result: first-order and total Sobol' indices with honest intervals.

First order S_i = Var(E[Y | X_i]) / Var(Y): the share of the variance that would go if X_i became known.
Total T_i = 1 - Var(E[Y | all but X_i]) / Var(Y): the share that would stay if all others became known.

Two tables of samples, A and B, are crossed: A_i is A with column i, or all columns of group i, from B. The
estimators are SALib's; the crossing is ours and so are the intervals: one index from each independent
scramble, Student t over the scrambles, because resampling rows breaks the structure of Sobol' points.

Source: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, for both estimators (named in SALib's source,
read in the source); intervals: tested against closed forms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis.groups import Columns
from overbank.analysis.intervals import Array
from overbank.analysis.outputs import heavy_tail, refuse_constant, usable_rows
from overbank.analysis.shares import columns
from overbank.errors import DomainError

ENOUGH, CHECKED = 1 << 10, 1 << 16
"""With fewer samples chance cannot be told from dependence; so many are looked at."""

DEPENDENT, CERTAIN = 0.4, 6.0
"""A sample correlation, and as many standard errors over replicates, that independent columns do not both reach."""

DUMMY = "(dummy)"


@dataclass(frozen=True)
class Indices:
    """Sobol' indices of one output.

    table : one row an input or group: input, first, first_low, first_high, total, total_low, total_high; a
        last row "(dummy)" is the noise floor when asked for
    rows : crossed rows given; dropped : rows left out because a run of theirs failed
    warning : what makes the indices doubtful, in words; empty when nothing does
    """

    table: pd.DataFrame
    rows: int
    dropped: int
    warning: str = ""


def blocks(
    scores_A: Array, scores_B: Array, correlation: Array | None = None, groups: Sequence[Columns] | None = None
) -> Iterator[Array]:
    """The tables to run the model on: A, B, then A with each column (or group of columns) in turn from B.

    Parameters
    ----------
    scores_A, scores_B : independent normal scores, shape (R, n, d): the two halves of one design with 2d columns
    correlation : normal-score correlation matrix of the inputs, shape (d, d), if there is one. Inputs of one
        group may depend on each other: correlate each table before running the model
    groups : columns of each group, as `groups.grouped(...).values()`; each column by itself when left out

    Yields
    ------
    arrays of shape (R, n, d), one at a time so that memory stays bounded

    Raises
    ------
    DomainError : inputs of different groups depend on each other, A and B are not independent, or shapes differ
    """
    check_tables(scores_A, scores_B)
    together: list[Columns] = [(j,) for j in range(scores_A.shape[2])] if groups is None else list(groups)
    if correlation is not None:
        _refuse_dependence(np.asarray(correlation), together)
    return _crossed(scores_A, scores_B, together)


def _crossed(scores_A: Array, scores_B: Array, groups: list[Columns]) -> Iterator[Array]:
    yield scores_A
    yield scores_B
    for group in groups:
        yield with_columns(scores_A, scores_B, group)


def with_columns(table: Array, other: Array, group: Columns) -> Array:
    """The table with these columns from the other."""
    mixed = table.copy()
    mixed[:, :, group] = other[:, :, group]
    return mixed


def check_tables(scores_A: Array, scores_B: Array) -> None:
    """Refuse tables that are not two of one shape (R, n, d), finite, and independent in all 2 d columns."""
    if scores_A.shape != scores_B.shape or scores_A.ndim != 3:
        raise DomainError(
            f"sensitivity: expected two tables of shape (replicates, samples, inputs); got {scores_A.shape} "
            f"and {scores_B.shape}"
        )
    if not (np.all(np.isfinite(scores_A)) and np.all(np.isfinite(scores_B))):
        raise DomainError("sensitivity: expected finite scores in both tables; got some that are nan or infinite")
    if scores_A.shape[0] * scores_A.shape[1] < 2:
        raise DomainError("sensitivity: expected at least two samples")
    both = np.concatenate([scores_A, scores_B], axis=2)[:, : CHECKED // len(scores_A)]
    found = _dependence(both)
    if found != 0.0:
        raise DomainError(
            "sensitivity: expected independent scores in both tables; got columns with a sample correlation of "
            f"{found:.2f}. Give the scores before correlating them, A and B from one design with twice the columns; "
            "for dependent inputs use Shapley effects"
        )


def _dependence(tables: Array) -> float:
    """A sample correlation between two columns of the tables (R, n, columns) that is no chance; 0 if there is none."""
    replicates, samples, count = tables.shape
    if replicates * samples < ENOUGH or samples < 2:
        return 0.0
    observed = np.array([np.corrcoef(table, rowvar=False) for table in tables]) - np.eye(count)
    mean = observed.mean(axis=0)
    error = np.std(observed, axis=0, ddof=1) / np.sqrt(replicates) if replicates > 1 else np.zeros_like(mean)
    strongest = int(np.argmax(np.abs(mean)))
    beyond = max(DEPENDENT, CERTAIN * float(error.flat[strongest]))
    return float(mean.flat[strongest]) if abs(mean.flat[strongest]) > beyond else 0.0


def _refuse_dependence(correlation: Array, groups: list[Columns]) -> None:
    """Refuse a correlation between inputs of different groups."""
    apart = np.ones(correlation.shape, dtype=np.bool_)
    for group in groups:
        apart[np.ix_(group, group)] = False
    if np.any(correlation[apart] != 0.0):
        raise DomainError(
            "sensitivity: first-order and total indices by crossing samples need independent inputs; got a "
            "correlation between inputs. Put inputs that depend on each other into one group, use Shapley "
            "effects, or take the dependence out of the study"
        )


def indices(outputs: Array, names: Sequence[str], dummy: bool = True) -> Indices:
    """First-order and total indices with 95 % intervals from the outputs of the crossed tables.

    The dummy row is what sampling noise alone gives an input that does nothing, estimated without the help of
    differencing: covariance of A and B for the first order, and shortfall of A's variance for the total.

    Parameters
    ----------
    outputs : model outputs in the order of `blocks`, shape (R, d + 2, n); nan is a failed run
    names : of the d inputs, or groups
    dummy : add the noise floor

    A row is left out whole, in all blocks, when any of its runs failed.

    Raises
    ------
    DomainError : more than 1 % of rows failed; infinite outputs; an output that does not vary; wrong shape
    """
    if outputs.ndim != 3 or outputs.shape[1] != len(names) + 2:
        raise DomainError(
            f"sensitivity: expected outputs of shape (replicates, {len(names) + 2}, samples) for "
            f"{len(names)} inputs; got {outputs.shape}"
        )
    usable = usable_rows(outputs, "sensitivity")
    kept = [table[:, rows] for table, rows in zip(outputs, usable, strict=True)]
    pairs = [table[:2] for table in kept]
    refuse_constant(pairs, "sensitivity")
    found = np.array([_of_replicate(standard(table)) for table in kept])
    if dummy:
        floor = np.array([_of_dummy(standard(pair)) for pair in pairs])
        found = np.concatenate([found, floor[:, :, None]], axis=2)
    rows = [
        {"input": name, **columns("first", found[:, 0, i]), **columns("total", found[:, 1, i])}
        for i, name in enumerate([*names, DUMMY] if dummy else names)
    ]
    return Indices(pd.DataFrame(rows), usable.size, int(np.count_nonzero(~usable)), heavy_tail(pairs))


def standard(table: Array) -> Array:
    """Centred and scaled by A and B together; SALib takes small variances for none at all."""
    pair = table[:2]
    return np.asarray((table - pair.mean()) / pair.std())


def _of_replicate(y: Array) -> Array:
    """First-order and total index of each input from one replicate; shape (2, d)."""
    from SALib.analyze.sobol import first_order, total_order  # here: its import takes most of a second

    A, B = y[0], y[1]
    first = [float(first_order(A, mixed, B)) for mixed in y[2:]]
    total = [float(total_order(A, mixed, B)) for mixed in y[2:]]
    return np.array([first, total])


def _of_dummy(y: Array) -> Array:
    """First-order and total index that noise gives an input that does nothing; shape (2,)."""
    return np.array([np.mean(y[0] * y[1]), 1.0 - np.var(y[0])])
