"""Levels that a study foretells for a flood that was seen: of every sample, and of every state of knowledge.

What is the same in all floods is that of the sample or the state. What comes out anew in each flood is drawn for the
flood that was seen, given what is the same in all: it goes with it in that flood as in any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overbank.errors import DomainError
from overbank.sampling.nested import NestedFloods
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import CLIMATE, FLOW
from overbank.study.build import Problem
from overbank.study.flow import ANNUAL
from overbank.study.records.observations import Observation
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.distributions import Distribution


@dataclass(frozen=True)
class AnyFlood:
    """The law of the uncertain numbers in any flood, not in the design flood alone.

    copula : of all of them; the design flow or the flood of a year is one, and is never that of a flood seen
    distributions : by name, without the flow
    anew : names of those that come out anew in each flood
    """

    copula: Copula
    distributions: Mapping[str, Distribution]
    anew: tuple[str, ...]

    @classmethod
    def of(cls, problem: Problem) -> AnyFlood:
        """Of a study's problem."""
        kinds = {item.name: item.kind for item in problem.assumptions}
        names = problem.inputs.names
        anew = tuple(name for name in names if kinds[name] == "each flood" and name != FLOW)
        year = problem.annual
        if year is None:
            return cls(problem.inputs.copula, {each.name: each.distribution for each in problem.inputs.items}, anew)
        known = zip((*year.knowledge, *year.each_flood), year.distributions, strict=True)
        return cls(year.copula, dict(known), anew)

    @property
    def fresh(self) -> list[int]:
        """Columns of the copula that are drawn for the flood that was seen."""
        return [column for column, name in enumerate(self.copula.names) if name in (*self.anew, FLOW, ANNUAL)]

    @property
    def told(self) -> tuple[str, ...]:
        """Those that come out anew, but go with what is the same in all floods, so that it tells of them."""
        kept = [column for column in range(len(self.copula.names)) if column not in self.fresh]
        across = self.copula.correlation[:, kept]
        return tuple(name for name in self.anew if np.any(across[self.copula.names.index(name)] != 0.0))


def levels_of_samples(sampling: Sampling, seen: Observation, index: int, draws: int) -> Array:
    """Levels in the flood that was seen, with every sample held in full and `draws` of what comes anew [m]; (R, N, M).

    Raises
    ------
    DomainError : what comes out anew cannot be drawn given what does not, for pairs with tails of their own
    """
    law, place = AnyFlood.of(sampling.problem), (seen.at or sampling.model.place,)
    generator = np.random.default_rng([sampling.settings.seed, 3, index])
    found = []
    for _ in range(draws):
        values = _another_flood(sampling, law, int(generator.integers(2**62)))
        numbers = dict(sampling.model.numbers(values.reshape(len(sampling.rows), -1)))
        numbers[FLOW] = _flows(seen, len(sampling.rows), int(generator.integers(2**62)), sampling.shape[0])
        numbers[CLIMATE] = 1.0  # that flood came in the climate of its day
        found.append(sampling.model.levels_of(numbers, len(sampling.rows), place)[0].reshape(sampling.shape))
    return np.stack(found, axis=-1)


def levels_of_states(nested: NestedFloods, seen: Observation, index: int) -> Array:
    """The same with every state of knowledge and each of its floods, which weigh as `nested.weights` [m]; (R, S, M)."""
    sampling, shape = nested.sampling, nested.z.shape[:-1]
    rows = nested.rows(nested.z)
    numbers = dict(sampling.model.numbers(rows))
    seed = int(np.random.default_rng([sampling.settings.seed, 5, index]).integers(2**62))
    numbers[FLOW] = _flows(seen, len(rows), seed, shape[0])
    numbers[CLIMATE] = 1.0
    levels = sampling.model.levels_of(numbers, len(rows), (seen.at or sampling.model.place,))[0]
    return np.asarray(levels.reshape(shape))


def _another_flood(sampling: Sampling, law: AnyFlood, seed: int) -> Array:
    """The samples' numbers [R, N, d] with those drawn anew that come out anew in each flood."""
    values, inputs, copula = sampling.samples.values.copy(), sampling.inputs, law.copula
    if not law.anew:
        return values
    z = np.zeros((*sampling.shape, len(copula.names)))
    for column, name in enumerate(copula.names):
        if column not in law.fresh:
            j, own = inputs.index(name), law.distributions[name]
            same = own is inputs.items[j].distribution
            z[..., column] = sampling.z[..., j] if same else own.score(values[..., j])
    independent = scores("latin_hypercube", len(sampling.rows), len(law.fresh), seed, sampling.shape[0])
    try:
        drawn = copula.redrawn(z, law.fresh, independent)
    except ValueError as refused:
        raise DomainError(f"learning from floods seen: {refused}") from refused
    for name in law.anew:
        values[..., inputs.index(name)] = law.distributions[name].value(drawn[..., copula.names.index(name)])
    return values


def _flows(seen: Observation, rows: int, seed: int, replicates: int) -> Array | float:
    """Flow of that flood, drawn from its own distribution where it is uncertain [m3/s]."""
    flow = seen.flow_m3_s
    if flow.distribution is None:
        return flow.median
    z = scores("latin_hypercube", rows, 1, seed, replicates)
    return flow.distribution.value(z.ravel())
