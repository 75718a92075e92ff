"""Geometry and conveyance of the sections of channels and barrels.

A `Section` is a handful of numbers that every formula takes. Depth y is measured from the bed, which is the
top of the silt where there is any. A closed section (a barrel) runs full once y reaches `clear_height`.

Formulas: elementary geometry; tabulated in V. T. Chow (1959) "Open-Channel Hydraulics", table 2-1, and for part-full
barrels in FHWA HDS-5, 2nd edition (2001). Checked against the values computed independently in tests/published.
"""

from __future__ import annotations

from math import acos, asin, cos, inf, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel
from overbank.hydraulics.arcs import Arcs, below, egg_of, horseshoe_of, pipe_arch_of, width_at
from overbank.hydraulics.traced import HEIGHT, ROOF_SHARE, WIDTH, traced_area, traced_perimeter, traced_width

RECTANGLE, TRAPEZOID, CIRCLE, ARCH, ELLIPSE = 0.0, 1.0, 2.0, 3.0, 4.0
PIPE_ARCH, EGG, HORSESHOE, TRACED = 5.0, 6.0, 7.0, 8.0
"""Shapes, of one type with all numbers of a section, so that formulas are compiled once; pipe-arch, egg and horseshoe
are made of arcs (`arcs`), the last one of straight lines (`traced`)."""

SILT_MANNING_N = 0.03
"""Roughness of silt whose own is not given [s/m^(1/3)]: the lower end of 0.03 to 0.05 for a natural or gravel bed in a
barrel (FHWA HDS-5, 2nd edition (2001), p. 222, read in the source)."""

SILT_SHARE = 0.02
"""Share of the rise over which silt of growing depth takes over the roughness of the bed, so that the level does not
jump where silting begins (own choice)."""


class Section(NamedTuple):
    """A cross-section, uniform along the reach.

    shape : RECTANGLE, TRAPEZOID, CIRCLE, ARCH, ELLIPSE, PIPE_ARCH, EGG, HORSESHOE or TRACED
    width : bed width, span or diameter [m]
    side_slope : horizontal per vertical, of a trapezoid [-]; height of the centres of the corners of a pipe-arch [m];
        place in memory of the table of a traced section
    rise : inside height from the invert, `inf` when open to the sky [m]
    wall_height : height of an arch's vertical walls, the crown above is a circular segment; radius of the corners of a
        pipe-arch [m]; count of the rows of the table of a traced section
    silt : height by which the bed is raised by sediment [m]
    manning_n : roughness of walls (and bed, when it has none of its own) [s/m^(1/3)]
    bed_manning_n : roughness of the bed or of the silt [s/m^(1/3)]
    """

    shape: float
    width: float
    side_slope: float
    rise: float
    wall_height: float
    silt: float
    manning_n: float
    bed_manning_n: float


def rectangle(width: float, manning_n: float) -> Section:
    """Open rectangle."""
    return Section(RECTANGLE, width, 0.0, inf, 0.0, 0.0, manning_n, manning_n)


def trapezoid(bed_width: float, side_slope: float, manning_n: float) -> Section:
    """Open trapezoid; `side_slope` horizontal per vertical."""
    return Section(TRAPEZOID, bed_width, side_slope, inf, 0.0, 0.0, manning_n, manning_n)


def box(span: float, rise: float, manning_n: float) -> Section:
    """Closed rectangle."""
    return Section(RECTANGLE, span, 0.0, rise, 0.0, 0.0, manning_n, manning_n)


def pipe(diameter: float, manning_n: float) -> Section:
    """Circle."""
    return Section(CIRCLE, diameter, 0.0, diameter, 0.0, 0.0, manning_n, manning_n)


def arch(span: float, rise: float, wall_height: float, manning_n: float) -> Section:
    """Flat bed, vertical walls, crown a circular segment of height rise - wall_height <= span / 2."""
    return Section(ARCH, span, 0.0, rise, wall_height, 0.0, manning_n, manning_n)


def ellipse(span: float, rise: float, manning_n: float) -> Section:
    """Ellipse with horizontal axis `span` and vertical axis `rise`."""
    return Section(ELLIPSE, span, 0.0, rise, 0.0, 0.0, manning_n, manning_n)


def pipe_arch(span: float, rise: float, corner_radius: float, corner_height: float, manning_n: float) -> Section:
    """Four arcs; the corners by their radius and the height of their centres."""
    return Section(PIPE_ARCH, span, corner_height, rise, corner_radius, 0.0, manning_n, manning_n)


def egg(span: float, rise: float, manning_n: float) -> Section:
    """Upright egg, narrow below; usually half as high again as wide."""
    return Section(EGG, span, 0.0, rise, 0.0, 0.0, manning_n, manning_n)


def horseshoe(height: float, manning_n: float) -> Section:
    """Standard horseshoe, as wide as high."""
    return Section(HORSESHOE, height, 0.0, height, 0.0, 0.0, manning_n, manning_n)


def traced(table: NDArray[np.float64], manning_n: float) -> Section:
    """Straight lines of floor and roof by their table (`traced.traced_table`), which must be kept meanwhile."""
    place, rows, rise = float(table.ctypes.data), float(len(table)), float(table[-1, HEIGHT])
    return Section(TRACED, float(table[:, WIDTH].max()), place, rise, rows, 0.0, manning_n, manning_n)


@kernel
def _arcs(s: Section) -> Arcs:
    """The arcs of a section made of them."""
    if s.shape == PIPE_ARCH:
        return pipe_arch_of(s.width, s.rise, s.wall_height, s.side_slope)
    if s.shape == EGG:
        return egg_of(s.width, s.rise)
    return horseshoe_of(s.rise)


@kernel
def with_silt(s: Section, silt: float, silt_n: float = SILT_MANNING_N) -> Section:
    """The same section with its bed raised by `silt` [m] above the invert, of a roughness of its own [s/m^(1/3)].

    Silt is taken as no smoother than what it lies on: else a little of it would lower the water.
    """
    if silt <= 0.0:
        return s
    flat = s.shape in (RECTANGLE, TRAPEZOID, ARCH)
    lain_on = s.bed_manning_n if flat else max(s.bed_manning_n, s.manning_n)
    covered = min(1.0, silt / (SILT_SHARE * s.rise))
    bed_n = lain_on + covered * max(silt_n - lain_on, 0.0)
    return Section(s.shape, s.width, s.side_slope, s.rise, s.wall_height, silt, s.manning_n, bed_n)


@kernel
def _crown_radius(s: Section) -> float:
    f = s.rise - s.wall_height
    return (0.25 * s.width * s.width + f * f) / (2.0 * f)


@kernel
def _segment(h: float, r: float) -> float:
    """Twice the integral of sqrt(r^2 - h^2) from 0 to h."""
    h = min(r, max(-r, h))
    return h * sqrt(r * r - h * h) + r * r * asin(h / r)


@kernel
def _angle(z: float, rise: float) -> float:
    """Half the angle at the centre that the water wets, 0 at the invert and pi at the crown."""
    return acos(min(1.0, max(-1.0, 1.0 - 2.0 * z / rise)))


@kernel
def _gross_area(s: Section, z: float) -> float:
    """Area below height z above the invert, silt included; of any shape but a rectangle."""
    z = min(max(z, 0.0), s.rise)
    if s.shape == TRAPEZOID:
        return (s.width + s.side_slope * z) * z
    if s.shape == ARCH:
        if z <= s.wall_height:
            return s.width * z
        r = _crown_radius(s)
        centre = s.rise - r
        return s.width * s.wall_height + _segment(z - centre, r) - _segment(s.wall_height - centre, r)
    if s.shape >= PIPE_ARCH:
        return traced_area(s.side_slope, s.wall_height, z) if s.shape == TRACED else below(_arcs(s), z)[0]
    t = _angle(z, s.rise)  # circle, ellipse
    return 0.25 * s.width * s.rise * (t - sin(t) * cos(t))


@kernel
def _gross_width(s: Section, z: float) -> float:
    """Width at height z above the invert; 0 at and above the crown. Of any shape but a rectangle."""
    if z >= s.rise:
        return 0.0
    if s.shape == TRAPEZOID:
        return s.width + 2.0 * s.side_slope * z
    if s.shape == ARCH:
        if z <= s.wall_height:
            return s.width
        r = _crown_radius(s)
        h = z - (s.rise - r)
        return 2.0 * sqrt(max(r * r - h * h, 0.0))
    if s.shape >= PIPE_ARCH:
        return traced_width(s.side_slope, s.wall_height, z) if s.shape == TRACED else width_at(_arcs(s), z)
    return s.width * sin(_angle(z, s.rise))


@kernel
def _ellipse_arc(s: Section, z: float) -> float:
    """Wetted arc of an ellipse below z: ten-point Gauss-Legendre on each of two halves of the angle."""
    a = 0.5 * s.width
    c = 0.5 * s.rise
    half = 0.25 * _angle(z, s.rise)
    total = 0.0
    for part in range(2):
        middle = half * (2 * part + 1)
        for x, w in (
            (0.1488743389816312, 0.2955242247147529),
            (0.4333953941292472, 0.2692667193099963),
            (0.6794095682990244, 0.2190863625159820),
            (0.8650633666889845, 0.1494513491505806),
            (0.9739065285171717, 0.0666713443086881),
        ):
            for t in (middle - half * x, middle + half * x):
                total += w * half * sqrt((a * cos(t)) ** 2 + (c * sin(t)) ** 2)
    return 2.0 * total


@kernel
def _gross_perimeter(s: Section, z: float) -> float:
    """Wetted perimeter below height z above the invert, bed included, no silt; of any shape but a rectangle."""
    z = min(max(z, 0.0), s.rise)
    if s.shape == TRAPEZOID:
        return s.width + 2.0 * z * sqrt(1.0 + s.side_slope * s.side_slope)
    if s.shape == ARCH:
        crown = 0.0
        if z > s.wall_height:
            r = _crown_radius(s)
            centre = s.rise - r
            crown = r * (asin(min(1.0, (z - centre) / r)) - asin(max(-1.0, (s.wall_height - centre) / r)))
        return s.width + 2.0 * min(z, s.wall_height) + 2.0 * crown
    if s.shape >= PIPE_ARCH:
        return traced_perimeter(s.side_slope, s.wall_height, z) if s.shape == TRACED else below(_arcs(s), z)[1]
    return _round_perimeter(s, z)


@kernel
def _round_perimeter(s: Section, z: float) -> float:
    """Wetted perimeter of a circle or an ellipse below a height above the invert."""
    if s.shape == CIRCLE:
        return s.width * _angle(z, s.rise)
    return _ellipse_arc(s, z)


@kernel
def clear_height(s: Section) -> float:
    """Height from the bed (top of the silt) to the roof [m]; `inf` when open to the sky."""
    return s.rise - s.silt


@kernel
def area(s: Section, y: float) -> float:
    """Flow area at depth y [m2]; the full area once y reaches the roof.

    A rectangle comes first here and below, in so few words that they are compiled into whoever asks.
    """
    if s.shape == RECTANGLE:
        return s.width * min(max(y, 0.0), s.rise - s.silt)
    if s.silt > 0.0:
        return _gross_area(s, y + s.silt) - _gross_area(s, s.silt)
    return _gross_area(s, y)


@kernel
def top_width(s: Section, y: float) -> float:
    """Width of the water surface at depth y [m]; 0 when full."""
    if s.shape == RECTANGLE:
        return s.width if y < s.rise - s.silt else 0.0
    return _gross_width(s, y + s.silt)


@kernel
def bed_width(s: Section) -> float:
    """Width of the bed: the flat bed of a box, arch or channel, or the top of the silt in a round barrel [m]."""
    if s.shape == RECTANGLE or s.silt <= 0.0:
        return _flat_bed(s)
    return _gross_width(s, s.silt)


@kernel
def _flat_bed(s: Section) -> float:
    if s.shape == TRACED:
        return traced_width(s.side_slope, s.wall_height, 0.0)
    return s.width if s.shape in (RECTANGLE, TRAPEZOID, ARCH) else 0.0


@kernel
def _roof_share(s: Section, z: float) -> float:
    """How much of the roof of a box is wetted by water up to a height above the invert [-]."""
    if z <= (1.0 - ROOF_SHARE) * s.rise:  # always so when open to the sky
        return 0.0
    roof = 1.0 - (s.rise - z) / (ROOF_SHARE * s.rise)
    return roof * roof * (3.0 - 2.0 * roof)


@kernel
def wetted_perimeter(s: Section, y: float) -> float:
    """Wetted perimeter at depth y, the bed included [m]."""
    if s.shape == RECTANGLE:
        y = min(max(y, 0.0), s.rise - s.silt)
        return s.width + 2.0 * y + s.width * _roof_share(s, y + s.silt)
    perimeter = _gross_perimeter(s, y + s.silt)
    if s.silt > 0.0:
        perimeter += bed_width(s) - _gross_perimeter(s, s.silt)
    return perimeter


@kernel
def rough_perimeter(s: Section, perimeter: float) -> float:
    """Sum of P n^1.5 over bed and walls, whose 2/3 power over that of P is one roughness for both.

    The velocity being the same in all parts: n = [sum(P n^1.5) / P]^(2/3), so n P^(2/3) = (this sum)^(2/3). Horton
    (1933) and Einstein (1934), in V. T. Chow (1959), "Open-Channel Hydraulics", eq. 6-17 (from memory, unverified).
    """
    walls = s.manning_n * sqrt(s.manning_n)
    if s.bed_manning_n == s.manning_n:
        return perimeter * walls
    bed = bed_width(s)
    return bed * s.bed_manning_n * sqrt(s.bed_manning_n) + (perimeter - bed) * walls


@kernel
def conveyance(s: Section, y: float) -> float:
    """Manning conveyance K = A R^(2/3) / n at depth y [m3/s]; Q = K sqrt(friction slope)."""
    a = area(s, y)
    if a <= 0.0:
        return 0.0
    r = a / rough_perimeter(s, wetted_perimeter(s, y))
    return a * np.cbrt(r * r)


@kernel
def silt_height(s: Section, share: float) -> float:
    """Height below which the given share of the full (closed) section lies [m].

    Root of area(z) = share * full area, by Newton's method (the width is the derivative) inside a bracket.
    """
    if share <= 0.0:
        return 0.0
    if share >= 1.0:
        return s.rise
    if s.shape == RECTANGLE:
        return share * s.rise
    wanted = share * _gross_area(s, s.rise)
    low, high = 0.0, s.rise
    z = share * s.rise
    for _ in range(60):
        excess = _gross_area(s, z) - wanted
        if abs(excess) < 1e-14 * wanted or high - low < 1e-14 * s.rise:
            break
        if excess > 0.0:
            high = z
        else:
            low = z
        z -= excess / max(_gross_width(s, z), 1e-12)
        if not low < z < high:
            z = 0.5 * (low + high)
    return z
