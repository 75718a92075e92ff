"""Pools: how much water stands upstream of a place below a level, the surface being level.

A table gives the area at some levels (straight lines between them) or the volume; above its last row the walls are
vertical. A reach of one section and slope s holds below the level h, with G the area of its section integrated over
the depth,

    V = (G(h) - G(h - s L))/s,    or A(h - s L/2) L where the bed is nearly level

G being 0 below the bed. Elementary geometry; checked by slices.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics.surveyed_table import SurveyTable

Array = NDArray[np.float64]
Chosen = NDArray[np.intp]
Along = Callable[[Array, Chosen], Array]

LEVEL_BED = 1e-3
"""A reach whose bed rises by less than this [m] counts as level."""


class Pool(Protocol):
    """A pool of every sample; `floor` is the level at which it is empty [m]."""

    @property
    def floor(self) -> Array: ...

    def volume(self, level: Array, chosen: Chosen) -> Array:
        """Water below a level of some samples [m3]; none below the floor, endless below an endless level."""


@dataclass(frozen=True)
class Stages:
    """Pieces of a table: within one the volume is volumes + areas d + bends d^2, d being the height above its level.

    The last has no top. Shape (k,) [m], [m3], [m2], [m].
    """

    levels: Array
    volumes: Array
    areas: Array
    bends: Array


def of_areas(levels: Array, areas: Array) -> Stages:
    """From areas at rising levels, straight lines between them [m], [m2]."""
    steps = np.diff(levels)
    volumes = np.concatenate([[0.0], np.cumsum(0.5 * steps * (areas[1:] + areas[:-1]))])
    return Stages(levels, volumes, areas, np.append(0.5 * np.diff(areas) / steps, 0.0))


def of_volumes(levels: Array, volumes: Array) -> Stages:
    """From volumes at rising levels, straight lines between them [m], [m3]."""
    areas = np.diff(volumes) / np.diff(levels)
    return Stages(levels, volumes - volumes[0], np.append(areas, areas[-1]), np.zeros_like(levels))


@dataclass(frozen=True)
class TablePool:
    """A pool by a table, the same of every sample."""

    stages: Stages
    floor: Array

    def volume(self, level: Array, chosen: Chosen) -> Array:  # noqa: ARG002
        stages = self.stages
        row = np.maximum(np.searchsorted(stages.levels, level, side="right") - 1, 0)
        height = np.maximum(level - stages.levels[row], 0.0)
        with np.errstate(invalid="ignore"):  # an endless level
            volume = stages.volumes[row] + stages.areas[row] * height
            volume = np.where(stages.bends[row] == 0.0, volume, volume + stages.bends[row] * height**2)
        return np.asarray(volume)


@dataclass(frozen=True)
class Times:
    """So many times a pool, each sample with a factor of its own; with 0 none."""

    pool: Pool
    factor: Array

    @property
    def floor(self) -> Array:
        return self.pool.floor

    def volume(self, level: Array, chosen: Chosen) -> Array:
        factor = self.factor[chosen]
        with np.errstate(invalid="ignore"):  # nothing of an endless pool
            return np.where(factor > 0.0, factor * self.pool.volume(level, chosen), 0.0)


@dataclass(frozen=True)
class ReachPool:
    """A pool over a reach of one section and slope.

    area, below : area of the section under a level at its downstream end [m2], and its integral over the level [m3/m]
    floor : its bed there [m]; slope, length : of the reach [-], [m]; each one a sample
    """

    area: Along
    below: Along
    floor: Array
    slope: Array
    length: Array

    def volume(self, level: Array, chosen: Chosen) -> Array:
        slope, length = self.slope[chosen], self.length[chosen]
        rise = slope * length
        steep = np.abs(rise) >= LEVEL_BED
        with np.errstate(invalid="ignore", divide="ignore"):
            wedge = (self.below(level, chosen) - self.below(level - rise, chosen)) / slope
            volume = np.where(steep, wedge, self.area(level - 0.5 * rise, chosen) * length)
        return np.where(np.isposinf(level), np.inf, volume)


def trapezoid(bed: Array, width: Array, side_slope: Array) -> tuple[Along, Along]:
    """Area and its integral of a rectangle or trapezoid: b y + z y^2, b y^2/2 + z y^3/3; each number one a sample."""

    def depth(level: Array, chosen: Chosen) -> Array:
        return np.maximum(level - bed[chosen], 0.0)

    def area(level: Array, chosen: Chosen) -> Array:
        y = depth(level, chosen)
        return np.asarray(y * (width[chosen] + side_slope[chosen] * y))

    def below(level: Array, chosen: Chosen) -> Array:
        y = depth(level, chosen)
        return np.asarray(y**2 * (width[chosen] / 2.0 + side_slope[chosen] * y / 3.0))

    return area, below


def surveyed(table: SurveyTable, shift: Array) -> tuple[Along, Along]:
    """Area and its integral of a surveyed section, a quadratic and a cubic between its levels; shift of each [m]."""
    breaks, each = table.breaks, table.areas.sum(axis=0)
    steps = np.diff(breaks)
    full = np.concatenate([[0.0], np.cumsum(each[:-1, 0] * steps + _cubic(each[:-1], steps))])

    def at(level: Array, chosen: Chosen) -> tuple[NDArray[np.intp], Array]:
        own = level - shift[chosen]
        row = np.maximum(np.searchsorted(breaks, own, side="right") - 1, 0)
        return row, np.maximum(own - breaks[row], 0.0)

    def area(level: Array, chosen: Chosen) -> Array:
        row, t = at(level, chosen)
        return np.asarray(each[row, 0] + each[row, 1] * t + each[row, 2] * t**2)

    def below(level: Array, chosen: Chosen) -> Array:
        row, t = at(level, chosen)
        return np.asarray(full[row] + each[row, 0] * t + _cubic(each[row], t))

    return area, below


def _cubic(each: Array, t: Array) -> Array:
    """What the second and third numbers of an area add to its integral."""
    return np.asarray(each[:, 1] * t**2 / 2.0 + each[:, 2] * t**3 / 3.0)
