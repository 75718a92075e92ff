"""Depths and levels by bracketing of SciPy, to hold those of the program against."""

from __future__ import annotations

from math import inf

import numpy as np
from scipy.optimize import brentq

from overbank.hydraulics import jump
from overbank.hydraulics.sections import Section
from overbank.hydraulics.surveyed import Surveyed, energy_level
from overbank.hydraulics.surveyed_levels import critical_level


def subcritical_level(s: Surveyed, flow: float, energy: float) -> float:
    """The first level above critical at which a flow has an energy level; critical where the energy is less."""
    critical = critical_level(s, flow)
    if flow <= 0.0 or energy == inf:
        return max(critical.level, energy)
    if energy <= critical.energy:
        return critical.level
    levels = np.concatenate([[critical.level], np.linspace(critical.level + 1e-6, energy, 400)])
    excess = [energy_level(s, flow, level) - energy for level in levels]
    at = int(np.argmax(np.array(excess) >= 0.0))
    low, high = levels[at - 1], levels[at]
    return float(brentq(lambda level: energy_level(s, flow, level) - energy, low, high, xtol=1e-12))


def sequent_head(s: Section, flow: float, depth: float) -> float:
    """The depth above another that has the same momentum function."""
    wanted = jump.momentum(s, flow, depth)
    low = depth * 1.01
    while jump.momentum(s, flow, low * 1.02) < jump.momentum(s, flow, low):
        low *= 1.02
    return float(brentq(lambda y: jump.momentum(s, flow, y) - wanted, low, 10.0 * low, xtol=1e-12))
