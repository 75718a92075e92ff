"""Commands in a page are carried out while it is built, so that what it shows is what happens.

Pages have their commands carried out side by side, those of one page in their order. A process carries out many
commands, each through the entry point of the program: fetching it anew for each would take longer than most of them.
"""

from __future__ import annotations

import atexit
import hashlib
import io
import multiprocessing
import os
import re
import runpy
import shutil
import sys
import tempfile
from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from typing import NamedTuple

from overbank._jit import threads

ROOT = Path(__file__).parents[2]
MARK = re.compile(r"<!-- (command|edit|snippet): (.*?) -->")
WIDTH = "88"

FIRST = "tutorial.md"
"""The page whose results other pages go on with, and whose figures are shown."""

GO_ON = ("reviewers.md",)
"""Pages whose commands are carried out after those of the first page and in its folder."""

Marks = tuple[tuple[str, str], ...]
"""What stands in a page between its words: the kind of each mark and what it says."""


class Done(NamedTuple):
    """What came of the marks of some pages: the folder they were carried out in, and what stands in their place."""

    folder: Path
    texts: list[str]


def marks_of(markdown: str) -> Marks:
    """The marks of a page, in their order."""
    return tuple((kind, words) for kind, words in MARK.findall(markdown))


def carried_out(pages: Mapping[str, str]) -> dict[str, Done]:
    """Carry out the marks of all pages, given by name; what came of them before, where nothing has changed since."""
    marks = {name: marks_of(markdown) for name, markdown in pages.items()}
    together = {FIRST: (FIRST, *GO_ON), **{name: (name,) for name in marks if name not in (FIRST, *GO_ON)}}
    found = _done(tuple(sum((marks[name] for name in names), ()) for names in together.values()), _sources())
    done: dict[str, Done] = {}
    for names, (folder, texts) in zip(together.values(), found, strict=True):
        rest = iter(texts)
        done |= {name: Done(folder, [next(rest) for _ in marks[name]]) for name in names}
    return done


def _sources() -> str:
    """A digest of the studies and the snippets."""
    digest = hashlib.sha256()
    for folder, files in ((ROOT / "studies", "*.toml"), (ROOT / "docs" / "snippets", "*.*")):
        for path in sorted(folder.rglob(files)):
            digest.update(path.read_bytes())
    return digest.hexdigest()


@cache
def _done(together: tuple[Marks, ...], _sources: str) -> list[Done]:
    spawn = multiprocessing.get_context("spawn")  # a fork would share the threads of the build
    if (own := str(ROOT / "docs")) not in sys.path:  # mkdocs takes it off again after it has read hooks.py
        sys.path.append(own)  # a new process finds this module by it
    with ProcessPoolExecutor(threads(), spawn) as processes:
        found = list(processes.map(_carry_out, together))
    for done in found:
        atexit.register(shutil.rmtree, done.folder)
    return found


def _carry_out(marks: Marks) -> Done:
    """The marks of some pages, in a new folder that holds the studies and the snippets."""
    folder = Path(tempfile.mkdtemp(prefix="overbank-docs-"))
    shutil.copytree(ROOT / "studies", folder / "studies", ignore=shutil.ignore_patterns("results"))
    shutil.copytree(ROOT / "docs" / "snippets", folder / "docs" / "snippets")
    os.chdir(folder)
    os.environ.update(COLUMNS=WIDTH, NO_COLOR="1")
    ways: dict[str, Callable[[str], str]] = {"command": _shown, "edit": _edited, "snippet": _quoted}
    return Done(folder, [ways[kind](words).replace(f"{folder}/", "") for kind, words in marks])


def replaced(markdown: str, texts: list[str]) -> str:
    """The page with what came of its marks in their place."""
    rest = iter(texts)
    return MARK.sub(lambda _: next(rest), markdown)


LANGUAGES = {".py": "python", ".toml": "toml", ".csv": "text"}


def _quoted(snippet: str) -> str:
    """A file of the snippets, or as many of its first lines as the mark says."""
    name, _, lines = snippet.partition(" | ")
    file = ROOT / "docs" / "snippets" / name
    shown = file.read_text(encoding="utf-8").rstrip().splitlines()[: int(lines) if lines else None]
    return f"```{LANGUAGES[file.suffix]}\n" + "\n".join(shown) + "\n```"


def _shown(command: str) -> str:
    """A command as a reader types it, and what it prints; of one that fails, standard error too."""
    printed, told = io.StringIO(), io.StringIO()
    with redirect_stdout(printed), redirect_stderr(told):
        status = _run(*command.split())
    said = printed.getvalue() if status == 0 else printed.getvalue() + told.getvalue()
    if not said.strip():
        raise RuntimeError(f"`{command}` said nothing but {told.getvalue()!r}")
    return f"```sh\n{command}\n```\n\n```text\n{said.rstrip()}\n```"


def _run(program: str, *words: str) -> int:
    """Exit status of a command."""
    from overbank.commands import cli

    try:
        if program == "overbank":
            sys.argv = [program, *words]
            cli.main()
        else:
            sys.argv = list(words)
            runpy.run_path(words[0], run_name="__main__")
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def _edited(change: str) -> str:
    file, old, new = change.split(" | ")
    path = Path(file)
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise RuntimeError(f"{old!r} stands {text.count(old)} times in {file}")
    path.write_text(text.replace(old, new), encoding="utf-8")
    return ""
