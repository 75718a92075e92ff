"""Outlet control of a culvert barrel: the profile through it, part by part, and the losses at its ends.

Source: FHWA, "Hydraulic Design of Highway Culverts", HDS-5, 2nd edition, FHWA-NHI-01-020 (2001), p. 34-48, 70-72, read
in the source except where said. Heads are energy heads above the *inlet* invert, per barrel.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.barrel_parts import (
    NO_SILT,
    Filled,
    Pieces,
    carried_up,
    count,
    is_like_one,
    part_of,
)
from overbank.hydraulics.profile import depth_above, friction_slope
from overbank.hydraulics.sections import Section, area, clear_height, wetted_perimeter, with_silt
from overbank.hydraulics.uniform import critical_depth, froude_squared, velocity_head

STEEP_TO = 0.95
"""Normal over critical depth up to which the inlet alone governs a barrel whose tailwater stays below critical depth.
From there to 1 the level passes to that of outlet control (own choice)."""


class Lay(NamedTuple):
    """How a barrel lies, the water below it, and what is lost at its ends.

    slope, length : of the barrel, or of its first part [-], [m]; tailwater_depth : above the outlet bed [m]
    entrance_loss, exit_loss : Ke and Ko [-] (HDS-5 table 12)
    head_below : velocity head of the water behind, Vd^2/2g [m]; 0 for still water
    outlet_loss : what a flap valve or bars at the outlet lose, on the velocity head in it [-]; 0 for none
    pieces : the parts below the first, None for a barrel of one part; silt : in them
    """

    slope: float
    length: float
    tailwater_depth: float
    entrance_loss: float
    exit_loss: float
    head_below: float = 0.0
    outlet_loss: float = 0.0
    silt: Filled = NO_SILT
    pieces: Pieces | None = None


@kernel
def over_bed(s: Section, lay: Lay, silt: float, silt_n: float) -> Lay:
    """The same with the bed of the bare barrel s raised by silt [m], and that of all its parts by the same share."""
    filled, last = Filled(0.0, 0.0), silt
    if count(lay.pieces) > 0:
        filled = Filled(area(s, silt) / area(s, s.rise), silt_n)
        last = part_of(lay.pieces, count(lay.pieces) - 1, filled).section.silt
    depth = lay.tailwater_depth - last
    ends = (lay.entrance_loss, lay.exit_loss, lay.head_below, lay.outlet_loss)
    return Lay(lay.slope, lay.length, depth, *ends, filled, lay.pieces)


@kernel
def _energy_behind(s: Section, flow: float, y: float, exit_loss: float, head_below: float) -> float:
    """Energy left behind the outlet at depth y in it: y + V^2/2g - Ko (V^2/2g - Vd^2/2g) [m]."""
    head = velocity_head(s, flow, y)
    return y + head - exit_loss * max(head - head_below, 0.0)


@kernel
def _open_depth(s: Section, flow: float, critical: float, lay: Lay) -> float:
    """`mouth_depth` with nothing before the outlet [m]."""
    depth, head_below, loss = lay.tailwater_depth, lay.head_below, min(lay.exit_loss, 1.0)
    if depth == inf:
        return inf
    if loss >= 1.0 and (head_below <= 0.0 or velocity_head(s, flow, max(depth, critical)) >= head_below):
        return max(depth, critical)
    energy = depth + head_below
    low = _energy_behind(s, flow, critical, loss, head_below) - energy
    if low >= 0.0:
        return critical
    bracket = roots.start(critical, low, energy, _energy_behind(s, flow, energy, loss, head_below) - energy)
    while roots.is_open(bracket, 1e-10 * energy):
        y = roots.propose(bracket)
        bracket = roots.narrow(bracket, y, _energy_behind(s, flow, y, loss, head_below) - energy)
    return roots.best(bracket)


@kernel
def outlet_depth(s: Section, flow: float, critical: float, lay: Lay) -> float:
    """Depth in the end of the barrel, or of its first part (`barrel_parts`) [m]: never below critical depth."""
    if count(lay.pieces) == 0:
        return mouth_depth(s, flow, critical, lay)
    last = part_of(lay.pieces, count(lay.pieces) - 1, lay.silt).section
    outlet = mouth_depth(last, flow, critical_depth(last, flow), lay)
    return carried_up(s, flow, critical, lay.pieces, lay.silt, outlet)[0]


@kernel
def mouth_depth(s: Section, flow: float, critical: float, lay: Lay) -> float:
    """Depth just inside the outlet, in a section s [m]: never below critical depth.

    The exit loses the difference of the velocity heads, Ko (V^2 - Vd^2)/2g, nothing when the water behind is the
    faster (HDS-5 p. 34-35, eq. 4c): y + V^2/2g - loss = tailwater depth + Vd^2/2g. With Ko = 1 and slower water behind
    the depth is the tailwater's; with less, part of the velocity head is won back.

    A flap or bars at the outlet lose Kf V^2/2g, V that behind them: they lift the depth that would stand there without
    them by as much, with a free outfall too (own reading: the water lifts the flap whatever stands behind it).
    """
    y = _open_depth(s, flow, critical, lay)
    if lay.outlet_loss <= 0.0 or y == inf:
        return y
    high = y + lay.outlet_loss * velocity_head(s, flow, y)
    excess = high - y - lay.outlet_loss * velocity_head(s, flow, high)
    if excess <= 0.0:  # the barrel is full either way
        return high
    bracket = roots.start(y, y - high, high, excess)
    while roots.is_open(bracket, 1e-10 * high):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, x - y - lay.outlet_loss * velocity_head(s, flow, x))
    return roots.best(bracket)


@kernel
def loss_at_critical(entrance_loss: float) -> float:
    """Entrance loss counted on the velocity head at critical depth where the outlet governs [-]; a little below Ke.

    The published head y + (1 + Ke) V^2/2g falls at first as y rises from critical depth, by 3 to 9 % of the velocity
    head there. It is held to the middle between its value at critical depth and its least value, which for a box is
    3/2 yc (1 + Ke)^(1/3); so Ke' = Ke/2 + 3/2 ((1 + Ke)^(1/3) - 1) (own derivation).
    """
    return 0.5 * entrance_loss + 1.5 * (np.cbrt(1.0 + entrance_loss) - 1.0)


@kernel
def mild_share(s: Section, flow: float, critical: float, slope: float) -> float:
    """How far a barrel is mild for the flow: 1 with normal depth above critical, 0 below 0.95 of it [-].

    Between, in proportion to the slope, from that which keeps up 0.95 of critical depth to that of critical depth.
    """
    if slope <= 0.0:
        return 1.0
    shallow = friction_slope(s, flow, STEEP_TO * critical)
    if shallow <= slope:
        return 0.0
    at_critical = friction_slope(s, flow, critical)
    return 1.0 if at_critical >= slope else (shallow - slope) / (shallow - at_critical)


@kernel
def _inlet_end(s: Section, flow: float, critical: float, lay: Lay, start: float) -> tuple[float, float, float]:
    """Depth at the inlet end, published head y + (1 + Ke) V^2/2g there, and whether that rises with the depth.

    The last is 1 - (1 + Ke) Fr^2, positive where it does.
    """
    y = depth_above(s, flow, critical, lay.slope, lay.length, start)
    head = y + (1.0 + lay.entrance_loss) * velocity_head(s, flow, y)
    return y, head, 1.0 - (1.0 + lay.entrance_loss) * froude_squared(s, flow, y)


@kernel
def _drowned_end(s: Section, flow: float, lay: Lay) -> tuple[float, float]:
    """Published head, and whether it rises with the depth at the inlet end (as in `_inlet_end`)."""
    critical = critical_depth(s, flow)
    _, head, margin = _inlet_end(s, flow, critical, lay, outlet_depth(s, flow, critical, lay))
    return head, margin


@kernel
def _highest_before(s: Section, flow: float, lay: Lay, needed: float, dry: float) -> float:
    """Highest published head of any lesser flow that the tailwater drowns up to the inlet [m]; 0 when it is no matter.

    Where a rising flow drives the tailwater out of a steep barrel, the published head steps down to that of inlet
    control. Nothing is looked for that cannot exceed the head `needed` in any case. The least of the published head is
    the most that can be found; it grows with at least the square root of the flow. `dry` is what `_drowned_end` gives
    for the flow itself.
    """
    spent = 1.0 + lay.entrance_loss
    y = np.cbrt(spent) * critical_depth(s, flow)
    most = y + spent * velocity_head(s, flow, y)
    if not needed < most:
        return 0.0
    share = needed / most
    low = flow * max(share * share, 1.0 / sqrt(spent))
    head, drowned = _drowned_end(s, low, lay)
    if not drowned > 0.0:
        return 0.0
    bracket = roots.start(low, drowned, flow, dry)
    while roots.is_open(bracket, 2e-6 * flow):
        q = roots.propose(bracket)
        there, margin = _drowned_end(s, q, lay)
        if margin >= 0.0:
            head = max(head, there)
        bracket = roots.narrow(bracket, q, margin)
    return head


@kernel
def outlet_state(s: Section, flow: float, critical: float, lay: Lay, needed: float) -> tuple[float, float, float]:
    """Outlet-control head above the inlet invert, depth at the inlet end and `outlet_depth` [m].

    H = y + (1 + Ke) V^2/2g, the published head, wherever it rises with y. Nearer to critical depth, where it would
    fall (own derivation):

    - a steep barrel is under inlet control: no less than critical energy, and than the highest head of a lesser flow;
    - a mild one keeps yc + (1 + Ke') Vc^2/2g (`loss_at_critical`), a steep one a share of that loss (`mild_share`).

    - where a flap, bars or a part further down lift the water in a steep one, no less than critical energy of the
      depth at its inlet end, y + A/2T: from critical energy where the S1 curve ends below the inlet to the published
      head where that begins to rise (own choice), so a rising flow finds no step.

    Each of these rises with tailwater, roughness and flow, so the head never falls.

    needed : head that inlet control needs, above which the highest head of a lesser flow is of interest [m]
    """
    start = outlet_depth(s, flow, critical, lay)
    at_critical = velocity_head(s, flow, critical)
    loss = loss_at_critical(lay.entrance_loss)
    mild = -1.0
    if start <= critical:
        mild = mild_share(s, flow, critical, lay.slope)
        if mild <= 0.0:
            return critical + at_critical, critical, start
    y, head, rising = _inlet_end(s, flow, critical, lay, start)
    if rising >= 0.0 and head >= critical + (1.0 + loss) * at_critical:
        return head, y, start
    if mild < 0.0:
        mild = mild_share(s, flow, critical, lay.slope)
    least = critical + (1.0 + mild * loss) * at_critical
    if rising >= 0.0:
        return max(head, least), y, start
    if start > critical and mild < 1.0:
        least = max(_highest_before(s, flow, lay, max(needed, least), rising), least)
        if lay.outlet_loss > 0.0 or not is_like_one(s, lay.slope, lay.pieces, lay.silt):
            least = max(least, y + velocity_head(s, flow, y) / froude_squared(s, flow, y))
    return least, y, start


@kernel
def outlet_head(s: Section, flow: float, lay: Lay) -> float:
    """Outlet-control head above the inlet invert by the profile through the barrel [m] (`outlet_state`).

    flow : per barrel [m3/s]
    """
    return outlet_head_from(s, flow, critical_depth(s, flow), lay, 0.0)[0]


@kernel
def outlet_head_from(s: Section, flow: float, critical: float, lay: Lay, needed: float) -> tuple[float, float]:
    """`outlet_head` where the critical depth is known already, and the depth at the inlet end."""
    if flow <= 0.0:
        end = max(lay.tailwater_depth, 0.0)
        if count(lay.pieces) > 0:
            end, _ = carried_up(s, 0.0, 0.0, lay.pieces, lay.silt, end)
        still = max(end - lay.slope * lay.length, 0.0)
        return still, still
    head, depth, _ = outlet_state(s, flow, critical, lay, needed)
    return head, depth


@kernel
def silted_outlet_head(s: Section, silt: float, silt_n: float, flow: float, lay: Lay) -> tuple[float, float]:
    """Outlet-control head of a barrel with silt along it, never less than with less, and depth at the inlet end [m].

    Both are counted from the old invert.

    Silt may lift a steep barrel out of its tailwater, as a rising flow may (`_highest_before`): then it keeps the head
    of the most silt with which the tailwater still drowned it up to the inlet.
    """
    raised, above = with_silt(s, silt, silt_n), over_bed(s, lay, silt, silt_n)
    head, end = outlet_head_from(raised, flow, critical_depth(raised, flow), above, 0.0)
    head, end = silt + head, silt + end
    _, dry = _drowned_end(raised, flow, above)
    if dry >= 0.0 or flow <= 0.0:
        return head, end
    _, wet = _drowned_end(s, flow, lay)
    if not wet > 0.0:
        return max(head, outlet_head(s, flow, lay)), end
    bracket = roots.start(0.0, wet, silt, dry)
    while roots.is_open(bracket, 1e-7 * s.rise):
        x = roots.propose(bracket)
        there, margin = _drowned_end(with_silt(s, x, silt_n), flow, over_bed(s, lay, x, silt_n))
        if margin >= 0.0:
            head = max(head, x + there)
        bracket = roots.narrow(bracket, x, margin)
    return head, end


@kernel
def full_barrel_head(s: Section, flow: float, lay: Lay) -> float:
    """HDS-5's shortcut for outlet control, a full barrel from h_o = max(TW, (yc + D)/2) [m]; a cross-check only.

    H = h_o + (Ke + 2 g n^2 L / R^(4/3) + Ko) V^2/2g - S L (p. 34-38). Off by -7 to +60 % below about 1.2 D.
    """
    d = clear_height(s)
    radius = area(s, d) / wetted_perimeter(s, d)
    friction = 2.0 * GRAVITY * s.manning_n**2 * lay.length / radius ** (4.0 / 3.0)
    start = max(lay.tailwater_depth, 0.5 * (min(critical_depth(s, flow), d) + d))
    lost = lay.entrance_loss + friction + lay.exit_loss
    return start + lost * velocity_head(s, flow, d) - lay.slope * lay.length
