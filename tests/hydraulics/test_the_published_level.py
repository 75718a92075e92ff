"""The level is that of the published formula wherever one holds: thousands of random barrels, solved again by SciPy.

HDS-5, 2nd edition (2001): inlet control by appendix A, outlet control by a profile and Ke V^2/2g (p. 34-38, 70-72).
Sections, depths and profiles are those of the plain solver beside this file, which shares no code with the package.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from plain_crossing import KU, Crossing, Inlet, Tube, clean_inlet_head, depth_at_inlet
from scipy.optimize import brentq
from test_crossing import ENTRIES, compiled

from overbank.hydraulics import crossing

STEEP, MILD = 2000, 800


def barrel(rng: np.random.Generator, slope: float) -> tuple[Crossing, float]:
    """One barrel with any inlet of the tables on the slope, and a flow up to a drowned inlet."""
    entry = ENTRIES[rng.integers(len(ENTRIES))]
    span = np.exp(rng.uniform(-0.7, 1.4))
    rise = span if entry.shape == "pipe" else span * rng.uniform(0.5, 1.3)
    wall = max(rise - span / 2, rise * rng.uniform(0.1, 0.9)) if entry.shape == "arch" else 0.0
    n = rng.uniform(0.010, 0.030)
    tube = Tube(entry.shape, span, rise, n, n, wall)
    constants = (entry.form, entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)
    inlet = Inlet(*constants, rng.normal(1, 0.05), entry.entrance_loss, 1.0)
    length = np.exp(rng.uniform(1.5, 5))
    made = Crossing(tube, inlet, 1, length, 10 + slope * length, 10.0, 0.0, 0, None, None)
    return made, rng.uniform(0.2, 6.0) * float(tube.area(rise)) * sqrt(rise) / KU


def normal_depth(tube: Tube, flow: float, slope: float) -> float:
    """The lowest depth at which friction holds the slope; infinite where there is none."""
    if slope <= 0:
        return float("inf")
    depths = np.linspace(1e-3, 1, 400) * tube.rise
    depths[-1] *= 1 - 1e-9
    held = np.flatnonzero(tube.friction(flow, depths) <= slope)
    if len(held) == 0:
        return float("inf")
    if held[0] == 0:
        return float(depths[0])
    between = depths[held[0] - 1], depths[held[0]]
    return float(brentq(lambda y: float(tube.friction(flow, y)) - slope, *between, xtol=1e-12))


def test_a_steep_barrel_with_a_low_tailwater_is_under_inlet_control_to_one_per_cent() -> None:
    """Normal depth under 0.95 of critical, tailwater under critical: head factor times the published inlet equation."""
    rng = np.random.default_rng(41)
    met = drowned = 0
    for _ in range(STEEP):
        c, flow = barrel(rng, np.exp(rng.uniform(-6, -2.3)))
        yc = c.tube.critical(flow)
        if normal_depth(c.tube, flow, c.slope) >= 0.95 * yc:
            continue
        state = crossing.crossed(*compiled(c), flow, 10 + rng.uniform(-0.5, 1) * yc)
        least = yc + c.tube.head(flow, yc)
        published = max(c.inlet.factor * clean_inlet_head(c.inlet, c.tube, flow, c.slope), least)
        assert state.level - c.upstream == pytest.approx(published, rel=0.01), (c, flow)
        assert state.regime in (crossing.INLET_FREE, crossing.INLET_DROWNED), (c, flow)
        met += 1
        drowned += state.regime == crossing.INLET_DROWNED
    assert met > 0.5 * STEEP
    assert 0.2 * met < drowned < 0.6 * met


def test_a_mild_barrel_is_under_the_higher_of_both_published_controls() -> None:
    """Normal depth over critical: within 1 % for Ke up to 0.5, 2.6 % up to 0.9 (the dip above critical depth)."""
    rng = np.random.default_rng(42)
    outlet = 0
    for _ in range(MILD):
        slope = float(rng.choice([0.0, np.exp(rng.uniform(-8, -4)), -0.003]))
        c, flow = barrel(rng, slope)
        yc = c.tube.critical(flow)
        if normal_depth(c.tube, flow, c.slope) <= yc:
            continue
        tailwater = rng.uniform(-0.5, 1.6) * c.tube.rise
        state = crossing.crossed(*compiled(c), flow, 10 + tailwater)
        y = depth_at_inlet(c.tube, flow, c.slope, c.length, max(tailwater, yc))
        by_outlet = y + (1 + c.inlet.entrance_loss) * c.tube.head(flow, y)
        by_inlet = c.inlet.factor * clean_inlet_head(c.inlet, c.tube, flow, c.slope)
        most = 0.01 if c.inlet.entrance_loss <= 0.5 else 0.026
        assert state.level - c.upstream == pytest.approx(max(by_outlet, by_inlet), rel=most), (c, flow, tailwater)
        outlet += state.regime >= crossing.OUTLET_FREE_SURFACE
    assert outlet > 0.2 * MILD


def test_a_steep_barrel_drowned_from_below_is_under_outlet_control() -> None:
    """Depth at the inlet end beyond the dip of y + (1 + Ke) V^2/2g: the higher of both published controls to 0.1 %."""
    rng = np.random.default_rng(43)
    met = 0
    for _ in range(MILD):
        c, flow = barrel(rng, np.exp(rng.uniform(-6, -3)))
        yc = c.tube.critical(flow)
        if normal_depth(c.tube, flow, c.slope) >= 0.95 * yc:
            continue
        tailwater = c.slope * c.length + rng.uniform(1.0, 2.0) * c.tube.rise
        y = depth_at_inlet(c.tube, flow, c.slope, c.length, tailwater)
        if y < c.tube.rise:
            continue
        by_outlet = y + (1 + c.inlet.entrance_loss) * c.tube.head(flow, y)
        by_inlet = c.inlet.factor * clean_inlet_head(c.inlet, c.tube, flow, c.slope)
        level = crossing.pool_level(*compiled(c), flow, 10 + tailwater)
        assert level - c.upstream == pytest.approx(max(by_outlet, by_inlet), rel=1e-3), (c, flow, tailwater)
        met += 1
    assert met > 0.2 * MILD
