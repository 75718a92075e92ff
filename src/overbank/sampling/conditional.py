"""The probability of overtopping given all inputs but one, for any samples of the others: a short ladder each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from overbank.analysis import ladder
from overbank.analysis.polish import MarginAt
from overbank.analysis.short_ladder import critical_values
from overbank.model import Model
from overbank.sampling.ladder import ladder_nodes
from overbank.sampling.samples import Array
from overbank.uncertain.dependence import Conditional as ConditionalNormal
from overbank.uncertain.distributions import Distribution

BLOCKAGES = (0.0, 0.5, 0.8, 1.0)
"""Shares of the support on a short ladder over a blockage."""

CHANCES = (0.2, 0.5, 0.8)
"""Chances of an ordinary input at which a short ladder over it stands, besides its ends."""

OUTERMOST = 6.0
"""Normal score of the ends of a ladder over an unbounded input."""

TOLERANCE = 1e-4
"""Accuracy of a critical value, as a share of the ladder's range."""


@dataclass(frozen=True)
class Conditional:
    """P(over the bank | all inputs but the integrated input), for rows of correlated normal scores.

    model : the site
    name : of the integrated input
    """

    model: Model
    name: str

    @cached_property
    def column(self) -> int:
        """Of the integrated input."""
        return self.model.problem.inputs.index(self.name)

    @cached_property
    def distribution(self) -> Distribution:
        """Of the integrated input."""
        return self.model.problem.inputs.items[self.column].distribution

    @cached_property
    def nodes(self) -> Array:
        """Values of the integrated input on every short ladder."""
        return short_nodes(self.name, self.distribution)

    @cached_property
    def _given(self) -> ConditionalNormal:
        return self.model.problem.inputs.copula.conditional(self.column)

    def probabilities(self, z: Array) -> Array:
        """One for each row of scores z (M, d), whose own column of the integrated input does not matter.

        nan where a run failed; where the level falls along the ladder its first crossing counts, the safe end.
        """
        return self.tried(z)[1]

    def tried(self, z: Array) -> tuple[Array, Array]:
        """Margins at the nodes of the integrated input [m], shape (K, M), and the probabilities, shape (M,)."""
        rest = np.delete(z, self.column, axis=1)
        tolerance = TOLERANCE * float(np.ptp(self.nodes))
        found = critical_values(self._margin_at(z), self.nodes, len(z), tolerance)
        tails = ladder.tail_probability(
            found.value, self.distribution.score_below, rest @ self._given.weights, self._given.spread
        )
        return found.margins, tails

    def without(self, z: Array) -> Array:
        """As `probabilities`, for scores of the other inputs only, shape (M, d - 1)."""
        return self.probabilities(np.insert(z, self.column, 0.0, axis=1))

    def _margin_at(self, z: Array) -> MarginAt:
        rows = self.model.problem.inputs.values(z)
        banks = self.model.banks(rows)

        def margin(numbers: Array, chosen: NDArray[np.intp]) -> Array:
            asked = rows[chosen]
            asked[:, self.column] = numbers
            return self.model.levels(asked) - banks[chosen]

        return margin


def short_nodes(name: str, distribution: Distribution) -> Array:
    """A few values of the integrated input that span its support, atoms among them."""
    scores = (-OUTERMOST, *ndtri(np.array(CHANCES)).tolist(), OUTERMOST)
    return ladder_nodes(name, distribution, BLOCKAGES, scores)
