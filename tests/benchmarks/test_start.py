"""How long the commands take to start: the help, a check with the formulas compiled, and the first one of all.

Run with `pytest -m benchmark tests/benchmarks/test_start.py -s`. Nothing here asserts a time.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "quillet-lane"


def taken(cache: Path, *words: str) -> tuple[float, float, str]:
    """A command by itself: seconds by the clock, seconds of the processor, and what it said beside its answer."""
    command = [sys.executable, "-m", "overbank.cli", *words]
    used = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    start = time.perf_counter()
    done = subprocess.run(
        command, env={**os.environ, "OVERBANK_CACHE": str(cache)}, capture_output=True, text=True, check=True
    )
    seconds = time.perf_counter() - start
    return seconds, resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - used, done.stderr


def test_start(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    check = ("check", str(STUDY), "--json")
    found = {
        "first check, formulas compiled": taken(tmp_path, *check),
        "check": min(taken(tmp_path, *check) for _ in range(3)),
        "help": min(taken(tmp_path, "--help") for _ in range(3)),
    }
    assert "First run on this machine" in found["first check, formulas compiled"][2]
    assert found["check"][2] == ""
    with capsys.disabled():
        print()
        for what, (seconds, used, _) in found.items():
            print(f"{what:32} {seconds:6.2f} s by the clock, {used:6.2f} s of the processor")
