"""A frozen continuous distribution of SciPy, for those who work from Python."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance


@dataclass(frozen=True)
class FromSciPy(Family):
    """Any frozen continuous distribution, such as scipy.stats.weibull_min(1.8, scale=0.3).

    Its own inverse is called for every value, so it is as exact, and as slow, as SciPy makes it.
    """

    frozen: Any

    def __post_init__(self) -> None:
        needed = ("ppf", "isf", "cdf", "sf", "mean", "std", "args", "kwds")
        usable = all(hasattr(self.frozen, name) for name in needed) and not hasattr(self.frozen, "pmf")
        expect(usable, "a frozen continuous distribution of scipy.stats", type(self.frozen).__name__)
        expect(np.isfinite(self.median), "parameters that SciPy accepts", self.words)

    def value(self, z: ArrayLike) -> Values:
        z = as_values(z)
        result = np.full_like(z, np.nan)
        lower, upper = z <= 0, z > 0
        result[lower] = self.frozen.ppf(chance_below(z[lower]))
        result[upper] = self.frozen.isf(chance_below(-z[upper]))
        return result

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return score_of_chance(self.frozen.cdf(x), self.frozen.sf(x))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return float(self.frozen.mean())

    @property
    def sd(self) -> float:
        return float(self.frozen.std())

    @property
    def words(self) -> str:
        given = [f"{number:g}" for number in self.frozen.args]
        given += [f"{name} {number:g}" for name, number in self.frozen.kwds.items()]
        return f"SciPy {self.frozen.dist.name} ({', '.join(given)})"
