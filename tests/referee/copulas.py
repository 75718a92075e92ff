"""Dependence, written anew: normal scores with the correlation of stated rank correlations, and pairs with tails.

r = 2 sin(pi rho/6) (Pearson 1907, from memory, unverified). Pairs that are not stated get the value that makes the
determinant greatest among all completions, which is the correlation of the paths between them (maximum entropy).
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from referee import tails
from referee.families import Array
from referee.reading import Pair

ROUNDS, CLOSE = 4000, 1e-12


@dataclass(frozen=True)
class Dependence:
    """Numbers by their dotted paths, the correlation of their normal scores, and the pairs with tails."""

    names: tuple[str, ...]
    matrix: Array
    tailed: tuple[Pair, ...]

    @classmethod
    def of(cls, names: Sequence[str], pairs: Sequence[Pair]) -> Dependence:
        """The dependence of these numbers; pairs with others are left out."""
        kept = [pair for pair in pairs if set(pair.between) <= set(names)]
        stated = {tuple(sorted(map(list(names).index, pair.between))): pair for pair in kept}
        matrix = np.eye(len(names))
        for (i, j), pair in stated.items():
            matrix[i, j] = matrix[j, i] = 2.0 * np.sin(np.pi * pair.rank_correlation / 6.0)
        return cls(tuple(names), completed(matrix, set(stated)), tuple(pair for pair in kept if pair.tails))

    def extended(
        self, rng: np.random.Generator, count: int, known: Mapping[str, Array], wanted: Sequence[str]
    ) -> dict[str, Array]:
        """Normal scores of the numbers that are wanted, given those that are known, shape (count,) each."""
        if not wanted:
            return {}
        weights, left = self.given(tuple(known), wanted)
        noise = rng.standard_normal((count, len(wanted)))
        middle = np.column_stack(list(known.values())) @ weights.T if known else 0.0
        scores = dict(zip(wanted, (middle + noise @ np.linalg.cholesky(left).T).T, strict=True))
        return self.bent(scores, known, {name: rng.random(count) for name in self._last(scores)})

    def bent(
        self, scores: Mapping[str, Array], known: Mapping[str, Array], shares: Mapping[str, Array]
    ) -> dict[str, Array]:
        """Scores in which the second of each pair with tails goes with the first; its conditional chance is given.

        Where nothing is said of the first, the second stays as it is.
        """
        found = dict(scores)
        for pair in self.tailed:
            first, second = pair.between if pair.between[1] in scores else pair.between[::-1]
            others = {**found, **known}
            if second in scores and first in others:
                found[second] = tails.partner(pair.tails, pair.rank_correlation, others[first], shares[second])
        return found

    def _last(self, names: Container[str]) -> list[str]:
        """Of some numbers those that follow another one in a pair with tails."""
        seconds = [pair.between[pair.between[1] in names] for pair in self.tailed]
        return [name for name in seconds if name in names]

    def ordered(self, names: Sequence[str]) -> list[str]:
        """The names, those that follow another one in a pair with tails at the end."""
        last = self._last(names)
        return [*(name for name in names if name not in last), *last]

    def chance_above(self, name: str, score: Array, others: Mapping[str, Array]) -> Array:
        """P(the score of a number is above one, given the scores of others)."""
        pair = next((each for each in self.tailed if name in each.between), None)
        if pair is not None:
            first = next(each for each in pair.between if each != name)
            return tails.above(pair.tails, pair.rank_correlation, others[first], score)
        weights, left = self.given(tuple(others), (name,))
        middle = sum((weight * each for weight, each in zip(weights[0], others.values(), strict=True)), np.zeros(1))
        return np.asarray(special.ndtr((middle - score) / np.sqrt(left[0, 0])))

    def given(self, known: Sequence[str], wanted: Sequence[str]) -> tuple[Array, Array]:
        """Regression of some scores on others: weights [wanted, known] and the covariance that is left."""
        a, b = ([self.names.index(name) for name in each] for each in (known, wanted))
        weights = np.asarray(np.linalg.solve(self.matrix[np.ix_(a, a)], self.matrix[np.ix_(a, b)]).T, dtype=np.float64)
        left = self.matrix[np.ix_(b, b)] - weights @ self.matrix[np.ix_(a, b)]
        return weights, np.asarray(left)


def completed(matrix: Array, stated: set[tuple[int, ...]]) -> Array:
    """The completion with the greatest determinant: its inverse is 0 at the free cells (Dempster 1972, from memory).

    Each free cell in turn is set to what makes the two numbers independent given all others, until nothing moves.
    """
    found, size = matrix.copy(), len(matrix)
    touched = sorted({place for pair in stated for place in pair})
    free = [(i, j) for i in touched for j in touched if i < j and (i, j) not in stated]
    for _ in range(ROUNDS if free else 0):
        moved = 0.0
        for i, j in free:
            rest = [k for k in range(size) if k not in (i, j)]
            cell = float(found[i, rest] @ np.linalg.solve(found[np.ix_(rest, rest)], found[rest, j]))
            moved = max(moved, abs(cell - found[i, j]))
            found[i, j] = found[j, i] = cell
        if moved < CLOSE:
            break
    return found
