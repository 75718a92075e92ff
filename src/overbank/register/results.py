"""A whole register run, and written into a folder, which changes only when all of it is there."""

from __future__ import annotations

import json
import platform
import shutil
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path

import pandas as pd

from overbank import __version__
from overbank.files.folders import fresh_folder
from overbank.files.owned import MARK, listing
from overbank.files.sources import sources_sha256
from overbank.files.spreadsheets import write_csv
from overbank.register.defaults import Defaults
from overbank.register.outcome import Whole, whole_of
from overbank.register.page import content_of, fault_rows
from overbank.register.parts import Tell, digest_of, run_parts, tasks_of
from overbank.register.table import Register
from overbank.register.visits import Screens, screens_of
from overbank.report.structures import FILE, structures_page


@contextmanager
def register_folder(out: Path) -> Iterator[tuple[Path, Path]]:
    """Where results are written and where parts are kept: the first takes the place of `out` when the block ends well.

    Raises
    ------
    FolderError : the folder cannot be written to
    """
    parts = out.parent / f".{out.name}.parts"
    with fresh_folder(out) as staging:
        yield staging, parts
    shutil.rmtree(parts, ignore_errors=True)


def run_register(
    register: Register, defaults: Defaults, places: tuple[Path, Path], executor: Executor, workers: int, tell: Tell
) -> Whole:
    """Compute every structure, or go on with a run that was killed, and write the results.

    Parameters
    ----------
    places : as `register_folder` gives them
    executor : computes the parts: processes of this machine, or the executor of a cluster
    workers : how many parts it computes at a time
    tell : called with how many structures are done, and of how many

    Raises
    ------
    StudyError : the visits have faults
    DomainError : no row is left
    """
    staging, parts = places
    screens = screens_of(register, defaults)
    tasks = tasks_of(register, defaults, screens.blockages)
    digest = digest_of(register, defaults, screens.blockages)
    whole = whole_of(register, defaults, run_parts(tasks, digest, parts, executor, workers, tell))
    _write(whole, screens, defaults, register, staging)
    return whole


def _write(whole: Whole, screens: Screens, defaults: Defaults, register: Register, folder: Path) -> None:
    write_csv(whole.table, folder / "register.csv")
    whole.table.to_parquet(folder / "register.parquet", index=False)
    if whole.faults:
        write_csv(pd.DataFrame(fault_rows(whole)), folder / "faults.csv")
    if screens.table:
        write_csv(pd.DataFrame(screens.table), folder / "screens.csv")
    page = structures_page(content_of(whole, screens, defaults), whole.table, folder)
    (folder / FILE).write_text(page, encoding="utf-8", newline="\n")
    told = {
        "written_by": f"overbank {__version__}",
        "sources_sha256": sources_sha256(),
        "python": platform.python_version(),
        "table": register.path.name,
        "table_sha256": register.sha256,
        **{"rows": whole.rows, "set_aside": whole.aside},
        "run": dict(defaults.run),
    }
    text = json.dumps({**told, **listing(folder)}, indent=2, ensure_ascii=False)
    (folder / MARK).write_text(f"{text}\n", encoding="utf-8", newline="\n")
