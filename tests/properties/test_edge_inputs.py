"""Extremes: trickles and torrents, slivers, long and flat and steep, above the road and below the bed. And in time."""

from __future__ import annotations

from time import perf_counter

import numpy as np
import pytest
from random_crossings import AT, Table, changed, crossings, levels, told

from overbank._jit import run_rows
from overbank.hydraulics import profile, rows, sections, uniform
from overbank.hydraulics.crossing import Crossed

SAMPLES = 6000
RARE = {
    "flow": [0.0, 1e-12, 1e-9, 1e-6, 1e3, 1e5],
    "tailwater": [-100.0, 0.0, 9.9999, 10.0, 1000.0, 1e6],
    "length": [1e-6, 0.1, 1000.0, 5000.0],
    "screen_blockage": [0.0, 1e-12, 1e-9, 1 - 1e-5, 1 - 1e-9, 1 - 1e-12, 1.0],
    "blockage": [0.0, 1e-12, 1e-9, 1 - 1e-5, 1 - 1e-9, 1 - 1e-12, 1.0],
    "manning_n": [1e-6, 0.001, 1.0],
    "screen_clean_loss": [0.0, 1e-9, 5.0],
    "screen_clear": [0.01, 0.999, 1.0],
    "screen_height": [1e-6, 1e6],
    "exit_loss": [0.0],
    "entrance_loss": [0.0],
    "road_level": [-50.0, 1e6],
    "road_length": [1e-6, 1e6],
}


@pytest.fixture(scope="module")
def extremes() -> Table:
    """Ordinary crossings in which each of these numbers is, one time in four, an extreme one."""
    rng = np.random.default_rng(61)
    table = crossings(SAMPLES, seed=62)
    screened = table[AT["screen_width"]] > 0
    for name, values in RARE.items():
        rare = rng.random(SAMPLES) < 0.25
        table[AT[name]] = np.where(rare, rng.choice(values, SAMPLES), table[AT[name]])
    table[AT["blockage"]] *= ~screened
    slope = rng.choice([0.0, 0.0, 0.5, 1.0, -1.0], SAMPLES)
    steep = rng.random(SAMPLES) < 0.3
    table[AT["upstream_invert"]] = np.where(
        steep, 10 + slope * table[AT["length"]], np.minimum(table[AT["upstream_invert"]], 1e3)
    )
    stretch = np.exp(rng.uniform(-3, 3, SAMPLES))
    tall = (rng.random(SAMPLES) < 0.3) & (table[AT["shape"]] != sections.CIRCLE)
    for name in ("rise", "wall_height"):
        table[AT[name]] *= np.where(tall & (table[AT["shape"]] != sections.ARCH), stretch, 1.0)
    return table


def test_every_level_is_a_number_and_none_takes_long(extremes: Table) -> None:
    """No nan; endless only where every way is shut; 6000 extremes in well under a minute (half a second, as a rule)."""
    levels(extremes[:, :8])
    began = perf_counter()
    states = run_rows(rows.crossing_states, list(extremes), len(Crossed._fields), SAMPLES)
    assert perf_counter() - began < 40
    found = dict(zip(Crossed._fields, states, strict=True))
    for name, values in found.items():
        missing = np.flatnonzero(np.isnan(values))
        assert len(missing) == 0, (name, told(extremes, int(missing[0])))
    level = found["level"]
    np.testing.assert_array_equal(level, levels(extremes))
    shut = np.maximum(extremes[AT["blockage"]], extremes[AT["screen_blockage"]]) > 1 - 2e-6
    assert np.all(shut[np.isinf(level)])
    assert np.all(level >= extremes[AT["tailwater"]] * (1 - 1e-12) - 1e-9)
    np.testing.assert_allclose(found["barrel_flow"] + found["road_flow"], extremes[AT["flow"]], rtol=1e-9, atol=1e-30)


def test_a_trickle_stands_at_the_tailwater_or_the_highest_bed() -> None:
    table = changed(crossings(4000, seed=63, screen=0.0), flow=1e-12, blockage=0.0)
    up, down = table[AT["upstream_invert"]], table[AT["downstream_invert"]]
    bed = np.maximum(np.maximum(up, down), table[AT["tailwater"]])
    np.testing.assert_allclose(levels(table), bed, atol=1e-4)
    np.testing.assert_allclose(levels(changed(table, flow=0.0)), bed, atol=1e-9)


def test_a_road_of_great_length_holds_the_level_at_itself() -> None:
    table = changed(crossings(4000, seed=64, road=1.0), road_length=1e9)
    level, crest = levels(table), np.maximum(table[AT["road_level"]], table[AT["tailwater"]])
    over = level > crest
    np.testing.assert_allclose(level[over], crest[over], atol=1e-3)


@pytest.mark.parametrize("slope", [-1e-4, 0.0, 1e-6, 1e-4, 0.003, 0.3])
@pytest.mark.parametrize("flow", [1e-6, 0.1, 10.0, 1000.0])
def test_twenty_kilometres_of_channel(slope: float, flow: float) -> None:
    """Ends at a depth between critical and whatever stands below, or the normal one; soon, and without nan."""
    s = sections.trapezoid(3.0, 2.0, 0.04)
    profile.depth_upstream(s, 1.0, 0.001, 1.0, 0.0)  # compiled
    began = perf_counter()
    depths = [profile.depth_upstream(s, flow, slope, 20_000.0, below) for below in (0.0, 1.0, 30.0)]
    assert perf_counter() - began < 20.0
    critical, normal = uniform.critical_depth(s, flow), uniform.normal_depth(s, flow, slope)
    assert all(critical <= depth < 60 for depth in depths)
    assert np.diff(depths).min() > -2e-7 * depths[0]
    if slope > 1e-3:
        assert depths[0] == pytest.approx(max(normal, critical), rel=1e-4)


@pytest.mark.parametrize("silt", [0.999, 1 - 1e-6, 1 - 1e-9])
@pytest.mark.parametrize("make", [sections.pipe, lambda d, n: sections.box(d, d, n)])
def test_a_sliver_of_barrel(silt: float, make: object) -> None:
    """Nearly full of silt: whatever the head, it is a number, found soon."""
    s = sections.with_silt(make(1.2, 0.02), silt * 1.2)  # type: ignore[operator]
    profile.depth_upstream(s, 1.0, 0.001, 1.0, 0.0)  # compiled
    began = perf_counter()
    for flow in (1e-9, 1e-3, 1.0):
        assert 0 < uniform.critical_depth(s, flow) <= 1.2 - silt * 1.2 + 1e-12
        assert profile.depth_upstream(s, flow, 0.001, 50.0, 0.0) > 0
    assert perf_counter() - began < 40.0
