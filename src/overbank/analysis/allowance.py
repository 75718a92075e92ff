"""The single blockage that makes one ordinary deterministic run give the level of the chosen exceedance."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from overbank.analysis.intervals import Estimate, join_notes
from overbank.errors import DomainError

ENDLESS = 1e9
"""Stands for an infinite level [m] in the root solve."""

TOLERANCE = 1e-6
"""On the blockage [-]."""

MILLIMETRE = 1e-3
"""A level that the end of the range misses by no more than this [m] is given by that end: levels are told no finer."""

METHOD = "blockage at which the run with all other inputs at their medians gives the level"


def equivalent(
    level_at: Callable[[float], float], target_level: Estimate, low: float = 0.0, high: float = 1.0
) -> Estimate:
    """Blockage allowance [-] equivalent to a level, interval by mapping both ends of the level's interval.

    Parameters
    ----------
    level_at : blockage [-] -> level [m], every other input at its median; never falling, +inf allowed
    target_level : level [m] of the chosen exceedance, with its interval
    low, high : range of blockage looked at [-]

    Out of range, the value is the end of the range and the note says so in words.

    Raises
    ------
    DomainError : the deterministic run gives no number, or the target is not a number
    """
    if np.isnan(target_level.value):
        raise DomainError("blockage allowance: expected a level to aim at; got nan")
    value, words = _blockage_for(level_at, target_level.value, low, high)
    least, most = (
        np.nan if np.isnan(end) else _blockage_for(level_at, end, low, high)[0]
        for end in (target_level.low, target_level.high)
    )
    return Estimate(value, least, most, METHOD, join_notes(words, target_level.note))


def needed(level_at: Callable[[float], float], target_level: Estimate) -> Estimate:
    """Blockage allowance [-] equivalent to a level, looked for from 0 to 1 whatever is assumed of the blockage.

    nan where there is none, with words that say on which side; then the end of the interval that there is, if any, is
    kept. An end of the level's interval that no blockage gives is the end of the range.

    Parameters
    ----------
    level_at : blockage [-] -> level [m], every other input at its median; never falling, +inf allowed
    target_level : level [m] of the chosen exceedance, with its interval

    Raises
    ------
    DomainError : the deterministic run gives no number, or the target is not a number
    """
    found = equivalent(level_at, target_level)
    _, words = _blockage_for(level_at, target_level.value, 0.0, 1.0)
    if not words:
        return found
    low = found.low if 0.0 < found.low < 1.0 else np.nan
    high = found.high if 0.0 < found.high < 1.0 else np.nan
    return Estimate(np.nan, low, high, METHOD, join_notes(f"none: {words}", target_level.note))


def _blockage_for(level_at: Callable[[float], float], target: float, low: float, high: float) -> tuple[float, str]:
    """The blockage, and words when it is an end of the range."""

    def excess(blockage: float) -> float:
        level = float(level_at(blockage))
        if np.isnan(level):
            raise DomainError(
                "blockage allowance: the run with all inputs at their medians gave no level at a blockage "
                f"of {blockage:g}; check that run first"
            )
        return float(np.clip(level - target, -ENDLESS, ENDLESS))

    if target == np.inf or excess(high) < -MILLIMETRE:
        return high, f"no blockage up to {high:g} raises the median run to that level"
    if excess(low) > MILLIMETRE:
        return low, f"the median run stands above that level even at a blockage of {low:g}"
    if excess(high) <= 0.0:
        return high, ""
    if excess(low) >= 0.0:
        return low, ""
    return float(brentq(excess, low, high, xtol=TOLERANCE)), ""
