"""The compiled formulas as plain Python: to be imported only where NUMBA_DISABLE_JIT is set."""

from __future__ import annotations

import numpy as np

from benchmarks import site
from benchmarks.rivals import Samples
from overbank.hydraulics import rows
from overbank.hydraulics.crossing import pool_level


def one_level(column: rows.Table) -> float:
    """Level of the pool for the columns of one sample."""
    c = rows.crossing_row(column, None, None)
    return pool_level(c.main, c.screen, c.road, c.flow, c.tailwater)


def levels(samples: Samples) -> list[float]:
    """Level of the pool, one sample after the other."""
    columns = [np.broadcast_to(column, samples.flow.shape) for column in site.columns(samples)]
    with np.errstate(all="ignore"):
        return [one_level(column) for column in np.array(columns).T]
