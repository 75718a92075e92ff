"""Closed sections made of three arcs, alike on both sides: pipe-arch, egg and horseshoe.

An invert arc and a crown arc with their centres on the middle line, and between them side arcs. The half-width at a
height z on an arc of radius r with its centre (a, c) is a + sqrt(r^2 - (z - c)^2).

Source: elementary geometry (closed form). Egg of width two thirds of its height, crown twice the invert: Encyclopaedia
Britannica, 11th edition, vol. 14, "Hydraulics", section 111, read in a copy; sides of three crown radii follow from it.
"""

from __future__ import annotations

from math import asin, cos, sin, sqrt
from typing import NamedTuple

from overbank._jit import kernel


class Arcs(NamedTuple):
    """Radii of invert, sides and crown [m]; heights of their centres; how far those of the sides lie aside; joints.

    low, high : heights at which the sides begin and end [m]
    """

    invert: float
    invert_at: float
    side: float
    side_at: float
    aside: float
    crown: float
    crown_at: float
    low: float
    high: float


@kernel
def pipe_arch_of(span: float, rise: float, corner: float, corner_at: float) -> Arcs:
    """Four arcs that touch each other, of given span, rise and corners.

    corner, corner_at : radius of the corners, and height of their centres above the invert [m]
    Range: corner under half the span, under corner_at and under rise - corner_at, which are at most half the span: a
    higher arc would meet the corner inside its widest place.
    """
    aside = 0.5 * span - corner
    over, under = rise - corner_at, corner_at
    crown = (aside * aside + over * over - corner * corner) / (2.0 * (over - corner))
    invert = (aside * aside + under * under - corner * corner) / (2.0 * (under - corner))
    low = corner_at - corner * (invert - corner_at) / (invert - corner)
    high = corner_at + corner * (corner_at - rise + crown) / (crown - corner)
    return Arcs(invert, invert, corner, corner_at, aside, crown, rise - crown, low, high)


@kernel
def egg_of(span: float, rise: float) -> Arcs:
    """An upright egg: a crown of half the span, an invert of half that radius, sides that touch both.

    Range: rise over the span. The usual egg has a rise of 1.5 spans, and sides of three crown radii.
    """
    crown, invert = 0.5 * span, 0.25 * span
    between = rise - crown - invert
    side = (crown * crown - invert * invert + between * between) / (2.0 * (crown - invert))
    crown_at = rise - crown
    low = crown_at + side * (invert - crown_at) / (side - invert)
    return Arcs(invert, invert, side, crown_at, crown - side, crown, crown_at, low, crown_at)


@kernel
def horseshoe_of(height: float) -> Arcs:
    """The standard horseshoe: as wide as high, a half-round crown, invert and sides of twice its radius.

    Source: from memory, unverified; area 0.8293 and perimeter 3.267 of height squared and height.
    """
    low = 0.25 * height * (3.0 - sqrt(7.0))
    half = 0.5 * height
    return Arcs(height, height, height, half, -half, half, half, low, half)


@kernel
def _half_width(z: float, radius: float, centre: float, aside: float) -> float:
    return aside + sqrt(max(radius * radius - (z - centre) * (z - centre), 0.0))


@kernel
def width_at(a: Arcs, z: float) -> float:
    """Width at a height above the invert [m]."""
    if z <= a.low:
        return 2.0 * _half_width(z, a.invert, a.invert_at, 0.0)
    if z <= a.high:
        return 2.0 * _half_width(z, a.side, a.side_at, a.aside)
    return 2.0 * _half_width(z, a.crown, a.crown_at, 0.0)


@kernel
def _segment(z: float, radius: float) -> tuple[float, float]:
    """Area and arc of a segment of a circle of height z above its lowest point.

    A series where the angle is small: in a trickle over a wide invert the closed form would lose every digit.
    """
    t = 2.0 * asin(sqrt(min(1.0, max(0.0, 0.5 * z / radius))))
    square = t * t
    if square < 0.04:
        series = 1.0 - square * (0.2 - square * (2.0 / 105.0 - square * (1.0 / 945.0 - square * 2.0 / 51975.0)))
        return radius * radius * t * square * series * 2.0 / 3.0, 2.0 * radius * t
    return radius * radius * (t - sin(t) * cos(t)), 2.0 * radius * t


@kernel
def _side(radius: float, centre: float, aside: float, low: float, high: float) -> tuple[float, float]:
    """Area between the side arcs from one height to another, and their length together."""
    if high <= low:
        return 0.0, 0.0
    h1, h2 = low - centre, high - centre
    turned = asin(min(1.0, max(-1.0, h2 / radius))) - asin(min(1.0, max(-1.0, h1 / radius)))
    inside = h2 * sqrt(max(radius * radius - h2 * h2, 0.0)) - h1 * sqrt(max(radius * radius - h1 * h1, 0.0))
    return inside + radius * radius * turned + 2.0 * aside * (high - low), 2.0 * radius * turned


@kernel
def below(a: Arcs, z: float) -> tuple[float, float]:
    """Area and wetted perimeter below a height above the invert [m2], [m]."""
    foot, foot_arc = _segment(min(z, a.low), a.invert)
    if z <= a.low:
        return foot, foot_arc
    side, side_arc = _side(a.side, a.side_at, a.aside, a.low, min(z, a.high))
    if z <= a.high:
        return foot + side, foot_arc + side_arc
    top = a.crown_at + a.crown
    under, under_arc = _segment(top - a.high, a.crown)
    above, above_arc = _segment(top - z, a.crown)
    return foot + side + (under - above), foot_arc + side_arc + (under_arc - above_arc)
