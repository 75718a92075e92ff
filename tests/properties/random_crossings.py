"""Thousands of crossings at once: a table of columns as the compiled loops take it, drawn from wide ranges."""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from overbank._jit import run_rows
from overbank.hydraulics import rows
from overbank.hydraulics.columns import size
from overbank.hydraulics.crossing import Barrels, Road, Screen
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.screens import Bypass
from overbank.hydraulics.sections import (
    ARCH,
    CIRCLE,
    EGG,
    ELLIPSE,
    HORSESHOE,
    PIPE_ARCH,
    RECTANGLE,
    SILT_MANNING_N,
    Section,
)
from overbank.hydraulics.tables import inlets
from overbank.hydraulics.tapered import Face

Table = NDArray[np.float64]

BARRELS = (*Section._fields, *InletRow._fields, *Barrels._fields[2:-5])
FACE = (*InletRow._fields, *Face._fields[1:])
ENDS = ("head_below", *(f"approach_{name}" for name in Section._fields), "approach_bed", "silt_n", "outlet_loss")
NAMES = (
    *BARRELS,
    *(f"face_{name}" for name in FACE),
    *ENDS,
    *(f"relief_{name}" for name in BARRELS),
    *(f"relief_face_{name}" for name in FACE),
    *(f"relief_{name}" for name in ENDS),
    *(f"screen_{name}" for name in Screen._fields[:-1]),
    *(f"bypass_{name}" for name in Bypass._fields),
    *(f"road_{name}" for name in Road._fields[:3]),
    "flow",
    "tailwater",
)
AT = {name: k for k, name in enumerate(NAMES)}
ENTRIES = [entry for entry in inlets().values() if entry.shape != "traced"]
SHAPES = {"box": RECTANGLE, "pipe": CIRCLE, "arch": ARCH, "ellipse": ELLIPSE}
ARCS = {"pipe_arch": PIPE_ARCH, "egg": EGG, "horseshoe": HORSESHOE}


def crossings(samples: int, seed: int, screen: float = 0.6, road: float = 0.6, relief: float = 0.0) -> Table:
    """Columns of `samples` crossings: every inlet, every pattern; a screen, a road or relief barrels by chance."""
    assert len(NAMES) == size(rows.CrossingRow)
    rng = np.random.default_rng(seed)
    draw = rng.uniform
    t = np.zeros((len(NAMES), samples))

    def put(**columns: NDArray[np.float64] | float) -> None:
        for name, values in columns.items():
            t[AT[name]] = values

    which = rng.integers(len(ENTRIES), size=samples)
    for name in ("form", "K", "M", "c", "Y", "slope_factor", "entrance_loss"):
        t[AT[name]] = np.array([float(getattr(entry, name)) for entry in ENTRIES])[which]
    shape = np.array([{**SHAPES, **ARCS}[entry.shape] for entry in ENTRIES])[which]
    span = np.exp(draw(-0.7, 1.6, samples))
    rise = np.where(np.isin(shape, (CIRCLE, HORSESHOE)), span, span * np.exp(draw(-0.8, 0.4, samples)))
    rise = np.where(shape == EGG, span * draw(1.1, 1.7, samples), rise)
    wall = np.where(shape == ARCH, np.maximum(rise - span / 2, rise * draw(0, 0.9, samples)), 0.0)
    rise = np.where(shape == PIPE_ARCH, np.minimum(rise, 0.95 * span), rise)
    middle = np.clip(rise * draw(0.3, 0.6, samples), rise - span / 2, span / 2)
    corner_at = np.where(shape == PIPE_ARCH, middle, 0.0)
    corner = np.minimum(np.minimum(corner_at, rise - corner_at), span / 2) * draw(0.3, 0.9, samples)
    wall = np.where(shape == PIPE_ARCH, corner, wall)
    n = draw(0.010, 0.040, samples)
    put(shape=shape, width=span, rise=rise, wall_height=wall, side_slope=corner_at, manning_n=n)
    put(bed_manning_n=np.where(rng.random(samples) < 0.6, n, draw(0.012, 0.05, samples)))
    length = np.exp(draw(1.1, 5.0, samples))
    kinds = [np.zeros(samples), draw(0, 0.01, samples), draw(0.01, 0.1, samples), draw(-0.008, 0, samples)]
    upstream = 10 + np.choose(rng.integers(4, size=samples), kinds) * length
    count = rng.integers(1, 4, samples)
    put(number=count, length=length, upstream_invert=upstream, downstream_invert=10.0)
    put(head_factor=rng.normal(1, 0.05, samples), silt_n=SILT_MANNING_N)
    put(exit_loss=np.where(rng.random(samples) < 0.5, 1.0, draw(0, 1, samples)))
    screened = rng.random(samples) < screen
    put(blockage=np.where(screened, 0.0, draw(0, 0.97, samples)), pattern=rng.integers(3, size=samples))
    bar, gap = draw(0.008, 0.03, samples), draw(0.05, 0.3, samples)
    put(
        screen_width=np.where(screened, span * count * draw(0.9, 4, samples), 0.0),
        screen_height=rise * draw(0.7, 2.5, samples),
        screen_sill=upstream + np.where(rng.random(samples) < 0.6, 0.0, draw(-0.3, 0.5, samples)),
        screen_clear=gap / (gap + bar),
        screen_clean_loss=draw(0.7, 2.42, samples) * (bar / gap) ** (4 / 3),
        screen_blockage=draw(0, 0.97, samples),
        screen_pattern=rng.integers(3, size=samples),
        screen_lean=np.sin(np.radians(draw(30.0, 90.0, samples))),
        screen_overflow_coefficient=np.where(rng.random(samples) < 0.4, 0.0, 1.7),
    )
    beside = rng.random(samples) < 0.3
    put(bypass_width=np.where(screened & beside, span * draw(0.05, 0.6, samples), 0.0), bypass_coefficient=1.7)
    put(bypass_top=np.where(rng.random(samples) < 0.4, 0.0, rise * draw(0.0, 2.0, samples)))
    put(
        road_level=upstream + rise * draw(1.0, 2.5, samples),
        road_length=np.where(rng.random(samples) < road, np.exp(draw(1, 4.5, samples)), 0.0),
        road_coefficient=draw(1.4, 1.7, samples),
        flow=count * span * rise**1.5 * np.exp(draw(-4, 1, samples)),
        tailwater=10 + rise * draw(-0.3, 1.8, samples),
    )
    put(outlet_loss=np.where(rng.random(samples) < 0.3, draw(0, 4, samples), 0.0))
    if relief > 0.0:
        others = crossings(samples, seed + 1000, screen=0.0, road=0.0)
        put(**{f"relief_{name}": others[AT[name]] for name in (*BARRELS, "silt_n", "outlet_loss")})
        up = rise * draw(-0.3, 1.5, samples)
        put(**{f"relief_{end}": others[AT[end]] + up for end in ("upstream_invert", "downstream_invert")})
        put(relief_number=np.where(rng.random(samples) < relief, others[AT["number"]], 0.0))
    return t


def levels(table: Table) -> NDArray[np.float64]:
    """Levels of ordinary crossings, or of those with parts of barrels, whose numbers stand behind the others."""
    loop = partial(rows.any_crossing_levels, None, rows.CROSSING) if len(table) > len(NAMES) else rows.crossing_levels
    return run_rows(loop, list(table), 2, table.shape[1])[0]


def changed(table: Table, **columns: NDArray[np.float64] | float) -> Table:
    """The table with some columns replaced."""
    new = table.copy()
    for name, values in columns.items():
        new[AT[name]] = values
    return new


def told(table: Table, sample: int) -> dict[str, float]:
    """One sample by name, for the message of a failure."""
    return {name: float(table[k, sample]) for name, k in AT.items()}
