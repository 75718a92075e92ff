"""Surveyed sections in the row, and normal depth in one as the tailwater."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from overbank._jit import run_rows
from overbank.hydraulics import surveyed_rows
from overbank.hydraulics.surveyed_table import SurveyTable
from overbank.site.numbers import Array, Column, Numbers, Results, Water, run_named

SEVERAL = "another normal level for the same flow and roughness above it: the lowest is taken"
SWIFT = "normal flow below is supercritical: its depth counts as the level, critical energy is felt above it"
WALLS = "water above an end point of the survey: the section is taken to go on as vertical walls"


@dataclass(frozen=True, eq=False)
class SurveyedSection:
    """A surveyed section: its table, and how high its lower end point stands above its lowest point [m].

    Above its end points the section is taken to go on as vertical walls.

    points, divisions : of which the table was made, offset and level, and the lines between zones [m]: for drawings
    """

    table: SurveyTable
    height: float
    points: tuple[tuple[float, float], ...] = ()
    divisions: tuple[float, ...] = ()

    @property
    def zones(self) -> int:
        """How many zones of roughness it has."""
        return int(self.table.areas.shape[0])

    def columns(self, numbers: Numbers, path: str) -> list[Column]:
        """Roughness of each zone, the rule that combines them, and the shift of the datum, at the dotted path.

        Water in a zone falls by as much on its own way as that in the channel does on a way of length 1, so a way of
        length r carries K_i / sqrt(r): as with a roughness n_i sqrt(r) (closed form).
        """
        section = f"{path}.section"
        zones = []
        for zone in (f"{section}.zone_{k + 1}" for k in range(self.zones)):
            zones.append(numbers[f"{zone}.manning_n"] * np.sqrt(numbers.get(f"{zone}.length_ratio", 1.0)))
        return [*zones, numbers[f"{section}.method"], numbers[f"{section}.shift_m"]]

    def widths(self, numbers: Numbers, path: str, level: Column, samples: int) -> Array:
        """Width of the section at a level [m], one a sample."""
        loop = partial(surveyed_rows.surveyed_widths, self.table)
        width: Array = run_rows(loop, [*self.columns(numbers, path), level], 1, samples)[0]
        return width

    def lowest(self, numbers: Numbers, path: str) -> Column:
        """Level of its lowest point, the shift included [m]."""
        return float(self.table.breaks[0]) + numbers[f"{path}.section.shift_m"]


@dataclass(frozen=True, eq=False)
class SurveyedNormalDepth:
    """Normal depth in a surveyed section below; where there are several normal levels, the lowest."""

    survey: SurveyedSection
    PATH: ClassVar[str] = "tailwater.normal_depth"

    def _states(self, numbers: Numbers, flow: Array) -> Results:
        columns = [*self.survey.columns(numbers, self.PATH), numbers[f"{self.PATH}.slope"], flow]
        loop = partial(surveyed_rows.surveyed_normal_levels, self.survey.table)
        return run_named(loop, surveyed_rows.SurveyedNormal._fields, columns, len(flow))

    def water(self, numbers: Numbers, flow: Array) -> Water:
        return Water.of(self._states(numbers, flow))

    def remarks(self, numbers: Numbers, flow: Array, level: Array) -> Iterator[tuple[str, float]]:
        """Several normal levels, supercritical flow, and water above an end point of the survey."""
        found = self._states(numbers, flow)
        yield SEVERAL, float(np.mean(np.isfinite(found["next_level"])))
        yield SWIFT, float(np.mean(found["swift"]))
        depth = level - self.survey.lowest(numbers, self.PATH)
        yield WALLS, float(np.mean(depth > self.survey.height))
