"""The site as engineers draw it: a long section with bed, barrels, road, banks and water."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.outputs.medians import DeterministicRun
from overbank.outputs.outcome import Outcome
from overbank.site.long_section import Outline, Station, outlines
from overbank.site.row import SiteOutcome
from overbank.site.structure import Structure

Array = NDArray[np.float64]

BELOW, ABOVE, POOL = 0.07, 0.05, 0.15
"""How far the picture goes on below the site, above it, and above it where it ends in a pool: shares of the length."""

LEAST = 6.0
"""How far it goes on at least [m]: a bridge or a weir by itself has no length."""


@dataclass(frozen=True)
class Bank:
    """A bank level [m] at a chainage [m]: median, and 5 and 95 %."""

    chainage: float
    level: float
    low: float
    high: float


@dataclass(frozen=True)
class Piece:
    """A stretch of unbroken water surface: chainage, level at the medians, and (quantiles, places) of the samples."""

    chainage: Array
    certain: Array
    quantiles: Array | None


@dataclass(frozen=True)
class Section:
    """Everything that the picture shows.

    extents : of the elements, going upstream
    banks : where there are any
    bed : chainage and level
    pieces : the water surface; between two of them it drops through a structure
    """

    extents: tuple[Outline, ...]
    banks: tuple[Bank, ...]
    bed: tuple[Array, Array]
    pieces: tuple[Piece, ...]

    @property
    def ends(self) -> tuple[float, float]:
        """Chainage of the two ends of the picture [m]."""
        return float(self.bed[0][0]), float(self.bed[0][-1])


QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)


def section_of(outcome: Outcome) -> Section:
    """The section of a run, with the levels of some of its samples."""
    problem, found = outcome.problem, outcome.long_section
    banks = {
        element.id: element.bank_level for element in outcome.samples.site.elements if element.bank_level is not None
    }
    return _section(problem.site.elements, problem.medians(), found.certain, found.sampled, banks)


def section_at_medians(result: DeterministicRun) -> Section:
    """The section of one deterministic run."""
    return section_once(result.problem.site.elements, result.problem.medians(), result.stations, result.outcome)


def section_once(
    elements: tuple[Structure, ...],
    numbers: Mapping[str, float | Array],
    stations: tuple[Station, ...],
    outcome: SiteOutcome,
) -> Section:
    """The section of one run with any numbers."""
    banks = {element.id: element.bank_level for element in outcome.elements if element.bank_level is not None}
    return _section(elements, numbers, stations, None, banks)


def _section(
    elements: tuple[Structure, ...],
    medians: Mapping[str, float | Array],
    certain: tuple[Station, ...],
    sampled: tuple[Station, ...] | None,
    banks: Mapping[str, Array],
) -> Section:
    extents = outlines(elements, medians)
    length, above = extents[-1].end, POOL if extents[-1].pool else ABOVE
    ends = -max(BELOW * length, LEAST), length + max(above * length, LEAST)
    found = []
    for extent in extents:
        if extent.id in banks:
            low, middle, high = np.quantile(banks[extent.id], (0.05, 0.5, 0.95))
            found.append(Bank(extent.end, float(middle), float(low), float(high)))
    chainage = [ends[0], *(place for extent in extents for place in (extent.start, extent.end)), ends[1]]
    levels = [
        extents[0].bed_start,
        *(level for extent in extents for level in (extent.bed_start, extent.bed_end)),
        extents[-1].bed_end,
    ]
    bed = np.array(chainage), np.array(levels)
    return Section(extents, tuple(found), bed, _pieces(certain, sampled, ends))


def _pieces(
    certain: tuple[Station, ...], sampled: tuple[Station, ...] | None, ends: tuple[float, float]
) -> tuple[Piece, ...]:
    """Unbroken stretches of the water surface, level beyond both ends of the site."""
    stretches: list[list[tuple[float, int]]] = [[(ends[0], 0)]]
    before = None
    for index, station in enumerate(certain):
        in_barrel = math.isfinite(station.roof)
        kind = (station.element, in_barrel)
        if before is not None and kind != before and (in_barrel or before[1]):
            stretches.append([])
        stretches[-1].append((station.chainage, index))
        before = kind
    stretches[-1].append((ends[1], len(certain) - 1))
    return tuple(
        Piece(
            np.array([chainage for chainage, _ in stretch]),
            np.array([float(certain[index].level[0]) for _, index in stretch]),
            None if sampled is None else np.array([_quantiles(sampled[index].level) for _, index in stretch]).T,
        )
        for stretch in stretches
    )


def _quantiles(levels: Array) -> Array:
    """Quantiles among the samples that gave a level; a sample without a way through counts as endless."""
    known = levels[~np.isnan(levels)]
    if known.size == 0:
        return np.full(len(QUANTILES), np.nan)
    return np.asarray(np.quantile(known, QUANTILES, method="inverted_cdf"))
