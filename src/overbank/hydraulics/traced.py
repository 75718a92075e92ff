"""Closed sections traced by points: straight lines of floor and roof, solved exactly by strips between their heights.

Between two heights at which a line begins or ends, the width of the water is a straight line of the height, the area a
parabola and the wetted perimeter a straight line. A level ceiling is wetted gradually, as the roof of a box is. Closed
forms; checked against polygons cut apart, boxes and arches.

The table of a section is an array of its own: a `Section` holds the place of the array in memory and the count of its
rows, so that sections of other shapes carry no more numbers for it. Whoever lays out the numbers keeps the array.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, peek

HEIGHT, AREA, WIDTH, WIDENING, PERIMETER, LENGTHENING, CEILING = range(7)
"""Columns of a table: height of a row above the invert [m]; area below [m2]; width just above [m] and its rate up to
the next row [-]; wetted perimeter just above [m] and its rate [-]; width of level ceilings at the height [m]."""

ROW = 7
"""Numbers in a row."""

ROOF_SHARE = 0.02
"""A level roof is counted as wetted gradually over this top share of the rise below it. Counted at once, friction would
jump where the water meets the roof, and so would the level upstream; waves wet a roof gradually anyway."""

Point = tuple[float, float, float]
"""Offset, height of the floor and height of the roof there, all [m]."""


def _wet_shares(low: float, high: float, z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a line from one height to another that lies below z [-]; of a level one all from its height on."""
    if high <= low:
        return np.where(z >= low, 1.0, 0.0)
    return np.clip((z - low) / (high - low), 0.0, 1.0)


def _below(low: float, high: float, z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area between a line and the height z, a metre of offset [m]."""
    if high <= low:
        return np.maximum(z - low, 0.0)
    under = np.clip(z - low, 0.0, high - low)
    return 0.5 * under * under / (high - low) + np.maximum(z - high, 0.0)


def _summed(points: Sequence[Point], z: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Area, width and wetted perimeter below heights z; level ceilings are left out of the perimeter."""
    area, width, perimeter = np.zeros(z.size), np.zeros(z.size), np.zeros(z.size)
    for (x, *here), (x_next, *there) in pairwise(points):
        for k, sign in ((0, 1.0), (1, -1.0)):  # the floor, less the roof
            low, high = sorted((here[k], there[k]))
            shares = _wet_shares(low, high, z)
            area += sign * (x_next - x) * _below(low, high, z)
            width += sign * (x_next - x) * shares
            if k == 0 or high > low:
                perimeter += np.hypot(x_next - x, high - low) * shares
    for _, floor, roof in (points[0], points[-1]):  # upright walls at both ends
        perimeter += (roof - floor) * _wet_shares(floor, roof, z) if roof > floor else 0.0
    return area, width, perimeter


def _ceilings(points: Sequence[Point]) -> dict[float, float]:
    """Width of level ceilings by their height [m]."""
    found: dict[float, float] = {}
    for (x, _, roof), (x_next, _, roof_next) in pairwise(points):
        if roof == roof_next and x_next > x:
            found[roof] = found.get(roof, 0.0) + x_next - x
    return found


def traced_table(points: Sequence[Point]) -> NDArray[np.float64]:
    """The table of a section, a row a height at which anything changes its rate, from the invert to the crown.

    points : from one end to the other, offsets that never go back; heights above the lowest point of the floor
    """
    lowest = min(floor for _, floor, _ in points)
    points = [(x, floor - lowest, roof - lowest) for x, floor, roof in points]
    rise, ceilings = max(roof for _, _, roof in points), _ceilings(points)
    begun = [max(height - ROOF_SHARE * rise, 0.0) for height in ceilings]
    heights = np.unique([*(height for point in points for height in point[1:]), *begun])
    gaps = np.diff(heights)
    quarters = [heights[:-1] + share * gaps for share in (0.25, 0.75)]
    (_, width, perimeter), (_, width_up, perimeter_up) = (_summed(points, each) for each in quarters)
    rates = [(width_up - width) / (0.5 * gaps), (perimeter_up - perimeter) / (0.5 * gaps)]
    foot = width - 0.25 * gaps * rates[0]
    table = np.zeros((heights.size, ROW))
    table[:, HEIGHT] = heights
    table[:, AREA] = _summed(points, heights)[0]
    table[:-1, WIDTH] = np.where(foot > 1e-12 * (points[-1][0] - points[0][0]), foot, 0.0)
    table[:-1, WIDENING], table[:-1, LENGTHENING] = rates
    table[:-1, PERIMETER] = perimeter - 0.25 * gaps * rates[1]
    table[-1, PERIMETER] = table[-2, PERIMETER] + gaps[-1] * rates[1][-1]
    table[:, CEILING] = [ceilings.get(height, 0.0) for height in heights.tolist()]
    table[:, PERIMETER] += np.cumsum(table[:, CEILING])
    return table


def widens_suddenly(table: NDArray[np.float64]) -> float:
    """Lowest height from which a section widens so fast that a flow may have two critical depths [m]; nan for none.

    Where A T' > 2 T^2, or where a level ledge is wetted. Up to 3 T^2 Froude's number still falls with the depth; with a
    third of that kept back, so does the head that an opening with losses asks for at its critical depth rise with it.
    """
    before = np.append(0.0, table[:-1, WIDTH] + np.diff(table[:, HEIGHT]) * table[:-1, WIDENING])
    ledge = (table[:, AREA] > 0.0) & (table[:, WIDTH] > before + 1e-9 * table[:, WIDTH].max())
    fast = table[:, AREA] * table[:, WIDENING] > 2.0 * table[:, WIDTH] ** 2 * (1.0 + 1e-9)
    wrong = np.flatnonzero(ledge | fast)
    return float(table[wrong[0], HEIGHT]) if wrong.size else np.nan


@kernel
def _row(table: float, count: float, z: float) -> int:
    """The last row whose height is not above z."""
    low, high = 0, int(count)
    while high - low > 1:
        middle = (low + high) // 2
        if peek(table, ROW * middle + HEIGHT) <= z:
            low = middle
        else:
            high = middle
    return low


@kernel
def traced_area(table: float, count: float, z: float) -> float:
    """Area below a height between invert and crown [m2]."""
    at = ROW * _row(table, count, z)
    t = z - peek(table, at + HEIGHT)
    return peek(table, at + AREA) + t * (peek(table, at + WIDTH) + 0.5 * t * peek(table, at + WIDENING))


@kernel
def traced_width(table: float, count: float, z: float) -> float:
    """Width at a height between invert and crown [m]."""
    at = ROW * _row(table, count, z)
    return peek(table, at + WIDTH) + (z - peek(table, at + HEIGHT)) * peek(table, at + WIDENING)


@kernel
def traced_perimeter(table: float, count: float, z: float) -> float:
    """Wetted perimeter below a height between invert and crown [m]."""
    k, last = _row(table, count, z), int(count) - 1
    at = ROW * k
    perimeter = peek(table, at + PERIMETER) + (z - peek(table, at + HEIGHT)) * peek(table, at + LENGTHENING)
    over = ROOF_SHARE * peek(table, ROW * last + HEIGHT)
    for j in range(k + 1, last + 1):
        near = 1.0 - (peek(table, ROW * j + HEIGHT) - z) / over
        if near <= 0.0:
            break
        perimeter += peek(table, ROW * j + CEILING) * near * near * (3.0 - 2.0 * near)
    return perimeter


@kernel
def joint_above(table: float, count: float, z: float) -> float:
    """Height of the first row above z, or of the crown [m]."""
    k, last = _row(table, count, z * (1.0 + 1e-12)) + 1, int(count) - 1
    return peek(table, ROW * min(k, last) + HEIGHT)


@kernel
def joint_below(table: float, count: float, z: float) -> float:
    """Height of the last row below z [m]."""
    return peek(table, ROW * _row(table, count, z * (1.0 - 1e-12)) + HEIGHT)
