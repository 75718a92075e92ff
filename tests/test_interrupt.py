"""Ctrl-C is heard even where a compiled part of a library loses what is raised inside it."""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from overbank.commands import cli
from overbank.commands.interrupt import AGAIN, Interrupt, StoppedError
from overbank.commands.register import register
from overbank.files.owned import MARK
from overbank.register import results
from overbank.report import word
from registers import written


def lose_one() -> None:
    """Press Ctrl-C inside a function called from C, which prints the error, forgets it and goes on."""

    @ctypes.CFUNCTYPE(None)
    def inside() -> None:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)

    inside()


def lose_and_wait() -> None:
    with Interrupt(), Interrupt(innermost=True):
        lose_one()
        end = time.monotonic() + 10.0
        while time.monotonic() < end:
            time.sleep(0.01)


def press() -> None:
    with Interrupt():
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(10.0)


def test_one_that_was_lost_is_raised_again_and_leaves_no_trace(capfd: pytest.CaptureFixture[str]) -> None:
    hooks = signal.getsignal(signal.SIGINT), sys.excepthook, sys.unraisablehook
    start = time.monotonic()
    with pytest.raises(StoppedError):
        lose_and_wait()
    assert time.monotonic() - start < 5.0
    assert signal.getitimer(signal.ITIMER_REAL)[0] == 0.0
    assert (signal.getsignal(signal.SIGINT), sys.excepthook, sys.unraisablehook) == hooks
    assert capfd.readouterr() == ("", "")


def test_it_is_raised_at_once_where_it_is_not_lost() -> None:
    start = time.monotonic()
    with pytest.raises(StoppedError):
        press()
    assert time.monotonic() - start < 5.0


def test_where_it_is_ignored_it_stays_ignored() -> None:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with Interrupt(innermost=True):
            os.kill(os.getpid(), signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def stopped_while(folder: Path, monkeypatch: pytest.MonkeyPatch, clears: str, command: Callable[[], object]) -> None:
    """A command is stopped, and clears away so slowly that the stop is told again meanwhile if it ever is."""
    true = getattr(shutil if clears == "rmtree" else Path, clears)

    def slow(*told: Any, **more: Any) -> None:
        time.sleep(2.5 * AGAIN)
        true(*told, **more)

    monkeypatch.setattr(shutil if clears == "rmtree" else Path, clears, slow)
    with pytest.raises(StoppedError), Interrupt():
        command()
    monkeypatch.undo()
    assert [path.name for path in folder.iterdir() if path.name.startswith(".") and path.suffix != ".parts"] == []


def stop(*_told: object) -> None:
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(10.0)


def test_a_stop_that_is_told_again_leaves_no_lock_of_a_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    (folder / MARK).write_text(json.dumps({"written_by": "overbank 0", "files": [MARK]}), encoding="utf-8")
    monkeypatch.setattr(word, "write_docx", stop)
    stopped_while(tmp_path, monkeypatch, "unlink", lambda: cli.report(folder, docx=True))


def test_a_stop_that_is_told_again_leaves_no_folder_of_a_register(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = written(tmp_path)
    monkeypatch.setattr(results, "run_parts", stop)
    stopped_while(tmp_path, monkeypatch, "rmtree", lambda: register(file, None, None, False, None))
