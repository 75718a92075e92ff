"""Samples of a study's uncertain numbers: in the design flood, and anew for another flood of the same state."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from referee import floods
from referee.copulas import Dependence
from referee.families import Array
from referee.reading import ANNUAL, DESIGN, Number, Reading

MANY = 40_000
"""Alternatives of the flood distribution behind a design flow that is taken from it."""

Values = dict[str, Array]


@dataclass(frozen=True)
class Draw:
    """Normal scores, parameters (arrays where they are not known) and values of every uncertain number."""

    scores: Mapping[str, Array]
    parameters: Mapping[str, Mapping[str, Any]]
    values: Values
    count: int


def dependence(reading: Reading) -> Dependence:
    """Of all uncertain numbers, the design flow and the flood of a year among them."""
    names = [number.path for number in reading.numbers]
    names += [name for name in (DESIGN, ANNUAL) if name not in names]
    return Dependence.of(names, reading.pairs)


def design(reading: Reading, rng: np.random.Generator, count: int) -> Draw:
    """Every uncertain number in the design flood.

    A number that goes with the flood of a year (`flow.annual`) is drawn as it is in the design flood: given a flood
    whose annual probability is that of the design flood.
    """
    together, probability = dependence(reading), reading.design_probability
    known: Values = {}
    if probability is not None:
        known[ANNUAL] = np.full(count, -float(special.ndtri(probability)))
    names = [number.path for number in reading.numbers]
    scores = together.extended(rng, count, known, [*names, *({DESIGN} - set(names))])
    parameters = {number.path: number.parameters(rng, count) for number in reading.numbers}
    values = valued(reading.numbers, scores, parameters)
    if probability is not None:
        values[DESIGN] = design_flow(reading, scores[DESIGN], rng, probability)
    return Draw(scores, parameters, values, count)


def anew(reading: Reading, rng: np.random.Generator, state: Draw) -> Values:
    """What comes out anew in each flood, drawn again, given what is the same in all floods."""
    fresh = [number for number in reading.numbers if number.kind == "each flood" and number.path != DESIGN]
    kept = {number.path: state.scores[number.path] for number in known_numbers(reading)}
    scores = dependence(reading).extended(rng, state.count, kept, [number.path for number in fresh])
    return valued(fresh, scores, state.parameters)


def known_numbers(reading: Reading) -> list[Number]:
    """What is the same in all floods, the design flow left out."""
    return [number for number in reading.numbers if number.kind == "knowledge" and number.path != DESIGN]


def valued(
    numbers: Sequence[Number], scores: Mapping[str, Array], parameters: Mapping[str, Mapping[str, Any]]
) -> Values:
    """Values at scores."""
    return {number.path: number.values(scores[number.path], parameters[number.path]) for number in numbers}


def design_flow(reading: Reading, z: Array, rng: np.random.Generator, probability: float) -> Array:
    """The flood of an annual probability, as uncertain as its distribution [m3/s]."""
    assert reading.annual is not None
    family, best, years = reading.annual
    score = np.array(-float(special.ndtri(probability)))
    if years is None:
        return np.full(z.shape, floods.flow(family, best, score))
    found = floods.flow(family, floods.alternatives(family, best, years, rng, MANY), np.full(MANY, score))
    return np.asarray(np.quantile(found, special.ndtr(z)))
