"""From a section's numbers in the study file to the columns its formulas take."""

from __future__ import annotations

from math import inf

from overbank.hydraulics.rows import SECTION
from overbank.hydraulics.sections import ARCH, CIRCLE, ELLIPSE, RECTANGLE, TRAPEZOID
from overbank.site.numbers import Column, Numbers

BARREL_SHAPES = {"box": RECTANGLE, "pipe": CIRCLE, "arch": ARCH, "ellipse": ELLIPSE}


def barrel_columns(numbers: Numbers, path: str, shape: str) -> list[Column]:
    """Columns of `hydraulics.sections.Section` for a barrel at the dotted path."""
    if shape == "pipe":
        span = rise = numbers[f"{path}.diameter_m"]
    else:
        span, rise = numbers[f"{path}.span_m"], numbers[f"{path}.rise_m"]
    wall = numbers[f"{path}.wall_height_m"] if shape == "arch" else 0.0
    return [
        float(BARREL_SHAPES[shape]),
        span,
        0.0,
        rise,
        wall,
        0.0,
        numbers[f"{path}.manning_n"],
        numbers[f"{path}.bed_manning_n"],
    ]


def channel_columns(numbers: Numbers, path: str, shape: str) -> list[Column]:
    """Columns of `hydraulics.sections.Section` for a channel or a normal-depth tailwater at the dotted path."""
    n = numbers[f"{path}.manning_n"]
    if shape == "rectangle":
        return [float(RECTANGLE), numbers[f"{path}.section.width_m"], 0.0, inf, 0.0, 0.0, n, n]
    width, side_slope = numbers[f"{path}.section.bed_width_m"], numbers[f"{path}.section.side_slope"]
    return [float(TRAPEZOID), width, side_slope, inf, 0.0, 0.0, n, n]


ANY_ROUGHNESS = 0.03
"""Stands where a section has no friction to reckon with."""


def opening_columns(numbers: Numbers, path: str, shape: str) -> list[Column]:
    """Columns of a bridge opening at the dotted path, in which friction is not counted."""
    return barrel_columns(_with_roughness(numbers, path), path, shape)


def approach_columns(numbers: Numbers, path: str, shape: str) -> list[Column]:
    """Columns of the channel on both sides of a bridge or weir, in which friction is not counted.

    Noughts for a surveyed section, which has columns of its own.
    """
    if shape == "surveyed":
        return [0.0] * SECTION
    return channel_columns(_with_roughness(numbers, path), path, shape)


def _with_roughness(numbers: Numbers, path: str) -> Numbers:
    return {**numbers, f"{path}.manning_n": ANY_ROUGHNESS, f"{path}.bed_manning_n": ANY_ROUGHNESS}
