"""Samples in two loops: states of knowledge, and the floods of a year within each of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import ladder as rungs
from overbank.analysis import polish
from overbank.sampling.ladder import FALL_TOLERANCE, is_blockage
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.study.annual import AnnualFloods
from overbank.study.collect import EACH_FLOOD
from overbank.uncertain.dependence import Copula
from overbank.uncertain.floods import LEAST_FLOW
from overbank.uncertain.nested import nested_scores

FLOODS = 32
"""Most floods in each state of knowledge, where anything comes out anew in each flood. The mean over the floods of a
state scatters, and a probability over many years comes out too small by that: with 32 by less than 0.1 %, with 16 by
0.2 % in the closed form of the tests."""

MOST_ROWS = 2**15
"""Rows of the two loops together; more would only cost time."""

RUNGS = (0.9, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 1e-4, 1e-5, 1e-6)
"""Annual probabilities of the flows of the ladder, between its ends."""

ENDS = (1.0 - 1e-6, 1e-7)
"""Annual probabilities at the ends of the ladder: what lies beyond is taken to be like them."""

POLISH_TOLERANCE = 1e-4
"""Accuracy of a capacity, as a share of the step from the median flood to the 1 % flood."""


@dataclass(frozen=True)
class FlowLadder:
    """The ladder over the flow, for samples of shape (R, S, M).

    capacity : least flow that goes over the bank [m3/s]; nan where the level falls, or a run fails, as the flow rises
    levels : at the nodes [m], shape (K, R, S, M)
    mean, spread : of the normal score of the flood of a year, given the flood's other numbers
    """

    capacity: Array
    levels: Array
    mean: Array
    spread: float


@dataclass(frozen=True)
class NestedFloods:
    """Samples of shape (R, S, M): R replicates of S states of knowledge, each with M floods.

    z : correlated normal scores [R, S, M, d]: knowledge, each flood, and the flood of a year as the last
    chosen : which alternative of the flood distribution belongs to each state, shape (R, S)
    """

    sampling: Sampling
    given: AnnualFloods
    z: Array
    chosen: NDArray[np.intp]

    # --- the site -------------------------------------------------------------------------------------

    def rows(self, z: Array) -> Array:
        """Rows of the model's table for scores [..., d]. The design flow in them is its median, and not used."""
        inputs = self.sampling.inputs
        full = np.zeros((*z.shape[:-1], inputs.dimension))
        for column, name in enumerate((*self.given.knowledge, *self.given.each_flood)):
            full[..., inputs.index(name)] = z[..., column]
        return inputs.values(full).reshape(-1, inputs.dimension)

    def banks(self, rows: Array) -> Array:
        """Bank level at the place [m]."""
        return self.sampling.model.banks(rows)

    def levels(self, rows: Array, flow: Array, blocked: bool = True) -> Array:
        """Level at the place [m] for these rows with these flows [m3/s]; with nothing blocked if so wished."""
        model = self.sampling.model
        numbers = dict(model.numbers(rows))
        numbers[FLOW] = flow
        if not blocked:
            numbers |= {name: 0.0 for name in numbers if is_blockage(name)}
        (levels,) = model.levels_of(numbers, len(rows))
        return np.asarray(levels)

    # --- the ladder -----------------------------------------------------------------------------------

    def nodes(self) -> Array:
        """Flows of the ladder [m3/s], wide enough for every alternative."""
        floods = self.given.floods
        ends = floods.flood(ENDS)
        inner = floods.best.quantile(1.0 - np.array(RUNGS))
        flows = np.concatenate([[ends[:, 0].min()], inner, [ends[:, 1].max()]])
        return np.unique(np.maximum(flows, LEAST_FLOW))

    def ladder(self, z: Array, blocked: bool = True) -> FlowLadder:
        """Solve for the capacity of every sample of these scores [R, S, M, d]."""
        nodes, rows, shape = self.nodes(), self.rows(z), z.shape[:-1]
        banks = self.banks(rows)
        flat = (nodes.size, shape[0], len(rows) // shape[0])
        levels = np.array([self.levels(rows, np.full(len(rows), node), blocked) for node in nodes])
        margins = (levels - banks).reshape(flat)
        trusted = rungs.Ladder(nodes, levels.reshape(flat), margins).trusted(FALL_TOLERANCE)

        def margin_at(flow: Array, which: NDArray[np.intp]) -> Array:
            return np.asarray(self.levels(rows[which], flow, blocked) - banks[which])

        middle, rare = self.given.floods.best.quantile([0.5, 0.99])
        crossing = rungs.critical(nodes, margins)
        polished = polish.polish(margin_at, crossing, POLISH_TOLERANCE * float(rare - middle), where=trusted)
        capacity = np.where(trusted, polished.value, np.nan).reshape(shape)
        return FlowLadder(capacity, levels.reshape(-1, *shape), *self._conditional(z, blocked))

    def _conditional(self, z: Array, blocked: bool) -> tuple[Array, float]:
        """Mean and spread of the flood's score given its other numbers; blockages do not count where there are none."""
        copula, names = self.given.copula, self.given.copula.names
        kept = [i for i, name in enumerate(names[:-1]) if blocked or not of_debris(name)]
        both = [*kept, len(names) - 1]
        part = Copula(tuple(names[i] for i in both), copula.correlation[np.ix_(both, both)])
        conditional = part.conditional(len(kept))
        return z[..., kept] @ conditional.weights, conditional.spread


def of_debris(name: str) -> bool:
    """Whether a number tells what debris does: a blockage or its pattern."""
    return name.rsplit(".", 1)[-1] in EACH_FLOOD


def nested_floods(sampling: Sampling, given: AnnualFloods) -> NestedFloods:
    """Draw the states and their floods.

    The first score of a state is that of the alternative of the flood distribution; then come its other numbers.
    """
    replicates, states, inside = _shape(*sampling.shape, bool(given.each_flood))
    outer, inner = 1 + len(given.knowledge), len(given.each_flood) + 1
    settings = sampling.settings
    scores = nested_scores(settings.design, states, inside, outer, inner, settings.seed + 2, replicates)
    chosen = given.floods.chosen(scores[:, :, 0, 0])
    return NestedFloods(sampling, given, given.copula.correlate(scores[..., 1:]), chosen)


def _shape(replicates: int, each: int, several: bool) -> tuple[int, int, int]:
    """Replicates, states in each, floods in each state, from the samples of a run."""
    while each * replicates > MOST_ROWS and each > 1:
        each //= 2
    inside = FLOODS if several else 1
    while inside**2 > each:
        inside //= 2
    return replicates, each // inside, inside
