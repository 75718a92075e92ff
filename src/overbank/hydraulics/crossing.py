"""A crossing: like barrels side by side, a screen before them, a road over them; one balance of the whole.

The pool upstream is held up by the screen and the barrels in series. Once it stands above the road, the rest of the
flow goes over it. Level through the barrels rises with the flow through them, and level over the road falls as that
flow rises, so the split is the one root of a monotone function, bracketed between no flow through and all of it.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from overbank._jit import kernel
from overbank.hydraulics import roots
from overbank.hydraulics.barrel_parts import NO_SILT, Pieces, fall
from overbank.hydraulics.crest_line import Line, road_crest_flow, road_line_head
from overbank.hydraulics.culverts import (
    STILL,
    Ends,
    InletRow,
    barrel_heads,
    is_inlet_drowned,
)
from overbank.hydraulics.inside import FREE, FULL, inside
from overbank.hydraulics.outlet_control import Lay, over_bed
from overbank.hydraulics.screens import (
    BOTTOM_UP,
    FREE_SLOT_COEFFICIENT,
    NO_BYPASS,
    Bypass,
    overflow,
    screen_head,
)
from overbank.hydraulics.sections import SILT_MANNING_N, Section, silt_height, with_silt
from overbank.hydraulics.tapered import NO_FACE, Face, face_level, is_face_drowned, tapered_levels
from overbank.hydraulics.uniform import velocity_head
from overbank.hydraulics.weirs import MODULAR_RATIO, road_head


class Barrels(NamedTuple):
    """`number` like barrels: section, length [m], inverts [m], inlet constants and losses, debris at the inlet.

    Before a tapered entrance `face` is its face, and `row` the constants of its throat. `ends` is the water at both
    ends, with the bed of the approach as a level; `silt_n` the roughness of silt [s/m^(1/3)];
    `outlet_loss` that of a flap valve or bars at the outlet [-]; `pieces` the parts below the first one, to which
    section, length and inverts belong.
    """

    section: Section
    row: InletRow
    number: float
    length: float
    upstream_invert: float
    downstream_invert: float
    head_factor: float
    entrance_loss: float
    exit_loss: float
    blockage: float
    pattern: float
    face: Face = NO_FACE
    ends: Ends = STILL
    silt_n: float = SILT_MANNING_N
    outlet_loss: float = 0.0
    pieces: Pieces | None = None


class Screen(NamedTuple):
    """An inlet screen; width 0 for none. `clean_loss` on gross velocity; overflow_coefficient 0 for a closed top.

    lean : sine of the inclination of the bars above the horizontal [-]; bypass : an open way beside them
    """

    width: float
    height: float
    sill: float
    clear: float
    clean_loss: float
    blockage: float
    pattern: float
    overflow_coefficient: float
    lean: float = 1.0
    bypass: Bypass = NO_BYPASS


class Road(NamedTuple):
    """A road over the crossing; length 0 for none.

    level : of a level road, or of the lowest point of one that follows `line` [m]
    """

    level: float
    length: float
    coefficient: float
    line: Line | None = None


INLET_FREE, INLET_DROWNED, OUTLET_FREE_SURFACE, OUTLET_PART_FULL, OUTLET_FULL, NO_WAY_THROUGH = (
    1,
    2,
    3,
    4,
    5,
    9,
)
FACE_FREE, FACE_DROWNED = 6, 7
"""What governs the barrels."""


class Crossed(NamedTuple):
    """What a crossing does with a flow.

    level : of the water upstream, a still pool or the approach [m]; `inf` when there is no way through
    regime : what governs the barrels
    barrel_flow, relief_flow, road_flow, over_screen_flow, bypass_flow : [m3/s]; through all barrels of the main group
        together, all relief barrels together, over the road, over the top of the screen, and beside its bars
    barrel_level : between screen and barrels [m]
    inlet_level, outlet_level : the headwater by inlet and by outlet control [m]
    depth_in, depth_out : in the barrel at its inlet and outlet [m], pressure depth when above the roof
    velocity_in, velocity_out : in the barrel [m/s]
    screen_velocity : on the gross wetted area of the screen [m/s]
    screen_drop : difference of level across the screen [m]
    road_drowned : 1 where water goes over the road and the level below drowns it, else 0
    energy : energy level upstream [m]; the level itself where the pool is still
    transit_time : of the water through the barrel [s]; velocity_most : the greatest in it [m/s]
    free_height : least height between water and roof at the ends of the barrel or of its parts [m]
    """

    level: float
    regime: float
    barrel_flow: float
    road_flow: float
    over_screen_flow: float
    barrel_level: float
    inlet_level: float
    outlet_level: float
    depth_in: float
    depth_out: float
    velocity_in: float
    velocity_out: float
    screen_velocity: float
    screen_drop: float
    relief_flow: float
    road_drowned: float
    energy: float
    transit_time: float
    velocity_most: float
    free_height: float
    bypass_flow: float


@kernel
def _slope(b: Barrels) -> float:
    return (b.upstream_invert - b.downstream_invert) / b.length if b.length > 0.0 else 0.0


@kernel
def _lay(b: Barrels, tailwater: float) -> Lay:
    """How the barrels lie, without silt."""
    depth = tailwater - b.downstream_invert + fall(b.pieces)
    ends = (b.entrance_loss, b.exit_loss, b.ends.head_below, b.outlet_loss)
    return Lay(_slope(b), b.length, depth, *ends, NO_SILT, b.pieces)


@kernel
def barrel_levels(b: Barrels, flow: float, tailwater: float) -> tuple[float, float]:
    """Headwater by inlet and by outlet control for the flow of all barrels [m]."""
    lay = _lay(b, tailwater)
    if b.face.width > 0.0:
        at_face, throat, outlet_level = tapered_levels(
            b.face,
            b.section,
            flow / b.number,
            lay,
            b.upstream_invert,
            b.row,
            b.head_factor,
            b.blockage,
            b.pattern,
            b.number,
            b.ends,
            b.silt_n,
        )
        return max(at_face, throat), outlet_level
    inlet, outlet = barrel_heads(
        b.section,
        flow / b.number,
        lay,
        b.row,
        b.head_factor,
        b.blockage,
        b.pattern,
        b.number,
        Ends(b.ends.head_below, b.ends.approach, b.ends.approach_bed - b.upstream_invert),
        b.silt_n,
    )
    return b.upstream_invert + inlet, b.upstream_invert + outlet


@kernel
def level_through(b: Barrels, screen: Screen, flow: float, tailwater: float) -> float:
    """Level of the pool when all the flow goes through screen and barrels [m]."""
    inlet, outlet = barrel_levels(b, flow, tailwater)
    behind = max(inlet, outlet)
    if screen.width <= 0.0:
        return behind
    return level_at_screen(screen, flow, behind)


@kernel
def energy_above(b: Barrels, flow: float, level: float) -> float:
    """Energy level upstream [m] for the water level there: that of a still pool, or of the approach with its velocity.

    flow : through the barrels; what goes beside them over a road comes over the banks (own choice)
    """
    if b.ends.approach.width <= 0.0 or flow <= 0.0 or level == inf:
        return level
    return level + velocity_head(b.ends.approach, flow, level - b.ends.approach_bed)


@kernel
def level_at_screen(screen: Screen, flow: float, behind: float) -> float:
    """Level upstream of the screen [m] for the level behind it; never lower than that."""
    head = screen_head(
        flow,
        behind - screen.sill,
        screen.width,
        screen.height,
        screen.clear,
        screen.clean_loss,
        FREE_SLOT_COEFFICIENT,
        screen.blockage,
        screen.pattern,
        screen.overflow_coefficient,
        screen.lean,
        screen.bypass,
    )
    return max(screen.sill + head, behind)


@kernel
def level_over(road: Road, flow: float, tailwater: float) -> float:
    """Level of the pool when the flow goes over the road [m]."""
    return road.level + _head_over(road, road.line, flow, tailwater - road.level)


@kernel
def _head_over(road: Road, line: Line | None, flow: float, drowned_head: float) -> float:
    """Head over the road that passes a flow [m]; `line` is that of the road."""
    if line is None:
        return road_head(flow, drowned_head, road.length, road.coefficient)
    return road_line_head(line, flow, drowned_head, road.coefficient)


@kernel
def flow_over(road: Road, level: float, tailwater: float) -> float:
    """Flow over the road at a level of the pool [m3/s]; the inverse of `level_over`, 0 for no road."""
    if road.length <= 0.0 or level <= road.level:
        return 0.0
    if level == inf:
        return inf
    return road_crest_flow(road.line, level - road.level, tailwater - road.level, road.length, road.coefficient)


@kernel
def shared_out(b: Barrels, screen: Screen, road: Road, flow: float, tailwater: float) -> tuple[float, float]:
    """Flow through the barrels when the road takes the rest [m3/s], and level of the pool upstream [m].

    The level is `inf` when there is no way through.
    """
    alone = level_through(b, screen, flow, tailwater)
    if road.length <= 0.0 or tailwater == inf:
        return flow, not_above_road(road, alone, tailwater)
    dry = level_over(road, 0.0, tailwater)
    if alone <= dry:
        return flow, alone
    least = max(flow - flow_over(road, alone, tailwater), 0.0)  # at no higher level goes more over the road
    low = level_through(b, screen, least, tailwater) - level_over(road, flow - least, tailwater)
    if low >= 0.0:
        return least, level_over(road, flow - least, tailwater)
    bracket = roots.start(least, low, flow, alone - dry)
    while roots.is_open(bracket, 1e-10 * flow) and abs(bracket.f1) > 1e-7:
        x = roots.propose(bracket)
        gap = level_through(b, screen, x, tailwater) - level_over(road, flow - x, tailwater)
        bracket = roots.narrow(bracket, x, gap)
    through = roots.best(bracket)
    return through, level_over(road, flow - through, tailwater) if through < flow else dry


@kernel
def pool_level(b: Barrels, screen: Screen, road: Road, flow: float, tailwater: float) -> float:
    """Level of the pool upstream of the crossing [m]; `inf` when there is no way through."""
    return shared_out(b, screen, road, flow, tailwater)[1]


@kernel
def not_above_road(road: Road, level: float, tailwater: float) -> float:
    """The level at which nothing goes over the road; only without any flow can barrels ask for a higher one."""
    return min(level, level_over(road, 0.0, tailwater)) if road.length > 0.0 else level


@kernel
def _inlet_control(b: Barrels, flow: float, inlet: float) -> int:
    """Which inlet control holds, at the flow of one barrel: of the face, or of the inlet or throat."""
    drowned = is_inlet_drowned(b.section, flow, b.blockage, b.pattern)
    if b.face.width > 0.0:
        at_face = face_level(b.face, b.section, flow, _slope(b), b.head_factor, b.blockage, b.pattern)
        if at_face >= inlet:
            return FACE_DROWNED if is_face_drowned(b.face, b.section, flow, b.blockage, b.pattern) else FACE_FREE
        inside = b.blockage if b.pattern == BOTTOM_UP else 0.0
        drowned = is_inlet_drowned(b.section, flow, inside, b.pattern)
    return INLET_DROWNED if drowned else INLET_FREE


@kernel
def _control(b: Barrels, filled: float, through: float, inlet: float, outlet: float) -> int:
    """Which control governs the barrels; `filled` is that of the water in them."""
    if outlet > inlet:
        if filled == FREE:
            return OUTLET_FREE_SURFACE
        return OUTLET_FULL if filled == FULL else OUTLET_PART_FULL
    return _inlet_control(b, through / b.number, inlet)


@kernel
def crossed(b: Barrels, screen: Screen, road: Road, flow: float, tailwater: float) -> Crossed:
    """The whole state of a crossing for a flow [m3/s] and the level just downstream [m]."""
    through, level = shared_out(b, screen, road, flow, tailwater)
    return crossed_with(b, screen, road, through, 0.0, flow - through, level, tailwater)


@kernel
def crossed_with(
    b: Barrels,
    screen: Screen,
    road: Road,
    through: float,
    relief: float,
    over_road: float,
    level: float,
    tailwater: float,
) -> Crossed:
    """The whole state for a known split of the flow: through the barrels, through relief barrels, over the road.

    level : of the pool upstream [m]
    """
    flow = through + relief + over_road
    inlet, outlet = barrel_levels(b, through, tailwater)
    behind = max(inlet, outlet)
    silt = silt_height(b.section, b.blockage) if b.pattern == BOTTOM_UP else 0.0
    s = with_silt(b.section, silt, b.silt_n)
    barrel = inside(s, through / b.number, over_bed(b.section, _lay(b, tailwater), s.silt, b.silt_n))
    regime = _control(b, barrel.filled, through, inlet, outlet)
    if through <= 0.0 and flow > 0.0:
        regime = NO_WAY_THROUGH
        behind = level
    over_screen, beside, velocity, drop = 0.0, 0.0, 0.0, 0.0
    if level == inf:
        regime = NO_WAY_THROUGH
    elif screen.width > 0.0 and through > 0.0:
        up, down, way = level - screen.sill, behind - screen.sill, screen.bypass
        over_screen = overflow(up, down, screen.height, screen.width, screen.overflow_coefficient)
        beside = overflow(up, down, way.top, way.width, way.coefficient)
        wetted = screen.width * min(level - screen.sill, screen.height)
        velocity = max(through - over_screen - beside, 0.0) / wetted
        drop = level - behind
    drowned = over_road > 0.0 and tailwater - road.level > MODULAR_RATIO * (level - road.level)
    return Crossed(
        level,
        float(regime),
        through,
        over_road,
        over_screen,
        behind,
        inlet,
        outlet,
        barrel.depth_in,
        barrel.depth_out,
        barrel.velocity_in,
        barrel.velocity_out,
        velocity,
        drop,
        relief,
        1.0 if drowned else 0.0,
        energy_above(b, through, level),
        barrel.transit_time,
        barrel.velocity_most,
        barrel.free_height,
        beside,
    )
