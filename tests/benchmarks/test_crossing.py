"""Time and memory of one crossing (screen, barrel profile, road), as ratios measured side by side in one run.

Run with `pytest -m benchmark tests/benchmarks -s`. Nothing here asserts a time; what is asserted is that all rivals
compute the same levels.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from benchmarks import rivals, site

pytestmark = pytest.mark.benchmark

LARGE, PIECES, FEW = 200_000, 2, 200

PLAIN_PYTHON = """
import json, time
from overbank.hydraulics.crossing import Barrels, Road, Screen, pool_level
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.sections import Section
from benchmarks import rivals, site
import numpy as np
samples = rivals.draw({few})
rows = np.array([np.broadcast_to(c, {few}) for c in site.columns(samples)]).T.tolist()
def level(row):
    row = row[32:]
    barrels = Barrels(Section(*row[:8]), InletRow(*row[8:14]), *row[14:23])
    return pool_level(barrels, Screen(*row[23:31]), Road(*row[31:34]), row[34], row[35])
np.seterr(all="ignore")
start = time.perf_counter()
levels = [level(row) for row in rows]
print(json.dumps({{"seconds": time.perf_counter() - start, "levels": levels}}))
"""


def best(run: Callable[[], object], times: int = 3) -> float:
    """Shortest of several runs [s]."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append(time.perf_counter() - start)
    return min(taken)


def plain_python() -> tuple[float, np.ndarray]:
    """The same kernels without the compiler, in a process of their own: seconds a sample, and the levels."""
    root = Path(__file__).parents[2]
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": str(root / "tests")}
    done = subprocess.run(
        [sys.executable, "-c", PLAIN_PYTHON.format(few=FEW)],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    found = json.loads(done.stdout)
    return found["seconds"] / FEW, np.array(found["levels"])


def test_time_per_sample(capsys: pytest.CaptureFixture[str]) -> None:
    samples = rivals.draw(LARGE)
    ours = site.compiled_levels(samples)
    np.testing.assert_allclose(rivals.numpy_levels(samples.part(slice(0, 5000))), ours[:5000], atol=2e-5)
    few = [rivals.scalar_level(samples, i) for i in range(FEW)]
    np.testing.assert_allclose(few, ours[:FEW], atol=1e-4)
    python_seconds, levels = plain_python()
    np.testing.assert_allclose(levels, site.compiled_levels(rivals.draw(FEW)), atol=1e-6)

    pieces = [samples.part(slice(k, None, PIECES)) for k in range(PIECES)]
    with ProcessPoolExecutor(PIECES) as pool:
        list(pool.map(rivals.numpy_levels, [piece.part(slice(0, 10)) for piece in pieces]))  # start the processes
        vectorised = best(lambda: list(pool.map(rivals.numpy_levels, pieces)), 2) / LARGE
    compiled = best(lambda: site.compiled_levels(samples)) / LARGE
    loop = best(lambda: [rivals.scalar_level(samples, i) for i in range(FEW)], 1) / FEW

    rows = {
        "compiled, all cores": compiled,
        "vectorised NumPy, two processes": vectorised,
        "one sample at a time, SciPy's brentq and solve_ivp": loop,
        "the same kernels in plain Python, one core": python_seconds,
    }
    with capsys.disabled():
        print(f"\none crossing, {np.mean(ours > rivals.ROAD):.0%} of the samples with water over the road")
        for name, seconds in rows.items():
            print(f"{name:52} {seconds * 1e6:10.2f} us a sample {seconds / compiled:8.1f} times ours")


MEMORY = """
import resource, time
from overbank.model import Model
from overbank.stages.memory import memory_needed
from overbank.study.load import read_study
from overbank.run import run
study = read_study({path!r})
start = time.perf_counter()
outcome = run(study)
needed = memory_needed(Model(outcome.problem), study.content.run.samples) / 2**30
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20, outcome.runs, needed)
"""


def test_a_million_samples(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole run of the Quillet Lane study at 2^16, 2^18 and 2^20 samples: seconds and peak memory."""
    root = Path(__file__).parents[2]
    text = (root / "studies" / "quillet-lane" / "study.toml").read_text(encoding="utf-8")
    lines = []
    for power in (16, 18, 20):
        folder = tmp_path / str(power)
        folder.mkdir()
        changed = text.replace("samples    = 16384", f"samples    = {2**power}")
        assert changed != text
        (folder / "study.toml").write_text(changed, encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-c", MEMORY.format(path=str(folder))], capture_output=True, text=True, check=True
        )
        seconds, gigabytes, runs, reserved = done.stdout.split()
        lines.append(
            f"2^{power} samples: {float(seconds):7.1f} s, {float(gigabytes):5.2f} GB, {int(runs):>11,} model runs"
        )
        assert float(gigabytes) <= 2.0
        assert float(gigabytes) <= float(reserved) + 0.1, "samples that do not fit would not be refused"
    with capsys.disabled():
        print("\n" + "\n".join(lines))
