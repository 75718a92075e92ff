"""The same crossing written as a user of NumPy and SciPy would, vectorised over samples.

One box culvert behind a screen under a road (the site of the benchmark), inlet and outlet control, screen law, road
overflow. Written from the formulas in docs, not from the compiled kernels; agreement with them is asserted before any
time is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import elementwise

G = 9.81
KU = (1 / 0.3048) ** 0.5
K, M, C, Y, KS = 0.026, 1.0, 0.0347, 0.81, -0.5
SPAN, RISE, LENGTH, INVERT_UP, INVERT_DOWN = 2.4, 1.5, 22.0, 30.10, 30.00
SLOPE = (INVERT_UP - INVERT_DOWN) / LENGTH
WIDTH, HEIGHT, BAR, GAP = 3.6, 2.0, 0.020, 0.125
CLEAR = GAP / (GAP + BAR)
CLEAN = 2.42 * (BAR / GAP) ** (4 / 3) * np.sin(np.radians(60.0))
ROAD, ROAD_LENGTH, TOP_COEFFICIENT = 32.60, 14.0, 1.7
ROOF_SHARE = 0.02
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Samples:
    """The uncertain numbers of the benchmark's site, one array each."""

    flow: Array
    tailwater: Array
    manning: Array
    factor: Array
    entrance: Array
    blockage: Array
    road: Array

    def part(self, which: slice | NDArray[np.bool_] | NDArray[np.intp]) -> Samples:
        return Samples(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


def draw(count: int, seed: int = 1) -> Samples:
    """Samples of which about a tenth send water over the road."""
    rng = np.random.default_rng(seed)
    return Samples(
        flow=7.5 * np.exp(0.18 * rng.standard_normal(count)),
        tailwater=31.1 + 0.15 * rng.standard_normal(count),
        manning=rng.triangular(0.012, 0.014, 0.018, count),
        factor=1.0 + 0.05 * rng.standard_normal(count),
        entrance=rng.triangular(0.24, 0.40, 0.60, count),
        blockage=np.where(rng.random(count) < 0.2, 0.0, rng.beta(1.5, 2.5, count)),
        road=rng.uniform(1.4, 1.7, count),
    )


def inlet_level(q: Array, s: Samples) -> Array:
    """Inlet control; the zone between the equations by the cubic through both with their end slopes."""
    intensity = KU * q / (SPAN * RISE**1.5)
    critical = (q / SPAN) ** (2 / 3) / G ** (1 / 3)

    def unsubmerged(i: Array) -> Array:
        per = i / KU * SPAN * RISE**1.5
        return 1.5 * (per / SPAN) ** (2 / 3) / G ** (1 / 3) / RISE + K * i**M + KS * SLOPE * np.minimum(1, i / 0.5)

    low, high = unsubmerged(np.full_like(q, 3.5)), C * 16 + Y + KS * SLOPE
    start, end = (low - unsubmerged(np.full_like(q, 3.499))) / 1e-3, 8 * C
    t = np.clip((intensity - 3.5) / 0.5, 0, 1)
    zone = (
        low * (1 + 2 * t) * (1 - t) ** 2
        + 0.5 * start * t * (1 - t) ** 2
        + high * t * t * (3 - 2 * t)
        + 0.5 * end * t * t * (t - 1)
    )
    ratio = np.where(
        intensity <= 3.5, unsubmerged(intensity), np.where(intensity < 4, zone, C * intensity**2 + Y + KS * SLOPE)
    )
    least = np.where(critical < RISE, 1.5 * critical, RISE + (q / (SPAN * RISE)) ** 2 / (2 * G))
    return INVERT_UP + s.factor * np.maximum(RISE * ratio, least)


def depth_of_energy(q: Array, energy: Array) -> Array:
    """The deeper depth of a rectangle with this specific energy; pressure depth above the roof."""
    critical = np.minimum((q / SPAN) ** (2 / 3) / G ** (1 / 3), RISE)
    full = energy - (q / (SPAN * RISE)) ** 2 / (2 * G)
    head = (q / SPAN) ** 2 / (2 * G)
    y = np.maximum(energy, critical)
    for _ in range(8):
        y = np.maximum(y - (y + head / y**2 - energy) / np.maximum(1 - 2 * head / y**3, 1e-3), critical)
    return np.where(full >= RISE, full, np.minimum(y, RISE))


def friction(q: Array, y: Array, n: Array) -> Array:
    depth = np.minimum(y, RISE)
    roof = np.clip(1 - (RISE - depth) / (ROOF_SHARE * RISE), 0, 1)
    perimeter = SPAN * (1 + roof**2 * (3 - 2 * roof)) + 2 * depth
    area = SPAN * depth
    return (n * q / area) ** 2 * (perimeter / area) ** (4 / 3)


def inlet_end(q: Array, s: Samples, steps: int = 60) -> Array:
    """Depth at the inlet end by the profile in specific energy, classical Runge-Kutta on fixed steps."""
    critical, least = critical_state(q)
    start = np.maximum(s.tailwater - INVERT_DOWN, critical)
    energy = start + (q / (SPAN * np.minimum(start, RISE))) ** 2 / (2 * G)
    dx = LENGTH / steps

    def rate(e: Array) -> Array:
        return friction(q, depth_of_energy(q, np.maximum(e, least)), s.manning) - SLOPE

    for _ in range(steps):
        k1 = rate(energy)
        k2 = rate(energy + 0.5 * dx * k1)
        k3 = rate(energy + 0.5 * dx * k2)
        k4 = rate(energy + dx * k3)
        energy = np.maximum(energy + dx / 6 * (k1 + 2 * k2 + 2 * k3 + k4), least)
    return depth_of_energy(q, energy)


def critical_state(q: Array) -> tuple[Array, Array]:
    """Critical depth and energy, the depth no more than the rise."""
    critical = np.minimum((q / SPAN) ** (2 / 3) / G ** (1 / 3), RISE)
    return critical, critical + (q / (SPAN * critical)) ** 2 / (2 * G)


def mild_share(q: Array, critical: Array, n: Array) -> Array:
    """1 with normal depth above critical, 0 below 0.95 of it, in proportion to the slope between."""
    shallow, deep = friction(q, 0.95 * critical, n), friction(q, critical, n)
    return np.where(deep >= SLOPE, 1.0, np.maximum(shallow - SLOPE, 0) / np.maximum(shallow - deep, 1e-12))


def published(q: Array, y: Array, s: Samples) -> tuple[Array, Array]:
    """Published head y + (1 + Ke) V^2/2g, and whether it rises with y: positive where it does."""
    wet = SPAN * np.minimum(y, RISE)
    margin = np.where(y >= RISE, 1.0, 1 - (1 + s.entrance) * q**2 * SPAN / (G * wet**3))
    return y + (1 + s.entrance) * (q / wet) ** 2 / (2 * G), margin


def outlet_level(q: Array, s: Samples) -> Array:
    """Outlet control: the published head where it rises with the depth, nearer to critical depth the held one."""
    critical, energy = critical_state(q)
    head, margin = published(q, inlet_end(q, s), s)
    loss, mild = 0.5 * s.entrance + 1.5 * (np.cbrt(1 + s.entrance) - 1), mild_share(q, critical, s.manning)
    least = energy + mild * loss * (energy - critical)
    level = np.where(margin >= 0, np.maximum(head, least), least)
    held = s.tailwater - INVERT_DOWN > critical
    before = np.flatnonzero((margin < 0) & held & (mild < 1))
    if before.size:
        level[before] = np.maximum(level[before], highest_before(q[before], s.part(before)))
    return INVERT_UP + np.where(held | (mild > 0), level, energy)


def highest_before(q: Array, s: Samples) -> Array:
    """Head of the greatest lesser flow that the tailwater drowns up to the inlet; 0 where there is none."""

    def margin(each: Array, *columns: Array) -> Array:
        own = Samples(*columns)
        return published(each, inlet_end(each, own), own)[1]

    low = q / np.sqrt(1 + s.entrance)
    columns = tuple(vars(s).values())
    drowned = margin(low, *columns) > 0
    found = np.zeros_like(q)
    if drowned.any():
        part, flows = s.part(drowned), q[drowned]
        own = tuple(vars(part).values())
        found[drowned] = highest_of(elementwise.find_root(margin, (low[drowned], flows), args=own), part)
    return found


def highest_of(root: object, s: Samples) -> Array:
    """Head at the drowned end of the bracket that a root was found in."""
    low, high = (np.asarray(end) for end in root.bracket)  # type: ignore[attr-defined]
    heads = [
        np.where(margin >= 0, head, 0.0) for head, margin in (published(q, inlet_end(q, s), s) for q in (low, high))
    ]
    return np.maximum(*heads)


def slots(width: Array | float, up: Array, back: Array) -> Array:
    """Flow between the bars, drowned up to `back`."""
    top = np.minimum(HEIGHT, up)
    a = np.clip(back, 0, top)
    drowned = a * np.sqrt(np.maximum(up - back, 0))
    return np.asarray(np.sqrt(2 * G) * width * (drowned + 2 / 3 * ((up - a) ** 1.5 - (up - top) ** 1.5)))


def screen_level(q: Array, behind: Array, s: Samples) -> Array:
    """Level upstream of the screen, a root for each sample."""
    left = 1 - s.blockage
    net = CLEAR * left
    loss = np.maximum((1 / (net * (0.62 + 0.38 * net**3)) - 1) ** 2, CLEAN / left**2)
    down = behind - INVERT_UP

    def lacking(up: Array, q: Array, down: Array, net: Array, loss: Array) -> Array:
        drowned, free = slots(WIDTH / np.sqrt(loss), up, down), slots(0.6 * WIDTH * net, up, np.zeros_like(up))
        over = np.maximum(up - HEIGHT, 0)
        ratio = np.clip((down - HEIGHT) / np.maximum(over, 1e-12), 0, 1)
        return np.minimum(drowned, free) + TOP_COEFFICIENT * WIDTH * over**1.5 * (1 - ratio**1.5) ** 0.385 - q

    found = elementwise.find_root(lacking, (down, down + 4.0), args=(q, down, net, loss), tolerances={"xatol": 1e-7})
    return INVERT_UP + np.asarray(found.x)


def through_level(q: Array, s: Samples) -> Array:
    return screen_level(q, np.maximum(inlet_level(q, s), outlet_level(q, s)), s)


def numpy_levels(s: Samples) -> Array:
    """Level of the pool, all samples at once; a root for the split with the road where water goes over it."""
    level = through_level(s.flow, s)
    over = np.flatnonzero(level > ROAD)
    part = s.part(over)

    def gap(q: Array, *columns: Array) -> Array:
        own = Samples(*columns)
        return through_level(q, own) - ROAD - (np.maximum(own.flow - q, 0) / (own.road * ROAD_LENGTH)) ** (2 / 3)

    bracket, columns = (1e-6 * part.flow, part.flow), tuple(vars(part).values())
    split = elementwise.find_root(gap, bracket, args=columns, tolerances={"xatol": 1e-6}).x
    level[over] = ROAD + ((part.flow - split) / (part.road * ROAD_LENGTH)) ** (2 / 3)
    return level
