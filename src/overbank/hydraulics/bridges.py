"""A bridge: level upstream of one to many openings, by energy, pressure flow and flow over the deck.

Free surface. Between the channel below, the opening and the channel above, energy is kept but for

    expansion   Ce (Vb^2 - Vd^2) / 2g,      contraction   Cc (Vb^2 - Vu^2) / 2g

(common practice; 0.5 and 0.3 near bridges, from memory, unverified). When the energy below cannot carry the flow
through the opening the flow is choked: the opening itself, at its least energy, becomes the control.

Pressure. Once the water upstream touches the soffit two published formulas hold, in TxDOT, Hydraulic Design
Manual, chapter 9 section 4 (quantities and coefficients read in the source, layout from memory), Eu the energy above:

    sluice, free below    Q = 0.5 A sqrt(2g (Eu - Zm)),     orifice, both faces wet   Q = 0.8 A sqrt(2g (Eu - Zd))

They cannot both hold: with the water below just over the soffit the orifice asks for less than the sluice does with
no water there, once Eu stands more than 1.32 times the soffit's height over the bed; and the level must not fall as the
water below rises. So the orifice is kept from where the water below stands 0.1 of the height over the soffit. The
sluice is kept up to what the orifice asks for there (1.48 times the height), and beyond that as far as a jet without
loss, contracted to 0.61 of the opening, asks for more:

    Eu = max( orifice, min( sluice, max( orifice well drowned, jet )))

Nor do they meet the free surface; the energy is the free one plus a share, growing from 0 at the soffit to 1 at 1.2
times its height, of what they add.

The level upstream is the one root of a rising function: of the sum of what all groups of openings, the deck and its
approaches pass at that level, each found at once (`bridge_flow`). Over the deck the flow goes as over a road. Nothing
here ever lowers the level when flow, level below or blockage rises.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from overbank._jit import kernel
from overbank.hydraulics import roots
from overbank.hydraulics.approach import approach_area, approach_energy
from overbank.hydraulics.bridge_flow import (
    BLEND,
    CHOKED,
    FREE,
    ORIFICE,
    SLUICE,
    SLUICE_DROWNED,
    Around,
    Through,
    around,
    free_state,
    pressure_energy,
    pressure_levels,
    through,
)
from overbank.hydraulics.bridge_openings import (
    Bridge,
    Clear,
    Openings,
    bridge_area,
    clear_area,
    cleared,
    group_of,
    is_shut,
    rafted,
    side_by_side,
)
from overbank.hydraulics.crest_line import Line, road_crest_flow

__all__ = [
    "BLEND",
    "CHOKED",
    "FREE",
    "ORIFICE",
    "SHUT_BRIDGE",
    "SLUICE",
    "SLUICE_DROWNED",
    "Around",
    "Bridge",
    "Bridged",
    "Clear",
    "Deck",
    "Openings",
    "Through",
    "around",
    "bridge_area",
    "bridge_level",
    "bridged",
    "clear_area",
    "cleared",
    "free_state",
    "group_of",
    "pressure_energy",
    "pressure_levels",
    "rafted",
    "side_by_side",
    "through",
]

SHUT_BRIDGE = 9
"""There is no way through the openings."""


class Deck(NamedTuple):
    """Two crests that water can go over, the deck and its approaches; length 0 for none.

    level, approach_level : of level ones, or of the lowest point of those that follow `line` and `approach_line` [m]
    """

    level: float
    length: float
    coefficient: float
    approach_level: float
    approach_length: float
    approach_coefficient: float
    approach_line: Line | None = None
    line: Line | None = None


class Bridged(NamedTuple):
    """What a bridge does with a flow.

    level, energy : just upstream [m]; `inf` when there is no way through
    regime : what governs the openings, of several groups the one further from a free surface
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


@kernel
def lowest(b: Bridge) -> tuple[float, float]:
    """Levels of the lowest bed and the lowest roof, without debris [m]."""
    bed, roof = inf, inf
    for k in range(b.groups.shape[0]):
        c = group_of(b.groups, k)
        bed, roof = min(bed, c.bed), min(roof, c.roof)
    return bed, roof


@kernel
def deck_flow(d: Deck, level: float, below: float) -> float:
    """Flow over deck and approaches at a level upstream [m3/s]."""
    over_deck = road_crest_flow(d.line, level - d.level, below - d.level, d.length, d.coefficient)
    head, behind = level - d.approach_level, below - d.approach_level
    return over_deck + road_crest_flow(d.approach_line, head, behind, d.approach_length, d.approach_coefficient)


@kernel
def deck_start(d: Deck) -> float:
    """The lowest level from which water goes over; `inf` when there is no crest [m]."""
    low = d.level if d.length > 0.0 else inf
    return min(low, d.approach_level) if d.approach_length > 0.0 else low


@kernel
def flow_at(b: Bridge, d: Deck, a: Around, level: float) -> float:
    """What openings, deck and approaches pass together at a level upstream [m3/s]."""
    total = deck_flow(d, level, a.below)
    for k in range(b.groups.shape[0]):
        total += through(b, a, group_of(b.groups, k), level).flow
    return total


@kernel
def _excess(b: Bridge, d: Deck, a: Around, level: float) -> float:
    """What passes at a level more than the flow, both squared: nearly straight in the level [m6/s2]."""
    passes = flow_at(b, d, a, level)
    return (passes - a.flow) * (passes + a.flow)


@kernel
def _level(b: Bridge, d: Deck, a: Around) -> float:
    """The level at which the whole flow passes: never below the level below, nor below critical in the approach [m]."""
    low = a.least
    f_low = _excess(b, d, a, low)
    if f_low >= 0.0:
        return low
    step = 0.1 * (low - b.approach_bed) if b.survey is None else 0.1
    high = low + step
    f_high = _excess(b, d, a, high)
    while f_high < 0.0 and high < 1e9:
        low, f_low = high, f_high
        step *= 4.0
        high += step
        f_high = _excess(b, d, a, high)
    if f_high < 0.0:
        return inf
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _excess(b, d, a, x))
    return roots.best(bracket)


@kernel
def bridge_level(b: Bridge, d: Deck, flow: float, below: float) -> float:
    """Level just upstream of the bridge [m]; `inf` when there is no way through."""
    if below == inf:
        return inf
    if flow <= 0.0:
        return max(below, deck_start(d) if is_shut(b) else lowest(b)[0])
    if is_shut(b) and deck_start(d) == inf:
        return inf
    return _level(b, d, around(b, flow, below))


@kernel
def _parts(b: Bridge, d: Deck, a: Around, level: float) -> tuple[int, float, float]:
    """What governs the openings, the flow through them [m3/s] and the mean velocity in them [m/s].

    Where the level is held by the water below, more could pass than does: each part then takes its share.
    """
    regime, under, wet = 0, 0.0, 0.0
    for k in range(b.groups.shape[0]):
        c = group_of(b.groups, k)
        part = through(b, a, c, level)
        if part.flow > 0.0:
            regime = max(regime, part.control)
            under += part.flow
            if part.control >= SLUICE:
                part = free_state(b, a, c, part.flow, level)
            wet += clear_area(c, part.inside)
    if under <= 0.0:
        return SHUT_BRIDGE, 0.0, 0.0
    over = deck_flow(d, level, a.below)
    flow = a.flow - over * min(a.flow / (under + over), 1.0)
    return regime, flow, flow / wet


@kernel
def bridged(b: Bridge, d: Deck, flow: float, below: float) -> Bridged:
    """The whole state of a bridge for a flow [m3/s] and the level just downstream [m]."""
    level = bridge_level(b, d, flow, below)
    roof = lowest(b)[1]
    if level == inf:
        afflux = inf if below < inf else 0.0
        return Bridged(inf, inf, float(SHUT_BRIDGE), flow, 0.0, 0.0, -inf, afflux, _ratio(b, below))
    regime, under, velocity = SHUT_BRIDGE, 0.0, 0.0
    if flow > 0.0:
        regime, under, velocity = _parts(b, d, around(b, flow, below), level)
    energy = approach_energy(b.approach, b.approach_bed, b.survey, flow, level)
    return Bridged(
        level, energy, float(regime), under, flow - under, velocity, roof - level, level - below, _ratio(b, below)
    )


@kernel
def _ratio(b: Bridge, below: float) -> float:
    """Area of the openings over that of the channel [-]."""
    channel = approach_area(b.approach, b.approach_bed, b.survey, max(below, b.approach_bed + 1e-6))
    return bridge_area(b, below) / channel
