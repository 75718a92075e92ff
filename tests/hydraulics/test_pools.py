"""Pools against thin slices in plain Python and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.hydraulics.pools import Pool, ReachPool, TablePool, Times, of_areas, of_volumes, surveyed, trapezoid
from overbank.hydraulics.surveyed_table import survey_table

ONE = np.arange(1)


def held(pool: Pool, level: float) -> float:
    return float(pool.volume(np.array([level]), ONE)[0])


def one(number: float) -> np.ndarray:
    return np.full(1, number)


def test_a_table_of_areas_is_summed_by_slices() -> None:
    levels, areas = [10.0, 10.5, 12.0], [0.0, 100.0, 900.0]
    pool = TablePool(of_areas(np.array(levels), np.array(areas)), one(10.0))
    for level in (9.0, 10.0, 10.3, 11.0, 12.0, 13.5):
        edges = np.linspace(10.0, max(level, 10.0), 20_001)
        middles = 0.5 * (edges[1:] + edges[:-1])
        slices = float(np.sum(np.interp(middles, levels, areas) * np.diff(edges)))
        assert held(pool, level) == pytest.approx(slices, rel=1e-6, abs=1e-9)
    assert held(pool, np.inf) == np.inf


def test_a_table_of_volumes_goes_on_with_its_last_area() -> None:
    pool = TablePool(of_volumes(np.array([10.0, 11.0, 12.0]), np.array([50.0, 150.0, 550.0])), one(10.0))
    assert [held(pool, level) for level in (9.0, 10.5, 11.5, 13.0)] == pytest.approx([0.0, 50.0, 300.0, 900.0])


@pytest.mark.parametrize("slope", [0.004, 1e-7, -0.002])
def test_a_reach_is_summed_by_slices(slope: float) -> None:
    """Trapezoid 2.5 m wide, sides 1.5 to 1, 80 m long."""
    pool = ReachPool(*trapezoid(one(30.0), one(2.5), one(1.5)), one(30.0), one(slope), one(80.0))
    along = (np.arange(20_000) + 0.5) * 80.0 / 20_000
    for level in (30.1, 30.9, 32.0):
        depth = np.maximum(level - 30.0 - slope * along, 0.0)
        assert held(pool, level) == pytest.approx(float(np.mean(depth * (2.5 + 1.5 * depth)) * 80.0), rel=1e-4)


def test_a_surveyed_reach_is_summed_by_slices() -> None:
    offsets, ground = np.array([0.0, 4.0, 5.0, 8.0, 8.0, 20.0]), np.array([3.0, 1.0, 0.0, 0.2, 1.2, 2.0])
    pool = ReachPool(*surveyed(survey_table(offsets, ground), one(50.0)), one(50.0), one(0.01), one(60.0))
    across = np.linspace(0.0, 20.0, 8001)
    along = (np.arange(400) + 0.5) * 60.0 / 400
    bed = np.interp(across, offsets, ground)
    for level in (50.4, 51.7, 53.5):
        depth = np.maximum(level - 50.0 - 0.01 * along[:, None] - bed, 0.0)
        assert held(pool, level) == pytest.approx(float(np.trapezoid(depth, across, axis=1).mean() * 60.0), rel=2e-3)


def test_times_a_factor_and_none_at_all() -> None:
    pool = TablePool(of_areas(np.array([0.0, 1.0]), np.array([10.0, 10.0])), np.zeros(2))
    volumes = Times(pool, np.array([3.0, 0.0])).volume(np.array([2.0, np.inf]), np.arange(2))
    assert volumes.tolist() == [60.0, 0.0]
