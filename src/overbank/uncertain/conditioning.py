"""One normal score given all the others of each sample: its chance of being at or above a value, and its density."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol, Self

import numpy as np
from scipy.special import ndtr

from overbank.uncertain.pair_tails import Pair
from overbank.uncertain.scores import Values, as_values

REACH, PANELS = 9.0, 96
"""A density without a closed form is tabulated from minus to plus this score, in so many panels of three values."""


class Given(Protocol):
    """What is known of one score in each sample. A score has the samples' shape, or more axes before them."""

    def above(self, score: Values) -> Values:
        """P(Z >= score | the others), any shape that ends in the samples' own; -inf gives 1 and +inf gives 0."""
        ...

    def density(self, score: Values) -> Values:
        """Density of Z at the score, given the others."""
        ...

    def __getitem__(self, index: Any) -> Given:
        """The same for some of the samples."""
        ...

    def joined(self, others: Sequence[Self]) -> Given:
        """This and others of its kind, as of one set of samples, along the last axis of these."""
        ...


@dataclass(frozen=True, eq=False)
class NormalGiven:
    """Normal with a mean for each sample and one spread."""

    mean: Values
    spread: float

    def above(self, score: Values) -> Values:
        return as_values(ndtr((self.mean - score) / self.spread))

    def density(self, score: Values) -> Values:
        return _normal_density((score - self.mean) / self.spread) / self.spread

    def __getitem__(self, index: Any) -> NormalGiven:
        return NormalGiven(self.mean[index], self.spread)

    def joined(self, others: Sequence[NormalGiven]) -> NormalGiven:
        return NormalGiven(np.concatenate([each.mean for each in (self, *others)], axis=-1), self.spread)


@dataclass(frozen=True, eq=False)
class PairGiven:
    """One of a pair: its inner score e, given the partner, is normal with a mean for each sample and one spread.

    partner : the other score of the pair
    """

    mean: Values
    spread: float
    partner: Values
    pair: Pair

    def above(self, score: Values) -> Values:
        return as_values(ndtr((self.mean - self.pair.inner(score, self.partner)) / self.spread))

    def density(self, score: Values) -> Values:
        e = self.pair.inner(score, self.partner)
        rate = np.exp(self.pair.log_density(score, self.partner) + 0.5 * (e**2 - score**2))
        return rate * _normal_density((e - self.mean) / self.spread) / self.spread

    def __getitem__(self, index: Any) -> PairGiven:
        return PairGiven(self.mean[index], self.spread, self.partner[index], self.pair)

    def joined(self, others: Sequence[PairGiven]) -> PairGiven:
        whole = (self, *others)
        mean = np.concatenate([each.mean for each in whole], axis=-1)
        return PairGiven(mean, self.spread, np.concatenate([each.partner for each in whole], axis=-1), self.pair)


@dataclass(frozen=True, eq=False)
class TabulatedGiven:
    """Any density, by three values in each of many panels: their parabola is integrated exactly.

    heights : density at the values, samples' shape and then (2 PANELS + 1,)
    beyond : P(Z >= the panel's lower end), samples' shape and then (PANELS + 1,)
    """

    heights: Values
    beyond: Values

    @classmethod
    def of(cls, log_heights: Values) -> TabulatedGiven:
        """From the logarithm of any multiple of the density, at `scores()`."""
        heights = np.exp(log_heights - log_heights.max(axis=-1, keepdims=True))
        masses = _width() / 6.0 * (heights[..., :-1:2] + 4.0 * heights[..., 1::2] + heights[..., 2::2])
        beyond = np.zeros((*masses.shape[:-1], PANELS + 1))
        beyond[..., :-1] = np.cumsum(masses[..., ::-1], axis=-1)[..., ::-1]
        whole = beyond[..., :1]
        return cls(heights / whole, beyond / whole)

    @staticmethod
    def scores() -> Values:
        """Scores at which the density is wanted, shape (2 PANELS + 1,)."""
        return as_values(np.linspace(-REACH, REACH, 2 * PANELS + 1))

    def above(self, score: Values) -> Values:
        panel, t, low, slope, bend = self._parabola(score)
        upper = self._at(self.beyond, panel + 1)
        inside = low * (1.0 - t) + slope * (1.0 - t**2) / 2.0 + bend * (1.0 - t**3) / 3.0
        return np.clip(upper + _width() * inside, 0.0, 1.0)

    def density(self, score: Values) -> Values:
        _, t, low, slope, bend = self._parabola(score)
        return np.maximum(low + t * (slope + t * bend), 0.0)

    def __getitem__(self, index: Any) -> TabulatedGiven:
        return TabulatedGiven(self.heights[index], self.beyond[index])

    def joined(self, others: Sequence[TabulatedGiven]) -> TabulatedGiven:
        heights = np.concatenate([each.heights for each in (self, *others)], axis=-2)
        return TabulatedGiven(heights, np.concatenate([each.beyond for each in (self, *others)], axis=-2))

    def _parabola(self, score: Values) -> tuple[Any, Values, Values, Values, Values]:
        """The panel of each score, the place in it from 0 to 1, and the density there as a parabola of that."""
        place = (np.clip(score, -REACH, REACH) + REACH) / _width()
        panel = np.minimum(np.nan_to_num(place).astype(np.intp), PANELS - 1)
        low, middle, high = (self._at(self.heights, 2 * panel + step) for step in range(3))
        return panel, place - panel, low, 4.0 * middle - 3.0 * low - high, 2.0 * (low + high) - 4.0 * middle

    @staticmethod
    def _at(table: Values, place: Any) -> Values:
        """The table's value at a place for each sample; places may have more axes before those of the samples."""
        samples = table.shape[:-1]
        return as_values(table[(*np.indices(samples, sparse=True), np.broadcast_to(place, (*place.shape,)))])


def _width() -> float:
    return 2.0 * REACH / PANELS


def _normal_density(score: Values) -> Values:
    return as_values(np.exp(-0.5 * score**2) / np.sqrt(2.0 * np.pi))
