"""Uncertain numbers where one of them has been settled: in the flood of a given annual probability, say.

With g the normal scores behind the copula, r_i the correlation of g_i with the settled one and s its score,

    e_i = (g_i - r_i s)/sqrt(1 - r_i^2)

are standard normal scores with the partial correlations (r_ij - r_i r_j)/sqrt((1 - r_i^2)(1 - r_j^2)). They are the
scores of the numbers that are left: number i has the score r_i s + sqrt(1 - r_i^2) e_i, or, where it makes a pair with
a tail of its own with the settled one, the score whose inner score given s is e_i. Closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from overbank.uncertain.checks import expect
from overbank.uncertain.dependence import Copula, TailPair
from overbank.uncertain.distributions import Distribution, Family
from overbank.uncertain.pair_tails import Pair
from overbank.uncertain.scores import Values, as_values, chance_below

STEPS = 4001
"""Scores at which a distribution is summed for its mean and spread; an even number of steps, for Simpson's rule."""

REACH = 8.5
"""The outermost of them."""


@dataclass(frozen=True)
class Settled(Family):
    """A number given the normal score of another one with which it goes.

    before : what is known of it without that
    score_of_other : the other number's normal score
    correlation : of the normal scores behind the two
    pair : their dependence, where it has a tail of its own
    """

    before: Distribution
    score_of_other: float
    correlation: float
    pair: Pair | None = None

    def value(self, z: ArrayLike) -> Values:
        return self.before.value(self._outer(as_values(z)))

    def score(self, x: ArrayLike) -> Values:
        return self._inner(self.before.score(x))

    def score_below(self, x: ArrayLike) -> Values:
        return self._inner(self.before.score_below(x))

    def _outer(self, e: Values) -> Values:
        """The score without the other number, from that given it."""
        if self.pair is None:
            return self.correlation * self.score_of_other + math.sqrt(1.0 - self.correlation**2) * e
        finite = np.isfinite(e)
        return np.where(finite, self.pair.outer(np.where(finite, e, 0.0), self.score_of_other), e)

    def _inner(self, z: Values) -> Values:
        """The way back from `_outer`."""
        if self.pair is None:
            return (z - self.correlation * self.score_of_other) / math.sqrt(1.0 - self.correlation**2)
        finite = np.isfinite(z)
        return np.where(finite, self.pair.inner(np.where(finite, z, 0.0), self.score_of_other), z)

    @property
    def support(self) -> tuple[float, float]:
        return self.before.support

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        places = [place for place, _ in self.before.atoms]
        chances = [float(chance_below(self.score(at)) - chance_below(self.score_below(at))) for at in places]
        return tuple(zip(places, chances, strict=True))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        values, weights = self._summed()
        return float(weights @ values)

    @property
    def sd(self) -> float:
        values, weights = self._summed()
        return math.sqrt(max(float(weights @ (values - weights @ values) ** 2), 0.0))

    def _summed(self) -> tuple[Values, Values]:
        """Values at many scores, and the weight of each."""
        z = np.linspace(-REACH, REACH, STEPS)
        weights = np.exp(-0.5 * z**2)
        return self.value(z), weights / weights.sum()

    @property
    def words(self) -> str:
        rarer = float(chance_below(-self.score_of_other))
        return f"{self.before.words}; as it is in a flood of the annual probability {rarer:.6g}"


def settled(
    copula: Copula, name: str, score: float, distributions: tuple[Distribution, ...]
) -> tuple[Copula, tuple[Distribution, ...]]:
    """The numbers but one, given that one's normal score: their dependence, and the distribution of each.

    Parameters
    ----------
    copula : of all numbers
    name : of the settled one, which is the hub of every pair with a tail of its own that it is in
    score : of the settled one
    distributions : of the others, in their order

    Raises
    ------
    ValueError : where a number that goes with the settled one has a pair with a tail of its own with yet another
    """
    j = copula.names.index(name)
    others = [column for column in range(len(copula.names)) if column != j]
    r = copula.correlation[others, j]
    partial = (copula.correlation[np.ix_(others, others)] - np.outer(r, r)) / np.sqrt(np.outer(1.0 - r**2, 1.0 - r**2))
    np.fill_diagonal(partial, 1.0)
    pairs = {each.member: each.pair for each in copula.tails if each.hub == j}
    left = _left(copula, j, others, r)
    found = tuple(
        Settled(given, score, float(own), pairs.get(column)) if own != 0.0 else given
        for column, own, given in zip(others, r, distributions, strict=True)
    )
    return Copula(tuple(copula.names[column] for column in others), partial, left), found


def _left(copula: Copula, j: int, others: list[int], r: Values) -> tuple[TailPair, ...]:
    """The pairs with a tail of their own that the settled number is not in; it must have nothing to do with them."""
    left = []
    for each in copula.tails:
        if each.hub == j:
            continue
        place = others.index(each.hub), others.index(each.member)
        names = f"{copula.names[each.hub]} and {copula.names[each.member]}"
        expect(
            r[place[0]] == 0.0 and r[place[1]] == 0.0,
            f"no dependence on {copula.names[j]} beside one with a tail of its own between {names}",
            "both",
        )
        left.append(TailPair(*place, each.tail, each.pair))
    return tuple(left)
