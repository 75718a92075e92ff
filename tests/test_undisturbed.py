"""A signal at each line of the code that looks after folders, one after the other: nothing is left, nothing mixed."""

from __future__ import annotations

import contextlib
import json
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any, Self

from overbank.commands.interrupt import Interrupt, StoppedError
from overbank.files import folders, undisturbed
from overbank.files.folders import add_to_results, fresh_folder, shared_folder
from overbank.files.owned import MARK, listing
from trials import left_lying, whole

WATCHED = {module.__file__ for module in (folders, undisturbed, contextlib)}


class Strike:
    """A signal at the n-th line that is carried out in one of the files watched."""

    def __init__(self, line: int) -> None:
        self.left = line

    def __call__(self, frame: FrameType, event: str, _: Any) -> Self | None:
        if frame.f_code.co_filename not in WATCHED:
            return None
        if event == "line":
            self.left -= 1
            if self.left == 0:
                signal.raise_signal(signal.SIGTERM)
        return self


def stopped(line: int, work: Callable[[], object]) -> bool | None:
    """Whether a signal at that line stopped the work; None where it has fewer lines."""
    strike, before = Strike(line), sys.gettrace()
    try:
        with Interrupt():
            sys.settrace(strike)
            work()
    except StoppedError:
        return True
    finally:
        sys.settrace(before)
    return None if strike.left > 0 else False


def results(folder: Path, version: str) -> None:
    (folder / "table.csv").write_text(version, encoding="utf-8")
    mark = {"written_by": "overbank 0", **listing(folder)}
    (folder / MARK).write_text(json.dumps(mark), encoding="utf-8")


def strikes(folder: Path, work: Callable[[], object]) -> int:
    """How many lines there are; each is struck once, and every strike is heard."""
    for line in range(1, 2000):
        heard = stopped(line, work)
        if heard is None:
            return line - 1
        assert heard, line
        assert left_lying(folder) == [], line
        wanted = folder / "results"
        assert whole(wanted), line
        assert left_lying(wanted) == [], line
    raise AssertionError("no end of lines")


def test_a_run(tmp_path: Path) -> None:
    def run() -> None:
        with fresh_folder(tmp_path / "results", 4096) as staging:
            results(staging, "new")

    run()
    assert strikes(tmp_path, run) > 50


def test_one_more_file(tmp_path: Path) -> None:
    (tmp_path / "results").mkdir()
    results(tmp_path / "results", "old")
    count = iter(range(2000))

    def add() -> None:
        add_to_results(tmp_path / "results", "more.csv", lambda file: file.write_text(str(next(count))))

    assert strikes(tmp_path, add) > 50


def test_many_studies(tmp_path: Path) -> None:
    (tmp_path / "results").mkdir()
    results(tmp_path / "results", "old")
    (tmp_path / "many").mkdir()

    def share() -> None:
        with shared_folder(tmp_path / "many"):
            pass

    assert strikes(tmp_path, share) > 30
