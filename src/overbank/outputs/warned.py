"""From the call of a crew to the bank: how many hours that is, and how often the crew works before that."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from overbank.analysis import overtopping
from overbank.analysis.intervals import Estimate, share_over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.passed_floods import LADDER, LADDER_FILLED, Floods
from overbank.sampling.crew import waiting
from overbank.sampling.flood import flood_of
from overbank.sampling.moments import crossed
from overbank.sampling.passage import Passage, passage
from overbank.sampling.samples import Array
from overbank.study.passing import CREW

TRAVELS = (0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0)
"""Travel times of a crew that are set against the warning time [hours]."""

SHARES = (0.1, 0.25, 0.5, 0.75, 0.9)
"""Quantiles of the warning time that are told."""

TOLD = "share of the floods that reach the bank, Student t over replicates"


@dataclass(frozen=True)
class Warned:
    """Of the floods that reach the bank with nobody at work.

    mean : time from the call, at a level, at a rise or by a forecast, to the bank [hours]; 0 where nobody is called
    hours : quantile -> the same [hours]
    in_time : share in which the crew of the study works at least for a while before the bank is reached: it comes, it
        arrives, and water, current and daylight let it
    """

    mean: Estimate
    hours: dict[float, Estimate]
    in_time: Estimate


@dataclass(frozen=True)
class ByTravel:
    """With the crew of the study so far away.

    in_time : travel time [hours] -> as of `Warned`
    over : travel time [hours] -> probability of going over the bank, from the first samples
    """

    in_time: dict[float, Estimate]
    over: dict[float, Probability]


class Calls:
    """The calls of a crew, beside the same floods with nobody at work."""

    def __init__(self, floods: Floods, alone: Passage, called: Array) -> None:
        self.floods, self.alone = floods, alone
        self.reached = crossed(alone.times, alone.levels - floods.bank)
        with np.errstate(invalid="ignore"):
            hours = np.maximum(self.reached - called, 0.0)
        self.hours = np.where(np.isfinite(self.reached), hours, np.nan)
        followed = floods.flood if floods.flood.pool() is None else floods.flood.drained()
        water = alone.levels, alone.flows
        self.crew = waiting(followed, floods.place, floods.chance, floods.everyone, *water, called)

    def warned(self) -> Warned | None:
        """None where some replicate has no flood that reaches the bank."""
        floods = self.floods
        if np.isnan(floods.table(self.hours)).all(axis=1).any():
            return None
        hours = {share: replace(floods.quantile(self.hours, share), note="") for share in SHARES}
        return Warned(floods.mean(self.hours, TOLD.replace("share", "mean")), hours, self._in_time())

    def by_travel(self) -> ByTravel:
        """Where `warned` tells anything."""
        in_time = {}
        for travel in TRAVELS:
            self.crew.travel = np.full(self.floods.flood.size, travel)
            in_time[travel] = self._in_time()
        return ByTravel(in_time, self._over())

    def _in_time(self) -> Estimate:
        reach = np.isfinite(self.reached)
        known, works = (
            np.sum(self.floods.table(np.where(each, 1.0, 0.0)), axis=1)
            for each in (reach, reach & self.crew.works_before(self.reached))
        )
        return share_over_replicates(works / known, known.sum(), TOLD)

    def _over(self) -> dict[float, Probability]:
        """Probability of standing above the bank by travel time, first samples; only floods that go over with nobody at
        work pass anew."""
        floods, highest = self.floods, self.alone.highest
        first = floods.first(LADDER if floods.written.pool is None else LADDER_FILLED)
        levels = np.tile(highest[first], (len(TRAVELS), 1))
        some = np.flatnonzero(~(highest[first] <= floods.bank[first]))
        own = np.tile(first[some], len(TRAVELS))
        numbers = floods.run.model.numbers(floods.rows[own])
        numbers |= {f"{CREW}.travel_hours": np.repeat(np.array(TRAVELS), some.size)}
        flood = flood_of(floods.run.model, floods.written, numbers, own.size)
        if some.size:
            again = passage(flood, floods.place, floods.chance, own, crew=True).highest
            levels[:, some] = again.reshape(len(TRAVELS), -1)
        design = floods.sampling.settings.design
        each = (overtopping.plain(floods.table(row - floods.bank[first]), design) for row in levels)
        return dict(zip(TRAVELS, each, strict=True))
