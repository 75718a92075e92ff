"""Gradually varied flow: the water surface carried upstream along a reach or a barrel, or down a steep barrel.

The equation dy/dx = (Sf - S) / (1 - Fr^2), x upstream, is singular at critical depth. Written with a parameter t,

    dy/dt = Sf(y) - S,      dx/dt = 1 - Fr(y)^2,

it is smooth everywhere: it leaves critical depth at an outfall without a special start, slows down towards normal
depth without passing it, and runs on as a straight pressure line when a barrel fills (Fr = 0 there).

Solved by the Dormand-Prince 5(4) pair with error control: J. R. Dormand and P. J. Prince (1980), "A family of
embedded Runge-Kutta formulae", J. Comp. Appl. Math. 6(1) 19-26. Equation: V. T. Chow (1959), chapter 9.
"""

from __future__ import annotations

from math import inf

import numpy as np

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.sections import (
    ARCH,
    RECTANGLE,
    ROOF_SHARE,
    Section,
    area,
    clear_height,
    composite_manning,
    top_width,
    wetted_perimeter,
)
from overbank.hydraulics.uniform import critical_depth

TOLERANCE = 1e-7
"""Error of energy allowed a step, and distance to normal depth that counts as none, as a share of the depth."""

UNDER_ROOF = 1.0 - 1e-12
"""Share of a closed section's height up to which its surface is free; above, pressure runs in a straight line."""

MOST_STEPS = 1000
"""A profile takes ten to thirty steps; in a sliver of a barrel round-off would let it take any number."""


@kernel
def friction_slope(s: Section, flow: float, y: float) -> float:
    """Slope of the energy line by Manning, Sf = (n V)^2 / R^(4/3), at depth y [-]."""
    a = area(s, y)
    p = wetted_perimeter(s, y)
    v = composite_manning(s, p) * flow / a
    return v * v * (p / a) * np.cbrt(p / a)


@kernel
def rates(s: Section, flow: float, slope: float, y: float) -> tuple[float, float]:
    """dy/dt and dx/dt at depth y (see the head of this file)."""
    a = area(s, y)
    p = wetted_perimeter(s, y)
    v = flow / a
    n = composite_manning(s, p)
    friction = n * n * v * v * (p / a) * np.cbrt(p / a)
    return friction - slope, 1.0 - v * v * top_width(s, y) / (GRAVITY * a)


@kernel
def _surface_rates(s: Section, flow: float, slope: float, y: float) -> tuple[float, float]:
    """The rates of a free surface, held at those just below the roof where a trial step overshoots it."""
    return rates(s, flow, slope, min(y, UNDER_ROOF * clear_height(s)))


@kernel
def _step(
    s: Section, flow: float, slope: float, y: float, f1: float, g1: float, h: float
) -> tuple[float, float, float, float, float, float]:
    """One Dormand-Prince step: change of y and x, rates at its end, error of y and of x."""
    f2, _ = _surface_rates(s, flow, slope, y + h * f1 / 5.0)
    f3, g3 = _surface_rates(s, flow, slope, y + h * (3.0 / 40.0 * f1 + 9.0 / 40.0 * f2))
    f4, g4 = _surface_rates(s, flow, slope, y + h * (44.0 / 45.0 * f1 - 56.0 / 15.0 * f2 + 32.0 / 9.0 * f3))
    f5, g5 = _surface_rates(
        s,
        flow,
        slope,
        y + h * (19372.0 / 6561.0 * f1 - 25360.0 / 2187.0 * f2 + 64448.0 / 6561.0 * f3 - 212.0 / 729.0 * f4),
    )
    f6, g6 = _surface_rates(
        s,
        flow,
        slope,
        y
        + h
        * (
            9017.0 / 3168.0 * f1 - 355.0 / 33.0 * f2 + 46732.0 / 5247.0 * f3 + 49.0 / 176.0 * f4 - 5103.0 / 18656.0 * f5
        ),
    )
    b1, b3, b4, b5, b6 = 35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0
    dy = h * (b1 * f1 + b3 * f3 + b4 * f4 + b5 * f5 + b6 * f6)
    dx = h * (b1 * g1 + b3 * g3 + b4 * g4 + b5 * g5 + b6 * g6)
    f7, g7 = _surface_rates(s, flow, slope, y + dy)
    e1, e3, e4 = 71.0 / 57600.0, -71.0 / 16695.0, 71.0 / 1920.0
    e5, e6, e7 = -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0
    error_y = h * (e1 * f1 + e3 * f3 + e4 * f4 + e5 * f5 + e6 * f6 + e7 * f7)
    error_x = h * (e1 * g1 + e3 * g3 + e4 * g4 + e5 * g5 + e6 * g6 + e7 * g7)
    return dy, dx, f7, g7, error_y, error_x


@kernel
def _land(
    s: Section,
    flow: float,
    slope: float,
    y: float,
    rate: tuple[float, float],
    h: float,
    covered: tuple[float, float],
    remaining: float,
) -> float:
    """Depth exactly `remaining` upstream, inside a step of size h that covers more.

    Where in the step comes from the cubic through both ends of x(t); the step is then taken that far, and the tiny
    gap that is left is closed along the slope of the surface.
    """
    f, g = rate
    dx, g_end = covered
    square, cube = 3.0 * dx - h * (2.0 * g + g_end), h * (g + g_end) - 2.0 * dx
    share = remaining / dx
    for _ in range(4):
        x = share * (h * g + share * (square + share * cube))
        gradient = h * g + share * (2.0 * square + 3.0 * share * cube)
        share = min(1.0, max(0.0, share + (remaining - x) / gradient))
    dy, reached, f_there, g_there, _, _ = _step(s, flow, slope, y, f, g, h * share)
    return y + dy + (remaining - reached) * f_there / g_there


@kernel
def _step_to(
    s: Section, flow: float, slope: float, y: float, rate: tuple[float, float], h: float, target: float
) -> tuple[float, float, float]:
    """Step size that ends at the target depth, the distance it covers and dx/dt at its end."""
    f, g = rate
    dy, dx, f_end, g_end, _, _ = _step(s, flow, slope, y, f, g, h)
    for _ in range(8):
        h += (target - y - dy) / f_end
        dy, dx, f_end, g_end, _, _ = _step(s, flow, slope, y, f, g, h)
        if abs(target - y - dy) < 1e-10 * target:
            break
    return h, dx, g_end


@kernel
def _next_joint(s: Section, y: float, rising: bool, critical: float) -> float:
    """Where a profile must stop on its way: the roof or critical depth, or sooner where the section has a joint."""
    roof = clear_height(s)
    joint = roof
    if s.shape == ARCH:
        joint = s.wall_height - s.silt
    elif s.shape == RECTANGLE:
        joint = (1.0 - ROOF_SHARE) * s.rise - s.silt
    if rising:
        return joint if y < joint * (1.0 - 1e-12) else roof
    return joint if critical < joint < y * (1.0 - 1e-12) else critical


@kernel
def _shortened(h: float, f: float, g: float, y: float, target: float, remaining: float) -> float:
    """A step no longer than to the end of the reach, to a little past the target, and a tenth of the depth."""
    h = min(h, 0.1 * y / abs(f), 1.2 * abs(target - y) / abs(f))
    return min(h, 1.02 * remaining / g) if g > 0.0 else h


@kernel
def _free_surface(s: Section, flow: float, slope: float, length: float, depth: float, critical: float) -> float:
    """Depth `length` upstream of a depth between critical and the roof."""
    y = depth
    f, g = _surface_rates(s, flow, slope, y)
    if f <= 0.0 and y <= critical * (1.0 + 1e-9):
        return critical
    rising = f > 0.0
    target = _next_joint(s, y, rising, critical)
    remaining = length
    h = 0.25 * length / max(g, 0.05)
    for _ in range(MOST_STEPS):
        if abs(f) * remaining < 1e-9 * g * y:
            break
        h = _shortened(h, f, g, y, target, remaining)
        dy, dx, f_end, g_end, error_y, error_x = _step(s, flow, slope, y, f, g, h)
        error = max(abs(error_y), abs(f * error_x)) / (TOLERANCE * y)
        if not error <= 1.0:
            h *= max(0.2, 0.9 * error**-0.2) if error < 1e9 else 0.2
            continue
        if f * f_end < 0.0 and abs(dy) > 1e-9 * y:
            h *= 0.5  # the step would pass normal depth
            continue
        passed = (y + dy - target) * f > 0.0
        if passed:
            h, dx, g_end = _step_to(s, flow, slope, y, (f, g), h, target)
        if dx >= remaining:
            return _land(s, flow, slope, y, (f, g), h, (dx, g_end), remaining)
        remaining -= dx
        if passed:
            y = target
            if y == clear_height(s):
                return y + rates(s, flow, slope, y)[0] * remaining
            if y == critical:
                break
            f, g = _surface_rates(s, flow, slope, y)
            target = _next_joint(s, y, rising, critical)
        else:
            y += dy
            to_normal = f_end * dy / (f - f_end)
            if abs(f_end) < abs(f) and abs(to_normal) < TOLERANCE * y:
                return y + to_normal
            f, g = f_end, g_end
            h *= min(5.0, 0.9 * max(error, 1e-4) ** -0.2)
    return y


@kernel
def swift_end(s: Section, flow: float, slope: float, start: float, length: float) -> tuple[float, float]:
    """Depth `length` downstream of a start at or under critical depth on a steep bed [m], and time until there [s].

    The same equation run the other way: under critical depth dx/dt is negative, so the steps go downstream. The depth
    sinks from critical towards normal depth (an S2 curve); `start` is to lie above normal depth.
    """
    y, left, time = start, length, 0.0
    f, g = _surface_rates(s, flow, slope, y)
    h = 0.25 * length
    for _ in range(MOST_STEPS):
        if abs(f) * left < -1e-7 * g * y:
            break
        h = min(h, 0.05 * y / abs(f))
        if g < 0.0:
            h = min(h, -1.02 * left / g)
        dy, dx, f_end, g_end, error_y, error_x = _step(s, flow, slope, y, f, g, h)
        error = max(abs(error_y), abs(f * error_x)) / (TOLERANCE * y)
        if not error <= 1.0:
            h *= max(0.2, 0.9 * error**-0.2) if error < 1e9 else 0.2
            continue
        if f * f_end < 0.0 and abs(dy) > 1e-9 * y:
            h *= 0.5  # the step would pass normal depth
            continue
        if -dx >= left:
            end = _land(s, flow, slope, y, (f, g), h, (dx, g_end), -left)
            return end, time + 0.5 * left * (area(s, y) + area(s, end)) / flow
        left += dx
        time -= 0.5 * dx * (area(s, y) + area(s, y + dy)) / flow
        y += dy
        f, g = f_end, g_end
        h *= min(5.0, 0.9 * max(error, 1e-4) ** -0.2)
    return y, time + left * area(s, y) / flow


@kernel
def depth_upstream(s: Section, flow: float, slope: float, length: float, depth_downstream: float) -> float:
    """Depth `length` upstream of a section with the given depth, subcritical or pressurised [m].

    Parameters
    ----------
    s : section of the reach or barrel
    flow : [m3/s], per barrel
    slope : fall of the bed per length, positive downstream; negative and zero allowed [-]
    length : [m]
    depth_downstream : above the bed there [m]; taken as critical depth if lower. Above the roof it is a pressure depth.

    Returns
    -------
    Depth above the bed at the upstream end [m]. It never passes normal depth, and never falls below critical
    depth: on a steep bed the profile ends at critical depth, upstream of which the flow is supercritical.
    """
    return depth_above(s, flow, critical_depth(s, flow), slope, length, depth_downstream)


@kernel
def depth_above(
    s: Section, flow: float, critical: float, slope: float, length: float, depth_downstream: float
) -> float:
    """`depth_upstream` where the critical depth is known already."""
    y = max(depth_downstream, critical)
    if length <= 0.0:
        return y
    if flow <= 0.0 or y == inf:
        return max(y - slope * length, 0.0)
    roof = clear_height(s)
    if y < roof:
        return _free_surface(s, flow, slope, length, y, critical)
    gradient, _ = rates(s, flow, slope, roof)
    end = y + gradient * length
    if gradient >= 0.0 or end >= roof:
        return end
    return _free_surface(s, flow, slope, length - (roof - y) / gradient, roof, critical)


@kernel
def is_steep(s: Section, flow: float, slope: float) -> bool:
    """True when normal flow would be supercritical: friction at critical depth is less than the slope of the bed."""
    return rates(s, flow, slope, critical_depth(s, flow))[0] < 0.0
