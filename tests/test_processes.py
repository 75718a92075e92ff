"""Processes for many runs: one that dies takes only its own work with it, and none outlives its parent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from overbank.commands.processes import ONE_THREAD, LostProcessError, Processes


def is_there(process: int) -> bool:
    """Whether a process still lives (a dead child of somebody else is no longer one)."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="ascii").split()[2] != "Z"
    except FileNotFoundError:
        return False


def gone(process: int, within: float = 10.0) -> bool:
    end = time.monotonic() + within
    while is_there(process) and time.monotonic() < end:
        time.sleep(0.01)
    return not is_there(process)


def settings() -> list[str | None]:
    return [os.environ.get(name) for name in ONE_THREAD]


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def sleep_in(file: Path) -> None:
    """Long work that tells that it has begun, and when it is stopped."""
    file.write_text(str(os.getpid()), encoding="ascii")
    try:
        time.sleep(60.0)
    finally:
        file.write_text("cleared away", encoding="ascii")


def begun(file: Path) -> int:
    while not file.exists() or not (text := file.read_text(encoding="ascii")):
        time.sleep(0.01)
    return int(text)


def test_work_is_done_elsewhere_on_one_thread_and_a_death_costs_its_own_only() -> None:
    with Processes(2) as pool:
        first = [pool.submit(settings), pool.submit(die), pool.submit(os.getpid), pool.submit(pow, 2, 5)]
        assert first[0].result() == ["1"] * len(ONE_THREAD)
        with pytest.raises(LostProcessError, match="memory"):
            first[1].result()
        process = first[2].result()
        assert process != os.getpid()
        assert first[3].result() == 32
    assert gone(process)


def stopped_on_the_way(file: Path) -> None:
    with Processes(1) as pool:
        pool.submit(sleep_in, file)
        begun(file)
        raise KeyboardInterrupt


def test_work_is_stopped_and_cleared_away_after_ctrl_c(tmp_path: Path) -> None:
    file = tmp_path / "note"
    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        stopped_on_the_way(file)
    assert file.read_text(encoding="ascii") == "cleared away"
    assert time.monotonic() - start < 20.0


def stopped_at_the_start(file: Path) -> None:
    with Processes(1) as pool:
        pool.submit(sleep_in, file)
        raise KeyboardInterrupt


def test_work_that_was_about_to_begin_is_stopped_too(tmp_path: Path) -> None:
    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        stopped_at_the_start(tmp_path / "note")
    assert time.monotonic() - start < 30.0


PARENT = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from test_processes import sleep_in
from overbank.commands.processes import Processes
if __name__ == "__main__":
    with Processes(1) as pool:
        pool.submit(sleep_in, Path(sys.argv[1])).result()
"""


def test_no_process_outlives_a_killed_parent(tmp_path: Path) -> None:
    file, program = tmp_path / "note", tmp_path / "parent.py"
    program.write_text(PARENT, encoding="utf-8")
    with subprocess.Popen([sys.executable, str(program), str(file), str(Path(__file__).parent)]) as parent:
        try:
            process = begun(file)
            assert is_there(process)
        finally:
            parent.kill()
    assert gone(process)
