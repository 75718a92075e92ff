"""A bridge: level upstream of one to many openings, by energy, pressure flow and flow over the deck.

Free surface. Between the channel below, the opening and the channel above, energy is kept but for

    expansion   Ce (Vb^2 - Vd^2) / 2g,      contraction   Cc (Vb^2 - Vu^2) / 2g

(common practice; 0.5 and 0.3 near bridges, from memory, unverified). When the energy below cannot carry the flow
through the opening the flow is choked: the opening itself, at its least energy, becomes the control.

Pressure. Once the water upstream touches the soffit two published formulas hold, in TxDOT, Hydraulic Design
Manual, chapter 9 section 4 (quantities and coefficients read in the source, layout from memory):

    sluice, free below    Q = 0.5 A sqrt(2g (yu - Zb/2)),     orifice, both faces wet   Q = 0.8 A sqrt(2g dH)

As printed they do not meet, nor do they meet the free surface; so that flow rises strictly with level, the level is
the free one plus a share, growing from 0 at the soffit to 1 at 1.2 times its height, of what the higher of the two
adds.

Over the deck and its approaches the flow goes as over a road. Nothing here ever lowers the level when flow, level below
or blockage rises.

Skew is projected once: the caller says by `width_factor` what is left of each span. Debris closes a share of the
openings by one of three patterns, as at a culvert's inlet.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.screens import BOTTOM_UP, FLOATING_RAFT, SHUT, UNIFORM
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.uniform import critical_depth
from overbank.hydraulics.weirs import road_flow, road_head

BLEND = 0.2
"""The pressure formulas come in over this share of the soffit's height (our reading of: compute both from 1.0 to
1.2)."""


class Openings(NamedTuple):
    """`number` like openings: section of one, width factor for skew and piers, level of its bed [m]; number 0 for
    none."""

    section: Section
    number: float
    width_factor: float
    bed: float


class Bridge(NamedTuple):
    """Two groups of openings in one crossing, and what they share.

    approach : open section of the channel on both sides; approach_bed : its bed level there [m]
    contraction, expansion : loss coefficients on the difference of velocity heads [-]
    sluice, orifice : discharge coefficients under pressure [-]
    afflux_factor : multiplies every loss at the bridge, and so to first order the afflux (model error, median 1) [-]
    blockage, pattern : share of the openings closed by debris, and how
    """

    main: Openings
    side: Openings
    approach: Section
    approach_bed: float
    contraction: float
    expansion: float
    sluice: float
    orifice: float
    afflux_factor: float
    blockage: float
    pattern: float


class Deck(NamedTuple):
    """Two level crests that water can go over, the deck and its approaches; length 0 for none."""

    level: float
    length: float
    coefficient: float
    approach_level: float
    approach_length: float
    approach_coefficient: float


FREE, CHOKED, SLUICE, ORIFICE, SHUT_BRIDGE = 1, 2, 3, 4, 9
OVER_DECK = 100


class Bridged(NamedTuple):
    """What a bridge does with a flow.

    level, energy : just upstream [m]; `inf` when there is no way through
    regime : what governs, plus OVER_DECK
    opening_flow, deck_flow : [m3/s]
    velocity : in the openings [m/s]
    air_gap : from the water upstream to the lowest soffit [m]; negative when drowned
    afflux : level upstream above the level below [m]
    opening_ratio : area of the openings over that of the channel, at the level below [-]
    """

    level: float
    energy: float
    regime: float
    opening_flow: float
    deck_flow: float
    velocity: float
    air_gap: float
    afflux: float
    opening_ratio: float


@kernel
def _closed_above(o: Openings, blockage: float, pattern: float) -> float:
    """Height above an opening's bed at which it is closed: its roof, or the underside of a raft [m]."""
    if pattern == FLOATING_RAFT and blockage > 0.0:
        return silt_height(o.section, 1.0 - blockage)
    return clear_height(o.section)


@kernel
def openings_area(o: Openings, blockage: float, pattern: float, level: float) -> float:
    """Clear area of a group of openings below a water level [m2]."""
    if o.number <= 0.0 or blockage >= SHUT:
        return 0.0
    height = min(level - o.bed, _closed_above(o, blockage, pattern))
    if height <= 0.0:
        return 0.0
    left = 1.0
    clear = area(o.section, height)
    if pattern == UNIFORM:
        left = 1.0 - blockage
    elif pattern == BOTTOM_UP and blockage > 0.0:
        silt = silt_height(o.section, blockage)
        clear = area(with_silt(o.section, silt), height - silt) if height > silt else 0.0
    return o.number * o.width_factor * left * clear


@kernel
def bridge_area(b: Bridge, level: float) -> float:
    """Clear area of all openings below a water level [m2]."""
    return openings_area(b.main, b.blockage, b.pattern, level) + openings_area(b.side, b.blockage, b.pattern, level)


@kernel
def soffit_level(b: Bridge) -> float:
    """Level at which the higher of the two groups is full [m]."""
    top = b.main.bed + _closed_above(b.main, b.blockage, b.pattern)
    if b.side.number > 0.0:
        top = max(top, b.side.bed + _closed_above(b.side, b.blockage, b.pattern))
    return top


@kernel
def lowest_soffit(b: Bridge) -> float:
    """Level of the lowest roof [m]: what the air gap is counted to."""
    low = b.main.bed + clear_height(b.main.section)
    if b.side.number > 0.0:
        low = min(low, b.side.bed + clear_height(b.side.section))
    return low


@kernel
def lowest_bed(b: Bridge) -> float:
    """Level of the lowest bed of the openings [m]."""
    return min(b.main.bed, b.side.bed) if b.side.number > 0.0 else b.main.bed


@kernel
def _head(b: Bridge, flow: float, share: float, level: float) -> float:
    """Level plus a share of the velocity head in the openings [m]."""
    a = bridge_area(b, level)
    if a <= 0.0:
        return inf
    v = flow / a
    return level + share * v * v / (2.0 * GRAVITY)


@kernel
def critical_level(b: Bridge, flow: float, share: float) -> float:
    """Level in the openings at which `_head` is least [m], by golden section between bed and soffit."""
    low, high = lowest_bed(b), soffit_level(b)
    ratio = 0.6180339887498949
    p, q = high - ratio * (high - low), low + ratio * (high - low)
    at_p, at_q = _head(b, flow, share, p), _head(b, flow, share, q)
    while high - low > 1e-7:
        if at_p <= at_q and at_p < inf:
            high, q, at_q = q, p, at_p
            p = high - ratio * (high - low)
            at_p = _head(b, flow, share, p)
        else:
            low, p, at_p = p, q, at_q
            q = low + ratio * (high - low)
            at_q = _head(b, flow, share, q)
    return 0.5 * (low + high)


@kernel
def _level_with_head(b: Bridge, flow: float, share: float, head: float, least: float) -> float:
    """The higher of the two levels in the openings with the given `_head`, above the level `least` [m]."""
    f_low = _head(b, flow, share, least) - head
    if f_low >= 0.0:
        return least
    bracket = roots.start(least, f_low, head, _head(b, flow, share, head) - head)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _head(b, flow, share, x) - head)
    return roots.best(bracket)


@kernel
def _approach_head(b: Bridge, flow: float, share: float, level: float) -> float:
    v = flow / area(b.approach, level - b.approach_bed)
    return level + share * v * v / (2.0 * GRAVITY)


@kernel
def _approach_least(b: Bridge, flow: float, share: float) -> float:
    """Level in the approach at which level plus a share of the velocity head is least: critical for Q sqrt(share)."""
    return b.approach_bed + critical_depth(b.approach, flow * sqrt(max(share, 0.0)))


@kernel
def _approach_level(b: Bridge, flow: float, share: float, head: float) -> float:
    """The subcritical level in the approach with level + share V^2/2g = head [m]."""
    least = _approach_least(b, flow, share)
    f_low = _approach_head(b, flow, share, least) - head
    if f_low >= 0.0:
        return least
    bracket = roots.start(least, f_low, head, _approach_head(b, flow, share, head) - head)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _approach_head(b, flow, share, x) - head)
    return roots.best(bracket)


@kernel
def opening_level(b: Bridge, flow: float, below: float) -> tuple[float, float]:
    """Level in the openings with a free surface, and the level at which the flow there is critical [m].

    Whatever the factor, no more than the whole velocity head is lost in expanding.
    """
    critical = critical_level(b, flow, 1.0)
    won = max(1.0 - b.afflux_factor * b.expansion, 0.0)
    least = max(_approach_least(b, flow, won), b.approach_bed + 1e-6)
    head = _approach_head(b, flow, won, max(below, least))
    inside = _level_with_head(b, flow, won, head, critical)
    return max(inside, critical), critical


@kernel
def free_level(b: Bridge, flow: float, below: float) -> tuple[float, float]:
    """Level upstream without pressure flow, and 1 when the flow is choked in the openings [m]."""
    inside, critical = opening_level(b, flow, below)
    share = 1.0 + b.afflux_factor * b.contraction
    head = max(_head(b, flow, share, inside), _head(b, flow, share, critical))
    return max(_approach_level(b, flow, share, head), below), 1.0 if inside <= critical + 1e-6 else 0.0


@kernel
def pressure_levels(b: Bridge, flow: float, below: float) -> tuple[float, float]:
    """Level upstream by the sluice and by the orifice formula [m]."""
    soffit = soffit_level(b)
    a = bridge_area(b, soffit)
    bed = lowest_bed(b)
    v = flow / a
    velocity_head = b.afflux_factor * v * v / (2.0 * GRAVITY)
    return (
        bed + 0.5 * (soffit - bed) + velocity_head / (b.sluice * b.sluice),
        below + velocity_head / (b.orifice * b.orifice),
    )


@kernel
def level_under(b: Bridge, flow: float, below: float) -> float:
    """Level upstream when all the flow goes through the openings [m]; `inf` when they are shut."""
    if b.blockage >= SHUT:
        return inf
    if flow <= 0.0:
        return max(below, lowest_bed(b))
    free, _ = free_level(b, flow, below)
    soffit = soffit_level(b)
    level = free
    past = (free - soffit) / (BLEND * (soffit - lowest_bed(b)))
    if past > 0.0:
        sluice, orifice = pressure_levels(b, flow, below)
        share = min(past, 1.0)
        level += share * share * (3.0 - 2.0 * share) * max(max(sluice, orifice) - free, 0.0)
    return level


@kernel
def deck_flow(d: Deck, level: float, below: float) -> float:
    """Flow over deck and approaches at a level upstream [m3/s]."""
    return road_flow(level - d.level, below - d.level, d.length, d.coefficient) + road_flow(
        level - d.approach_level, below - d.approach_level, d.approach_length, d.approach_coefficient
    )


@kernel
def deck_start(d: Deck) -> float:
    """The lowest level from which water goes over; `inf` when there is no crest [m]."""
    low = d.level if d.length > 0.0 else inf
    return min(low, d.approach_level) if d.approach_length > 0.0 else low


@kernel
def level_over_deck(d: Deck, flow: float, below: float) -> float:
    """Level upstream when the flow goes over deck and approaches [m]."""
    low = max(deck_start(d), below)
    if flow <= 0.0:
        return low
    if d.approach_length <= 0.0:
        return d.level + road_head(flow, below - d.level, d.length, d.coefficient)
    if d.length <= 0.0:
        alone = road_head(flow, below - d.approach_level, d.approach_length, d.approach_coefficient)
        return d.approach_level + alone
    step = 0.1
    high = low + step
    while deck_flow(d, high, below) < flow:
        step *= 2.0
        high = low + step
    bracket = roots.start(low, -flow, high, deck_flow(d, high, below) - flow)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, deck_flow(d, x, below) - flow)
    return roots.best(bracket)


@kernel
def flow_under(b: Bridge, d: Deck, flow: float, below: float) -> float:
    """Share of the flow that goes through the openings when the deck takes the rest [m3/s]."""
    if deck_start(d) == inf:
        return flow
    high = level_under(b, flow, below) - level_over_deck(d, 0.0, below)
    if high <= 0.0:
        return flow
    low = level_under(b, 0.0, below) - level_over_deck(d, flow, below)
    if low >= 0.0:
        return 0.0
    bracket = roots.start(0.0, low, flow, high)
    while roots.is_open(bracket, 1e-10 * flow) and abs(bracket.f1) > 1e-7:
        x = roots.propose(bracket)
        gap = level_under(b, x, below) - level_over_deck(d, flow - x, below)
        bracket = roots.narrow(bracket, x, gap)
    return roots.best(bracket)


@kernel
def bridge_level(b: Bridge, d: Deck, flow: float, below: float) -> float:
    """Level just upstream of the bridge [m]; `inf` when there is no way through."""
    through = flow_under(b, d, flow, below)
    if through >= flow:
        return level_under(b, flow, below)
    return level_over_deck(d, flow - through, below)


@kernel
def bridged(b: Bridge, d: Deck, flow: float, below: float) -> Bridged:
    """The whole state of a bridge for a flow [m3/s] and the level just downstream [m]."""
    through = flow_under(b, d, flow, below)
    over = flow - through
    level = level_over_deck(d, over, below) if over > 0.0 else level_under(b, flow, below)
    regime = SHUT_BRIDGE
    velocity = 0.0
    if through > 0.0 and level < inf:
        free, choked = free_level(b, through, below)
        regime = CHOKED if choked > 0.0 else FREE
        inside, _ = opening_level(b, through, below)
        velocity = through / bridge_area(b, inside)
        if free > soffit_level(b):
            sluice, orifice = pressure_levels(b, through, below)
            regime = SLUICE if sluice >= orifice else ORIFICE
    if over > 0.0:
        regime += OVER_DECK
    energy = _approach_head(b, flow, 1.0, level) if level < inf else inf
    channel = area(b.approach, max(below - b.approach_bed, 1e-6))
    return Bridged(
        level,
        energy,
        float(regime),
        through,
        over,
        velocity,
        lowest_soffit(b) - level,
        level - below,
        bridge_area(b, below) / channel,
    )
