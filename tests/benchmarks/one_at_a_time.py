"""The same crossing one sample at a time, as a user of SciPy would write it: plain numbers, brentq and solve_ivp.

The numbers of the site are those of `rivals`; agreement with the compiled kernels is asserted before any time is taken.
"""

from __future__ import annotations

import math

from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from benchmarks import rivals as site
from benchmarks.rivals import CLEAR, HEIGHT, INVERT_DOWN, INVERT_UP, KS, KU, RISE, ROAD, SLOPE, SPAN, Array, G, Samples

FULL_AREA = SPAN * RISE


def unsubmerged(intensity: float) -> float:
    """Headwater over rise while the inlet is free."""
    q = intensity / KU * SPAN * RISE**1.5
    least = 1.5 * (q / SPAN) ** (2 / 3) / G ** (1 / 3) / RISE
    return least + site.K * intensity**site.M + KS * SLOPE * min(1.0, intensity / 0.5)


def submerged(intensity: float) -> float:
    """Headwater over rise while the inlet is drowned."""
    return site.C * intensity**2 + site.Y + KS * SLOPE


def inlet_level(q: float, factor: float) -> float:
    """Inlet control; the zone between the equations by the cubic through both with their end slopes."""
    intensity = KU * q / (SPAN * RISE**1.5)
    if intensity <= 3.5:
        ratio = unsubmerged(intensity)
    elif intensity >= 4.0:
        ratio = submerged(intensity)
    else:
        low, high = unsubmerged(3.5), submerged(4.0)
        start, end = (low - unsubmerged(3.499)) / 1e-3, 8 * site.C
        t = (intensity - 3.5) / 0.5
        ratio = low * (1 + 2 * t) * (1 - t) ** 2 + 0.5 * start * t * (1 - t) ** 2
        ratio += high * t * t * (3 - 2 * t) + 0.5 * end * t * t * (t - 1)
    critical = (q / SPAN) ** (2 / 3) / G ** (1 / 3)
    least = 1.5 * critical if critical < RISE else RISE + (q / FULL_AREA) ** 2 / (2 * G)
    return INVERT_UP + factor * max(RISE * ratio, least)


def depth_of_energy(q: float, energy: float, critical: float) -> float:
    """The deeper depth with this specific energy; pressure depth above the roof."""
    head = (q / SPAN) ** 2 / (2 * G)
    full = energy - head / RISE**2
    if full >= RISE:
        return full

    def excess(y: float) -> float:
        return y + head / y**2 - energy

    top = min(energy, RISE)
    if excess(critical) >= 0.0:
        return critical
    return float(brentq(excess, critical, top, xtol=1e-9)) if excess(top) > 0.0 else top


def friction(q: float, y: float, n: float) -> float:
    depth = min(y, RISE)
    roof = max(1 - (RISE - depth) / (site.ROOF_SHARE * RISE), 0.0)
    area = SPAN * depth
    perimeter = SPAN * (1 + roof**2 * (3 - 2 * roof)) + 2 * depth
    return (n * q / area) ** 2 * (perimeter / area) ** (4 / 3)


def published(q: float, tailwater: float, n: float, entrance: float) -> tuple[float, float]:
    """Published head by the profile in specific energy, and whether it rises with the depth: positive where it does."""
    critical = min((q / SPAN) ** (2 / 3) / G ** (1 / 3), RISE)
    least = critical + (q / (SPAN * critical)) ** 2 / (2 * G)
    start = max(tailwater - INVERT_DOWN, critical)
    energy = start + (q / (SPAN * min(start, RISE))) ** 2 / (2 * G)

    def rate(_: float, e: Array) -> float:
        return friction(q, depth_of_energy(q, float(e[0]), critical), n) - SLOPE

    solution = solve_ivp(rate, (0, site.LENGTH), [energy], rtol=1e-5, atol=1e-6)
    y = depth_of_energy(q, max(float(solution.y[0, -1]), least), critical)
    wet = SPAN * min(y, RISE)
    margin = 1.0 if y >= RISE else 1 - (1 + entrance) * q**2 * SPAN / (G * wet**3)
    return y + (1 + entrance) * (q / wet) ** 2 / (2 * G), margin


def highest_before(q: float, tailwater: float, n: float, entrance: float) -> float:
    """Head of the greatest lesser flow that the tailwater drowns up to the inlet; 0 where there is none."""
    low = q / math.sqrt(1 + entrance)
    if published(low, tailwater, n, entrance)[1] <= 0.0:
        return 0.0
    edge = float(brentq(lambda each: published(each, tailwater, n, entrance)[1], low, q, xtol=1e-6 * q))
    return published(edge, tailwater, n, entrance)[0]


def outlet_level(q: float, tailwater: float, n: float, entrance: float) -> float:
    """Outlet control: the published head where it rises with the depth, nearer to critical depth the held one."""
    critical = min((q / SPAN) ** (2 / 3) / G ** (1 / 3), RISE)
    head = (q / (SPAN * critical)) ** 2 / (2 * G)
    shallow, deep = friction(q, 0.95 * critical, n), friction(q, critical, n)
    mild = 1.0 if deep >= SLOPE else max(shallow - SLOPE, 0.0) / (shallow - deep)
    held = tailwater - INVERT_DOWN > critical
    if not held and mild <= 0.0:
        return INVERT_UP + critical + head
    loss = 0.5 * entrance + 1.5 * ((1 + entrance) ** (1 / 3) - 1)
    least = critical + (1 + mild * loss) * head
    up, margin = published(q, tailwater, n, entrance)
    if margin >= 0.0:
        return INVERT_UP + max(up, least)
    if held and mild < 1.0:
        least = max(least, highest_before(q, tailwater, n, entrance))
    return INVERT_UP + least


def slots(width: float, up: float, back: float) -> float:
    """Flow between the bars, drowned up to `back`."""
    top = min(HEIGHT, up)
    a = min(max(back, 0.0), top)
    drowned = a * math.sqrt(max(up - back, 0.0))
    return math.sqrt(2 * G) * width * (drowned + 2 / 3 * ((up - a) ** 1.5 - (up - top) ** 1.5))


def screen_level(q: float, behind: float, blockage: float) -> float:
    """Level upstream of the screen."""
    left = 1 - blockage
    net = CLEAR * left
    loss = max((1 / (net * (0.62 + 0.38 * net**3)) - 1) ** 2, site.CLEAN / left**2)
    down = behind - INVERT_UP

    def lacking(up: float) -> float:
        passed = min(slots(site.WIDTH / math.sqrt(loss), up, down), slots(0.6 * site.WIDTH * net, up, 0.0))
        over = max(up - HEIGHT, 0.0)
        ratio = min(max((down - HEIGHT) / max(over, 1e-12), 0.0), 1.0)
        return passed + site.TOP_COEFFICIENT * site.WIDTH * over**1.5 * (1 - ratio**1.5) ** 0.385 - q

    return INVERT_UP + float(brentq(lacking, down, down + 4.0, xtol=1e-7))


def level(s: Samples, i: int) -> float:
    """Level of the pool of one sample."""
    flow, tailwater, n, factor, entrance, blockage, road = (float(column[i]) for column in vars(s).values())

    def through(q: float) -> float:
        behind = max(inlet_level(q, factor), outlet_level(q, tailwater, n, entrance))
        return screen_level(q, behind, blockage)

    alone = through(flow)
    if alone <= ROAD:
        return alone
    rate = road * site.ROAD_LENGTH

    def gap(q: float) -> float:
        return through(q) - ROAD - ((flow - q) / rate) ** (2 / 3)

    split = float(brentq(gap, 1e-6 * flow, flow, xtol=1e-6))
    return ROAD + ((flow - split) / rate) ** (2 / 3)
