"""The study's site as a function of the table of its uncertain numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overbank.site.numbers import spread
from overbank.site.row import SiteOutcome
from overbank.study.build import Problem

Array = NDArray[np.float64]


class Runs:
    """How many samples the site was run on; several models may count on the same one."""

    def __init__(self) -> None:
        self.total = 0

    def add(self, samples: int) -> None:
        """So many more."""
        self.total += samples


@dataclass(frozen=True)
class Model:
    """A site, its certain numbers and the names of its uncertain ones.

    Tables have a row a sample and a column an uncertain number, in the order of `problem.inputs.names`.

    runs : rows that the site was run on; single runs at the medians do not count
    """

    problem: Problem
    runs: Runs = field(default_factory=Runs, compare=False)

    @property
    def place(self) -> str:
        """Id of the structure whose bank counts."""
        return self.problem.at

    # --- samples ----------------------------------------------------------------------------------------

    def numbers(self, table: Array) -> dict[str, float | Array]:
        """Every number of the site by its dotted path."""
        return self.problem.numbers(table)

    def march(self, table: Array) -> SiteOutcome:
        """Everything at every structure, for every row of the table."""
        self.runs.add(len(table))
        return self.problem.site.march(self.numbers(table), len(table))

    def levels(self, table: Array) -> Array:
        """Level just upstream of the place [m], for every row of the table."""
        (levels,) = self.levels_at(table, (self.place,))
        return np.asarray(levels)

    def levels_at(self, table: Array, places: tuple[str, ...]) -> Array:
        """Levels just upstream of some structures [m], shape (places, rows of the table)."""
        return self.levels_of(self.numbers(table), len(table), places)

    def levels_of(self, numbers: Mapping[str, float | Array], rows: int, places: tuple[str, ...] = ()) -> Array:
        """As `levels_at`, for all numbers of the site by their dotted paths; at the place if none is named."""
        self.runs.add(rows)
        return self.problem.site.levels(numbers, rows, places or (self.place,))

    def banks(self, table: Array) -> Array:
        """Bank level at the place [m], for every row of the table."""
        (banks,) = self.banks_at(table, (self.place,))
        return banks

    def banks_at(self, table: Array, places: tuple[str, ...]) -> list[Array]:
        """Bank levels at some structures that have one [m], for every row of the table."""
        numbers = self.numbers(table)
        return [spread(numbers[f"{place}.bank_level_m"], len(table)) for place in places]

    # --- single runs ------------------------------------------------------------------------------------

    def medians(self) -> Array:
        """The one row of the deterministic run: every uncertain number at its median."""
        return self.problem.inputs.medians()[np.newaxis, :]

    @cached_property
    def at_medians(self) -> SiteOutcome:
        """Everything at every structure with every uncertain number at its median, found once."""
        return self.problem.site.march(self.numbers(self.medians()), 1)

    @cached_property
    def level_at_medians(self) -> float:
        """Level at the place with every uncertain number at its median [m]."""
        return self.level_of({})

    @property
    def bank_at_medians(self) -> float:
        """Bank level at the place with every uncertain number at its median [m]."""
        return float(self.banks(self.medians())[0])

    @property
    def places(self) -> tuple[str, ...]:
        """Ids of the structures that have a bank, going upstream."""
        return tuple(element.id for element in self.at_medians.elements if element.bank_level is not None)

    def level_of(self, changed: Mapping[str, float]) -> float:
        """Level of one run at the place with some numbers set and every other one at its median [m]."""
        numbers = {**self.numbers(self.medians()), **changed}
        (level,) = self.problem.site.levels(numbers, 1, (self.place,))
        return float(level[0])

    def level_with(self, name: str, number: float) -> float:
        """Deterministic level with one uncertain number set and every other one at its median [m]."""
        row = self.medians()
        row[0, self.problem.inputs.index(name)] = number
        return float(self.single_levels(row)[0])

    def single_levels(self, table: Array) -> Array:
        """Level of every row of the table at the place [m], each a single run, which does not count."""
        (levels,) = self.problem.site.levels(self.numbers(table), len(table), (self.place,))
        return np.asarray(levels)
