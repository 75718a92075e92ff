"""Flow through one group of a bridge's openings, from the levels on both sides: everything is closed but three cases.

With 1 + F Cc = u and 1 - F Ce = w the two balances of energy are

    Zb + w Vb^2/2g = Zd + w Vd^2/2g = Hd,      Zu + u Vu^2/2g = Zb + u Vb^2/2g = Hu

so Vb^2/2g = (Hu - Hd) / (u - w), and Zb, the area and the flow follow. Roots are left for the choked flow of an opening
with a round top and for the band above the soffit in which the pressure formulas come in.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.approach import approach_critical, approach_energy
from overbank.hydraulics.bridge_openings import JET_CONTRACTION, Bridge, Clear, clear_area
from overbank.hydraulics.sections import RECTANGLE, TRACED, area, top_width

BLEND = 0.2
"""The pressure formulas come in over this share of the soffit's height (our reading of: compute both from 1.0 to
1.2)."""

WELL_DROWNED = 0.1
"""Share of the soffit's height above it from which on the water below makes the orifice formula hold (own choice)."""

FREE, CHOKED, SLUICE, ORIFICE, SLUICE_DROWNED = 1, 2, 3, 4, 5
"""What governs; SLUICE_DROWNED where the level below stands over the soffit and the jet that is free below still
asks for the higher level."""


class Around(NamedTuple):
    """The channel on both sides of the openings.

    flow : all of it [m3/s]; below : level just downstream [m]
    start : the same, at critical level at least [m]; energy, head : there, with all of Vd^2/2g and Hd [m]
    gained, spent : w and u [-]
    least : the lowest level that can stand upstream: `start`, or where level + u Vu^2/2g is least [m]
    """

    flow: float
    below: float
    start: float
    energy: float
    head: float
    gained: float
    spent: float
    least: float


class Through(NamedTuple):
    """A group's flow [m3/s], level in it [m], level upstream that a free surface would have [m], what governs."""

    flow: float
    inside: float
    free: float
    control: int


@kernel
def around(b: Bridge, flow: float, below: float) -> Around:
    """The channel around a bridge. No more than the whole velocity head is lost in expanding."""
    start = max(below, approach_critical(b.approach, b.approach_bed, b.survey, flow))
    gained = max(1.0 - b.afflux_factor * b.expansion, 0.0)
    spent = 1.0 + b.afflux_factor * b.contraction
    head = approach_energy(b.approach, b.approach_bed, b.survey, flow * sqrt(gained), start)
    least = max(start, approach_critical(b.approach, b.approach_bed, b.survey, flow * sqrt(spent)))
    energy = approach_energy(b.approach, b.approach_bed, b.survey, flow, start)
    return Around(flow, below, start, energy, head, gained, spent, least)


@kernel
def _asked(c: Clear, spent: float, depth: float) -> tuple[float, float]:
    """Head above the lip that critical flow at a depth asks for [m]; that flow through one opening [m3/s]."""
    a, width = area(c.section, depth), max(top_width(c.section, depth), 1e-300)
    return depth + 0.5 * spent * a / width, a * sqrt(GRAVITY * a / width)


@kernel
def choked_flow(c: Clear, spent: float, head: float, above: float) -> tuple[float, float]:
    """Flow that takes the openings at their least energy [m3/s], and its level, from Hu; the soffit at most [m].

    above : Vu^2/2g; where the openings are slower than that nothing is contracted, and nothing won [m]
    """
    flow, level, velocity_head = _critical_in(c, spent, head)
    if velocity_head >= above:
        return flow, level
    flow, level, _ = _critical_in(c, 1.0, head - (spent - 1.0) * above)
    return flow, level


@kernel
def _critical_in(c: Clear, spent: float, head: float) -> tuple[float, float, float]:
    """Flow, level and velocity head of the openings at their least energy."""
    rest, height = head - c.lip, c.soffit - c.lip
    if rest <= 0.0:
        return 0.0, c.lip, 0.0
    least = 0.0 if c.section.shape == TRACED else 0.25  # else area over width is half the depth at least
    top = min(height * (1.0 - 1e-9), rest / (1.0 + least * spent))
    f_top = _asked(c, spent, top)[0] - rest
    if f_top < 0.0:
        velocity_head = max(head - c.soffit, 0.0) / spent
        return c.full * sqrt(2.0 * GRAVITY * velocity_head), c.soffit, velocity_head
    if c.section.shape == RECTANGLE:
        depth = rest / (1.0 + 0.5 * spent)
    else:
        bracket = roots.start(0.0, -rest, top, f_top)
        while roots.is_open(bracket, 1e-9 * height):
            x = roots.propose(bracket)
            bracket = roots.narrow(bracket, x, _asked(c, spent, x)[0] - rest)
        depth = roots.best(bracket)
    return c.many * _asked(c, spent, depth)[1], c.lip + depth, (rest - depth) / spent


@kernel
def _is_far_from_critical(c: Clear, spent: float, head: float, flow: float) -> bool:
    """True where choked flow is surely more than this flow: at a depth that asks for less head it already is."""
    asked, least = _asked(c, spent, min(0.8 * (head - c.lip) / (1.0 + 0.5 * spent), 0.9 * (c.soffit - c.lip)))
    return asked <= head - c.lip and c.many * least >= flow


@kernel
def free_flow(b: Bridge, a: Around, c: Clear, level: float) -> Through:
    """Flow through a group with a free surface, from the level upstream."""
    head = approach_energy(b.approach, b.approach_bed, b.survey, a.flow * sqrt(a.spent), level)
    above = (head - level) / a.spent
    velocity_head = max(head - a.head, 0.0) / max(a.spent - a.gained, 1e-12)
    inside = a.head - a.gained * velocity_head
    if velocity_head < a.energy - a.start:  # slower than the channel below: nothing is lost in widening
        velocity_head = max(head - a.energy, 0.0) / max(a.spent - 1.0, 1e-12)
        inside = a.energy - velocity_head
    wet = clear_area(c, inside)
    width = c.many * top_width(c.section, inside - c.lip) if c.lip < inside < c.soffit else 0.0
    if wet > 0.0 and 2.0 * velocity_head * width <= wet:
        flow = wet * sqrt(2.0 * GRAVITY * velocity_head)
        if _is_far_from_critical(c, a.spent, head, flow):
            return Through(flow, inside, level, FREE)
        choked, _ = choked_flow(c, a.spent, head, above)
        return Through(min(flow, choked), inside, level, FREE)
    choked, critical = choked_flow(c, a.spent, head, above)
    return Through(choked, critical, level, CHOKED)


@kernel
def _head_less(a: Around, c: Clear, flow: float, level: float) -> float:
    """Head in the openings, level + w V^2/2g, less that from below [m]."""
    v = flow / clear_area(c, level)
    return level + a.gained * v * v / (2.0 * GRAVITY) - a.head


@kernel
def _inside(a: Around, c: Clear, flow: float, low: float) -> float:
    """Level in the openings at which a flow has the head from below, the higher of two; from critical level up [m]."""
    f_low = _head_less(a, c, flow, low)
    if f_low >= 0.0:
        return low
    bracket = roots.start(low, f_low, a.head, _head_less(a, c, flow, a.head))
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _head_less(a, c, flow, x))
    return roots.best(bracket)


@kernel
def free_state(b: Bridge, a: Around, c: Clear, flow: float, level: float) -> Through:
    """The state with a free surface of a group's flow, from a level upstream at which as much can pass."""
    low, high = a.least, level
    found = free_flow(b, a, c, low)
    if found.flow < flow:
        bracket = roots.start(low, found.flow - flow, high, max(free_flow(b, a, c, high).flow - flow, 0.0))
        while roots.is_open(bracket, 1e-9):
            x = roots.propose(bracket)
            bracket = roots.narrow(bracket, x, free_flow(b, a, c, x).flow - flow)
        found = free_flow(b, a, c, roots.best(bracket))
    if found.control == CHOKED:
        return Through(flow, found.inside, found.free, CHOKED)
    return Through(flow, _inside(a, c, flow, found.inside), found.free, FREE)


@kernel
def well_drowned(c: Clear) -> float:
    """Level below from which on the openings count as well drowned [m]."""
    return c.roof + WELL_DROWNED * (c.roof - c.bed)


@kernel
def pressure_levels(b: Bridge, c: Clear, flow: float, below: float) -> tuple[float, float, float, float]:
    """Energy upstream [m] by the sluice formula; by the orifice's; by that with them just well drowned; by a jet.

    The jet is free below the soffit and without loss.
    """
    v = flow / c.full
    head = b.afflux_factor * v * v / (2.0 * GRAVITY)
    drowned = head / (b.orifice * b.orifice)
    jet = c.jet + head / (JET_CONTRACTION * JET_CONTRACTION)
    return c.middle + head / (b.sluice * b.sluice), below + drowned, well_drowned(c) + drowned, jet


@kernel
def pressure_energy(b: Bridge, c: Clear, flow: float, below: float) -> float:
    """Energy upstream under pressure [m]: max( orifice, min( sluice, max( orifice well drowned, jet )))."""
    sluice, orifice, drowned, jet = pressure_levels(b, c, flow, below)
    return max(orifice, min(sluice, max(drowned, jet)))


@kernel
def _by_head(full: float, coefficient: float, factor: float, head: float) -> float:
    """Flow that has a head over coefficient and factor [m3/s]."""
    return full * coefficient * sqrt(2.0 * GRAVITY * max(head, 0.0) / factor) if factor > 0.0 else inf


@kernel
def pressure_flow(b: Bridge, c: Clear, energy: float, below: float) -> float:
    """The inverse of `pressure_energy` [m3/s]."""
    f = b.afflux_factor
    sluice = _by_head(c.full, b.sluice, f, energy - c.middle)
    orifice = _by_head(c.full, b.orifice, f, energy - below)
    drowned = _by_head(c.full, b.orifice, f, energy - well_drowned(c))
    jet = _by_head(c.full, JET_CONTRACTION, f, energy - c.jet)
    return min(orifice, max(sluice, min(drowned, jet)))


@kernel
def _energy(b: Bridge, a: Around, level: float) -> float:
    return approach_energy(b.approach, b.approach_bed, b.survey, a.flow, level)


@kernel
def _blended(b: Bridge, a: Around, c: Clear, free: Through) -> float:
    """Energy upstream where a free surface would stand at `free.free` above the soffit [m]."""
    share = min(max(free.free - c.soffit, 0.0) / (BLEND * (c.soffit - c.bed)), 1.0)
    alone = _energy(b, a, free.free)
    added = max(pressure_energy(b, c, free.flow, a.below) - alone, 0.0)
    return alone + share * share * (3.0 - 2.0 * share) * added


@kernel
def _held_flow(b: Bridge, a: Around, c: Clear, free: float, energy: float) -> float:
    """Flow where the water below already holds the free surface over the soffit, at the level `free` [m3/s]."""
    share = min(max(free - c.soffit, 0.0) / (BLEND * (c.soffit - c.bed)), 1.0)
    alone = _energy(b, a, free)
    added = max(energy - alone, 0.0) / max(share * share * (3.0 - 2.0 * share), 1e-12)
    return pressure_flow(b, c, alone + added, a.below)


@kernel
def _under_pressure(b: Bridge, c: Clear, a: Around, found: Through, flow: float) -> Through:
    """The same state with its flow, and which formula governs."""
    sluice, orifice, drowned, jet = pressure_levels(b, c, flow, a.below)
    control = ORIFICE
    if min(sluice, max(drowned, jet)) > orifice:
        control = SLUICE if a.below <= c.soffit else SLUICE_DROWNED
    return Through(flow, found.inside, found.free, control)


@kernel
def through(b: Bridge, a: Around, c: Clear, level: float) -> Through:
    """Flow through a group of openings from the level upstream: it rises with that level."""
    if c.many <= 0.0 or level <= c.lip:
        return Through(0.0, c.lip, level, FREE)
    alone = free_flow(b, a, c, level)
    if level <= c.soffit:
        return alone
    energy = _energy(b, a, level)
    low, high = max(c.soffit, a.least), c.soffit + BLEND * (c.soffit - c.bed)
    if level >= high:
        if high <= low or _blended(b, a, c, free_flow(b, a, c, high)) <= energy:
            pressed = pressure_flow(b, c, energy, a.below)
            return _under_pressure(b, c, a, alone, min(alone.flow, pressed))
    else:
        high = level
    lowest = free_flow(b, a, c, low)
    f_low = _blended(b, a, c, lowest) - energy
    if f_low >= 0.0:
        return _under_pressure(b, c, a, lowest, min(lowest.flow, _held_flow(b, a, c, low, energy)))
    bracket = roots.start(low, f_low, high, _blended(b, a, c, free_flow(b, a, c, high)) - energy)
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _blended(b, a, c, free_flow(b, a, c, x)) - energy)
    found = free_flow(b, a, c, roots.best(bracket))
    return _under_pressure(b, c, a, found, found.flow)
