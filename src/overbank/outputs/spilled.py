"""How much water leaves the row for good, over the crests along its sides, in the design flood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from overbank.analysis import exceedance, overtopping
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import by_share, columns, figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run

QUANTILES = (0.5, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities whose flows are given."""


@dataclass(frozen=True)
class Spilled:
    """What leaves over one side crest; of the samples held in full.

    probability : that any water leaves, by counting samples
    flows : non-exceedance probability -> flow that leaves [m3/s], 0 where none does
    """

    element: str
    probability: Probability
    flows: dict[float, Estimate]


def _find(run: Run) -> tuple[Spilled, ...]:
    """Of every element over whose side water can leave, going upstream."""
    return tuple(_spilled(run, each.id) for each in run.model.problem.site.elements if each.spills)


def _spilled(run: Run, element: str) -> Spilled:
    sampling, design = run.sampling, run.sampling.settings.design
    flows = sampling.samples.site.element(element).results["over_flow"].reshape(sampling.shape)
    quantiles = {share: exceedance.plain_quantile(flows, 1.0 - share, design) for share in QUANTILES}
    return Spilled(element, overtopping.plain(flows, design), quantiles)


def _summary(found: tuple[Spilled, ...]) -> dict[str, Any]:
    return {"spilled": {each.element: _in_short(each) for each in found}} if found else {}


def _in_short(found: Spilled) -> dict[str, Any]:
    return {"probability": figure(found.probability), "flow_not_exceeded_m3_s": by_share(found.flows)}


def _tables(found: tuple[Spilled, ...]) -> Tables:
    rows = []
    for each in found:
        row: dict[str, Any] = {"element": each.element} | columns("probability", each.probability)
        for share, flow in each.flows.items():
            row |= columns(f"flow_{100 * share:g}_m3_s", flow)
        rows.append(row)
    return {"spilled": pd.DataFrame(rows) if rows else None}


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
