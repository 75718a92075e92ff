"""What every trial of a command looks at: it ends, in words, and its folders hold one version of the results, whole."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from overbank.files.owned import MARK, sha256

COMMAND = (sys.executable, "-m", "overbank.commands.cli")

PATIENCE = 100
"""A command hangs that has not ended after so long [s]; the longest here takes some ten."""

LOST = re.compile(r"Traceback|Error:|Exception|Warning|ignored in", re.IGNORECASE)
"""What stands in the words of a program that lost its way."""


class Ended(NamedTuple):
    """A command that has ended: status, standard output, standard error."""

    status: int
    out: str
    err: str

    @property
    def told(self) -> str:
        """What was said of a fault: the last line on standard error."""
        return (self.err.rstrip().splitlines() or [""])[-1]


def ended(*words: str | Path, settings: Mapping[str, str | None] | None = None, **more: Any) -> Ended:
    """The installed command in a process of its own; a setting that is None is taken out of its environment."""
    environment = {**os.environ, **(settings or {})}
    known = {name: value for name, value in environment.items() if value is not None}
    given = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more}
    with subprocess.Popen([*COMMAND, *map(str, words)], env=known, **given) as process:
        try:
            out, err = process.communicate(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            raise AssertionError(f"no end within {PATIENCE} s: {' '.join(map(str, words))}") from None
    return Ended(process.returncode, *((part or b"").decode("utf-8", "replace") for part in (out, err)))


def in_words(found: Ended) -> None:
    """That a command ended as it may: well, or with words and none of a program that lost its way."""
    assert found.status in (0, 1, 2) or found.status > 128, found
    assert not LOST.search(found.err), found.err
    assert found.status == 0 or found.told, "a fault without words"


def whole(results: Path) -> bool:
    """Whether a folder holds all that its manifest lists, as it was written, and nothing else."""
    told = json.loads((results / MARK).read_text(encoding="utf-8"))
    files = {path.relative_to(results).as_posix() for path in results.rglob("*") if path.is_file()}
    sums = told["files_sha256"]
    return files == set(told["files"]) and all(sha256(results / name) == digest for name, digest in sums.items())


def left_lying(folder: Path) -> list[str]:
    """Hidden files and folders: what a command makes on its way and must clear away."""
    return sorted(path.name for path in folder.iterdir() if path.name.startswith("."))
