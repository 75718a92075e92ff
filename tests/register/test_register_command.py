"""`overbank register` as a user meets it: status, what is printed, and a study of one row."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from overbank.commands.register import register
from overbank.errors import DomainError, OverbankError
from overbank.register.reading import check_register, read_both
from overbank.study.load import read_study
from registers import DEFAULTS, TABLE, written


def asked(file: Path, check: bool = False, study: str | None = None) -> int:
    """The command, in this process; its exit status."""
    try:
        register(file, None, None, check, study)
    except typer.Exit as end:
        return end.exit_code
    return 0


def test_a_check_lists_faults_and_status_2_means_nothing_left(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    file = written(tmp_path, TABLE.replace("1700", "17OO"))
    assert asked(file, check=True) == 0
    printed = capsys.readouterr().out
    assert "line 3, lane, Width (mm): expected a plain number" in printed
    assert "4 rows, 1 set aside" in printed
    written(tmp_path, "Asset,kind\na,culvert\n")
    assert asked(file, check=True) == 2


def test_a_row_becomes_a_study(tmp_path: Path) -> None:
    file = written(tmp_path)
    assert asked(file, study="lane") == 0
    assert read_study(tmp_path / "lane").title == "lane: Lane"
    with pytest.raises(DomainError, match="Did you mean lane"):
        asked(file, study="lain")


def test_a_run_in_a_process_writes_the_page(tmp_path: Path) -> None:
    file = written(tmp_path, TABLE, DEFAULTS.replace("samples = 512", "samples = 64"))
    command = [sys.executable, "-m", "overbank.commands.cli", "register", str(file)]
    one = {**os.environ, "OVERBANK_THREADS": "1"}
    found = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300, env=one)
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
            table_, found = read_both(written(folder, table, defaults), None)
            faults = check_register(table_, found)
        except OverbankError:
            continue
        aside = {fault.line for fault in faults}
        sound = {entry.line for entry in table_.entries} - aside
        assert len(sound) + len(aside) == table_.rows, seed


def test_spoilt_registers_end_in_no_traceback_and_drop_nothing(tmp_path: Path) -> None:
    survives(tmp_path, range(60))


@pytest.mark.slow
def test_five_thousand_spoilt_registers(tmp_path: Path) -> None:
    survives(tmp_path, range(5000))
