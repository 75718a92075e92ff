"""Settings of all tests: on CI the random examples are the same on every run, so that a green commit stays green."""

from __future__ import annotations

import os
import signal
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

from shared import FOLDER

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")


def pytest_configure(config: pytest.Config) -> None:
    """Hear Ctrl-C as from a terminal also where the tests run in the background of a shell, which ignores it.

    Makes the folder of shared runs, once for all workers, and removes it at the end.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if FOLDER not in os.environ:
        folder = TemporaryDirectory(prefix="overbank-tests-")
        os.environ[FOLDER] = folder.name
        config.add_cleanup(folder.cleanup)
