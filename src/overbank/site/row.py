"""A site: structures in a row, marched upstream from the tailwater, all samples at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.errors import DomainError
from overbank.site.numbers import Array, Numbers, Water, flow_of, spread
from overbank.site.structures import Structure
from overbank.site.tailwater import Tailwater


@dataclass(frozen=True)
class ElementOutcome:
    """One structure's results: level just upstream [m], bank level there [m] or None, and everything else by name."""

    id: str
    kind: str
    level: Array
    bank_level: Array | None
    results: dict[str, Array]


@dataclass(frozen=True)
class SiteOutcome:
    """Flow [m3/s], level below the first structure [m], and each structure's outcome going upstream."""

    flow: Array
    tailwater: Array
    elements: tuple[ElementOutcome, ...]

    def element(self, name: str) -> ElementOutcome:
        """The outcome of the structure with that id."""
        return next(element for element in self.elements if element.id == name)


@dataclass(frozen=True)
class Site:
    """A row of structures, listed going upstream, above a tailwater."""

    elements: tuple[Structure, ...]
    tailwater: Tailwater

    def march(self, numbers: Numbers, samples: int = 1) -> SiteOutcome:
        """Everything at every structure."""
        flow = flow_of(numbers, samples)
        below = self.tailwater.water(numbers, flow)
        tailwater = below.level
        outcomes = []
        for structure in self.elements:
            results = structure.details(flow, below, numbers)
            below = Water.of(results)
            bank = numbers.get(f"{structure.id}.bank_level_m")
            outcomes.append(
                ElementOutcome(
                    structure.id,
                    structure.kind,
                    below.level,
                    None if bank is None else spread(bank, samples),
                    results,
                )
            )
        return SiteOutcome(flow, tailwater, tuple(outcomes))

    def levels(self, numbers: Numbers, samples: int, places: tuple[str, ...]) -> Array:
        """Levels just upstream of some structures [m], without the rest: what the threshold method asks for.

        Returns
        -------
        array (places, samples), in the order of `places`; nothing above the last of them is computed
        """
        flow = flow_of(numbers, samples)
        water = self.tailwater.water(numbers, flow)
        found: dict[str, Array] = {}
        for structure in self.elements:
            water = structure.upstream(flow, water, numbers)
            if structure.id in places:
                found[structure.id] = water.level
            if len(found) == len(places):
                return np.array([found[place] for place in places])
        names = ", ".join(structure.id for structure in self.elements)
        unknown = next(place for place in places if place not in found)
        raise DomainError(f"There is no element {unknown!r} in this row. Elements, going upstream: {names}.")
