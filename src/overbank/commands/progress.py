"""The progress bar of a run, and the time that is left."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Container, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from rich.console import Console
from rich.markup import escape as without_markup
from rich.progress import BarColumn, ProgressColumn, SpinnerColumn, Task, TextColumn
from rich.progress import Progress as Bar
from rich.text import Text

from overbank import __version__
from overbank.commands.speaking import visible
from overbank.errors import FolderError
from overbank.files.owned import MARK

if TYPE_CHECKING:
    from overbank.study.load import Study

WRITING, WRITING_TAKES = "drawing and writing the report", 0.2
"""The last stage, of which no manifest tells, and how long it takes beside all others."""

ORDINARY: Mapping[str, float] = {
    "running every sample through the site": 1.0,
    "finding what puts each sample over the bank": 8.0,
    "changing one assumption at a time": 0.8,
    "ranking what drives the level": 13.5,
    "weighing what surveys would tell": 7.1,
    "making the usual design checks": 0.5,
    WRITING: 6.0,
}
"""How long the stages of a run take beside each other, where nobody has run this study before: a culvert with a screen
and a reach, measured."""

LEAST = 0.05
"""Before so much of a run is done, nobody knows how long the rest takes."""


class TimeLeft:
    """Seconds that a run will still take, by how quick its stages have been beside what was expected of them.

    Parameters
    ----------
    expected : how long each stage takes beside the others, in the order in which they come
    clock : tells the time [s]
    """

    def __init__(self, expected: Mapping[str, float], clock: Callable[[], float] = time.monotonic) -> None:
        self._expected, self._clock = dict(expected), clock
        self._began = self._since = clock()
        self._now, self._done = "", 0.0
        self._passed: set[str] = set()

    def begin(self, stage: str) -> None:
        """The stage before has ended."""
        self._done += 0.0 if self._now in self._passed else self._expected.get(self._now, 0.0)
        self._passed.add(self._now)
        self._now, self._since = stage, self._clock()

    @property
    def share(self) -> float:
        """Of the whole that is done; stages that came in another order may never come."""
        whole = sum(self._expected.values())
        return self._done / whole if whole else 0.0

    def seconds(self) -> float | None:
        """None before enough is known."""
        if self.share < LEAST:
            return None
        whole = (self._since - self._began) / self.share
        return max(0.0, whole - (self._clock() - self._began))


def expected_of(results: Path, stages: Container[str]) -> Mapping[str, float]:
    """How long each of some stages took when the results in a folder were made, or else ordinarily takes."""
    try:
        taken = json.loads((results / MARK).read_text(encoding="utf-8"))["seconds"]
        found = {str(stage): float(seconds) for stage, seconds in taken.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        found = {}
    known = {**found, WRITING: WRITING_TAKES * sum(found.values())} if found else ORDINARY
    return {stage: seconds for stage, seconds in known.items() if stage in stages}


class _LeftColumn(ProgressColumn):
    """The time that is left, in words."""

    def render(self, task: Task) -> Text:
        seconds = task.fields["left"].seconds()
        return Text("" if seconds is None else in_words(seconds))


def in_words(seconds: float) -> str:
    """Time left, no finer than it is known."""
    if seconds < 10.0:
        return "a few seconds left"
    if seconds < 90.0:
        return f"about {round(seconds, -1):.0f} s left"
    return f"about {seconds / 60.0:.0f} min left"


@contextmanager
def logged(log: Path | None, study: Study, results: Path) -> Iterator[Callable[[str], None]]:
    """Adds a line with its time to a file whenever something is told, and says how the block ended.

    Raises
    ------
    FolderError : the file cannot be written to
    """
    if log is None:
        yield lambda _: None
        return

    def note(words: str) -> None:
        try:
            with log.open("a", encoding="utf-8", newline="\n") as file:
                file.write(f"{datetime.now(UTC).isoformat(timespec='seconds')} {visible(words)}\n")
        except OSError as error:
            raise FolderError(
                f"{log}: expected a file that can be written to; got {error.strerror}. Give --log another name"
            ) from error

    note(f"overbank {__version__}: {study.path}, SHA-256 {study.sha256}, into {results}")
    try:
        yield note
    except BaseException as error:
        note(f"ended without results: {type(error).__name__} {error}")
        raise
    note("ended, results written")


class Progress:
    """A progress bar over the stages of a run; where no terminal shows it, a line for each stage."""

    def __init__(self, expected: Mapping[str, float]) -> None:
        self._console = Console(stderr=True)
        self._left = TimeLeft(expected)
        self._bar = Bar(
            SpinnerColumn(),
            BarColumn(bar_width=30),
            TextColumn("{task.description}"),
            _LeftColumn(),
            console=self._console,
            transient=True,
            disable=not self._console.is_terminal,
        )
        self._task = self._bar.add_task("reading the study", total=1.0, left=self._left)

    def stage(self, words: str) -> None:
        """Say what begins now."""
        self._left.begin(words)
        said = without_markup(visible(words))
        self._bar.update(self._task, completed=self._left.share, description=said)
        if not self._console.is_terminal:
            self._console.print(f"{said} ...", highlight=False)

    def __enter__(self) -> Self:
        self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._bar.stop()
