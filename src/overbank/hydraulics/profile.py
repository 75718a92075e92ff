"""Gradually varied flow: the water surface carried upstream along a reach or a barrel, or down a steep barrel.

The section being the same all along, the distance is an integral over the depth alone (x upstream):

    dx = g / f dy,    f = Sf(y) - S,    g = 1 - Fr(y)^2.

g / f is smooth through critical depth, where dy/dx is endless, and grows without end towards normal depth, which is
therefore never passed. A step of depth is integrated by the rule of Lobatto with five points, whose miss is told by
Simpson's with three of them, and is halved until that is small.

Source: V. T. Chow (1959), "Open-Channel Hydraulics", chapter 9; direct integration, chapter 10 (from memory,
unverified). The rule: `quadrature`.
"""

from __future__ import annotations

from math import inf, sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.quadrature import FIVE, INNER, PLACES, Values, distance, share_over
from overbank.hydraulics.sections import (
    ARCH,
    RECTANGLE,
    TRACED,
    Section,
    area,
    clear_height,
    rough_perimeter,
    top_width,
    wetted_perimeter,
)
from overbank.hydraulics.traced import ROOF_SHARE, joint_above, joint_below
from overbank.hydraulics.uniform import critical_depth

TOLERANCE = 5e-5
"""Miss of the rule of three points allowed a step, as a share of the depth; that of five is far less: of 60 000
random crossings no level was further than 0.05 mm from that found with seven points and a fifth of it."""

LEAST_CHANGE = 1e-7
"""Change of depth in a step that is not halved, and distance to normal depth that is none, as a share of the depth."""

UNDER_ROOF = 1.0 - 1e-12
"""Share of a closed section's height up to which its surface is free; above, pressure runs in a straight line."""

INSIDE = 1.0 - 1e-9
"""Share of a step at which its end is computed: a joint of the section belongs to the step that comes to it."""

MOST_STEPS = 1000
"""A profile takes one to thirty steps; in a sliver of a barrel round-off would let it take any number."""


@kernel
def friction_slope(s: Section, flow: float, y: float) -> float:
    """Slope of the energy line by Manning, Sf = (n V)^2 / R^(4/3), at depth y [-].

    As V^2 r^(4/3) with r = n^1.5 P / A, in which bed and walls of unlike roughness are a sum (`rough_perimeter`).
    """
    a = area(s, y)
    return _friction(s, y, a, flow / a)


@kernel
def _friction(s: Section, y: float, a: float, v: float) -> float:
    r = max(rough_perimeter(s, wetted_perimeter(s, y)) / a, 0.0)  # round-off in a sliver of a barrel
    return v * v * r ** (4.0 / 3.0)


@kernel
def rates(s: Section, flow: float, slope: float, y: float) -> tuple[float, float]:
    """f = Sf - S and g = 1 - Fr^2 at depth y (see the head of this file)."""
    a = area(s, y)
    v = flow / a
    return _friction(s, y, a, v) - slope, 1.0 - v * v * top_width(s, y) / (GRAVITY * a)


@kernel
def _surface_rates(s: Section, flow: float, slope: float, y: float) -> tuple[float, float]:
    """The rates of a free surface; at the roof itself, those just below it."""
    return rates(s, flow, slope, min(y, UNDER_ROOF * clear_height(s)))


@kernel
def _bent(bend: int, u: float) -> tuple[float, float]:
    """Share of a step's change at the share u of a step that is bent, and its rate [-].

    Width vanishes towards the crown of a round barrel as a square root, which no polynomial follows: a step that ends
    there (bend 1) or begins there (-1) is taken in the root of the distance from it. Any other is straight (0).
    """
    if bend > 0:
        return u * (2.0 - u), 2.0 * (1.0 - u)
    return (u * u, 2.0 * u) if bend < 0 else (u, 1.0)


@kernel
def _value(s: Section, flow: float, slope: float, y: float, change: float, bend: int, place: float) -> float:
    """g / f at a place of a step of depth, over the step as it is bent."""
    share, rate = _bent(bend, 0.5 + 0.5 * place)
    f, g = rates(s, flow, slope, y + share * change)
    return rate * g / f


@kernel
def _values(
    s: Section, flow: float, slope: float, y: float, change: float, first: float, last: float, bend: int
) -> Values:
    """g / f at the five places of a step of depth; `first` and `last` are those at its ends."""
    begin, end = _bent(bend, 0.0)[1] * first, _bent(bend, 1.0)[1] * last
    low = _value(s, flow, slope, y, change, bend, -INNER)
    middle = _value(s, flow, slope, y, change, bend, 0.0)
    return begin, low, middle, _value(s, flow, slope, y, change, bend, INNER), end


@kernel
def _time(s: Section, flow: float, values: Values, y: float, change: float) -> float:
    """Time of the water over a step of depth from y, the integral of A / Q over its distance [s]."""
    volume = 0.0
    for k in range(5):
        volume += FIVE[k] * abs(values[k]) * area(s, y + 0.5 * change * (1.0 + PLACES[k]))
    return 0.5 * abs(change) * volume / flow


@kernel
def _next_joint(s: Section, y: float, rising: bool, critical: float) -> float:
    """Where a profile must stop on its way: the roof or critical depth, or sooner where the section has a joint."""
    roof = clear_height(s)
    joint = roof
    if s.shape == ARCH:
        joint = s.wall_height - s.silt
    elif s.shape == RECTANGLE:
        joint = (1.0 - ROOF_SHARE) * s.rise - s.silt
    elif s.shape == TRACED:
        if rising:
            return joint_above(s.side_slope, s.wall_height, y + s.silt) - s.silt
        joint = joint_below(s.side_slope, s.wall_height, y + s.silt) - s.silt
    if rising:
        return joint if y < joint * (1.0 - 1e-12) else roof
    return joint if critical < joint < y * (1.0 - 1e-12) else critical


@kernel
def _change_to(y: float, g: float, energy: float, rising: bool) -> float:
    """About the change of depth in which the energy changes by so much, for g as it changes in a wide channel [m].

    The way to critical depth where the energy does not fall by so much until there.
    """
    turn = 3.0 * (1.0 - g) / y
    if rising:
        return 2.0 * energy / (g + sqrt(g * g + 2.0 * turn * energy))
    return 2.0 * energy / (g + sqrt(max(g * g - 2.0 * turn * energy, 0.0)))


@kernel
def _bend(s: Section, y: float, end: float) -> int:
    """Whether a step ends or begins at the crown of a barrel that is not flat there (`_bent`)."""
    if s.shape == RECTANGLE:
        return 0
    roof = clear_height(s)
    return 1 if end == roof else -1 if y == roof else 0


@kernel
def _free_surface(s: Section, flow: float, slope: float, length: float, depth: float, critical: float) -> float:
    """Depth `length` upstream of a depth between critical and the roof."""
    y = depth
    f, g = _surface_rates(s, flow, slope, y)
    if f <= 0.0 and y <= critical * (1.0 + 1e-9):
        return critical
    rising, remaining, change = f > 0.0, length, inf
    target = _next_joint(s, y, rising, critical)
    for _ in range(MOST_STEPS):
        if abs(f) * remaining < 1e-9 * g * y:
            break
        change = min(change, 0.3 * y, 1.05 * _change_to(y, g, abs(f) * remaining, rising))
        comes_to_target = change >= abs(target - y) * (1.0 - 1e-9)
        step = target - y if comes_to_target else change if rising else -change
        change = abs(step)
        f_end, g_end = _surface_rates(s, flow, slope, y + INSIDE * step)
        if f * f_end <= 0.0 or abs(f_end) < 0.25 * abs(f):  # nearing normal depth
            to_normal = step * f / (f - f_end)
            if change < LEAST_CHANGE * y:
                return y + to_normal
            change = 0.7 * min(change, abs(to_normal))
            continue
        bend = _bend(s, y, target if comes_to_target else y)
        values = _values(s, flow, slope, y, step, g / f, g_end / f_end, bend)
        covered, miss = distance(values, step)
        if not miss * abs(f_end) <= TOLERANCE * y * max(g, g_end) and change > LEAST_CHANGE * y:
            change *= 0.5
            continue
        if covered >= remaining:
            return y + step * _bent(bend, share_over(values, step, remaining, covered))[0]
        y, f, g, remaining, change = y + step, f_end, g_end, remaining - covered, 2.0 * change
        if comes_to_target:
            y = target
            if y == clear_height(s):
                return y + rates(s, flow, slope, y)[0] * remaining
            if y == critical:
                break
            target = _next_joint(s, y, rising, critical)
            if s.shape == TRACED:  # whose width may jump at a joint
                f, g = rates(s, flow, slope, y + (1.0 - INSIDE) * (target - y))
    return y


@kernel
def swift_end(s: Section, flow: float, slope: float, start: float, length: float) -> tuple[float, float]:
    """Depth `length` downstream of a start at or under critical depth on a steep bed [m], and time until there [s].

    The same integral run the other way: under critical depth g is negative, so the steps go downstream. The depth
    sinks from critical towards normal depth (an S2 curve); `start` is to lie above normal depth.
    """
    y, left, time = start, length, 0.0
    f, g = _surface_rates(s, flow, slope, y)
    change = inf
    for _ in range(MOST_STEPS):
        if abs(f) * left < -1e-7 * g * y:
            break
        change = min(change, 0.1 * y)
        f_end, g_end = _surface_rates(s, flow, slope, y - change)
        if f * f_end <= 0.0 or abs(f_end) < 0.25 * abs(f):  # nearing normal depth
            if change < LEAST_CHANGE * y:
                break
            change = 0.7 * min(change, change * f / (f - f_end))
            continue
        values = _values(s, flow, slope, y, -change, g / f, g_end / f_end, 0)
        covered, miss = distance(values, -change)
        if not miss * abs(f_end) <= TOLERANCE * y * max(-g, -g_end) and change > LEAST_CHANGE * y:
            change *= 0.5
            continue
        if -covered >= left:
            last = -change * share_over(values, -change, -left, covered)
            f_end, g_end = _surface_rates(s, flow, slope, y + last)
            values = _values(s, flow, slope, y, last, g / f, g_end / f_end, 0)
            return y + last, time + _time(s, flow, values, y, last)
        left += covered
        time += _time(s, flow, values, y, -change)
        y, f, g, change = y - change, f_end, g_end, 2.0 * change
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
