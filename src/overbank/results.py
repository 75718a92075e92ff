"""All results of a run in a folder, or as tables in memory."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import product
from pathlib import Path
from typing import Any

import pandas as pd

from overbank.files import store
from overbank.files.folders import fresh_folder
from overbank.files.headlines import in_a_row
from overbank.files.samples import sample_table
from overbank.files.store import write_manifest, write_tables
from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import HEADLINES
from overbank.report.page import write_report
from overbank.run import run
from overbank.sampling.run import Report, silent
from overbank.study.load import Study


def tables(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """The tables of a run by the names of their files: exceedance, overtopping, sensitivity, samples and so on.

    A table of something that the study does not ask for is missing, as is overtopping_by_blockage when no blockage is
    uncertain. Levels in m; probabilities and shares from 0 to 1.

    Examples
    --------
    >>> overbank.tables(outcome)["exceedance"].columns[:2].tolist()
    ['level_m', 'probability']
    """
    samples = {} if outcome.samples is None else {"samples": sample_table(outcome)}
    return {**store.tables(outcome), **samples}


def sweep_study(
    study: Study, values: Mapping[str, Iterable[Any]], *, quick: bool = False, report: Report = silent
) -> pd.DataFrame:
    """The headline answers of a study for every combination of some values of its keys, on the same random numbers.

    Parameters
    ----------
    values : by dotted names, as `Study.with_values` takes them
    quick : with few samples, for a first look

    Returns
    -------
    A row a combination: a column for each key, then the headline figures with their intervals; levels in m,
    probabilities and blockages from 0 to 1.

    Examples
    --------
    >>> few = study.with_samples(64)
    >>> swept = overbank.sweep_study(few, {"lane.screen.width_m": [3.0, 5.0]})
    >>> bool(swept["medians_level_m"].is_monotonic_decreasing)
    True
    """
    names, rows = tuple(values), []
    for each in product(*values.values()):
        changed = dict(zip(names, each, strict=True))
        report(", ".join(f"{name} = {value}" for name, value in changed.items()))
        outcome = run(study.with_values(changed), only=HEADLINES, quick=quick)
        rows.append({**changed, **in_a_row(store.summary(outcome))})
    return pd.DataFrame(rows).dropna(axis="columns", how="all")


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

    Examples
    --------
    >>> overbank.write_results(outcome, folder / "results").name
    'report.html'
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
