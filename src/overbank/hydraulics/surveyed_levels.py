"""Normal, critical and subcritical level in a surveyed section, where there may be several of each.

Normal level: K(Z) sqrt(S) = Q. The lowest one at which the conveyance rises with the level is taken: coming from
below, the water stops there, and that level never falls as the flow rises.

Critical level: where the energy is least, not where a Froude number is 1. There can be two minima with a maximum
between them, where the water begins to spread over a bank.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.hydraulics.surveyed import (
    BESIDE,
    CONVEYANCE,
    GRADIENT,
    Surveyed,
    bed_level,
    energy_level,
    next_crossing,
)


class NormalLevel(NamedTuple):
    """The lowest stable normal level, and the next stable one; `inf` when there is none [m]."""

    level: float
    next_level: float


class CriticalLevel(NamedTuple):
    """Level and energy level of the least energy; level of another local minimum, `inf` when there is none [m]."""

    level: float
    energy: float
    other: float


@kernel
def next_normal_level(s: Surveyed, flow: float, slope: float, above: float) -> tuple[float, bool]:
    """First level above `above` with K sqrt(S) = Q, `inf` for none; whether it is stable (conveyance rises there)."""
    return next_crossing(s, CONVEYANCE, flow, flow / sqrt(slope), above)


@kernel
def _stable_above(s: Surveyed, flow: float, slope: float, above: float) -> float:
    level, stable = next_normal_level(s, flow, slope, above)
    while level < inf and not stable:
        level, stable = next_normal_level(s, flow, slope, level + BESIDE)
    return level


@kernel
def normal_level(s: Surveyed, flow: float, slope: float) -> NormalLevel:
    """Lowest stable normal level by Manning, and the next one if there is another [m].

    flow : [m3/s]; slope : of the bed, positive downstream [-]; `inf` on a level or rising bed
    """
    if flow <= 0.0:
        return NormalLevel(bed_level(s), inf)
    if slope <= 0.0:
        return NormalLevel(inf, inf)
    level = _stable_above(s, flow, slope, -inf)
    return NormalLevel(level, _stable_above(s, flow, slope, level + BESIDE))


@kernel
def next_energy_minimum(s: Surveyed, flow: float, above: float) -> float:
    """First level above `above` at which the energy has a local minimum [m]; `inf` when there is none."""
    level, rising = next_crossing(s, GRADIENT, flow, 0.0, above)
    while level < inf and not rising:
        level, rising = next_crossing(s, GRADIENT, flow, 0.0, level + BESIDE)
    return level


@kernel
def critical_level(s: Surveyed, flow: float) -> CriticalLevel:
    """Level at which the flow has the least energy [m].

    Of all local minima, and of the surveyed levels themselves, where alpha may jump over a level stretch of
    ground. It never falls as the flow rises; from one minimum to the other it jumps.
    """
    bed = bed_level(s)
    if flow <= 0.0:
        return CriticalLevel(bed, bed, inf)
    level, energy, other = inf, inf, inf
    found = next_energy_minimum(s, flow, -inf)
    while found < energy:
        here = energy_level(s, flow, found)
        if here < energy:
            level, energy, other = found, here, level
        else:
            other = min(other, found)
        found = next_energy_minimum(s, flow, found + BESIDE)
    for foot in s.table.breaks:
        for side in (foot + s.shift - BESIDE, foot + s.shift):
            here = energy_level(s, flow, side)
            if here < energy - BESIDE:
                level, energy, other = side, here, level
    return CriticalLevel(level, energy, other)
