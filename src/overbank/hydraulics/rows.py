"""The loops over samples: each takes the numbers of one sample from a column and calls one structure's formula.

What a loop takes is a named tuple, laid out by `columns.columns` in the order of its fields; what it gives is one too.
"""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, take
from overbank.hydraulics.barrel_parts import Pieces
from overbank.hydraulics.bridge_openings import CLEAR, put_group
from overbank.hydraulics.bridges import Bridge, Bridged, Deck, Openings, bridged, cleared, rafted
from overbank.hydraulics.columns import size
from overbank.hydraulics.crest_line import Line
from overbank.hydraulics.crests import PlateRow
from overbank.hydraulics.crossing import Barrels, Road, Screen, energy_above
from overbank.hydraulics.culverts import Ends, InletRow
from overbank.hydraulics.profile import depth_upstream, is_steep
from overbank.hydraulics.relief import crossed_by_both, shared_by_both
from overbank.hydraulics.screens import BOTTOM_UP, UNIFORM, Bypass
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.surveyed_stages import Stages
from overbank.hydraulics.tapered import Face
from overbank.hydraulics.uniform import critical_depth, normal_depth, specific_energy, subcritical_depth
from overbank.hydraulics.weir_level import Crest, WeirState, weir_state

Table = NDArray[np.float64]

SECTION, INLET, SCREEN, ROAD = size(Section), size(InletRow), size(Screen), size(Road)


@kernel
def put(results: Table, i: int, state: tuple[float, ...]) -> None:
    """The state of one sample, field by field."""
    for k in range(len(state)):
        results[k, i] = state[k]


class CrossingRow(NamedTuple):
    """What a crossing takes of one sample; relief, screen and road are noughts where they are not there."""

    main: Barrels
    relief: Barrels
    screen: Screen
    road: Road
    flow: float
    tailwater: float


BARRELS, FACE = size(Barrels), size(Face)
ENDS_AT = BARRELS - size(Ends) - 2
FACE_AT = ENDS_AT - FACE
FACE_REST_AT, FACE_REST = FACE_AT + INLET, FACE - INLET
LAY_AT = SECTION + INLET
LAY = FACE_AT - LAY_AT
SCREEN_AT = 2 * BARRELS
ROAD_AT = SCREEN_AT + SCREEN
BYPASS = size(Bypass)
BARS = SCREEN - BYPASS
BYPASS_AT = SCREEN_AT + BARS


@kernel
def _pieces(column: Table, begin: int | None) -> Pieces | None:
    if begin is None:
        return None
    return column[begin:].copy()


@kernel
def _none_of(pieces: Pieces | None) -> Pieces | None:
    """No pieces, of the same type as these."""
    if pieces is None:
        return None
    return pieces[:0]


@kernel
def _barrels(column: Table, pieces: Pieces | None) -> Barrels:
    section, row = Section(*take(column, 0, SECTION)), InletRow(*take(column, SECTION, INLET))
    number, length, upstream, downstream, factor, entrance, leaving, blockage, pattern = take(column, LAY_AT, LAY)
    lay = (number, length, upstream, downstream, factor, entrance, leaving, blockage, pattern)
    face = Face(InletRow(*take(column, FACE_AT, INLET)), *take(column, FACE_REST_AT, FACE_REST))
    above = Section(*take(column, ENDS_AT + 1, SECTION))
    ends = Ends(column[ENDS_AT], above, column[ENDS_AT + 1 + SECTION])
    return Barrels(section, row, *lay, face, ends, column[BARRELS - 2], column[BARRELS - 1], pieces)


CROSSING = size(CrossingRow)


@kernel
def crossing_row(column: Table, line: Line | None, begin: int | None) -> CrossingRow:
    """The parts of a crossing from its column.

    line : of the road; None for a level one
    begin : where the numbers of the parts of the main barrels below the first begin in the column; None where each
        barrel is of one part. None is compiled by itself, for an array in the barrels costs a third of the time
    """
    level, length, coefficient = take(column, ROAD_AT, ROAD)
    bypass = Bypass(*take(column, BYPASS_AT, BYPASS))
    width, height, sill, clear, clean, blocked, pattern, over, lean = take(column, SCREEN_AT, BARS)
    screen = Screen(width, height, sill, clear, clean, blocked, pattern, over, lean, bypass)
    road = Road(level, length, coefficient, line)
    pieces = _pieces(column, begin)
    main, relief = _barrels(column, pieces), _barrels(column[BARRELS:], _none_of(pieces))
    return CrossingRow(main, relief, screen, road, column[CROSSING - 2], column[CROSSING - 1])


@kernel
def any_crossing_levels(line: Line | None, begin: int | None, inputs: Table, results: Table) -> None:
    """Level and energy level upstream only: what the threshold method asks for again and again.

    line, begin : as in `crossing_row`
    """
    for i in range(inputs.shape[1]):
        c = crossing_row(inputs[:, i], line, begin)
        through, level = shared_by_both(c.main, c.screen, c.relief, c.road, c.flow, c.tailwater)
        results[0, i], results[1, i] = level, energy_above(c.main, through, level)


crossing_levels = partial(any_crossing_levels, None, None)
"""The same of a level road over barrels of one part."""


@kernel
def any_crossing_states(line: Line | None, begin: int | None, inputs: Table, results: Table) -> None:
    """Everything in `Crossed`.

    line, begin : as in `crossing_row`
    """
    for i in range(inputs.shape[1]):
        c = crossing_row(inputs[:, i], line, begin)
        put(results, i, crossed_by_both(c.main, c.screen, c.relief, c.road, c.flow, c.tailwater))


crossing_states = partial(any_crossing_states, None, None)
"""The same of a level road over barrels of one part."""


class RoomRow(NamedTuple):
    """A barrel, and what blocks it."""

    section: Section
    blockage: float
    pattern: float


class Room(NamedTuple):
    """Area of a clean barrel [m2], and its height from the bed, or from the silt that blocks it, to the roof [m]."""

    full_area: float
    clear_height: float


@kernel
def barrel_rooms(inputs: Table, results: Table) -> None:
    """Everything in `Room`, for a `RoomRow`."""
    for i in range(inputs.shape[1]):
        s = Section(*take(inputs[:, i], 0, SECTION))
        blockage, pattern = take(inputs[:, i], SECTION, 2)
        silt = silt_height(s, blockage) if pattern == BOTTOM_UP else 0.0
        put(results, i, Room(area(s, s.rise), clear_height(with_silt(s, silt))))


class ReachRow(NamedTuple):
    """A reach: bed level at its downstream end, level and energy level just below it [m]."""

    section: Section
    length: float
    bed: float
    slope: float
    flow: float
    level: float
    energy: float


class Reach(NamedTuple):
    """What a reach does with a flow.

    level, energy : at its upstream end [m]; depth and velocity there [m], [m/s]
    steep : 1 where the reach is steep for the flow, else 0
    depth_below : at its downstream end [m]
    regime : what governs, SUBCRITICAL, STEEP or STEEP_DROWNED
    """

    level: float
    energy: float
    depth: float
    velocity: float
    steep: float
    depth_below: float
    regime: float


SUBCRITICAL, STEEP, STEEP_DROWNED = 0, 1, 2
"""What governs a reach: the water below; or, steep for the flow, critical depth at its upstream end, or again the
water below, which drowns it all along."""


@kernel
def reach_regime(steep: float, depth: float, critical: float) -> float:
    """What governs a reach, by the depth at its upstream end."""
    if steep <= 0.0:
        return SUBCRITICAL
    return STEEP if depth <= critical * (1.0 + 1e-6) else STEEP_DROWNED


@kernel
def channel_states(inputs: Table, results: Table) -> None:
    """Everything in `Reach`, for a `ReachRow`.

    The water enters the reach from below at the level passed on to it, or at the depth that keeps the energy if that is
    higher: velocity head is neither lost into the reach nor won back from it.
    """
    for i in range(inputs.shape[1]):
        column = inputs[:, i]
        s = Section(*take(column, 0, SECTION))
        length, bed, slope, flow, level, energy = take(column, SECTION, 6)
        critical = critical_depth(s, flow)
        below = max(level - bed, subcritical_depth(s, flow, energy - bed), critical)
        y = depth_upstream(s, flow, slope, length, below)
        top = bed + slope * length
        steep = 1.0 if is_steep(s, flow, slope) else 0.0
        velocity = flow / area(s, y) if flow > 0.0 else 0.0
        regime = float(reach_regime(steep, y, critical))
        put(results, i, Reach(top + y, top + specific_energy(s, flow, y), y, velocity, steep, below, regime))


class NormalRow(NamedTuple):
    """Normal depth in the channel below."""

    section: Section
    bed: float
    slope: float
    flow: float


class Normal(NamedTuple):
    """Normal flow in the channel below: its level, its energy level as a structure above feels it [m], and 1 where it
    is supercritical, else 0."""

    level: float
    energy: float
    swift: float


@kernel
def normal_levels(inputs: Table, results: Table) -> None:
    """Everything in `Normal`, for a `NormalRow`.

    Where normal flow is supercritical, a reach above is held by critical depth at its end, not by the energy below.
    """
    for i in range(inputs.shape[1]):
        column = inputs[:, i]
        s = Section(*take(column, 0, SECTION))
        bed, slope, flow = take(column, SECTION, 3)
        y, critical = normal_depth(s, flow, slope), critical_depth(s, flow)
        energy = bed + specific_energy(s, flow, max(y, critical))
        put(results, i, Normal(bed + y, energy, 1.0 if y < critical else 0.0))


class BridgeNumbers(NamedTuple):
    """What becomes a `Bridge`; an approach that is surveyed, and openings that are not there, are noughts.

    raft_share, raft_depth : share of the width of the main openings under rafts on piers [-], and their depth [m]
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
    raft_share: float
    raft_depth: float


class BridgeRow(NamedTuple):
    """What a bridge takes of one sample."""

    bridge: BridgeNumbers
    deck: Deck
    flow: float
    tailwater: float


OPENINGS, DECK, BRIDGE, BRIDGE_ROW = size(Openings), size(Deck), size(BridgeNumbers), size(BridgeRow)
SHARED_AT = 2 * OPENINGS + SECTION
SHARED = BRIDGE - SHARED_AT


@kernel
def _openings(column: Table) -> Openings:
    return Openings(Section(*take(column, 0, SECTION)), column[SECTION], column[SECTION + 1], column[SECTION + 2])


@kernel
def _bridge_numbers(column: Table) -> BridgeNumbers:
    approach = Section(*take(column, 2 * OPENINGS, SECTION))
    main, side = _openings(column), _openings(column[OPENINGS:])
    return BridgeNumbers(main, side, approach, *take(column, SHARED_AT, SHARED))


@kernel
def bridge_row(column: Table, line: Line | None, deck: Line | None) -> BridgeRow:
    """The parts of a bridge from its column, and the lines of its approaches and its deck."""
    numbers = _bridge_numbers(column)
    level, length, coefficient, beside, long, rough = take(column, BRIDGE, DECK)
    flow, tailwater = column[BRIDGE_ROW - 2], column[BRIDGE_ROW - 1]
    return BridgeRow(numbers, Deck(level, length, coefficient, beside, long, rough, line, deck), flow, tailwater)


@kernel
def openings_of(column: Table, survey: Stages | None) -> Bridge:
    """The openings of a bridge from its column."""
    return _opened(_bridge_numbers(column), column, survey)


@kernel
def _opened(b: BridgeNumbers, column: Table, survey: Stages | None) -> Bridge:
    """The openings of a bridge; the numbers of further `Openings` stand in its column behind its own."""
    spread = b.blockage if b.pattern == UNIFORM else 0.0  # debris that is not the raft's lies under it too
    under, closed = rafted(b.main, b.raft_share * (1.0 - spread), b.raft_depth)
    closed = min(closed + b.blockage - spread, 1.0)
    o = b.main
    beside = Openings(o.section, o.number * (1.0 - b.raft_share), o.width_factor, o.bed)
    further = (column.size - BRIDGE_ROW) // OPENINGS
    groups = np.empty((3 + further, CLEAR))
    put_group(groups, 0, cleared(beside, b.blockage, b.pattern))
    put_group(groups, 1, cleared(b.side, b.blockage, b.pattern))
    put_group(groups, 2, cleared(under, closed, BOTTOM_UP))
    for k in range(further):
        each = _openings(column[BRIDGE_ROW + k * OPENINGS :])
        put_group(groups, 3 + k, cleared(each, b.blockage, b.pattern))
    losses = (b.contraction, b.expansion, b.sluice, b.orifice, b.afflux_factor)
    return Bridge(groups, b.approach, b.approach_bed, *losses, survey)


@kernel
def bridge_of(column: Table, survey: Stages | None, line: Line | None, deck: Line | None) -> Bridged:
    """The state of a bridge from its column."""
    row = bridge_row(column, line, deck)
    return bridged(_opened(row.bridge, column, survey), row.deck, row.flow, row.tailwater)


@kernel
def lined_bridge_states(line: Line | None, deck: Line | None, inputs: Table, results: Table) -> None:
    """Everything in `Bridged`, for a `BridgeRow`.

    line, deck : of its approaches and its deck; None for level ones
    """
    for i in range(inputs.shape[1]):
        put(results, i, bridge_of(inputs[:, i], None, line, deck))


bridge_states = partial(lined_bridge_states, None, None)
"""The same where the crest is level."""


class WeirRow(NamedTuple):
    """What a weir takes of one sample; the section of the approach is noughts where it is surveyed."""

    crest: Crest
    flow: float
    tailwater: float
    energy: float


PLATE = size(PlateRow)
CREST = size(Crest) - SECTION - PLATE


@kernel
def crest_of(column: Table, survey: Stages | None, line: Line | None) -> Crest:
    """The crest from its column, and the line that it follows."""
    approach = Section(*take(column, 0, SECTION))
    plate = PlateRow(*take(column, SECTION, PLATE))
    kind, level, width, breadth, angle, gain, factor, coefficient, limit, bed = take(column, SECTION + PLATE, CREST)
    numbers = (kind, level, width, breadth, angle, gain, factor, coefficient, limit, bed)
    return Crest(approach, plate, *numbers, survey, line)


@kernel
def weir_of(column: Table, survey: Stages | None, line: Line | None) -> WeirState:
    return weir_state(crest_of(column, survey, line), column[-3], column[-2], column[-1])


@kernel
def lined_weir_states(line: Line | None, inputs: Table, results: Table) -> None:
    """Everything in `WeirState`, for a `WeirRow`.

    line : of the crest; None for a level one
    """
    for i in range(inputs.shape[1]):
        put(results, i, weir_of(inputs[:, i], None, line))


weir_states = partial(lined_weir_states, None)
"""The same where the crest is level."""
