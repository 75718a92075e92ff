"""The probability of overtopping given all inputs but one, for any samples of the others: a short ladder each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from overbank.analysis.polish import DepthAt
from overbank.analysis.short_ladder import Thresholds, critical_values
from overbank.model import Model
from overbank.sampling.integrated_input import IntegratedInput
from overbank.sampling.ladder import ladder_nodes, tail_probability
from overbank.sampling.samples import Array
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
    sign : -1 where its negative is integrated out, see `IntegratedInput`
    """

    model: Model
    name: str
    sign: int = 1

    @cached_property
    def integrated(self) -> IntegratedInput:
        """The integrated input, or its negative."""
        return IntegratedInput(self.model.problem.inputs, self.name, self.sign)

    @cached_property
    def distribution(self) -> Distribution:
        """Of the integrated input, or of its negative."""
        return self.integrated.distribution

    @cached_property
    def nodes(self) -> Array:
        """Values of it on every short ladder."""
        return short_nodes(self.name, self.distribution)

    def probabilities(self, z: Array) -> Array:
        """One for each row of scores z (M, d), whose own column of the integrated input does not matter.

        nan where a run failed; where the level falls along the ladder its first crossing counts, the safe end.
        """
        return self.tried(z)[1]

    def tried(self, z: Array) -> tuple[Array, Array]:
        """Margins at the nodes of the integrated input [m], shape (K, M), and the probabilities, shape (M,)."""
        found = self.thresholds(z)
        return found.depths, tail_probability(found.value, self.distribution.score_below, self.integrated.given(z))

    def critical_scores(self, z: Array) -> Array:
        """Normal score of the integrated input, or of its negative, at which each row (M, d) just goes over.

        -inf where every value does, +inf where none does.
        """
        scores = self.thresholds(z).value
        inside = np.isfinite(scores)
        scores[inside] = self.distribution.score_below(scores[inside])
        return scores

    def without(self, z: Array) -> Array:
        """As `probabilities`, for scores of the other inputs only, shape (M, d - 1)."""
        return self.probabilities(np.insert(z, self.integrated.column, 0.0, axis=1))

    def thresholds(self, z: Array) -> Thresholds:
        """Critical values of the integrated input, or of its negative, for each row of scores z (M, d)."""
        tolerance = TOLERANCE * float(np.ptp(self.nodes))
        return critical_values(self._depth_at(z), self.nodes, len(z), tolerance)

    def _depth_at(self, z: Array) -> DepthAt:
        rows = self.model.problem.inputs.values(z)

        def depth_over_bank(numbers: Array, chosen: NDArray[np.intp]) -> Array:
            asked = rows[chosen]
            asked[:, self.integrated.column] = self.integrated.numbers(numbers)
            return self.model.levels(asked) - self.model.banks(asked)

        return depth_over_bank


def short_nodes(name: str, distribution: Distribution) -> Array:
    """A few values of the integrated input that span its support, atoms among them."""
    scores = (-OUTERMOST, *ndtri(np.array(CHANCES)).tolist(), OUTERMOST)
    return ladder_nodes(name, distribution, BLOCKAGES, scores)
