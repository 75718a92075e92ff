"""How deep the water stands over the bank at the place: its exceedance curve and its quantiles, by counting samples."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import exceedance
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.outputs.in_tables import by_share
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run

QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities whose depths are given."""

STEPS, DEEPEST = 100, 0.9995
"""Even steps of the curve, from the bank to the depth not exceeded with this share of the samples."""


@dataclass(frozen=True)
class DepthOverBank:
    """Exceedance of the depth over the bank in the design flood.

    curve : P(depth > d) at depths d from 0 [m]; its first is the plain count of overtopping
    quantiles : non-exceedance probability -> depth [m], 0 where the water stays below the bank
    """

    curve: Curve
    quantiles: dict[float, Estimate]


def _find(run: Run) -> DepthOverBank:
    depths, settings = np.maximum(run.sampling.samples.depth_over_bank, 0.0), run.sampling.settings
    finite = depths[np.isfinite(depths)]
    deepest = max(float(np.quantile(finite, DEEPEST)) if finite.size else 0.0, 0.01)
    curve = exceedance.plain(depths, np.linspace(0.0, deepest, STEPS + 1))
    wanted = sorted({*QUANTILES, run.sampling.decision.assurance})
    found = {share: exceedance.plain_quantile(depths, 1.0 - share, settings.design) for share in wanted}
    return DepthOverBank(curve, found)


def _summary(found: DepthOverBank) -> dict[str, Any]:
    return {"depth_over_bank_not_exceeded_m": by_share(found.quantiles)}


def _tables(found: DepthOverBank) -> Tables:
    return {"depth_over_bank": found.curve.table("depth_m")}


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
