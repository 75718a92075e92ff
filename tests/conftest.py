"""Settings of all tests: on CI the random examples are the same on every run, so that a green commit stays green."""

from __future__ import annotations

import os
import signal

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")


def pytest_configure() -> None:
    """Hear Ctrl-C as from a terminal also where the tests run in the background of a shell, which ignores it."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
