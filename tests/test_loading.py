"""Limits of a shell with which the libraries of a command could not be loaded: told before any of them is."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest

from overbank import shell
from overbank.commands.loading import refuse_too_little
from overbank.errors import DomainError
from trials import ended


@pytest.mark.parametrize(("name", "option"), [("RLIMIT_AS", "-v"), ("RLIMIT_DATA", "-d")])
def test_a_limit_of_the_system_is_one_line(name: str, option: str, tmp_path: Path) -> None:
    def limit() -> None:
        resource.setrlimit(getattr(resource, name), (200 * 10**6, 200 * 10**6))

    found = ended("new", tmp_path / "new", preexec_fn=limit)
    assert (found.status, found.out, found.err.count("\n")) == (2, "", 1)
    assert found.told.startswith(f"ulimit {option}: expected")
    assert not (tmp_path / "new").exists()
    assert ended("--help", preexec_fn=limit).status == 0


@pytest.mark.parametrize(("name", "expected"), [("RLIMIT_AS", "1.2 GB"), ("RLIMIT_DATA", "0.8 GB")])
def test_more_cores_need_more(monkeypatch: pytest.MonkeyPatch, name: str, expected: str) -> None:
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "4")
    monkeypatch.setattr(shell, "limits", lambda: iter([(name, 0.75e9)]))
    with pytest.raises(DomainError, match=f"expected {expected}"):
        refuse_too_little()
    monkeypatch.setattr(shell, "limits", lambda: iter([(name, 1.25e9)]))
    refuse_too_little()


SIZE = """
from overbank.commands.loading import load_sparingly
load_sparingly()
import pyarrow
pyarrow.array([1.0])
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmData")))
"""


def test_the_library_of_tables_sets_nothing_aside() -> None:
    """Linux says what a process has of data [kB]; the library's own pool takes a gigabyte with the first number."""
    done = subprocess.run([sys.executable, "-c", SIZE], capture_output=True, text=True, check=True)
    assert int(done.stdout) < 600e3
