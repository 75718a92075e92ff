"""Settings of all tests: on CI the random examples are the same on every run, so that a green commit stays green."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

from overbank._jit import is_compiled
from shared import FOLDER

STUDIES = Path(__file__).parents[1] / "studies"
COMPILING = (("quillet-lane",), ("twin-arches/square.toml", "straight-or-diagonal/straight.toml"))
"""Studies that use most of the compiled formulas, in two halves that take about as long."""

RUN = """
import sys
from overbank.run import run
from overbank.study.load import read_study
for folder in sys.argv[1:]:
    run(read_study(folder), only=("medians", "headwater"), quick=True)
"""

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


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes() -> None:
    """Compile the formulas once, a half on each core, before the workers start: each of them would compile them all."""
    if not is_compiled():
        halves = [[str(STUDIES / name) for name in names] for names in COMPILING]
        for each in [subprocess.Popen([sys.executable, "-c", RUN, *half]) for half in halves]:
            each.wait()
