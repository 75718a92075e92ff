"""Ctrl-C is heard even where a compiled part of a library loses what is raised inside it."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time

import pytest

from overbank.commands.interrupt import Interrupt, StoppedError


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
