"""Energy, critical level and the level of an energy in a surveyed section, found quickly and again and again.

A weir or bridge asks its approach for these many times for one sample, with flows that change. All that it must know of
the section is A / sqrt(alpha), for the velocity head is (Q sqrt(alpha) / A)^2 / 2g. So this and its rate are computed
once a sample at a fixed row of stages, by the formulas of `surveyed`, and between two of them a cubic is drawn through
both values and rates. Areas, quadratic between surveyed levels, come out exactly; levels of a section with several
zones to a few hundredths of a millimetre. What does not change from sample to sample is computed only once.

Where water spreads over a flood plain the energy can fall as the level rises. Counted is then

    E(Z) = the least of  Z' + alpha V^2/2g  over all Z' from Z up

which never falls as level or flow rises, and is the energy itself wherever that rises from there on (own proposal).
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.surveyed import SUBDIVIDED, Surveyed, zone_at
from overbank.hydraulics.surveyed_table import SurveyTable

Numbers = NDArray[np.float64]

Stages = NDArray[np.float64]
"""A surveyed section of one sample (5, stages), from its lowest point up, a surveyed level twice, seen from below and
from above: level [m]; A / sqrt(alpha) [m2] and its rate [m]; A [m2] and its rate, the width [m]."""

LEVEL, COUNTED, AREA = 0, 1, 3
"""Rows of the stages."""

FEWEST, MOST, FINEST = 3, 24, 1.0 / 256.0
"""Parts into which an interval between surveyed levels is cut: as many as make them 1/256 of the section's height, but
no fewer and no more than these."""

ABOVE = 14
"""Stages above the highest point, each as far again above it as the one before."""

SLIVER = 1e-6
"""The first stage lies this share of the lowest interval above the bed, where there is some water."""


class Layout(NamedTuple):
    """What the stages of a survey have in common in all samples.

    levels : of each stage, without a shift (stages,) [m]
    areas, widths : of the whole section (stages,) [m2], [m]
    zones : K n of each zone, (K n)^3 / A^2, and the rates of both with the level (4, zones, stages)
    """

    levels: Numbers
    areas: Numbers
    widths: Numbers
    zones: Numbers


@kernel
def _parts(t: SurveyTable, j: int) -> int:
    """Parts into which an interval is cut."""
    share = (t.breaks[j + 1] - t.breaks[j]) / (t.breaks[-1] - t.breaks[0])
    return max(FEWEST, min(MOST, int(np.ceil(share / FINEST))))


@kernel
def _places(t: SurveyTable) -> tuple[NDArray[np.int64], Numbers]:
    """Interval of the survey that each stage lies in, and height above its foot, close together where ground floods."""
    last = t.breaks.size - 1
    count = ABOVE + 1
    for j in range(last):
        count += _parts(t, j) + 1
    intervals, heights = np.full(count, last), np.zeros(count)
    at = 0
    for j in range(last):
        parts = _parts(t, j)
        for k in range(parts + 1):
            intervals[at] = j
            heights[at] = (t.breaks[j + 1] - t.breaks[j]) * (k / parts) ** 2
            at += 1
    for k in range(ABOVE):
        heights[at + 1 + k] = 0.125 * 2.0**k * (t.breaks[last] - t.breaks[0])
    heights[0] = SLIVER * (t.breaks[1] - t.breaks[0])
    return intervals, heights


@kernel
def laid_out(t: SurveyTable) -> Layout:
    """The stages of a survey."""
    intervals, heights = _places(t)
    count = heights.size
    lay = Layout(np.empty(count), np.zeros(count), np.zeros(count), np.zeros((4, t.areas.shape[0], count)))
    smooth = Surveyed(t, np.ones(t.areas.shape[0]), float(SUBDIVIDED), 0.0)
    for k in range(count):
        lay.levels[k] = t.breaks[intervals[k]] + heights[k]
        if k + 1 < count and intervals[k + 1] > intervals[k]:
            lay.levels[k] = t.breaks[intervals[k] + 1]  # exactly that of the next
        for i in range(t.areas.shape[0]):
            a, b, p, slant = zone_at(smooth, i, intervals[k], heights[k])
            if a > 0.0:
                conveyance = a * (a / p) ** (2.0 / 3.0)
                cube = conveyance**3 / (a * a)
                lay.areas[k] += a
                lay.widths[k] += b
                lay.zones[0, i, k] = conveyance
                lay.zones[1, i, k] = cube
                lay.zones[2, i, k] = conveyance * (5.0 * b / a - 2.0 * slant / p) / 3.0
                lay.zones[3, i, k] = cube * (3.0 * b / a - 2.0 * slant / p)
            else:
                lay.widths[k] += b
    return lay


@kernel
def staged(s: Surveyed, lay: Layout) -> Stages:
    """The stages of one sample: A / sqrt(alpha) = K^1.5 / sqrt(sum(K_i^3 / A_i^2)) where the section is subdivided."""
    stages = np.zeros((5, lay.levels.size))
    if s.method == SUBDIVIDED:
        for i in range(s.manning.size):
            smooth = 1.0 / s.manning[i]
            cubed = smooth * smooth * smooth
            for k in range(lay.levels.size):
                stages[0, k] += smooth * lay.zones[0, i, k]
                stages[1, k] += cubed * lay.zones[1, i, k]
                stages[2, k] += smooth * lay.zones[2, i, k]
                stages[3, k] += cubed * lay.zones[3, i, k]
        for k in range(lay.levels.size):
            total, cubes, total_rate, cubes_rate = stages[0, k], stages[1, k], stages[2, k], stages[3, k]
            stages[1, k] = total * np.sqrt(total / cubes)
            stages[2, k] = stages[1, k] * (1.5 * total_rate / total - 0.5 * cubes_rate / cubes)
    else:
        stages[1], stages[2] = lay.areas, lay.widths
    stages[0] = lay.levels + s.shift
    stages[3], stages[4] = lay.areas, lay.widths
    return stages


@kernel
def _stage_below(s: Stages, level: float) -> int:
    """The last stage at or below a level; -1 below the first."""
    low, high = -1, s.shape[1]
    while high - low > 1:
        middle = (low + high) // 2
        if s[LEVEL, middle] <= level:
            low = middle
        else:
            high = middle
    return low


@kernel
def _at(s: Stages, row: int, i: int, level: float) -> tuple[float, float]:
    """Value and rate of a row between stage i and the next: the cubic through both; a straight line above the last."""
    value, rate = s[row, i], s[row + 1, i]
    if i + 1 >= s.shape[1]:
        return value + rate * (level - s[LEVEL, i]), rate
    step = s[LEVEL, i + 1] - s[LEVEL, i]
    if step <= 0.0:
        return value, rate
    x = (level - s[LEVEL, i]) / step
    mean = (s[row, i + 1] - value) / step
    bend = 3.0 * mean - 2.0 * rate - s[row + 1, i + 1]
    twist = rate + s[row + 1, i + 1] - 2.0 * mean
    return value + step * x * (rate + x * (bend + x * twist)), rate + x * (2.0 * bend + 3.0 * x * twist)


@kernel
def stage_area(s: Stages, level: float) -> float:
    """Area below a level [m2]."""
    i = _stage_below(s, level)
    return _at(s, AREA, i, level)[0] if i >= 0 else 0.0


@kernel
def _head(flow: float) -> float:
    """Q^2 / 2g, which over the square of the counted area is the velocity head."""
    return flow * flow / (2.0 * GRAVITY)


@kernel
def _energy(s: Stages, head: float, i: int, level: float) -> float:
    counted = _at(s, COUNTED, i, level)[0]
    return level + head / (counted * counted)


@kernel
def _energy_of_stage(s: Stages, head: float, i: int) -> float:
    return s[LEVEL, i] + head / (s[COUNTED, i] * s[COUNTED, i])


@kernel
def _slope(s: Stages, head: float, i: int, level: float) -> float:
    """dE/dZ = 1 - Fr^2."""
    counted, rate = _at(s, COUNTED, i, level)
    return 1.0 - 2.0 * head * rate / (counted * counted * counted)


@kernel
def stage_froude_squared(s: Stages, flow: float, level: float) -> float:
    """Fr^2 = 1 - dE/dZ [-]; see `surveyed.froude_squared`."""
    return 1.0 - _slope(s, _head(flow), max(_stage_below(s, level), 0), level)


@kernel
def _slope_of_stage(s: Stages, head: float, i: int) -> float:
    counted = s[COUNTED, i]
    return 1.0 - 2.0 * head * s[COUNTED + 1, i] / (counted * counted * counted)


@kernel
def _minimum_between(s: Stages, head: float, i: int, low: float, at_low: float) -> float:
    """Level between `low` and the stage after i at which the energy, falling at first, is least [m]."""
    bracket = roots.start(low, at_low, s[LEVEL, i + 1], _slope_of_stage(s, head, i + 1))
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _slope(s, head, i, x))
    return roots.best(bracket)


@kernel
def _least_from(s: Stages, head: float, first: int, level: float) -> tuple[float, float]:
    """Level and energy of the least energy from a level, between stage `first` and the next, on [m].

    Minima are where the energy turns from falling to rising, and at surveyed levels where alpha jumps; those whose very
    level is above the least energy found are not looked at.
    """
    found, least = level, _energy(s, head, first, level)
    low, at_low, i = level, _slope(s, head, first, level), first
    while i + 1 < s.shape[1] and low <= least:
        high = s[LEVEL, i + 1]
        if at_low < 0.0 and high > low and _slope_of_stage(s, head, i + 1) >= 0.0:
            turn = _minimum_between(s, head, i, low, at_low)
            energy = _energy(s, head, i, turn)
            if energy < least:
                found, least = turn, energy
        i, low = i + 1, high
        at_low = _slope_of_stage(s, head, i)
        energy = _energy_of_stage(s, head, i)
        if energy < least:
            found, least = low, energy
    return found, least


@kernel
def stage_critical(s: Stages, flow: float) -> float:
    """Level at which the flow has the least energy [m]; as `surveyed_levels.critical_level`."""
    if flow <= 0.0:
        return s[LEVEL, 0]
    return _least_from(s, _head(flow), 0, s[LEVEL, 0])[0]


@kernel
def stage_energy(s: Stages, flow: float, level: float) -> float:
    """Energy level counted at a level, the least from there up [m]; `inf` at and below the bed for any flow."""
    if flow <= 0.0 or level == inf:
        return level
    i = _stage_below(s, level)
    return _least_from(s, _head(flow), i, level)[1] if i >= 0 else inf


@kernel
def _first_with(s: Stages, head: float, energy: float, first: int) -> int:
    """The first stage from one on that has the energy; their number when none has."""
    for i in range(first, s.shape[1]):
        if _energy_of_stage(s, head, i) >= energy:
            return i
    return s.shape[1]


@kernel
def stage_level(s: Stages, flow: float, energy: float) -> float:
    """The first level from critical level on at which the flow has the energy [m]; critical level if it is less."""
    critical = stage_critical(s, flow)
    if flow <= 0.0 or energy == inf:
        return max(critical, energy)
    head = _head(flow)
    j = _stage_below(s, critical)
    i = _first_with(s, head, energy, j + 1)
    low = critical
    if i > j + 1:
        j, low = i - 1, s[LEVEL, i - 1]
    at_low = _energy(s, head, j, low) - energy
    high = s[LEVEL, i] if i < s.shape[1] else max(energy, low)
    if at_low >= 0.0 or high <= low:
        return low
    bracket = roots.start(low, at_low, high, max(_energy(s, head, j, high) - energy, 0.0))
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _energy(s, head, j, x) - energy)
    return roots.best(bracket)
