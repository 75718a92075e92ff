"""Time of one crossing (screen, barrel profile, road), side by side with rivals that compute the same levels."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from benchmarks import one_at_a_time, plain, rivals, site, specialised
from benchmarks.table import OURS, Table

pytestmark = pytest.mark.benchmark

SMALL, LARGE, PROCESSES = 2**14, 2**18, 2
FEW, MANY = f"a crossing, {SMALL:,} samples", f"a crossing, {LARGE:,} samples"


@pytest.mark.parametrize(("group", "samples"), [(FEW, SMALL), (MANY, LARGE)], ids=["few", "many"])
def test_ours(benchmark: BenchmarkFixture, table: Table, group: str, samples: int) -> None:
    drawn = rivals.draw(samples)
    table.time(benchmark, group, OURS, lambda: site.compiled_levels(drawn), rounds=7)


@pytest.fixture
def without_compiler(monkeypatch: pytest.MonkeyPatch) -> Iterator[ProcessPoolExecutor]:
    """A process of its own in which the formulas stay plain Python."""
    monkeypatch.setenv("NUMBA_DISABLE_JIT", "1")
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        yield pool


def test_plain_python(benchmark: BenchmarkFixture, table: Table, without_compiler: ProcessPoolExecutor) -> None:
    """The same formulas without the compiler, on one core."""
    name = "the same formulas in plain Python, one core"
    drawn = rivals.draw(SMALL)
    found = without_compiler.submit(plain.levels, drawn.part(slice(0, 500))).result()
    np.testing.assert_allclose(found, site.compiled_levels(drawn)[:500], atol=1e-6)
    table.time(benchmark, FEW, name, lambda: without_compiler.submit(plain.levels, drawn).result(), rounds=2, warm=0)
    table.times_faster(FEW, name, 40.0, SMALL)


def test_one_at_a_time(benchmark: BenchmarkFixture, table: Table) -> None:
    """SciPy's brentq and solve_ivp in a loop over the samples."""
    name = "SciPy's brentq and solve_ivp, a sample at a time"
    drawn = rivals.draw(SMALL)
    found: list[float] = []

    def loop() -> None:
        found[:] = [one_at_a_time.level(drawn, i) for i in range(SMALL)]

    table.time(benchmark, FEW, name, loop, rounds=2, warm=0)
    np.testing.assert_allclose(found, site.compiled_levels(drawn), atol=2e-3)  # solve_ivp at the roof of the barrel
    table.times_faster(FEW, name, 150.0, SMALL)


def in_two_processes(
    benchmark: BenchmarkFixture, table: Table, name: str, levels: Callable[[rivals.Samples], rivals.Array]
) -> rivals.Array:
    """Time a rival in two processes, each on half of the samples; how far it is from ours [m]."""
    drawn = rivals.draw(LARGE)
    pieces = [drawn.part(slice(k, None, PROCESSES)) for k in range(PROCESSES)]
    found: list[rivals.Array] = []
    with ProcessPoolExecutor(PROCESSES, get_context("spawn")) as pool:
        list(pool.map(levels, [piece.part(slice(0, 100)) for piece in pieces]))  # start the processes

        def both() -> None:
            found[:] = pool.map(levels, pieces)

        table.time(benchmark, MANY, name, both, rounds=3, warm=0)
    ours = site.compiled_levels(drawn)
    return np.concatenate([np.abs(levels - ours[k::PROCESSES]) for k, levels in enumerate(found)])


def test_vectorised(benchmark: BenchmarkFixture, table: Table) -> None:
    """NumPy and SciPy's elementwise roots."""
    name = "vectorised NumPy and SciPy, two processes"
    assert in_two_processes(benchmark, table, name, rivals.numpy_levels).max() < 1e-4
    table.times_faster(MANY, name, 5.0, LARGE)


def test_specialised(benchmark: BenchmarkFixture, table: Table) -> None:
    """NumPy for this site alone, by someone who tries to win; the ratio is told, no goal is set."""
    name = "NumPy written for this box alone, two processes"
    apart = in_two_processes(benchmark, table, name, specialised.levels)
    assert np.quantile(apart, 0.999) < 1e-4
    assert apart.max() < 0.01
    table.times_faster(MANY, name, None, LARGE)
