"""Which inputs drive the level and the overtopping: Sobol' indices from samples of their own."""

from __future__ import annotations

import numpy as np

from overbank.analysis import sensitivity
from overbank.errors import DomainError
from overbank.outcome import Drivers
from overbank.stages.sampling import Array, Sampling
from overbank.uncertain.designs import scores

MOST_CROSSED = 2**15
"""Rows of crossed samples for the indices; more would only cost time."""


def drivers(sampling: Sampling) -> Drivers:
    """Run the crossed samples and find the indices."""
    settings, model, inputs = sampling.settings, sampling.model, sampling.inputs
    d = inputs.dimension
    count = crossed_samples(settings.samples, settings.replicates)
    both = scores(settings.design, count, 2 * d, settings.seed + 1, settings.replicates)
    levels, margins = [], []
    for block in sensitivity.blocks(both[..., :d], both[..., d:]):
        rows = inputs.values(block).reshape(-1, d)
        level = model.levels(rows)
        levels.append(level)
        margins.append(level - model.banks(rows))
        sampling.runs += len(rows)
    shape = (d + 2, settings.replicates, count // settings.replicates)
    level_table = np.moveaxis(np.array(levels).reshape(shape), 0, 1)
    margin_table = np.moveaxis(np.array(margins).reshape(shape), 0, 1)
    return drivers_of(level_table, margin_table, inputs.names, bool(sampling.problem.dependences))


def crossed_samples(samples: int, replicates: int) -> int:
    """How many samples are crossed for the indices: all, or as many halves of them as bring them under the limit."""
    each = samples // replicates
    while each * replicates > MOST_CROSSED and each > 1:
        each //= 2
    return each * replicates


def drivers_of(levels: Array, margins: Array, names: tuple[str, ...], dependent: bool) -> Drivers:
    """Sobol' indices of level and of overtopping from the crossed runs, shape (R, d + 2, n)."""
    notes = []
    if dependent:
        notes.append(
            "The indices take all inputs as independent: the dependence stated in the study is left out here, "
            "and only here, because shares of variance do not add up for inputs that depend on each other."
        )
    endless = np.isposinf(levels)
    if np.any(endless):
        highest = float(levels[np.isfinite(levels)].max())
        levels = np.where(endless, highest, levels)
        notes.append(
            f"In {np.mean(endless):.2%} of these runs there was no way through; for the indices their level is "
            f"taken as the highest finite one, {highest:.2f} m."
        )
    found: list[sensitivity.Indices | None] = []
    over = np.where(np.isnan(margins), np.nan, (margins > 0.0).astype(np.float64))
    for what, table in (("level", levels), ("event of overtopping", over)):
        try:
            found.append(sensitivity.indices(table, names))
        except DomainError as error:
            found.append(None)
            notes.append(f"No indices of the {what}: {error}")
    return Drivers(found[0], found[1], tuple(notes))
