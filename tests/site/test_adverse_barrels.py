"""Flat barrels and barrels that rise downstream, against a full barrel by sums and a free surface by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from test_structures import BARREL

from overbank.hydraulics.tables import inlets
from overbank.site.culvert import Culvert
from overbank.site.numbers import Array, Numbers, Water
from overbank.site.structure import Solved

LANE = Culvert("lane", "box", inlets()["box", "wingwalls 30 to 75 deg"], has_screen=False, has_road=False)
SPAN, RISE, LENGTH, N, LOSS = 2.4, 1.5, 60.0, 0.02, 0.4
NUMBERS = {
    **BARREL,
    "lane.barrel.count": 1.0,
    "lane.barrel.length_m": LENGTH,
    "lane.barrel.manning_n": N,
    "lane.barrel.bed_manning_n": N,
    "lane.barrel.upstream_invert_m": 30.0,
    "lane.inlet.exit_loss": 1.0,
}
SLOPES = np.array([-0.02, -0.01, -0.003, 0.0])


def solved(flow: float, below: float, slopes: Array = SLOPES) -> dict[str, Array]:
    still, numbers = np.full(slopes.size, below), sloping(slopes)
    return LANE.solve(np.full(slopes.size, flow), Water(still, still), numbers)


def sloping(slopes: Array) -> Numbers:
    return {**NUMBERS, "lane.barrel.downstream_invert_m": 30.0 - slopes * LENGTH}


def test_a_full_barrel_does_not_feel_its_slope() -> None:
    """Both ends under water: friction, Ke and Ko on V^2/2g over the level below (HDS-5 p. 34)."""
    flow, area, perimeter = 8.0, SPAN * RISE, 2.0 * (SPAN + RISE)
    friction = (N * flow / area) ** 2 * (perimeter / area) ** (4.0 / 3.0) * LENGTH
    level = 33.2 + friction + (1.0 + LOSS) * (flow / area) ** 2 / 19.62
    np.testing.assert_allclose(solved(flow, 33.2)["level"], level, atol=1e-6)


def test_a_free_surface_over_a_rising_bed() -> None:
    """From a pool just below the roof of the outlet, dy/dx = (S0 - Sf)/(1 - Fr^2) upstream, then (1 + Ke) V^2/2g."""
    flow = 3.0
    for slope in SLOPES:
        outlet = 30.0 - slope * LENGTH
        (found,) = solved(flow, outlet + 1.2, np.array([slope]))["level"]

        def upstream(_x: float, y: Array, s: float = slope) -> Array:
            wet = SPAN * y
            friction = (N * flow / wet) ** 2 * ((SPAN + 2.0 * y) / wet) ** (4.0 / 3.0)
            return -(s - friction) / (1.0 - flow**2 / (9.81 * SPAN**2 * y**3))

        def at_the_roof(_x: float, y: Array) -> float:
            return float(y[0] - RISE)

        at_the_roof.terminal = True  # type: ignore[attr-defined]
        way = solve_ivp(upstream, (0.0, LENGTH), [1.2], rtol=1e-10, atol=1e-10, events=at_the_roof)
        depth, rest = float(way.y[0, -1]), LENGTH - float(way.t[-1])
        wet, perimeter = SPAN * depth, 2.0 * (SPAN + RISE)
        full = (N * flow / (SPAN * RISE)) ** 2 * (perimeter / (SPAN * RISE)) ** (4.0 / 3.0)
        level = 30.0 + depth + (full - slope) * rest + (1.0 + LOSS) * (flow / wet) ** 2 / 19.62
        assert found == pytest.approx(level, abs=2e-3), slope


def test_the_level_goes_smoothly_through_a_flat_barrel() -> None:
    slopes = np.linspace(-0.004, 0.004, 81)
    for flow in (1.0, 4.0, 9.0):
        levels = solved(flow, 31.0, slopes)["level"]
        assert np.abs(np.diff(levels)).max() < 0.02


def test_a_remark_says_so() -> None:
    slopes = np.array([-0.01, 0.0, 0.01, 0.01])
    found = solved(4.0, 31.0, slopes)
    below = np.full(4, 31.0)
    said = dict(LANE.remarks(Solved(np.full(4, 4.0), below, found["level"], found, sloping(slopes))))
    words = "barrels that rise downstream: the inlets of HDS-5 were tested on falling ones"
    np.testing.assert_array_equal(said[words], [True, False, False, False])
