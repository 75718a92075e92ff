"""How long the commands take to start: the help, a check with the formulas compiled, and the first one of all.

Each is a process of its own. The times are by the clock and depend on the machine and what else it does: they are shown
beside their goals, with the time of the processor, and not asserted.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from benchmarks.table import Table

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "quillet-lane"
CHECK = ("check", str(STUDY), "--json")


def run(cache: Path, *words: str) -> str:
    """A command by itself; what it says beside its answer. Python keeps its bytecode, as it does for a user."""
    environment = {**os.environ, "OVERBANK_CACHE": str(cache)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-m", "overbank.commands.cli", *words]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stderr


def used() -> float:
    """Time of the processor that processes which have ended took so far [s]."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return children.ru_utime + children.ru_stime


def measured(
    benchmark: BenchmarkFixture, table: Table, name: str, most: float, command: Callable[[], object], rounds: int
) -> None:
    """Time a command in so many rounds and put it into the table."""
    before = used()
    seconds = table.time(benchmark, "start", name, command, rounds, warm=0)
    table.at_most(f"{name} ({(used() - before) / rounds:.2f} s of the processor)", seconds, most, "s")


def test_help(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    measured(benchmark, table, "overbank --help", 0.4, lambda: run(tmp_path, "--help"), rounds=10)


def test_check(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    run(tmp_path, *CHECK)  # compiles
    assert run(tmp_path, *CHECK) == ""
    measured(benchmark, table, "overbank check, formulas compiled", 2.0, lambda: run(tmp_path, *CHECK), rounds=10)


def test_first_check(benchmark: BenchmarkFixture, table: Table, tmp_path: Path) -> None:
    caches = (tmp_path / str(k) for k in range(3))
    said: list[str] = []
    name = "overbank check, the first on a machine"
    measured(benchmark, table, name, 30.0, lambda: said.append(run(next(caches), *CHECK)), rounds=3)
    assert all("First run on this machine" in words for words in said)
