"""More samples than fit into memory are refused in words before anything is sampled."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import DomainError
from overbank.model import Model
from overbank.run import run
from overbank.stages import memory
from overbank.study.build import build
from small import study

MANY = ("samples = 4096", f"samples = {2**24}")


def test_too_many_are_refused_with_what_would_fit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "memory_here", lambda: 8e9)
    with pytest.raises(
        DomainError, match=r"run\.samples: .* 8\.0 GB; got 16,777,216, which need about \d+\.\d GB"
    ) as e:
        run(study(tmp_path, MANY))
    most = int(str(e.value).rsplit(" ", 1)[1].replace(",", ""))
    model = Model(build(study(tmp_path)))
    assert memory.memory_needed(model, most) <= 8e9
    memory.refuse_what_does_not_fit(study(tmp_path), model, most)
    with pytest.raises(DomainError):
        memory.refuse_what_does_not_fit(study(tmp_path), model, most + 1000)


def test_what_the_tables_of_a_run_hold_is_counted(tmp_path: Path) -> None:
    """The arrays of an outcome alone need less, and a good part, of what is reserved for a sample."""
    small = study(tmp_path, ("samples = 4096", "samples = 512"))
    outcome = run(small)
    site = outcome.samples.site
    held = outcome.samples.values.nbytes + sum(
        array.nbytes for element in site.elements for array in element.results.values()
    )
    reserved = memory.memory_needed(Model(build(small)), 512) - memory.FIXED
    assert 0.2 * reserved < held < reserved


def test_the_memory_of_the_machine_is_that_of_the_system() -> None:
    """Linux says it in /proc/meminfo [kB]."""
    lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    total = float(next(line for line in lines if line.startswith("MemTotal")).split()[1]) * 1024
    np.testing.assert_allclose(memory.memory_here(), total, rtol=0.01)
