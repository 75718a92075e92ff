"""The channel upstream of a weir, or on both sides of a bridge: a simple section, or a surveyed one.

A simple section carries alpha = 1. In a surveyed section the velocity head is alpha V^2/2g, alpha from the
conveyance of its zones, and the energy is counted as in `surveyed_stages`. Friction is not counted in either.

Functions take the section, the level of its bed and the stages of the survey, None where there is none: code for the
other kind is then not even compiled.
"""

from __future__ import annotations

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.sections import Section, area
from overbank.hydraulics.surveyed_stages import (
    Stages,
    stage_area,
    stage_critical,
    stage_energy,
    stage_level,
)
from overbank.hydraulics.uniform import critical_depth


@kernel
def approach_area(section: Section, bed: float, survey: Stages | None, level: float) -> float:
    """Area below a level [m2]."""
    if survey is None:
        return area(section, level - bed)
    return stage_area(survey, level)


@kernel
def approach_critical(section: Section, bed: float, survey: Stages | None, flow: float) -> float:
    """Level at which the flow has the least energy [m]."""
    if survey is None:
        return bed + critical_depth(section, flow)
    return stage_critical(survey, flow)


@kernel
def approach_energy(section: Section, bed: float, survey: Stages | None, flow: float, level: float) -> float:
    """Level plus velocity head [m]."""
    if survey is None:
        v = flow / area(section, level - bed) if flow > 0.0 else 0.0
        return level + v * v / (2.0 * GRAVITY)
    return stage_energy(survey, flow, level)


@kernel
def approach_level(section: Section, bed: float, survey: Stages | None, flow: float, energy: float) -> float:
    """The subcritical level at which the flow has an energy level [m]; critical level if the energy is less."""
    if survey is None:
        return _simple_level(section, bed, flow, energy)
    return stage_level(survey, flow, energy)


@kernel
def _simple_level(section: Section, bed: float, flow: float, energy: float) -> float:
    least = bed + critical_depth(section, flow)
    f_low = approach_energy(section, bed, None, flow, least) - energy
    if f_low >= 0.0:
        return least
    bracket = roots.start(least, f_low, energy, approach_energy(section, bed, None, flow, energy) - energy)
    while roots.is_open(bracket, 1e-9):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, approach_energy(section, bed, None, flow, x) - energy)
    return roots.best(bracket)
