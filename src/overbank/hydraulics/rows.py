"""The loops over samples: each takes the numbers of one sample from a column and calls one structure's formula."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, take
from overbank.hydraulics.bridges import Bridge, Bridged, Deck, Openings, bridged
from overbank.hydraulics.crests import PlateRow
from overbank.hydraulics.crossing import Barrels, Crossed, Road, Screen
from overbank.hydraulics.culverts import STILL, InletRow
from overbank.hydraulics.profile import depth_upstream, is_steep
from overbank.hydraulics.relief import crossed_by_both, level_of_both
from overbank.hydraulics.screens import BOTTOM_UP
from overbank.hydraulics.sections import SILT_MANNING_N, Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.surveyed import Surveyed, bed_level, conveyance, energy_coefficient, energy_level
from overbank.hydraulics.surveyed import area as surveyed_area
from overbank.hydraulics.surveyed import top_width as surveyed_width
from overbank.hydraulics.surveyed_levels import critical_level, normal_level
from overbank.hydraulics.surveyed_profile import level_along, level_entered
from overbank.hydraulics.surveyed_stages import Stages, laid_out, staged
from overbank.hydraulics.surveyed_table import SurveyTable
from overbank.hydraulics.tapered import NO_FACE, Face
from overbank.hydraulics.uniform import critical_depth, normal_depth, specific_energy, subcritical_depth
from overbank.hydraulics.weir_level import Crest, WeirState, weir_state

Table = NDArray[np.float64]

SECTION, INLET, SCREEN, ROAD = (
    len(Section._fields),
    len(InletRow._fields),
    len(Screen._fields),
    len(Road._fields),
)
LAY = len(Barrels._fields) - 5
BARRELS = SECTION + INLET + LAY
FACE_SIZE = len(Face._fields) - 1
FACE = INLET + FACE_SIZE
RELIEF_AT = FACE
MAIN_AT = RELIEF_AT + BARRELS
SCREEN_AT = MAIN_AT + BARRELS
ROAD_AT = SCREEN_AT + SCREEN
CROSSING_COLUMNS = ROAD_AT + ROAD + 2
"""A crossing's columns: face of a tapered entrance (its row, width, height, invert), relief barrels, main barrels
(section, inlet row, the rest), screen, road, flow, tailwater. What is not there is all noughts."""

CROSSING_RESULTS = Crossed._fields


@kernel
def _barrels(column: Table, face: Face) -> Barrels:
    section = Section(*take(column, 0, SECTION))
    row = InletRow(*take(column, SECTION, INLET))
    number, length, upstream, downstream, factor, entrance, leaving, blockage, pattern = take(
        column, SECTION + INLET, LAY
    )
    lay = (number, length, upstream, downstream, factor, entrance, leaving, blockage, pattern)
    return Barrels(section, row, *lay, face, STILL, SILT_MANNING_N)


@kernel
def _crossing_parts(column: Table) -> tuple[Barrels, Screen, Barrels, Road]:
    face = Face(InletRow(*take(column, 0, INLET)), *take(column, INLET, FACE_SIZE))
    relief, main = _barrels(column[RELIEF_AT:], NO_FACE), _barrels(column[MAIN_AT:], face)
    return main, Screen(*take(column, SCREEN_AT, SCREEN)), relief, Road(*take(column, ROAD_AT, ROAD))


@kernel
def crossing_levels(inputs: Table, results: Table) -> None:
    """Pool level only: what the threshold method asks for again and again."""
    for i in range(inputs.shape[1]):
        barrels, screen, relief, road = _crossing_parts(inputs[:, i])
        results[0, i] = level_of_both(barrels, screen, relief, road, inputs[-2, i], inputs[-1, i])


@kernel
def crossing_states(inputs: Table, results: Table) -> None:
    """Everything in `Crossed`."""
    for i in range(inputs.shape[1]):
        barrels, screen, relief, road = _crossing_parts(inputs[:, i])
        state = crossed_by_both(barrels, screen, relief, road, inputs[-2, i], inputs[-1, i])
        for k in range(len(state)):
            results[k, i] = state[k]


ROOM_RESULTS = ("full_area", "clear_height")


@kernel
def barrel_rooms(inputs: Table, results: Table) -> None:
    """Area of a clean barrel [m2], and its height from the bed, or from the silt that blocks it, to the roof [m].

    Columns: section, blockage and its pattern.
    """
    for i in range(inputs.shape[1]):
        s = Section(*take(inputs[:, i], 0, SECTION))
        blockage, pattern = take(inputs[:, i], SECTION, 2)
        silt = silt_height(s, blockage) if pattern == BOTTOM_UP else 0.0
        results[0, i] = area(s, s.rise)
        results[1, i] = clear_height(with_silt(s, silt))


CHANNEL_COLUMNS = SECTION + 6
"""A channel's columns: section, length, bed level, slope, flow, level and energy level just downstream."""

CHANNEL_RESULTS = ("level", "energy", "depth", "velocity", "steep", "depth_below", "regime")

SUBCRITICAL, STEEP, STEEP_DROWNED = 0, 1, 2
"""What governs a reach: the water below; or, steep for the flow, critical depth at its upstream end, or again the
water below, which drowns it all along."""


@kernel
def _reach_regime(steep: float, depth: float, critical: float) -> float:
    """What governs a reach, by the depth at its upstream end."""
    if steep <= 0.0:
        return SUBCRITICAL
    return STEEP if depth <= critical * (1.0 + 1e-6) else STEEP_DROWNED


@kernel
def channel_states(inputs: Table, results: Table) -> None:
    """Level at the upstream end of a reach, whose bed level is given at its downstream end.

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
        results[0, i] = bed + slope * length + y
        results[1, i] = bed + slope * length + specific_energy(s, flow, y)
        results[2, i] = y
        results[3, i] = flow / area(s, y) if flow > 0.0 else 0.0
        results[4, i] = 1.0 if is_steep(s, flow, slope) else 0.0
        results[5, i] = below
        results[6, i] = _reach_regime(results[4, i], y, critical)


NORMAL_COLUMNS = SECTION + 3
"""Columns of a normal-depth tailwater: section, bed level, slope, flow."""


@kernel
def normal_levels(inputs: Table, results: Table) -> None:
    """Level of normal depth in the channel below, and its energy level as a structure above feels it.

    Where normal flow is supercritical, a reach above is held by critical depth at its end, not by the energy below.
    """
    for i in range(inputs.shape[1]):
        column = inputs[:, i]
        s = Section(*take(column, 0, SECTION))
        bed, slope, flow = take(column, SECTION, 3)
        y = normal_depth(s, flow, slope)
        results[0, i] = bed + y
        results[1, i] = bed + specific_energy(s, flow, max(y, critical_depth(s, flow)))


OPENINGS, DECK = SECTION + 3, len(Deck._fields)
SHARED_AT = 2 * OPENINGS + SECTION
SHARED = len(Bridge._fields) - 4
BRIDGE_RESULTS = Bridged._fields


@kernel
def _openings(column: Table) -> Openings:
    return Openings(Section(*take(column, 0, SECTION)), column[SECTION], column[SECTION + 1], column[SECTION + 2])


@kernel
def _bridge_state(column: Table, survey: Stages | None) -> Bridged:
    approach = Section(*take(column, 2 * OPENINGS, SECTION))
    main, side = _openings(column), _openings(column[OPENINGS:])
    bed, contraction, expansion, sluice, orifice, factor, blockage, pattern = take(column, SHARED_AT, SHARED)
    bridge = Bridge(
        main, side, approach, bed, contraction, expansion, sluice, orifice, factor, blockage, pattern, survey
    )
    deck = Deck(*take(column, SHARED_AT + SHARED, DECK))
    return bridged(bridge, deck, column[-2], column[-1])


@kernel
def bridge_states(inputs: Table, results: Table) -> None:
    """Everything in `Bridged`.

    Columns: two groups of openings, section of the approach, what they share, deck, flow, level below.
    """
    for i in range(inputs.shape[1]):
        state = _bridge_state(inputs[:, i], None)
        for k in range(len(state)):
            results[k, i] = state[k]


PLATE = len(PlateRow._fields)
CREST = len(Crest._fields) - 3
WEIR_RESULTS = WeirState._fields


@kernel
def _weir_state(column: Table, survey: Stages | None) -> WeirState:
    approach = Section(*take(column, 0, SECTION))
    plate = PlateRow(*take(column, SECTION, PLATE))
    kind, level, width, breadth, angle, gain, factor, coefficient, limit, bed = take(column, SECTION + PLATE, CREST)
    crest = Crest(approach, plate, kind, level, width, breadth, angle, gain, factor, coefficient, limit, bed, survey)
    return weir_state(crest, column[-3], column[-2], column[-1])


@kernel
def weir_states(inputs: Table, results: Table) -> None:
    """Everything in `WeirState`.

    Columns: section of the approach, thin-plate constants, rest of the crest, flow, level and energy below.
    """
    for i in range(inputs.shape[1]):
        state = _weir_state(inputs[:, i], None)
        for k in range(len(state)):
            results[k, i] = state[k]


SURVEYED_RESULTS = (*CHANNEL_RESULTS, "alpha", "next_normal")


@kernel
def _surveyed(survey: SurveyTable, column: Table) -> tuple[Surveyed, int]:
    """The section of one sample, and how many columns its zones take."""
    zones = survey.areas.shape[0]
    method, shift = take(column[zones:], 0, 2)
    return Surveyed(survey, column[:zones].copy(), method, shift), zones


@kernel
def _surveyed_reach(s: Surveyed, reach: tuple[float, ...]) -> tuple[float, float, float]:
    """Level at the upstream end of a reach in the frame of its downstream end, level there, and critical level.

    reach : length, slope, flow, level and energy level just below
    """
    length, slope, flow, level, energy = reach
    critical = critical_level(s, flow).level
    below = level_entered(s, flow, critical, level, energy)
    if flow <= 0.0 or below == np.inf:
        return max(below - slope * length, bed_level(s)), below, critical
    return level_along(s, flow, critical, slope, length, below), below, critical


@kernel
def surveyed_levels(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Level and energy level at the upstream end of a surveyed reach.

    Columns: roughness of each zone, then method, shift, length, slope, flow, level and energy below.
    """
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        reach = take(inputs[zones:, i], 2, 5)
        z, _, _ = _surveyed_reach(s, reach)
        rise = reach[0] * reach[1]
        results[0, i] = z + rise
        results[1, i] = energy_level(s, reach[2], z) + rise


@kernel
def surveyed_states(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Everything in `SURVEYED_RESULTS`; depths above the lowest point, `next_normal` `inf` when there is no other."""
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        length, slope, flow, level, energy = take(inputs[zones:, i], 2, 5)
        z, below, critical = _surveyed_reach(s, (length, slope, flow, level, energy))
        wet = flow > 0.0 and z < np.inf
        results[0, i] = z + slope * length
        results[1, i] = energy_level(s, flow, z) + slope * length
        results[2, i] = z - bed_level(s)
        results[3, i] = flow / surveyed_area(s, z) if wet else 0.0
        results[4, i] = 1.0 if slope > 0.0 and flow < conveyance(s, critical) * np.sqrt(slope) else 0.0
        results[5, i] = below - bed_level(s)
        results[6, i] = _reach_regime(results[4, i], z - bed_level(s), critical - bed_level(s))
        results[7, i] = energy_coefficient(s, z) if wet else 1.0
        results[8, i] = normal_level(s, flow, slope).next_level - bed_level(s)


SURVEYED_NORMAL_RESULTS = ("level", "energy", "next_level")


@kernel
def surveyed_normal_levels(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Normal level of a surveyed section, its energy level as in `normal_levels`, and the next normal level."""
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        slope, flow = take(inputs[zones:, i], 2, 2)
        normal = normal_level(s, flow, slope)
        results[0, i] = normal.level
        results[1, i] = energy_level(s, flow, max(normal.level, critical_level(s, flow).level))
        results[2, i] = normal.next_level


SURVEYED_WEIR_RESULTS, SURVEYED_BRIDGE_RESULTS = (*WEIR_RESULTS, "alpha"), (*BRIDGE_RESULTS, "alpha")


@kernel
def _alpha(s: Surveyed, level: float) -> float:
    return energy_coefficient(s, level) if bed_level(s) < level < np.inf else 1.0


@kernel
def surveyed_weir_states(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """`weir_states` with a surveyed approach: its columns come first, those of the simple section are noughts."""
    layout = laid_out(survey)
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        state = _weir_state(inputs[zones + 2 :, i], staged(s, layout))
        for k in range(len(state)):
            results[k, i] = state[k]
        results[len(state), i] = _alpha(s, state.level)


@kernel
def surveyed_bridge_states(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """`bridge_states` with a surveyed approach: its columns come first, those of the simple section are noughts."""
    layout = laid_out(survey)
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        state = _bridge_state(inputs[zones + 2 :, i], staged(s, layout))
        for k in range(len(state)):
            results[k, i] = state[k]
        results[len(state), i] = _alpha(s, state.level)


@kernel
def surveyed_widths(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Width of a surveyed section at a level; columns: zones, method, shift, level."""
    for i in range(inputs.shape[1]):
        s, _ = _surveyed(survey, inputs[:, i])
        results[0, i] = surveyed_width(s, inputs[-1, i])
