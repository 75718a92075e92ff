"""The uncertain numbers of one problem: named, dependent, and ready to be sampled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overbank.uncertain.checks import expect
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import Design, scores
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.scores import Values


@dataclass(frozen=True)
class Survey:
    """What a survey of one number would leave and cost.

    Parameters
    ----------
    sd_after : standard deviation that would be left, in the unit of the number; 0 for exact knowledge
    cost : in money
    """

    sd_after: float
    cost: float

    def __post_init__(self) -> None:
        for name, number in (("sd_after", self.sd_after), ("cost", self.cost)):
            expect(math.isfinite(number) and number >= 0.0, f"{name} of 0 or more", number)


@dataclass(frozen=True)
class Input:
    """One uncertain number.

    Parameters
    ----------
    name : its dotted path in the study
    distribution : what is known of it
    basis : where that comes from; None is listed in the report as a gap
    survey : what a survey would leave and cost, when one is offered
    """

    name: str
    distribution: Distribution
    basis: str | None = None
    survey: Survey | None = None


@dataclass(frozen=True)
class Inputs:
    """All uncertain numbers of a problem, in the order of their columns, and their dependence."""

    items: tuple[Input, ...]
    copula: Copula

    def __post_init__(self) -> None:
        expect(
            self.names == self.copula.names,
            "the copula's names in the order of the inputs",
            f"inputs {', '.join(self.names)} and copula {', '.join(self.copula.names)}",
        )

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(item.name for item in self.items)

    @property
    def dimension(self) -> int:
        return len(self.items)

    def index(self, name: str) -> int:
        """Column of the number with this name."""
        expect(name in self.names, f"an uncertain number, one of {', '.join(self.names)}", repr(name))
        return self.names.index(name)

    def medians(self) -> Values:
        """Median of each number [d]."""
        return np.array([item.distribution.median for item in self.items])

    def values(self, z: Values) -> Values:
        """Physical values from correlated normal scores [..., d]; a column lies together in memory."""
        columns = np.empty((self.dimension, *z.shape[:-1]))
        for j, item in enumerate(self.items):
            columns[j] = item.distribution.value(z[..., j])
        return np.moveaxis(columns, 0, -1)

    def sample(self, design: Design, samples: int, seed: int, replicates: int) -> tuple[Values, Values]:
        """Correlated normal scores and physical values, both [replicates, samples // replicates, d]."""
        z = self.copula.correlate(scores(design, samples, self.dimension, seed, replicates))
        return z, self.values(z)
