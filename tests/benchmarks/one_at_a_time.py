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


def outlet_level(q: float, tailwater: float, n: float, entrance: float) -> float:
    """Outlet control by the profile in specific energy."""
    critical = min((q / SPAN) ** (2 / 3) / G ** (1 / 3), RISE)
    head = (q / (SPAN * critical)) ** 2 / (2 * G)
    least = critical + head
    start = max(tailwater - INVERT_DOWN, critical)
    energy = start + (q / (SPAN * min(start, RISE))) ** 2 / (2 * G)

    def rate(_: float, e: Array) -> float:
        return friction(q, depth_of_energy(q, float(e[0]), critical), n) - SLOPE

    solution = solve_ivp(rate, (0, site.LENGTH), [energy], rtol=1e-5, atol=1e-6)
    y = depth_of_energy(q, max(float(solution.y[0, -1]), least), critical)
    velocity_head = (q / (SPAN * min(y, RISE))) ** 2 / (2 * G)
    return INVERT_UP + max(y + (1 + entrance) * velocity_head, critical + (1 + entrance) * head)


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
