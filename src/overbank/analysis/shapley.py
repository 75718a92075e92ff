"""Shapley effects: shares of the variance that add up to 1 even when inputs depend on each other.

With c(u) = Var(E[Y | X_u]) / Var(Y), the share explained by a subset u of the d inputs,

    Shapley_i = sum over u without i of (c(u + i) - c(u)) / (d C(d-1, |u|)),

the mean gain from learning X_i over every order in which the inputs could become known. All subsets are run,
so that the only error is that of sampling. Two estimates of c(u) are blended, each free of noise at one end:

    mean A (Y_u - B) / Var        exact where u does nothing (Y_u = B)
    1 - mean (A - Y_u)^2 / 2 Var  exact where u does everything (Y_u = A)

A and B being independent runs, centred, and Y_u that of A with all inputs but u drawn anew; the second weighs as
much as the first says c(u) is, over all replicates together.

Source: Song, Nelson & Staum, SIAM/ASA J. Uncertain. Quantif. 4 (2016) 1060, for the effects (from memory,
unverified); the blend: derived here. The tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
import pandas as pd

from overbank.analysis.freezing import Model, frozen_outputs
from overbank.analysis.groups import grouped
from overbank.analysis.intervals import Array
from overbank.analysis.outputs import heavy_tail, refuse_constant, usable_rows
from overbank.analysis.shares import columns, of_replicates
from overbank.errors import DomainError

MOST_PLAYERS = 8
"""Inputs or groups; each one more doubles the runs."""

MEANINGS = {
    "shapley": (
        "the input's fair share of the variance: what learning it takes away, averaged over every order in which "
        "the inputs could become known. The shares add up to 1 and none is negative, but for sampling noise"
    ),
    "first": (
        "the share that would go if the input became known, with all that it tells of its partners: where inputs "
        "depend on each other these shares can add up to more than 1"
    ),
    "total": (
        "the share that would stay if all other inputs became known: where inputs depend on each other it can be "
        "less than the first-order share, because the partners already tell of the input"
    ),
}
"""What the three figures of an input mean."""


@dataclass(frozen=True)
class Shapley:
    """Shapley effects of one output, with first-order and total shares under the same dependence.

    table : one row an input or group: input, then shapley, first and total, each with _low and _high
    rows : samples of each subset; dropped : left out because a run of theirs failed, in any subset
    runs : of the model
    warning : what makes the figures doubtful, in words; empty when nothing does
    """

    table: pd.DataFrame
    rows: int
    dropped: int
    runs: int
    warning: str = ""


def shapley_effects(
    model: Model,
    scores_A: Array,
    scores_B: Array,
    correlation: Array,
    names: Sequence[str],
    groups: Mapping[str, Sequence[str]] | None = None,
) -> Shapley:
    """Shapley effects of a level, or of the 0/1 event of overtopping, with 95 % intervals; 2^d R n runs.

    Parameters
    ----------
    model : correlated normal scores (M, d) -> outputs (M,); nan is a failed run
    scores_A, scores_B : independent normal scores, shape (R, n, d): the two halves of one design with 2d columns
    correlation : of the scores (Gaussian copula), shape (d, d)
    names : of the d inputs
    groups : name of a group -> names of its inputs, which share one figure

    Memory: 8 bytes a run.

    Raises
    ------
    DomainError : more than 8 inputs or groups; more than 1 % of rows failed; infinite outputs; an output that
        does not vary; bad correlation, scores or groups
    """
    players = grouped(names, groups)
    refuse_many(len(players))
    outputs = frozen_outputs(model, scores_A, scores_B, correlation, list(players.values()))
    usable = usable_rows(np.moveaxis(outputs, 1, 0), "Shapley effects")
    kept = [outputs[:, replicate, rows] for replicate, rows in enumerate(usable)]
    pairs = [table[[0, -1]] for table in kept]
    refuse_constant(pairs, "Shapley effects")
    centre = float(np.mean(np.concatenate(pairs, axis=1)))
    closed, wholes = _closed([table - centre for table in kept])
    return Shapley(
        effects_table(list(players), closed, wholes),
        usable.size,
        int(np.count_nonzero(~usable)),
        outputs.size,
        heavy_tail(pairs),
    )


def refuse_many(players: int) -> None:
    """Refuse more inputs or groups than can be had."""
    if players > MOST_PLAYERS:
        raise DomainError(
            f"Shapley effects: expected at most {MOST_PLAYERS} inputs or groups; got {players}, which would take "
            f"{1 << players} runs a sample. Put inputs into groups: those of one structure, or those one survey settles"
        )


def _closed(centred: list[Array]) -> tuple[Array, Array]:
    """Var(E[Y | X_u]) of every subset, shape (2^g, R), and the variance (R,), from centred outputs (2^g, n)."""
    wholes = np.array([np.mean(y[[0, -1]] ** 2) for y in centred])
    product = np.array([np.mean(y[-1] * (y - y[0]), axis=1) for y in centred]).T
    difference = wholes - 0.5 * np.array([np.mean((y[-1] - y) ** 2, axis=1) for y in centred]).T
    return _blend(product, difference, wholes), wholes


def _blend(product: Array, difference: Array, wholes: Array) -> Array:
    """Either estimate where it is the better one; the last subset explains the whole.

    The weight is made twice, the second time from the blend itself, which is less noisy than the product: noise in
    the weight would draw shares near 1 downwards.
    """
    blend = product
    for _ in range(2):
        weight = np.clip(blend.mean(axis=1, keepdims=True) / wholes.mean(), 0.0, 1.0)
        weight[-1] = 1.0
        blend = (1.0 - weight) * product + weight * difference
    return blend


def effects_table(players: list[str], closed: Array, wholes: Array) -> pd.DataFrame:
    """Shapley, first-order and total shares from what each subset explains in each replicate, shape (2^d, R)."""
    d, everyone = len(players), len(closed) - 1
    rows: list[dict[str, str | float]] = []
    for i, name in enumerate(players):
        own = 1 << i
        without = [subset for subset in range(everyone + 1) if not subset & own]
        weights = np.array([1.0 / (d * comb(d - 1, subset.bit_count())) for subset in without])
        gains = closed[[subset | own for subset in without]] - closed[without]
        parts = {"shapley": weights @ gains, "first": closed[own], "total": wholes - closed[everyone ^ own]}
        rows.append({"input": name})
        for kind, part in parts.items():
            rows[-1].update(columns(kind, of_replicates(part, wholes)))
    return pd.DataFrame(rows)
