"""Pipe-arch, egg and horseshoe: against polygons of their outlines, and areas computed or tabulated elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import sections as sec

SHAPES = {
    "pipe-arch": sec.pipe_arch(1.8, 1.2, 0.30, 0.45, 0.024),
    "flat pipe-arch": sec.pipe_arch(3.2, 1.7, 0.45, 0.6, 0.03),
    "egg": sec.egg(0.6, 0.9, 0.014),
    "low egg": sec.egg(1.0, 1.25, 0.014),
    "horseshoe": sec.horseshoe(1.5, 0.015),
}


def arc(centre: tuple[float, float], radius: float, start: float, end: float) -> np.ndarray:
    angle = np.linspace(start, end, 20_001)
    return np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])


def towards(centre: tuple[float, float], other: tuple[float, float]) -> float:
    return float(np.arctan2(other[1] - centre[1], other[0] - centre[0]))


def outline(s: sec.Section) -> np.ndarray:
    """The right half from invert to crown, from the definition of the shape: arcs touch where centres line up."""
    b, h = s.width / 2, s.rise
    if s.shape == sec.HORSESHOE:
        corner = towards((0.0, h), (0.41144 * h, 0.08856 * h))
        side_from = np.arcsin((0.08856 - 0.5) * h / h)
        return np.vstack(
            [arc((0, h), h, -np.pi / 2, corner), arc((-b, b), h, side_from, 0), arc((0, b), b, 0, np.pi / 2)]
        )
    if s.shape == sec.EGG:
        invert, crown = (0.0, b / 2), (0.0, h - b)
        # the side circle passes through (b, h - b) with its centre at that height, and touches the invert circle inside
        side = brentq(lambda r: np.hypot(r - b, crown[1] - invert[1]) - (r - b / 2), b, 1e4 * b, xtol=1e-12)
        centre = (b - side, crown[1])
        touch = towards(centre, invert)
        return np.vstack(
            [
                arc(invert, b / 2, -np.pi / 2, touch),
                arc(centre, side, touch, 0.0),
                arc(crown, b, 0.0, np.pi / 2),
            ]
        )
    radius, corner = s.wall_height, (b - s.wall_height, s.side_slope)
    found = []
    for end, sign in ((0.0, 1.0), (h, -1.0)):  # invert and crown: the circle through (0, end) that touches the corner
        gap = lambda r, at=end, way=sign: np.hypot(corner[0], corner[1] - (at + way * r)) + radius - r  # noqa: E731
        r = brentq(gap, radius, 1e4, xtol=1e-12)
        found.append(((0.0, end + sign * r), r))
    (low_at, low_r), (top_at, top_r) = found
    first, last = towards(low_at, corner), towards(top_at, corner)
    return np.vstack(
        [arc(low_at, low_r, -np.pi / 2, first), arc(corner, radius, first, last), arc(top_at, top_r, last, np.pi / 2)]
    )


@pytest.mark.parametrize("name", SHAPES)
def test_against_a_polygon_of_the_outline(name: str) -> None:
    s = SHAPES[name]
    points = outline(s)
    x, z = points[:, 0], points[:, 1]
    assert z[-1] == pytest.approx(s.rise, abs=1e-9)
    strips = np.concatenate([[0.0], np.cumsum((x[1:] + x[:-1]) * np.diff(z))])
    lengths = np.concatenate([[0.0], np.cumsum(2 * np.hypot(np.diff(x), np.diff(z)))])
    for share in (0.02, 0.1, 0.3, 0.5, 0.75, 0.97, 1.0):
        y = share * s.rise
        k = int(np.searchsorted(z, y)) if share < 1.0 else len(z) - 1
        assert sec.area(s, float(z[k])) == pytest.approx(strips[k], rel=2e-5), share
        assert sec.wetted_perimeter(s, float(z[k])) == pytest.approx(lengths[k], rel=2e-5), share
        if share < 1.0:
            assert sec.top_width(s, float(z[k])) == pytest.approx(2 * x[k], rel=2e-5), share


def test_areas_computed_or_tabulated_elsewhere() -> None:
    """Of radii and heights of 1: egg and pipe-arch computed apart; horseshoe as tabulated (from memory, unverified)."""
    egg, shoe = sec.egg(2.0, 3.0, 0.013), sec.horseshoe(1.0, 0.013)
    assert sec.area(egg, 3.0) == pytest.approx(4.59413, abs=1e-5)
    assert sec.wetted_perimeter(egg, 3.0) == pytest.approx(7.92989, abs=1e-5)
    for depth, part in ((0.5, 0.4138), (1.0, 1.1364), (1.5, 2.0373), (2.0, 3.0233), (2.5, 3.9799)):
        assert sec.area(egg, depth) == pytest.approx(part, abs=5e-5)
    assert sec.area(sec.egg(0.6, 0.9, 0.013), 0.9) == pytest.approx(0.41347, abs=1e-5)
    assert sec.area(shoe, 1.0) == pytest.approx(0.8293, abs=5e-5)
    assert sec.wetted_perimeter(shoe, 1.0) == pytest.approx(3.267, abs=5e-4)
    arch = SHAPES["pipe-arch"]
    assert sec.area(arch, 1.2) == pytest.approx(1.65941, abs=1e-5)
    assert sec.wetted_perimeter(arch, 1.2) == pytest.approx(4.74310, abs=1e-5)


def test_a_pipe_arch_with_one_radius_is_a_circle_and_silt_shares_hold() -> None:
    round_one = sec.pipe_arch(2.0, 1.999998, 0.9999985, 0.999999, 0.013)
    circle = sec.pipe(2.0, 0.013)
    for depth in (0.2, 0.9, 1.6):
        assert sec.area(round_one, depth) == pytest.approx(sec.area(circle, depth), rel=1e-4)
    for s in SHAPES.values():
        height = sec.silt_height(s, 0.3)
        assert sec.area(s, height) == pytest.approx(0.3 * sec.area(s, s.rise), rel=1e-9)
        raised = sec.with_silt(s, height)
        assert sec.area(raised, s.rise - height) == pytest.approx(0.7 * sec.area(s, s.rise), rel=1e-9)
        assert sec.bed_width(raised) == pytest.approx(sec.top_width(s, height))


@pytest.mark.parametrize("name", SHAPES)
def test_a_trickle_over_the_invert(name: str) -> None:
    """A segment of height z of a circle of radius r: (4/3) sqrt(2 r) z^1.5 (1 - 3z/20r - ...), by its own series."""
    s = SHAPES[name]
    r = sec._arcs(s).invert
    for z in (1e-12, 1e-9, 1e-7, 1e-5):
        exact = 4 / 3 * np.sqrt(2 * r) * z**1.5 * (1 - 3 * z / (20 * r))
        assert sec.area(s, z) == pytest.approx(exact, rel=1e-9)
