"""Floods of a year that pass in time: in each sample one that is large enough to go over the bank.

q* is the least peak whose highest level reaches the bank with nobody at work and no pool; given all other numbers the
flood of a year is as large with p = P(Q >= q*), the threshold method. A crew never blocks anything, and a pool stands
highest where as much goes out as comes in: with neither does a smaller flood go over. So one flood of every sample is
drawn among those of q* and more, passes as the study has it, and what it shows counts p:

    E[x] = E[p x(Q)],    Q drawn given Q >= q*

for any x that is nothing while the water stays below the bank: going over, hours, volume. Total probability.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.short_ladder import critical_values
from overbank.hydraulics.hydrographs import above
from overbank.sampling.flood import HOUR, Draws, Flood, draws, flood_of, place_of, shape_parameter
from overbank.sampling.moments import time_over
from overbank.sampling.nested import NestedFloods, nested_floods
from overbank.sampling.passage import passage, volume_over
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.study.annual import AnnualFloods
from overbank.study.passing import SHAPE
from overbank.uncertain.conditioning import Given
from overbank.uncertain.floods import LEAST_FLOW

MOST, MOST_FILLED = 2**12, 2**10
"""So many floods pass at the most, without and with a pool."""

DRAWN = 8
"""So many floods are drawn for each sample where nothing changes in time, for they cost next to nothing; else one."""

RUNGS = (0.5, 0.1, 0.01, 1e-3, 1e-5)
"""Annual probabilities of the flows of the ladder, between the ends of that of the steady floods."""

TOLERANCE = 1e-4
"""On a least peak, as a share of the step from the median flood to the 1 % flood."""

FURTHEST, HALVINGS = 12.0, 60
"""A score is looked for from minus to plus the first, by so many halvings."""


@dataclass(frozen=True)
class YearlyFloods:
    """What the floods of a year do in time; shape (R, S, M), replicates, states of knowledge and floods of each, the
    draws of one sample side by side.

    chance : that the flood of a year is large enough to go over with nobody at work and no pool
    beyond : the same had every flood beyond the ladder been large enough
    weights, shifts : of the floods, as of `NestedFloods`
    over, hours, volume : of the flood drawn: whether it goes over, for how long [hours], and how much [m3]
    """

    chance: Array
    beyond: Array
    weights: Array
    shifts: Array
    over: Array
    hours: Array
    volume: Array


def yearly_floods(sampling: Sampling, given: AnnualFloods) -> YearlyFloods:
    """Of a study whose floods have a shape, as it has them: debris, crew and pool where there are any."""
    written = sampling.study.content.flow
    nested = nested_floods(sampling, given, MOST if written.pool is None else MOST_FILLED)
    year = _Year(nested)
    least = year.least_peaks()
    law, top = nested.flood_given(), nested.nodes()[-1]
    chance, beyond = (
        law.above(given.floods.scores_below(peak, nested.chosen)) for peak in (least, np.minimum(least, top))
    )
    drawn = DRAWN if year.still else 1
    own, each = law.above(nested.z[..., -1]), []
    for k in range(drawn):
        score = score_above(law, chance * (k + own) / drawn)
        peaks = np.maximum(given.floods.flows(score, nested.chosen), least)
        each.append(year.passed(peaks, least, np.flatnonzero(chance.ravel() > 0.0)))
    shape = (*chance.shape[:2], -1)
    over, hours, volume = (np.stack(one, axis=-1).reshape(shape) for one in zip(*each, strict=True))
    chance, beyond, weights = (np.repeat(one, drawn, axis=-1) for one in (chance, beyond, nested.weights))
    return YearlyFloods(chance, beyond, weights, nested.shifts, over, hours, volume)


def score_above(law: Given, chance: Array) -> Array:
    """The score that is reached or passed with a chance, given the others; by halving."""
    low, high = np.full_like(chance, -FURTHEST), np.full_like(chance, FURTHEST)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        likelier = law.above(middle) > chance
        low, high = np.where(likelier, middle, low), np.where(likelier, high, middle)
    return np.asarray(low)


class _Year:
    """The floods of some rows of the two loops, with peaks that are given."""

    def __init__(self, nested: NestedFloods) -> None:
        self.nested, self.sampling = nested, nested.sampling
        self.model, self.written = self.sampling.model, self.sampling.study.content.flow
        self.place = place_of(self.model, self.written)
        self.rows = nested.rows(nested.z)
        self.banks = nested.banks(self.rows)
        self.chance: Draws = draws(self.sampling, len(self.rows))

    @property
    def still(self) -> bool:
        """Whether nothing changes in time but the flow."""
        return self.written.debris is None and self.written.pool is None

    def flood(self, peaks: Array, which: NDArray[np.intp]) -> Flood:
        """With these peaks [m3/s]."""
        numbers = self.model.numbers(self.rows[which]) | {FLOW: peaks}
        return flood_of(self.model, self.written, numbers, which.size)

    def least_peaks(self) -> Array:
        """Least peak that goes over the bank with nobody at work and no pool [m3/s]; inf where none does, (R, S, M)."""
        nodes, best = self.nested.nodes(), self.nested.given.floods.best
        flows = np.unique([LEAST_FLOW, nodes[0], *best.quantile(1.0 - np.array(RUNGS)), nodes[-1]])
        middle, rare = best.quantile([0.5, 0.99])

        def depth_over_bank(peaks: Array, which: NDArray[np.intp]) -> Array:
            flood = self.flood(peaks, which)
            if self.written.debris is None:
                return flood.levels({FLOW: flood.peak}) - self.banks[which]
            alone = passage(flood, self.place, self.chance, which, crew=False, pool=False, told_above=np.inf)
            return alone.highest - self.banks[which]

        found = critical_values(depth_over_bank, flows, len(self.rows), TOLERANCE * float(rare - middle))
        return found.value.reshape(self.nested.z.shape[:-1])

    def passed(self, peaks: Array, least: Array, which: NDArray[np.intp]) -> tuple[Array, Array, Array]:
        """Whether the floods of some rows go over the bank, for how long [hours] and with how much [m3]; no others."""
        flood, bank = self.flood(peaks.ravel()[which], which), self.banks[which]
        each = np.zeros((3, peaks.size))
        if self.still:
            capacity = self.flood(np.maximum(least.ravel()[which], LEAST_FLOW), which).peak
            each[:, which] = np.ones(which.size), *self._still(flood, capacity)
        else:
            helped = self.written.crew is not None
            way = passage(flood, self.place, self.chance, which, crew=helped, told_above=bank)
            # with neither crew nor pool all go over: the least peak is known to a tolerance only
            over = way.highest > bank if helped or self.written.pool is not None else np.ones(which.size)
            each[:, which] = over, time_over(way.times, way.levels - bank), volume_over(flood, self.place, way, bank)
            each[:, which[np.isnan(way.highest)]] = np.nan
        over, hours, volume = each.reshape(3, *peaks.shape)
        return over, hours, volume

    def _still(self, flood: Flood, capacity: Array) -> tuple[Array, Array]:
        """Hours and volume above the capacity where nothing changes in time; closed form."""
        shape = self.written.hydrograph
        assert shape is not None
        own = shape_parameter(self.written, flood.numbers, flood.size)
        base, to_peak = flood.number(f"{SHAPE}.base_flow_m3_s"), flood.number(f"{SHAPE}.hours_to_peak")
        hours, volume = above(shape.form, own, flood.peak, base, capacity)
        return to_peak * hours, to_peak * HOUR * volume
