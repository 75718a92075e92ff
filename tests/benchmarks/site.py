"""The benchmark's site as our own columns."""

from __future__ import annotations

import numpy as np

from benchmarks import rivals
from benchmarks.rivals import Array, Samples
from overbank._jit import run_rows
from overbank.hydraulics import rows
from overbank.hydraulics.sections import box


def columns(s: Samples) -> list[float | Array]:
    """The crossing's columns for the samples."""
    section = list(box(rivals.SPAN, rivals.RISE, 0.0))
    section[6:8] = [s.manning, s.manning]
    row = [1.0, rivals.K, rivals.M, rivals.C, rivals.Y, rivals.KS]
    lay = [1.0, rivals.LENGTH, rivals.INVERT_UP, rivals.INVERT_DOWN, s.factor, s.entrance, 1.0, 0.0, 0.0]
    screen = [rivals.WIDTH, rivals.HEIGHT, rivals.INVERT_UP, rivals.CLEAR, rivals.CLEAN, s.blockage, 0.0]
    road = [rivals.ROAD, rivals.ROAD_LENGTH, s.road]
    bypass = [0.0] * rows.BYPASS
    nothing = [0.0] * (rows.BARRELS - rows.FACE_AT + rows.BARRELS)
    return [*section, *row, *lay, *nothing, *screen, rivals.TOP_COEFFICIENT, 1.0, *bypass, *road, s.flow, s.tailwater]


def compiled_levels(s: Samples) -> Array:
    """Level of the pool by the compiled crossing, on all cores."""
    return np.asarray(run_rows(rows.crossing_levels, columns(s), 2, len(s.flow))[0])
