"""A site: structures in a row, marched upstream from the tailwater, all samples at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.errors import DomainError
from overbank.site.numbers import Array, Numbers, Water, spread
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
        flow = np.ascontiguousarray(spread(numbers["flow.design_m3_s"], samples))
        below = self.tailwater.water(numbers, flow)
        tailwater = below.level
        outcomes = []
        for structure in self.elements:
            results = structure.details(flow, below, numbers)
            level = results["level"]
            below = Water(level, results.get("energy", level))
            bank = numbers.get(f"{structure.id}.bank_level_m")
            outcomes.append(
                ElementOutcome(
                    structure.id,
                    structure.kind,
                    level,
                    None if bank is None else spread(bank, samples),
                    results,
                )
            )
        return SiteOutcome(flow, tailwater, tuple(outcomes))

    def levels(self, numbers: Numbers, samples: int, place: str) -> Array:
        """Level just upstream of one structure [m], without the rest: what the threshold method asks for."""
        flow = np.ascontiguousarray(spread(numbers["flow.design_m3_s"], samples))
        water = self.tailwater.water(numbers, flow)
        for structure in self.elements:
            water = structure.upstream(flow, water, numbers)
            if structure.id == place:
                return water.level
        names = ", ".join(structure.id for structure in self.elements)
        raise DomainError(f"There is no element {place!r} in this row. Elements, going upstream: {names}.")
