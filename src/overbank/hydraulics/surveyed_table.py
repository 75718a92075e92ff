"""A surveyed section turned into a table that gives its area, perimeter and width exactly at any level.

Between two neighbouring levels of the surveyed points every piece of the ground is wet, dry or cut by the
surface along a straight line. So within such an interval the area of a zone is a quadratic, and its wetted
perimeter a linear function of the level:

    A(t) = a0 + a1 t + a2 t^2,   P(t) = p0 + p1 t,   T(t) = a1 + 2 a2 t,   t = level - foot of the interval

What the table assumes, and a report must say:

- Above its two end points the section goes on as vertical walls, wetted, with the roughness of the outermost zones.
- Water stands at one level across the whole section, behind a bank as well.
- A vertical piece that lies on the line between two zones belongs to the zone on its left.

Elementary geometry; checked by slicing into thin strips and against values computed independently.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank.errors import DomainError

Numbers = NDArray[np.float64]

DECIMALS = 9
"""Levels are rounded to the nanometre, so that points meant to be level with each other are."""


class SurveyTable(NamedTuple):
    """The table of one section.

    breaks : foot of each interval, rising; the last one has no top (intervals,) [m]
    areas : a0, a1, a2 of each zone and interval (zones, intervals, 3) [m2], [m], [-]
    perimeters : p0, p1 of each zone and interval (zones, intervals, 2) [m], [-]
    """

    breaks: Numbers
    areas: Numbers
    perimeters: Numbers


def survey_table(offsets: ArrayLike, levels: ArrayLike, divisions: ArrayLike = ()) -> SurveyTable:
    """Table of a section from its points.

    Parameters
    ----------
    offsets : distance of each point across the section, never going back (n,) [m]
    levels : of the ground there (n,) [m]
    divisions : offsets of the lines between roughness zones, rising, inside the section; none for a single zone [m]

    Raises
    ------
    DomainError
        Fewer than two points; lengths that differ; a number that is not finite; offsets that go back; no
        width; divisions out of order or outside.
    """
    x = np.asarray(offsets, dtype=np.float64)
    z = np.asarray(levels, dtype=np.float64)
    lines = np.asarray(divisions, dtype=np.float64)
    _check(x, z, lines)
    for line in lines:
        if line not in x:
            at = int(np.searchsorted(x, line))
            x, z = np.insert(x, at, line), np.insert(z, at, np.interp(line, x, z))
    z = np.round(z, DECIMALS)
    breaks = np.unique(z)
    low, high, wide, length = _pieces(x, z)
    zone = np.searchsorted(lines, 0.5 * (x[:-1] + x[1:]), side="left")
    zone = np.concatenate([zone, [0, lines.size]])
    count = lines.size + 1
    areas = np.zeros((count, breaks.size, 3))
    perimeters = np.zeros((count, breaks.size, 2))
    for j, foot in enumerate(breaks):
        piece_area, piece_perimeter = _coefficients(foot, low, high, wide, length)
        np.add.at(areas[:, j], zone, piece_area)
        np.add.at(perimeters[:, j], zone, piece_perimeter)
    for array in (breaks, areas, perimeters):
        array.setflags(write=False)
    return SurveyTable(breaks, areas, perimeters)


def _check(x: Numbers, z: Numbers, lines: Numbers) -> None:
    """Refuse what cannot be a section, in one sentence."""
    if x.ndim != 1 or x.shape != z.shape or x.size < 2:
        raise DomainError(
            f"A surveyed section: expected one offset and one level for each of at least two points; got "
            f"{x.size} offsets and {z.size} levels. Give both for every point."
        )
    for name, numbers in (("offset", x), ("level", z), ("division", lines)):
        if not np.all(np.isfinite(numbers)):
            at = int(np.flatnonzero(~np.isfinite(numbers))[0])
            raise DomainError(
                f"A surveyed section, {name} {at + 1}: expected a finite number; got {numbers[at]}. "
                "Correct or drop the point."
            )
    back = np.flatnonzero(np.diff(x) < 0.0)
    if back.size:
        at = int(back[0]) + 1
        raise DomainError(
            f"A surveyed section, point {at + 1}: expected an offset not below {x[at - 1]:g} m, that of the point "
            f"before; got {x[at]:g} m. Sort the points across the section; overhanging banks cannot be used."
        )
    if x[-1] == x[0]:
        raise DomainError(f"A surveyed section: expected points at two offsets or more; got all at {x[0]:g} m.")
    if lines.size and (np.any(np.diff(lines) <= 0.0) or lines[0] <= x[0] or lines[-1] >= x[-1]):
        raise DomainError(
            f"A surveyed section, divisions of roughness: expected rising offsets between {x[0]:g} and {x[-1]:g} m; "
            f"got {', '.join(f'{line:g}' for line in lines)}. Give the lines between zones, not the section's ends."
        )


def _pieces(x: Numbers, z: Numbers) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Lower end, upper end, width and length of each piece of ground; the two walls above the ends come last."""
    low = np.minimum(z[:-1], z[1:])
    high = np.maximum(z[:-1], z[1:])
    wide = np.diff(x)
    length = np.hypot(wide, high - low)
    ends = [z[0], z[-1]]
    return (
        np.concatenate([low, ends]),
        np.concatenate([high, [inf, inf]]),
        np.concatenate([wide, [0.0, 0.0]]),
        np.concatenate([length, [inf, inf]]),
    )


def _coefficients(foot: float, low: Numbers, high: Numbers, wide: Numbers, length: Numbers) -> tuple[Numbers, Numbers]:
    """a0, a1, a2 and p0, p1 of every piece in the interval that starts at `foot`."""
    area = np.zeros((low.size, 3))
    perimeter = np.zeros((low.size, 2))
    wet = high <= foot
    area[wet, 0] = wide[wet] * (foot - 0.5 * (low + high)[wet])
    area[wet, 1] = wide[wet]
    perimeter[wet, 0] = length[wet]
    cut = (low <= foot) & ~wet
    depth = foot - low[cut]
    wall = np.isinf(high[cut])
    rise = np.where(wall, 1.0, high[cut] - low[cut])
    steepness = wide[cut] / rise
    area[cut] = np.column_stack([0.5 * steepness * depth**2, steepness * depth, 0.5 * steepness])
    slant = np.where(wall, 1.0, length[cut]) / rise
    perimeter[cut] = np.column_stack([slant * depth, slant])
    return area, perimeter
