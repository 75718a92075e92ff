"""Many studies in one go: each by itself, its results kept and used again, and one table over all of them."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overbank import __version__
from overbank.commands.processes import Processes
from overbank.errors import FolderError, OverbankError
from overbank.files.folders import fresh_folder, replace_file, shared_folder
from overbank.files.owned import MARK, sha256
from overbank.files.sources import sources_sha256

if TYPE_CHECKING:
    import pandas as pd

STUDY = "study.toml"
TABLE = "studies"
"""Name of the table over all studies, as CSV and as Parquet."""

AN_ELEMENT = re.compile(rb"(?m)^\s*(\[\[\s*element\s*\]\]|element\s*=)")
"""What tells a study file from other TOML files."""


@dataclass(frozen=True)
class StudyRun:
    """One of many studies and what became of it.

    name : its folder, or its folder and file
    file, results : the study file, and the folder of its results
    state : "run", "unchanged" (its results are there already) or "failed"
    fault : what was wrong with a failed one, in one message
    seconds : that it took
    """

    name: str
    file: Path
    results: Path
    state: str = ""
    fault: str = ""
    seconds: float = 0.0


@dataclass(frozen=True)
class StudyRuns:
    """Many studies, sorted by name.

    folder : of all results and of the table over all studies
    """

    folder: Path
    runs: tuple[StudyRun, ...]

    @property
    def failed(self) -> tuple[StudyRun, ...]:
        """Those without results of their present file."""
        return tuple(each for each in self.runs if each.state == "failed")

    def table(self) -> pd.DataFrame:
        """The headline figures, one row a study; levels in m, probabilities and blockages from 0 to 1."""
        import pandas as pd

        found, faults = zip(*map(_read_back, self.runs), strict=True)
        names = [each.name for each in self.runs]
        return pd.DataFrame({"study": names}).join(pd.DataFrame(list(found))).assign(fault=faults)


def _read_back(run: StudyRun) -> tuple[dict[str, Any], str]:
    """The headline figures of a study, and what is wrong with it in one line."""
    from overbank.files.headlines import headlines

    if not run.fault:
        try:
            return headlines(run.results), ""
        except (OSError, ValueError) as error:
            return headlines(None), f"{run.results}: its summary cannot be read back ({error})"
    return headlines(None), " ".join(run.fault.split())


Tell = Callable[[StudyRun, int, int], None]


def _silent(_run: StudyRun, _done: int, _all: int) -> None:
    """Tell nobody."""


def run_studies(
    folder: str | Path, results: str | Path | None = None, executor: Executor | None = None, tell: Tell = _silent
) -> StudyRuns:
    """Run every study of a folder that has no up-to-date results yet; one that fails does not stop the others.

    The studies of a folder are every study.toml in the folders in it; where there is none, every other TOML file with
    an [[element]], and those of the folder itself. A study's results are up to date when its file, the files that it
    names and the version of overbank are those they were made with.

    Parameters
    ----------
    folder : of the studies
    results : folder for all results, one folder in it for each study; "results" in the folder if left out
    executor : does the runs, anything with the interface of `concurrent.futures.Executor`; it must see the same disk.
        One process for each core of this machine if left out
    tell : called with every study as it ends, how many have ended, and how many there are

    Returns
    -------
    StudyRuns, whose table is also in the results folder as studies.csv and studies.parquet.

    Raises
    ------
    FolderError : no study is there, two studies have the same name, or the results folder cannot be used

    Examples
    --------
    >>> runs = overbank.run_studies(folder / "studies")
    >>> runs.table()["fault"].tolist()
    ['']
    """
    home = Path(folder).absolute()
    with shared_folder(home / "results" if results is None else Path(results)) as kept:
        waiting = studies_in(home, kept)
        _refuse(home, waiting)
        _refuse_other_table(kept)
        ended: dict[str, StudyRun] = {}

        def end(run: StudyRun) -> None:
            ended[run.name] = run
            tell(run, len(ended), len(waiting))

        rest = [run for run in waiting if not _is_up_to_date(run)]
        for run in waiting:
            if run not in rest:
                end(replace(run, state="unchanged"))
        for run in _carried_out(rest, executor):
            end(run)
        found = StudyRuns(kept, tuple(ended[run.name] for run in waiting))
        _write_table(found)
    return found


def studies_in(folder: Path, results: Path) -> tuple[StudyRun, ...]:
    """The studies of a folder and of the folders in it but that of the results, sorted by name."""
    inner = (path for path in folder.glob("*/") if path.resolve() != results and not path.name.startswith("."))
    found = [
        StudyRun(name, file, results / name) for home in (folder, *inner) for name, file in _studies_of(home, folder)
    ]
    return tuple(sorted(found, key=lambda run: (run.name.casefold(), run.name, run.file)))


def _studies_of(home: Path, folder: Path) -> Iterator[tuple[str, Path]]:
    """The study files that lie in one folder, by their names."""
    parts = home.relative_to(folder).parts
    if parts and os.path.lexists(home / STUDY):  # what is no file is a study whose fault is told when its turn comes
        yield parts[0], home / STUDY
        return
    for file in home.glob("*.toml"):
        if file.is_file() and AN_ELEMENT.search(_bytes(file)):
            yield ".".join((*parts, file.stem)), file


def is_folder_of_studies(path: Path) -> bool:
    """Whether a path is a folder that holds studies, and not one study itself."""
    return path.is_dir() and not (path / STUDY).exists() and bool(studies_in(path, path / "results"))


def _refuse(folder: Path, found: tuple[StudyRun, ...]) -> None:
    """No study, or a name that two of them would share."""
    if not found:
        raise FolderError(
            f"{folder}: expected study files in it or in the folders in it; got none. "
            'Name a study, or begin one with "overbank new FOLDER"'
        )
    for run, after in pairwise(found):
        if run.name.casefold() == after.name.casefold():  # one folder, on disks that do not tell letters from capitals
            raise FolderError(
                f"{after.file}: expected a name of its own for every study; got {run.name!r} of {run.file} too. "
                "Rename the file or the folder of one"
            )


def _carried_out(waiting: list[StudyRun], executor: Executor | None) -> Iterator[StudyRun]:
    """Every study as it ends, whatever becomes of it."""
    if not waiting:
        return
    with _pool(executor, len(waiting)) as pool:
        futures = {pool.submit(run_one, run): run for run in waiting}
        try:
            for future in as_completed(futures):
                error, run = future.exception(), futures[future]
                yield future.result() if error is None else replace(run, state="failed", fault=_not_begun(run, error))
        finally:
            for future in futures:
                future.cancel()


def _not_begun(run: StudyRun, error: BaseException) -> str:
    """What kept a study from being carried out: a lost process, or one that the system refuses."""
    if not isinstance(error, OSError):
        return str(error)
    return (
        f"{run.file}: expected a process of its own to be run in; got {error.strerror or error}. Let a process have "
        "more files open (ulimit -n), or run it by itself"
    )


@contextmanager
def _pool(executor: Executor | None, most: int) -> Iterator[Executor]:
    """The user's own executor as it is, or processes that end with the block."""
    if executor is not None:
        yield executor
        return
    from overbank._jit import not_kept, threads

    with Processes(1 if not_kept() else min(threads(), most)) as processes:  # else every one of them would compile
        yield processes


def run_one(run: StudyRun) -> StudyRun:
    """One study on one core, wherever it is carried out; done again after a lost process, it costs nothing twice."""
    start = time.perf_counter()
    if _is_up_to_date(run):
        return replace(run, state="unchanged")
    from overbank._jit import on_cores
    from overbank.results import write_all
    from overbank.run import run as run_study
    from overbank.study.load import read_study

    try:
        study = read_study(run.file)
        with fresh_folder(run.results) as staging, on_cores(1):
            write_all(run_study(study), staging)
    except OverbankError as error:
        return replace(run, state="failed", fault=str(error))
    except MemoryError:
        return replace(run, state="failed", fault=f"{run.file}: needs more memory than there is. Take fewer samples")
    except Exception as error:
        words = f"{run.file}: unexpected {type(error).__name__}: {error}. Please report it with the study file"
        return replace(run, state="failed", fault=words)
    return replace(run, state="run", seconds=round(time.perf_counter() - start, 2))


def _is_up_to_date(run: StudyRun) -> bool:
    """Whether these sources made all results from the study file, and the files it names, as they are now."""
    try:
        manifest = json.loads((run.results / MARK).read_text(encoding="utf-8"))
        made_of = {run.file.name: manifest["study_sha256"], **manifest["named_files_sha256"]}
        return (
            manifest["written_by"] == f"overbank {__version__}"
            and manifest["sources_sha256"] == sources_sha256()
            and not manifest["limits"]
            and manifest["study_file"] == run.file.name
            and all(sha256(run.file.parent / name) == digest for name, digest in made_of.items())
            and all(sha256(run.results / name) == digest for name, digest in manifest["files_sha256"].items())
            and set(manifest["files"]) == {*manifest["files_sha256"], MARK}
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False


def _bytes(file: Path) -> bytes:
    """What a file holds; a file that cannot be read is a study whose fault is told when its turn comes."""
    try:
        return file.read_bytes()
    except OSError:
        return b"[[element]]"


def _refuse_other_table(kept: Path) -> None:
    """A table of somebody else's in the place of ours: ours begin with the same columns."""
    from pyarrow import ArrowException
    from pyarrow.parquet import read_schema

    csv, parquet = kept / f"{TABLE}.csv", kept / f"{TABLE}.parquet"
    other = csv.exists() and not _bytes(csv).startswith(b"study,title,place,")
    if parquet.exists() and not other:
        csv = parquet
        try:
            with parquet.open("rb") as opened:  # its name may be no text
                other = read_schema(opened).names[:3] != ["study", "title", "place"]
        except ArrowException:
            other = True
    if other:
        raise FolderError(
            f"{csv}: expected no such file, or the table of earlier runs; got another one, which would be lost. "
            "Move it, or choose another folder with --out"
        )


def _write_table(found: StudyRuns) -> None:
    from overbank.files.spreadsheets import write_csv

    table = found.table()
    replace_file(found.folder / f"{TABLE}.csv", lambda file: write_csv(table, file))
    replace_file(found.folder / f"{TABLE}.parquet", lambda file: _write_parquet(table, file))


def _write_parquet(table: pd.DataFrame, file: Path) -> None:
    with file.open("wb") as opened:  # its name may be no text
        table.to_parquet(opened, index=False)
