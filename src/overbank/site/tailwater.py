"""The level below the first structure: normal depth, a level, or a rating table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from overbank._jit import run_rows
from overbank.hydraulics.rows import normal_levels
from overbank.site.numbers import Array, Numbers, Water, spread
from overbank.site.sections import channel_columns


class Tailwater(Protocol):
    """Gives the water just below the first structure for the flow of every sample."""

    def water(self, numbers: Numbers, flow: Array) -> Water: ...


@dataclass(frozen=True)
class NormalDepth:
    """Normal depth in the channel below; it follows the sampled flow and roughness."""

    shape: str

    def water(self, numbers: Numbers, flow: Array) -> Water:
        path = "tailwater.normal_depth"
        columns = [
            *channel_columns(numbers, path, self.shape),
            numbers[f"{path}.bed_level_m"],
            numbers[f"{path}.slope"],
            flow,
        ]
        level, energy = run_rows(normal_levels, columns, 2, len(flow))
        return Water(level, energy)


@dataclass(frozen=True)
class FixedLevel:
    """A level, whatever the flow."""

    def water(self, numbers: Numbers, flow: Array) -> Water:
        level = spread(numbers["tailwater.level_m"], len(flow))
        return Water(level, level)


@dataclass(frozen=True)
class Rating:
    """A rating table: flow [m3/s] and level [m], straight lines between, held at its ends, plus an uncertain shift."""

    flows: tuple[float, ...]
    levels: tuple[float, ...]

    def water(self, numbers: Numbers, flow: Array) -> Water:
        level = np.interp(flow, self.flows, self.levels) + numbers["tailwater.rating_shift_m"]
        return Water(level, level)

    def share_outside(self, flow: Array) -> float:
        """Share of the flows beyond the table, where its end value is held."""
        return float(np.mean((flow < self.flows[0]) | (flow > self.flows[-1])))
