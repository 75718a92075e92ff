"""What figures, tables and sentences all read off an outcome."""

from __future__ import annotations

import math
from collections.abc import Mapping
from enum import Enum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.sensitivity import Indices
from overbank.outputs.blockage import Blockage
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.site.numbers import CLIMATE, FLOW

QUOTE = "“{}”"


class Reach(Enum):
    """Where a blockage that was looked for lies: from 0 to 1, or nowhere, because the water is too high or too low."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


def largest_reach(blocked: Blockage, target: float) -> Reach:
    """Of the largest blockage within the target: below when nothing blocked exceeds it, above when all meet it."""
    if blocked.fixed.probability[-1] <= target:
        return Reach.ABOVE
    return Reach.BELOW if blocked.fixed.probability[0] > target else Reach.WITHIN


def allowance_reach(outcome: Outcome, blocked: Blockage) -> Reach:
    """Of the allowance: above when no blockage raises the median run far enough, below when it stands higher clean."""
    if math.isfinite(blocked.allowance.value):
        return Reach.WITHIN
    clean, assured = blocked.levels[0.0], outcome.headwater.quantiles[outcome.assurance].value
    return Reach.BELOW if clean > assured else Reach.ABOVE


def from_last_nought(quantiles: Mapping[float, Estimate]) -> dict[float, Estimate]:
    """Rising quantiles by their share, from the last that is surely nought: those before it say nothing more."""
    noughts = [share for share, each in quantiles.items() if each.value == each.high == 0.0]
    return {share: each for share, each in quantiles.items() if share >= max(noughts, default=0.0)}


def share_above(curve: Curve, level: float) -> float:
    """P(H > level); nan when there is no such level."""
    if not math.isfinite(level):
        return math.nan
    return float(np.interp(level, curve.at, curve.probability, left=1.0))


def at_end(curve: Curve, place: int) -> Estimate:
    """The curve's first (0) or last (-1) value with its interval."""
    low, high = float(curve.low[place]), float(curve.high[place])
    return Estimate(float(curve.probability[place]), low, high, curve.method)


def index_of(indices: Indices, name: str, kind: str) -> Estimate:
    """The "first" or "total" index of an input with its interval."""
    return share_of(indices.table, name, kind)


def share_of(table: pd.DataFrame, name: str, kind: str) -> Estimate:
    """A share of the variance of an input's row, with its interval."""
    columns = [kind, f"{kind}_low", f"{kind}_high"]
    value, low, high = (float(number) for number in table.set_index("input").loc[name, columns].to_numpy(dtype=float))
    return Estimate(value, low, high, "crossed samples, Student t over replicates")


SHARED_OUT = {
    "total": "with joint effects",
    "shapley": "with the stated dependence (Shapley effects)",
}
"""How the variance of the level is shared out wherever the page says who drives it."""


def shared_out(outcome: Outcome) -> tuple[pd.DataFrame, str] | None:
    """The table and the kind of the shares of the level's variance that are quoted: one figure for each number.

    Shapley effects where inputs depend on each other, else total indices; None where neither could be found.
    """
    if outcome.drivers is None or outcome.drivers.level is None:
        return None
    fair = outcome.drivers.shapley
    return (outcome.drivers.level.table, "total") if fair is None else (fair.table, "shapley")


def bank_levels(outcome: Outcome) -> NDArray[np.float64]:
    """The sampled bank levels at the place [m]."""
    banks = outcome.samples.site.element(outcome.place).bank_level
    assert banks is not None
    return banks


ROADS = {"road": "road", "approach_road": "road", "deck": "deck"}
"""What water may pass over at a place, and the word for it."""


def road_level(outcome: Outcome) -> tuple[str, float]:
    """The lowest road or deck at the place and its level, at the medians [m]; nan where there is none."""
    medians = outcome.problem.medians()
    found = [
        (float(np.asarray(medians[path]).flat[0]), word)
        for table, word in ROADS.items()
        if (path := f"{outcome.place}.{table}.level_m") in medians
    ]
    level, word = min(found, default=(math.nan, "road"))
    return word, level


def certain_level(outcome: Outcome) -> float:
    """Level at the place with every input at its median [m]; nan where that run was not asked for."""
    if outcome.medians is None:
        return math.nan
    return float(outcome.deterministic.element(outcome.place).level[0])


def place_words(outcome: Outcome) -> str:
    """The place with what it is."""
    kinds = {element.id: element.kind for element in outcome.problem.site.elements}
    return f"the {kinds[outcome.place]} {QUOTE.format(outcome.place)}"


def blocked_words(name: str) -> str:
    """What it is that a blockage blocks."""
    known = plain_name(name)
    return f"the {known.part or 'opening'} of {QUOTE.format(known.group)}"


def flow_words(outcome: Outcome) -> str:
    """The design flow, with its 5 and 95 % values where it is uncertain, and the climate factor where there is one."""
    words = _with_range(outcome, FLOW, "flow", "\u00a0m³/s")
    if CLIMATE in (*outcome.problem.inputs.names, *outcome.problem.fixed):
        words += f"; {_with_range(outcome, CLIMATE, 'climate factor', '')}, by which every flow is multiplied"
    return words


def _with_range(outcome: Outcome, name: str, words: str, unit: str) -> str:
    """A number in words, with its 5 and 95 % values where it is uncertain."""
    inputs = outcome.problem.inputs
    if name not in inputs.names:
        return f"{words if name == CLIMATE else ''} {outcome.problem.fixed[name]:.4g}{unit}".strip()
    own = inputs.items[inputs.index(name)].distribution
    low, high = (two_figures(float(own.quantile(share))) for share in (0.05, 0.95))
    return f"median {words} {own.median:.3g}{unit}, 5 to 95 % range {low} to {high}{unit}"


def two_figures(number: float) -> str:
    """A number with two figures, never in powers of ten."""
    if number == 0.0 or not math.isfinite(number):
        return f"{number:g}"
    decimals = 1 - math.floor(math.log10(abs(number)))
    return f"{round(number, decimals):.{max(0, decimals)}f}"
