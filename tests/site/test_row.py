"""The march: each structure gets the water that the one below hands on. The site is invented."""

from __future__ import annotations

import numpy as np
import pytest
from test_structures import BARREL, EDGE, REACH, ROAD, SCREEN

from overbank.errors import DomainError
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.numbers import Water
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel, NormalDepth

NUMBERS = {
    **BARREL,
    **SCREEN,
    **ROAD,
    **REACH,
    "lower.section.bed_width_m": 2.0,
    "lower.section.side_slope": 1.0,
    "lower.length_m": 60.0,
    "lower.bed_level_m": 29.8,
    "lower.bed_slope": 0.002,
    "lower.manning_n": 0.04,
    "tailwater.level_m": 31.0,
    "lane.bank_level_m": 32.1,
    "flow.design_m3_s": np.array([2.0, 8.0, 14.0, 25.0]),
}
PARTS = (Channel("lower", "trapezoid"), Culvert("lane", "box", EDGE, True, True), Channel("garden", "trapezoid"))
SITE = Site(PARTS, FixedLevel())


def test_water_is_handed_on_upstream() -> None:
    outcome = SITE.march(NUMBERS, 4)
    water = Water(np.full(4, 31.0), np.full(4, 31.0))
    np.testing.assert_array_equal(outcome.tailwater, water.level)
    for part, element in zip(PARTS, outcome.elements, strict=True):
        water = part.headwater(outcome.flow, water, NUMBERS)
        assert (element.id, element.kind) == (part.id, part.kind)
        np.testing.assert_array_equal(element.level, water.level)


def test_levels_are_those_of_the_march() -> None:
    outcome = SITE.march(NUMBERS, 4)
    for part in PARTS:
        np.testing.assert_array_equal(SITE.levels(NUMBERS, 4, (part.id,))[0], outcome.element(part.id).level)


def test_an_unknown_place_is_named() -> None:
    with pytest.raises(DomainError, match=r"no element 'gardn'.*lower, lane, garden"):
        SITE.levels(NUMBERS, 4, ("gardn",))


def test_banks() -> None:
    outcome = SITE.march(NUMBERS, 4)
    assert outcome.element("garden").bank_level is None
    np.testing.assert_array_equal(outcome.element("lane").bank_level, [32.1] * 4)


def test_one_number_for_all_is_the_number_for_each() -> None:
    """Certain numbers as floats, and the same numbers as columns, give the same bits."""
    columns = {key: np.full(4, value) if np.ndim(value) == 0 else value for key, value in NUMBERS.items()}
    for a, b in zip(SITE.march(NUMBERS, 4).elements, SITE.march(columns, 4).elements, strict=True):
        np.testing.assert_array_equal(a.level, b.level)


def test_water_without_end_goes_on_upstream() -> None:
    """A shut screen with no way over and no road: the pool and the reach above have no level, and none is made up."""
    shut = {**NUMBERS, "lane.screen.blockage": 1.0, "lane.screen.overflow_coefficient": 0.0}
    site = Site((Culvert("lane", "box", EDGE, True, False), *PARTS[2:]), FixedLevel())
    outcome = site.march(shut, 4)
    assert np.all(np.isposinf(outcome.element("lane").level))
    assert np.all(np.isposinf(outcome.element("garden").level))
    assert not any(np.isnan(values).any() for e in outcome.elements for values in e.results.values())


def test_no_flow_is_a_level_pool() -> None:
    outcome = SITE.march({**NUMBERS, "flow.design_m3_s": 0.0, "lane.screen.blockage": 0.0}, 1)
    assert [element.level[0] for element in outcome.elements] == pytest.approx([31.0] * 3)
    assert not any(np.isnan(values).any() for e in outcome.elements for values in e.results.values())


def test_a_steep_tailwater_does_not_lift_the_reach_above() -> None:
    """Above a break to a steep slope a reach starts at critical depth; roughness below never lowers it."""
    path = "tailwater.normal_depth"
    numbers = {
        **NUMBERS,
        f"{path}.bed_level_m": 29.8,
        f"{path}.slope": 0.08,
        f"{path}.manning_n": np.array([0.02, 0.025, 0.03, 0.04]),
        f"{path}.section.bed_width_m": 2.0,
        f"{path}.section.side_slope": 1.0,
        "flow.design_m3_s": 6.0,
    }
    results = Site(PARTS[:1], NormalDepth("trapezoid")).march(numbers, 4).element("lower").results
    assert results["depth_below"] == pytest.approx(results["depth_below"][0])  # critical depth in all four
    assert np.all(np.diff(results["level"]) >= 0)
