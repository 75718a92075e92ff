"""The study's site as a function of the table of its uncertain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.site.numbers import spread
from overbank.site.row import SiteOutcome
from overbank.study.build import Problem

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Model:
    """A site, its certain numbers and the names of its uncertain ones.

    Tables have a row a sample and a column an uncertain number, in the order of `problem.inputs.names`.
    """

    problem: Problem

    @property
    def place(self) -> str:
        """Id of the structure whose bank counts."""
        return self.problem.at

    def numbers(self, table: Array) -> dict[str, float | Array]:
        """Every number of the site by its dotted path."""
        return self.problem.numbers(table)

    def march(self, table: Array) -> SiteOutcome:
        """Everything at every structure, for every row of the table."""
        return self.problem.site.march(self.numbers(table), len(table))

    def levels(self, table: Array) -> Array:
        """Level just upstream of the place [m], for every row of the table."""
        (levels,) = self.levels_at(table, (self.place,))
        return np.asarray(levels)

    def levels_at(self, table: Array, places: tuple[str, ...]) -> Array:
        """Levels just upstream of some structures [m], shape (places, rows of the table)."""
        return self.problem.site.levels(self.numbers(table), len(table), places)

    def banks(self, table: Array) -> Array:
        """Bank level at the place [m], for every row of the table."""
        (banks,) = self.banks_at(table, (self.place,))
        return banks

    def banks_at(self, table: Array, places: tuple[str, ...]) -> list[Array]:
        """Bank levels at some structures that have one [m], for every row of the table."""
        numbers = self.numbers(table)
        return [spread(numbers[f"{place}.bank_level_m"], len(table)) for place in places]

    def medians(self) -> Array:
        """The one row of the deterministic run: every uncertain number at its median."""
        return self.problem.inputs.medians()[np.newaxis, :]

    def level_with(self, name: str, number: float) -> float:
        """Deterministic level with one uncertain number set and every other one at its median [m]."""
        row = self.medians()
        row[0, self.problem.inputs.index(name)] = number
        return float(self.levels(row)[0])
