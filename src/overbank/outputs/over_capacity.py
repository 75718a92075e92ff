"""How long, and with how much water, the flood runs above what the site can pass: from the capacity, in closed form.

With the capacity q* of a sample, at which the level just reaches the bank, and r = (q* - Qb)/(Qp - Qb), the time and
the volume above r of the shape of the flood. The blockage stands still as it was sampled; nothing is stored.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import exceedance
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.hydraulics.hydrographs import above
from overbank.outputs.in_tables import by_share, figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.flood import HOUR, MOST, flood_of, shape_parameter
from overbank.sampling.passage import capacities
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW
from overbank.study.passing import SHAPE

QUANTILES = (0.5, 0.8, 0.9, 0.95)
"""Non-exceedance probabilities whose times are given, besides the assurance of the study."""

STEPS, LONGEST = 100, 0.9995
"""Even steps of the curve, up to the time not exceeded with this share of the samples."""

MEAN = "mean of the samples, Student t over replicates"


@dataclass(frozen=True)
class OverCapacity:
    """Time and volume above the capacity in the design flood.

    hours : non-exceedance probability -> time above the capacity [hours]; 0 where the water stays below the bank
    mean : of that time [hours]
    volume : mean volume above the capacity [m3]
    curve : P(longer than so many hours)
    """

    hours: dict[float, Estimate]
    mean: Estimate
    volume: Estimate
    curve: Curve


def _find(run: Run) -> OverCapacity | None:
    """None where the study gives the flood no shape."""
    sampling = run.sampling
    written = sampling.study.content.flow
    if written.hydrograph is None:
        return None
    chosen = sampling.chosen(MOST)
    numbers = run.model.numbers(sampling.rows[chosen])
    flood = flood_of(run.model, written, numbers, chosen.size)
    depths = sampling.held(sampling.samples.depth_over_bank).ravel()[chosen]
    over = np.flatnonzero(depths > 0.0)
    banks = sampling.held(sampling.banks[sampling.at]).ravel()[chosen]
    capacity = flood.peak.copy()
    capacity[over] = capacities(flood, {FLOW: flood.peak[over]}, over, banks[over])
    shape = written.hydrograph.form, shape_parameter(written, numbers, chosen.size)
    hours, volume = above(*shape, flood.peak, flood.number(f"{SHAPE}.base_flow_m3_s"), capacity)
    to_peak = flood.number(f"{SHAPE}.hours_to_peak")
    failed = np.where(np.isnan(depths), np.nan, 1.0)
    rows = (sampling.shape[0], -1)
    times, volumes = (failed * to_peak * hours).reshape(rows), (failed * to_peak * HOUR * volume).reshape(rows)
    return _told(times, volumes, sampling.settings.design, sampling.decision.assurance)


def _told(times: Array, volumes: Array, design: str, assurance: float) -> OverCapacity:
    finite = times[np.isfinite(times)]
    longest = max(float(np.quantile(finite, LONGEST)) if finite.size else 0.0, 0.01)
    wanted = sorted({*QUANTILES, assurance})
    return OverCapacity(
        hours={share: exceedance.plain_quantile(times, 1.0 - share, design) for share in wanted},
        mean=over_replicates(np.nanmean(times, axis=1), MEAN),
        volume=over_replicates(np.nanmean(volumes, axis=1), MEAN),
        curve=exceedance.plain(times, np.linspace(0.0, longest, STEPS + 1)),
    )


def _summary(found: OverCapacity) -> dict[str, Any]:
    return {
        "time_over_capacity": {
            "hours_not_exceeded": by_share(found.hours),
            "mean_hours": figure(found.mean),
            "mean_volume_m3": figure(found.volume),
        }
    }


def _tables(found: OverCapacity) -> Tables:
    return {"time_over_capacity": found.curve.table("hours")}


OUTPUT = Output(find=_find, stage="timing the flood above the capacity", tables=_tables, summary=_summary)
