"""Samples in two loops: states of knowledge, and the floods of a year within each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from overbank.analysis import ladder as rungs
from overbank.analysis import polish
from overbank.sampling.ladder import FALL_TOLERANCE, is_blockage
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.study.annual import AnnualFloods
from overbank.study.collect import DEBRIS, PASSING
from overbank.uncertain.conditioning import Given
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.floods import LEAST_FLOW, MOST_FLOW
from overbank.uncertain.nested import nested_scores, net_shifts, weighted_floods
from overbank.uncertain.parameters import HasModels, Models, chosen

FLOODS = 32
"""Most floods in each state of knowledge, where anything comes out anew in each flood: two halves of 16, whose
difference tells how well they tell the state's mean."""

MOST_FLOODS_A_STATE = 4
"""In a replicate there may be this many times as many floods in a state as there are states: with few samples a state
that is told badly harms the band of what is not known more than few states do."""

HALVES = 2
"""Nets of points that the floods of a state come in."""

MOST_ROWS = 2**15
"""Rows of the two loops together; more would only cost time."""

RUNGS = (0.9, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 1e-4, 1e-5, 1e-6)
"""Annual probabilities of the flows of the ladder, between its ends."""

ENDS = (1.0 - 1e-6, 1e-7)
"""Annual probabilities at the ends of the ladder: what lies beyond is taken to be like them."""

FURTHER = (1e-7, 1e-8, 1e-9, 1e-10, 1e-12)
"""Annual probabilities of further flows, where no flood of the ladder goes over the bank."""

POLISH_TOLERANCE = 1e-4
"""Accuracy of a capacity, as a share of the step from the median flood to the 1 % flood."""


@dataclass(frozen=True)
class FlowLadder:
    """The ladder over the flow, for samples of shape (R, S, M).

    capacity : least flow that goes over the bank [m3/s]; nan where the level falls, or a run fails, as the flow rises
    levels : at the nodes [m], shape (K, R, S, M)
    given : what the flood's other numbers say of its own normal score
    """

    capacity: Array
    levels: Array
    given: Given


@dataclass(frozen=True)
class NestedFloods:
    """Samples of shape (R, S, M): R replicates of S states of knowledge, each with M floods.

    z : correlated normal scores [R, S, M, d]: knowledge, each flood, and the flood of a year as the last
    weights : of the floods, the mean over those of a state being 1, shape (R, S, M)
    shifts : of the nets of both halves of the floods, for each number that comes out anew (R, S, 2, d)
    chosen : which alternative of the flood distribution belongs to each state, shape (R, S)
    places : column of z -> which model of that number belongs to each state (R, S), where its parameters are uncertain
    """

    sampling: Sampling
    given: AnnualFloods
    z: Array
    weights: Array
    shifts: Array
    chosen: NDArray[np.intp]
    places: Mapping[int, NDArray[np.intp]]

    # --- the site -------------------------------------------------------------------------------------

    def rows(self, z: Array) -> Array:
        """Rows of the model's table for scores [..., d]. The design flow in them is its median, and not used."""
        inputs, given = self.sampling.inputs, self.given
        rows = np.empty((*z.shape[:-1], inputs.dimension))
        rows[...] = inputs.medians()
        for column, name in enumerate((*given.knowledge, *given.each_flood)):
            rows[..., inputs.index(name)] = self._values(column, z[..., column])
        return rows.reshape(-1, inputs.dimension)

    def _values(self, column: int, z: Array) -> Array:
        """Values of a number at scores (R, S, M), each state by its own model of it."""
        distribution = self.given.distributions[column]
        if column not in self.places or not isinstance(distribution, HasModels):
            return distribution.value(z)
        return distribution.models.value(z, np.broadcast_to(self.places[column][..., np.newaxis], z.shape))

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

    def flood_given(self) -> Given:
        """What the other numbers of each flood say of its own normal score."""
        return self._given(self.z, blocked=True)

    # --- the ladder -----------------------------------------------------------------------------------

    def nodes(self, further: bool = False) -> Array:
        """Flows of the ladder [m3/s], wide enough for every alternative; on to the rarest floods if so wished."""
        floods = self.given.floods
        ends = floods.flood(ENDS)
        inner = floods.best.quantile(1.0 - np.array(RUNGS))
        more = floods.best.value(-ndtri(np.array(FURTHER))) if further else np.empty(0)
        flows = np.concatenate([[ends[:, 0].min()], inner, [ends[:, 1].max()], more])
        return np.unique(np.clip(flows, LEAST_FLOW, MOST_FLOW))

    def ladder(self, z: Array, blocked: bool = True, further: bool = False) -> FlowLadder:
        """Solve for the capacity of every sample of these scores [R, S, M, d]."""
        nodes, rows, shape = self.nodes(further), self.rows(z), z.shape[:-1]
        banks = self.banks(rows)
        flat = (nodes.size, shape[0], len(rows) // shape[0])
        levels = np.array([self.levels(rows, np.full(len(rows), node), blocked) for node in nodes])
        depths = (levels - banks).reshape(flat)
        trusted = rungs.trusted(depths, FALL_TOLERANCE)

        def depth_at(flow: Array, which: NDArray[np.intp]) -> Array:
            return np.asarray(self.levels(rows[which], flow, blocked) - banks[which])

        middle, rare = self.given.floods.best.quantile([0.5, 0.99])
        crossing = rungs.critical(nodes, depths)
        polished = polish.polish(depth_at, crossing, POLISH_TOLERANCE * float(rare - middle), where=trusted)
        capacity = np.where(trusted, polished.value, np.nan).reshape(shape)
        return FlowLadder(capacity, levels.reshape(-1, *shape), self._given(z, blocked))

    def above(self, flows: FlowLadder, flow: Array) -> Array:
        """P(the flood of a year is at least a flow | its other numbers), flow (R, S, M) or (R, S, M, L) [m3/s]."""
        scores = self.given.floods.scores_below(flow, self.chosen)
        if flow.ndim == flows.capacity.ndim:
            return flows.given.above(scores)
        return np.moveaxis(flows.given.above(np.moveaxis(scores, -1, 0)), 0, -1)

    def _given(self, z: Array, blocked: bool) -> Given:
        """What its other numbers say of the flood's score; blockages do not count where there are none."""
        copula, names = self.given.copula, self.given.copula.names
        kept = [i for i, name in enumerate(names[:-1]) if blocked or not of_debris(name)]
        both = [*kept, len(names) - 1]
        return copula.part(both).given(len(kept), z[..., both])


def of_debris(name: str) -> bool:
    """Whether a number does not matter in a steady run with nothing blocked: a blockage, its pattern, what passes."""
    return name.rsplit(".", 1)[-1] in (*DEBRIS, *PASSING)


def nested_floods(sampling: Sampling, given: AnnualFloods, most: int = MOST_ROWS) -> NestedFloods:
    """Draw the states and their floods, not more than so many rows in all.

    The first score of a state is that of the alternative of the flood distribution, the next ones are those of the
    models of numbers whose own parameters are uncertain; then come its other numbers.
    """
    replicates, states, inside = _shape(*sampling.shape, bool(given.each_flood), most)
    settings, known = sampling.settings, len(given.knowledge)
    anew, vague = _anew(given)
    first = 1 + len(vague)
    scores = nested_scores(
        settings.design, states, inside, first + known, len(anew) + 1, settings.seed + 2, replicates, HALVES
    )
    places = {column: chosen(each, scores[:, :, 0, 1 + k]) for k, (column, each) in enumerate(vague.items())}
    models = {column: (each, places[column]) for column, each in vague.items()}
    z, weights = weighted_floods(scores[..., first:], given.copula, anew, models)
    floods = given.floods.chosen(scores[:, :, 0, 0])
    shifts = net_shifts(scores[..., first + known : -1], HALVES)
    return NestedFloods(sampling, given, given.copula.correlate(z), weights, shifts, floods, places)


def single_floods(sampling: Sampling, given: AnnualFloods, scores: Array) -> NestedFloods:
    """One flood in each of some states, from independent scores (N, `free_scores`): all but the flood's own."""
    _, vague = _anew(given)
    own = np.concatenate([scores[:, 1 + len(vague) :], np.zeros((len(scores), 1))], axis=1)
    z = given.copula.correlate(own)[np.newaxis, :, np.newaxis]
    places = {column: chosen(each, scores[np.newaxis, :, 1 + k]) for k, (column, each) in enumerate(vague.items())}
    floods = given.floods.chosen(scores[np.newaxis, :, 0])
    nothing = np.empty((*z.shape[:2], 1, 0))
    return NestedFloods(sampling, given, z, np.ones(z.shape[:-1]), nothing, floods, places)


def free_scores(given: AnnualFloods) -> int:
    """Number of scores of a flood but its own: alternative, models, knowledge, each flood."""
    return 1 + len(_anew(given)[1]) + len(given.distributions)


def _anew(given: AnnualFloods) -> tuple[dict[int, Distribution], dict[int, Models]]:
    """By their columns: numbers that come out anew in each flood, and those of them whose parameters are uncertain."""
    known = len(given.knowledge)
    anew = {known + k: given.distributions[known + k] for k in range(len(given.each_flood))}
    return anew, {column: each.models for column, each in anew.items() if isinstance(each, HasModels)}


def _shape(replicates: int, each: int, several: bool, most: int = MOST_ROWS) -> tuple[int, int, int]:
    """Replicates, states in each, floods in each state, from the samples of a run."""
    while each * replicates > most and each > 1:
        each //= 2
    inside = FLOODS if several else 1
    while inside**2 > MOST_FLOODS_A_STATE * each or (inside > 1 and 2 * inside > each):
        inside //= 2
    return replicates, each // inside, inside
