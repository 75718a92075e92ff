"""Flow over a road or crest whose level changes along it: the published weir equation over the line, part by part.

    Q = integral of k C h^1.5 along the crest

with k how far the place is drowned. HDS-5, 2nd edition (2001), p. 39 (read in the source) cuts the road into level
strips and adds; between two points of a straight line the integral is taken instead, which for free flow is exact,

    Q = 2/5 C L (h2^2.5 - h1^2.5) / (h2 - h1),

by five Gauss points over the root of the head; where it is drowned that is good to 0.1 % of the part (own choice). All
parts have the same level, or energy level, before them. The line ends at upright walls.
"""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel
from overbank.hydraulics import roots
from overbank.hydraulics.crests import drowned_factor
from overbank.hydraulics.weirs import road_drowning, road_flow

Line = NDArray[np.float64]
"""Points along a crest, a row each: distance along it, never falling, and height above its lowest point [m]."""

NODES = (
    (0.0, 0.5688888888888889),
    (0.5384693101056831, 0.4786286704993665),
    (-0.5384693101056831, 0.4786286704993665),
    (0.9061798459386640, 0.2369268850561891),
    (-0.9061798459386640, 0.2369268850561891),
)
"""Five-point Gauss-Legendre: places and weights."""


@kernel
def wet_part(line: Line, part: int, head: float) -> tuple[float, float, float]:
    """Length of a part that water stands over [m], and the roots of its least and greatest head [m^0.5].

    head : over the lowest point of the line [m]
    """
    length = line[part + 1, 0] - line[part, 0]
    one, other = head - line[part, 1], head - line[part + 1, 1]
    low, high = min(one, other), max(one, other)
    if high <= 0.0 or length <= 0.0:
        return 0.0, 0.0, 0.0
    if low < 0.0:
        return length * high / (high - low), 0.0, sqrt(high)
    return length, sqrt(low), sqrt(high)


@kernel
def road_line_flow(line: Line, head: float, drowned_head: float, coefficient: float) -> float:
    """Flow over a road that follows a line [m3/s]; each place is drowned as a level road of its height would be.

    head, drowned_head : levels upstream and downstream above the lowest point [m]; negative when below it
    coefficient : SI [m^0.5/s], as of `weirs.road_flow`
    """
    drop, total = head - drowned_head, 0.0
    for part in range(line.shape[0] - 1):
        wet, low, high = wet_part(line, part, head)
        if wet > 0.0:
            mean = 0.0
            for place, weight in NODES:
                t = 0.5 * (low + high + (high - low) * place)
                h = t * t
                mean += weight * t * road_drowning(1.0 - drop / h) * h * t
            total += wet * mean / (low + high)
    return coefficient * total


@kernel
def road_crest_flow(line: Line | None, head: float, drowned_head: float, length: float, coefficient: float) -> float:
    """Flow over a road or deck that is level, or that follows a line; heads above its lowest point [m3/s]."""
    if line is None:
        return road_flow(head, drowned_head, length, coefficient)
    return road_line_flow(line, head, drowned_head, coefficient) if head > 0.0 else 0.0


@kernel
def crest_line_flow(
    line: Line,
    head: float,
    energy_head: float,
    drowned_head: float,
    drowned_energy_head: float,
    coefficient: float,
    modular_limit: float,
) -> float:
    """Flow over a weir that follows a line, from the energy head [m3/s].

    Each place is drowned as a level crest of its height would be, by the greater ratio of static and energy heads.

    head, energy_head, drowned_head, drowned_energy_head : above the lowest point [m], as in `weir_level.weir_flow`
    """
    drop, energy_drop, total = head - drowned_head, energy_head - drowned_energy_head, 0.0
    for part in range(line.shape[0] - 1):
        wet, low, high = wet_part(line, part, energy_head)
        if wet > 0.0:
            mean = 0.0
            for place, weight in NODES:
                t = 0.5 * (low + high + (high - low) * place)
                energy = t * t
                gauged = energy - energy_head + head
                ratio = 1.0 - energy_drop / energy
                if gauged > 0.0:
                    ratio = max(ratio, 1.0 - drop / gauged)
                mean += weight * t * drowned_factor(ratio, modular_limit) * energy * t
            total += wet * mean / (low + high)
    return coefficient * total


@kernel
def road_line_head(line: Line, flow: float, drowned_head: float, coefficient: float) -> float:
    """Head over the lowest point that passes the flow [m], never below the drowned head."""
    behind = max(drowned_head, 0.0)
    if flow <= 0.0 or behind == inf:
        return behind
    low, f_low = behind, -flow
    step = max((flow / (coefficient * (line[-1, 0] - line[0, 0]))) ** (2.0 / 3.0), 1e-9)
    high = behind + step
    f_high = road_line_flow(line, high, drowned_head, coefficient) - flow
    while f_high < 0.0:
        low, f_low = high, f_high
        step *= 2.0
        high += step
        f_high = road_line_flow(line, high, drowned_head, coefficient) - flow
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, road_line_flow(line, x, drowned_head, coefficient) - flow)
    return roots.best(bracket)
