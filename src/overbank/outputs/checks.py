"""The usual design checks: at the medians, and as shares of the samples."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import overtopping
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import figure, plain, table_of
from overbank.outputs.medians import DeterministicRun
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.site import design_checks as site_checks
from overbank.site.design_checks import FILLINGS, DesignCheck, Filling


@dataclass(frozen=True)
class CheckedFigure:
    """A usual design check of an element: a figure, what is asked of it, and how likely it is to be less.

    name, words, unit : of the figure; the unit is "m", or empty for a ratio
    asked : what it is set against; asked_by : "study", "default" where the study asks for nothing, empty where nobody
        asks but the figure has a natural measure
    certain : the figure with every uncertain number at its median; `-inf` where there is no way through
    below : P(figure < asked); negative : P(figure < 0), None for a ratio
    """

    element: str
    name: str
    words: str
    unit: str
    asked: float
    asked_by: str
    certain: float
    below: Probability
    negative: Probability | None


@dataclass(frozen=True)
class CheckedBarrels:
    """How the barrels of a culvert flow, in words: with every number at its median, and as shares of the samples."""

    element: str
    certain: str
    shares: dict[str, Probability]


@dataclass(frozen=True)
class Checks:
    """The usual design checks: figures, not verdicts."""

    figures: tuple[CheckedFigure, ...]
    barrels: tuple[CheckedBarrels, ...]


def _find(run: Run, medians: DeterministicRun) -> Checks:
    """Every figure with the plain count of the samples in which it is less than asked, and how the barrels flow."""
    sampling = run.sampling
    sampled, numbers = sampling.samples.site, run.model.numbers(sampling.rows)
    figures = zip(medians.checks, site_checks.design_checks(sampled, numbers), strict=True)
    barrels = zip(medians.fillings, site_checks.fillings(sampled, numbers), strict=True)
    return Checks(
        tuple(_figure(sampling, once, each) for once, each in figures),
        tuple(_barrels(sampling, once, each) for once, each in barrels),
    )


def _figure(sampling: Sampling, once: DesignCheck, each: DesignCheck) -> CheckedFigure:
    return CheckedFigure(
        element=each.element,
        name=each.name,
        words=each.words,
        unit=each.unit,
        asked=each.asked,
        asked_by=sampling.problem.origin(each.asked_by),
        certain=float(once.values[0]),
        below=_less_than_nought(sampling, each.margins),
        negative=_less_than_nought(sampling, each.values) if each.unit else None,
    )


def _barrels(sampling: Sampling, once: Filling, each: Filling) -> CheckedBarrels:
    """Shares of what occurs at all, the most frequent first."""
    known = ~np.isnan(each.codes)
    shares = {
        words: _less_than_nought(sampling, np.where(known, np.where(each.codes == code, -1.0, 1.0), np.nan))
        for code, words in FILLINGS.items()
        if np.any(each.codes == code)
    }
    ordered = dict(sorted(shares.items(), key=lambda pair: -pair[1].value))
    return CheckedBarrels(each.element, FILLINGS.get(once.codes[0], "no solution"), ordered)


def _less_than_nought(sampling: Sampling, values: Array) -> Probability:
    """Plain count of the samples in which something is less than nought."""
    return overtopping.plain(-values.reshape(sampling.shape), sampling.settings.design)


def _summary(found: Checks) -> dict[str, Any]:
    return {
        "design_checks": [
            {
                **{"element": each.element, "figure": each.name},
                "at_medians": plain(each.certain) if math.isfinite(each.certain) else None,
                **{"asked": each.asked, "asked_by": each.asked_by, "probability_of_less": figure(each.below)},
            }
            for each in found.figures
        ]
    }


def _tables(found: Checks) -> Tables:
    """A row a figure, and how the barrels of culverts flow as shares of the samples."""
    return {"design_checks": table_of(map(_row, found.figures)), "barrels": table_of(_flows(found))}


def _row(each: CheckedFigure) -> dict[str, Any]:
    return {
        **{"element": each.element, "figure": each.name, "at_medians": each.certain},
        **{"asked": each.asked, "asked_by": each.asked_by or "nobody"},
        "margin_at_medians": each.certain - each.asked,
        **{"probability_of_less": each.below.value, "low": each.below.low, "high": each.below.high},
        "probability_of_less_than_nought": math.nan if each.negative is None else each.negative.value,
    }


def _flows(found: Checks) -> Iterator[dict[str, Any]]:
    for each in found.barrels:
        for words, share in each.shares.items():
            yield {
                **{"element": each.element, "flow": words, "at_medians": words == each.certain},
                **{"share": share.value, "low": share.low, "high": share.high},
            }


OUTPUT = Output(
    find=_find,
    needs=("medians",),
    stage="making the usual design checks",
    tables=_tables,
    summary=_summary,
)
