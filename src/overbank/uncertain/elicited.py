"""What several people think of a number: a beta distribution for each, and their average."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, expit

from overbank.uncertain.averaged import Averaged
from overbank.uncertain.bounded import Beta
from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values
from overbank.uncertain.spline import ScoreSpline

SHARES = (0.05, 0.50, 0.95)
"""Shares that people are asked for where nothing else is said."""

MOST_OFF = 0.1
"""A beta distribution that misses a share by more than this does not say what the person said."""

TOLERANCE = 1e-4
"""Of the table, in the logarithm of the odds of the place between low and high."""

LEAST_TAIL = 0.25
"""Nor does one that leaves less than this share of the chance beyond the outermost quantiles: a tail would be lost."""


@dataclass(frozen=True, init=False)
class Elicited(Family):
    """The linear pool of several people's quantiles: F = sum of w F_i, which keeps their disagreement.

    Each person's F_i is the beta distribution between low and high whose probabilities at the quantiles given lie
    nearest, by least squares, to the shares asked for.

    Parameters
    ----------
    people : of each person the quantiles at the shares, rising
    low, high : ends that nobody thinks can be passed
    weights : of the people, which add up to 1; alike where left out
    shares : of the quantiles, rising; 0.05, 0.50 and 0.95 where left out

    Source: linear opinion pool, and fits by least squares on probabilities, as in the public package SHELF (read in its
    documentation and tests).
    """

    people: tuple[tuple[float, ...], ...]
    low: float
    high: float
    weights: tuple[float, ...] | None
    shares: tuple[float, ...]
    _pool: Averaged = field(init=False, repr=False, compare=False)
    _table: ScoreSpline = field(init=False, repr=False, compare=False)

    def __init__(
        self,
        people: Sequence[Sequence[float]],
        low: float,
        high: float,
        weights: Sequence[float] | None = None,
        shares: Sequence[float] = SHARES,
    ) -> None:
        told = tuple(tuple(float(each) for each in person) for person in people)
        object.__setattr__(self, "people", told)
        object.__setattr__(self, "low", float(low))
        object.__setattr__(self, "high", float(high))
        object.__setattr__(self, "weights", None if weights is None else tuple(float(each) for each in weights))
        object.__setattr__(self, "shares", tuple(float(each) for each in shares))
        self._check()
        members = tuple(_beta(person, self.shares, self.low, self.high) for person in told)
        object.__setattr__(self, "_pool", Averaged(members, self.weights or (1.0 / len(told),) * len(told)))
        table = ScoreSpline(lambda z: self._log_odds(self._pool.value(z)), TOLERANCE, "pool of what people said")
        object.__setattr__(self, "_table", table)

    def _check(self) -> None:
        expect(len(self.people) > 0, "at least one person", "none")
        rising = all(a < b for a, b in zip(self.shares, self.shares[1:], strict=False))
        inside = all(0.0 < share < 1.0 for share in self.shares)
        expect(
            len(self.shares) >= 2 and rising and inside, "two rising shares or more between 0 and 1", list(self.shares)
        )
        for person in self.people:
            expect(len(person) == len(self.shares), f"{len(self.shares)} quantiles of each person", list(person))
            ends = (self.low, *person, self.high)
            expect(
                all(a < b for a, b in itertools.pairwise(ends)),
                "quantiles that rise from low to high",
                list(ends),
            )
        if self.weights is not None:
            sound = len(self.weights) == len(self.people) and all(weight >= 0.0 for weight in self.weights)
            expect(
                sound and abs(math.fsum(self.weights) - 1.0) <= 1e-9,
                "one weight of 0 or more for each person, which add up to 1",
                list(self.weights),
            )

    def _log_odds(self, x: Values) -> Values:
        """ln((x - low)/(high - x)): even where the pool thins out."""
        with np.errstate(divide="ignore"):
            found: Values = np.log(np.maximum(x - self.low, 0.0)) - np.log(np.maximum(self.high - x, 0.0))
        return found

    def _from_log_odds(self, odds: Values) -> Values:
        found: Values = self.low + (self.high - self.low) * expit(odds)
        return found

    def value(self, z: ArrayLike) -> Values:
        return self._table.height(as_values(z), self._from_log_odds, self._pool.value)

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return self._table.score(self._log_odds(x), lambda beyond: self._pool.score(x[beyond]))

    @property
    def support(self) -> tuple[float, float]:
        return self.low, self.high

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self._pool.mean

    @property
    def sd(self) -> float:
        return self._pool.sd

    @property
    def words(self) -> str:
        medians = sorted(member.median for member in self._pool.members)
        several = f"{len(self.people)} people, whose medians go from {medians[0]:.3g} to {medians[-1]:.3g}"
        whose = several if len(self.people) > 1 else "one person"
        return f"pooled from what was asked of {whose}; between {self.low:g} and {self.high:g}"


def _beta(quantiles: Sequence[float], shares: Sequence[float], low: float, high: float) -> Beta:
    """The beta distribution nearest to the quantiles, by least squares on their probabilities."""
    from scipy.optimize import minimize  # slow to fetch, and few studies ask people

    x, p = (np.asarray(quantiles) - low) / (high - low), np.asarray(shares)
    middle = float(np.interp(0.5, p, x))
    spread = float((x[-1] - x[0]) / (p[-1] - p[0])) / 3.0
    size = max(middle * (1.0 - middle) / spread**2 - 1.0, 1.0)

    def loss(logs: Values) -> float:
        a, b = np.exp(np.clip(logs, -20.0, 20.0))
        return float(np.sum((betainc(a, b, x) - p) ** 2))

    start = np.log([middle * size, (1.0 - middle) * size])
    settings = {"xatol": 1e-9, "fatol": 1e-16, "maxiter": 4000}
    found = minimize(loss, start, method="Nelder-Mead", options=settings)
    a, b = (float(each) for each in np.exp(found.x))
    chances = betainc(a, b, x)
    near = bool(np.max(np.abs(chances - p)) <= MOST_OFF)
    kept = chances[0] >= LEAST_TAIL * p[0] and 1.0 - chances[-1] >= LEAST_TAIL * (1.0 - p[-1])
    expect(near and kept, "quantiles that a beta distribution can nearly have", f"{list(quantiles)}, which it misses")
    return Beta(a, b, low, high)
