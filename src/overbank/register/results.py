"""A whole register run, and written into a folder, which changes only when all of it is there."""

from __future__ import annotations

import json
import platform
import shutil
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import pandas as pd
import tomli_w

from overbank import __version__
from overbank.errors import DomainError, StudyError
from overbank.files.folders import fresh_folder
from overbank.files.owned import MARK, listing
from overbank.files.sources import sources_sha256
from overbank.files.spreadsheets import write_csv
from overbank.register.defaults import Defaults, read_defaults
from overbank.register.outcome import Whole, whole_of
from overbank.register.page import content_of, fault_rows
from overbank.register.parts import Tell, digest_of, run_parts, tasks_of
from overbank.register.rows import cell_faults, document_of, study_of, values_of
from overbank.register.table import CellFault, Register, read_register
from overbank.register.visits import Screens, screens_of
from overbank.report.structures import FILE, structures_page
from overbank.study.reading.refusals import nearest

DEFAULTS = "defaults.toml"
"""Beside the table, unless another is named."""


def read_both(table: Path, defaults: Path | None) -> tuple[Register, Defaults]:
    """The table, and what stands beside it.

    Raises
    ------
    StudyError : one of them cannot be read
    """
    beside = table.parent / DEFAULTS
    named = defaults or (beside if beside.is_file() else None)
    found = Defaults() if named is None else read_defaults(named)
    return read_register(table, found), found


def run_register(
    register: Register, defaults: Defaults, out: Path, executor: Executor, workers: int, tell: Tell
) -> Whole:
    """Compute every structure, or go on with a run that was killed, and write the results.

    Parameters
    ----------
    executor : computes the parts: processes of this machine, or the executor of a cluster
    workers : how many parts it computes at a time
    tell : called with how many structures are done, and of how many

    Raises
    ------
    StudyError : the visits have faults
    DomainError : no row is left
    FolderError : the folder cannot be written to
    """
    screens = screens_of(register, defaults)
    parts = out.parent / f".{out.name}.parts"
    tasks = tasks_of(register, defaults, screens.blockages)
    digest = digest_of(register, defaults, screens.blockages)
    with fresh_folder(out) as staging:
        whole = whole_of(register, defaults, run_parts(tasks, digest, parts, executor, workers, tell))
        _write(whole, screens, defaults, register, staging)
    shutil.rmtree(parts, ignore_errors=True)
    return whole


def _write(whole: Whole, screens: Screens, defaults: Defaults, register: Register, folder: Path) -> None:
    write_csv(whole.table, folder / "register.csv")
    whole.table.to_parquet(folder / "register.parquet", index=False)
    if whole.faults:
        write_csv(pd.DataFrame(fault_rows(whole)), folder / "faults.csv")
    if len(screens.table):
        write_csv(screens.table, folder / "screens.csv")
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


def check_register(register: Register, defaults: Defaults) -> list[CellFault]:
    """Read every row as a study, without running any; all faults, in the order of the lines."""
    screens = screens_of(register, defaults)
    faults = list(register.faults)
    for entry in register.entries:
        try:
            study_of(entry, values_of(entry, defaults, screens.blockages.get(entry.id)), defaults, register.path.parent)
        except (StudyError, DomainError) as error:
            faults += cell_faults(entry, error, register)
    return sorted(faults, key=lambda each: each.line)


def study_text(register: Register, defaults: Defaults, name: str) -> str:
    """The study file of one row, as text, to be run by itself.

    Raises
    ------
    DomainError : no row that can be used has that id
    StudyError : the row has faults
    """
    entry = next((each for each in register.entries if each.id == name), None)
    if entry is None:
        near = nearest(name, tuple(each.id for each in register.entries))
        remedy = f"Did you mean {near}?" if near else "Check the table."
        raise DomainError(f"{register.path}: expected the id of a row that can be used; got {name!r}. {remedy}")
    values = values_of(entry, defaults, screens_of(register, defaults).blockages.get(name))
    study_of(entry, values, defaults, register.path.parent)
    document: dict[str, Any] = document_of(entry, values, defaults)
    head = f"# Made from line {entry.line} of {register.path.name}; what it leaves out is as its defaults say.\n\n"
    return head + tomli_w.dumps(document)
