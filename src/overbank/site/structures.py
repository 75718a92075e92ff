"""The structures: each answers, for flow and level just downstream, what the level just upstream is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol

import numpy as np

from overbank._jit import run_rows, sweep
from overbank.hydraulics import rows
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.screens import clear_ratio
from overbank.hydraulics.tables import InletEntry
from overbank.site.numbers import Array, Column, Numbers, Water, run_named
from overbank.site.sections import barrel_columns, channel_columns


class Structure(Protocol):
    """One element of the row. Its numbers stand under its id in the table of numbers."""

    @property
    def id(self) -> str: ...

    kind: ClassVar[str]

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        """Water just upstream."""

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        """Everything worth reporting, `level` and `regime` among it."""


def _constants(entry: InletEntry) -> list[Column]:
    """Columns of `hydraulics.culverts.InletRow`."""
    return [float(entry.form), entry.K, entry.M, entry.c, entry.Y, entry.slope_factor]


@dataclass(frozen=True)
class Group:
    """Like barrels side by side with their inlets; its numbers stand under a dotted path."""

    shape: str
    inlet: InletEntry

    def columns(self, numbers: Numbers, path: str) -> list[Column]:
        """Columns of `hydraulics.crossing.Barrels`. Where a screen catches the debris, the inlets are clear."""
        barrel = f"{path}.barrel"
        return [
            *barrel_columns(numbers, barrel, self.shape),
            *_constants(self.inlet),
            *(numbers[f"{barrel}.{key}"] for key in ("count", "length_m", "upstream_invert_m", "downstream_invert_m")),
            *(numbers[f"{path}.inlet.{key}"] for key in ("head_factor", "entrance_loss", "exit_loss")),
            *(numbers.get(f"{path}.{key}", 0.0) for key in ("blockage", "pattern")),
        ]


@dataclass(frozen=True)
class Culvert:
    """Like barrels with an inlet; a screen before them, relief barrels beside them, a road over all, if there are any.

    face : of a tapered entrance, one to each barrel; `inlet` is then its throat
    relief : the relief barrels, which the screen does not protect; their numbers stand under `<id>.relief`
    """

    id: str
    shape: str
    inlet: InletEntry
    has_screen: bool
    has_road: bool
    face: InletEntry | None = None
    relief: Group | None = None
    kind: ClassVar[str] = "culvert"

    def _columns(self, flow: Array, below: Water, numbers: Numbers) -> list[Column]:
        main = Group(self.shape, self.inlet)
        return [
            *self._face_columns(numbers),
            *(self.relief.columns(numbers, f"{self.id}.relief") if self.relief else [0.0] * rows.BARRELS),
            *main.columns(numbers, self.id),
            *self._screen_columns(numbers),
            *self._road_columns(numbers),
            flow,
            below.level,
        ]

    def _face_columns(self, numbers: Numbers) -> list[Column]:
        if self.face is None:
            return [0.0] * rows.FACE
        path = f"{self.id}.inlet.face"
        return [
            *_constants(self.face),
            *(numbers[f"{path}.{key}"] for key in ("width_m", "height_m", "invert_level_m")),
        ]

    def _screen_columns(self, numbers: Numbers) -> list[Column]:
        if not self.has_screen:
            return [0.0] * rows.SCREEN
        path = f"{self.id}.screen"
        bar, gap = numbers[f"{path}.bar_m"], numbers[f"{path}.gap_m"]
        clean_loss = sweep(kirschmer)(numbers[f"{path}.shape_factor"], bar, gap, numbers[f"{path}.inclination_deg"])
        return [
            numbers[f"{path}.width_m"],
            numbers[f"{path}.height_m"],
            numbers[f"{path}.sill_level_m"],
            sweep(clear_ratio)(bar, gap),
            clean_loss,
            numbers[f"{path}.blockage"],
            numbers[f"{path}.pattern"],
            numbers[f"{path}.overflow_coefficient"],
            np.sin(np.radians(numbers[f"{path}.inclination_deg"])),
        ]

    def _road_columns(self, numbers: Numbers) -> list[Column]:
        if not self.has_road:
            return [0.0] * rows.ROAD
        return [numbers[f"{self.id}.road.{key}"] for key in ("level_m", "length_m", "coefficient")]

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        (level,) = run_rows(rows.crossing_levels, self._columns(flow, below, numbers), 1, len(flow))
        return Water(level, level)

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        return run_named(rows.crossing_states, rows.CROSSING_RESULTS, self._columns(flow, below, numbers), len(flow))


@dataclass(frozen=True)
class Channel:
    """An open reach of one section and slope; its bed level is given at its downstream end."""

    id: str
    shape: str
    kind: ClassVar[str] = "channel"

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        columns = [
            *channel_columns(numbers, self.id, self.shape),
            *(numbers[f"{self.id}.{key}"] for key in ("length_m", "bed_level_m", "bed_slope")),
            flow,
            below.level,
            below.energy,
        ]
        return run_named(rows.channel_states, rows.CHANNEL_RESULTS, columns, len(flow))

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        return Water.of(self.details(flow, below, numbers))
