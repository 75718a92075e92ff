"""Critical and normal depth, and depths of equal energy.

Critical flow: Q^2 T = g A^3. Normal flow: Q = K sqrt(S), K by Manning. Specific energy E = y + Q^2 / (2 g A^2).
Sources: V. T. Chow (1959) "Open-Channel Hydraulics", chapters 3 to 6; values in tests/published.
"""

from __future__ import annotations

from math import exp, inf, log, sqrt

import numpy as np

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.sections import (
    RECTANGLE,
    Section,
    area,
    clear_height,
    conveyance,
    top_width,
)

LEAST = 1e-300
"""Keeps logarithms finite where an area or a width vanishes."""

SECANT = 1e-6
"""The last step of secants in ln y [-]; what is left after it is a ten-thousandth of it."""


@kernel
def velocity_head(s: Section, flow: float, y: float) -> float:
    """V^2 / 2g at depth y [m]; 0 for no flow."""
    if flow <= 0.0:
        return 0.0
    v = flow / area(s, y)
    return v * v / (2.0 * GRAVITY)


@kernel
def specific_energy(s: Section, flow: float, y: float) -> float:
    """E = y + V^2 / 2g above the bed [m]; in a full barrel y is the pressure depth."""
    return y + velocity_head(s, flow, y)


@kernel
def froude_squared(s: Section, flow: float, y: float) -> float:
    """Fr^2 = Q^2 T / (g A^3); 0 in a full barrel, which has no free surface."""
    a = area(s, y)
    return flow * flow * top_width(s, y) / (GRAVITY * a * a * a)


@kernel
def _criticality(s: Section, flow: float, log_y: float) -> float:
    """ln Fr^2 against ln y: nearly a straight line, so the root is found in a few steps."""
    y = exp(log_y)
    a = max(area(s, y), LEAST)
    return log(flow * flow / GRAVITY) + log(max(top_width(s, y), LEAST)) - 3.0 * log(a)


@kernel
def _critical_under_the_sky(s: Section, flow: float) -> float:
    """Critical depth in an open channel, by secants through ln Fr^2 against ln y [m]."""
    last = 0.2 * log(flow * flow / GRAVITY)  # of a channel as wide as it is deep
    f_last = _criticality(s, flow, last)
    here = last + 0.25 * f_last
    while abs(here - last) > SECANT:
        f = _criticality(s, flow, here)
        if f == f_last:
            break
        last, f_last, here = here, f, here - f * (here - last) / (f - f_last)
    return exp(here)


@kernel
def critical_depth(s: Section, flow: float) -> float:
    """Critical depth [m], Q^2 T = g A^3; never above the roof of a box.

    In a round or arched barrel the surface narrows to nothing at the crown, so a critical depth exists below
    it for any flow. 0 for no flow.
    """
    if flow <= 0.0:
        return 0.0
    roof = clear_height(s)
    if s.shape == RECTANGLE:
        return min(np.cbrt((flow / s.width) ** 2 / GRAVITY), roof)
    if roof == inf:
        return _critical_under_the_sky(s, flow)
    high = log(roof * (1.0 - 1e-9))
    f_high = _criticality(s, flow, high)
    if f_high >= 0.0:
        return exp(high)
    low = high - 1.0
    f_low = _criticality(s, flow, low)
    while f_low < 0.0 and low > -60.0:
        high, f_high = low, f_low
        low -= 2.0
        f_low = _criticality(s, flow, low)
    if f_low <= 0.0:
        return exp(low)
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-11):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _criticality(s, flow, x))
    return exp(roots.best(bracket))


@kernel
def critical_energy(s: Section, flow: float) -> float:
    """Specific energy at critical depth: the least with which the flow can pass [m]."""
    if flow <= 0.0:
        return 0.0
    return specific_energy(s, flow, critical_depth(s, flow))


@kernel
def _normal_excess(s: Section, flow: float, slope: float, y: float) -> float:
    return log(max(conveyance(s, y), LEAST)) + 0.5 * log(slope) - log(flow)


@kernel
def _normal_under_the_sky(s: Section, flow: float, slope: float) -> float:
    """Normal depth in an open channel, whose conveyance rises all the way: secants through ln K against ln y [m]."""
    last, f_last = 0.0, _normal_excess(s, flow, slope, 1.0)
    here = last - 0.5 * f_last  # K goes with y to the power of 5/3 where it is wide, of 8/3 where it is a notch
    while abs(here - last) > SECANT:
        f = _normal_excess(s, flow, slope, exp(here))
        if f == f_last:
            break
        last, f_last, here = here, f, here - f * (here - last) / (f - f_last)
    return exp(here)


@kernel
def normal_depth(s: Section, flow: float, slope: float) -> float:
    """Normal depth by Manning, the lowest root of K(y) sqrt(S) = Q [m].

    `inf` when there is none: the bed is level or rises, or a closed barrel cannot carry the flow with a free surface.
    Near the crown of a closed barrel a second, unstable root exists; it is not returned.
    """
    if flow <= 0.0:
        return 0.0
    if slope <= 0.0:
        return inf
    roof = clear_height(s)
    if roof == inf:
        return _normal_under_the_sky(s, flow, slope)
    high = 0.9 * roof
    f_high = _normal_excess(s, flow, slope, high)
    low, f_low = high, f_high
    while f_high < 0.0:
        low, f_low = high, f_high
        high += 0.01 * roof
        if high > 1.001 * roof:
            return inf
        f_high = _normal_excess(s, flow, slope, high)
    while f_low > 0.0 and low > 1e-12:
        high, f_high = low, f_low
        low *= 0.2
        f_low = _normal_excess(s, flow, slope, low)
    if f_low > 0.0:
        return low
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-11):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _normal_excess(s, flow, slope, x))
    return roots.best(bracket)


@kernel
def subcritical_depth(s: Section, flow: float, energy: float) -> float:
    """The deeper of the two depths with the given specific energy [m]; critical depth if the energy is less.

    E(y) is convex between critical depth and the surface of an infinitely deep pool, so Newton's method started
    at y = E walks down to the root without ever passing it.
    """
    if energy == inf:
        return inf
    y = energy
    for _ in range(100):
        a = area(s, y)
        head = flow * flow / (2.0 * GRAVITY * a * a) if flow > 0.0 else 0.0
        slope = 1.0 - 2.0 * head * top_width(s, y) / a if y > 0.0 else 0.0
        if not slope > 0.01:
            break  # close to critical depth or below it
        step = (y + head - energy) / slope
        y -= step
        if abs(step) < 1e-8 * y:  # the next would be of the order of its square
            return y
    critical = critical_depth(s, flow)
    if energy <= specific_energy(s, flow, critical):
        return critical
    y = energy
    for _ in range(100):
        slope = max(1.0 - froude_squared(s, flow, y), 1e-9)
        step = (specific_energy(s, flow, y) - energy) / slope
        y = max(y - step, critical)
        if abs(step) < 1e-11:
            break
    return y


@kernel
def froude(s: Section, flow: float, y: float) -> float:
    """Froude number V / sqrt(g A / T)."""
    return sqrt(froude_squared(s, flow, y))
