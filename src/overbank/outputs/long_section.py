"""The water along the site: its levels at stations, at the medians and in some of the samples."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.outputs.medians import DeterministicRun
from overbank.outputs.output import Output
from overbank.sampling.run import Run
from overbank.site.long_section import Station, long_section

SAMPLED = 2048
"""Samples that are marched along the site, the first of each replicate: these are spread evenly, while every so-manieth
point of a Sobol' sequence lies in one corner."""


@dataclass(frozen=True)
class LongSection:
    """Stations going upstream.

    certain : with every uncertain number at its median, one level each
    sampled : the same stations, a level for each of some samples
    """

    certain: tuple[Station, ...]
    sampled: tuple[Station, ...]


def _find(run: Run, medians: DeterministicRun) -> LongSection:
    values, problem = run.sampling.samples.values, run.model.problem
    rows = values[:, : max(1, SAMPLED // len(values))].reshape(-1, problem.inputs.dimension)
    sampled = long_section(problem.site, problem.medians(), problem.numbers(rows), len(rows))
    return LongSection(medians.stations, sampled)


OUTPUT = Output(find=_find, needs=("medians",))
