"""Shapley effects of the event of overtopping, with what the inputs have to do with each other, and no event counted.

With p = P(over | all inputs but the integrated input S), from the threshold method, and two samples that share the
inputs u and have all others drawn anew given them, the chance that both go over is

    E[p p']                             where S is not among u: given the others, both are independent
    E[P(Z_S >= max(z*, z*') | both)]    where it is: both go over for the same S

z* being the critical score of S. In normal scores the two samples are jointly normal, so S given both is normal too.
The share of the event's variance that u explains is c(u) = (that chance - P^2)/(P (1 - P)), and the Shapley effects
follow from c as in `shapley`. All are means of smooth numbers: a rare event costs no accuracy of counting.

Source: derived here; the tests compare with the bivariate normal distribution, the closed form of a linear model.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from overbank.analysis.freezing import checked_correlation, of_each
from overbank.analysis.groups import grouped
from overbank.analysis.intervals import Array
from overbank.analysis.outputs import heavy_tail, refuse_no_event, refuse_too_rare, usable_rows
from overbank.analysis.sensitivity import check_tables
from overbank.analysis.shapley import Shapley, effects_table, refuse_many
from overbank.errors import DomainError

CriticalScore = Callable[[Array], Array]
"""Correlated normal scores of all inputs (M, d), of which that of the integrated input does not matter -> its critical
score Phi^-1(P(S < s*)), (M,); -inf where every value goes over, +inf where none does, nan for a failed sample."""


PLACES = 9
"""Decimals to which two normal scores are told apart."""


@dataclass(frozen=True, eq=False)
class _Twins:
    """The normal law of the inputs of two samples that share some of them.

    correlation : of the d scores; integrated : column of the integrated input; shared : columns shared, the
        integrated input or not
    """

    correlation: Array
    integrated: int
    shared: list[int]

    @property
    def own(self) -> list[int]:
        """Columns that each sample has for itself, the integrated input left out."""
        return [j for j in range(len(self.correlation)) if j not in self.shared and j != self.integrated]

    def second(self, first: Array, fresh: Array) -> Array:
        """The second sample's scores [..., d], from the first one's and fresh ones; nothing of the integrated input."""
        known = [j for j in range(len(self.correlation)) if j != self.integrated]
        C, across = self.correlation, self._across()
        weights = np.linalg.solve(C[np.ix_(known, known)], across[np.ix_(known, self.own)])
        rest = C[np.ix_(self.own, self.own)] - across[np.ix_(known, self.own)].T @ weights
        found = first.copy()
        found[..., self.own] = first[..., known] @ weights + fresh[..., self.own] @ np.linalg.cholesky(rest).T
        return found

    def integrated_given(self, first: Array, second: Array) -> tuple[Array, float]:
        """Mean and spread of the shared integrated input's score given all other scores of both samples."""
        known = [j for j in range(len(self.correlation)) if j != self.integrated]
        C, across, own = self.correlation, self._across(), self.own
        top = np.hstack([C[np.ix_(known, known)], across[np.ix_(known, own)]])
        both = np.vstack([top, np.hstack([across[np.ix_(known, own)].T, C[np.ix_(own, own)]])])
        to_integrated = np.concatenate([C[known, self.integrated], C[own, self.integrated]])
        weights = np.linalg.solve(both, to_integrated)
        mean = first[..., known] @ weights[: len(known)] + second[..., own] @ weights[len(known) :]
        return mean, float(np.sqrt(1.0 - to_integrated @ weights))

    def _across(self) -> Array:
        """Correlation of every score of the first sample with every one of the second, C_u C_uu^-1 C_u'."""
        u, C = self.shared, self.correlation
        if not u:
            return np.zeros(C.shape)
        return np.asarray(C[:, u] @ np.linalg.solve(C[np.ix_(u, u)], C[u]))


def event_effects(
    critical_score: CriticalScore,
    scores_A: Array,
    scores_B: Array,
    correlation: Array,
    names: Sequence[str],
    integrated: str,
    groups: Mapping[str, Sequence[str]] | None = None,
) -> Shapley:
    """Shapley effects of the event, with first-order and total shares, and 95 % intervals; at most 2^d R n scores.

    Parameters
    ----------
    critical_score : from the threshold method; jointly normal scores, so a pair with a tail of its own counts as the
        normal one of its rank correlation
    scores_A, scores_B : independent normal scores, shape (R, n, d): the two halves of one design with 2d columns
    correlation : of the scores, shape (d, d)
    names : of the d inputs; integrated : the one that is integrated out
    groups : name of a group -> names of its inputs, which share one figure

    Raises
    ------
    DomainError : more than 8 inputs or groups; an unknown integrated input; more than 1 % of rows failed; an event that
        never or always happens, or of which one sample carries more than a tenth; bad correlation, scores or groups
    """
    check_tables(scores_A, scores_B)
    if integrated not in names:
        raise DomainError(f"event effects: expected an integrated input among {', '.join(names)}; got {integrated!r}")
    players = grouped(names, groups)
    refuse_many(len(players))
    correlation, column = checked_correlation(correlation, len(names)), list(names).index(integrated)
    first = scores_A @ np.linalg.cholesky(correlation).T
    shared = [
        sorted(j for k, group in enumerate(players.values()) if subset >> k & 1 for j in group)
        for subset in range(1 << len(players))
    ]
    twins_of = [_Twins(correlation, column, each) for each in shared]
    seconds = [twins.second(first, scores_B) for twins in twins_of]
    (critical, *scores), runs = _once_each(critical_score, [first, *seconds])
    chances = np.empty((len(twins_of), *critical.shape))
    for subset, (twins, second, again) in enumerate(zip(twins_of, seconds, scores, strict=True)):
        if column in twins.shared:
            chances[subset] = _above(np.maximum(critical, again), *twins.integrated_given(first, second))
        else:
            chances[subset] = _above(again, *_alone(correlation, column, second))
    usable = usable_rows(np.moveaxis(chances, 1, 0), "event effects")
    kept = [chances[:, replicate, rows] for replicate, rows in enumerate(usable)]
    pairs = [table[[0, -1]] for table in kept]
    refuse_no_event(np.concatenate(pairs, axis=1), "event effects")
    refuse_too_rare(np.concatenate(pairs, axis=1), "event effects")
    with_integrated = np.array([integrated in _members(players, names, subset) for subset in range(len(chances))])
    closed = np.array([_explained(table, with_integrated) for table in kept]).T
    table = effects_table(list(players), closed, closed[-1])
    return Shapley(table, usable.size, int(np.count_nonzero(~usable)), runs, heavy_tail(pairs))


def _once_each(critical_score: CriticalScore, tables: Sequence[Array]) -> tuple[list[Array], int]:
    """The critical scores of every table of scores, and for how many rows: a table that came before is not run again.

    The integrated input moves no critical score, and no other input but through those that depend on it: most subsets
    with it have the second sample of those without it, but for rounding.
    """
    places = [sha256(np.round(table, PLACES).tobytes()).digest() for table in tables]
    distinct = dict(zip(reversed(places), reversed(tables), strict=True))
    found = dict(zip(distinct, of_each(critical_score, distinct.values()), strict=True))
    return [found[place] for place in places], sum(table[..., 0].size for table in distinct.values())


def _members(players: Mapping[str, Sequence[int]], names: Sequence[str], subset: int) -> set[str]:
    return {names[j] for k, group in enumerate(players.values()) if subset >> k & 1 for j in group}


def _explained(chances: Array, with_integrated: NDArray[np.bool_]) -> Array:
    """Variance of the event that each subset explains, from one replicate's chances (2^g, n)."""
    own, other = chances[-1], chances[0]
    both = np.where(with_integrated[:, np.newaxis], chances, own * chances)
    return np.asarray(np.mean(both - own * other, axis=1))


def _alone(correlation: Array, integrated: int, z: Array) -> tuple[Array, float]:
    """Mean and spread of the integrated input's score given the others of one sample."""
    known = [j for j in range(len(correlation)) if j != integrated]
    weights = np.linalg.solve(correlation[np.ix_(known, known)], correlation[known, integrated])
    return z[..., known] @ weights, float(np.sqrt(1.0 - correlation[known, integrated] @ weights))


def _above(critical: Array, mean: Array, spread: float) -> Array:
    return np.asarray(ndtr((mean - critical) / spread))
