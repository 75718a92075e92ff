"""What sections across the flow and the plan are drawn from: every element with its section, its water and its bank."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.outputs.medians import DeterministicRun
from overbank.outputs.outcome import Outcome
from overbank.site.cross_section import CrossSection
from overbank.site.long_section import Outline, outlines
from overbank.site.numbers import Numbers
from overbank.site.row import SiteOutcome

ABOVE = 0.15
"""How far above water and bank a channel is drawn: a share of their height over the bed."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Placed:
    """An element as it is drawn across and in plan.

    level, band : water just upstream, at the medians and 5 and 95 % of the samples; None where nothing was sampled [m]
    bank : median bank, nan where there is none [m]
    """

    outline: Outline
    section: CrossSection
    level: float
    band: tuple[float, float] | None
    bank: float


def placed_of(outcome: Outcome) -> tuple[Placed, ...]:
    """Every element of a run, going upstream, with the levels of its samples."""
    bands = {
        each.id: (_quantile(each.level, 0.05), _quantile(each.level, 0.95)) for each in outcome.samples.site.elements
    }
    return _placed(outcome.deterministic, outcome.problem.medians(), bands)


def placed_at_medians(result: DeterministicRun) -> tuple[Placed, ...]:
    """The same of one deterministic run."""
    return _placed(result.outcome, result.problem.medians(), {})


def _quantile(levels: Array, share: float) -> float:
    known = levels[~np.isnan(levels)]
    return float(np.quantile(known, share, method="inverted_cdf")) if known.size else math.nan


def _placed(site: SiteOutcome, medians: Numbers, bands: Mapping[str, tuple[float, float]]) -> tuple[Placed, ...]:
    structures = tuple(element.structure for element in site.elements)
    found = []
    for element, outline in zip(site.elements, outlines(structures, medians), strict=True):
        level = float(element.level[0])
        bank = math.nan if element.bank_level is None else float(element.bank_level[0])
        heights = [level, bank, outline.road, outline.roof_end, *bands.get(element.id, ())]
        top = max((height for height in heights if math.isfinite(height)), default=outline.bed_end)
        top += max(ABOVE * (top - outline.bed_end), 0.02)
        section = element.structure.across(medians, top)
        found.append(Placed(outline, section, level, bands.get(element.id), bank))
    return tuple(found)
