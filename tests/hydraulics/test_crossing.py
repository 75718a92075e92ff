"""Whole crossings against the plain solver beside this file, and what a crossing reports about itself."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from plain_crossing import Bars, Crossing, Inlet, Tube, pool

from overbank.hydraulics import crossing as kernels
from overbank.hydraulics import sections
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.tables import inlets

ENTRIES = list(inlets().values())
NO_SCREEN = kernels.Screen(*[0.0] * 8)
NO_ROAD = kernels.Road(0.0, 0.0, 0.0)


def random_crossing(rng: np.random.Generator) -> tuple[Crossing, float, float]:
    """Any inlet of the tables on a barrel of its shape, with a screen, a road and debris or without; flow, tailwater."""
    entry = ENTRIES[rng.integers(len(ENTRIES))]
    span = rng.uniform(0.6, 5.0)
    rise = span if entry.shape == "pipe" else span * rng.uniform(0.5, 1.3)
    wall = max(rise - span / 2, rise * rng.uniform(0.1, 0.9)) if entry.shape == "arch" else 0.0
    n = rng.uniform(0.010, 0.035)
    tube = Tube(entry.shape, span, rise, n, n if rng.random() < 0.6 else rng.uniform(0.012, 0.05), wall)
    constants = (entry.form, entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)
    inlet = Inlet(*constants, rng.normal(1, 0.05), entry.entrance_loss, rng.choice([1.0, rng.uniform(0.3, 1)]))
    length = rng.uniform(5, 120)
    slope = rng.choice([0.0, rng.uniform(0, 0.01), rng.uniform(0.01, 0.1), rng.uniform(-0.005, 0)])
    upstream, count = 10 + slope * length, int(rng.integers(1, 4))
    bars = None
    if rng.random() < 0.6:
        bars = Bars(
            span * count * rng.uniform(1, 3),
            rise * rng.uniform(0.8, 2),
            upstream + rng.choice([0.0, rng.uniform(-0.2, 0.3)]),
            rng.uniform(0.75, 0.95),
            rng.uniform(0.05, 0.5),
            rng.uniform(0, 0.97),
            int(rng.integers(3)),
            rng.choice([0.0, 1.7]),
        )
    road = (upstream + rise * rng.uniform(1.1, 2.2), rng.uniform(4, 60), rng.uniform(1.4, 1.7))
    blocked = bars is None and rng.random() < 0.8
    flow = count * span * rise**1.5 * np.exp(rng.uniform(-3, 0.8))
    made = Crossing(
        tube,
        inlet,
        count,
        length,
        upstream,
        10.0,
        rng.uniform(0, 0.95) if blocked else 0.0,
        int(rng.integers(3)),
        bars,
        road if rng.random() < 0.7 else None,
    )
    return made, flow, 10 + rise * rng.uniform(-0.2, 1.7)


def compiled(c: Crossing) -> tuple[kernels.Barrels, kernels.Screen, kernels.Road]:
    """The same crossing in the words of the kernels."""
    t, i = c.tube, c.inlet
    codes = {"box": sections.RECTANGLE, "pipe": sections.CIRCLE, "arch": sections.ARCH, "ellipse": sections.ELLIPSE}
    s = sections.Section(float(codes[t.shape]), t.span, 0.0, t.rise, t.wall, 0.0, t.n, t.bed_n)
    row = InletRow(float(i.form), i.K, i.M, i.c, i.Y, i.slope_factor)
    barrels = kernels.Barrels(
        s,
        row,
        float(c.count),
        c.length,
        c.upstream,
        c.downstream,
        i.factor,
        i.entrance_loss,
        i.exit_loss,
        c.blockage,
        float(c.pattern),
    )
    b = c.bars
    screen = NO_SCREEN
    if b is not None:
        screen = kernels.Screen(
            b.width, b.height, b.sill, b.clear, b.clean_loss, b.blockage, float(b.pattern), float(b.over)
        )
    return barrels, screen, NO_ROAD if c.road is None else kernels.Road(*c.road)


@pytest.mark.parametrize("seed", range(4))
def test_pool_level_is_that_of_the_plain_solver(seed: int) -> None:
    """100 random crossings each: level within 0.1 mm, or 1e-5 of the head where debris holds up tens of metres."""
    rng = np.random.default_rng(seed)
    for _ in range(100):
        c, flow, tailwater = random_crossing(rng)
        expected = pool(c, flow, tailwater)
        got = kernels.pool_level(*compiled(c), flow, tailwater)
        assert abs(got - expected) < max(1e-4, 1e-5 * (expected - c.upstream)), (c, flow, tailwater, got, expected)
