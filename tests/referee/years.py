"""The floods of a year in two loops: states of knowledge, and within each what comes out anew, its lumps kept whole.

In each state the chance of going over is the mean over what comes out anew of P(flood above the capacity), the capacity
found by halving along the flood's score. What comes out anew is sampled in strata: every lump of the first number of
that kind is a stratum of its own, and so is what lies between, each with its exact chance, so that a screen shut one
time in twenty is neither missed nor counted twice. It is done twice, independently, which tells what noise is left
inside a state.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from referee import drawing, families, figures, floods
from referee.copulas import Dependence
from referee.families import Array
from referee.figures import Figure
from referee.halving import found_by_halving
from referee.reading import ANNUAL, DESIGN, Number, Reading
from referee.site_adapter import SiteFunction

STILL = 0.05
"""Noise inside the states may make up so much of what they differ by; with more, twice as many points are taken."""

FURTHER = 1.0 / (np.sqrt(2.0) - 1.0)
"""How much farther it is to no noise than to the half of it, for what moves with its standard deviation."""

LOWEST, HIGHEST, HALVINGS = -6.0, 8.5, 12
"""Scores of the flood between which a capacity is looked for; it is found within 0.002, to either side alike."""


@dataclass(frozen=True)
class Years:
    """What is needed to ask about the floods of a year.

    states, points : states of knowledge, and points in each stratum of what comes out anew
    most_points : so many where fewer leave much noise inside the states
    """

    reading: Reading
    site: SiteFunction
    states: int
    points: int
    seed: int
    most_points: int = 0

    @property
    def together(self) -> Dependence:
        """Dependences but those of the design flow, whose place the flood of a year takes."""
        names = [number.path for number in self.reading.numbers if number.path != DESIGN]
        return Dependence.of([*names, ANNUAL], self.reading.pairs)

    @cached_property
    def chances(self) -> tuple[Array, Array]:
        """Chance of going over in a year in every state, found twice with fresh floods.

        Points are doubled, with all drawn anew, while the difference of the two is much beside that of the states.
        """
        points = self.points
        while True:
            first, second = self._twice(points)
            left = float(np.mean((first - second) ** 2) / 4.0) / max(float(np.var(first + second)) / 4.0, 1e-300)
            if self.nothing_unknown or left <= STILL**2 or 2 * points > self.most_points:
                return first, second
            points *= 2

    def _twice(self, points: int) -> tuple[Array, Array]:
        rng = np.random.default_rng([self.seed, 3])
        family, best, years = self._floods()
        given = best if years is None else floods.alternatives(family, best, years, rng, self.states)
        known = drawing.known_numbers(self.reading)
        scores = self.together.extended(rng, self.states, {}, [number.path for number in known])
        parameters = {number.path: number.parameters(rng, self.states) for number in self.reading.numbers}
        first, second = (self._inside(rng, given, scores, parameters, points) for _ in range(2))
        return first, second

    @property
    def chance(self) -> Array:
        """Mean of the two."""
        return 0.5 * (self.chances[0] + self.chances[1])

    @property
    def nothing_unknown(self) -> bool:
        """Whether all states are alike."""
        vague = any(number.vague for number in self.reading.numbers)
        return not drawing.known_numbers(self.reading) and not vague and self._floods()[2] is None

    def probability(self) -> Figure:
        """Probability of going over in a year."""
        return figures.mean(self.chance)

    def over_life(self, years: int) -> Figure:
        """Probability of going over at least once in so many years; what is not known stays the same in all of them.

        Noise inside the states makes it too small. It does so twice as much with either half of the floods alone, which
        tells how much; that is taken away, and is an error too.
        """
        if self.nothing_unknown:
            yearly = self.probability()
            slope = years * (1.0 - yearly.value) ** (years - 1)
            return Figure(1.0 - (1.0 - yearly.value) ** years, slope * yearly.below, slope * yearly.above)
        once = [1.0 - (1.0 - each) ** years for each in (self.chance, *self.chances)]
        found, spill = figures.mean(once[0]), float(np.mean(once[0] - 0.5 * (once[1] + once[2])))
        error = float(np.hypot(found.below, spill))
        return Figure(found.value + spill, error, error)

    def band(self, share: float) -> Figure:
        """Quantile of the yearly probability over what is not known.

        Noise left inside the states widens what is seen, and moves a median too where it is skewed; what that could do
        to the quantile is added to the error: by the variances, and by either half of the floods alone, whose noise has
        twice the variance.
        """
        if self.nothing_unknown:
            return self.probability()
        found = figures.quantile(self.chance, share)
        noise = float(np.mean((self.chances[0] - self.chances[1]) ** 2) / 4.0)
        seen = float(np.var(self.chance))
        spill = abs(float(special.ndtri(share))) * (np.sqrt(seen) - np.sqrt(max(seen - noise, 0.0)))
        halves = [figures.quantile(each, share).value for each in self.chances]
        spill = max(spill, FURTHER * abs(found.value - 0.5 * sum(halves)))
        return Figure(found.value, float(np.hypot(found.below, spill)), float(np.hypot(found.above, spill)))

    def plain(self, count: int) -> Figure:
        """Probability of going over in a year, by counting floods drawn one by one."""
        rng = np.random.default_rng([self.seed, 4])
        values, flow = self._one_by_one(rng, count, None)
        return figures.counted((self._depths(values, flow) > 0.0).astype(np.float64))

    def assurance(self, probability: float, count: int) -> Figure:
        """P(level <= bank) in the flood of an annual probability; what goes with a flood is as in one as rare."""
        rng = np.random.default_rng([self.seed, 5])
        score = np.full(count, -float(special.ndtri(probability)))
        values, flow = self._one_by_one(rng, count, score)
        return figures.counted((self._depths(values, flow) <= 0.0).astype(np.float64))

    def _one_by_one(self, rng: np.random.Generator, count: int, score: Array | None) -> tuple[dict[str, Array], Array]:
        family, best, years = self._floods()
        given = best if years is None else floods.alternatives(family, best, years, rng, count)
        flood = rng.standard_normal(count) if score is None else score
        numbers = [number for number in self.reading.numbers if number.path != DESIGN]
        scores = self.together.extended(rng, count, {ANNUAL: flood}, [number.path for number in numbers])
        parameters = {number.path: number.parameters(rng, count) for number in numbers}
        return drawing.valued(numbers, scores, parameters), floods.flow(family, given, flood)

    def _depths(self, values: Mapping[str, Array], flow: Array) -> Array:
        numbers = {DESIGN: flow, **values}
        return self.site.level(numbers, flow.size) - self.site.bank(numbers, flow.size)

    def _floods(self) -> tuple[str, Mapping[str, float], int | None]:
        assert self.reading.annual is not None
        return self.reading.annual

    def _inside(
        self,
        rng: np.random.Generator,
        given: Mapping[str, Any],
        scores: Mapping[str, Array],
        parameters: Mapping[str, Mapping[str, Any]],
        points: int,
    ) -> Array:
        """Mean over what comes out anew of the chance of a flood above the capacity, in each state."""
        fresh = [number for number in self.reading.numbers if number.kind == "each flood" and number.path != DESIGN]
        fresh.sort(key=lambda number: families.atoms(number.family, parameters[number.path]) is None)
        weights, own = self._strata(rng, fresh, scores, parameters, points)
        width = weights.shape[1]
        wide = {name: np.repeat(each, width) for name, each in {**scores}.items()} | own
        repeated = {path: {key: _repeated(each, width) for key, each in of.items()} for path, of in parameters.items()}
        numbers = [number for number in self.reading.numbers if number.path != DESIGN]
        values = drawing.valued(numbers, wide, repeated)
        flood = {key: _repeated(each, width) for key, each in given.items()}
        capacity = self._capacity(values, flood, weights.size)
        above = self.together.chance_above(ANNUAL, capacity, wide) * np.ones(weights.size)
        return np.asarray((weights * above.reshape(weights.shape)).sum(axis=1))

    def _strata(
        self,
        rng: np.random.Generator,
        fresh: list[Number],
        scores: Mapping[str, Array],
        parameters: Mapping[str, Mapping[str, Any]],
        points: int,
    ) -> tuple[Array, dict[str, Array]]:
        """Weights [states, points] and the scores of what comes out anew, flattened."""
        if not fresh:
            return np.ones((self.states, 1)), {}
        first = fresh[0]
        middle, spread = self._conditional(first.path, scores)
        ends = families.atoms(first.family, parameters[first.path])
        if ends is None:
            edges = np.tile([0.0, 1.0], (self.states, 1))
        else:
            wide = np.broadcast_to(ends, (self.states, ends.shape[-1]))
            inner = special.ndtr((special.ndtri(wide) - middle) / spread)
            edges = np.concatenate([np.zeros((self.states, 1)), inner, np.ones((self.states, 1))], axis=1)
        steps = (np.arange(points) + rng.random((self.states, edges.shape[1] - 1, points))) / points
        widths = np.diff(edges, axis=1)[..., np.newaxis]
        shares = np.clip(edges[:, :-1, np.newaxis] + widths * steps, 1e-16, 1.0 - 1e-16).reshape(self.states, -1)
        weights = np.repeat(widths[..., 0] / points, points, axis=1)
        own = {first.path: (middle + spread * special.ndtri(shares)).ravel()}
        known = {name: np.repeat(each, weights.shape[1]) for name, each in scores.items()} | own
        rest = [number.path for number in fresh[1:]]
        return weights, own | self.together.extended(rng, weights.size, known, rest)

    def _conditional(self, path: str, scores: Mapping[str, Array]) -> tuple[Array, float]:
        """Mean [states, 1] and spread of a score given what is the same in all floods."""
        weights, left = self.together.given(tuple(scores), (path,))
        middle = np.column_stack(list(scores.values())) @ weights.T if scores else np.zeros((self.states, 1))
        return middle, float(np.sqrt(left[0, 0]))

    def _capacity(self, values: Mapping[str, Array], flood: Mapping[str, Any], count: int) -> Array:
        """Score of the least flood that goes over the bank; +inf where none does, -inf where every one does."""
        family = self._floods()[0]
        bank = self.site.bank({DESIGN: np.ones(count), **values}, count)

        def over(score: Array, which: NDArray[np.intp]) -> NDArray[np.bool_]:
            own = {key: each[which] if isinstance(each, np.ndarray) else each for key, each in flood.items()}
            numbers = {name: each[which] for name, each in values.items()} | {DESIGN: floods.flow(family, own, score)}
            return np.asarray(self.site.level(numbers, which.size) > bank[which])

        return found_by_halving(over, count, (LOWEST, HIGHEST), (-np.inf, np.inf), HALVINGS)


def _repeated(each: Any, width: int) -> Any:
    return np.repeat(each, width) if isinstance(each, np.ndarray) else each
