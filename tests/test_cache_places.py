"""Where compiled formulas are kept: places that cannot be written to, a full disk, no home, damaged files."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import overbank._jit
from overbank.hydraulics.clean_screens import kirschmer

TRUE = kirschmer.py_func(2.42, 0.020, 0.125, 60.0)  # type: ignore[attr-defined]

ASK = """
import builtins, errno, os, sys
opened = builtins.open
def full(file, *words, **more):
    if ".tmp." in str(file):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(file))
    return opened(file, *words, **more)
if "full" in sys.argv:
    builtins.open = full
from overbank import _jit
from overbank.hydraulics.clean_screens import kirschmer
print(kirschmer(2.42, 0.020, 0.125, 60.0), _jit.is_compiled(), _jit.not_kept(), sep="|")
"""


def asked(temporary: Path, *words: str, **settings: str) -> tuple[float, bool, str]:
    """A formula's result in a new process, whether compiled code was kept, and what was said if not."""
    temporary.mkdir(exist_ok=True)
    known = {**os.environ, "TMPDIR": str(temporary), **settings}
    command = [sys.executable, "-c", ASK, *words]
    done = subprocess.run(command, env=known, capture_output=True, text=True, check=False, timeout=120)
    assert (done.returncode, done.stderr) == (0, "")
    assert list(temporary.iterdir()) == []
    number, kept, refused = done.stdout.rstrip("\n").split("|")
    return float(number), kept == "True", refused


def test_a_place_that_cannot_be_written_to_is_named_and_the_formula_runs(tmp_path: Path) -> None:
    """Below /proc nobody may make a folder, not even the administrator."""
    found = asked(tmp_path / "temporary", OVERBANK_CACHE="/proc/overbank")
    assert found == (TRUE, False, "/proc/overbank: No such file or directory")


def test_without_a_home_the_formulas_are_kept_beside_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """A user without a home, as in many a container: the second place is the one that Python itself uses."""

    def no_home() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("OVERBANK_CACHE", raising=False)
    monkeypatch.setattr(Path, "home", no_home)
    package = Path(overbank.__file__).parent
    assert list(overbank._jit._places()) == [package / "__pycache__" / "overbank"]


def test_a_disk_that_fills_up_is_told_and_the_formula_runs(tmp_path: Path) -> None:
    number, kept, refused = asked(tmp_path / "temporary", "full", OVERBANK_CACHE=str(tmp_path / "cache"))
    assert (number, kept) == (TRUE, False)
    assert refused == f"{tmp_path / 'cache'}: No space left on device"


@pytest.mark.parametrize("damage", [b"", b"\x80\x04K", b"no pickle"], ids=["emptied", "cut off", "overwritten"])
def test_damaged_files_are_made_anew(tmp_path: Path, damage: bytes) -> None:
    cache = tmp_path / "cache"
    assert asked(tmp_path / "temporary", OVERBANK_CACHE=str(cache)) == (TRUE, True, "")
    files = [path for path in cache.rglob("*.nb?") if path.is_file()]
    for file in files:
        file.write_bytes(damage)
    assert asked(tmp_path / "temporary", OVERBANK_CACHE=str(cache)) == (TRUE, True, "")
    whole = {file: file.read_bytes() for file in files}
    assert all(content != damage for content in whole.values())
    assert asked(tmp_path / "temporary", OVERBANK_CACHE=str(cache)) == (TRUE, True, "")
    assert {file: file.read_bytes() for file in files} == whole


def test_code_that_can_only_be_read_is_used(tmp_path: Path) -> None:
    """As in an image of a container. An administrator may write everywhere, so writing is what fails here."""
    cache = tmp_path / "cache"
    assert asked(tmp_path / "temporary", OVERBANK_CACHE=str(cache)) == (TRUE, True, "")
    assert asked(tmp_path / "temporary", "full", OVERBANK_CACHE=str(cache)) == (TRUE, True, "")
