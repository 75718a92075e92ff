"""Whether the headline figures have settled: half of the samples against all of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from overbank.analysis import by_blockage, convergence, exceedance
from overbank.analysis import overtopping as counting
from overbank.analysis.convergence import Convergence
from overbank.analysis.intervals import Estimate
from overbank.outputs.headwater import Headwater
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.sampling.run import Run
from overbank.sampling.samples import Array

LEVEL, BLOCKAGE = 0.02, 0.02
"""Half widths wanted of a level [m] and of a blockage."""


def _find(run: Run, headwater: Headwater, overtopping: Overtopping) -> dict[str, Convergence]:
    """One for the level of the assurance, the probability of overtopping and the largest blockage.

    None for a probability that does not come from the samples themselves: it has its own measures.
    """
    sampling = run.sampling
    assurance, design = sampling.decision.assurance, sampling.settings.design
    target = sampling.decision.target_probability
    found = {
        f"level not exceeded with probability {assurance:g}": convergence.settling(
            sampling.samples.levels, lambda levels: _level(run, headwater, levels), LEVEL, "m"
        )
    }
    if overtopping.beyond is None and overtopping.threshold is not None:
        wanted = max(0.1 * overtopping.threshold.value, 0.002)
        found["probability of overtopping"] = convergence.settling(run.over.probabilities, counting.threshold, wanted)
    elif overtopping.beyond is None:
        wanted = max(0.1 * overtopping.plain.value, 0.005)
        found["probability of overtopping"] = convergence.settling(
            sampling.samples.depth_over_bank, lambda t: counting.plain(t, design), wanted
        )
    if run.debris is not None:
        found["largest blockage within the target"] = convergence.settling(
            run.debris.critical[sampling.at], lambda t: by_blockage.largest_within(t, target), BLOCKAGE
        )
    return found


def _level(run: Run, headwater: Headwater, levels: Array) -> Estimate:
    """Level of the assurance from the first samples of every replicate, by the method of the one that is quoted."""
    sampling, ladder, samples = run.sampling, run.ladder, levels.shape[1]
    share = sampling.decision.assurance
    if ladder is None:
        return exceedance.plain_quantile(levels, 1.0 - share, sampling.settings.design)
    if samples == sampling.levels.shape[2]:
        return headwater.quantiles[share]
    return exceedance.quantile(ladder.exceedance(samples=samples), 1.0 - share, levels)


def _summary(found: dict[str, Convergence]) -> dict[str, Any]:
    return {"stability": {what: each.words for what, each in found.items()}}


def _tables(found: dict[str, Convergence]) -> Tables:
    """Each headline figure from ever more of the samples."""
    return {"convergence": pd.DataFrame(_ways(found))}


def _ways(found: dict[str, Convergence]) -> Iterator[dict[str, float | str]]:
    for name, settled in found.items():
        for samples, each in settled.way:
            yield {"figure": name, "samples": samples, "value": each.value, "low": each.low, "high": each.high}


OUTPUT = Output(find=_find, needs=("headwater", "overtopping"), tables=_tables, summary=_summary)
