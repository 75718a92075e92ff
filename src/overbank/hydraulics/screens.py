"""An inlet screen, clean or partly blocked: the level upstream of it.

One law for every pattern of blockage, drowned, part-drowned and free (own synthesis of two published parts):

    Qs = Cd sqrt(2g) * integral over the open height of w(z) sqrt(min(hu - z, hu - hd)) dz

with heights above the sill, hu upstream, hd behind. One coefficient serves drowned and free parts, tied to the
loss coefficient of the drowned screen: Cd(f) = 1 / (f sqrt(zeta)), f the net over gross area, and

    zeta = max( sin^2 a (1/(f Cc) - 1)^2 ,  clean zeta / (1 - B)^2 ),   Cc = 0.62 + 0.38 f^3

(contraction by the Weisbach fit, from memory, and sudden expansion by Borda-Carnot). The contraction law is met by the
table of square-edged screens in R. D. Blevins (1984), "Applied Fluid Dynamics Handbook", to -6/+8 % for f 0.2-0.6 but
runs 26 to 46 % low at f 0.7-0.8. So that nearly clean bars do not escape control at their own slots, the flow is also
held to that of a free slot with Cd 0.6.

Inclined bars, at an angle a above the horizontal: the clear area lies along the bars, 1/sin a times the upright one, so
the velocity through it is sin a times as great, its head sin^2 a. The clean form has its own sin a. That the flow meets
the plane of the bars square on is own reading (at 60 degrees it takes a quarter off the loss by debris).
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.weirs import villemonte

UNIFORM, FLOATING_RAFT, BOTTOM_UP = 0.0, 1.0, 2.0
"""Patterns of blockage: spread over the screen, closed from the surface down, closed from the bottom up."""

FREE_SLOT_COEFFICIENT = 0.6
SHUT = 1.0 - 1e-6
"""A blockage from here on leaves no way through."""


@kernel
def clear_ratio(bar: float, gap: float) -> float:
    """Clear over gross area of clean bars: gap / (gap + bar) [-]."""
    return gap / (gap + bar)


@kernel
def contraction_loss(f: float) -> float:
    """Loss coefficient on the gross velocity of a screen with net over gross area f: (1/(f Cc) - 1)^2 [-]."""
    contraction = 0.62 + 0.38 * f * f * f
    shortfall = 1.0 / (f * contraction) - 1.0
    return shortfall * shortfall


@kernel
def screen_loss(clear: float, clean_loss: float, blockage: float, lean: float = 1.0) -> float:
    """Loss coefficient on the gross upright velocity of a screen of given clean loss, blocked by debris [-].

    clear : clear ratio of the clean bars; clean_loss : of the clean bars; blockage : share of the clear area, 0 to 1;
    lean : sine of the inclination, 1 for an upright screen.
    """
    left = 1.0 - blockage
    return max(lean * lean * contraction_loss(clear * left), clean_loss / (left * left))


@kernel
def slot_flow(coefficient: float, width: float, low: float, high: float, head_up: float, head_down: float) -> float:
    """Flow through an opening of constant width between two heights, free and drowned parts added [m3/s].

    Cd sqrt(2g) w { (a - z1) sqrt(hu - hd) + 2/3 [(hu - a)^1.5 - (hu - z2)^1.5] },  a = hd held within z1..z2

    coefficient : Cd [-]; width : net width [m]; low, high : z1, z2 above the sill [m];
    head_up, head_down : levels above the sill [m], head_down negative for a free fall.
    """
    top = min(high, head_up)
    if top <= low or head_up <= head_down:
        return 0.0
    a = min(max(head_down, low), top)
    drowned = (a - low) * sqrt(max(head_up - head_down, 0.0)) if a > low else 0.0
    free = 0.0
    if top > a:  # u^3 - v^3 = (u^2 - v^2) (u^2 + u v + v^2) / (u + v), which keeps its digits when u and v are close
        u, v = sqrt(head_up - a), sqrt(head_up - top)
        free = (top - a) * (u * u + u * v + v * v) / (u + v)
    return coefficient * sqrt(2.0 * GRAVITY) * width * (drowned + 2.0 / 3.0 * free)


@kernel
def opening_flow(
    width: float,
    height: float,
    clear: float,
    loss: float,
    free_coefficient: float,
    blockage: float,
    pattern: float,
    head_up: float,
    head_down: float,
    lean: float = 1.0,
) -> float:
    """Flow through a screen or a blocked opening [m3/s].

    width, height : gross [m]; clear : clear ratio of clean bars; loss : `screen_loss`; free_coefficient : Cd of the
    free slot that the flow is held to (`inf` for none); blockage 0 to 1 with its pattern; heads above the sill [m];
    lean : sine of the inclination, by which the free slot along the bars is longer.

    A floating raft closes the share `blockage` of the depth of water, but of no more than the screen's height.
    """
    left = 1.0 - blockage
    if pattern == UNIFORM:
        low, high, net, drowned_width = 0.0, height, width * clear * left / lean, width / sqrt(loss)
    else:
        net, drowned_width = width * clear / lean, width / (left * sqrt(loss))
        if pattern == FLOATING_RAFT:
            low, high = 0.0, left * min(head_up, height)
        else:
            low, high = blockage * height, height
    flow = slot_flow(1.0, drowned_width, low, high, head_up, head_down)
    if free_coefficient < inf:
        flow = min(flow, slot_flow(free_coefficient, net, low, high, head_up, -inf))
    return flow


@kernel
def overflow(head_up: float, head_down: float, top: float, width: float, coefficient: float) -> float:
    """Flow over the top of a screen [m3/s], a weir drowned from behind; coefficient 0 for none [m^0.5/s]."""
    head = head_up - top
    if head <= 0.0 or coefficient <= 0.0:
        return 0.0
    return coefficient * width * head * sqrt(head) * villemonte((head_down - top) / head, 1.5)


class Bypass(NamedTuple):
    """An open way beside the bars to the same barrels, a bypass or an emergency overflow; width 0 for none.

    top : height of its sill above that of the screen [m]; coefficient : of the weir that it is [m^0.5/s]
    """

    width: float
    top: float
    coefficient: float


NO_BYPASS = Bypass(0.0, 0.0, 0.0)


@kernel
def around_bars(
    head_up: float, head_down: float, height: float, width: float, coefficient: float, bypass: Bypass
) -> float:
    """Flow over the top of a screen and beside it [m3/s]: both are weirs drowned from behind (`overflow`)."""
    over = overflow(head_up, head_down, height, width, coefficient)
    return over + overflow(head_up, head_down, bypass.top, bypass.width, bypass.coefficient)


@kernel
def _head_through(flow: float, behind: float, drowned_width: float) -> float:
    """Head upstream of a slot open all the way up [m], for the head behind it: `slot_flow` solved for u^2 = hu - hd.

    2/3 u^3 + hd u = Q / (w sqrt(2g)), by Newton's method from above, which never passes the root.
    """
    wanted = flow / (drowned_width * sqrt(2.0 * GRAVITY))
    u = np.cbrt(1.5 * wanted)
    if behind > 0.0:
        u = min(u, wanted / behind)
    for _ in range(50):
        step = ((2.0 / 3.0 * u * u + behind) * u - wanted) / (2.0 * u * u + behind)
        u -= step
        if step < 1e-9 * u:
            break
    return behind + u * u


@kernel
def screen_head(
    flow: float,
    head_down: float,
    width: float,
    height: float,
    clear: float,
    clean_loss: float,
    free_coefficient: float,
    blockage: float,
    pattern: float,
    overflow_coefficient: float,
    lean: float = 1.0,
    bypass: Bypass = NO_BYPASS,
) -> float:
    """Head above the sill upstream of the screen [m]; `inf` when there is no way through.

    The flows through the bars, over the top and beside them all rise with the level upstream, so the level is
    bracketed, never stepped on to: at equal levels the drowned law is infinitely steep. For no flow: the level of the
    least flow, which is the lip of the opening where that stands above the water behind.
    """
    behind = max(head_down, 0.0)
    shut = blockage >= SHUT
    if behind == inf or (shut and overflow_coefficient <= 0.0 and bypass.width <= 0.0):
        return inf
    if flow <= 0.0:
        over_top = height if overflow_coefficient > 0.0 else inf
        lip = over_top if shut else blockage * height if pattern == BOTTOM_UP else 0.0
        return max(behind, min(lip, bypass.top) if bypass.width > 0.0 else lip)
    loss = 1.0 if shut else screen_loss(clear, clean_loss, blockage, lean)
    if loss < 1e-12:
        return behind
    if pattern == UNIFORM and not shut:
        drowned = _head_through(flow, behind, width / sqrt(loss))
        if drowned <= height and (bypass.width <= 0.0 or drowned <= bypass.top):
            net = width * clear * (1.0 - blockage) / lean
            if free_coefficient == inf or slot_flow(free_coefficient, net, 0.0, height, drowned, -inf) >= flow:
                return drowned
    low = behind
    velocity = flow / (width * max(min(behind, height), 0.05 * height))
    high = behind + 2.0 * loss * velocity * velocity / (2.0 * GRAVITY) + 1e-6
    high = min(high, behind + height)
    f_low = -flow
    f_high = -flow
    for _ in range(200):
        through = (
            0.0
            if shut
            else opening_flow(width, height, clear, loss, free_coefficient, blockage, pattern, high, head_down, lean)
        )
        f_high = through + around_bars(high, head_down, height, width, overflow_coefficient, bypass) - flow
        if f_high >= 0.0:
            break
        low, f_low = high, f_high
        high = behind + 2.0 * (high - behind)
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-8):
        x = roots.propose(bracket)
        through = (
            0.0
            if shut
            else opening_flow(width, height, clear, loss, free_coefficient, blockage, pattern, x, head_down, lean)
        )
        f = through + around_bars(x, head_down, height, width, overflow_coefficient, bypass) - flow
        bracket = roots.narrow(bracket, x, f)
    return roots.best(bracket)
