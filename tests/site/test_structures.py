"""Structures of a site: their columns are the numbers of the study, in the order of the formulas."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest

from overbank.hydraulics import crossing, profile, screens, sections
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.culverts import STILL, InletRow
from overbank.hydraulics.tables import inlets
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.numbers import Water

EDGE = inlets()[("box", "wingwalls 30 to 75 deg")]
ROW = InletRow(1.0, 0.026, 1.0, 0.0347, 0.81, -0.5)
BARREL = {
    "lane.barrel.count": 2.0,
    "lane.barrel.span_m": 2.4,
    "lane.barrel.rise_m": 1.5,
    "lane.barrel.length_m": 22.0,
    "lane.barrel.upstream_invert_m": 30.1,
    "lane.barrel.downstream_invert_m": 30.0,
    "lane.barrel.manning_n": 0.014,
    "lane.barrel.bed_manning_n": 0.03,
    "lane.inlet.head_factor": 1.02,
    "lane.inlet.entrance_loss": 0.4,
    "lane.inlet.exit_loss": 0.9,
}
SCREEN = {
    "lane.screen.width_m": 5.0,
    "lane.screen.height_m": 2.0,
    "lane.screen.bar_m": 0.020,
    "lane.screen.gap_m": 0.125,
    "lane.screen.inclination_deg": 60.0,
    "lane.screen.shape_factor": 2.42,
    "lane.screen.blockage": 0.6,
    "lane.screen.pattern": 1.0,
    "lane.screen.sill_level_m": 30.05,
    "lane.screen.overflow_coefficient": 1.7,
}
ROAD = {"lane.road.level_m": 32.6, "lane.road.length_m": 14.0, "lane.road.coefficient": 1.55}
REACH = {
    "garden.section.bed_width_m": 2.5,
    "garden.section.side_slope": 1.5,
    "garden.length_m": 80.0,
    "garden.bed_level_m": 30.1,
    "garden.bed_slope": 0.003,
    "garden.manning_n": 0.05,
}
FLOW, BELOW = np.array([3.0, 15.0, 30.0]), Water(np.full(3, 31.2), np.full(3, 31.3))


def barrels(**changes: float) -> crossing.Barrels:
    section = sections.box(2.4, 1.5, 0.014)._replace(bed_manning_n=0.03)
    ends = STILL._replace(head_below=BELOW.energy[0] - BELOW.level[0])
    plain = crossing.Barrels(section, ROW, 2.0, 22.0, 30.1, 30.0, 1.02, 0.4, 0.9, 0.0, 0.0, ends=ends)
    return plain._replace(**changes)


@pytest.mark.parametrize("has_screen", [False, True])
@pytest.mark.parametrize("has_road", [False, True])
def test_a_culvert_is_its_crossing(has_screen: bool, has_road: bool) -> None:
    culvert = Culvert("lane", "box", EDGE, has_screen, has_road)
    numbers = {**BARREL, **(SCREEN if has_screen else {}), **(ROAD if has_road else {})}
    clear, loss = screens.clear_ratio(0.020, 0.125), kirschmer(2.42, 0.020, 0.125, 60.0)
    bars = crossing.Screen(5.0, 2.0, 30.05, clear, loss, 0.6, 1.0, 1.7, float(np.sin(np.radians(60.0))))
    screen = bars if has_screen else crossing.Screen(*[0.0] * 8)
    road = crossing.Road(32.6, 14.0, 1.55) if has_road else crossing.Road(0.0, 0.0, 0.0)
    details = culvert.solve(FLOW, BELOW, numbers)
    water = culvert.headwater(FLOW, BELOW, numbers)
    for i, flow in enumerate(FLOW):
        expected = crossing.crossed(barrels(), screen, road, flow, 31.2)
        assert [details[name][i] for name in crossing.Crossed._fields] == list(expected)
        assert water.level[i] == water.energy[i] == expected.level


@pytest.mark.parametrize("shape", ["pipe", "arch", "ellipse"])
def test_barrels_of_other_shapes(shape: str) -> None:
    edge = next(entry for (kind, _), entry in inlets().items() if kind == shape)
    row = InletRow(float(edge.form), edge.K, edge.M, edge.c, edge.Y, edge.slope_factor)
    numbers = {**BARREL, "lane.barrel.diameter_m": 1.8, "lane.barrel.wall_height_m": 0.6}
    section = {
        "pipe": sections.pipe(1.8, 0.014),
        "arch": sections.arch(2.4, 1.5, 0.6, 0.014),
        "ellipse": sections.ellipse(2.4, 1.5, 0.014),
    }[shape]._replace(bed_manning_n=0.03)
    water = Culvert("lane", shape, edge, has_screen=False, has_road=False).headwater(FLOW, BELOW, numbers)
    no_screen, no_road = crossing.Screen(*[0.0] * 8), crossing.Road(0.0, 0.0, 0.0)
    for i, flow in enumerate(FLOW):
        b = barrels()._replace(section=section, row=row)
        assert water.level[i] == crossing.pool_level(b, no_screen, no_road, flow, 31.2)


def test_debris_in_a_culvert_without_a_screen() -> None:
    numbers = {**BARREL, "lane.blockage": np.array([0.0, 0.4, 1.0]), "lane.pattern": np.array([0.0, 1.0, 2.0])}
    level = Culvert("lane", "box", EDGE, has_screen=False, has_road=False).headwater(FLOW, BELOW, numbers).level
    no_screen, no_road = crossing.Screen(*[0.0] * 8), crossing.Road(0.0, 0.0, 0.0)
    expected = crossing.pool_level(barrels(blockage=0.4, pattern=1.0), no_screen, no_road, 15.0, 31.2)
    assert level[1] == expected
    assert level[2] == inf


def test_a_channel_is_its_profile() -> None:
    results = Channel("garden", "trapezoid").solve(FLOW, BELOW, REACH)
    s = sections.trapezoid(2.5, 1.5, 0.05)
    for i, flow in enumerate(FLOW):
        assert results["depth"][i] == profile.depth_upstream(s, flow, 0.003, 80.0, results["depth_below"][i])
        assert results["level"][i] == pytest.approx(30.1 + 0.24 + results["depth"][i], rel=1e-14)
    water = Channel("garden", "trapezoid").headwater(FLOW, BELOW, REACH)
    np.testing.assert_array_equal(water.level, results["level"])
    np.testing.assert_array_equal(water.energy, results["energy"])
    np.testing.assert_array_equal(results["regime"], results["steep"])


def test_a_rectangular_channel_has_a_width_and_no_slope_of_its_sides() -> None:
    numbers = {"garden.section.width_m": 3.0, **{k: v for k, v in REACH.items() if ".section" not in k}}
    wide = {**REACH, "garden.section.bed_width_m": 3.0, "garden.section.side_slope": 0.0}
    level = Channel("garden", "rectangle").headwater(FLOW, BELOW, numbers).level
    np.testing.assert_allclose(level, Channel("garden", "trapezoid").headwater(FLOW, BELOW, wide).level, atol=1e-6)


def test_a_missing_number_stays_missing() -> None:
    numbers = {**BARREL, "lane.barrel.manning_n": np.array([0.014, nan, 0.014])}
    level = Culvert("lane", "box", EDGE, has_screen=False, has_road=False).headwater(FLOW, BELOW, numbers).level
    assert np.isnan(level).tolist() == [False, True, False]
