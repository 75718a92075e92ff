"""The crew of a flood in time: when it is called, when it comes, and when it may work."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overbank.sampling.flood import Draws, Flood, Place, crew_number
from overbank.sampling.moments import crossed
from overbank.sampling.samples import Array

DAY = 24.0


class Crew:
    """Is called, travels, and clears while it may.

    allowed : whether it may work with the level and flow at the beginning of each step
    travel : from the call until it works [hours]
    """

    def __init__(self, flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp]) -> None:
        written = flood.written.crew
        assert written is not None
        self.flood, self.written = flood, written
        self.comes = chance.crew[chosen] >= crew_number(flood, "fails_to_come")
        self.travel, self.called = crew_number(flood, "travel_hours"), np.full(flood.size, np.inf)
        to_peak = flood.times[np.argmax(flood.flows, axis=0), np.arange(flood.size)]
        if written.called_hours_before_peak is not None:
            self.called = np.maximum(to_peak - crew_number(flood, "called_hours_before_peak"), 0.0)
        self.midnight, self.look = chance.hour[chosen] - to_peak, chance.look[chosen]
        self.allowed = np.ones_like(flood.times, dtype=np.bool_)
        self.area = None if written.not_above_m_s is None else flood.section_of(place.name)

    @property
    def at_work(self) -> Array:
        """When it begins to work [hours]; inf where never."""
        return np.where(self.comes, self.called + self.travel, np.inf)

    def hears(self, step: int, levels: Array) -> None:
        """The level at the end of a step, or its rise, may call it, from when that was passed on a straight line, or
        from when somebody first looks while the level stands so high."""
        if self.written.call_level_m is not None:
            asked, rows = crew_number(self.flood, "call_level_m"), [step - 1, step]
            times, passed = self.flood.times[rows], levels[rows] - asked
        elif self.written.call_rise_m_per_hour is not None and step > 1:
            rows = [step - 2, step - 1, step]
            hours = self.flood.times[rows]
            with np.errstate(invalid="ignore"):
                rises = np.diff(levels[rows], axis=0) / np.diff(hours, axis=0)
            times = 0.5 * (hours[1:] + hours[:-1])
            passed = rises - crew_number(self.flood, "call_rise_m_per_hour")
        else:
            return
        heard = crossed(times, passed)
        if self.written.seen_every_hours is not None:
            heard = self._seen(times, passed)
        now = np.isfinite(heard) & np.isinf(self.called)
        self.called = np.where(now, np.maximum(heard, self.flood.times[step - 1]), self.called)

    def _seen(self, times: Array, passed: Array) -> Array:
        """When somebody who looks every so often first finds a level passed within a step; inf where nobody does."""
        every = crew_number(self.flood, "seen_every_hours")
        begun, ended = crossed(times, passed), -crossed(-times[::-1], passed[::-1])
        with np.errstate(invalid="ignore"):  # not passed at all
            look = every * (self.look + np.ceil(begun / every - self.look))
        return np.where(look <= ended, look, np.inf)

    def looks(self, step: int, level: Array, flow: Array) -> None:
        """Whether it may work from the end of a step on."""
        if self.written.not_above_m is not None:
            self.allowed[step] &= level <= crew_number(self.flood, "not_above_m")
        if self.area is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                velocity = flow / self.area(level, np.arange(self.flood.size))
            self.allowed[step] &= velocity <= crew_number(self.flood, "not_above_m_s")

    def hours(self, begun: Array, end: Array, step: NDArray[np.intp]) -> Array:
        """Hours that it works between two times of a step, as the water stood at its beginning."""
        begun = np.clip(self.at_work, begun, end)
        hours = end - begun
        if self.written.daylight_hours is not None:
            hours = daylight(begun + self.midnight, end + self.midnight, self.written.daylight_hours)
        return np.where(self.allowed[step, np.arange(self.flood.size)], hours, 0.0)

    def works_before(self, time: Array) -> NDArray[np.bool_]:
        """Whether it works at all before a time of each sample [hours]."""
        times, worked = self.flood.times, np.zeros(self.flood.size, dtype=np.bool_)
        for step, (begun, end) in enumerate(pairwise(times)):
            worked |= self.hours(begun, np.clip(time, begun, end), np.full(self.flood.size, step)) > 0.0
        return worked


def waiting(
    flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], levels: Array, flows: Array, called: Array
) -> Crew:
    """A crew beside a flood in which nobody has worked yet, which was called at these times [hours]."""
    crew = Crew(flood, place, chance, chosen)
    crew.called = called
    for step, (level, passing) in enumerate(zip(levels, flows, strict=True)):
        crew.looks(step, level, passing)
    return crew


def daylight(start: Array, end: Array, hours: tuple[float, float]) -> Array:
    """Hours of daylight between two times [hours from a midnight]."""
    morning, evening = hours

    def since(time: Array) -> Array:
        days = np.floor(time / DAY)
        return days * (evening - morning) + np.clip(time - days * DAY - morning, 0.0, evening - morning)

    return since(end) - since(start)
