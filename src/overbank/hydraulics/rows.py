"""The loops over samples: each takes the numbers of one sample from a column and calls one structure's formula."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, take
from overbank.hydraulics.crossing import Barrels, Crossed, Road, Screen, crossed, pool_level
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.profile import depth_upstream, is_steep
from overbank.hydraulics.sections import Section, area
from overbank.hydraulics.uniform import critical_depth, normal_depth, specific_energy, subcritical_depth

Table = NDArray[np.float64]

SECTION, INLET, SCREEN, ROAD = len(Section._fields), len(InletRow._fields), len(Screen._fields), len(Road._fields)
LAY = len(Barrels._fields) - 2
INLET_AT = SECTION
LAY_AT = INLET_AT + INLET
SCREEN_AT = LAY_AT + LAY
ROAD_AT = SCREEN_AT + SCREEN
CROSSING_COLUMNS = ROAD_AT + ROAD + 2
"""A crossing's columns: section, inlet row, the rest of the barrels, screen, road, flow, tailwater."""

CROSSING_RESULTS = Crossed._fields


@kernel
def _crossing_parts(column: Table) -> tuple[Barrels, Screen, Road]:
    section = Section(*take(column, 0, SECTION))
    row = InletRow(*take(column, INLET_AT, INLET))
    barrels = Barrels(section, row, *take(column, LAY_AT, LAY))
    return barrels, Screen(*take(column, SCREEN_AT, SCREEN)), Road(*take(column, ROAD_AT, ROAD))


@kernel
def crossing_levels(inputs: Table, results: Table) -> None:
    """Pool level only: what the threshold method asks for again and again."""
    for i in range(inputs.shape[1]):
        barrels, screen, road = _crossing_parts(inputs[:, i])
        results[0, i] = pool_level(barrels, screen, road, inputs[-2, i], inputs[-1, i])


@kernel
def crossing_states(inputs: Table, results: Table) -> None:
    """Everything in `Crossed`."""
    for i in range(inputs.shape[1]):
        barrels, screen, road = _crossing_parts(inputs[:, i])
        state = crossed(barrels, screen, road, inputs[-2, i], inputs[-1, i])
        for k in range(len(state)):
            results[k, i] = state[k]


CHANNEL_COLUMNS = SECTION + 6
"""A channel's columns: section, length, bed level, slope, flow, level and energy level just downstream."""

CHANNEL_RESULTS = ("level", "energy", "depth", "velocity", "steep", "depth_below")


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
        below = max(level - bed, subcritical_depth(s, flow, energy - bed), critical_depth(s, flow))
        y = depth_upstream(s, flow, slope, length, below)
        results[0, i] = bed + slope * length + y
        results[1, i] = bed + slope * length + specific_energy(s, flow, y)
        results[2, i] = y
        results[3, i] = flow / area(s, y)
        results[4, i] = 1.0 if is_steep(s, flow, slope) else 0.0
        results[5, i] = below


NORMAL_COLUMNS = SECTION + 3
"""Columns of a normal-depth tailwater: section, bed level, slope, flow."""


@kernel
def normal_levels(inputs: Table, results: Table) -> None:
    """Level of normal depth in the channel below, and its energy level."""
    for i in range(inputs.shape[1]):
        column = inputs[:, i]
        s = Section(*take(column, 0, SECTION))
        bed, slope, flow = take(column, SECTION, 3)
        y = normal_depth(s, flow, slope)
        results[0, i] = bed + y
        results[1, i] = bed + specific_energy(s, flow, y)
