"""Samples a batch at a time, so that what a run works on does not grow with their number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.model import Model
from overbank.study.schema import Run
from overbank.uncertain.designs import score_batches

Array = NDArray[np.float64]

BATCH = 2**15
"""Samples of a batch, all replicates together: enough for every core, and few enough for the tables of a ladder."""

HELD = 8
"""So many batches are held in full, with all their numbers and results. Of later ones the levels are kept."""


@dataclass(frozen=True)
class Batch:
    """Some samples of every replicate, the same ones; in rows, replicate after replicate.

    start : how many samples of each replicate stand before these
    z : correlated normal scores [R, n, d]
    rows : sampled numbers [R n, d]
    """

    model: Model
    start: int
    z: Array
    rows: Array

    @property
    def shape(self) -> tuple[int, int]:
        """(replicates, samples of each)."""
        return self.z.shape[0], self.z.shape[1]

    @property
    def part(self) -> slice:
        """Where these samples stand among all of a replicate."""
        return slice(self.start, self.start + self.shape[1])

    def levels_with(
        self, column: int, numbers: Array, places: tuple[str, ...], chosen: NDArray[np.intp] | None = None
    ) -> Array:
        """Levels at some places [P, m] with one input set, for all samples or for those chosen."""
        rows = self.rows.copy() if chosen is None else self.rows[chosen]
        rows[:, column] = numbers
        return self.model.levels_at(rows, places)


def batch_size(replicates: int) -> int:
    """Samples of each replicate in a batch, a power of two."""
    return 1 << max(0, (BATCH // replicates).bit_length() - 1)


def batches(model: Model, settings: Run, columns: tuple[str, ...]) -> Iterator[Batch]:
    """All samples of a run, the first ones of every replicate first. The same every time.

    Parameters
    ----------
    columns : names of all uncertain numbers that get a column of the sampling design, those of the model among them
    """
    inputs = model.problem.inputs
    own = [columns.index(name) for name in inputs.names]
    size = batch_size(settings.replicates)
    start = 0
    for independent in score_batches(
        settings.design, settings.samples, len(columns), settings.seed, settings.replicates, size
    ):
        z = inputs.copula.correlate(independent[..., own])
        yield Batch(model, start, z, inputs.values(z).reshape(-1, inputs.dimension))
        start += z.shape[1]
