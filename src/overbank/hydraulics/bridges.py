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

Two groups of openings stand side by side: both have the same water below and the same level above, and each its own
flow, its own critical level and its own soffit. The level of each rises with its flow, so the split is the one root of
a monotone function, as between barrels and road.

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
from overbank.hydraulics.approach import approach_area, approach_critical, approach_energy, approach_level, counted_area
from overbank.hydraulics.screens import BOTTOM_UP, FLOATING_RAFT, SHUT
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.surveyed_stages import Stages
from overbank.hydraulics.uniform import critical_depth
from overbank.hydraulics.weirs import road_flow, road_head

BLEND = 0.2
"""The pressure formulas come in over this share of the soffit's height (our reading of: compute both from 1.0 to
1.2)."""


class Openings(NamedTuple):
    """`number` like openings, 0 for none: section of one, width factor for skew and piers, level of its bed [m]."""

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
    survey : stages of the surveyed section that stands in place of `approach`, None where that is a simple one
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
    survey: Stages | None = None


class Deck(NamedTuple):
    """Two level crests that water can go over, the deck and its approaches; length 0 for none."""

    level: float
    length: float
    coefficient: float
    approach_level: float
    approach_length: float
    approach_coefficient: float


FREE, CHOKED, SLUICE, ORIFICE, SLUICE_DROWNED, SHUT_BRIDGE = 1, 2, 3, 4, 5, 9
"""What governs; SLUICE_DROWNED where the level below stands over the soffit and the sluice formula, though meant for a
free outlet, still gives the higher level."""


class Bridged(NamedTuple):
    """What a bridge does with a flow.

    level, energy : just upstream [m]; `inf` when there is no way through
    regime : what governs the openings
    opening_flow, deck_flow : [m3/s]
    velocity : mean, in the openings [m/s]
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


class Clear(NamedTuple):
    """What debris leaves open of a group of openings.

    section : of one opening, above what lies on its bed; many : how many, width factor and closed share included
    lip, soffit : levels between which it is open [m]; bed : without debris [m]
    middle : level that the sluice formula counts the head from [m]
    """

    section: Section
    many: float
    lip: float
    soffit: float
    bed: float
    middle: float


@kernel
def cleared(b: Bridge, o: Openings) -> Clear:
    """A group of openings with its debris.

    Under a raft the middle is that of a box with as much left open: by the underside of the raft itself the first
    centimetres of it, up in the crown of an arch, would lower the water.
    """
    s, left = o.section, 1.0 - b.blockage
    height = clear_height(s)
    many = o.number * o.width_factor
    middle = o.bed + 0.5 * height
    if b.blockage <= 0.0:
        return Clear(s, many, o.bed, o.bed + height, o.bed, middle)
    if b.pattern == FLOATING_RAFT:
        return Clear(s, many, o.bed, o.bed + silt_height(s, left), o.bed, o.bed + 0.5 * left * height)
    if b.pattern == BOTTOM_UP:
        silt = silt_height(s, b.blockage)
        return Clear(with_silt(s, silt), many, o.bed + silt, o.bed + height, o.bed, middle)
    return Clear(s, many * left, o.bed, o.bed + height, o.bed, middle)


@kernel
def clear_area(c: Clear, level: float) -> float:
    """Area of a group of openings below a water level [m2]."""
    height = min(level, c.soffit) - c.lip
    return c.many * area(c.section, height) if height > 0.0 else 0.0


@kernel
def bridge_area(b: Bridge, level: float) -> float:
    """Clear area of all openings below a water level [m2]."""
    if b.blockage >= SHUT:
        return 0.0
    side = clear_area(cleared(b, b.side), level) if b.side.number > 0.0 else 0.0
    return clear_area(cleared(b, b.main), level) + side


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
def _head(c: Clear, flow: float, share: float, level: float) -> float:
    """Level plus a share of the velocity head in a group of openings [m]."""
    if flow <= 0.0:
        return level
    a = clear_area(c, level)
    if a <= 0.0:
        return inf
    v = flow / a
    return level + share * v * v / (2.0 * GRAVITY)


@kernel
def critical_level(c: Clear, flow: float) -> float:
    """Level in a group of openings at which the flow has the least energy, its soffit at most [m]."""
    return min(c.lip + critical_depth(c.section, flow / c.many), c.soffit)


@kernel
def _level_with_head(c: Clear, flow: float, share: float, head: float, least: float) -> float:
    """The higher of the two levels in the openings with the given `_head`, above the level `least` [m]."""
    f_low = _head(c, flow, share, least) - head
    if f_low >= 0.0:
        return least
    bracket = roots.start(least, f_low, head, _head(c, flow, share, head) - head)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _head(c, flow, share, x) - head)
    return roots.best(bracket)


@kernel
def _approach_head(b: Bridge, flow: float, share: float, level: float) -> float:
    """Level plus a share of the velocity head in the approach: the energy of Q sqrt(share) [m]."""
    return approach_energy(b.approach, b.approach_bed, b.survey, flow * sqrt(share), level)


@kernel
def _approach_least(b: Bridge, flow: float) -> float:
    """Critical level in the approach [m]."""
    return approach_critical(b.approach, b.approach_bed, b.survey, flow)


@kernel
def _approach_level(b: Bridge, flow: float, share: float, head: float) -> float:
    """The subcritical level in the approach with level + share V^2/2g = head [m]."""
    return approach_level(b.approach, b.approach_bed, b.survey, flow * sqrt(share), head)


@kernel
def _is_slower(b: Bridge, c: Clear, through: float, inside: float, flow: float, level: float) -> bool:
    """True where the water goes slower in the openings than in the channel, at the given levels."""
    return clear_area(c, inside) * flow > through * counted_area(b.approach, b.approach_bed, b.survey, level)


@kernel
def opening_level(b: Bridge, c: Clear, through: float, flow: float, below: float) -> tuple[float, float]:
    """Level with a free surface in a group of openings that takes `through` of the flow; its critical level [m].

    The channel below is at critical depth at least. Whatever the factor, no more than the whole velocity head is lost
    in expanding, and nothing where the openings are wider than the channel.
    """
    critical = critical_level(c, through)
    start = max(below, _approach_least(b, flow))
    won = max(1.0 - b.afflux_factor * b.expansion, 0.0)
    inside = _level_with_head(c, through, won, _approach_head(b, flow, won, start), critical)
    if _is_slower(b, c, through, inside, flow, start):
        inside = _level_with_head(c, through, 1.0, _approach_head(b, flow, 1.0, start), critical)
    return max(inside, critical), critical


@kernel
def free_level(b: Bridge, c: Clear, through: float, flow: float, below: float) -> tuple[float, float]:
    """Level upstream without pressure flow, and 1 when the flow is choked in the openings [m]."""
    inside, critical = opening_level(b, c, through, flow, below)
    share = 1.0 + b.afflux_factor * b.contraction
    head = max(_head(c, through, share, inside), _head(c, through, share, critical))
    level = _approach_level(b, flow, share, head)
    if _is_slower(b, c, through, inside, flow, level):
        level = max(level, _approach_level(b, flow, 1.0, _head(c, through, 1.0, inside)))
    return max(level, below), 1.0 if inside <= critical + 1e-6 else 0.0


@kernel
def pressure_levels(b: Bridge, c: Clear, through: float, below: float) -> tuple[float, float]:
    """Level upstream of a group of openings by the sluice and by the orifice formula [m]."""
    v = through / clear_area(c, c.soffit)
    velocity_head = b.afflux_factor * v * v / (2.0 * GRAVITY)
    return c.middle + velocity_head / (b.sluice * b.sluice), below + velocity_head / (b.orifice * b.orifice)


@kernel
def level_through(b: Bridge, c: Clear, through: float, flow: float, below: float) -> float:
    """Level upstream when a group of openings takes `through` of the flow [m]."""
    free, _ = free_level(b, c, through, flow, below)
    past = (free - c.soffit) / (BLEND * (c.soffit - c.bed))
    if past <= 0.0:
        return free
    sluice, orifice = pressure_levels(b, c, through, below)
    share = min(past, 1.0)
    return free + share * share * (3.0 - 2.0 * share) * max(max(sluice, orifice) - free, 0.0)


@kernel
def main_flow(b: Bridge, flow: float, below: float) -> float:
    """Share of the flow that goes through the main openings when the side openings take the rest [m3/s]."""
    if b.side.number <= 0.0:
        return flow
    main, side = cleared(b, b.main), cleared(b, b.side)
    high = level_through(b, main, flow, flow, below) - level_through(b, side, 0.0, flow, below)
    if high <= 0.0:
        return flow
    low = level_through(b, main, 0.0, flow, below) - level_through(b, side, flow, flow, below)
    if low >= 0.0:
        return 0.0
    bracket = roots.start(0.0, low, flow, high)
    while roots.is_open(bracket, 1e-10 * flow) and abs(bracket.f1) > 1e-8:
        x = roots.propose(bracket)
        gap = level_through(b, main, x, flow, below) - level_through(b, side, flow - x, flow, below)
        bracket = roots.narrow(bracket, x, gap)
    return roots.best(bracket)


@kernel
def level_under(b: Bridge, flow: float, below: float) -> float:
    """Level upstream when all the flow goes through the openings [m]; `inf` when shut, or when the level below is."""
    if b.blockage >= SHUT or below == inf:
        return inf
    if flow <= 0.0:
        return max(below, lowest_bed(b))
    main = main_flow(b, flow, below)
    if main <= 0.0:
        return level_through(b, cleared(b, b.side), flow, flow, below)
    return level_through(b, cleared(b, b.main), main, flow, below)


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
    if deck_start(d) == inf or below == inf:
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
def _level_of_split(b: Bridge, d: Deck, flow: float, through: float, below: float) -> float:
    """Level upstream when `through` of the flow goes under the deck: never below critical depth in the approach [m]."""
    if through >= flow:
        return level_under(b, flow, below)
    return max(level_over_deck(d, flow - through, below), _approach_least(b, flow))


@kernel
def bridge_level(b: Bridge, d: Deck, flow: float, below: float) -> float:
    """Level just upstream of the bridge [m]; `inf` when there is no way through."""
    return _level_of_split(b, d, flow, flow_under(b, d, flow, below), below)


@kernel
def _control(b: Bridge, c: Clear, through: float, flow: float, below: float) -> int:
    """What governs a group of openings."""
    free, choked = free_level(b, c, through, flow, below)
    if free > c.soffit:
        sluice, orifice = pressure_levels(b, c, through, below)
        if sluice < orifice:
            return ORIFICE
        return SLUICE if below <= c.soffit else SLUICE_DROWNED
    return CHOKED if choked > 0.0 else FREE


@kernel
def _openings_state(b: Bridge, flow: float, below: float) -> tuple[int, float]:
    """What governs the openings (of two groups, the one further from a free surface), and the mean velocity there."""
    main = main_flow(b, flow, below)
    regime, wet = 0, 0.0
    for o, through in ((b.main, main), (b.side, flow - main)):
        if through > 0.0:
            c = cleared(b, o)
            regime = max(regime, _control(b, c, through, flow, below))
            wet += clear_area(c, opening_level(b, c, through, flow, below)[0])
    return regime, flow / wet


@kernel
def bridged(b: Bridge, d: Deck, flow: float, below: float) -> Bridged:
    """The whole state of a bridge for a flow [m3/s] and the level just downstream [m]."""
    through = flow_under(b, d, flow, below)
    over = flow - through
    level = _level_of_split(b, d, flow, through, below)
    regime = SHUT_BRIDGE
    velocity = 0.0
    if through > 0.0 and level < inf:
        regime, velocity = _openings_state(b, through, below)
    energy = _approach_head(b, flow, 1.0, level) if level < inf else inf
    channel = approach_area(b.approach, b.approach_bed, b.survey, max(below, b.approach_bed + 1e-6))
    return Bridged(
        level,
        energy,
        float(regime),
        through,
        over,
        velocity,
        lowest_soffit(b) - level,
        level - below if below < inf else 0.0,
        bridge_area(b, below) / channel,
    )
