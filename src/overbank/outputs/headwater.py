"""The level upstream of the place: its exceedance curve and its quantiles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from overbank.analysis import exceedance
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.outputs.in_tables import by_share
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import QUANTILES, Run


@dataclass(frozen=True)
class Headwater:
    """Exceedance of the level upstream of the place: smooth curve, plain curve, and quantiles.

    stepped : the smooth curve with its steps at levels that many samples share
    quantiles : non-exceedance probability -> level [m]
    """

    curve: Curve
    plain: Curve
    stepped: Curve
    quantiles: dict[float, Estimate]


def _find(run: Run) -> Headwater:
    """Smooth by the ladder, and plain by counting."""
    grid, sampling = run.grid, run.sampling
    plain = exceedance.plain(sampling.samples.levels, grid)
    curve = plain if run.ladder is None else run.ladder.exceedance()
    wanted = sorted({*QUANTILES, sampling.decision.assurance})
    levels = sampling.samples.levels
    quantiles = {share: exceedance.quantile(curve, 1.0 - share, levels) for share in wanted}
    return Headwater(curve, plain, exceedance.with_steps(curve, levels), quantiles)


def _summary(found: Headwater) -> dict[str, Any]:
    return {"headwater_not_exceeded_m": by_share(found.quantiles)}


def _tables(found: Headwater) -> Tables:
    """Exceedance of the level upstream of the place, smooth and plain."""
    table, plain = found.curve.table("level_m"), found.plain.table("level_m")
    beside = {"plain_probability": plain["probability"], "plain_low": plain["low"], "plain_high": plain["high"]}
    return {"exceedance": table.assign(**beside)}


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
