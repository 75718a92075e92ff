"""Gradually varied subcritical flow along a reach of one surveyed section, whose bed falls evenly.

The level changes along the reach so that the energy does, x upstream:

    dE/dx = Sf - S,    E = Z + alpha V^2/2g,    Sf = (Q/K)^2        so that    dx = (1 - Fr^2) dZ / (Sf - S)

with Fr^2 = 1 - dE/dZ, in which alpha varies with the level. The section being the same all along, the right-hand
side depends on the level alone, and distance is an integral over the level (`quadrature`), in steps that stop at every
surveyed level (where the ground, and so the integrand, has a kink) and halve on the way to normal level, which is never
passed.

Where water spreads over a flood plain, alpha can rise so fast that the energy falls as the level rises. There
1 - Fr^2 is held to at least 0.02: the level passes such a stretch within a short distance instead of jumping, and it
still never falls as the flow rises. Just above critical level the hold fades out, so that it never touches a
section without a flood plain. The profile begins at or above the level of least energy.

Equation: V. T. Chow (1959), chapter 9. The hold is our own proposal. `profile` does the same over the depth for simple
sections and barrels.
"""

from __future__ import annotations

from math import inf

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.quadrature import INNER, Values, distance, share_over
from overbank.hydraulics.surveyed import (
    ENERGY,
    Surveyed,
    bed_level,
    energy_level,
    next_crossing,
    place,
    terms_at,
)

LEAST_RATE = 0.02
"""1 - Fr^2 is held to this where the energy would fall as the level rises, from 2 % of the critical depth above it."""

TOLERANCE = 1e-5
"""Error of the level allowed a step, by the rule of 3 points, as a share of the depth; that of 5 is far less."""

NEAR_NORMAL = 1e-8
"""Distance to normal level from which on it counts as reached, as a share of the depth."""

MOST_STEPS = 10_000
"""A profile takes ten to a hundred steps."""


@kernel
def _rates(s: Surveyed, flow: float, slope: float, critical: float, j: int, t: float) -> tuple[float, float]:
    """Sf - S, and 1 - Fr^2 with its hold, at the height t in interval j."""
    conveyance, _, term_rate = terms_at(s, j, t)
    rate = 1.0 + flow * flow / (2.0 * GRAVITY) * term_rate
    if rate < LEAST_RATE:
        level = s.table.breaks[j] + t + s.shift
        rate = max(rate, min(LEAST_RATE, (level - critical) / (critical - bed_level(s))))
    friction = flow / conveyance
    return friction * friction - slope, rate


@kernel
def _values(
    s: Surveyed, flow: float, slope: float, critical: float, j: int, t: float, change: float, first: float, last: float
) -> Values:
    """g / f at the five places of a step of level; `first` and `last` are those at its ends."""
    middle, inner = t + 0.5 * change, 0.5 * INNER * change
    f1, g1 = _rates(s, flow, slope, critical, j, middle - inner)
    f2, g2 = _rates(s, flow, slope, critical, j, middle)
    f3, g3 = _rates(s, flow, slope, critical, j, middle + inner)
    return first, g1 / f1, g2 / f2, g3 / f3, last


@kernel
def _over_the_kink(s: Surveyed, flow: float, slope: float, j: int) -> float:
    """Distance in which the energy follows a jump of alpha at the foot of interval j: level ground flooded at once.

    None where alpha drops: there the energy would fall as the level rises.
    """
    top = s.table.breaks[j] - s.table.breaks[j - 1]
    conveyance_below, below, _ = terms_at(s, j - 1, top)
    conveyance_above, above, _ = terms_at(s, j, 0.0)
    jump = flow * flow / (2.0 * GRAVITY) * (above - below)
    if jump <= 0.0:
        return 0.0
    friction = 0.5 * ((flow / conveyance_below) ** 2 + (flow / conveyance_above) ** 2)
    return jump / max(abs(friction - slope), 1e-12)


@kernel
def _room(s: Surveyed, critical: float, j: int, t: float, rising: bool) -> float:
    """How far the level may change before it comes to a surveyed level or, falling, to critical level [m]."""
    if not rising:
        return min(t, s.table.breaks[j] + t + s.shift - critical)
    return s.table.breaks[j + 1] - s.table.breaks[j] - t if j < s.table.breaks.size - 1 else inf


@kernel
def _next_interval(s: Surveyed, j: int, t: float, rising: bool) -> tuple[int, float]:
    """The same level seen from the other side of the surveyed level that was come to."""
    if rising:
        return j + 1, 0.0
    height = s.table.breaks[j] - s.table.breaks[0]
    if t > 1e-9 * height or j == 0:
        return j, t
    return j - 1, s.table.breaks[j] - s.table.breaks[j - 1]


@kernel
def level_along(s: Surveyed, flow: float, critical: float, slope: float, length: float, level: float) -> float:
    """Level `length` upstream of a level at or above critical, both in the frame of the section downstream [m].

    Parameters
    ----------
    s : the section; flow : above 0 [m3/s]; critical : `critical_level(s, flow).level` [m]
    slope : fall of the bed per length, positive downstream; negative and zero allowed [-]
    length : [m]
    level : downstream [m]

    Returns
    -------
    Level above the same datum as the survey, so that `slope * length` must be added for the level above the sea [m].
    It never passes normal level and never falls below critical level, at which it ends on a steep bed.
    """
    j, t = place(s, level)
    f, g = _rates(s, flow, slope, critical, j, t)
    rising = f > 0.0
    if not rising:
        j, t = _next_interval(s, j, t, rising)
        f, g = _rates(s, flow, slope, critical, j, t)
    remaining, change = length, abs(f) * length
    for _ in range(MOST_STEPS):
        here = s.table.breaks[j] + t + s.shift
        depth = here - bed_level(s)
        if remaining <= 0.0 or f == 0.0 or (f > 0.0) != rising or (not rising and here <= critical + 1e-11 * depth):
            return here
        room = _room(s, critical, j, t, rising)
        change = min(change, 0.2 * depth, 1.1 * abs(f) * remaining / max(g, 0.1))
        comes_to_end = change >= room * (1.0 - 1e-9)
        change = room if comes_to_end else change
        step = change if rising else -change
        f_end, g_end = _rates(s, flow, slope, critical, j, t + step)
        if f * f_end <= 0.0 or abs(f_end) < 0.25 * abs(f):  # nearing normal level
            if change < NEAR_NORMAL * depth:
                return here + f * step / (f - f_end)
            change *= 0.5
            continue
        values = _values(s, flow, slope, critical, j, t, step, g / f, g_end / f_end)
        covered, error = distance(values, step)
        if error * abs(f_end) > TOLERANCE * depth * max(g, g_end):
            change *= 0.5
            continue
        if covered >= remaining:
            return here + step * share_over(values, step, remaining, covered)
        remaining -= covered
        t, f, g, change = t + step, f_end, g_end, 2.0 * change
        if comes_to_end:
            before = j
            j, t = _next_interval(s, j, t, rising)
            if j != before:
                remaining -= _over_the_kink(s, flow, slope, max(j, before))
                f, g = _rates(s, flow, slope, critical, j, t)
    return s.table.breaks[j] + t + s.shift


@kernel
def level_entered(s: Surveyed, flow: float, critical: float, level: float, energy: float) -> float:
    """Level in the reach at its downstream end for the level and the energy level just below it [m].

    The level passed on, or the subcritical level that keeps the energy if that is higher, or critical level: velocity
    head is neither lost into the reach nor won back from it.
    """
    start = max(level, critical)
    if flow <= 0.0 or start == inf or energy_level(s, flow, start) >= energy:
        return start
    return max(start, next_crossing(s, ENERGY, flow, energy - s.shift, critical)[0])
