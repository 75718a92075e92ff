"""As many samples as the precision that a study asks for needs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from overbank.analysis.automatic import Search, Wanted, search
from overbank.analysis.intervals import Estimate
from overbank.model import Runs
from overbank.outputs.output import Output, Tables
from overbank.outputs.registry import Results, find
from overbank.sampling.run import Report, Run
from overbank.study.load import Study

LOOKED_AT = ("headwater", "overtopping", "annual")
"""Outputs whose precision is wanted."""

PROBABILITY = "probability of overtopping"
"""Name of the second figure whose precision is wanted."""

IN_A_YEAR = "probability of overtopping in a year"
"""Name of the third, where the study gives annual maxima."""

USUAL_FLOOD = 0.01
"""Annual probability of the flood that a study which names none is held to be designed for."""

SHARE = 0.1
"""Half width wanted of a probability of overtopping: this share of it or of what is accepted, whichever is more. In a
year the target in the design flood is accepted as often as that flood comes."""


def settled(study: Study, powers: tuple[float, ...], report: Report) -> tuple[Run, Results]:
    """A run with as many samples as the precision that the study asks for needs, and its answers that were looked at.

    The runs of all numbers of samples that were tried are counted.
    """
    settings, decision, runs = study.content.run, study.content.decision, Runs()
    assert settings.precision_m is not None
    last: list[tuple[Run, Results]] = []
    level = f"level not exceeded with probability {decision.assurance:g}"

    def measure(samples: int) -> dict[str, Estimate]:
        report(f"trying {samples:,} samples")
        last.clear()
        run = Run(study.with_samples(samples), powers=powers, runs=runs)
        found = find(run, LOOKED_AT)
        last.append((run, found))
        yearly = {} if found.annual is None else {IN_A_YEAR: found.annual.probability}
        return {level: found.headwater.quantiles[decision.assurance], PROBABILITY: found.overtopping.best, **yearly}

    wanted = _wanted(study, level, settings.precision_m)
    tried = search(measure, wanted, settings.samples, settings.most)
    ((run, found),) = last
    run.report, run.search = report, tried
    return run, found


def _wanted(study: Study, level: str, precision: float) -> dict[str, Wanted]:
    """How precise each figure is to be."""
    flow, accepted = study.content.flow, SHARE * study.content.decision.target_probability
    wanted = {level: Wanted(precision), PROBABILITY: Wanted(accepted, SHARE)}
    if flow.source is not None:
        wanted[IN_A_YEAR] = Wanted(accepted * (flow.design_annual_probability or USUAL_FLOOD), SHARE)
    return wanted


def _find(run: Run) -> Search | None:
    """None where the study gives the number of samples."""
    return run.search


def _summary(found: Search) -> dict[str, Any]:
    said = {"samples": found.samples, "precision_met": found.met, "words": found.words}
    return {"automatic_samples": said}


def _tables(found: Search) -> Tables:
    return {"automatic_samples": pd.DataFrame(_steps(found))}


def _steps(found: Search) -> Iterator[dict[str, float | str]]:
    for step in found.steps:
        for name, each in step.found.items():
            yield {"samples": step.samples, "figure": name, "value": each.value, "low": each.low, "high": each.high}


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
