"""The water inside barrels: depths and velocities at their ends, how long it takes, how much air is left.

Outlet control carries the water up from the outlet. Where a part of a barrel is steep and the water from below does not
reach its head, the water runs swiftly down it instead (`jump.steep_barrel`), and on into the next part.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.barrel_parts import PLAIN, Part, carried_up, count, part_of
from overbank.hydraulics.jump import steep_barrel
from overbank.hydraulics.outlet_control import STEEP_TO, Lay, mouth_depth, outlet_state
from overbank.hydraulics.people import transit_time
from overbank.hydraulics.profile import friction_slope
from overbank.hydraulics.sections import Section, area, clear_height
from overbank.hydraulics.uniform import critical_depth, specific_energy

FREE, PARTLY_FULL, FULL = 0, 1, 2
"""Whether a barrel is full at its inlet: not, or there but not everywhere, or at both ends of all parts."""


class Inside(NamedTuple):
    """The water in a barrel.

    depth_in, depth_out : at the inlet end and at the outlet [m]; velocity_in, velocity_out : [m/s]
    transit_time : of the water [s]; velocity_most : the greatest [m/s]
    free_height : least height between water and roof at the ends of its parts [m]; negative under pressure
    filled : FREE, PARTLY_FULL or FULL
    """

    depth_in: float
    depth_out: float
    velocity_in: float
    velocity_out: float
    transit_time: float
    velocity_most: float
    free_height: float
    filled: float


class Run(NamedTuple):
    """The water in one part: depth in its end [m], time [s], greatest velocity [m/s], and whether it is swift there."""

    out: float
    time: float
    most: float
    swift: bool


@kernel
def run_through(
    s: Section, flow: float, critical: float, slope: float, length: float, head: float, end: float, begin: float
) -> Run:
    """The water in a part, carried up from the depth `end` to `head`; or swift, from the depth `begin` if not 0."""
    into, leaving = flow / area(s, head), flow / area(s, end)
    if head <= critical and length > 0.0:
        start = critical if friction_slope(s, flow, critical) < slope else STEEP_TO * critical
        if friction_slope(s, flow, start) < slope:
            if begin > 0.0:
                start = begin
            out, time, most = steep_barrel(s, flow, critical, slope, length, end, start)
            return Run(out, time, max(most, into), out < critical)
    return Run(end, transit_time(length, into, leaving), max(into, leaving), False)


@kernel
def _swift_head(flow: float, surface: float, velocity: float, part: Part, critical: float) -> float:
    """Depth with which swift water enters a part: that of equal energy under critical depth; 0 where there is none.

    surface, velocity : of the water in the end of the part above, over its bare bed [m], [m/s]. The loss counts on the
    velocity head there.
    """
    if part.joint != PLAIN:
        return 0.0
    s = part.section
    energy = surface + (1.0 - part.loss) * velocity * velocity / (2.0 * GRAVITY) + part.drop - s.silt
    high = specific_energy(s, flow, critical) - energy
    if high >= 0.0:
        return 0.0
    low = 0.01 * critical
    excess = specific_energy(s, flow, low) - energy
    if excess <= 0.0:
        return low
    bracket = roots.start(low, excess, critical, high)
    while roots.is_open(bracket, 1e-10 * critical):
        y = roots.propose(bracket)
        bracket = roots.narrow(bracket, y, specific_energy(s, flow, y) - energy)
    return roots.best(bracket)


@kernel
def inside(s: Section, flow: float, lay: Lay) -> Inside:
    """The water in a barrel of section s at its inlet, by the profile through it; `flow` of one barrel [m3/s]."""
    if flow <= 0.0 or clear_height(s) <= 0.0:
        return Inside(0.0, 0.0, 0.0, 0.0, inf, 0.0, clear_height(s), FREE)
    critical, roof = critical_depth(s, flow), clear_height(s)
    _, head, end = outlet_state(s, flow, critical, lay, inf)
    run = run_through(s, flow, critical, lay.slope, lay.length, head, end, 0.0)
    into, leaving = flow / area(s, head), flow / area(s, run.out)
    filled = FREE if head < roof else FULL if run.out >= roof else PARTLY_FULL
    room = roof - max(head, run.out)
    first = Inside(head, run.out, into, leaving, run.time, run.most, room, filled)
    return _onward(s, flow, lay, first, run.swift)


@kernel
def _onward(s: Section, flow: float, lay: Lay, first: Inside, swift: bool) -> Inside:
    """The water in the whole of a barrel, from that in its first part of section s."""
    pieces = lay.pieces
    if count(pieces) == 0:
        return first
    last = part_of(pieces, count(pieces) - 1, lay.silt).section
    outlet = mouth_depth(last, flow, critical_depth(last, flow), lay)
    _, depths = carried_up(s, flow, critical_depth(s, flow), pieces, lay.silt, outlet)
    out, leaving, silt = first.depth_out, first.velocity_out, s.silt
    time, most = first.transit_time, first.velocity_most
    room, full = first.free_height, first.filled == FULL
    for k in range(count(pieces)):
        part = part_of(pieces, k, lay.silt)
        critical, roof = critical_depth(part.section, flow), clear_height(part.section)
        begin = _swift_head(flow, out + silt, leaving, part, critical) if swift else 0.0
        head, end = depths[k, 0], depths[k, 1]
        run = run_through(part.section, flow, critical, part.slope, part.length, head, end, begin)
        out, swift, silt = run.out, run.swift, part.section.silt
        leaving = flow / area(part.section, out)
        time, most = time + run.time, max(most, run.most)
        room, full = min(room, roof - max(head, out)), full and min(head, out) >= roof
    filled = FREE if first.filled == FREE else FULL if full else PARTLY_FULL
    return Inside(first.depth_in, out, first.velocity_in, leaving, time, most, room, filled)
