"""An outcome as files: the headline figures, the curves, the samples, and what is needed to run it again."""

from __future__ import annotations

import json
import platform
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from itertools import chain
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
from pyarrow.parquet import ParquetWriter

from overbank import __version__
from overbank._jit import threads
from overbank.files.owned import MARK, listing
from overbank.files.samples import sample_tables
from overbank.files.sources import sources_sha256
from overbank.files.spreadsheets import write_csv
from overbank.outputs.outcome import Outcome
from overbank.outputs.output import Output
from overbank.outputs.registry import OUTPUTS, output
from overbank.study.load import given_words

PACKAGES = ("numpy", "scipy", "pandas", "SALib", "chaospy", "numba", "matplotlib", "pydantic", "pyarrow")

SCHEMA = 1
"""Of summary.json and manifest.json; files without one are from before it was written, and have the same keys."""


def write_tables(outcome: Outcome, folder: Path) -> None:
    """Write summary.json, the CSV tables and samples.parquet into an existing folder."""
    _write_json(folder / "summary.json", summary(outcome))
    for name, table in tables(outcome).items():
        write_csv(table, folder / f"{name}.csv")
    if outcome.samples is not None:
        _write_samples(outcome, folder / "samples.parquet")


def _write_samples(outcome: Outcome, file: Path) -> None:
    """A group of rows at a time, so that a table of all of them is never held."""
    groups = (pa.Table.from_pandas(table, preserve_index=False) for table in sample_tables(outcome))
    first = next(groups)
    with file.open("wb") as opened, ParquetWriter(opened, first.schema) as writer:  # its name may be no text
        for group in chain((first,), groups):
            writer.write_table(group)


def write_manifest(outcome: Outcome, folder: Path) -> None:
    """Write manifest.json, last of all: it lists the files of the folder, and what they hold."""
    _write_json(folder / MARK, {**manifest(outcome), **listing(folder)})


def summary(outcome: Outcome) -> dict[str, Any]:
    """Headline figures, each with its 95 % interval and its method; only of what was found."""
    figures: dict[str, Any] = {
        "schema": SCHEMA,
        "title": outcome.study.title,
        "place": outcome.place,
        "target_probability": outcome.target,
        "assurance": outcome.assurance,
    }
    for each, result in _found(outcome):
        figures |= each.summary(result)
    figures["uncertain_numbers_without_basis"] = list(outcome.problem.gaps())
    figures["numbers_that_look_wrong"] = list(outcome.slips)
    figures["model_runs"] = outcome.runs
    if outcome.limits:
        figures["limits"] = list(outcome.limits)
    return figures


def tables(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """Every table but the samples, by the name of its file."""
    found = chain.from_iterable(each.tables(result).items() for each, result in _found(outcome))
    return {name: table for name, table in found if table is not None}


def _found(outcome: Outcome) -> Iterator[tuple[Output[Any], Any]]:
    """Every output that is there, with its result."""
    for name in OUTPUTS:
        if (result := getattr(outcome, name)) is not None:
            yield output(name), result


def manifest(outcome: Outcome) -> dict[str, Any]:
    """What is needed to run the study again and to check that it is the same."""
    settings = outcome.study.content.run
    return {
        "schema": SCHEMA,
        "written_by": f"overbank {__version__}",
        "sources_sha256": sources_sha256(),
        "limits": list(outcome.limits),
        "python": platform.python_version(),
        "packages": {name: version(name) for name in PACKAGES},
        "machine": platform.machine(),
        "threads": threads(),
        "study_file": outcome.study.path.name,
        "study_sha256": outcome.study.sha256,
        "named_files_sha256": outcome.study.files,
        "samples": settings.samples,
        "replicates": settings.replicates,
        "design": settings.design,
        "seed": settings.seed,
        "model_runs": outcome.runs,
        "seconds": {stage: round(seconds, 2) for stage, seconds in outcome.seconds.items()},
        "inputs": {item.name: item.distribution.words for item in outcome.problem.inputs.items},
        "fixed": dict(outcome.problem.fixed),
        "given": {name: given_words(value) for name, value in sorted(outcome.study.given.items())},
        "study": outcome.study.text,
    }


def _write_json(path: Path, content: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
