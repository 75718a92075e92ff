"""Water that stands still, and a mark read to nothing: no warning of a division or an overflow, a fault of its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.run import run
from small import DEPENDENCE, study

TAILWATER = '{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }'
FEW = ("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 8")
CALM = ("median = 6.0, cov = 0.2", "median = 0.01, cov = 0.01")


@pytest.mark.parametrize("bank", ["{ normal = { mean = 32.2, sd = 0.05 } }", "32.2"])
def test_water_that_stands_still(tmp_path: Path, bank: str) -> None:
    """A pool that the river below holds: no input moves its level by more than a hair, and there is none to rank."""
    banks = ("{ normal = { mean = 32.2, sd = 0.05 } }", bank)
    changes = [(TAILWATER, "45.0"), CALM, (DEPENDENCE, ""), *([banks] if bank == "32.2" else [])]
    found = run(study(tmp_path, FEW, *changes), only=("headwater", "blockage", "drivers"))
    assert np.ptp(found.samples.levels) < 1e-3
    assert found.headwater.quantiles[0.5].value == pytest.approx(45.0, abs=1e-3)


@pytest.mark.parametrize("spread", ["1e-200", "1e-9"])
def test_a_mark_read_to_nothing_teaches_nothing_and_says_so(tmp_path: Path, spread: str) -> None:
    mark = f"[[observation]]\nflow_m3_s = 5.0\nlevel_m = 31.9\nsd_m = {spread}\n"
    found = run(study(tmp_path, FEW, (DEPENDENCE, mark)), only=("learnt",))
    assert found.learnt is not None
    assert found.learnt.taught is None
    assert found.learnt.refusal
