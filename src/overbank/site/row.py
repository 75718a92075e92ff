"""A site: structures in a row, marched upstream from the tailwater, all samples at a time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isnan

import numpy as np

from overbank.errors import DomainError
from overbank.site.course import Course, course
from overbank.site.numbers import Array, Numbers, Results, Water, flow_of, spread
from overbank.site.structure import Solved, Structure
from overbank.site.tailwater import Tailwater

NO_SOLUTION = "no solution"


@dataclass(frozen=True)
class ElementOutcome:
    """One structure's results: level just upstream [m], bank level there [m] or None, and everything else by name.

    Where the bank changes along a reach, `level` is the one set against it (`site.bank_line`).
    """

    structure: Structure
    level: Array
    bank_level: Array | None
    results: Results

    @property
    def id(self) -> str:
        """The structure's id."""
        return self.structure.id

    @property
    def kind(self) -> str:
        """The word for its kind."""
        return self.structure.kind

    @property
    def states(self) -> dict[str, Array]:
        """What governs every sample: whole numbers by name, nan where there is no solution."""
        return self.structure.states(self.results)

    def governs(self, sample: int = 0) -> str:
        """What governs one sample, in words."""
        state = {name: float(values[sample]) for name, values in self.states.items()}
        return NO_SOLUTION if any(map(isnan, state.values())) else self.structure.governs(state)


@dataclass(frozen=True)
class SiteOutcome:
    """Flow from above the row [m3/s], level below the first structure [m], each structure's outcome going upstream.

    flows : through each structure, at its lower end where water leaves in it [m3/s]
    """

    flow: Array
    tailwater: Array
    elements: tuple[ElementOutcome, ...]
    flows: tuple[Array, ...]

    def element(self, name: str) -> ElementOutcome:
        """The outcome of the structure with that id."""
        return next(element for element in self.elements if element.id == name)

    def solved(self, numbers: Numbers) -> Iterator[tuple[Structure, Solved]]:
        """Every structure with what it has made of the samples, going upstream."""
        tailwater = self.tailwater
        for element, flow in zip(self.elements, self.flows, strict=True):
            level = element.results["level"]
            yield element.structure, Solved(flow, tailwater, level, element.results, numbers)
            tailwater = level


@dataclass(frozen=True)
class Site:
    """A row of structures, listed going upstream, above a tailwater."""

    elements: tuple[Structure, ...]
    tailwater: Tailwater

    def course(self, numbers: Numbers, samples: int) -> Course:
        """The flow through every structure."""
        return course(self.elements, self.tailwater, numbers, samples)

    def march(self, numbers: Numbers, samples: int = 1) -> SiteOutcome:
        """Everything at every structure."""
        passed = self.course(numbers, samples)
        water = self.tailwater.water(numbers, passed.flows[0])
        tailwater = water.level
        outcomes = []
        for place, (structure, flow) in enumerate(zip(self.elements, passed.flows, strict=True)):
            below, results = water, passed.held(place, water, structure.solve(flow, water, numbers))
            water = Water.of(results)
            level = structure.against_bank(flow, below, water, numbers)
            bank = numbers.get(f"{structure.id}.bank_level_m")
            banks = None if bank is None else spread(bank, samples)
            outcomes.append(ElementOutcome(structure, level, banks, results))
        return SiteOutcome(flow_of(numbers, samples), tailwater, tuple(outcomes), passed.flows)

    def levels(self, numbers: Numbers, samples: int, places: tuple[str, ...]) -> Array:
        """Levels to set against the banks of some structures [m], no more: what the threshold method asks for.

        Returns
        -------
        array (places, samples), in the order of `places`; nothing above the last of them is computed
        """
        passed = self.course(numbers, samples)
        water = self.tailwater.water(numbers, passed.flows[0])
        found: dict[str, Array] = {}
        for place, (structure, flow) in enumerate(zip(self.elements, passed.flows, strict=True)):
            below, water = water, passed.water(place, water, structure.headwater(flow, water, numbers))
            if structure.id in places:
                found[structure.id] = structure.against_bank(flow, below, water, numbers)
            if len(found) == len(places):
                return np.array([found[place] for place in places])
        names = ", ".join(structure.id for structure in self.elements)
        unknown = next(place for place in places if place not in found)
        raise DomainError(f"There is no element {unknown!r} in this row. Elements, going upstream: {names}.")
