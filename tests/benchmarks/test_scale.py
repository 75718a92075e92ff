"""Whole runs, results written: memory, and time a sample.

Quillet Lane at 2^16, 2^18 and 2^20 samples; and a pond whose answers have closed forms, at 2^22.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.stats import norm

from benchmarks.table import Table, spoken
from pond import BANK, LEVEL, LEVEL_SD, pond

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "quillet-lane" / "study.toml"
GROUP, SAMPLES = "a whole run of Quillet Lane", "samples    = 16384"
POWERS = (16, 18, 20)

RUN = """
import sys
from pathlib import Path
import overbank
from overbank.model import Model
from overbank.sampling.memory import memory_needed
study = overbank.read_study(sys.argv[1])
outcome = overbank.run_study(study)
overbank.write_results(outcome, sys.argv[2])
print(memory_needed(Model(outcome.problem), study.content.run.design, study.content.run.samples))
status = Path("/proc/self/status").read_text()
print(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""
"""In a process of its own; the system's count of the most memory it has held [kB], libraries included."""


def peak(folder: Path) -> float:
    """Run the study of a folder; the most memory held [GB], which is never more than `memory_needed` counts."""
    command = [sys.executable, "-c", RUN, str(folder), str(folder / "results")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    needed, held = done.stdout.split()[-2:]
    assert float(held) * 1024 < float(needed) + 0.1e9
    return float(held) * 1024 / 1e9


def quillet_lane(folder: Path, power: int) -> float:
    """With 2^power samples."""
    text = STUDY.read_text(encoding="utf-8")
    assert text.count(SAMPLES) == 1
    (folder / "study.toml").write_text(text.replace(SAMPLES, f"samples    = {2**power}"), encoding="utf-8")
    return peak(folder)


@pytest.mark.parametrize("power", POWERS)
def test_memory_and_time(benchmark: BenchmarkFixture, table: Table, tmp_path: Path, power: int) -> None:
    held: list[float] = []
    name = f"2^{power} samples"
    table.time(benchmark, GROUP, name, lambda: held.append(quillet_lane(tmp_path, power)), rounds=1, warm=0)
    small = table.at_most(f"{GROUP}, {name}: memory", max(held), 2.0, "GB")
    assert small, f"{name}: {max(held):.2f} GB"


def test_time_is_linear_in_samples(table: Table) -> None:
    """A sample of 2^20 takes no longer than one of 2^16, but for a tenth that is noise."""
    least, most = POWERS[0], POWERS[-1]
    few, many = (table.seconds[GROUP, f"2^{power} samples"] / 2**power for power in (least, most))
    what = f"{GROUP}, time a sample: 2^{most} (ours) against 2^{least} (rival)"
    table.ratio(what, spoken(many), spoken(few), few / many, 0.9)


def test_millions_of_samples_of_a_pond(table: Table, tmp_path: Path) -> None:
    """Its levels are normal, so that the probability of passing the bank is known exactly."""
    pond(tmp_path, ("samples = 8192", f"samples = {2**22}"))
    small = table.at_most("a pond, 2^22 samples: memory", peak(tmp_path), 2.0, "GB")
    said = json.loads((tmp_path / "results" / "summary.json").read_text(encoding="utf-8"))
    exact = float(norm.sf((BANK - LEVEL) / LEVEL_SD))
    found = said["probability_of_overtopping"]["threshold_method"]["value"]
    close = table.at_most("the same: error of the probability", abs(found - exact), 1e-6, "")
    assert small
    assert close
