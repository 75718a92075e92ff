"""The site as engineers draw it: a long section with bed, barrels, road, banks and water."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.outputs.medians import DeterministicRun
from overbank.outputs.outcome import Outcome
from overbank.site.bridge import Bridge
from overbank.site.long_section import DRAWN_LENGTH, Station
from overbank.site.structures import Culvert, Structure
from overbank.site.weir import Weir

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
class Extent:
    """Where an element lies [m] and its levels [m]; nan where it has none. The screen's foot, head and tilt.

    road : a road, the deck of a bridge, or the crest of a weir
    relief : corners of the relief barrels, going round from their outlet's invert; empty where there are none
    """

    id: str
    kind: str
    start: float
    end: float
    bed_start: float
    bed_end: float
    roof_start: float
    roof_end: float
    road: float
    screen: tuple[tuple[float, float], tuple[float, float]] | None
    relief: tuple[tuple[float, float], ...] = ()


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

    extents: tuple[Extent, ...]
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
    banks = {element.id: element.bank_level for element in result.outcome.elements if element.bank_level is not None}
    return _section(result.problem.site.elements, result.problem.medians(), result.stations, None, banks)


def _section(
    elements: tuple[Structure, ...],
    medians: Mapping[str, float | Array],
    certain: tuple[Station, ...],
    sampled: tuple[Station, ...] | None,
    banks: Mapping[str, Array],
) -> Section:
    start, extents = 0.0, []
    for element in elements:
        extents.append(_extent(element, medians, start))
        start = extents[-1].end
    above = POOL if extents[-1].kind == "culvert" else ABOVE
    ends = -max(BELOW * start, LEAST), start + max(above * start, LEAST)
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
    return Section(tuple(extents), tuple(found), bed, _pieces(certain, sampled, ends))


def _extent(element: Structure, medians: Mapping[str, float | Array], start: float) -> Extent:
    """Geometry of one element at the medians."""

    def number(path: str) -> float:
        return float(np.asarray(medians.get(f"{element.id}.{path}", math.nan)).flat[0])

    if isinstance(element, Weir | Bridge):
        return _across(element, start, number)
    if not isinstance(element, Culvert):
        end, bed = start + number("length_m"), number("bed_level_m")
        top = bed + number("bed_slope") * number("length_m")
        return Extent(element.id, "channel", start, end, bed, top, math.nan, math.nan, math.nan, None)
    end = start + number("barrel.length_m")
    low, high = number("barrel.downstream_invert_m"), number("barrel.upstream_invert_m")
    rise = number("barrel.diameter_m" if element.shape == "pipe" else "barrel.rise_m")
    screen = None
    if element.has_screen:
        height, sill = number("screen.height_m"), number("screen.sill_level_m")
        lean = height / math.tan(math.radians(number("screen.inclination_deg")))
        screen = (end + lean, sill), (end, sill + height)
    road, relief = number("road.level_m"), _relief(element, end, number)
    return Extent(element.id, "culvert", start, end, low, high, low + rise, high + rise, road, screen, relief)


def _relief(element: Culvert, end: float, number: Callable[[str], float]) -> tuple[tuple[float, float], ...]:
    """Relief barrels, whose inlets are drawn where those of the main barrels are."""
    if element.relief is None:
        return ()
    barrel = "relief.barrel"
    low, high = number(f"{barrel}.downstream_invert_m"), number(f"{barrel}.upstream_invert_m")
    rise = number(f"{barrel}.diameter_m" if element.relief.shape == "pipe" else f"{barrel}.rise_m")
    start = end - number(f"{barrel}.length_m")
    return (start, low), (end, high), (end, high + rise), (start, low + rise)


def _across(element: Weir | Bridge, start: float, number: Callable[[str], float]) -> Extent:
    """A weir, or a bridge with the soffit of its main openings."""
    bed, roof, road = number("approach.bed_level_m"), math.nan, number("crest.level_m")
    if isinstance(element, Bridge):
        rise = number("opening.diameter_m" if element.shapes[0] == "pipe" else "opening.rise_m")
        roof, road = number("opening.bed_level_m") + rise, number("deck.level_m")
    return Extent(element.id, element.kind, start, start + DRAWN_LENGTH, bed, bed, roof, roof, road, None)


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
