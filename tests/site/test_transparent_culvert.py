"""A row with a culvert that obstructs nothing, against the same channel without it, integrated by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from overbank.hydraulics.crossing import OUTLET_FREE_SURFACE
from overbank.hydraulics.tables import inlets
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel, NormalDepth

EDGE = inlets()["box", "wingwalls 30 to 75 deg"]
LOWER, UPPER = Channel("lower", "rectangle"), Channel("upper", "rectangle")
LENGTHS = {"lower": "lower.length_m", "lane": "lane.barrel.length_m", "upper": "upper.length_m"}
SITES = 60


def culvert(above: bool = True) -> Culvert:
    """A box without anything else, under an open channel or a still pool."""
    return Culvert("lane", "box", EDGE, False, False, approach=("upper", "rectangle") if above else None)


def drawn(seed: int) -> tuple[dict[str, np.ndarray | float], np.ndarray]:
    """Random straight channels, mild and no faster than a Froude number of 0.6 when uniform, and depths over normal."""
    rng = np.random.default_rng(seed)
    width, n = rng.uniform(0.8, 8.0, SITES), rng.uniform(0.015, 0.06, SITES)
    depth, froude = rng.uniform(0.3, 2.0, SITES), rng.uniform(0.1, 0.6, SITES)
    velocity = froude * np.sqrt(9.81 * depth)
    radius = width * depth / (width + 2.0 * depth)
    slope = (n * velocity) ** 2 / radius ** (4.0 / 3.0)
    lengths = {"lower": rng.uniform(20.0, 200.0, SITES), "lane": rng.uniform(5.0, 60.0, SITES)}
    lengths["upper"] = rng.uniform(20.0, 200.0, SITES)
    foot = 10.0 + slope * lengths["lower"]
    head = foot + slope * lengths["lane"]
    numbers: dict[str, np.ndarray | float] = {
        "flow.design_m3_s": width * depth * velocity,
        "tailwater.level_m": 10.0 + depth * rng.uniform(1.0, 1.6, SITES),
        "lane.barrel.count": 1.0,
        "lane.barrel.span_m": width,
        "lane.barrel.rise_m": 20.0,
        "lane.barrel.length_m": lengths["lane"],
        "lane.barrel.upstream_invert_m": head,
        "lane.barrel.downstream_invert_m": foot,
        "lane.barrel.manning_n": n,
        "lane.barrel.bed_manning_n": n,
        "lane.inlet.head_factor": 1.0,
        "lane.inlet.entrance_loss": rng.uniform(0.2, 0.9, SITES),
        "lane.inlet.exit_loss": rng.uniform(0.3, 1.0, SITES),
        "lane.blockage": 0.0,
        "lane.pattern": 0.0,
        "tailwater.normal_depth.section.width_m": width,
        "tailwater.normal_depth.manning_n": n,
        "tailwater.normal_depth.slope": slope,
        "tailwater.normal_depth.bed_level_m": foot,
    }
    for reach, bed in (("lower", 10.0 + 0.0 * foot), ("upper", head)):
        numbers |= {
            f"{reach}.section.width_m": width,
            f"{reach}.manning_n": n,
            f"{reach}.bed_slope": slope,
            f"{reach}.length_m": lengths[reach],
            f"{reach}.bed_level_m": bed,
        }
    return numbers, slope


def bare(numbers: dict[str, np.ndarray | float], slope: np.ndarray, i: int, *parts: str) -> float:
    """Depth at the upper end of some parts of the plain channel: dy/dx = (S0 - Sf) / (1 - Fr^2) by SciPy."""
    width, n = numbers["lower.section.width_m"][i], numbers["lower.manning_n"][i]  # type: ignore[index]
    flow, start = numbers["flow.design_m3_s"][i], numbers["tailwater.level_m"][i] - 10.0  # type: ignore[index]
    length = sum(numbers[LENGTHS[part]][i] for part in parts)  # type: ignore[index]

    def upstream(_x: float, y: np.ndarray) -> np.ndarray:
        wet = width * y
        friction = (n * flow / wet) ** 2 * ((width + 2.0 * y) / wet) ** (4.0 / 3.0)
        return -(slope[i] - friction) / (1.0 - flow**2 / (9.81 * width**2 * y**3))

    return float(solve_ivp(upstream, (0.0, length), [start], rtol=1e-10, atol=1e-10).y[0, -1])


def test_nothing_there_changes_the_level_by_less_than_a_millimetre() -> None:
    """Lower reach, box as wide as they are, upper reach, from any water below: just above the box and at the top."""
    numbers, slope = drawn(1)
    found = Site((LOWER, culvert(), UPPER), FixedLevel()).march(numbers, SITES)
    assert np.all(found.element("lane").results["regime"] == OUTLET_FREE_SURFACE)
    for i in range(SITES):
        for place, parts in (("lane", ("lower", "lane")), ("upper", ("lower", "lane", "upper"))):
            bed = 10.0 + slope[i] * sum(numbers[LENGTHS[part]][i] for part in parts)  # type: ignore[index]
            level = found.element(place).level[i]
            assert level == pytest.approx(bed + bare(numbers, slope, i, *parts), abs=1e-3), (place, i)


def test_from_normal_depth_the_row_stays_at_normal_depth() -> None:
    """The box first in the row, on the water of a channel like it. From still water it stands velocity heads higher."""
    numbers, _ = drawn(2)
    found = Site((culvert(), UPPER), NormalDepth("rectangle")).march(numbers, SITES)
    depth = found.tailwater - numbers["tailwater.normal_depth.bed_level_m"]
    np.testing.assert_allclose(found.element("lane").level - numbers["upper.bed_level_m"], depth, atol=1e-3)
    still = Site((culvert(above=False), UPPER), NormalDepth("rectangle")).march(numbers, SITES)
    area = numbers["upper.section.width_m"] * depth
    head = (numbers["flow.design_m3_s"] / area) ** 2 / 19.62
    rise = still.element("lane").level - found.element("lane").level
    np.testing.assert_allclose(rise, (1.0 + numbers["lane.inlet.entrance_loss"]) * head, atol=2e-3)


def test_the_quick_march_is_the_whole_one() -> None:
    numbers, _ = drawn(3)
    site = Site((LOWER, culvert(), UPPER), FixedLevel())
    found = site.march(numbers, SITES)
    quick = site.levels(numbers, SITES, ("lane", "upper"))
    np.testing.assert_array_equal(quick, [found.element("lane").level, found.element("upper").level])
