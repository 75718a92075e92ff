"""Time of a crossing with relief barrels and of bridges with several groups of openings, a sample, on all cores.

One thread of a loaded machine: on these sites 64 µs with relief barrels, 4, 5 and 13 µs with one, two and five groups;
on random crossings with relief barrels of every shape and slope 190 µs (230 before), on random bridges of two groups
50 µs.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from benchmarks import rivals, site
from benchmarks.table import OURS, Table
from overbank._jit import run_rows
from overbank.hydraulics import bridges, rows
from overbank.hydraulics.columns import size
from overbank.hydraulics.sections import box, rectangle

pytestmark = pytest.mark.benchmark

SAMPLES = 2**14
GOAL = 30.0
"""Microseconds a sample: the table says whether it is met, as relief barrels do not yet on one core."""

BARRELS = rows.BARRELS


def with_relief() -> Callable[[], object]:
    """The site of the benchmark with a pipe beside its box, a metre higher."""
    columns = site.columns(rivals.draw(SAMPLES))
    relief = list(columns[:BARRELS])
    relief[rows.LAY_AT + 2] = relief[rows.LAY_AT + 3] = rivals.INVERT_UP + 1.0
    columns[BARRELS : 2 * BARRELS] = relief
    return lambda: run_rows(rows.crossing_levels, columns, 2, SAMPLES)


def with_groups(groups: int) -> Callable[[], object]:
    """A bridge of so many boxes at beds of their own in a channel of 20 m."""
    rng = np.random.default_rng(1)
    openings = [[*box(12.0 / groups, 2.5, 0.03), 1.0, 1.0, 0.3 * k] for k in range(groups)]
    nothing = [0.0] * size(bridges.Openings)
    first = [*openings[0], *(openings[1] if groups > 1 else nothing)]
    shared = [0.3, 0.5, 0.5, 0.8, 1.0, rng.beta(1.2, 5.0, SAMPLES), 0.0, 0.0, 0.0]
    water = [30.0 * np.exp(0.25 * rng.standard_normal(SAMPLES)), 1.8 + 0.2 * rng.standard_normal(SAMPLES)]
    deck = [3.4, 20.0, 1.55, 0.0, 0.0, 0.0]
    columns = [*first, *rectangle(20.0, 0.03), 0.0, *shared, *deck, *water]
    for each in openings[2:]:
        columns += each
    assert len(columns) == rows.BRIDGE_ROW + max(groups - 2, 0) * size(bridges.Openings)
    return lambda: run_rows(rows.bridge_states, columns, len(bridges.Bridged._fields), SAMPLES)


@pytest.mark.parametrize("what", ["relief barrels", "1 group", "2 groups", "5 groups"])
def test_a_sample(benchmark: BenchmarkFixture, table: Table, what: str) -> None:
    run = with_relief() if what == "relief barrels" else with_groups(int(what.split(maxsplit=1)[0]))
    seconds = table.time(benchmark, f"a site with {what}", OURS, run, rounds=5)
    assert seconds > 0.0
    table.at_most(f"a site with {what}, a sample", seconds / SAMPLES * 1e6, GOAL, "µs")
