"""The search for where a rare event lies: explore wide, then fit, sample and fit again until it settles.

*Exploring*: unless the pilot holds enough events, the scores are drawn two, then three, then four times as wide,
so that events in every direction are seen. *Settling*: a mixture is fitted to all samples so far (`proposals`),
sampled, and fitted again, until it is about as good as the next one would be. Where few samples carry the weight
the weights are flattened first, so that one lucky sample does not decide.

Source: the cross-entropy method, Rubinstein & Kroese (2004), with all rounds kept. From memory, unverified; the
tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.stats import qmc

from overbank.analysis.intervals import Array, effective
from overbank.analysis.proposals import Events, Proposal, fitted, pooled, widened

SPREADS = (2.0, 3.0, 4.0)
"""How wide the scores are drawn, one after the other, until enough events are seen."""

ENOUGH = 32
"""Effective number of samples: of the latest ones, by their probabilities, to end exploring; of all, by their weights,
to fit them. Weights are flattened until it is reached."""

SETTLED = 1.5
"""The search ends when the next proposal would not bring the predicted variance down by more than this factor."""

MOST_ROUNDS = 12

Conditional = Callable[[Array], Array]
"""Independent normal scores (M, d) -> P(over the bank | these scores), (M,); nan where the model failed."""


@dataclass(frozen=True, eq=False)
class Found:
    """Where the event lies.

    proposal : to draw from; None when no event was seen at all
    settled : whether the search came to an end by itself
    evaluations : conditional probabilities computed
    """

    proposal: Proposal | None
    settled: bool
    evaluations: int


def found(conditional: Conditional, z: Array, p: Array, size: int, generator: np.random.Generator) -> Found:
    """Search from a pilot: an ordinary sample z (M, d) and its conditional probabilities p (M,).

    size : samples in each round, a power of two
    """
    search = _Search(conditional, size, generator, z, p)
    search.explore()
    if not np.any(search.probabilities > 0):
        return Found(None, False, search.evaluations)
    proposal, settled = search.settle()
    return Found(proposal, settled, search.evaluations)


def sobol_points(generator: np.random.Generator, samples: int, dimension: int) -> Array:
    """Scrambled Sobol' points, off 0 and 1 by half a unit of their last digit; `samples` a power of two."""
    net = qmc.Sobol(dimension, scramble=True, bits=30, rng=generator)
    return np.asarray(net.random_base2(samples.bit_length() - 1) + 0.5**31)


class _Search:
    """All samples so far, and the proposals that they were drawn from."""

    def __init__(self, conditional: Conditional, size: int, generator: np.random.Generator, z: Array, p: Array) -> None:
        self.conditional, self.size, self.generator = conditional, size, generator
        self.scores, self.probabilities = z, p
        self.proposals, self.counts = [widened(z.shape[1], 1.0)], [len(z)]

    @property
    def evaluations(self) -> int:
        return sum(self.counts[1:])

    def explore(self) -> None:
        latest = self.probabilities
        for spread in SPREADS:
            if effective(latest) >= ENOUGH:
                return
            latest = self._draw(widened(self.scores.shape[1], spread))

    def settle(self) -> tuple[Proposal, bool]:
        proposal = fitted(self._events()[0])
        for _ in range(MOST_ROUNDS):
            self._draw(proposal)
            events, flattened = self._events()
            last, proposal = proposal, fitted(events)
            gain = events.log_variance(last) - events.log_variance(proposal)
            if gain < np.log(SETTLED) and not flattened:
                return proposal, True
        return proposal, False

    def _draw(self, proposal: Proposal) -> Array:
        """One more round; its conditional probabilities."""
        z = proposal.draw(sobol_points(self.generator, self.size, self.scores.shape[1] + 1))
        p = self.conditional(z)
        self.scores, self.probabilities = np.concatenate([self.scores, z]), np.concatenate([self.probabilities, p])
        self.proposals.append(proposal)
        self.counts.append(self.size)
        return p

    def _events(self) -> tuple[Events, bool]:
        """All samples with a probability above 0, and whether their weights had to be flattened."""
        event = self.probabilities > 0  # a failed sample is none
        z = self.scores[event]
        drawn_from = pooled(self.proposals, self.counts).log_ratio(z)
        log_weights = np.log(self.probabilities[event]) - drawn_from
        power = _power(log_weights)
        return Events(z, power * log_weights, drawn_from), power < 1.0


def _power(log_weights: Array) -> float:
    """The largest power of the weights, at most 1, that leaves enough effective samples."""
    logs = log_weights - log_weights.max()
    if effective(np.exp(logs)) >= ENOUGH:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(30):
        power = 0.5 * (low + high)
        low, high = (power, high) if effective(np.exp(power * logs)) >= ENOUGH else (low, power)
    return low
