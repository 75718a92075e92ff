"""Floods with a crew, from the same floods with nobody at work: only those pass anew that the crew can change.

A crew never blocks anything, so the water never stands higher with it. A flood that stays below the bank with nobody at
work does so with a crew; and where the crew begins to work after the highest level, that level stays.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from overbank.sampling.crew import Crew
from overbank.sampling.flood import RISING, Draws, Flood, Place, crew_number
from overbank.sampling.moments import crossed
from overbank.sampling.passage import Passage, blocked_beside, passage
from overbank.sampling.samples import Array


def only_over(
    flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], alone: Passage, bank: Array
) -> Passage:
    """With the crew where the flood goes over the bank with nobody at work; every other one as it was."""
    return _anew(flood, place, chance, chosen, alone, np.flatnonzero(~(alone.highest <= bank)))


def helped(flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], alone: Passage, bank: Array) -> Passage:
    """With the crew, without a pool; a flood that stays below the bank need not have its levels, -inf then."""
    crew = Crew(flood, place, chance, chosen)
    known = crew.area is None and crew.written.call_rise_m_per_hour is None
    lower = alone.highest <= bank
    if crew.written.not_above_m is not None:
        lower &= alone.highest <= crew_number(flood, "not_above_m")
    spared = np.flatnonzero(lower) if known else np.empty(0, dtype=np.intp)
    if crew.written.call_level_m is not None:
        spared = spared[_called(crew, place, alone, spared)]
    spared = spared[crew.at_work[spared] >= alone.when[spared]]
    others = np.setdiff1d(np.arange(flood.size), spared)
    found = _anew(flood, place, chance, chosen, alone, others)
    found.called[spared], found.at_work[spared] = crew.called[spared], crew.at_work[spared]
    own = flood.of(spared)
    found.blockage[:, spared] = blocked_beside(own, place, chance, chosen[spared], crew.called[spared])
    return found


def _called(crew: Crew, place: Place, alone: Passage, some: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Finds when a level calls the crew in some floods; whether it was found.

    Flow and blockage rise to the peak: the step that passes the level is found by halving.
    """
    flood, asked = crew.flood, crew_number(crew.flood, "call_level_m")[some]
    peak = alone.levels[RISING, some]
    never = alone.highest[some] < asked
    if crew.written.seen_every_hours is not None:
        return never

    def depth(step: NDArray[np.intp], which: NDArray[np.intp]) -> Array:
        changed = place.changed(flood.flows[step, some[which]], alone.blockage[step, some[which]])
        return flood.levels(changed, some[which]) - asked[which]

    rising = np.flatnonzero(peak >= asked)
    low, high = np.zeros(rising.size, dtype=np.intp), np.full(rising.size, RISING)
    below, above = depth(low, rising), (peak - asked)[rising]
    while np.any(high - low > 1):
        middle = (low + high) // 2
        now = depth(middle, rising)
        over = now >= 0.0
        low, below = np.where(over, low, middle), np.where(over, below, now)
        high, above = np.where(over, middle, high), np.where(over, now, above)
    times = flood.times[np.stack([low, high]), some[rising]]
    crew.called[some[rising]] = crossed(times, np.stack([below, above]))
    return np.asarray(never | (peak >= asked))


def _anew(
    flood: Flood, place: Place, chance: Draws, chosen: NDArray[np.intp], alone: Passage, some: NDArray[np.intp]
) -> Passage:
    """Some floods pass anew, with the crew."""
    tables = {each.name: np.array(getattr(alone, each.name)) for each in fields(Passage)}
    if some.size:
        after = passage(flood.of(some), place, chance, chosen[some], crew=True)
        for name, table in tables.items():
            table[..., some] = getattr(after, name)
    return Passage(**tables)
