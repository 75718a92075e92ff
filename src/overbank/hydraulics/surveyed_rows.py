"""The loops over samples of reaches, tailwaters, weirs and bridges with a surveyed section, as in `rows`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from overbank._jit import kernel, take
from overbank.hydraulics.crest_line import Line
from overbank.hydraulics.rows import Table, bridge_of, put, reach_regime, weir_of
from overbank.hydraulics.surveyed import (
    Surveyed,
    area,
    bed_level,
    conveyance,
    energy_coefficient,
    energy_level,
    top_width,
)
from overbank.hydraulics.surveyed_levels import critical_level, normal_level
from overbank.hydraulics.surveyed_profile import level_along, level_entered
from overbank.hydraulics.surveyed_stages import laid_out, staged
from overbank.hydraulics.surveyed_table import SurveyTable


class SurveyedReachRow(NamedTuple):
    """A reach of a surveyed section, after the columns of the survey: level and energy level just below it [m]."""

    length: float
    slope: float
    flow: float
    level: float
    energy: float


class SurveyedReach(NamedTuple):
    """`Reach` of a surveyed section: depths above its lowest point, alpha of the energy at its upstream end.

    next_normal : depth of the next normal level above the one taken [m], `inf` when there is no other
    """

    level: float
    energy: float
    depth: float
    velocity: float
    steep: float
    depth_below: float
    regime: float
    alpha: float
    next_normal: float


@kernel
def _surveyed(survey: SurveyTable, column: Table) -> tuple[Surveyed, int]:
    """The section of one sample, and how many columns its zones take."""
    zones = survey.areas.shape[0]
    method, shift = take(column[zones:], 0, 2)
    return Surveyed(survey, column[:zones].copy(), method, shift), zones


@kernel
def _surveyed_reach(s: Surveyed, reach: SurveyedReachRow) -> tuple[float, float, float]:
    """Level at the upstream end of a reach in the frame of its downstream end, level there, and critical level."""
    length, slope, flow, level, energy = reach
    critical = critical_level(s, flow).level
    below = level_entered(s, flow, critical, level, energy)
    if flow <= 0.0 or below == np.inf:
        return max(below - slope * length, bed_level(s)), below, critical
    return level_along(s, flow, critical, slope, length, below), below, critical


@kernel
def surveyed_levels(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Level and energy level at the upstream end of a surveyed reach."""
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        reach = SurveyedReachRow(*take(inputs[zones:, i], 2, 5))
        z, _, _ = _surveyed_reach(s, reach)
        rise = reach.length * reach.slope
        results[0, i] = z + rise
        results[1, i] = energy_level(s, reach.flow, z) + rise


@kernel
def surveyed_states(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Everything in `SurveyedReach`."""
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        reach = SurveyedReachRow(*take(inputs[zones:, i], 2, 5))
        z, below, critical = _surveyed_reach(s, reach)
        flow, slope, bed = reach.flow, reach.slope, bed_level(s)
        wet = flow > 0.0 and z < np.inf
        steep = 1.0 if slope > 0.0 and flow < conveyance(s, critical) * np.sqrt(slope) else 0.0
        state = SurveyedReach(
            z + slope * reach.length,
            energy_level(s, flow, z) + slope * reach.length,
            z - bed,
            flow / area(s, z) if wet else 0.0,
            steep,
            below - bed,
            float(reach_regime(steep, z - bed, critical - bed)),
            energy_coefficient(s, z) if wet else 1.0,
            normal_level(s, flow, slope).next_level - bed,
        )
        put(results, i, state)


class SurveyedNormal(NamedTuple):
    """`Normal` of a surveyed section, and the next normal level [m]."""

    level: float
    energy: float
    swift: float
    next_level: float


@kernel
def surveyed_normal_levels(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Everything in `SurveyedNormal`; slope and flow come after the columns of the survey."""
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        slope, flow = take(inputs[zones:, i], 2, 2)
        normal, critical = normal_level(s, flow, slope), critical_level(s, flow).level
        energy = energy_level(s, flow, max(normal.level, critical))
        swift = 1.0 if normal.level < critical else 0.0
        put(results, i, SurveyedNormal(normal.level, energy, swift, normal.next_level))


@kernel
def _alpha(s: Surveyed, level: float) -> float:
    return energy_coefficient(s, level) if bed_level(s) < level < np.inf else 1.0


ALPHA = ("alpha",)
"""What a surveyed approach adds to the state: the coefficient of its energy."""


@kernel
def surveyed_weir_states(survey: SurveyTable, line: Line | None, inputs: Table, results: Table) -> None:
    """`lined_weir_states` with a surveyed approach, whose columns come first, and `ALPHA`."""
    layout = laid_out(survey)
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        state = weir_of(inputs[zones + 2 :, i], staged(s, layout), line)
        put(results, i, state)
        results[len(state), i] = _alpha(s, state.level)


@kernel
def surveyed_bridge_states(
    survey: SurveyTable, line: Line | None, deck: Line | None, inputs: Table, results: Table
) -> None:
    """`lined_bridge_states` with a surveyed approach, whose columns come first, and `ALPHA`."""
    layout = laid_out(survey)
    for i in range(inputs.shape[1]):
        s, zones = _surveyed(survey, inputs[:, i])
        state = bridge_of(inputs[zones + 2 :, i], staged(s, layout), line, deck)
        put(results, i, state)
        results[len(state), i] = _alpha(s, state.level)


@kernel
def surveyed_widths(survey: SurveyTable, inputs: Table, results: Table) -> None:
    """Width of a surveyed section at a level; columns: zones, method, shift, level."""
    for i in range(inputs.shape[1]):
        s, _ = _surveyed(survey, inputs[:, i])
        results[0, i] = top_width(s, inputs[-1, i])
