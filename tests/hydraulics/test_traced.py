"""Sections traced by points: against polygons cut apart, and against the box that they may be."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from overbank.hydraulics import sections as sec
from overbank.hydraulics.traced import ROOF_SHARE, Point, traced_table, widens_suddenly

TRACED: dict[str, list[Point]] = {
    "vault on a dished floor": [(0, 0.4, 1.1), (0.5, 0.1, 1.7), (1.2, 0.0, 1.9), (1.9, 0.15, 1.6), (2.4, 0.5, 1.0)],
    "diamond": [(0, 0.5, 0.5), (0.5, 0.0, 1.0), (1.0, 0.5, 0.5)],
    "steps in floor and roof": [(0, 0.0, 1.5), (1, 0.0, 1.5), (1, 0.2, 1.2), (1.8, 0.3, 1.2), (1.8, 0.1, 1.4), (3, 0.6, 1.4)],  # noqa: E501
    "two channels": [(0, 0.6, 2.0), (0.6, 0.0, 2.2), (1.2, 0.7, 2.4), (1.8, 0.2, 2.1), (2.4, 0.8, 1.8)],
}  # fmt: skip


def cut(points: list[Point], level: float) -> tuple[float, float, float]:
    """Area, width and wetted perimeter below a level: the outline as a polygon, cut edge by edge, summed by corners."""
    outline = [(x, floor) for x, floor, _ in points] + [(x, roof) for x, _, roof in reversed(points)]
    kept: list[tuple[float, float]] = []
    for (x, z), (x_next, z_next) in zip(outline, outline[1:] + outline[:1], strict=True):
        if z <= level:
            kept.append((x, z))
        if (z <= level) != (z_next <= level):
            kept.append((x + (x_next - x) * (level - z) / (z_next - z), level))
    x, z = np.array(kept).T
    x_next, z_next = np.roll(x, -1), np.roll(z, -1)
    surface = (z == level) & (z_next == level)
    area = float(np.sum(x * z_next - x_next * z)) / 2
    return area, float(np.sum((x - x_next)[surface])), float(np.sum(np.hypot(x_next - x, z_next - z)[~surface]))


@pytest.mark.parametrize("name", TRACED)
def test_against_a_polygon_cut_apart(name: str) -> None:
    points = TRACED[name]
    table = traced_table(points)
    s = sec.traced(table, 0.013)
    lowest = min(floor for _, floor, _ in points)
    ceilings = [(roof, x_next - x) for (x, _, roof), (x_next, _, after) in pairwise(points) if roof == after]
    for y in np.linspace(0.003, 0.997, 61) * s.rise:
        area, width, perimeter = cut(points, lowest + y)
        for roof, wide in ceilings:  # wetted gradually below its height: 3 t^2 - 2 t^3, as the docs say of a box's roof
            t = float(np.clip(1 - (roof - lowest - y) / (ROOF_SHARE * s.rise), 0, 1)) if y < roof - lowest else 0.0
            perimeter += wide * (3 * t**2 - 2 * t**3)
        assert sec.area(s, y) == pytest.approx(area, rel=1e-11)
        assert sec.top_width(s, y) == pytest.approx(width, rel=1e-9)
        assert sec.wetted_perimeter(s, y) == pytest.approx(perimeter, rel=1e-11)
    assert sec.area(s, 2 * s.rise) == pytest.approx(cut(points, 1e3)[0], rel=1e-12)
    assert sec.wetted_perimeter(s, 2 * s.rise) == pytest.approx(cut(points, 1e3)[2], rel=1e-12)
    height = sec.silt_height(s, 0.3)
    assert sec.area(s, height) == pytest.approx(0.3 * sec.area(s, s.rise), rel=1e-9)
    raised = sec.with_silt(s, height)
    assert sec.area(raised, s.rise - height) == pytest.approx(0.7 * sec.area(s, s.rise), rel=1e-9)
    assert sec.bed_width(raised) == pytest.approx(cut(points, lowest + height)[1])


def test_a_box_by_points_is_the_box() -> None:
    """To round-off; its levels: `properties/test_traced_never_falls`."""
    box = sec.box(2.4, 1.5, 0.014)
    table = traced_table([(0.0, 3.0, 4.5), (1.0, 3.0, 4.5), (2.4, 3.0, 4.5)])
    s = sec.traced(table, 0.014)
    for y in np.linspace(0.0, 1.6, 200):
        assert sec.area(s, y) == pytest.approx(sec.area(box, y), abs=1e-14)
        assert sec.top_width(s, y) == pytest.approx(sec.top_width(box, y), abs=1e-14)
        assert sec.wetted_perimeter(s, y) == pytest.approx(sec.wetted_perimeter(box, y), abs=1e-14)


def test_what_widens_too_suddenly() -> None:
    """A ledge; a slope of A T' just over and just under 2 T^2, by hand: T 0.5, A 0.15, so T' 3.33."""
    channel = [(1.0, 0.0, 2.0), (1.5, 0.0, 2.0)]
    for rate, wrong in ((3.3, False), (3.4, True)):
        aside = rate * 0.4 / 2
        points = [(1.0 - aside, 0.7, 2.0), (1.0, 0.3, 2.0), *channel, (1.5, 0.3, 2.0), (1.5 + aside, 0.7, 2.0)]
        assert np.isnan(widens_suddenly(traced_table(points))) != wrong
    ledge = [(0.0, 0.3, 2.0), (1.0, 0.3, 2.0), *channel]
    assert widens_suddenly(traced_table(ledge)) == pytest.approx(0.3)
    for points in TRACED.values():
        if points is not TRACED["steps in floor and roof"] and points is not TRACED["two channels"]:
            assert np.isnan(widens_suddenly(traced_table(points)))
