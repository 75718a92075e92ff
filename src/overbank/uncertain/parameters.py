"""A distribution whose own parameters are not known: equally likely models of one number.

Two kinds of uncertainty meet in such a number. Which model holds is *knowledge*: the same in all floods. What comes out
under it is drawn anew in each flood, where the number is of that kind. So

- a run in two loops draws a model for each state of knowledge (`chosen`, from a normal score of its own) and the number
  within it (`Models.value`);
- any other run takes the *predictive* distribution: P(X <= x) is the mean over the models.

The predictive is tabulated at many values between the lowest and the highest quantiles of the models, every lump as a
step, and read by straight lines between scores. Source: total probability (closed form).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank.uncertain.blockage_models import InflatedBetaModels
from overbank.uncertain.checks import expect
from overbank.uncertain.designs import scores
from overbank.uncertain.distributions import Distribution, Family
from overbank.uncertain.families import family
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance

MODELS = 512
"""Models drawn of a distribution with uncertain parameters; a power of two."""

REACH, STEPS, BETWEEN = 8.0, 129, 4
"""The predictive is tabulated from minus to plus this score, at so many scores of the models and values between two."""

MOST_LUMPS = 40
"""Values with a probability of their own that the predictive keeps as steps."""


class Models(Protocol):
    """Equally likely models of one number, ranked so that neighbours are alike."""

    def __len__(self) -> int: ...

    def value(self, z: Values, place: NDArray[np.intp]) -> Values:
        """Value at the normal scores z in the models at the places, of one shape."""
        ...

    def score(self, x: Values, place: NDArray[np.intp]) -> Values:
        """Normal score of P(X <= x) in the models at the places, of one shape."""
        ...

    def score_below(self, x: Values, place: NDArray[np.intp]) -> Values:
        """Normal score of P(X < x), likewise."""
        ...

    @property
    def means(self) -> Values:
        """Mean in each model."""
        ...

    @property
    def sds(self) -> Values:
        """Standard deviation within each model."""
        ...

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        """Values with a probability of their own in some model, rising, and its mean over the models."""
        ...

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest possible value in any model."""
        ...


def chosen(models: Models, z: ArrayLike) -> NDArray[np.intp]:
    """Place of the model that each normal score of knowledge stands for; any shape."""
    count = len(models)
    return np.asarray(np.minimum((chance_below(z) * count).astype(np.intp), count - 1))


@runtime_checkable
class HasModels(Protocol):
    """A distribution whose own parameters are uncertain."""

    @property
    def models(self) -> Models:
        """Its equally likely models."""
        ...


@dataclass(frozen=True, eq=False)
class DistributionModels:
    """Models that are distributions each, ranked by their medians and means."""

    distributions: tuple[Distribution, ...]

    @classmethod
    def ranked(cls, distributions: Sequence[Distribution]) -> DistributionModels:
        def size(each: Distribution) -> tuple[float, float]:
            return each.median, each.mean

        return cls(tuple(sorted(distributions, key=size)))

    def __len__(self) -> int:
        return len(self.distributions)

    def value(self, z: Values, place: NDArray[np.intp]) -> Values:
        return self._each(lambda distribution, some: distribution.value(some), z, place)

    def score(self, x: Values, place: NDArray[np.intp]) -> Values:
        return self._each(lambda distribution, some: distribution.score(some), x, place)

    def score_below(self, x: Values, place: NDArray[np.intp]) -> Values:
        return self._each(lambda distribution, some: distribution.score_below(some), x, place)

    @property
    def means(self) -> Values:
        return np.array([each.mean for each in self.distributions])

    @property
    def sds(self) -> Values:
        return np.array([each.sd for each in self.distributions])

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        lumps: dict[float, float] = {}
        for each in self.distributions:
            for place, chance in each.atoms:
                lumps[place] = lumps.get(place, 0.0) + chance / len(self)
        return tuple(sorted(lumps.items()))

    @property
    def support(self) -> tuple[float, float]:
        ends = [each.support for each in self.distributions]
        return min(low for low, _ in ends), max(high for _, high in ends)

    def _each(
        self, found_by: Callable[[Distribution, Values], Values], given: Values, place: NDArray[np.intp]
    ) -> Values:
        found = np.empty(given.shape)
        for each in np.unique(place):
            found[place == each] = found_by(self.distributions[each], given[place == each])
        return found


@dataclass(frozen=True, eq=False)
class UncertainParameters(Family):
    """The predictive distribution over models, with the models themselves for a run in two loops.

    Parameters
    ----------
    models : equally likely
    words : for a report
    """

    models: Models
    words: str
    _places: Values = field(init=False, repr=False)
    _below: Values = field(init=False, repr=False)
    _at: Values = field(init=False, repr=False)

    def __post_init__(self) -> None:
        places = _places(self.models)
        object.__setattr__(self, "_places", places)
        object.__setattr__(self, "_below", _mixed(self.models.score_below, places, len(self.models)))
        object.__setattr__(self, "_at", _mixed(self.models.score, places, len(self.models)))

    @classmethod
    def of(cls, name: str, parameters: Mapping[str, float | Distribution], seed: int = 0) -> UncertainParameters:
        """A family of which some parameters are distributions, independent of each other.

        Raises
        ------
        ValueError, "expected ..., got ...": of a model with the parameters drawn
        """
        open_ones = {key: given for key, given in parameters.items() if not isinstance(given, (int, float))}
        fixed = {key: given for key, given in parameters.items() if isinstance(given, (int, float))}
        expect(len(open_ones) > 0, "at least one parameter with a distribution", "none")
        z = scores("sobol", MODELS, len(open_ones), seed, 1)[0]
        drawn = {key: given.value(column) for (key, given), column in zip(open_ones.items(), z.T, strict=True)}
        told = [f"{key} {given:g}" for key, given in fixed.items()]
        told += [f"{key} uncertain ({given.words})" for key, given in open_ones.items()]
        return cls(_drawn_models(name, fixed, drawn), f"{name.replace('_', ' ')}, {', '.join(told)}")

    def value(self, z: ArrayLike) -> Values:
        corners = np.column_stack([self._below, self._at]).ravel()
        known = np.isfinite(corners)
        return np.interp(as_values(z), corners[known], np.repeat(self._places, 2)[known])

    def score(self, x: ArrayLike) -> Values:
        return self._score(as_values(x), last=True)

    def score_below(self, x: ArrayLike) -> Values:
        return self._score(as_values(x), last=False)

    def _score(self, x: Values, last: bool) -> Values:
        """Between two places by a straight line from the score at the lower one to the score below the upper one."""
        top = self._places.size - 1
        piece = np.clip(np.searchsorted(self._places, x, side="right" if last else "left") - 1, 0, max(top - 1, 0))
        upper = np.minimum(piece + 1, top)
        low, high = self._at[piece], self._below[upper]
        with np.errstate(invalid="ignore", divide="ignore"):
            inside = low + (high - low) * (x - self._places[piece]) / (self._places[upper] - self._places[piece])
        ends = self._at if last else self._below
        on = (x == self._places[piece], x == self._places[upper])
        found = np.where(on[0], ends[piece], np.where(on[1], ends[upper], inside))
        return np.where(x < self._places[0], -np.inf, np.where(x > self._places[-1], np.inf, found))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        return self.models.atoms

    @property
    def support(self) -> tuple[float, float]:
        return self.models.support

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return float(np.mean(self.models.means))

    @property
    def sd(self) -> float:
        """Within the models and between them."""
        return math.sqrt(float(np.mean(self.models.sds**2) + np.var(self.models.means)))


def _drawn_models(name: str, fixed: Mapping[str, float], drawn: Mapping[str, Values]) -> Models:
    """One model for each draw of the parameters."""
    if name == "inflated_beta" and {*fixed, *drawn} == {"at_zero", "a", "b", "at_one"}:
        return InflatedBetaModels.of({**{key: np.full(MODELS, given) for key, given in fixed.items()}, **drawn})
    made = []
    for k in range(MODELS):
        own = {key: float(values[k]) for key, values in drawn.items()}
        try:
            made.append(family(name, {**fixed, **own}))
        except ValueError as refused:
            told = ", ".join(f"{key} {value:.4g}" for key, value in own.items())
            raise ValueError(f"{refused}; this came of uncertain parameters drawn as {told}") from None
    return DistributionModels.ranked(made)


def _places(models: Models) -> Values:
    """Values at which the predictive is tabulated: between the models' quantiles, every lump, and the ends."""
    z = np.linspace(-REACH, REACH, STEPS)
    grid, place = np.meshgrid(z, np.arange(len(models)))
    table = models.value(grid, place)
    ends = np.concatenate([table.min(axis=0), table.max(axis=0), np.median(table, axis=0)])
    lumps = [place for place, _ in models.atoms]
    expect(len(lumps) <= MOST_LUMPS, f"at most {MOST_LUMPS} values with a probability of their own", len(lumps))
    rising = np.unique(ends[np.isfinite(ends)])
    steps = np.linspace(rising[:-1], rising[1:], BETWEEN, endpoint=False).T.ravel()
    return np.unique(np.concatenate([steps, rising, lumps]))


def _mixed(score: Callable[[Values, NDArray[np.intp]], Values], places: Values, count: int) -> Values:
    """Score of the mean over the models of the chances that their scores stand for, from the smaller tail."""
    below, above = np.zeros(places.size), np.zeros(places.size)
    for each in range(count):
        found = score(places, np.full(places.size, each))
        below += chance_below(found) / count
        above += chance_below(-found) / count
    return score_of_chance(below, above)
