"""People at a culvert: figures by hand from chosen results, and on whole marches against the site's own results."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan, sqrt

import numpy as np
import pytest

from overbank.hydraulics.tables import inlets
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.numbers import Column
from overbank.site.people import BARREL, SCREEN, AtStructure, Bodies, Wading, hazard_of, people_at
from overbank.site.row import ElementOutcome, Site, SiteOutcome
from overbank.site.tailwater import FixedLevel

EDGE = inlets()["box", "wingwalls 30 to 75 deg"]
BODIES = Bodies(drag_coefficient=1.2, adult_area=0.6, child_area=0.3)
GRAVITY = 9.81

NUMBERS: dict[str, Column] = {
    "flow.design_m3_s": 6.0,
    "tailwater.level_m": 30.9,
    "lane.barrel.count": 1.0,
    "lane.barrel.span_m": 2.4,
    "lane.barrel.rise_m": 1.5,
    "lane.barrel.length_m": 22.0,
    "lane.barrel.upstream_invert_m": 30.1,
    "lane.barrel.downstream_invert_m": 30.0,
    "lane.barrel.manning_n": 0.014,
    "lane.barrel.bed_manning_n": 0.014,
    "lane.inlet.head_factor": 1.0,
    "lane.inlet.entrance_loss": 0.4,
    "lane.inlet.exit_loss": 1.0,
    "lane.screen.width_m": 3.6,
    "lane.screen.height_m": 1.9,
    "lane.screen.bar_m": 0.020,
    "lane.screen.gap_m": 0.125,
    "lane.screen.inclination_deg": 60.0,
    "lane.screen.shape_factor": 2.42,
    "lane.screen.blockage": 0.0,
    "lane.screen.pattern": 0.0,
    "lane.screen.sill_level_m": 30.2,
    "lane.screen.overflow_coefficient": 0.0,
    "lane.road.level_m": 32.6,
    "lane.road.length_m": 14.0,
    "lane.road.coefficient": 1.6,
    "lane.bank_level_m": 32.2,
}
CLEAN = {"lane.blockage": 0.0, "lane.pattern": 0.0}


def culvert(*, screen: bool = True, road: bool = True) -> Culvert:
    return Culvert("lane", "box", EDGE, has_screen=screen, has_road=road)


INSIDE = ("velocity_in", "velocity_out", "velocity_most", "transit_time")


def given(level: list[float], bank: float | None = 32.2, **results: list[float]) -> SiteOutcome:
    """What a march would hand over, with the results that a hand chose, above water at 30.9 m."""
    names = ("barrel_flow", "road_flow", "screen_drop", "screen_velocity", "depth_in", "depth_out")
    noughts = {name: [0.0] * len(level) for name in (*names, *INSIDE)}
    found = {name: np.array(values) for name, values in {**noughts, **results}.items()}
    found["free_height"] = 1.5 - np.maximum(found["depth_in"], found["depth_out"])
    levels = np.array(level)
    banks = None if bank is None else np.full(levels.size, bank)
    element = ElementOutcome(culvert(), levels, banks, {"level": levels, **found})
    flow = np.full(levels.size, 6.0)
    return SiteOutcome(flow, np.full(levels.size, 30.9), (element,), (flow,))


def felt(found: AtStructure) -> dict[str, np.ndarray]:
    return {each.name: each.values for each in found.figures}


def at(outcome: SiteOutcome, structure: Culvert | None = None) -> AtStructure:
    (element,) = outcome.elements
    known = {name: value for name, value in NUMBERS.items() if element.bank_level is not None or "bank" not in name}
    chosen = replace(outcome, elements=(replace(element, structure=structure or culvert()),))
    return people_at(chosen, known, "lane", BODIES)


def test_forces_on_the_bars_by_hand() -> None:
    """0.5 * 1000 * 1.2 * A V^2 and 1000 * 9.81 * dh * A; areas 0.6 and 0.3 m2."""
    outcome = given([31.6, 32.1], barrel_flow=[6.0, 6.0], screen_drop=[0.1, 0.5], screen_velocity=[1.0, 0.5])
    found = felt(at(outcome))
    np.testing.assert_allclose(found["head_difference_m"], [0.1, 0.5])
    np.testing.assert_allclose(found["adult_drag_n"], [360.0, 90.0])
    np.testing.assert_allclose(found["adult_pressure_n"], [588.6, 2943.0])
    np.testing.assert_allclose(found["adult_most_n"], [948.6, 3033.0])
    np.testing.assert_allclose(found["child_drag_n"], [180.0, 45.0])
    np.testing.assert_allclose(found["child_pressure_n"], [294.3, 1471.5])
    np.testing.assert_allclose(found["child_most_n"], [474.3, 1516.5])


def test_a_shut_screen_bears_the_whole_head() -> None:
    """Nothing passes: behind the bars stands the water below, 30.9 m. Without any way through the head is endless."""
    outcome = given(
        [32.8, inf, nan], barrel_flow=[0.0, 0.0, nan], road_flow=[6.0, 0.0, nan], screen_drop=[0.0, 0.0, nan]
    )
    drop = felt(at(outcome))["head_difference_m"]
    np.testing.assert_allclose(drop, [1.9, inf, nan])
    outcome = replace(outcome, tailwater=np.full(3, 29.0))  # the foot of the bars, 30.2 m, lies higher
    np.testing.assert_allclose(felt(at(outcome))["head_difference_m"], [2.6, inf, nan])


def test_passage_by_hand() -> None:
    """22 m between 1 and 2 m/s: 16.5 s. Soffits 1.5 m above the bed; still water stands 0.9 m deep in the outlet."""
    outcome = given(
        [31.6, 31.9, 32.8],
        barrel_flow=[6.0, 6.0, 0.0],
        velocity_in=[1.0, 1.7, 0.0],
        velocity_out=[2.0, 1.7, 0.0],
        velocity_most=[2.0, 1.7, 0.0],
        transit_time=[16.5, 22.0 / 1.7, inf],
        depth_in=[1.2, 1.7, 0.0],
        depth_out=[0.9, 1.6, 0.0],
    )
    found = felt(at(outcome))
    np.testing.assert_allclose(found["transit_time_s"], [16.5, 22.0 / 1.7, inf])
    np.testing.assert_allclose(found["free_air_m"], [0.3, 0.0, 0.6], atol=1e-12)
    np.testing.assert_allclose(found["velocity_m_s"], [2.0, 1.7, 0.0])
    np.testing.assert_allclose(found["length_m"], [22.0] * 3)


def test_waters_by_hand() -> None:
    outcome = given(
        [31.6, 32.9, 32.9],
        barrel_flow=[6.0, 2.0, 2.0],
        road_flow=[0.0, 2.8, 2.8],
        screen_velocity=[1.0, 0.3, 0.3],
    )
    high = replace(outcome, tailwater=np.array([30.9, 30.9, 32.85]))
    before, road, bank = at(high).waters
    np.testing.assert_allclose(before.depth, [1.4, 2.7, 2.7])
    np.testing.assert_allclose(before.velocity, [1.0, 0.3, 0.3])
    # 0.2 m2/s: critical depth (0.04 / 9.81)^(1/3) = 0.159758 m; drowned by water 0.25 m above the road
    np.testing.assert_allclose(road.depth, [0.0, 0.159758, 0.25], atol=1e-6)
    np.testing.assert_allclose(road.velocity, [0.0, 0.2 / 0.159758, 0.8], rtol=1e-5)
    np.testing.assert_allclose(bank.depth, [0.0, 2 / 3 * 0.7, 2 / 3 * 0.7])
    np.testing.assert_allclose(bank.velocity, [0.0, *[sqrt(GRAVITY * 2 / 3 * 0.7)] * 2])


def test_without_screen_road_or_bank() -> None:
    outcome = given([31.6], bank=None, barrel_flow=[6.0], velocity_in=[2.0], velocity_out=[2.0])
    found = at(outcome, culvert(screen=False, road=False))
    assert {each.side for each in found.figures} == {BARREL}
    (water,) = found.waters
    assert water.place == "before the inlet"
    assert (water.depth[0], water.velocity[0]) == (pytest.approx(1.5), 2.0)


def test_hazard_of_a_water() -> None:
    """Dry; 0.5 m at 1 m/s in a town, 0.5 * 1.5 + 1 = 1.75; 1.2 m at 1.5 m/s, 2.4 + 1 = 3.4; unknown."""
    water = Wading("here", np.array([0.0, 0.5, 1.2, nan]), np.array([0.0, 1.0, 1.5, nan]))
    ratings, classes, general = hazard_of(water, "urban", "note of 2008")
    np.testing.assert_allclose(ratings, [0.0, 1.75, 3.4, nan])
    np.testing.assert_allclose(classes, [nan, 2.0, 3.0, nan])
    np.testing.assert_allclose(general, [nan, 1.0, 4.0, nan])  # 0.5 m2/s: H2; 1.8 m2/s: H5


def test_figures_of_a_march_are_those_of_its_results() -> None:
    shut = np.array([0.0, 0.5, 0.9, 1.0])
    site = Site((culvert(),), FixedLevel())
    known = {**NUMBERS, "lane.screen.blockage": shut}
    outcome = site.march(known, 4)
    results = outcome.elements[0].results
    found = people_at(outcome, known, "lane", BODIES)
    figures = felt(found)
    assert np.all(np.diff(figures["head_difference_m"]) > 0.0)  # a fuller screen bears more head
    assert np.all(np.diff(figures["adult_pressure_n"]) > 0.0)
    through = results["barrel_flow"] - results["over_screen_flow"]
    wetted = 3.6 * np.minimum(results["level"] - 30.2, 1.9)
    np.testing.assert_allclose(figures["approach_velocity_m_s"], through / wetted, rtol=1e-9)
    np.testing.assert_allclose(figures["head_difference_m"][3], results["level"][3] - 30.9)
    # the water in a box passes no faster than its greatest velocity, no slower than the mean of what both ends hold;
    # the third sample is mild and takes that mean, the others are steep and swift before a jump
    ends = 2.4 * 22.0 * np.minimum([results["depth_in"], results["depth_out"]], 1.5)[:, :3] / results["barrel_flow"][:3]
    assert np.all(figures["transit_time_s"][:3] >= 22.0 / figures["velocity_m_s"][:3] - 1e-9)
    assert np.all(figures["transit_time_s"][:3] <= ends.mean(axis=0) * (1 + 1e-9))
    np.testing.assert_allclose(figures["transit_time_s"][2], ends.mean(axis=0)[2], rtol=1e-3)
    assert figures["transit_time_s"][3] == inf
    assert {each.side for each in found.figures} == {SCREEN, BARREL}


def test_the_level_below_is_that_of_the_element_below() -> None:
    reach = {"below.length_m": 50.0, "below.bed_level_m": 29.9, "below.bed_slope": 0.002, "below.manning_n": 0.05}
    section = {"below.section.width_m": 3.0}
    site = Site((Channel("below", "rectangle"), culvert()), FixedLevel())
    known = {**NUMBERS, **reach, **section, "lane.screen.blockage": 1.0}
    outcome = site.march(known)
    found = felt(people_at(outcome, known, "lane", BODIES))
    lane, below = outcome.element("lane"), outcome.element("below")
    assert below.level[0] > 30.9
    np.testing.assert_allclose(found["head_difference_m"], lane.level - below.level)
    with pytest.raises(ValueError, match="at which people are looked at"):
        people_at(outcome, known, "below", BODIES)
