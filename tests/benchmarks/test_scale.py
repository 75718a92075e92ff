"""A whole run of Quillet Lane, results written, at 2^16, 2^18 and 2^20 samples: memory, and time a sample."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from benchmarks.table import Table, spoken

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "quillet-lane" / "study.toml"
GROUP, SAMPLES = "a whole run of Quillet Lane", "samples    = 16384"
POWERS = (16, 18, 20)

RUN = """
import sys
from pathlib import Path
import overbank
overbank.write_results(overbank.run_study(overbank.read_study(sys.argv[1])), sys.argv[2])
status = Path("/proc/self/status").read_text()
print(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""
"""In a process of its own; the system's count of the most memory it has held [kB], libraries included."""


def peak(folder: Path, power: int) -> float:
    """Run the study with 2^power samples; the most memory held [GB]."""
    text = STUDY.read_text(encoding="utf-8")
    assert text.count(SAMPLES) == 1
    own = folder / "study.toml"
    own.write_text(text.replace(SAMPLES, f"samples    = {2**power}"), encoding="utf-8")
    command = [sys.executable, "-c", RUN, str(own), str(folder / "results")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return float(done.stdout.split()[-1]) * 1024 / 1e9


@pytest.mark.parametrize("power", POWERS)
def test_memory_and_time(benchmark: BenchmarkFixture, table: Table, tmp_path: Path, power: int) -> None:
    held: list[float] = []
    name = f"2^{power} samples"
    table.time(benchmark, GROUP, name, lambda: held.append(peak(tmp_path, power)), rounds=1, warm=0)
    small = table.at_most(f"{GROUP}, {name}: memory", max(held), 2.0, "GB")
    assert small, f"{name}: {max(held):.2f} GB"


def test_time_is_linear_in_samples(table: Table) -> None:
    """A sample of 2^20 takes no longer than one of 2^16, but for a tenth that is noise."""
    least, most = POWERS[0], POWERS[-1]
    few, many = (table.seconds[GROUP, f"2^{power} samples"] / 2**power for power in (least, most))
    what = f"{GROUP}, time a sample: 2^{most} (ours) against 2^{least} (rival)"
    table.ratio(what, spoken(many), spoken(few), few / many, 0.9)
