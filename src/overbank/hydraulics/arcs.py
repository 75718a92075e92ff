"""Closed sections made of three arcs, alike on both sides: pipe-arch, egg and horseshoe.

An invert arc and a crown arc with their centres on the middle line, and between them side arcs. The half-width at a
height z on an arc of radius r with its centre (a, c) is a + sqrt(r^2 - (z - c)^2).

Source: elementary geometry (closed form). Egg of width two thirds of its height, crown twice the invert: Encyclopaedia
Britannica, 11th edition, vol. 14, "Hydraulics", section 111, read in a copy; sides of three crown radii follow from it.
"""

from __future__ import annotations

from math import asin, sqrt
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
    Range: corner under half the span, under corner_at and under rise - corner_at.
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
def _angle(h: float, radius: float) -> float:
    return asin(min(1.0, max(-1.0, h / radius)))


@kernel
def _strip(radius: float, centre: float, aside: float, low: float, high: float) -> tuple[float, float]:
    """Area between the arcs on both sides from one height to another, and their length together."""
    if high <= low:
        return 0.0, 0.0
    h1, h2 = low - centre, high - centre
    turned = _angle(h2, radius) - _angle(h1, radius)
    inside = h2 * sqrt(max(radius * radius - h2 * h2, 0.0)) - h1 * sqrt(max(radius * radius - h1 * h1, 0.0))
    return inside + radius * radius * turned + 2.0 * aside * (high - low), 2.0 * radius * turned


@kernel
def below(a: Arcs, z: float) -> tuple[float, float]:
    """Area and wetted perimeter below a height above the invert [m2], [m]."""
    foot, foot_arc = _strip(a.invert, a.invert_at, 0.0, 0.0, min(z, a.low))
    side, side_arc = _strip(a.side, a.side_at, a.aside, a.low, min(z, a.high))
    crown, crown_arc = _strip(a.crown, a.crown_at, 0.0, a.high, z)
    return foot + side + crown, foot_arc + side_arc + crown_arc
