"""All results of a run in a folder, or as tables in memory."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from overbank.files import store
from overbank.files.folders import fresh_folder
from overbank.files.samples import sample_table
from overbank.files.store import write_manifest, write_tables
from overbank.outputs.outcome import Outcome
from overbank.report.page import write_report


def tables(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """The tables of a run by the names of their files: exceedance, overtopping, sensitivity, samples and so on.

    A table of something that the study does not ask for is missing, as is overtopping_by_blockage when no blockage is
    uncertain. Levels in m; probabilities and shares from 0 to 1.
    """
    samples = {} if outcome.samples is None else {"samples": sample_table(outcome)}
    return {**store.tables(outcome), **samples}


def write_results(outcome: Outcome, folder: str | Path) -> Path:
    """Write report, tables, samples and figures into a folder, which changes only when all of it is there.

    Parameters
    ----------
    outcome : of `run_study`
    folder : to be made, empty, or with earlier results in it, which are replaced

    Returns
    -------
    The report's path.

    Raises
    ------
    FolderError : the folder holds something else, is in use by another run, or cannot be written to
    """
    with fresh_folder(Path(folder)) as staging:
        write_all(outcome, staging)
    return Path(folder) / "report.html"


def write_all(outcome: Outcome, folder: Path, report: Callable[[str], None] = lambda _: None) -> None:
    """Write everything into an existing empty folder; `report` is called with a few words at every stage."""
    report("writing tables")
    write_tables(outcome, folder)
    report("drawing and writing the report")
    write_report(outcome, folder)
    write_manifest(outcome, folder)
