"""From a section's numbers in the study file to those its formulas take."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics.columns import Parts, columns
from overbank.hydraulics.sections import (
    ARCH,
    CIRCLE,
    EGG,
    ELLIPSE,
    HORSESHOE,
    PIPE_ARCH,
    RECTANGLE,
    TRACED,
    TRAPEZOID,
    Section,
)
from overbank.site.numbers import Column, Numbers

BARREL_SHAPES = {
    "box": RECTANGLE,
    "pipe": CIRCLE,
    "arch": ARCH,
    "ellipse": ELLIPSE,
    "pipe_arch": PIPE_ARCH,
    "egg": EGG,
    "horseshoe": HORSESHOE,
}
AS_WIDE_AS_HIGH = ("pipe", "horseshoe")
"""Shapes with one size, their diameter."""


@dataclass(frozen=True, eq=False)
class Traced:
    """The shape of a barrel or opening traced by points; table : `hydraulics.traced.traced_table(...)`."""

    table: NDArray[np.float64]

    def __str__(self) -> str:
        return "traced section"


Shape = str | Traced
"""A word of `BARREL_SHAPES`, or points."""


def section_parts(
    shape: float,
    width: Column,
    manning_n: Column,
    *,
    side_slope: Column = 0.0,
    rise: Column = inf,
    wall_height: Column = 0.0,
    bed_manning_n: Column | None = None,
) -> Parts:
    """The numbers of `hydraulics.sections.Section`."""
    return {
        "shape": float(shape),
        "width": width,
        "side_slope": side_slope,
        "rise": rise,
        "wall_height": wall_height,
        "silt": 0.0,
        "manning_n": manning_n,
        "bed_manning_n": manning_n if bed_manning_n is None else bed_manning_n,
    }


def barrel_parts(numbers: Numbers, path: str, shape: Shape) -> Parts:
    """The section of a barrel at the dotted path."""
    if shape in AS_WIDE_AS_HIGH:
        span = rise = numbers[f"{path}.diameter_m"]
    else:
        span, rise = numbers[f"{path}.span_m"], numbers[f"{path}.rise_m"]
    wall = numbers[f"{path}.wall_height_m"] if shape == "arch" else 0.0
    corner_at: Column = 0.0
    if shape == "pipe_arch":
        wall, corner_at = numbers[f"{path}.corner_radius_m"], numbers[f"{path}.corner_height_m"]
    n, bed_n = numbers[f"{path}.manning_n"], numbers[f"{path}.bed_manning_n"]
    if isinstance(shape, Traced):
        code, wall, corner_at = TRACED, float(len(shape.table)), float(shape.table.ctypes.data)
    else:
        code = BARREL_SHAPES[shape]
    sizes = {"rise": rise, "wall_height": wall, "side_slope": corner_at}
    return section_parts(code, span, n, **sizes, bed_manning_n=bed_n)


def channel_parts(numbers: Numbers, path: str, shape: str) -> Parts:
    """The section of a channel or a normal-depth tailwater at the dotted path."""
    n, section = numbers[f"{path}.manning_n"], f"{path}.section"
    if shape == "rectangle":
        return section_parts(RECTANGLE, numbers[f"{section}.width_m"], n)
    width, side_slope = numbers[f"{section}.bed_width_m"], numbers[f"{section}.side_slope"]
    return section_parts(TRAPEZOID, width, n, side_slope=side_slope)


ANY_ROUGHNESS = 0.03
"""Stands where a section has no friction to reckon with."""


def opening_parts(numbers: Numbers, path: str, shape: Shape) -> Parts:
    """The section of a bridge opening at the dotted path, in which friction is not counted."""
    return barrel_parts(_with_roughness(numbers, path), path, shape)


def approach_parts(numbers: Numbers, path: str, shape: str) -> Parts | None:
    """The section of the channel on both sides of a bridge or weir, in which friction is not counted.

    None for a surveyed section, which has columns of its own.
    """
    return None if shape == "surveyed" else channel_parts(_with_roughness(numbers, path), path, shape)


def _with_roughness(numbers: Numbers, path: str) -> Numbers:
    return {**numbers, f"{path}.manning_n": ANY_ROUGHNESS, f"{path}.bed_manning_n": ANY_ROUGHNESS}


def certain_section(parts: Parts | None) -> Section:
    """The section itself, where its numbers are certain."""
    return Section(*(float(column) for column in columns(Section, parts)))
