"""A trap for debris: an orifice that stands for a site, random floods, and a brute-force solve that shares no code."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.sampling.flood import Place

Array = NDArray[np.float64]

NAME, PEAK = "trap.blockage", "flow.design_m3_s"
PLACE = Place("trap", NAME)
SHAPE = {"shape": "gamma", "hours_to_peak": 3.0}

CREW = {"call_level_m": 1.0, "travel_hours": 1.0, "clears_per_hour": 0.1}
LAWFUL = (PEAK, NAME, "flow.debris.rate_per_hour", "flow.debris.arrivals_per_hour", "flow.debris.arrival_share")
"""Numbers that never lower the water."""


class Orifice:
    """Stands for a site: h = (q / (2 (1 - b)))^2, no way through where b = 1. Median design flow 5 m3/s."""

    def medians(self) -> Array:
        return np.array([[5.0]])

    def numbers(self, table: Array) -> dict[str, Array]:
        return {PEAK: table[:, 0]}

    def levels_of(self, numbers: Mapping[str, Any], rows: int) -> list[Array]:
        assert len(numbers[PEAK]) == rows
        with np.errstate(divide="ignore"):
            return [(numbers[PEAK] / (2.0 * (1.0 - numbers[NAME]))) ** 2]


def some_floods(size: int = 20) -> dict[str, Array]:
    """Random floods with debris and a crew. Invented."""
    generator = np.random.default_rng(7)
    between = {
        PEAK: (2.0, 8.0),
        NAME: (0.0, 0.5),
        "flow.hydrograph.base_flow_m3_s": (0.0, 1.0),
        "flow.hydrograph.sharpness": (1.5, 6.0),
        "flow.hydrograph.hours_to_peak": (1.0, 8.0),
        "flow.debris.rate_per_hour": (0.02, 0.4),
        "flow.debris.ceiling": (0.5, 0.8),
        "flow.crew.call_level_m": (1.0, 4.0),
        "flow.crew.travel_hours": (0.2, 3.0),
        "flow.crew.clears_per_hour": (0.1, 0.6),
    }
    return {name: generator.uniform(low, high, size) for name, (low, high) in between.items()}


def by_brute_force(
    n: dict[str, float], *, crew: bool, with_flow: bool, steps: int = 12000
) -> tuple[float, float, float]:
    """Highest level, its time and the hours above 3 m, by small explicit steps in plain Python."""
    peak, base, to_peak = n[PEAK], n["flow.hydrograph.base_flow_m3_s"], n["flow.hydrograph.hours_to_peak"]
    end, blocked, arrives = 12.0 * to_peak, n[NAME], math.inf
    step = end / steps
    highest, when, over = -1.0, 0.0, 0.0
    for k in range(steps):
        time = k * step
        x = time / to_peak
        share = (x * math.exp(1.0 - x)) ** n["flow.hydrograph.sharpness"]
        if x > 1.0 and share < 0.01:
            break
        flow = base + (peak - base) * share
        level = (flow / (2.0 * (1.0 - blocked))) ** 2
        if level > highest:
            highest, when = level, time
        over += step * (level > 3.0)
        if crew and level >= n["flow.crew.call_level_m"] and math.isinf(arrives):
            arrives = time + n["flow.crew.travel_hours"]
        room = max(1.0 - blocked / n["flow.debris.ceiling"], 0.0)
        blocked += step * n["flow.debris.rate_per_hour"] * room * (flow / 5.0 if with_flow else 1.0)
        if time >= arrives:
            blocked = max(blocked - step * n["flow.crew.clears_per_hour"], 0.0)
    return highest, when, over
