"""The hydraulic jump: where a subcritical profile on a steep bed ends, the flow above it being supercritical."""

from __future__ import annotations

from math import sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.profile import depth_above, swift_end
from overbank.hydraulics.sections import Section, area, clear_height


@kernel
def sequent_depth(flow: float, width: float, depth: float) -> float:
    """Depth on the other side of a jump in a rectangular channel, y2 = y1/2 (sqrt(1 + 8 Fr1^2) - 1) [m].

    flow : [m3/s]; width : [m]; depth : y1, on this side [m]
    Level bed, no friction over the jump, momentum kept; works both ways. Source: Belanger; closed form, in
    V. T. Chow (1959), "Open-Channel Hydraulics", chapter 15.
    """
    velocity = flow / (width * depth)
    return 0.5 * depth * (sqrt(1.0 + 8.0 * velocity * velocity / (GRAVITY * depth)) - 1.0)


@kernel
def first_moment(s: Section, y: float) -> float:
    """First moment of the wetted area about the surface, A times the depth of its centroid [m3].

    The integral of the area over the depth, by five-point Gauss-Legendre on four parts; above the roof of a closed
    section the full area times the head over the roof comes on top.
    """
    roof = clear_height(s)
    top = min(y, roof)
    part = 0.125 * top
    total = 0.0
    for k in range(4):
        middle = part * (2 * k + 1)
        for x, w in (
            (0.0, 0.5688888888888889),
            (0.5384693101056831, 0.4786286704993665),
            (0.9061798459386640, 0.2369268850561891),
        ):
            pair = area(s, middle - part * x) + area(s, middle + part * x)
            total += (0.5 * w if x == 0.0 else w) * part * pair
    return total + area(s, top) * (y - top) if y > top else total


@kernel
def momentum(s: Section, flow: float, y: float) -> float:
    """Momentum function M = first moment + Q^2 / (g A) [m3], the same on both sides of a jump.

    In a full barrel the first moment is that of the pressure, so a jump may fill the barrel. The weight of the water
    along the slope is left out. Source: V. T. Chow (1959), "Open-Channel Hydraulics", chapter 3.
    """
    return first_moment(s, y) + flow * flow / (GRAVITY * area(s, y))


@kernel
def steep_barrel(
    s: Section, flow: float, critical: float, slope: float, length: float, behind: float, start: float
) -> tuple[float, float, float]:
    """Depth at the outlet [m], time of the water [s] and greatest velocity [m/s] in a steep barrel under inlet control.

    start : depth at the inlet end, critical or a little less; behind : depth at the outlet that the tailwater asks for,
    never below critical. The water runs down an S2 curve to the outlet; or to a jump, where the tailwater has the
    greater momentum there, with an S1 curve behind it. The jump stands where both curves have the same momentum.
    """
    end, time = swift_end(s, flow, slope, start, length)
    excess = momentum(s, flow, behind) - momentum(s, flow, end)
    if behind <= critical or excess <= 0.0:
        return end, time, flow / area(s, end)
    bracket = roots.start(0.0, -1e-9 * excess, length, excess)
    while roots.is_open(bracket, 1e-3 * length):
        x = roots.propose(bracket)
        above, _ = swift_end(s, flow, slope, start, x)
        below = depth_above(s, flow, critical, slope, length - x, behind)
        bracket = roots.narrow(bracket, x, momentum(s, flow, below) - momentum(s, flow, above))
    at = roots.best(bracket)
    above, time = swift_end(s, flow, slope, start, at)
    below = depth_above(s, flow, critical, slope, length - at, behind)
    time += 0.5 * (length - at) * (area(s, below) + area(s, behind)) / flow
    return behind, time, flow / area(s, above)
