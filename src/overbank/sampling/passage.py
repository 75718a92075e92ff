"""Floods passing the site. Without storage the level is at every moment the steady one of its flow and its blockage,

    h(t) = h_steady(Q(t), B(t)),    highest = the greatest of them

and with a pool upstream of the place the one that the pool has filled to (`routing`).

All samples go through together, a step at a time, for a crew is called at a level. Without a crew the highest level
never falls when the peak, the debris or what is blocked at the start rises. A crew that is called at a level breaks
that law in truth: more debris calls it earlier.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.short_ladder import critical_values
from overbank.hydraulics.pools import Pool
from overbank.sampling.crew import Crew
from overbank.sampling.flood import HOUR, RISING, Draws, Flood, Place, crew_number
from overbank.sampling.routing import Moment, Routing, State, put
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW

HALVINGS = 3
"""So often the steps beside the highest level are halved."""

LEAST_SHARE = 0.02
"""Capacities are looked for down to this share of the flow."""

DIP_M = 0.02
"""So much lower a level must stand to be left out: in a fast approach a somewhat smaller flow stands some mm higher."""

TOLERANCE = 1e-4
"""On a capacity, as a share of the flow."""


@dataclass(frozen=True)
class Passage:
    """What happened in the flood of every sample.

    times, flows, blockage, levels : at the ends of the steps [hours, m3/s, -, m]; shape (T + 1, n); flows through the
        site, which are the flood's own without a pool
    highest, when, blocked : highest level [m], its time [hours] and the blockage then; shape (n,)
    called, at_work : when the crew was called and began to work [hours]; inf where never
    missing : water that is missing from the balance of the pool, as a share of all that came; 0 without a pool
    """

    times: Array
    flows: Array
    blockage: Array
    levels: Array
    highest: Array
    when: Array
    blocked: Array
    called: Array
    at_work: Array
    missing: Array


def passage(
    flood: Flood,
    place: Place,
    chance: Draws,
    chosen: NDArray[np.intp],
    *,
    crew: bool,
    pool: bool = True,
    told_above: Array | float = -np.inf,
) -> Passage:
    """The floods pass.

    Parameters
    ----------
    place : where
    chance, chosen : what chance does, and which of its samples these are
    crew : whether the crew of the study comes; nobody does where it has none
    pool : whether the pool of the study fills; none does where it has none
    told_above : with neither, a flood whose highest level is not above this [m] need not have its other levels, which
        are -inf then; that takes a third of the runs of the site
    """
    fills = flood.pool() if pool else None
    way = _Way(flood if fills is None else flood.drained(), place, chance, chosen, crew=crew)
    way.water = Steady(way) if fills is None else Filling(way, fills)
    sparing = way.crew is None and fills is None and np.any(told_above > -np.inf)
    if sparing:
        way.fall()
    else:
        way.go()
    highest, when, blocked = way.highest()
    if sparing:
        way.fill(np.flatnonzero(~(highest <= told_above)))
    never = np.full(flood.size, np.inf)
    called, at_work = (never, never) if way.crew is None else (way.crew.called, way.crew.at_work)
    times, flows = way.flood.times, way.water.outflows
    return Passage(
        *(times, flows, way.blockage, way.levels, highest, when, blocked, called, at_work), way.water.missing
    )


def blocked_beside(flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], called: Array) -> Array:
    """Blocked share at the ends of the steps with a crew that is called at these times and may work at every level and
    velocity that comes; shape (T + 1, n)."""
    way = _Way(flood, place, chance, chosen, crew=True)
    assert way.crew is not None
    way.crew.called = called
    for step in range(len(way.left)):
        way.blockage[step + 1] = way.at(np.full(flood.size, step), flood.times[step + 1])
    return way.blockage


class _Way:
    """Blockage and level from step to step, and in between.

    left : what each step leaves of what was open before it
    """

    water: Steady | Filling

    def __init__(self, flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], *, crew: bool) -> None:
        self.flood, self.place, self.everyone = flood, place, np.arange(flood.size)
        self.left = flood.left_open(chance, chosen)
        self.crew = Crew(flood, place, chance, chosen) if crew and flood.written.crew is not None else None
        self.blockage, self.levels = np.empty_like(flood.times), np.empty_like(flood.times)
        self.blockage[0] = place.blocked(flood)

    def go(self) -> None:
        """Through all steps. A crew that is called within a step and begins before its end is looked at once more."""
        times, last = self.flood.times, len(self.left)
        for step in range(last + 1):
            self.levels[step] = self.water.arrive(step, self.everyone)
            if self.crew is not None and step > 0:
                idle = self.crew.at_work > times[step]
                self.crew.hears(step, self.levels)
                self._again(step, np.flatnonzero(idle & (self.crew.at_work < times[step])))
            if self.crew is not None:
                self.crew.looks(step, self.levels[step], self.water.outflows[step])
            if step < last:
                self.blockage[step + 1] = self.at(np.full(self.flood.size, step), times[step + 1])

    def fall(self) -> None:
        """With nobody at work, through the steps that may stand highest; -inf at all others.

        Flow and blockage rise to the peak: nothing before it stands higher. Nor does anything from a step on where the
        greatest flow still to come, with all that is blocked in the end, stands lower than the peak did.
        """
        flows, last = self.flood.flows, len(self.left)
        for step in range(last):
            self.blockage[step + 1] = self.flood.blockage(self.blockage[step], self.left[step])
        self.levels[:] = -np.inf
        self.levels[RISING] = peak = self.water.arrive(RISING, self.everyone)
        to_come = np.maximum.accumulate(flows[::-1], axis=0)[::-1]
        done, over = np.full((2, self.flood.size), [[RISING], [last + 1]])
        while np.any(over - done > 1):
            middle = np.minimum((done + over) // 2, last)
            most = self.place.changed(to_come[middle, self.everyone], self.blockage[-1])
            lower = self.flood.levels(most) <= peak - DIP_M
            done, over = np.where(lower, done, middle), np.where(lower, middle, over)
        for step in range(RISING + 1, last + 1):
            some = np.flatnonzero(over > step)
            if some.size:
                self.levels[step, some] = self.water.arrive(step, some)

    def fill(self, some: NDArray[np.intp]) -> None:
        """All levels of some samples, after `fall`."""
        for step in range(len(self.levels) if some.size else 0):
            self.levels[step, some] = self.water.arrive(step, some)

    def _again(self, step: int, late: NDArray[np.intp]) -> None:
        """What is blocked at the end of a step, and the level, where the crew turns out to have begun within it."""
        share = self.at(np.full(self.flood.size, step - 1), self.flood.times[step])[late]
        self.blockage[step, late] = share
        self.levels[step, late] = self.water.arrive(step, late)

    def at(self, step: NDArray[np.intp], time: Array) -> Array:
        """Blocked share at a time within a step of each sample.

        With the debris of the step spread evenly, dB/dt = K (C - B) - c while a crew clears c an hour:
        B = C - (C - B0) e^(-K t) - c w (1 - e^(-K w))/(K w) after w hours of work at the end of t.
        """
        start, end, before = (
            table[rows, self.everyone]
            for table, rows in ((self.flood.times, step), (self.flood.times, step + 1), (self.blockage, step))
        )
        left = self.left[step, self.everyone]
        part = (time - start) / (end - start)
        come = self.flood.blockage(before, left**part)
        if self.crew is None:
            return come
        hours = self.crew.hours(start, time, step)
        freed = crew_number(self.flood, "clears_per_hour") * hours * held(left, hours / (end - start))
        return np.maximum(come - freed, 0.0)

    def highest(self) -> tuple[Array, Array, Array]:
        """The highest level, its time and the blockage then: of the steps, of when the crew begins, and of ever finer
        steps beside the highest."""
        times, each, last = self.flood.times, self.everyone, len(self.left)
        at = np.argmax(np.where(np.isnan(self.levels), -np.inf, self.levels), axis=0)
        best = self.levels[at, each], times[at, each], self.blockage[at, each]
        before, after = times[np.maximum(at - 1, 0), each], times[np.minimum(at + 1, last), each]
        if self.crew is not None:
            best = self._better(best, np.minimum(self.crew.at_work, times[-1]))
        for _ in range(HALVINGS):
            middle = np.clip(best[1], before, after)
            for time in (0.5 * (before + middle), 0.5 * (middle + after)):
                best = self._better(best, time)
            width = 0.25 * (after - before)
            before, after = np.maximum(best[1] - width, 0.0), np.minimum(best[1] + width, times[-1])
        return np.where(np.isnan(self.levels).any(axis=0), np.nan, best[0]), best[1], best[2]

    def _better(self, best: tuple[Array, Array, Array], time: Array) -> tuple[Array, Array, Array]:
        """The highest so far, or what stands at another time where that is higher."""
        step = np.clip((self.flood.times <= time).sum(axis=0) - 1, 0, len(self.left) - 1)
        share = self.at(step, time)
        level = self.water.between(step, time, share)
        higher = level > best[0]
        one, two, three = (np.where(higher, new, old) for new, old in zip((level, time, share), best, strict=True))
        return one, two, three


def held(left: Array, part: Array) -> Array:
    """(1 - e^-y)/y, how much of what is cleared is not made up for by debris of the same time; y = -part ln left."""
    with np.errstate(divide="ignore", invalid="ignore"):
        y = np.where(part > 0.0, -part * np.log(left), 0.0)
        return np.where(y > 1e-9, -np.expm1(-y) / y, 1.0)


class Steady:
    """No pool: the steady level of every moment."""

    def __init__(self, way: _Way) -> None:
        self.way, self.outflows, self.missing = way, way.flood.flows, np.zeros(way.flood.size)

    def arrive(self, step: int, chosen: NDArray[np.intp]) -> Array:
        """Level at the end of a step of some samples [m]."""
        flood, way = self.way.flood, self.way
        changed = way.place.changed(self.outflows[step, chosen], way.blockage[step, chosen])
        return flood.levels(changed, None if chosen.size == flood.size else chosen)

    def between(self, _step: NDArray[np.intp], time: Array, share: Array) -> Array:
        """Level at a time within a step of each sample [m]."""
        return self.way.flood.levels(self.way.place.changed(self.way.flood.at(time), share))


class Filling:
    """A pool: from the state at the end of one step to any time in the next.

    states : at the ends of the steps; outflows : of them [m3/s], shape (T + 1, n)
    """

    def __init__(self, way: _Way, pool: Pool) -> None:
        self.way, self.outflows = way, np.empty_like(way.flood.times)
        self.states: list[State] = []
        flood, place = way.flood, way.place
        self.routing = Routing(
            pool, lambda flow, share, chosen: flood.levels(place.changed(flow, share), chosen), flood.held
        )

    def arrive(self, step: int, chosen: NDArray[np.intp]) -> Array:
        """Level at the end of a step of some samples [m]."""
        if step == 0:
            now = Moment(self.way.flood.flows[0], self.way.blockage[0])
            self.states = [self.routing.begin(now, chosen)]
        else:
            rows = np.full(self.way.flood.size, step - 1)
            found = self._to(rows, self.way.flood.times[step], chosen)
            if step == len(self.states):
                self.states.append(found)
            else:
                both = zip(self.states[step], found, strict=True)
                self.states[step] = State(*(put(old, chosen, new) for old, new in both))
        self.outflows[step] = self.states[step].outflow
        return self.states[step].level[chosen]

    def between(self, step: NDArray[np.intp], time: Array, _share: Array) -> Array:
        """Level at a time within a step of each sample [m]."""
        return self._to(step, time, self.way.everyone).level

    @property
    def missing(self) -> Array:
        """What neither went out nor stands below the last level, over all that came [-]."""
        first, last = self.states[0], self.states[-1]
        kept = self.routing.pool.volume(last.level, self.way.everyone) - first.stored
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.abs(last.came - last.gone - kept) / last.came

    def _to(self, step: NDArray[np.intp], time: Array, chosen: NDArray[np.intp]) -> State:
        """From the end of the step before."""
        way = self.way
        first = np.stack([np.stack(self.states[row]) for row in np.unique(step)])
        state = State(*first[np.searchsorted(np.unique(step), step[chosen]), :, chosen].T)

        def at(times: Array, some: NDArray[np.intp]) -> Moment:
            every = put(way.flood.times[step, way.everyone], some, times)
            return Moment(way.flood.at(every)[some], way.at(step, every)[some])

        start = way.flood.times[step, way.everyone]
        return self.routing.advance(state, start[chosen], time[chosen], chosen, at)


def capacities(flood: Flood, changed: Mapping[str, Array], chosen: NDArray[np.intp], bank: Array) -> Array:
    """Flow at which the level just reaches the bank [m3/s], for cases that stand above it.

    Parameters
    ----------
    changed : numbers of each case, its flow among them; chosen : which sample each is of; bank : of each [m]
    """
    flows, others = changed[FLOW], {name: each for name, each in changed.items() if name != FLOW}

    def depth_over_bank(share: Array, case: NDArray[np.intp]) -> Array:
        own = {name: each[case] for name, each in others.items()}
        return flood.levels({**own, FLOW: share * flows[case]}, chosen[case]) - bank[case]

    if not chosen.size:
        return np.empty(0)
    found = critical_values(depth_over_bank, np.array([LEAST_SHARE, 1.0]), chosen.size, TOLERANCE).value
    return np.asarray(np.clip(found, LEAST_SHARE, 1.0) * flows)


def volume_over(flood: Flood, place: Place, found: Passage, bank: Array) -> Array:
    """Volume above the capacity of the moment [m3], by trapezia: what the site cannot pass below the bank."""
    step, each = np.nonzero(found.levels > bank)
    flows = found.flows[step, each]
    changed = place.changed(flows, found.blockage[step, each])
    excess = np.zeros_like(found.flows)
    excess[step, each] = flows - capacities(flood, changed, each, bank[each])
    steps = np.diff(found.times, axis=0)
    return np.asarray(HOUR * np.sum(0.5 * steps * (excess[1:] + excess[:-1]), axis=0))
