"""How deep the water stands over what it hurts: in the design flood, in the floods of a year, and how often."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import exceedance, overtopping
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.annual import Annual
from overbank.outputs.in_tables import by_share, columns, figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.receptors import Receptor

QUANTILES = (0.5, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities whose depths are given."""


@dataclass(frozen=True)
class Reached:
    """What the water does at a receptor.

    at : id of the element whose level reaches it
    probability : that it is reached in the design flood, by counting samples
    depths : non-exceedance probability -> depth over it in the design flood [m], 0 where it stays dry
    in_a_year : probability that it is reached in a year; None without annual maxima, or at another place
    floods : annual probability of a flood -> depth not exceeded in it with one half [m]; empty likewise
    """

    receptor: Receptor
    at: str
    probability: Probability
    depths: dict[float, Estimate]
    in_a_year: Estimate | None
    floods: dict[float, Estimate]


def _find(run: Run, annual: Annual | None) -> tuple[Reached, ...] | None:
    """None where the study names no receptor."""
    receptors = run.study.content.receptor
    return tuple(_reached(run, each, annual) for each in receptors) if receptors else None


def _reached(run: Run, receptor: Receptor, annual: Annual | None) -> Reached:
    at, design = receptor.at or run.model.place, run.sampling.settings.design
    over = _levels(run, at) - receptor.level_m
    depths = np.maximum(over, 0.0)
    known = annual if at == run.model.place else None
    return Reached(
        receptor,
        at,
        overtopping.plain(over, design),
        {share: exceedance.plain_quantile(depths, 1.0 - share, design) for share in QUANTILES},
        None if known is None else read(known.frequency.expected, receptor.level_m),
        {} if known is None else _in_floods(known, receptor.level_m),
    )


def _levels(run: Run, at: str) -> Array:
    """Level just upstream of an element [m]: at the place of all samples, elsewhere of those held in full."""
    samples = run.sampling.samples
    if at == run.model.place:
        return samples.levels
    return np.asarray(samples.site.element(at).level).reshape(run.sampling.shape)


def read(curve: Curve, level: float) -> Estimate:
    """Probability that a level is passed, off a falling curve; nan above the levels looked at, where it is less."""
    if level > curve.at[-1]:
        least = f"less than {curve.probability[-1]:.2g}: above the levels looked at"
        return Estimate(np.nan, np.nan, np.nan, curve.method, least)
    each = np.array([np.interp(level, curve.at, row) for row in curve.replicates])
    note = "no less: below the levels looked at" if level < curve.at[0] else ""
    found = over_replicates(each, curve.method, (0.0, 1.0))
    return Estimate(found.value, found.low, found.high, found.method, note or found.note)


def _in_floods(annual: Annual, level: float) -> dict[float, Estimate]:
    """Median depth in the flood of each annual probability [m]."""
    found = {}
    for line in annual.lines:
        middle = line.levels[0.5]
        value, low, high = (max(each - level, 0.0) for each in (middle.value, middle.low, middle.high))
        found[line.annual_probability] = Estimate(value, low, high, middle.method, middle.note)
    return found


def _summary(found: tuple[Reached, ...]) -> dict[str, Any]:
    return {"receptors": {each.receptor.name: _in_short(each) for each in found}}


def _in_short(found: Reached) -> dict[str, Any]:
    said = {
        "level_m": found.receptor.level_m,
        "reached_in_the_design_flood": figure(found.probability),
        "depth_not_exceeded_m": by_share(found.depths),
    }
    return said if found.in_a_year is None else {**said, "reached_in_a_year": figure(found.in_a_year)}


def _tables(found: tuple[Reached, ...]) -> Tables:
    nothing = Estimate(np.nan, np.nan, np.nan, "")
    rows = []
    for each in found:
        row: dict[str, Any] = {"receptor": each.receptor.name, "at": each.at, "level_m": each.receptor.level_m}
        row |= columns("reached", each.probability) | columns("reached_in_a_year", each.in_a_year or nothing)
        for share, depth in each.depths.items():
            row |= columns(f"depth_{100 * share:g}_m", depth)
        row |= {f"median_depth_in_{probability:g}_m": depth.value for probability, depth in each.floods.items()}
        rows.append(row)
    return {"receptors": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=("annual",), tables=_tables, summary=_summary)
