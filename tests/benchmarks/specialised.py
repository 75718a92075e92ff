"""The same crossing by someone who tries to win with NumPy alone: for this box, this screen and this road only.

What a general program cannot do is done here: all numbers of the site are constants; the depth of an energy in a box is
its cubic by trigonometry and the head of a drowned screen its cubic by the hyperbolic sine, both without a loop; the
profile is carried in energy, whose friction hardly bends, by a few steps of fixed length; only samples that need a root
are solved for one, all of a large piece together. The formulas are those of `rivals`, which is slower and sure.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from benchmarks.rivals import (
    CLEAN,
    CLEAR,
    HEIGHT,
    INVERT_DOWN,
    INVERT_UP,
    KS,
    KU,
    LENGTH,
    RISE,
    ROAD,
    ROAD_LENGTH,
    ROOF_SHARE,
    SLOPE,
    SPAN,
    TOP_COEFFICIENT,
    WIDTH,
    Array,
    C,
    G,
    K,
    Samples,
    Y,
)

STEPS = 3
"""Of Runge and Kutta's rule along the barrel: one sample in two thousand is off by more than 0.1 mm, a few of them,
whose barrel comes to run full on the way, by some mm. Every further step costs a fifth of the time or more."""

PIECE = 2**17
"""Samples at a time: roots take some ten turns, each with fewer samples, so small pieces take three times as long."""

FULL = SPAN * RISE
PER_INTENSITY = KU / (SPAN * RISE**1.5)
BELOW = 1.5 / RISE * np.cbrt((3.5 / PER_INTENSITY / SPAN) ** 2 / G) + K * 3.5 + KS * SLOPE
ABOVE = C * 16 + Y + KS * SLOPE
START, END = (BELOW - KS * SLOPE - K * 3.5) * 2 / 3 / 3.5 + K, 8 * C
"""The inlet's ratios at both ends of the zone between its equations, and their slopes there (M is 1)."""


def inlet_head(q: Array, factor: Array, critical: Array) -> Array:
    """Inlet control above the invert."""
    i = PER_INTENSITY * q
    open_ = RISE * (K * i + KS * SLOPE) + 1.5 * critical
    t = np.clip(2 * (i - 3.5), 0.0, 1.0)
    u = 1 - t
    zone = (BELOW * (1 + 2 * t) + 0.5 * START * t) * u * u + (ABOVE * (3 - 2 * t) - 0.5 * END * u) * t * t
    drowned = RISE * np.where(i < 4.0, zone, C * i * i + Y + KS * SLOPE)
    least = np.where(critical < RISE, 1.5 * critical, RISE + (q / FULL) ** 2 / (2 * G))
    return factor * np.maximum(np.where(i <= 3.5, open_, drowned), least)


def depth_of_energy(energy: Array, head: Array, lowest: Array) -> Array:
    """The deeper depth of a rectangle by its cubic; the pressure depth above the roof. `head` is q^2/2g [m3]."""
    full = energy - head / RISE**2
    third = energy / 3
    depth = third * (1 + 2 * np.cos(np.arccos(np.maximum(1 - 0.5 * head / third**3, -1.0)) / 3))
    return np.where(full >= RISE, full, np.clip(depth, lowest, RISE))


def friction(y: Array, head: Array, n_squared: Array) -> Array:
    """Slope of the energy line."""
    depth = np.minimum(y, RISE)
    wetted = SPAN + 2 * depth
    roof = 1 - (RISE - depth) / (ROOF_SHARE * RISE)
    near = np.flatnonzero(roof > 0)
    if near.size:
        r = roof[near]
        wetted[near] += SPAN * r * r * (3 - 2 * r)
    ratio = wetted / (SPAN * depth)
    return 2 * G * n_squared * head / (depth * depth) * ratio * np.cbrt(ratio)


def inlet_end(head: Array, s: Samples, critical: Array) -> Array:
    """Depth at the inlet end."""
    n_squared, dx = s.manning * s.manning, LENGTH / STEPS
    start = np.maximum(s.tailwater - INVERT_DOWN, critical)
    least = critical + head / (critical * critical)
    energy = start + head / np.minimum(start, RISE) ** 2
    y = start
    for _ in range(STEPS):
        k1 = friction(y, head, n_squared) - SLOPE
        k2 = (
            friction(depth_of_energy(np.maximum(energy + 0.5 * dx * k1, least), head, critical), head, n_squared)
            - SLOPE
        )
        k3 = (
            friction(depth_of_energy(np.maximum(energy + 0.5 * dx * k2, least), head, critical), head, n_squared)
            - SLOPE
        )
        k4 = friction(depth_of_energy(np.maximum(energy + dx * k3, least), head, critical), head, n_squared) - SLOPE
        energy = np.maximum(energy + dx / 6 * (k1 + 2 * (k2 + k3) + k4), least)
        y = depth_of_energy(energy, head, critical)
    return y


def critical_depth(q: Array) -> Array:
    return np.minimum(np.cbrt((q / SPAN) ** 2 / G), RISE)


def published(head: Array, y: Array, entrance: Array) -> tuple[Array, Array]:
    """Published head, and whether it rises with the depth: positive where it does."""
    wet = np.minimum(y, RISE)
    lost = (1 + entrance) * head
    return y + lost / (wet * wet), np.where(y >= RISE, 1.0, 1 - 2 * lost / wet**3)


def outlet_head(q: Array, s: Samples, critical: Array, inlet: Array) -> Array:
    """Outlet control above the invert, where that may exceed the head `inlet` control asks for."""
    head = (q / SPAN) ** 2 / (2 * G)
    at_critical = head / (critical * critical)
    level, margin = published(head, inlet_end(head, s, critical), s.entrance)
    n_squared = s.manning * s.manning
    shallow, deep = (friction(share * critical, head, n_squared) for share in (0.95, 1.0))
    mild = np.where(deep >= SLOPE, 1.0, np.maximum(shallow - SLOPE, 0.0) / np.maximum(shallow - deep, 1e-12))
    loss = 0.5 * s.entrance + 1.5 * (np.cbrt(1 + s.entrance) - 1)
    least = critical + (1 + mild * loss) * at_critical
    held = s.tailwater - INVERT_DOWN > critical
    found = np.where(margin >= 0, np.maximum(level, least), least)
    may_exceed = 1.5 * critical * np.cbrt(1 + s.entrance) > np.maximum(inlet, least)
    before = np.flatnonzero((margin < 0) & held & (mild < 1) & may_exceed)
    if before.size:
        found[before] = np.maximum(found[before], highest_before(q[before], s.part(before)))
    return np.where(held | (mild > 0), found, critical + at_critical)


def drowned_end(q: Array, s: Samples) -> tuple[Array, Array]:
    head = (q / SPAN) ** 2 / (2 * G)
    return published(head, inlet_end(head, s, critical_depth(q)), s.entrance)


def highest_before(q: Array, s: Samples) -> Array:
    """Head of the greatest lesser flow that the tailwater drowns up to the inlet; 0 where there is none."""
    found = np.zeros_like(q)
    low = q / np.sqrt(1 + s.entrance)
    drowned = np.flatnonzero(drowned_end(low, s)[1] > 0)
    if drowned.size:
        edge = root(lambda x, own: drowned_end(x, own)[1], low[drowned], q[drowned], s.part(drowned), 1e-5)
        found[drowned] = drowned_end(edge, s.part(drowned))[0]
    return found


def root(function: Callable[[Array, Samples], Array], low: Array, high: Array, s: Samples, tolerance: float) -> Array:
    """Roots between ends of unlike sign by the rule of Illinois; samples whose root is found take no further turn."""
    found, open_ = np.empty_like(low), np.arange(low.size)
    f_low, f_high = function(low, s), function(high, s)
    for _ in range(60):
        x = high - f_high * (high - low) / np.where(f_high == f_low, 1.0, f_high - f_low)
        f = function(x, s)
        found[open_] = x
        left = np.flatnonzero((np.abs(x - high) > tolerance * x) & (np.abs(x - low) > tolerance * x) & (f != 0.0))
        if not left.size:
            break
        crossed = (f > 0) != (f_high > 0)
        low, f_low = np.where(crossed, high, low), np.where(crossed, f_high, 0.5 * f_low)
        open_, low, high, f_low, f_high = (each[left] for each in (open_, low, x, f_low, f))
        s = s.part(left)
    return found


def screen_head(q: Array, behind: Array, s: Samples) -> Array:
    """Head upstream of the screen, h + u^2 with 2/3 u^3 + h u = q / (w (2g)^0.5) where the bars alone pass the flow."""
    left = 1 - s.blockage
    net = CLEAR * left
    loss = np.maximum((1 / (net * (0.62 + 0.38 * net**3)) - 1) ** 2, CLEAN / (left * left))
    drowned, free = np.sqrt(2 * G / loss) * WIDTH, 0.6 * np.sqrt(2 * G) * WIDTH * net
    root_ = np.sqrt(0.5 * behind)
    up = behind + (2 * root_ * np.sinh(np.arcsinh(0.75 * q / drowned / root_**3) / 3)) ** 2
    other = np.flatnonzero((up > HEIGHT) | (free * 2 / 3 * up * np.sqrt(up) < q))
    if other.size:
        up[other] = over_bars(q[other], behind[other], drowned[other], free[other])
    return up


def over_bars(q: Array, behind: Array, drowned: Array, free: Array) -> Array:
    """The same where free slots hold the flow back, or part of it goes over the top of the bars."""
    columns = Samples(q, behind, drowned, free, q, q, q)  # a way to carry four arrays through `root`

    def lacking(up: Array, c: Samples) -> Array:
        h, top = c.tailwater, np.minimum(HEIGHT, up)
        over = up - top
        a = np.minimum(h, top)
        above = over * np.sqrt(over)
        through = c.manning * (a * np.sqrt(up - h) + 2 / 3 * ((up - a) ** 1.5 - above))
        slots = c.factor * 2 / 3 * (up * np.sqrt(up) - above)
        ratio = np.clip((h - HEIGHT) / np.maximum(over, 1e-12), 0.0, 1.0)
        spill = TOP_COEFFICIENT * WIDTH * above * (1 - ratio * np.sqrt(ratio)) ** 0.385
        return np.minimum(through, slots) + spill - c.flow

    return root(lacking, behind, behind + 4.0, columns, 1e-7)


def through_level(q: Array, s: Samples) -> Array:
    """Level of the pool with all of q through screen and barrel."""
    critical = critical_depth(q)
    inlet = inlet_head(q, s.factor, critical)
    return INVERT_UP + screen_head(q, np.maximum(inlet, outlet_head(q, s, critical, inlet)), s)


def piece_levels(s: Samples) -> Array:
    """Level of the pool for the samples of a piece; a root for the split with the road where water goes over it."""
    level = through_level(s.flow, s)
    over = np.flatnonzero(level > ROAD)
    if over.size:
        part = s.part(over)
        rate = part.road * ROAD_LENGTH
        least = np.maximum(part.flow - rate * (level[over] - ROAD) ** 1.5, 1e-6 * part.flow)

        def gap(q: Array, own: Samples) -> Array:
            return through_level(q, own) - ROAD - np.cbrt((np.maximum(own.flow - q, 0) / (own.road * ROAD_LENGTH)) ** 2)

        split = root(gap, least, part.flow, part, 1e-6)
        level[over] = ROAD + np.cbrt((np.maximum(part.flow - split, 0) / rate) ** 2)
    return level


def levels(s: Samples) -> Array:
    """Level of the pool, a piece at a time."""
    starts = range(0, s.flow.size, PIECE)
    return np.concatenate([piece_levels(s.part(slice(start, start + PIECE))) for start in starts])
