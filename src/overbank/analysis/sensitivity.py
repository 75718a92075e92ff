"""Which inputs drive a result: first-order and total Sobol' indices with honest intervals.

First order S_i = Var(E[Y | X_i]) / Var(Y): the share of the variance that would go if X_i became known.
Total T_i = 1 - Var(E[Y | all but X_i]) / Var(Y): the share that would stay if all others became known.

Two tables of samples, A and B, are crossed: A_i is A with column i from B. The estimators are SALib's; the
crossing is ours and so are the intervals: one index from each independent scramble, Student t over the
scrambles, because resampling rows breaks the structure of Sobol' points.

Source: Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, for both estimators (named in SALib's source,
read in the source); intervals: tested against closed forms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis.intervals import Array, Estimate, over_replicates
from overbank.errors import DomainError

MOST_FAILED = 0.01
"""Above this share of failed rows the indices are refused."""

TOP_SHARE, TOP_VARIANCE = 0.001, 0.5
"""So few samples with so much of the variance: the indices will not settle."""

CHECKED = 1 << 16
"""Samples looked at when checking that the scores are independent."""

DEPENDENT = 0.4
"""A sample correlation that independent columns do not reach, even of few points in many dimensions."""

DUMMY = "(dummy)"


@dataclass(frozen=True)
class Indices:
    """Sobol' indices of one output.

    table : one row an input: input, first, first_low, first_high, total, total_low, total_high; a last row
        "(dummy)" is the noise floor when asked for
    rows : crossed rows given; dropped : rows left out because a run of theirs failed
    warning : what makes the indices doubtful, in words; empty when nothing does
    """

    table: pd.DataFrame
    rows: int
    dropped: int
    warning: str = ""


def blocks(scores_A: Array, scores_B: Array, correlation: Array | None = None) -> Iterator[Array]:
    """The d + 2 tables to run the model on: A, B, then A with each column in turn from B.

    Parameters
    ----------
    scores_A, scores_B : independent normal scores, shape (R, n, d): the two halves of one design with 2d
    columns correlation : normal-score correlation matrix of the inputs, shape (d, d), if there is one

    Yields
    ------
    arrays of shape (R, n, d), one at a time so that memory stays bounded

    Raises
    ------
    DomainError : inputs depend on each other, A and B are not independent, or shapes differ
    """
    if scores_A.shape != scores_B.shape or scores_A.ndim != 3:
        raise DomainError(
            f"sensitivity: expected two tables of shape (replicates, samples, inputs); got {scores_A.shape} "
            f"and {scores_B.shape}"
        )
    _refuse_dependence(scores_A, scores_B, correlation)
    return _crossed(scores_A, scores_B)


def _crossed(scores_A: Array, scores_B: Array) -> Iterator[Array]:
    yield scores_A
    yield scores_B
    for column in range(scores_A.shape[2]):
        mixed = scores_A.copy()
        mixed[:, :, column] = scores_B[:, :, column]
        yield mixed


def _refuse_dependence(scores_A: Array, scores_B: Array, correlation: Array | None) -> None:
    inputs = scores_A.shape[2]
    if correlation is not None and np.any(np.asarray(correlation) != np.eye(inputs)):
        raise DomainError(
            "sensitivity: first-order and total indices by crossing samples need independent inputs; got a "
            "correlation between inputs. Use Shapley effects, or take the dependence out of the study"
        )
    halves = [table.reshape(-1, inputs)[:CHECKED] for table in (scores_A, scores_B)]
    both = np.concatenate(halves, axis=1)
    if both.shape[0] < 2:
        raise DomainError("sensitivity: expected at least two samples")
    observed = np.corrcoef(both, rowvar=False) - np.eye(2 * inputs)
    if np.nanmax(np.abs(observed)) > DEPENDENT:
        raise DomainError(
            "sensitivity: expected independent scores in both tables; got columns with a sample correlation "
            f"of {observed.flat[np.nanargmax(np.abs(observed))]:.2f}. Give the scores before correlating "
            "them, A and B from one design with twice the columns; for dependent inputs use Shapley effects"
        )


def indices(outputs: Array, names: Sequence[str], dummy: bool = True) -> Indices:
    """First-order and total indices with 95 % intervals from the outputs of the crossed tables.

    The dummy row is what sampling noise alone gives an input that does nothing, estimated without the help of
    differencing: covariance of A and B for the first order, and shortfall of A's variance for the total.

    Parameters
    ----------
    outputs : model outputs in the order of `blocks`, shape (R, d + 2, n); nan is a failed run
    names : of the d inputs
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
    if np.any(np.isinf(outputs)):
        raise DomainError(
            f"sensitivity: expected finite outputs; got {int(np.sum(np.isinf(outputs)))} infinite ones. Cap "
            "the levels (at a level beyond any that matters) before asking for indices"
        )
    usable = ~np.any(np.isnan(outputs), axis=1)
    dropped = int(np.count_nonzero(~usable))
    if dropped > MOST_FAILED * usable.size:
        raise DomainError(
            f"sensitivity: {dropped} of {usable.size} rows hold a failed run; more than {MOST_FAILED:.0%} is "
            "refused. Find out which inputs make the runs fail"
        )
    kept = [table[:, mask] for table, mask in zip(outputs, usable, strict=True)]
    _refuse_constant(kept)
    replicates = np.array([_of_replicate(table) for table in kept])
    table = pd.DataFrame([_row(name, replicates[:, :, i]) for i, name in enumerate(names)])
    if dummy:
        floor = np.array([_of_dummy(table) for table in kept])
        table = pd.concat([table, pd.DataFrame([_row(DUMMY, floor)])], ignore_index=True)
    return Indices(table, usable.size, dropped, _heavy_tail(kept))


def _refuse_constant(kept: list[Array]) -> None:
    for table in kept:
        low, high = float(np.min(table[:2])), float(np.max(table[:2]))
        if high - low <= 1e-12 * max(abs(low), abs(high)):
            raise DomainError(
                f"sensitivity: the output does not vary (it is {high:g} in all samples of a replicate), so "
                "no input can be said to drive it"
            )


def _standard(table: Array) -> Array:
    """Centred and scaled by A and B together; SALib takes small variances for none at all."""
    pair = table[:2]
    return np.asarray((table - pair.mean()) / pair.std())


def _of_replicate(table: Array) -> Array:
    """First-order and total index of each input from one replicate; shape (2, d)."""
    from SALib.analyze.sobol import first_order, total_order  # here: its import takes most of a second

    y = _standard(table)
    A, B = y[0], y[1]
    first = [float(first_order(A, mixed, B)) for mixed in y[2:]]
    total = [float(total_order(A, mixed, B)) for mixed in y[2:]]
    return np.array([first, total])


def _of_dummy(table: Array) -> Array:
    """First-order and total index that noise gives an input that does nothing; shape (2,)."""
    y = _standard(table)
    return np.array([np.mean(y[0] * y[1]), 1.0 - np.var(y[0])])


def _row(name: str, of_replicates: Array) -> dict[str, str | float]:
    """One row of the table from the indices of each replicate, shape (R, 2)."""
    first, total = (_interval(of_replicates[:, kind]) for kind in (0, 1))
    return {
        "input": name,
        **{"first": first.value, "first_low": first.low, "first_high": first.high},
        **{"total": total.value, "total_low": total.low, "total_high": total.high},
    }


def _interval(of_replicates: Array) -> Estimate:
    return over_replicates(of_replicates, "crossed samples, Student t over replicates")


def _heavy_tail(kept: list[Array]) -> str:
    """Words when a few samples carry most of the variance."""
    pooled = np.concatenate([table[:2].ravel() for table in kept])
    squares = (pooled - pooled.mean()) ** 2
    top = max(1, int(np.ceil(TOP_SHARE * squares.size)))
    share = float(np.sum(np.partition(squares, -top)[-top:]) / np.sum(squares))
    if share <= TOP_VARIANCE:
        return ""
    return (
        f"{top} of {squares.size} samples carry {share:.0%} of the variance: the output has a very heavy "
        "tail (its variance may not even exist) or is a rare event, and these indices may not settle"
    )
