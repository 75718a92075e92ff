"""Floods passing the site without storage: at every moment the level is the steady one of its flow and its blockage.

    h(t) = h_steady(Q(t), B(t)),    highest = the greatest of them

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
from overbank.sampling.flood import Draws, Flood, crew_number
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW

HALVINGS = 3
"""So often the steps beside the highest level are halved."""

LEAST_SHARE = 0.02
"""Capacities are looked for down to this share of the flow."""

TOLERANCE = 1e-4
"""On a capacity, as a share of the flow."""

DAY = 24.0


@dataclass(frozen=True)
class Passage:
    """What happened in the flood of every sample.

    times, flows, blockage, levels : at the ends of the steps [hours, m3/s, -, m]; shape (T + 1, n)
    highest, when, blocked : highest level [m], its time [hours] and the blockage then; shape (n,)
    called, at_work : when the crew was called and began to work [hours]; inf where never
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


def passage(flood: Flood, name: str, chance: Draws, chosen: NDArray[np.intp], *, crew: bool) -> Passage:
    """The floods pass.

    Parameters
    ----------
    name : dotted path of the blockage that the debris adds to
    chance, chosen : what chance does, and which of its samples these are
    crew : whether the crew of the study comes; nobody does where it has none
    """
    way = _Way(flood, name, chance, chosen, crew=crew)
    way.go()
    highest, when, blocked = way.highest()
    never = np.full(flood.size, np.inf)
    called, at_work = (never, never) if way.crew is None else (way.crew.called, way.crew.at_work)
    return Passage(flood.times, flood.flows, way.blockage, way.levels, highest, when, blocked, called, at_work)


class _Way:
    """Blockage and level from step to step, and in between.

    left : what each step leaves of what was open before it
    """

    def __init__(self, flood: Flood, name: str, chance: Draws, chosen: NDArray[np.intp], *, crew: bool) -> None:
        self.flood, self.name, self.everyone = flood, name, np.arange(flood.size)
        self.left = flood.left_open(chance, chosen)
        self.crew = _Crew(flood, chance, chosen) if crew and flood.written.crew is not None else None
        self.blockage, self.levels = np.empty_like(flood.times), np.empty_like(flood.times)
        self.blockage[0] = flood.number(name)

    def go(self) -> None:
        """Through all steps. A crew that is called within a step and begins before its end is looked at once more."""
        times, last = self.flood.times, len(self.left)
        for step in range(last + 1):
            self.levels[step] = self.flood.levels({FLOW: self.flood.flows[step], self.name: self.blockage[step]})
            if self.crew is not None and step > 0:
                idle = self.crew.at_work > times[step]
                self.crew.hears(step, self.levels)
                self._again(step, np.flatnonzero(idle & (self.crew.at_work < times[step])))
            if step < last:
                self.blockage[step + 1] = self.at(np.full(self.flood.size, step), times[step + 1])

    def _again(self, step: int, late: NDArray[np.intp]) -> None:
        """What is blocked at the end of a step, and the level, where the crew turns out to have begun within it."""
        share = self.at(np.full(self.flood.size, step - 1), self.flood.times[step])[late]
        self.blockage[step, late] = share
        self.levels[step, late] = self.flood.levels({FLOW: self.flood.flows[step, late], self.name: share}, late)

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
        hours = self.crew.hours(start, time, self.levels[step, self.everyone])
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
        level = self.flood.levels({FLOW: self.flood.at(time), self.name: share})
        higher = level > best[0]
        one, two, three = (np.where(higher, new, old) for new, old in zip((level, time, share), best, strict=True))
        return one, two, three


def held(left: Array, part: Array) -> Array:
    """(1 - e^-y)/y, how much of what is cleared is not made up for by debris of the same time; y = -part ln left."""
    with np.errstate(divide="ignore", invalid="ignore"):
        y = np.where(part > 0.0, -part * np.log(left), 0.0)
        return np.where(y > 1e-9, -np.expm1(-y) / y, 1.0)


class _Crew:
    """Is called, travels, and clears while it may."""

    def __init__(self, flood: Flood, chance: Draws, chosen: NDArray[np.intp]) -> None:
        written = flood.written.crew
        assert written is not None
        self.flood, self.written = flood, written
        self.comes = chance.crew[chosen] >= crew_number(flood, "fails_to_come")
        self.called = np.full(flood.size, np.inf)
        to_peak = flood.times[np.argmax(flood.flows, axis=0), np.arange(flood.size)]
        if written.call_level_m is None:
            self.called = np.maximum(to_peak - crew_number(flood, "called_hours_before_peak"), 0.0)
        self.midnight = chance.hour[chosen] - to_peak

    @property
    def at_work(self) -> Array:
        """When it begins to work [hours]; inf where never."""
        return np.where(self.comes, self.called + crew_number(self.flood, "travel_hours"), np.inf)

    def hears(self, step: int, levels: Array) -> None:
        """The level at the end of a step may call it, from when it was passed on a straight line."""
        if self.written.call_level_m is None:
            return
        asked, before = crew_number(self.flood, "call_level_m"), step - 1
        now = (np.maximum(levels[step], levels[before]) >= asked) & np.isinf(self.called)
        times = crossed(self.flood.times[[before, step]], levels[[before, step]] - asked)
        self.called = np.where(now, times, self.called)

    def hours(self, begun: Array, end: Array, level: Array) -> Array:
        """Hours that it works between two times, the level being that at the beginning of the step."""
        begun = np.clip(self.at_work, begun, end)
        hours = end - begun
        if self.written.daylight_hours is not None:
            hours = daylight(begun + self.midnight, end + self.midnight, self.written.daylight_hours)
        if self.written.not_above_m is not None:
            hours = np.where(level <= crew_number(self.flood, "not_above_m"), hours, 0.0)
        return np.asarray(hours)


def daylight(start: Array, end: Array, hours: tuple[float, float]) -> Array:
    """Hours of daylight between two times [hours from a midnight]."""
    morning, evening = hours

    def since(time: Array) -> Array:
        days = np.floor(time / DAY)
        return days * (evening - morning) + np.clip(time - days * DAY - morning, 0.0, evening - morning)

    return since(end) - since(start)


def crossed(times: Array, depths: Array) -> Array:
    """When a depth over the bank is first not below 0, on straight lines between the steps [hours]; inf where never."""
    over = depths >= 0.0
    first = np.argmax(over, axis=0)
    before, each = np.maximum(first - 1, 0), np.arange(depths.shape[1])
    low, high = depths[before, each], depths[first, each]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where((first > 0) & np.isfinite(high) & np.isfinite(low), -low / (high - low), first > 0)
    found = times[before, each] + share * (times[first, each] - times[before, each])
    return np.where(over.any(axis=0), found, np.inf)


def time_over(times: Array, depths: Array) -> Array:
    """How long a depth over the bank stands above 0, on straight lines between the steps [hours]."""
    low, high = np.minimum(depths[:-1], depths[1:]), np.maximum(depths[:-1], depths[1:])
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.clip(high / (high - low), 0.0, 1.0)
    endless = np.isinf(high)
    part = np.where(low > 0.0, 1.0, np.where(high <= 0.0, 0.0, np.where(endless, 0.5, part)))
    return np.asarray(np.sum(part * np.diff(times, axis=0), axis=0))


def between(times: Array, values: Array, time: Array) -> Array:
    """Values at one time of each sample, on straight lines between the steps."""
    each = np.arange(times.shape[1])
    step = np.clip((times <= time).sum(axis=0) - 1, 0, len(times) - 2)
    share = (time - times[step, each]) / (times[step + 1, each] - times[step, each])
    return np.asarray(values[step, each] + share * (values[step + 1, each] - values[step, each]))


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
