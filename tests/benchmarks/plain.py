"""The compiled formulas as plain Python: to be imported only where NUMBA_DISABLE_JIT is set."""

from __future__ import annotations

import numpy as np

from benchmarks import site
from benchmarks.rivals import Samples
from overbank.hydraulics import rows
from overbank.hydraulics.crossing import Barrels, Road, Screen, pool_level
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.sections import Section


def one_level(row: list[float]) -> float:
    """Level of the pool for the columns of one sample."""
    section, inlet, lay = row[: rows.SECTION], row[rows.SECTION :][: rows.INLET], row[rows.LAY_AT :]
    barrels = Barrels(Section(*section), InletRow(*inlet), *lay[: rows.LAY])
    screen, road = row[rows.SCREEN_AT :][: rows.SCREEN], row[rows.ROAD_AT :][: rows.ROAD]
    return pool_level(barrels, Screen(*screen), Road(*road), *row[-2:])


def levels(samples: Samples) -> list[float]:
    """Level of the pool, one sample after the other."""
    columns = [np.broadcast_to(column, samples.flow.shape) for column in site.columns(samples)]
    with np.errstate(all="ignore"):
        return [one_level(row) for row in np.array(columns).T.tolist()]
