"""Surveyed sections in the row: a reach of one, and normal depth in one as the tailwater."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from overbank._jit import run_rows
from overbank.hydraulics import rows
from overbank.hydraulics.surveyed_table import SurveyTable
from overbank.site.numbers import Array, Column, Numbers, Water, run_named


@dataclass(frozen=True, eq=False)
class SurveyedSection:
    """A surveyed section: its table, and how high its lower end point stands above its lowest point [m].

    Above its end points the section is taken to go on as vertical walls.
    """

    table: SurveyTable
    height: float

    @property
    def zones(self) -> int:
        """How many zones of roughness it has."""
        return int(self.table.areas.shape[0])

    def columns(self, numbers: Numbers, path: str) -> list[Column]:
        """Roughness of each zone, the rule that combines them, and the shift of the datum, at the dotted path."""
        section = f"{path}.section"
        zones = [numbers[f"{section}.zone_{zone + 1}.manning_n"] for zone in range(self.zones)]
        return [*zones, numbers[f"{section}.method"], numbers[f"{section}.shift_m"]]

    def widths(self, numbers: Numbers, path: str, level: Column, samples: int) -> Array:
        """Width of the section at a level [m], one a sample."""
        loop = partial(rows.surveyed_widths, self.table)
        width: Array = run_rows(loop, [*self.columns(numbers, path), level], 1, samples)[0]
        return width

    def lowest(self, numbers: Numbers, path: str) -> Column:
        """Level of its lowest point, the shift included [m]."""
        return float(self.table.breaks[0]) + numbers[f"{path}.section.shift_m"]


def surveyed_columns(numbers: Numbers, path: str, survey: SurveyedSection | None) -> list[Column]:
    """Columns of a surveyed section at the dotted path, none where there is none."""
    return [] if survey is None else survey.columns(numbers, path)


@dataclass(frozen=True, eq=False)
class SurveyedChannel:
    """An open reach of one surveyed section, whose levels hold at its downstream end, and of one slope."""

    id: str
    survey: SurveyedSection
    kind: ClassVar[str] = "channel"

    def _columns(self, flow: Array, below: Water, numbers: Numbers) -> list[Column]:
        return [
            *self.survey.columns(numbers, self.id),
            *(numbers[f"{self.id}.{key}"] for key in ("length_m", "bed_slope")),
            flow,
            below.level,
            below.energy,
        ]

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        loop = partial(rows.surveyed_states, self.survey.table)
        return run_named(loop, rows.SURVEYED_RESULTS, self._columns(flow, below, numbers), len(flow))

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        loop = partial(rows.surveyed_levels, self.survey.table)
        level, energy = run_rows(loop, self._columns(flow, below, numbers), 2, len(flow))
        return Water(level, energy)


@dataclass(frozen=True, eq=False)
class SurveyedNormalDepth:
    """Normal depth in a surveyed section below; where there are several normal levels, the lowest."""

    survey: SurveyedSection
    PATH: ClassVar[str] = "tailwater.normal_depth"

    def _states(self, numbers: Numbers, flow: Array) -> Array:
        columns = [*self.survey.columns(numbers, self.PATH), numbers[f"{self.PATH}.slope"], flow]
        loop = partial(rows.surveyed_normal_levels, self.survey.table)
        return run_rows(loop, columns, len(rows.SURVEYED_NORMAL_RESULTS), len(flow))

    def water(self, numbers: Numbers, flow: Array) -> Water:
        level, energy, _ = self._states(numbers, flow)
        return Water(level, energy)

    def share_of_several(self, numbers: Numbers, flow: Array) -> float:
        """Share of the samples with another normal level above the one taken."""
        return float(np.mean(np.isfinite(self._states(numbers, flow)[2])))

    def share_above_ends(self, numbers: Numbers, level: Array) -> float:
        """Share of the samples in which the water stands above an end point of the survey."""
        depth = level - self.survey.lowest(numbers, self.PATH)
        return float(np.mean(depth > self.survey.height))
