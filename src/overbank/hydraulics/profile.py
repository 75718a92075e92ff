"""Gradually varied subcritical flow: the water surface carried upstream along a reach or a barrel.

The equation dy/dx = (Sf - S) / (1 - Fr^2), x upstream, is singular at critical depth. Written with a parameter t,

    dy/dt = Sf(y) - S,      dx/dt = 1 - Fr(y)^2,

it is smooth everywhere: it leaves critical depth at an outfall without a special start, slows down towards normal
depth without passing it, and runs on as a straight pressure line when a barrel fills (Fr = 0 there).

Solved by the Dormand-Prince 5(4) pair with error control: J. R. Dormand and P. J. Prince (1980), "A family of
embedded Runge-Kutta formulae", J. Comp. Appl. Math. 6(1) 19-26. Equation: V. T. Chow (1959), chapter 9.
"""

from __future__ import annotations

import numpy as np

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.sections import (
    Section,
    area,
    clear_height,
    composite_manning,
    top_width,
    wetted_perimeter,
)
from overbank.hydraulics.uniform import critical_depth

TOLERANCE = 1e-6
"""Error allowed a step, as a share of the depth and of the length."""


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
def _step(
    s: Section, flow: float, slope: float, y: float, f1: float, g1: float, h: float
) -> tuple[float, float, float, float, float, float]:
    """One Dormand-Prince step: change of y and x, rates at its end, error of y and of x."""
    f2, g2 = rates(s, flow, slope, y + h * f1 / 5.0)
    f3, g3 = rates(s, flow, slope, y + h * (3.0 / 40.0 * f1 + 9.0 / 40.0 * f2))
    f4, g4 = rates(s, flow, slope, y + h * (44.0 / 45.0 * f1 - 56.0 / 15.0 * f2 + 32.0 / 9.0 * f3))
    f5, g5 = rates(
        s,
        flow,
        slope,
        y
        + h
        * (
            19372.0 / 6561.0 * f1
            - 25360.0 / 2187.0 * f2
            + 64448.0 / 6561.0 * f3
            - 212.0 / 729.0 * f4
        ),
    )
    f6, g6 = rates(
        s,
        flow,
        slope,
        y
        + h
        * (
            9017.0 / 3168.0 * f1
            - 355.0 / 33.0 * f2
            + 46732.0 / 5247.0 * f3
            + 49.0 / 176.0 * f4
            - 5103.0 / 18656.0 * f5
        ),
    )
    b1, b3, b4, b5, b6 = 35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0
    dy = h * (b1 * f1 + b3 * f3 + b4 * f4 + b5 * f5 + b6 * f6)
    dx = h * (b1 * g1 + b3 * g3 + b4 * g4 + b5 * g5 + b6 * g6)
    f7, g7 = rates(s, flow, slope, y + dy)
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
def _step_to_critical(
    s: Section, flow: float, slope: float, y: float, rate: tuple[float, float], h: float, drop: float
) -> tuple[float, float, float]:
    """Step size that ends at critical depth, `drop` below y; the distance it covers and dx/dt at its end."""
    f, g = rate
    dy, dx, f_end, g_end, _, _ = _step(s, flow, slope, y, f, g, h)
    for _ in range(4):
        h += (-drop - dy) / f_end
        dy, dx, f_end, g_end, _, _ = _step(s, flow, slope, y, f, g, h)
        if abs(drop + dy) < 1e-9 * y:
            break
    return h, dx, g_end


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
    critical = critical_depth(s, flow)
    y = max(depth_downstream, critical)
    if flow <= 0.0:
        return max(y - slope * length, 0.0)
    f, g = rates(s, flow, slope, y)
    if f <= 0.0 and y <= critical * (1.0 + 1e-9):
        return critical
    depth_scale = TOLERANCE * min(y, clear_height(s))
    remaining = length
    h = min(0.1 * depth_scale / (TOLERANCE * max(abs(f), 1e-12)), 0.25 * length / max(g, 0.05))
    for _ in range(10_000):
        if g > 0.0:
            if abs(f) * remaining < 1e-9 * g * y:
                return y
            h = min(h, 1.02 * remaining / g)
        dy, dx, f_end, g_end, error_y, error_x = _step(s, flow, slope, y, f, g, h)
        error = max(abs(error_y) / depth_scale, abs(error_x) / (TOLERANCE * length))
        if not error <= 1.0:
            h *= max(0.2, 0.9 * error**-0.2) if error < 1e9 else 0.2
        elif f * f_end < 0.0 and abs(dy) > 1e-9 * y:
            h *= 0.5  # the step would pass normal depth
        elif y + dy < critical:
            h, dx, g_end = _step_to_critical(s, flow, slope, y, (f, g), h, y - critical)
            if dx <= remaining:
                return critical
            return _land(s, flow, slope, y, (f, g), h, (dx, g_end), remaining)
        elif dx >= remaining:
            return _land(s, flow, slope, y, (f, g), h, (dx, g_end), remaining)
        else:
            remaining -= dx
            y += dy
            f, g = f_end, g_end
            h *= min(5.0, 0.9 * max(error, 1e-4) ** -0.2)
    return y


@kernel
def is_steep(s: Section, flow: float, slope: float) -> bool:
    """True when normal flow would be supercritical: friction at critical depth is less than the slope of the bed."""
    return rates(s, flow, slope, critical_depth(s, flow))[0] < 0.0
