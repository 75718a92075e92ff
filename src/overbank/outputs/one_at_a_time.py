"""One input at a time: the level with each input low and high, every other one at its median."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.model import Model
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array

SHARES = (0.10, 0.90)
"""Quantiles of each input that are tried."""


@dataclass(frozen=True)
class Swing:
    """One input at its 10 % and its 90 % quantile, every other one at its median.

    values : of the input; levels : at the place [m]; changes : from the level with every input at its median [m]
    """

    name: str
    values: tuple[float, float]
    levels: tuple[float, float]
    changes: tuple[float, float]


def swings(model: Model) -> tuple[Swing, ...]:
    """What each input does to the level when it goes from its median to its 10 % and to its 90 % quantile."""
    middle, inputs = model.level_at_medians, model.problem.inputs
    values = np.array([[item.distribution.quantile(share) for share in SHARES] for item in inputs.items])
    table = np.tile(model.medians(), (values.size, 1))
    table[np.arange(values.size), np.repeat(np.arange(len(values)), len(SHARES))] = values.ravel()
    levels = model.single_levels(table).reshape(values.shape)
    with np.errstate(invalid="ignore"):  # between two endless levels there is no difference
        moved = levels - middle
    return tuple(
        Swing(item.name, _pair(value), _pair(level), _pair(move))
        for item, value, level, move in zip(inputs.items, values, levels, moved, strict=True)
    )


def _pair(both: Array) -> tuple[float, float]:
    return float(both[0]), float(both[1])


def _find(run: Run) -> tuple[Swing, ...]:
    return swings(run.model)


def _tables(found: tuple[Swing, ...]) -> Tables:
    """One input at a time: its 10 % and 90 % quantiles, the levels of one run with them, and their changes [m]."""
    table = pd.DataFrame(
        {
            "input": each.name,
            **{f"{end}_value": each.values[k] for k, end in enumerate(("low", "high"))},
            **{f"{end}_level_m": each.levels[k] for k, end in enumerate(("low", "high"))},
            **{f"{end}_change_m": each.changes[k] for k, end in enumerate(("low", "high"))},
        }
        for each in found
    )
    return {"one_at_a_time": table}


OUTPUT = Output(find=_find, sampled=False, tables=_tables)
