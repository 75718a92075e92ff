"""A long section: bed, roof, bank and water level from below the first structure to above the last.

A structure that takes no length along the flow from a study is drawn over `DRAWN_LENGTH`, at the upstream end of which
its own level stands. Between its faces the water is drawn as a straight line.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, nan

import numpy as np

from overbank.site.numbers import Array, Numbers, Water
from overbank.site.row import Site
from overbank.site.structure import Corner, Drawn, Solved, Structure


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


DRAWN_LENGTH = 3.0
"""Length along the flow over which a structure is drawn that takes none from a study [m]."""


@dataclass(frozen=True)
class Outline:
    """A structure as it is drawn, at the medians: where it lies [m] and its levels [m]; nan where it has none.

    road : what water passes over, and `crest` the word for it
    bank : level at which the water upstream leaves its banks
    screen : its foot and its head; None where there is none
    relief : corners of barrels that lie beside the others, going round; empty where there are none
    hides_water : what lies over it hides the water, which is not computed inside
    pool : the water upstream stands as a pool
    """

    id: str
    kind: str
    start: float
    end: float
    bed_start: float
    bed_end: float
    roof_start: float = nan
    roof_end: float = nan
    road: float = nan
    crest: str = ""
    bank: float = nan
    screen: tuple[Corner, Corner] | None = None
    relief: tuple[Corner, ...] = ()
    hides_water: bool = False
    pool: bool = False

    @property
    def solid(self) -> bool:
        """Whether it stands in the water from the bed up to what water passes over."""
        return isfinite(self.road) and not isfinite(self.roof_start)


def outlines(elements: tuple[Structure, ...], medians: Numbers) -> tuple[Outline, ...]:
    """How every structure is drawn, going upstream."""
    found: list[Outline] = []
    for structure in elements:
        found.append(structure.outline(drawn_numbers(structure.id, medians), found[-1].end if found else 0.0))
    return tuple(found)


def drawn_numbers(element: str, medians: Numbers) -> Drawn:
    """The numbers of one structure at the medians; nan where it has none of that name."""
    return lambda path: float(np.asarray(medians.get(f"{element}.{path}", nan)).flat[0])


def long_section(site: Site, medians: Numbers, numbers: Numbers, samples: int) -> tuple[Station, ...]:
    """Stations going upstream. Geometry is drawn at the medians; water levels for every sample of `numbers`."""
    passed = site.course(numbers, samples)
    water = site.tailwater.water(numbers, passed.flows[0])
    outlined = outlines(site.elements, medians)
    stations = [Station("tailwater", 0.0, outlined[0].bed_start, nan, nan, nan, water.level)]
    for place, (structure, drawn) in enumerate(zip(site.elements, outlined, strict=True)):
        flow = passed.flows[place]
        results = passed.held(place, water, structure.solve(flow, water, numbers))
        stations += structure.stations(drawn, water, Solved(flow, water.level, results["level"], results, numbers))
        water = Water.of(results)
    return tuple(stations)
