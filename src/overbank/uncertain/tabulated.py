"""Families given by a list: discrete values with weights, and observed values."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance

SHOWN = 6
"""Values that are spelled out in words; a longer list is only summarised."""


@dataclass(frozen=True, init=False)
class Discrete(Family):
    """Separate values, each with its weight; the weights sum to 1.

    Parameters
    ----------
    values : different numbers, in any order
    weights : probability of each
    labels : word for each, when the numbers are only codes for words
    """

    values: tuple[float, ...]
    weights: tuple[float, ...]
    labels: tuple[str, ...] | None = None
    _rising: Values = field(init=False, repr=False, compare=False)
    _edges: Values = field(init=False, repr=False, compare=False)

    def __init__(self, values: Sequence[float], weights: Sequence[float], labels: Sequence[str] | None = None) -> None:
        object.__setattr__(self, "values", tuple(float(value) for value in values))
        object.__setattr__(self, "weights", tuple(float(weight) for weight in weights))
        object.__setattr__(self, "labels", None if labels is None else tuple(labels))
        self._check()
        rising, chances = np.array(self.atoms).T
        below = np.cumsum(chances)[:-1]
        above = np.cumsum(chances[::-1])[-2::-1]
        object.__setattr__(self, "_rising", rising)
        object.__setattr__(self, "_edges", score_of_chance(below, above))

    def _check(self) -> None:
        expect(len(self.values) > 0, "at least one value", "none")
        expect(all(math.isfinite(value) for value in self.values), "finite values", list(self.values))
        expect(len(set(self.values)) == len(self.values), "values that all differ", list(self.values))
        expect(
            len(self.weights) == len(self.values),
            "one weight for each value",
            f"{len(self.weights)} weights for {len(self.values)} values",
        )
        expect(
            all(math.isfinite(weight) and weight >= 0.0 for weight in self.weights),
            "weights of 0 or more",
            list(self.weights),
        )
        total = math.fsum(self.weights)
        expect(abs(total - 1.0) <= 1e-9, "weights that sum to 1", f"a sum of {total:.10g}")
        if self.labels is not None:
            expect(
                len(self.labels) == len(self.values),
                "one label for each value",
                f"{len(self.labels)} labels for {len(self.values)} values",
            )

    def value(self, z: ArrayLike) -> Values:
        z = as_values(z)
        return np.where(np.isnan(z), z, self._rising[np.searchsorted(self._edges, z, side="left")])

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(np.isnan(x), x, self._ends[np.searchsorted(self._rising, x, side="right")])

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(np.isnan(x), x, self._ends[np.searchsorted(self._rising, x, side="left")])

    @property
    def _ends(self) -> Values:
        """Normal score of the probability of the first k values, k from none to all."""
        return np.concatenate([[-np.inf], self._edges, [np.inf]])

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        pairs = zip(self.values, self.weights, strict=True)
        return tuple(sorted((value, weight) for value, weight in pairs if weight > 0.0))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return math.fsum(value * weight for value, weight in self.atoms)

    @property
    def sd(self) -> float:
        return math.sqrt(math.fsum(weight * (value - self.mean) ** 2 for value, weight in self.atoms))

    @property
    def words(self) -> str:
        if len(self.values) > SHOWN:
            low, high = self.support
            return f"discrete, {len(self.values)} values from {low:g} to {high:g}"
        names = self.labels or tuple(f"{value:g}" for value in self.values)
        pairs = zip(names, self.weights, strict=True)
        return ", ".join(f"{name} with probability {weight:g}" for name, weight in pairs)


@dataclass(frozen=True, init=False)
class Empirical(Family):
    """Observed values, between which the quantiles are interpolated; nothing lies beyond the extremes.

    The k-th smallest of n values stands at the probability (k - 1/3)/(n + 1/3), nearly median-unbiased
    whatever the distribution; straight lines join them, and the two extremes hold what is left at either end,
    so the smallest and the largest each have a probability of at least 2/(3n + 1). Repeated values are atoms.
    Source: Hyndman and Fan 1996, The American Statistician 50, definition 8; from memory, unverified.
    """

    values: tuple[float, ...]
    _places: Values = field(init=False, repr=False, compare=False)
    _begins: Values = field(init=False, repr=False, compare=False)
    _ends: Values = field(init=False, repr=False, compare=False)

    def __init__(self, values: Sequence[float]) -> None:
        object.__setattr__(self, "values", tuple(float(value) for value in values))
        expect(all(math.isfinite(value) for value in self.values), "finite values", "one that is not")
        expect(len(set(self.values)) >= 2, "at least two different values", len(set(self.values)))
        places, first, repeats = np.unique(np.sort(self.values), return_index=True, return_counts=True)
        count = len(self.values)
        begins = (first + 1 - 1 / 3) / (count + 1 / 3)
        ends = (first + repeats - 1 / 3) / (count + 1 / 3)
        begins[0], ends[-1] = 0.0, 1.0
        object.__setattr__(self, "_places", places)
        object.__setattr__(self, "_begins", begins)  # P(X < place)
        object.__setattr__(self, "_ends", ends)  # P(X <= place)

    def value(self, z: ArrayLike) -> Values:
        corners = np.column_stack([self._begins, self._ends]).ravel()
        return np.interp(chance_below(as_values(z)), corners, np.repeat(self._places, 2))

    def _chance(self, x: Values, side: Literal["left", "right"]) -> Values:
        """P(X <= x) for the side "right", P(X < x) for "left"."""
        last = len(self._places) - 1
        piece = np.clip(np.searchsorted(self._places, x, side=side) - 1, 0, last - 1)
        left, right = self._places[piece], self._places[piece + 1]
        rise = self._begins[piece + 1] - self._ends[piece]
        return self._ends[piece] + rise * (x - left) / (right - left)

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside: Values = ndtri(self._chance(np.clip(x, *self.support), "right"))
        return np.where(x < self._places[0], -np.inf, np.where(x >= self._places[-1], np.inf, inside))

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        inside: Values = ndtri(self._chance(np.clip(x, *self.support), "left"))
        return np.where(x <= self._places[0], -np.inf, np.where(x > self._places[-1], np.inf, inside))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        chances = self._ends - self._begins
        return tuple((float(v), float(p)) for v, p in zip(self._places, chances, strict=True) if p > 0.0)

    @property
    def support(self) -> tuple[float, float]:
        return float(self._places[0]), float(self._places[-1])

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        gaps = self._begins[1:] - self._ends[:-1]
        middles = 0.5 * (self._places[1:] + self._places[:-1])
        return float((self._ends - self._begins) @ self._places + gaps @ middles)

    @property
    def sd(self) -> float:
        away = self._places - self.mean
        gaps = self._begins[1:] - self._ends[:-1]
        squares = (away[1:] ** 2 + away[1:] * away[:-1] + away[:-1] ** 2) / 3.0
        return math.sqrt(float((self._ends - self._begins) @ away**2 + gaps @ squares))

    @property
    def words(self) -> str:
        low, high = self.support
        return f"{len(self.values)} observed values from {low:g} to {high:g}"
