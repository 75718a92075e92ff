"""Commands in a page are run while it is built, so that what it shows is what happens."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
MARK = re.compile(r"<!-- (command|edit|snippet): (.*?) -->")
WIDTH = "88"


@cache
def workplace() -> Path:
    """An empty folder in which the commands of the pages are run; it holds the studies and the snippets."""
    folder = Path(tempfile.mkdtemp(prefix="overbank-docs-"))
    shutil.copytree(ROOT / "studies", folder / "studies", ignore=shutil.ignore_patterns("results"))
    shutil.copytree(ROOT / "docs" / "snippets", folder / "docs" / "snippets")
    return folder


def replaced(markdown: str, name: str) -> str:
    """The page with its snippets shown and its commands run, in their order."""
    ways = {"command": _shown, "edit": _edited, "snippet": _quoted}
    return MARK.sub(lambda mark: ways[mark[1]](mark[2], name), markdown)


LANGUAGES = {".py": "python", ".toml": "toml", ".csv": "text"}


def _quoted(snippet: str, _name: str) -> str:
    """A file of the snippets, or as many of its first lines as the mark says."""
    name, _, lines = snippet.partition(" | ")
    file = ROOT / "docs" / "snippets" / name
    shown = file.read_text(encoding="utf-8").rstrip().splitlines()[: int(lines) if lines else None]
    return f"```{LANGUAGES[file.suffix]}\n" + "\n".join(shown) + "\n```"


def _shown(command: str, name: str) -> str:
    """A command as a reader types it, and what it prints; of one that fails, standard error too."""
    done = run(command)
    said = done.stdout if done.returncode == 0 else f"{done.stdout}{done.stderr}"
    if "Traceback" in done.stderr or not said.strip():
        raise RuntimeError(f"{name}: `{command}` said {done.stdout}{done.stderr}")
    said = said.replace(f"{workplace()}/", "")
    return f"```sh\n{command}\n```\n\n```text\n{said.rstrip()}\n```"


def run(command: str) -> subprocess.CompletedProcess[str]:
    """Run a command of a page, once for the studies as they stand; `overbank` and `python` are this environment's."""
    return _run(command, "" if command.startswith("overbank new") else _state())


def _state() -> str:
    """A digest of the studies in the workplace, which edits change."""
    digest = hashlib.sha256()
    for path in sorted(workplace().rglob("*.toml")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


@cache
def _run(command: str, _studies: str) -> subprocess.CompletedProcess[str]:
    program, *words = command.split()
    known = {"overbank": [sys.executable, "-m", "overbank.cli"], "python": [sys.executable]}
    environment = {**os.environ, "COLUMNS": WIDTH, "NO_COLOR": "1"}
    return subprocess.run(
        [*known[program], *words], cwd=workplace(), env=environment, capture_output=True, text=True, check=False
    )


def _edited(change: str, name: str) -> str:
    file, old, new = change.split(" | ")
    path = workplace() / file
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise RuntimeError(f"{name}: {old!r} stands {text.count(old)} times in {file}")
    path.write_text(text.replace(old, new), encoding="utf-8")
    return ""
