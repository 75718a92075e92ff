"""A culvert with a tapered entrance in the row: the columns of its face, what governs, and the range of the tests."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from overbank.hydraulics import crossing, rows, sections, tapered
from overbank.hydraulics.columns import size
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.outlet_control import Lay
from overbank.hydraulics.tables import InletEntry, inlets
from overbank.site.culvert import CONTROLS, Culvert
from overbank.site.numbers import Numbers, Water
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel
from overbank.site.validity import remarks

THROAT = inlets()["box", "tapered throat"]
SIDE = inlets()["box", "side-tapered face, less favourable edges"]
FLOW, BELOW = np.array([3.0, 9.0, 22.0, 45.0]), Water(np.full(4, 10.4), np.full(4, 10.4))
NUMBERS: Numbers = {
    "lane.barrel.span_m": 2.0,
    "lane.barrel.rise_m": 1.5,
    "lane.barrel.count": 2.0,
    "lane.barrel.length_m": 30.0,
    "lane.barrel.upstream_invert_m": 10.3,
    "lane.barrel.downstream_invert_m": 10.0,
    "lane.barrel.manning_n": 0.013,
    "lane.barrel.bed_manning_n": 0.013,
    "lane.inlet.head_factor": 1.05,
    "lane.inlet.entrance_loss": 0.2,
    "lane.inlet.exit_loss": 1.0,
    "lane.inlet.face.width_m": 3.0,
    "lane.inlet.face.height_m": 1.6,
    "lane.inlet.face.invert_level_m": 10.5,
    "lane.blockage": np.array([0.0, 0.2, 0.4, 0.0]),
    "lane.pattern": 1.0,
    "lane.road.level_m": 13.4,
    "lane.road.length_m": 20.0,
    "lane.road.coefficient": 1.55,
}
CULVERT = Culvert("lane", "box", THROAT, has_screen=False, has_road=True, face=SIDE)
NO_SCREEN = crossing.Screen(*[0.0] * 8)


def row_of(entry: InletEntry) -> InletRow:
    return InletRow(float(entry.form), entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)


def barrels(blockage: float) -> crossing.Barrels:
    lay = (2.0, 30.0, 10.3, 10.0, 1.05, 0.2, 1.0, blockage, 1.0)
    face = tapered.Face(row_of(SIDE), 3.0, 1.6, 10.5)
    return crossing.Barrels(sections.box(2.0, 1.5, 0.013), row_of(THROAT), *lay, face)


def test_a_tapered_culvert_is_its_crossing() -> None:
    assert len(CULVERT._columns(FLOW, BELOW, NUMBERS)) == size(rows.CrossingRow)
    found = CULVERT.solve(FLOW, BELOW, NUMBERS)
    water = CULVERT.headwater(FLOW, BELOW, NUMBERS)
    road = crossing.Road(13.4, 20.0, 1.55)
    for i, flow in enumerate(FLOW):
        expected = crossing.crossed(barrels(NUMBERS["lane.blockage"][i]), NO_SCREEN, road, flow, 10.4)
        assert [found[name][i] for name in crossing.Crossed._fields] == list(expected)
        assert water.level[i] == expected.level


def test_the_higher_of_face_and_throat_is_the_inlet_level() -> None:
    for flow, blockage in ((3.0, 0.0), (12.0, 0.0), (12.0, 0.5)):
        b = barrels(blockage)
        face, throat, outlet = tapered.tapered_levels(
            b.face, b.section, flow / 2, Lay(0.01, 30.0, 0.4, 0.2, 1.0), 10.3, b.row, 1.05, blockage, 1.0
        )
        assert crossing.barrel_levels(b, flow, 10.4) == (max(face, throat), outlet)


@pytest.mark.parametrize(
    ("flow", "face_invert", "blockage", "tailwater", "words"),
    [
        (3.0, 11.2, 0.0, 10.4, "face control, face not drowned"),
        (35.0, 11.2, 0.0, 10.4, "face control, face drowned"),
        (20.0, 10.3, 0.7, 10.4, "face control, face drowned"),
        (30.0, 10.3, 0.0, 10.4, "inlet control, inlet drowned"),
        (30.0, 10.3, 0.0, 13.5, "outlet control, barrel full"),
        (30.0, 10.3, 1.0, 10.4, "no way through"),
    ],
)
def test_what_governs(flow: float, face_invert: float, blockage: float, tailwater: float, words: str) -> None:
    """Steep enough that outlet control never governs with a free outfall."""
    b = barrels(blockage)._replace(downstream_invert=8.0, entrance_loss=0.0)
    b = b._replace(face=b.face._replace(invert=face_invert))
    state = crossing.crossed(b, NO_SCREEN, crossing.Road(0.0, 0.0, 0.0), flow, tailwater)
    assert CONTROLS[int(state.regime)] == words


def test_shut_without_a_road() -> None:
    assert crossing.pool_level(barrels(1.0), NO_SCREEN, crossing.Road(0.0, 0.0, 0.0), 5.0, 10.4) == inf


def test_debris_and_flow_never_lower_the_pool() -> None:
    shares = np.linspace(0.0, 1.0, 101)
    numbers = {**NUMBERS, "lane.blockage": shares}
    pool = CULVERT.headwater(np.full(101, 18.0), Water(np.full(101, 10.4), np.full(101, 10.4)), numbers).level
    assert np.all(np.diff(pool) >= -1e-9)
    flows = np.linspace(0.1, 60.0, 300)
    below = Water(np.full(300, 10.4), np.full(300, 10.4))
    pool = CULVERT.headwater(flows, below, {**NUMBERS, "lane.blockage": 0.3}).level
    assert np.all(np.diff(pool) >= -1e-7)


def said(**changes: float) -> list[str]:
    given = {f"lane.{name.replace('__', '.')}": value for name, value in changes.items()}
    numbers = {**NUMBERS, "lane.blockage": 0.0, **given, "flow.design_m3_s": 12.0, "tailwater.level_m": 10.4}
    site = Site((CULVERT,), FixedLevel())
    return [remark.words for remark in remarks(site, site.march(numbers), numbers)]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"inlet__face__height_m": 1.4}, "height of the face over the barrel's outside 1 to 1.1"),
        ({"inlet__face__height_m": 1.7}, "height of the face over the barrel's outside 1 to 1.1"),
        ({"inlet__face__taper_length_m": 1.9}, "length of the taper over its widening on one side below 4"),
        (
            {"inlet__face__invert_level_m": 10.7},
            "fall from the face of a side taper to the throat [m] outside 0 to 0.3",
        ),
        ({"barrel__count": 3.0}, "number of barrels outside 1 to 2"),
        ({"barrel__span_m": 4.6, "inlet__face__width_m": 5.0}, "span of the barrel over its rise outside 0 to 3"),
    ],
)
def test_range_of_the_tests(change: dict[str, float], words: str) -> None:
    """HDS-5, 2nd edition (2001), p. 91-94: faces 1 to 1.1 times as high as the barrel, tapers from 4 to 1 ..."""
    assert said(inlet__face__taper_length_m=2.1) == []
    assert said(**{"inlet__face__taper_length_m": 2.1, **change}) == [f"{words}, the range of the tests of HDS-5"]
