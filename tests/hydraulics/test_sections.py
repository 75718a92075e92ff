"""Sections against quadrature of their own outline, and SciPy's elliptic integrals."""

from __future__ import annotations

from itertools import product
from math import acos, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc

from facts import each_holds
from overbank.hydraulics import sections as sec

BARRELS = {
    "box": sec.box(2.4, 1.5, 0.014),
    "pipe": sec.pipe(1.8, 0.024),
    "semicircular arch": sec.arch(3.0, 2.5, 1.0, 0.017),
    "low arch": sec.arch(4.0, 1.8, 0.8, 0.017),
    "arch without walls": sec.arch(3.0, 1.2, 0.0, 0.017),
    "wide ellipse": sec.ellipse(3.0, 1.2, 0.013),
    "tall ellipse": sec.ellipse(1.0, 2.7, 0.013),
}
CHANNELS = {"rectangle": sec.rectangle(3.0, 0.03), "trapezoid": sec.trapezoid(2.5, 1.5, 0.04)}
SILTS = (0.0, 0.1, 0.5, 0.9)


def outline(s: sec.Section, z: float) -> float:
    """Half width at height z, written from the outline and not from the area."""
    if s.shape == sec.ARCH:
        f = s.rise - s.wall_height
        radius = (s.width**2 / 4 + f**2) / (2 * f)
        return s.width / 2 if z <= s.wall_height else sqrt(max(radius**2 - (z - s.rise + radius) ** 2, 0.0))
    if s.shape in (sec.CIRCLE, sec.ELLIPSE):
        return s.width / s.rise * sqrt(max(z * (s.rise - z), 0.0))
    return s.width / 2 + s.side_slope * z


def area_is_the_integral_of_the_width(name: str, silt_share: float, share: float) -> None:
    s = {**BARRELS, **CHANNELS}[name]
    rise = min(s.rise, 2.0)
    s = sec.with_silt(s, silt_share * rise)
    y = share * (rise - s.silt)
    kink = [s.wall_height] if s.silt < s.wall_height < s.silt + y else None
    expected = quad(lambda z: 2 * outline(s, z), s.silt, s.silt + y, points=kink, epsabs=1e-13, epsrel=1e-12)[0]
    assert sec.area(s, y) == pytest.approx(expected, rel=1e-8, abs=1e-13)
    assert sec.top_width(s, y) == pytest.approx(2 * outline(s, s.silt + y), rel=1e-9)


def test_area_is_the_integral_of_the_width() -> None:
    each_holds(
        product([*BARRELS, *CHANNELS], SILTS, [1e-6, 0.1, 0.45, 0.8, 0.979, 0.9999]),
        lambda row: area_is_the_integral_of_the_width(*row),
    )


def wetted_arc_is_scipys_elliptic_integral(span: float, share: float) -> None:
    """Against `scipy.special.ellipeinc`; the compiled formula has Gauss-Legendre nodes, good to 1e-7 up to 3:1."""
    s = sec.ellipse(span, 1.1, 0.013)
    angle = acos(1 - 2 * share)
    m = 1 - (1.1 / span) ** 2
    quarter = ellipeinc(angle, m) if angle <= pi / 2 else 2 * ellipe(m) - ellipeinc(pi - angle, m)
    assert sec.wetted_perimeter(s, share * 1.1) == pytest.approx(span * quarter, rel=2e-7)


def test_wetted_arc_of_an_ellipse_is_scipys_elliptic_integral() -> None:
    each_holds(
        product([0.6, 1.0, 1.7, 3.4], [1e-4, 0.2, 0.5, 0.77, 0.999, 1.0]),
        lambda row: wetted_arc_is_scipys_elliptic_integral(*row),
    )


def wetted_perimeter_is_the_length_of_the_outline(name: str, share: float) -> None:
    """Walls and crown by quadrature of ds over the angle at the centre of the arc."""
    s = BARRELS[name]
    z, f = share * s.rise, s.rise - s.wall_height
    radius = s.rise / 2 if s.shape == sec.CIRCLE else (s.width**2 / 4 + f**2) / (2 * f)
    centre = s.rise - radius
    spring = -pi / 2 if s.shape == sec.CIRCLE else np.arcsin((s.wall_height - centre) / radius)
    top = np.arcsin(min((z - centre) / radius, 1.0))
    arc = quad(lambda _: radius, spring, top)[0] if z > s.wall_height else 0.0
    flat = 0.0 if s.shape == sec.CIRCLE else s.width
    assert sec.wetted_perimeter(s, z) == pytest.approx(flat + 2 * min(z, s.wall_height) + 2 * arc, rel=1e-12)


def test_wetted_perimeter_is_the_length_of_the_outline() -> None:
    each_holds(
        product(["pipe", "semicircular arch", "low arch", "arch without walls"], [0.3, 0.7, 0.95, 1.0]),
        lambda row: wetted_perimeter_is_the_length_of_the_outline(*row),
    )


def test_roof_of_a_box_is_wetted_gradually_and_in_full_at_the_top() -> None:
    s = BARRELS["box"]
    low = (1 - sec.ROOF_SHARE) * s.rise
    assert sec.wetted_perimeter(s, low) == pytest.approx(s.width + 2 * low, rel=1e-12)
    assert sec.wetted_perimeter(s, s.rise) == pytest.approx(2 * (s.width + s.rise), rel=1e-15)
    assert sec.wetted_perimeter(s, 5.0) == sec.wetted_perimeter(s, s.rise)
    depths = np.linspace(low, s.rise, 200)
    perimeters = [sec.wetted_perimeter(s, y) for y in depths]
    assert np.all(np.diff(perimeters) > 0)
    assert np.max(np.diff(perimeters)) < 1.6 * s.width / 199 + 2 * s.rise * sec.ROOF_SHARE / 199


def height_holds_a_share_of_the_area(name: str, share: float) -> None:
    s = BARRELS[name]
    full = sec.area(s, s.rise)
    expected = brentq(lambda z: sec.area(s, z) - share * full, 0.0, s.rise, xtol=1e-15)
    assert sec.silt_height(s, share) == pytest.approx(expected, abs=2e-9 * s.rise)
    assert sec.silt_height(s, 0.0) == 0.0
    assert sec.silt_height(s, 1.0) == s.rise


def test_height_that_holds_a_share_of_the_area() -> None:
    each_holds(
        product(BARRELS, [1e-9, 0.02, 0.3, 0.75, 0.99, 1 - 1e-9]),
        lambda row: height_holds_a_share_of_the_area(*row),
    )


@pytest.mark.parametrize("name", BARRELS)
def test_silt_takes_its_area_and_shows_its_top_as_bed(name: str) -> None:
    s = BARRELS[name]
    silted = sec.with_silt(s, 0.4 * s.rise)
    depth = 0.3 * s.rise
    assert sec.area(silted, depth) == pytest.approx(sec.area(s, 0.7 * s.rise) - sec.area(s, 0.4 * s.rise), rel=1e-12)
    sides = sec.wetted_perimeter(s, 0.7 * s.rise) - sec.wetted_perimeter(s, 0.4 * s.rise)
    bed = 2 * outline(s, 0.4 * s.rise)
    assert sec.wetted_perimeter(silted, depth) == pytest.approx(sides + bed, rel=1e-9)
    assert sec.clear_height(silted) == pytest.approx(0.6 * s.rise)


def test_composite_roughness() -> None:
    """n = [sum(P n^1.5) / P]^(2/3), Horton; a round barrel's silt is never smoother than its wall."""

    def composite(s: sec.Section, perimeter: float) -> float:
        return float((sec.rough_perimeter(s, perimeter) / perimeter) ** (2 / 3))

    s = sec.box(2.0, 1.5, 0.015)._replace(bed_manning_n=0.035)
    expected = ((2.0 * 0.035**1.5 + 2.0 * 0.015**1.5) / 4.0) ** (2 / 3)
    assert composite(s, 4.0) == pytest.approx(expected, rel=1e-14)
    assert composite(sec.pipe(1.0, 0.02)._replace(bed_manning_n=0.05), 1.0) == pytest.approx(0.02)
    smooth = sec.with_silt(sec.pipe(1.0, 0.02)._replace(bed_manning_n=0.01), 0.2, 0.01)
    assert composite(smooth, 2.0) == pytest.approx(0.02, rel=1e-14)
    rough = sec.with_silt(sec.pipe(1.0, 0.02)._replace(bed_manning_n=0.05), 0.5)
    assert composite(rough, 2.0) == pytest.approx(((0.05**1.5 + 0.02**1.5) / 2) ** (2 / 3))


def test_conveyance_of_a_pipe_peaks_near_094() -> None:
    """Full pipe by Manning, R = D/4; the greatest conveyance of a circle stands at 0.938 D (Chow 1959, ch. 6)."""
    s = sec.pipe(1.2, 0.013)
    full = pi * 1.44 / 4 * 0.3 ** (2 / 3) / 0.013
    assert sec.conveyance(s, 1.2) == pytest.approx(full, rel=1e-12)
    depths = np.linspace(0.5, 1.2, 2001)
    peak = depths[np.argmax([sec.conveyance(s, y) for y in depths])]
    assert peak / 1.2 == pytest.approx(0.938, abs=1e-3)
    assert sec.conveyance(s, 0.0) == 0.0
