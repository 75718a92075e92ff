"""Probabilities too small to count, by importance sampling of the referee's own.

The mean of independent normal scores is moved, in steps, to where the event is (cross-entropy: Rubinstein and Kroese
2004, from memory); then a mixture of the moved scores with a tenth of the plain ones is drawn, and weighted back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special

from referee import drawing, figures, floods
from referee.families import Array
from referee.figures import Figure
from referee.reading import ANNUAL, DESIGN, Reading
from referee.site_adapter import SiteFunction

PILOT, ROUNDS, ELITE, PLAIN = 4000, 30, 0.1, 0.1
LEAST_EFFECTIVE = 100.0

Margin = Callable[[Array, np.random.Generator], Array]
"""Independent scores [samples, dimensions] -> level minus bank [m]."""


@dataclass(frozen=True)
class Rare:
    """A rare probability and the independent samples of equal weight that would tell as much."""

    probability: Figure
    effective: float


def overtopping(reading: Reading, site: SiteFunction, count: int, seed: int) -> Rare:
    """P(level > bank) in the design flood."""
    names = [number.path for number in reading.numbers]
    names += [DESIGN] if DESIGN not in names and reading.design_probability is not None else []
    together = drawing.dependence(reading)
    names = together.ordered(names)
    middle, known = np.zeros(len(names)), {}
    probability = reading.design_probability
    covariance = together.given((), names)[1]
    if probability is not None:
        weights, covariance = together.given((ANNUAL,), names)
        known = {ANNUAL: -float(special.ndtri(probability))}
        middle = weights[:, 0] * known[ANNUAL]
    root = np.linalg.cholesky(covariance)

    def depth_over_bank(x: Array, rng: np.random.Generator) -> Array:
        scores = dict(zip(names, (middle + x @ root.T).T, strict=True))
        seen = {name: np.full(len(x), score) for name, score in known.items()}
        scores = together.bent(scores, seen, dict(zip(names, special.ndtr(x).T, strict=True)))
        values = drawing.valued(
            reading.numbers, scores, {number.path: number.parameters(rng, len(x)) for number in reading.numbers}
        )
        if probability is not None:
            values[DESIGN] = drawing.design_flow(reading, scores[DESIGN], rng, probability)
        return site.level(values, len(x)) - site.bank(values, len(x))

    return sampled(depth_over_bank, len(names), count, seed)


def in_a_year(reading: Reading, site: SiteFunction, count: int, seed: int) -> Rare:
    """P(level > bank) in a year."""
    numbers = [number for number in reading.numbers if number.path != DESIGN]
    together = drawing.dependence(reading)
    names = together.ordered([*(number.path for number in numbers), ANNUAL])
    root = np.linalg.cholesky(together.given((), names)[1])
    assert reading.annual is not None
    family, best, years = reading.annual

    def depth_over_bank(x: Array, rng: np.random.Generator) -> Array:
        scores = dict(zip(names, (x @ root.T).T, strict=True))
        scores = together.bent(scores, {}, dict(zip(names, special.ndtr(x).T, strict=True)))
        parameters = {number.path: number.parameters(rng, len(x)) for number in numbers}
        given = best if years is None else floods.alternatives(family, best, years, rng, len(x))
        values = drawing.valued(numbers, scores, parameters) | {DESIGN: floods.flow(family, given, scores[ANNUAL])}
        return site.level(values, len(x)) - site.bank(values, len(x))

    return sampled(depth_over_bank, len(names), count, seed)


def sampled(depth_over_bank: Margin, dimensions: int, count: int, seed: int) -> Rare:
    """P(depth over the bank > 0) of independent standard normal scores."""
    rng = np.random.default_rng([seed, 6])
    moved = _moved(depth_over_bank, dimensions, rng)
    x = rng.standard_normal((count, dimensions))
    x[rng.random(count) >= PLAIN] += moved
    with np.errstate(over="ignore"):
        weights = 1.0 / (PLAIN + (1.0 - PLAIN) * np.exp(x @ moved - 0.5 * moved @ moved))
    parts = weights * (depth_over_bank(x, rng) > 0.0)
    total = float(parts.sum())
    effective = total**2 / float((parts**2).sum()) if total > 0.0 else 0.0
    return Rare(figures.mean(parts), effective)


def _moved(depth_over_bank: Margin, dimensions: int, rng: np.random.Generator) -> Array:
    """Mean of the scores in the event."""
    at = np.zeros(dimensions)
    for _ in range(ROUNDS):
        x = at + rng.standard_normal((PILOT, dimensions))
        found = depth_over_bank(x, rng)
        reached = min(float(np.quantile(found, 1.0 - ELITE, method="lower")), 0.0)
        best = found > 0.0 if reached == 0.0 else found >= reached
        with np.errstate(over="ignore"):
            weights = np.exp(0.5 * at @ at - x[best] @ at)
        at = weights @ x[best] / weights.sum()
        if reached == 0.0:
            break
    return np.asarray(at)
