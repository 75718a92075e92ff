"""The samples of a run as tables: their numbers, and what the site made of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.sampling.batches import batches
from overbank.site.row import SiteOutcome

ROWS = 2**16
"""Rows of a table at the most."""


def sample_table(outcome: Outcome) -> pd.DataFrame:
    """All tables of `sample_tables` as one."""
    return pd.concat(sample_tables(outcome), ignore_index=True)


def sample_tables(outcome: Outcome) -> Iterator[pd.DataFrame]:
    """One row a sample, a table at a time: its inputs, then level, depth over the bank and what governs at every
    structure.

    The samples held in full come first, replicate after replicate. Of the others the run has kept little more than
    their levels, so the site is run again on them, a batch at a time.

    Where floods were seen, the last column is the weight that they give to a sample held in full; the weights sum to
    1, and the other samples have none (nan).
    """
    values = outcome.samples.values
    replicates, held, inputs = values.shape
    rows, of_row = values.reshape(-1, inputs), np.repeat(np.arange(replicates), held)
    taught = None if outcome.learnt is None else outcome.learnt.taught
    for start in range(0, len(rows), ROWS):
        part = slice(start, start + ROWS)
        table = _table(outcome, rows[part], outcome.samples.site, part, of_row[part])
        yield table if taught is None else table.assign(weight=taught.weights.ravel()[part])
    if held == outcome.samples.levels.shape[1]:
        return
    model = Model(outcome.problem)
    for batch in batches(model, outcome.study.content.run, outcome.samples.columns):
        if batch.start >= held:
            of_row = np.repeat(np.arange(replicates), batch.shape[1])
            table = _table(outcome, batch.rows, model.march(batch.rows), slice(None), of_row)
            yield table if taught is None else table.assign(weight=np.nan)


def _table(
    outcome: Outcome, rows: NDArray[np.float64], site: SiteOutcome, part: slice, replicate: NDArray[np.intp]
) -> pd.DataFrame:
    """Of the numbers in `rows` and of a part of what the site made of the samples."""
    columns = {"replicate": replicate} | dict(zip(outcome.problem.inputs.names, rows.T, strict=True))
    columns["tailwater.level_m"] = np.asarray(site.tailwater)[part]
    for element in site.elements:
        columns[f"{element.id}.level_m"] = element.level[part]
        if element.bank_level is not None:
            columns[f"{element.id}.depth_over_bank_m"] = element.level[part] - element.bank_level[part]
        columns |= {f"{element.id}.{name}": state[part] for name, state in element.states.items()}
    return pd.DataFrame(columns)
