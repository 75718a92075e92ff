"""The level below the first structure: normal depth, a level, or a rating table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from overbank.hydraulics.columns import columns
from overbank.hydraulics.rows import Normal, NormalRow, normal_levels
from overbank.site.numbers import Array, Numbers, Results, Water, run_named, spread
from overbank.site.sections import channel_parts
from overbank.site.surveyed import SWIFT


class Tailwater(Protocol):
    """Gives the water just below the first structure for the flow of every sample."""

    def water(self, numbers: Numbers, flow: Array) -> Water:
        """Level and energy level just below the first structure."""

    def remarks(self, numbers: Numbers, flow: Array, level: Array, /) -> Iterator[tuple[str, float]]:
        """What a reader must know of it, and for what share of the samples it holds."""


@dataclass(frozen=True)
class NormalDepth:
    """Normal depth in the channel below; it follows the sampled flow and roughness."""

    shape: str

    def _states(self, numbers: Numbers, flow: Array) -> Results:
        path = "tailwater.normal_depth"
        parts = {
            "section": channel_parts(numbers, path, self.shape),
            "bed": numbers[f"{path}.bed_level_m"],
            "slope": numbers[f"{path}.slope"],
            "flow": flow,
        }
        return run_named(normal_levels, Normal._fields, columns(NormalRow, parts), len(flow))

    def water(self, numbers: Numbers, flow: Array) -> Water:
        return Water.of(self._states(numbers, flow))

    def remarks(self, numbers: Numbers, flow: Array, _level: Array) -> Iterator[tuple[str, float]]:
        yield SWIFT, float(np.mean(self._states(numbers, flow)["swift"]))


@dataclass(frozen=True)
class FixedLevel:
    """A level, whatever the flow."""

    def water(self, numbers: Numbers, flow: Array) -> Water:
        level = spread(numbers["tailwater.level_m"], len(flow))
        return Water(level, level)

    def remarks(self, _numbers: Numbers, _flow: Array, _level: Array) -> Iterator[tuple[str, float]]:
        return iter(())


@dataclass(frozen=True)
class Rating:
    """A rating table: flow [m3/s] and level [m], straight lines between, held at its ends, plus an uncertain shift."""

    flows: tuple[float, ...]
    levels: tuple[float, ...]

    def water(self, numbers: Numbers, flow: Array) -> Water:
        level = np.interp(flow, self.flows, self.levels) + numbers["tailwater.rating_shift_m"]
        return Water(level, level)

    def remarks(self, _numbers: Numbers, flow: Array, _level: Array) -> Iterator[tuple[str, float]]:
        """Flows beyond the table, where its end value is held."""
        share = float(np.mean((flow < self.flows[0]) | (flow > self.flows[-1])))
        yield "flow beyond the rating table, whose end level is held", share
