"""More samples than fit into memory are refused in words before anything is sampled."""

from __future__ import annotations

import subprocess
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from overbank import shell
from overbank._jit import on_cores
from overbank.errors import DomainError
from overbank.model import Model
from overbank.run import run
from overbank.sampling import memory
from overbank.sampling.run import Run
from overbank.study.build import build
from overbank.study.load import Study, read_study
from overbank.uncertain.conditioning import NormalGiven
from small import DEPENDENCE, SMALL, edited, study, written

GARDEN = SMALL[SMALL.index('[[element]]\nkind = "channel"') : SMALL.index("[[dependence]]")]
MANY = ("samples = 4096", f"samples = {2**24}")


def test_too_many_are_refused_with_what_would_fit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "memory_here", lambda: 2e9)
    with pytest.raises(
        DomainError, match=r"run\.samples: .* 2\.0 GB; got 16,777,216, which need about \d+\.\d GB"
    ) as e:
        run(study(tmp_path, MANY))
    most = int(str(e.value).rsplit(" ", 1)[1].replace(",", ""))
    model = Model(build(study(tmp_path)))
    assert memory.memory_needed(model, "sobol", most) <= 2e9
    memory.refuse_what_does_not_fit(study(tmp_path), model, most)
    with pytest.raises(DomainError):
        memory.refuse_what_does_not_fit(study(tmp_path), model, most + 1000)


def test_what_is_kept_of_a_sample_is_counted(tmp_path: Path) -> None:
    """The arrays of all samples that an answer still holds need less, and a good part, of what is reserved."""
    found = Run(study(tmp_path))
    assert found.ladder is not None
    assert isinstance(found.ladder.given, NormalGiven)
    arrays = (
        found.sampling.levels,
        found.sampling.banks,
        found.sampling.samples.depth_over_bank,
        found.ladder.critical,
        found.ladder.lowest,
        found.ladder.given.mean,
        found.over.probabilities,
    )
    samples = found.over.probabilities.size
    reserved = 8.0 * memory.kept(found.model, "sobol") * samples
    assert 0.4 * reserved < sum(array.nbytes for array in arrays) < reserved


def wide(folder: Path, reaches: int) -> Study:
    """The small study with so many short reaches above it, each with a bank."""
    above = [
        GARDEN.replace('"garden"', f'"reach{k}"').replace("80.0", "8.0").replace("32.45", f"{32.45 + 0.03 * k:.2f}")
        for k in range(reaches)
    ]
    return read_study(
        written(folder, "\n".join([edited((DEPENDENCE, ""), ("samples = 4096", "samples = 1024")), *above]))
    )


WEIGHED = ("headwater", "overtopping", "places")
"""The outputs whose memory is weighed."""


def test_a_long_row_of_elements_needs_more(tmp_path: Path) -> None:
    """What NumPy has asked for at any moment, by Python's own count of it, is within what is stated beforehand."""
    stated, most = [], []
    for reaches in (0, 8):
        asked = wide(tmp_path / str(reaches), reaches)
        with on_cores(1):  # on several, what is held at once is a matter of chance
            run(asked, only=WEIGHED)  # what is fetched and compiled at first is not the samples'
            tracemalloc.start()
            before = tracemalloc.get_traced_memory()[0]
            run(asked, only=WEIGHED)
            most.append(tracemalloc.get_traced_memory()[1] - before)
            tracemalloc.stop()
        needed = memory.memory_needed(Model(build(asked)), "sobol", asked.content.run.samples)
        stated.append(needed - memory.FIXED)
    assert most[1] > 1.5 * most[0]
    assert 0.3 * stated[1] < most[1] < stated[1]


def test_more_elements_than_fit_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = wide(tmp_path, 60).with_samples(2**18)
    monkeypatch.setattr(memory, "memory_here", lambda: 1.5e9)
    with pytest.raises(DomainError, match=r"got 262,144, which need about \d+\.\d GB"):
        run(asked)
    memory.refuse_what_does_not_fit(asked, Model(build(asked)), 64)


def test_a_latin_hypercube_needs_more_for_it_is_made_whole(tmp_path: Path) -> None:
    model = Model(build(study(tmp_path)))
    less, more = (memory.memory_needed(model, design, 2**20) for design in ("sobol", "latin_hypercube"))
    assert more - less >= 8.0 * 2**20 * model.problem.inputs.dimension


def unlimited(folder: Path, monkeypatch: pytest.MonkeyPatch) -> float:
    """The memory of the machine, with no limits but those that a test sets in that folder."""
    monkeypatch.setattr(memory, "GROUPS", folder)
    monkeypatch.setattr(memory, "OWN_GROUP", folder / "own")
    monkeypatch.setattr(shell, "LIMITS", ())
    return memory.memory_here()


def test_the_memory_of_the_machine_is_that_of_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Linux says it in /proc/meminfo [kB]."""
    lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    total = float(next(line for line in lines if line.startswith("MemTotal")).split()[1]) * 1024
    np.testing.assert_allclose(unlimited(tmp_path, monkeypatch), total, rtol=0.01)


@pytest.mark.parametrize(("said", "there"), [("1000000000\n", 1e9), ("max\n", None), ("9223372036854771712\n", None)])
@pytest.mark.parametrize("file", ["memory.max", "memory/memory.limit_in_bytes", "user.slice/job/memory.max"])
def test_a_container_may_use_less(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str, said: str, there: float | None
) -> None:
    """Linux says "max", or a number beyond every machine, where nothing is limited."""
    machine = unlimited(tmp_path, monkeypatch)
    (tmp_path / "own").write_text("0::/user.slice/job\n", encoding="ascii")
    (tmp_path / file).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / file).write_text(said, encoding="ascii")
    assert memory.memory_here() == (there or machine)


LIMITED = """
import resource, sys
from overbank.sampling import memory
import overbank.run
resource.setrlimit(getattr(resource, sys.argv[1]), (int(sys.argv[2]),) * 2)
print(memory.memory_here())
"""


@pytest.mark.parametrize("name", ["RLIMIT_AS", "RLIMIT_DATA"])
def test_a_shell_may_allow_less(name: str) -> None:
    """Three gigabytes, of which address space that is only reserved is taken away."""
    command = [sys.executable, "-c", LIMITED, name, str(3 * 10**9)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    assert 0.5e9 < float(done.stdout) < 3e9


def test_too_little_for_any_run_is_refused_before_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "memory_here", lambda: 0.3e9)
    with pytest.raises(DomainError, match=r"expected 0\.5 GB of memory.*; got 0\.3 GB, from the shell"):
        run(study(tmp_path))
