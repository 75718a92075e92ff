"""`overbank register` as a user meets it: status, what is printed, and a study of one row."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from overbank.errors import OverbankError
from overbank.register.results import check_register, read_both
from overbank.study.load import read_study
from registers import DEFAULTS, TABLE, written


def said(*words: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "overbank.commands.cli", "register", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)


def test_a_check_lists_faults_and_status_2_means_nothing_left(tmp_path: Path) -> None:
    file = written(tmp_path, TABLE.replace("1700", "17OO"))
    found = said(file, "--check")
    assert found.returncode == 0
    assert "line 3, lane, Width (mm): expected a plain number" in found.stdout
    assert "4 rows, 1 set aside" in found.stdout
    written(tmp_path, "Asset,kind\na,culvert\n")
    assert said(file, "--check").returncode == 2


def test_a_row_becomes_a_study(tmp_path: Path) -> None:
    file = written(tmp_path)
    found = said(file, "--study", "lane")
    assert found.returncode == 0, found.stderr
    assert read_study(tmp_path / "lane").title == "lane: Lane"
    refused = said(file, "--study", "lain")
    assert refused.returncode == 2
    assert "Did you mean lane?" in refused.stderr


def test_a_run_in_processes_writes_the_page(tmp_path: Path) -> None:
    file = written(tmp_path, TABLE, DEFAULTS.replace("samples = 512", "samples = 64"))
    found = said(file)
    assert found.returncode == 0, found.stderr
    assert "4 of 4 structures" in found.stderr
    assert "4 rows: 4 computed, 0 set aside." in found.stdout
    assert (tmp_path / "table-results" / "register.html").is_file()


def spoilt(text: str, rng: random.Random) -> str:
    """The text with a few characters changed, cut out, doubled or swapped."""
    letters = list(text)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(letters))
        letters[at] = rng.choice(["", letters[at] * 2, ",", "\n", '"', "-", "x", "9", "{", "é", "\0", ";"])
    return "".join(letters)


def survives(folder: Path, seeds: range) -> None:
    """Each spoilt register is read, or refused in one message; and every row is either sound or told."""
    for seed in seeds:
        rng = random.Random(seed)
        table, defaults = (spoilt(TABLE, rng), DEFAULTS) if seed % 3 else (TABLE, spoilt(DEFAULTS, rng))
        try:
            register, found = read_both(written(folder, table, defaults), None)
            faults = check_register(register, found)
        except OverbankError as error:
            assert "expected" in str(error)
            continue
        aside = {fault.line for fault in faults}
        sound = {entry.line for entry in register.entries} - aside
        assert len(sound) + len(aside) == register.rows, seed


def test_spoilt_registers_end_in_no_traceback_and_drop_nothing(tmp_path: Path) -> None:
    survives(tmp_path, range(60))


@pytest.mark.slow
def test_five_thousand_spoilt_registers(tmp_path: Path) -> None:
    survives(tmp_path, range(5000))
