"""A long section: bed, roof, bank and water level from below the first structure to above the last.

A weir and a bridge take no length along the flow from a study; they are drawn over `DRAWN_LENGTH`, at the upstream
end of which their own level stands. Between their faces the water is drawn as a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.site.bridge import Bridge
from overbank.site.design_checks import silt_in_barrels
from overbank.site.numbers import Array, Numbers, Water, flow_of
from overbank.site.row import Site
from overbank.site.structures import Culvert, Structure
from overbank.site.weir import Weir

SHARES = (0.25, 0.5, 0.75, 1.0)
"""Where along a channel the water level is computed."""

DRAWN_LENGTH = 3.0
"""Length along the flow over which a weir and a bridge are drawn [m]."""


@dataclass(frozen=True)
class Station:
    """One place on the long section.

    element : id of the structure it belongs to; "tailwater" for the place just below the first
    chainage : distance upstream of the downstream face of the first structure [m]
    bed, roof, bank, road : levels [m] at the medians; nan where there is none
    level : water level (in a full barrel, pressure level) [m], one value a sample
    """

    element: str
    chainage: float
    bed: float
    roof: float
    bank: float
    road: float
    level: Array


def long_section(site: Site, medians: Numbers, numbers: Numbers, samples: int) -> tuple[Station, ...]:
    """Stations going upstream. Geometry is drawn at the medians; water levels for every sample of `numbers`."""
    flow = flow_of(numbers, samples)
    below = site.tailwater.water(numbers, flow)
    geometry = _Geometry(medians)
    stations: list[Station] = []
    chainage = 0.0
    for structure in site.elements:
        if not stations:
            start = geometry.number(*(f"{structure.id}.{bed}" for bed in BEDS))
            stations.append(Station("tailwater", 0.0, start, np.nan, np.nan, np.nan, below.level))
        results = structure.details(flow, below, numbers)
        if isinstance(structure, Culvert):
            stations += _through_culvert(structure, geometry, numbers, results, chainage)
            chainage += geometry.number(f"{structure.id}.barrel.length_m")
        elif isinstance(structure, Weir | Bridge):
            stations += _across(structure, geometry, below.level, results["level"], chainage)
            chainage += DRAWN_LENGTH
        else:
            stations += _along_channel(structure, geometry, numbers, flow, below, chainage)
            chainage += geometry.number(f"{structure.id}.length_m")
        below = Water.of(results)
    return tuple(stations)


BEDS = ("barrel.downstream_invert_m", "bed_level_m", "approach.bed_level_m")
"""Where a structure keeps the bed at its downstream end."""


@dataclass(frozen=True)
class _Geometry:
    """Certain numbers of the drawing."""

    medians: Numbers

    def number(self, *paths: str) -> float:
        """The first of the paths that the site has; nan when it has none."""
        for path in paths:
            if path in self.medians:
                return float(np.asarray(self.medians[path]).flat[0])
        return float("nan")


def _through_culvert(
    structure: Culvert, geometry: _Geometry, numbers: Numbers, results: dict[str, Array], chainage: float
) -> list[Station]:
    """Outlet and inlet of the barrel, then the pool."""
    own = structure.id
    rise = geometry.number(f"{own}.barrel.rise_m", f"{own}.barrel.diameter_m")
    length = geometry.number(f"{own}.barrel.length_m")
    bank, road = geometry.number(f"{own}.bank_level_m"), geometry.number(f"{own}.road.level_m")
    ends = (
        ("barrel.downstream_invert_m", "depth_out", chainage),
        ("barrel.upstream_invert_m", "depth_in", chainage + length),
    )
    silt = silt_in_barrels(structure, numbers, len(results["level"]))
    stations = []
    for invert, depth, place in ends:
        bed = geometry.number(f"{own}.{invert}")
        level = numbers[f"{own}.{invert}"] + silt + results[depth]
        stations.append(Station(own, place, bed, bed + rise, np.nan, road, level))
    bed = stations[-1].bed
    stations.append(Station(own, chainage + length, bed, np.nan, bank, np.nan, results["level"]))
    return stations


def _across(
    structure: Weir | Bridge, geometry: _Geometry, below: Array, above: Array, chainage: float
) -> list[Station]:
    """Both faces of a weir or bridge, then the water upstream; its crest or deck is the road, its soffit the roof."""
    own, upstream = structure.id, chainage + DRAWN_LENGTH
    bed, bank = geometry.number(f"{own}.approach.bed_level_m"), geometry.number(f"{own}.bank_level_m")
    road = geometry.number(f"{own}.crest.level_m", f"{own}.deck.level_m")
    rise = geometry.number(f"{own}.opening.rise_m", f"{own}.opening.diameter_m")
    roof = geometry.number(f"{own}.opening.bed_level_m") + rise
    return [
        Station(own, chainage, bed, roof, np.nan, road, below),
        Station(own, upstream, bed, roof, np.nan, road, above),
        Station(own, upstream, bed, np.nan, bank, np.nan, above),
    ]


def _along_channel(
    structure: Structure, geometry: _Geometry, numbers: Numbers, flow: Array, below: Water, chainage: float
) -> list[Station]:
    """The reach at a few shares of its length."""
    own = structure.id
    bank = geometry.number(f"{own}.bank_level_m")
    length, slope = geometry.number(f"{own}.length_m"), geometry.number(f"{own}.bed_slope")
    bed = geometry.number(f"{own}.bed_level_m")
    stations = []
    for share in SHARES:
        shorter = {**numbers, f"{own}.length_m": share * np.asarray(numbers[f"{own}.length_m"])}
        level = structure.details(flow, below, shorter)["level"]
        at = share * length
        stations.append(Station(own, chainage + at, bed + slope * at, np.nan, bank, np.nan, level))
    return stations
