"""What tests share: a run, or a page of it, is made once in a session, whichever worker asks for it first."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from filelock import FileLock

from overbank.files.sources import sources_sha256
from overbank.outputs.outcome import Outcome
from overbank.run import run
from overbank.study.load import Study

FOLDER = "OVERBANK_TESTS_SHARED"
"""The folder of this session's runs, made by `conftest.py`; the workers of the session inherit it."""


T = TypeVar("T")


def shared_run(study: Study, only: tuple[str, ...] | None = None) -> Outcome:
    """What `overbank.run_study` gives. Each caller gets a copy of its own, so that no test can spoil another's.

    Not for a test that changes the program while it runs, nor for a study that Python changes.
    """
    assert not study.given, "a distribution of Python has no text to know it by"
    asked = (study.text, study.content, study.alternatives, study.files, only)
    found = shared(asked, lambda: run(study, only=only))
    return replace(found, study=replace(found.study, path=study.path, folder=study.folder))


def shared(asked: object, make: Callable[[], T]) -> T:
    """What `make` gives for what is asked, told by its `repr`. Each caller gets a copy of its own."""
    name = hashlib.sha256(repr((asked, sources_sha256())).encode()).hexdigest()
    file = Path(os.environ[FOLDER]) / name
    with FileLock(file.with_suffix(".lock")):
        if not file.exists():
            file.write_bytes(pickle.dumps(make()))
        found: T = pickle.loads(file.read_bytes())
    return found
