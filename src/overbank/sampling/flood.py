"""One flood of every sample: its flow from step to step, and how much of the opening its debris leaves open.

Debris closes what is still open below its ceiling C, so that everything that comes multiplies:

    B = C - (C - B0) R,    R = e^(-k D/C) (1 - f)^(flush) (1 - s)^(rafts so far)

D is the time since the beginning, or the volume passed over the median design flow. R never rises in time and never
rises with the peak; B stands still where it begins above the ceiling. Rafts are a Poisson process in the volume passed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overbank.errors import DomainError
from overbank.hydraulics.hydrographs import flow
from overbank.hydraulics.pools import Along, Pool, TablePool, Times, of_areas, of_volumes
from overbank.model import Model
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import CLIMATE, FLOW, Column, flow_of, spread
from overbank.study.build import Problem
from overbank.study.flow import Flow
from overbank.study.passing import CREW, DEBRIS, POOL, SHAPE

RISING, FALLING = 16, 32
"""Steps of the rise and of the fall; the peak is one of their ends."""

DRAINED, DRAINING = 18, 3.0
"""Steps for which a pool is followed after the flood, and how many times the flood's own time they take."""

MOST, MOST_FILLED = 2**15, 2**14
"""So many samples go through the flood in time at the most, without and with a pool, the first of every replicate."""

HOUR = 3600.0

NOTHING_TO_BLOCK = (
    "flow.debris: expected something that debris can block at {place} or below it; got none. Give a screen or an "
    "opening, or remove [flow.debris]"
)


@dataclass(frozen=True)
class Draws:
    """What chance does in the flood, the same for every arrangement of a study.

    crew : the crew fails where this is below its chance to [0 to 1]; hour : of the day at which the flood peaks
    look : when somebody first looks at the level, over the time between two looks [0 to 1]
    seed : of the gaps between rafts
    """

    crew: Array
    hour: Array
    look: Array
    seed: tuple[int, ...]

    def rafts(self, chosen: NDArray[np.intp], cumulated: Array) -> Array:
        """Rafts that have come by a cumulated mean number (steps, chosen); the same whatever is chosen."""
        generator = np.random.default_rng(self.seed)
        arrival, count = np.zeros(self.crew.size), np.zeros(cumulated.shape)
        come = np.ones(cumulated.shape, dtype=np.bool_)
        while come.any():
            arrival = arrival + generator.exponential(size=arrival.size)
            come = cumulated >= arrival[chosen]
            count += come
        return count


def draws(sampling: Sampling, size: int) -> Draws:
    """Of a run, by its seed."""
    seed = (sampling.settings.seed, 14)
    generator = np.random.default_rng((*seed, 0))
    return Draws(generator.random(size), 24.0 * generator.random(size), generator.random(size), (*seed, 1))


def opening(problem: Problem, place: str) -> str | None:
    """Dotted path of the blockage that the debris of the flood adds to: the nearest at or below the place, if any."""
    names = [*problem.inputs.names, *problem.fixed]
    going_upstream = [element.id for element in problem.site.elements]
    for element in going_upstream[going_upstream.index(place) :: -1]:
        for name in names:
            if name.startswith(f"{element}.") and name.endswith(".blockage"):
                return name
    return None


@dataclass(frozen=True)
class Place:
    """Where the flood passes.

    name : id of the structure; debris : dotted path of the blockage that debris adds to, None where nothing is blocked
    """

    name: str
    debris: str | None

    def changed(self, flow: Array, share: Array) -> dict[str, Array]:
        """Numbers of the site at a moment."""
        return {FLOW: flow} if self.debris is None else {FLOW: flow, self.debris: share}

    def blocked(self, flood: Flood) -> Array:
        """Blocked share when the flood begins."""
        return np.zeros(flood.size) if self.debris is None else flood.number(self.debris)


def place_of(model: Model, written: Flow) -> Place:
    """Where the floods of a study pass.

    Raises
    ------
    DomainError : the flood brings debris, and nothing can be blocked
    """
    found = opening(model.problem, model.place)
    if found is None and written.debris is not None:
        raise DomainError(NOTHING_TO_BLOCK.format(place=model.place))
    return Place(model.place, found)


@dataclass(frozen=True)
class Flood:
    """The flood of every sample, in steps.

    model, written : the site, and the table [flow] of its study
    numbers : every number of the site
    times, flows : at the ends of the steps [hours, m3/s]; shape (T + 1, n)
    middles : flows in the middle of each step [m3/s]; shape (T, n)
    """

    model: Model
    written: Flow
    numbers: dict[str, Column]
    times: Array
    flows: Array
    middles: Array

    def of(self, some: NDArray[np.intp]) -> Flood:
        """The floods of some samples."""
        numbers = {key: each[some] if isinstance(each, np.ndarray) else each for key, each in self.numbers.items()}
        tables = self.times[:, some], self.flows[:, some], self.middles[:, some]
        return Flood(self.model, self.written, numbers, *tables)

    @property
    def size(self) -> int:
        """Samples."""
        return int(self.times.shape[1])

    def number(self, name: str) -> Array:
        """One number of every sample; nothing where the study has none."""
        return spread(self.numbers.get(name, 0.0), self.size)

    @property
    def peak(self) -> Array:
        """[m3/s]."""
        return self.number(FLOW)

    def at(self, times: Array) -> Array:
        """Flow at one time of each sample [m3/s]."""
        return _flow_at(self.written, self.numbers, self.size, times)

    def drained(self) -> Flood:
        """Followed for longer, until a pool has drained; the base flow comes then."""
        times = self.times[-1] * (1.0 + np.linspace(0.0, DRAINING, DRAINED + 1)[1:, None])
        middles = np.concatenate([self.times[-1:], times])
        middles = 0.5 * (middles[1:] + middles[:-1])
        flows, between = (np.array([self.at(row) for row in rows]) for rows in (times, middles))
        return replace(
            self,
            times=np.concatenate([self.times, times]),
            flows=np.concatenate([self.flows, flows]),
            middles=np.concatenate([self.middles, between]),
        )

    def section_of(self, place: str) -> Along:
        """Area below a level of the reach just above a place [m2], of some samples."""
        elements = self.model.problem.site.elements
        at = [element.id for element in elements].index(place)
        pool = elements[at + 1].pool(self.numbers, self.size)
        assert pool is not None
        return pool.area

    @property
    def held(self) -> Array | None:
        """Level of the pool at the beginning, with a flap shut [m]; None where the study gives none."""
        written = self.written.pool
        return None if written is None or written.start_level_m is None else self.number(f"{POOL}.start_level_m")

    def pool(self) -> Pool | None:
        """What fills upstream of the place; None where the study gives nothing."""
        written = self.written.pool
        if written is None:
            return None
        factor = self.number(f"{POOL}.factor")
        if written.table is not None:
            rows = np.array(written.table.levels), np.array(written.table.amounts)
            stages = of_areas(*rows) if written.table.of_areas else of_volumes(*rows)
            return Times(TablePool(stages, np.full(self.size, stages.levels[0])), factor)
        (reach,) = (each for each in self.model.problem.site.elements if each.id == written.reach)
        own = reach.pool(self.numbers, self.size)
        assert own is not None
        return Times(own, factor)

    def levels(self, changed: Mapping[str, Array], chosen: NDArray[np.intp] | None = None) -> Array:
        """Steady level at the place [m] with some numbers changed, the flow among them, of all samples or some."""
        own = self.numbers
        if chosen is not None:
            own = {key: each[chosen] if isinstance(each, np.ndarray) else each for key, each in own.items()}
        (levels,) = self.model.levels_of({**own, **changed}, changed[FLOW].size)
        return np.asarray(levels)

    def passed(self) -> Array:
        """Volume passed since the beginning over the median design flow [hours], at the ends of the steps.

        By Simpson's rule in each step.
        """
        steps = np.diff(self.times, axis=0)
        return _cumulated(steps * (self.flows[:-1] + 4.0 * self.middles + self.flows[1:]) / 6.0 / self.median)

    @property
    def median(self) -> float:
        """Median of the design flow [m3/s]."""
        return float(np.asarray(self.model.numbers(self.model.medians())[FLOW]).ravel()[0])

    def left_open(self, chance: Draws, chosen: NDArray[np.intp]) -> Array:
        """What each step leaves of what was open below the ceiling before it, all after the flood; shape (T, n)."""
        debris = self.written.debris
        if debris is None:
            return np.ones_like(self.middles)
        passed = self.passed()
        driven = passed if debris.grows_with == "flow" else self.times
        rate, ceiling = self.number(f"{DEBRIS}.rate_per_hour"), self.number(f"{DEBRIS}.ceiling")
        left = np.exp(-rate * np.diff(driven, axis=0) / ceiling)
        if debris.first_flush is not None:
            reached = np.maximum.accumulate(self.flows, axis=0) >= self.number(f"{DEBRIS}.first_flush_flow_m3_s")
            left *= np.where(reached[1:] & ~reached[:-1], 1.0 - self.number(f"{DEBRIS}.first_flush"), 1.0)
        if debris.arrivals_per_hour is not None:
            come = chance.rafts(chosen, self.number(f"{DEBRIS}.arrivals_per_hour") * passed)
            left *= (1.0 - self.number(f"{DEBRIS}.arrival_share")) ** np.diff(come, axis=0)
        left[RISING + FALLING :] = 1.0
        return np.asarray(left)

    def blockage(self, start: Array, left: Array) -> Array:
        """Blocked share with nobody at work, from what was blocked at the start and what was left open since."""
        if self.written.debris is None:
            return start
        ceiling = self.number(f"{DEBRIS}.ceiling")
        return np.where(start < ceiling, ceiling - (ceiling - start) * left, start)


def _cumulated(each: Array) -> Array:
    return np.concatenate([np.zeros((1, each.shape[1])), np.cumsum(each, axis=0)])


def flood_of(model: Model, written: Flow, numbers: dict[str, Column], size: int) -> Flood:
    """The floods of a table of numbers, in steps.

    Parameters
    ----------
    written : the table [flow] of the study, with a hydrograph
    numbers : every number of the site; size : samples

    A climate to come multiplies every flow, the base flow too: the flood has it in its flows, no more as a factor.
    """
    if CLIMATE in numbers:
        base = numbers[f"{SHAPE}.base_flow_m3_s"] * spread(numbers[CLIMATE], size)
        numbers = {**numbers, FLOW: flow_of(numbers, size), f"{SHAPE}.base_flow_m3_s": base, CLIMATE: 1.0}
    to_peak = spread(numbers[f"{SHAPE}.hours_to_peak"], size)
    assert written.hydrograph is not None
    end = written.hydrograph.form.end(shape_parameter(written, numbers, size))
    rise = np.linspace(0.0, 1.0, RISING + 1)[:, None] * np.ones(size)
    fall = 1.0 + np.linspace(0.0, 1.0, FALLING + 1)[1:, None] * (end - 1.0)
    times = np.concatenate([rise, fall]) * to_peak
    middles = 0.5 * (times[1:] + times[:-1])
    each = [np.array([_flow_at(written, numbers, size, row) for row in rows]) for rows in (times, middles)]
    return Flood(model, written, numbers, times, *each)


def shape_parameter(written: Flow, numbers: dict[str, Column], size: int) -> Array:
    """The shape's own number of every sample; 1 for a polygon, which does not look at it."""
    assert written.hydrograph is not None
    name = written.hydrograph.parameter
    return spread(1.0 if name is None else numbers[name], size)


def _flow_at(written: Flow, numbers: dict[str, Column], size: int, times: Array) -> Array:
    assert written.hydrograph is not None
    share = written.hydrograph.form.share(
        times / spread(numbers[f"{SHAPE}.hours_to_peak"], size), shape_parameter(written, numbers, size)
    )
    return flow(share, spread(numbers[FLOW], size), spread(numbers[f"{SHAPE}.base_flow_m3_s"], size))


def crew_number(flood: Flood, key: str) -> Array:
    """A number of the crew, one a sample."""
    return flood.number(f"{CREW}.{key}")
