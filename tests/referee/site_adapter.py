"""The one place through which the referee calls the site: a table of numbers in, levels and banks out.

Nothing else of the program is used: no sampling, no statistics. Switch here when the way to call the site changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import overbank
from overbank.study.build import build

Array = NDArray[np.float64]

FLOW = "flow.design_m3_s"


class SiteFunction:
    """The site of a study folder; `calls` counts the samples that were run."""

    def __init__(self, folder: Path) -> None:
        self._problem = build(overbank.read_study(folder))
        self.names: tuple[str, ...] = tuple(self._problem.inputs.names)
        self.place: str = self._problem.at
        self.calls = 0

    def level(self, values: Mapping[str, Array | float], count: int, place: str = "") -> Array:
        """Level just upstream of the place [m], one a sample.

        values : every uncertain number by its dotted path, one a sample or one for all. Numbers that the study gives as
            certain may be there too, and are then set: the flow, a blockage.
        """
        self.calls += count
        numbers = self._numbers(values, count)
        (levels,) = self._problem.site.levels(numbers, count, (place or self.place,))
        return np.asarray(levels, dtype=np.float64)

    def bank(self, values: Mapping[str, Array | float], count: int) -> Array:
        """Bank level at the place [m], one a sample."""
        bank = self._numbers(values, count)[f"{self.place}.bank_level_m"]
        return np.array(np.broadcast_to(bank, (count,)), dtype=np.float64)

    def blockages(self) -> tuple[str, ...]:
        """Paths of all blocked shares of the site, certain ones too."""
        numbers = {*self._problem.fixed, *self.names}
        return tuple(sorted(name for name in numbers if name.rsplit(".", 1)[-1] == "blockage"))

    def _numbers(self, values: Mapping[str, Array | float], count: int) -> dict[str, float | Array]:
        table = np.empty((count, len(self.names)))
        for column, name in enumerate(self.names):
            table[:, column] = values[name]
        numbers = dict(self._problem.numbers(table))
        beside = {name: number for name, number in values.items() if name not in self.names and name in numbers}
        return {**numbers, **{name: np.array(np.broadcast_to(each, (count,))) for name, each in beside.items()}}
