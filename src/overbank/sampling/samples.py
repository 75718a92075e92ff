"""Samples of all uncertain numbers, and the site run on every one of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.errors import DomainError
from overbank.model import Model
from overbank.sampling.batches import HELD, Batch, batch_size, batches
from overbank.sampling.memory import refuse_what_does_not_fit
from overbank.site.row import SiteOutcome
from overbank.study.build import Problem
from overbank.study.load import Study
from overbank.study.schema import Decision, Run
from overbank.uncertain.inputs import Inputs

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Samples:
    """The sampled inputs and what the site made of them.

    levels, depth_over_bank : upstream of the place, and that level minus the bank [m], of all samples; shape (R, N)
    values, site : inputs [R, n, d] and all results of the samples held in full: the first n of every replicate, which
        are all of them where there are not more than about 2^18
    columns : names of the inputs that have a column of the sampling design
    """

    values: Array
    site: SiteOutcome
    levels: Array
    depth_over_bank: Array
    columns: tuple[str, ...]


@dataclass(frozen=True)
class Sampling:
    """A study with its model, its sampled numbers and what the site made of them.

    Of all N samples of every replicate the levels and banks are kept. The first n of them, all where N is not large,
    are held in full: what needs their numbers or other results looks at these.

    first : the samples held in full, n of every replicate
    samples : what the site made of them, and the levels at the place of all samples
    places : ids of the structures that have a bank, going upstream
    levels, banks : at these places [m], of all samples; shape (P, R, N)
    """

    study: Study
    problem: Problem
    model: Model
    first: Batch
    samples: Samples
    places: tuple[str, ...]
    levels: Array
    banks: Array

    @property
    def z(self) -> Array:
        """Correlated normal scores of the samples held in full [R, n, d]."""
        return self.first.z

    @property
    def rows(self) -> Array:
        """Numbers of the samples held in full [R n, d], replicate after replicate."""
        return self.first.rows

    @property
    def inputs(self) -> Inputs:
        """The uncertain numbers."""
        return self.problem.inputs

    @property
    def settings(self) -> Run:
        """Samples, replicates, design and seed."""
        return self.study.content.run

    @property
    def decision(self) -> Decision:
        """Target probability and assurance."""
        return self.study.content.decision

    @property
    def shape(self) -> tuple[int, int]:
        """(replicates, samples of each that are held in full)."""
        return self.first.shape

    @property
    def at(self) -> int:
        """Which of the places is the one that the answers are about."""
        return self.places.index(self.model.place)

    def held(self, table: Array) -> Array:
        """The part of a table (R, N) of all samples that belongs to those held in full."""
        return table[:, : self.shape[1]]

    def batches(self) -> Iterator[Batch]:
        """All samples, a batch at a time."""
        size = batch_size(self.shape[0])
        if self.levels.shape[2] <= size:
            yield Batch(self.model, 0, self.z, self.rows)
        else:
            yield from batches(self.model, self.settings, self.samples.columns)

    def chosen(self, count: int) -> NDArray[np.intp]:
        """Rows of the first samples of every replicate, about `count` in all. A stride would break Sobol' points."""
        replicates, samples = self.shape
        each = max(1, min(count // replicates, samples))
        return np.arange(replicates * samples).reshape(self.shape)[:, :each].ravel()

    def levels_with(
        self, column: int, numbers: Array, places: tuple[str, ...], chosen: NDArray[np.intp] | None = None
    ) -> Array:
        """Levels at some places [P, m] with one input set, for all samples held in full or for those chosen."""
        return self.first.levels_with(column, numbers, places, chosen)


def sample(study: Study, model: Model, columns: tuple[str, ...] = ()) -> Sampling:
    """Sample the study's uncertain numbers and run the site on them.

    Parameters
    ----------
    study : from `read_study`, or one of its alternatives
    model : of that study
    columns : names of all uncertain numbers that get a column of the sampling design, those of the study among them;
        only those of the study if left out

    Raises
    ------
    DomainError : nothing in the study is uncertain, or the samples do not fit into memory
    """
    problem, settings = model.problem, study.content.run
    if problem.inputs.dimension == 0:
        raise DomainError(
            f"{study.path}: expected at least one uncertain number; got certain ones only. Give a number a "
            "distribution, or use `overbank check`, which runs the site once"
        )
    refuse_what_does_not_fit(study, model, settings.samples)
    columns = columns or problem.inputs.names
    places, replicates = model.places, settings.replicates
    shape = (len(places), replicates, settings.samples // replicates)
    levels, banks = np.empty(shape), np.empty(shape)
    held: list[Batch] = []
    for batch in batches(model, settings, columns):
        if len(held) < HELD:
            held.append(batch)
        else:
            levels[..., batch.part] = model.levels_at(batch.rows, places).reshape(len(places), *batch.shape)
        banks[..., batch.part] = np.reshape(model.banks_at(batch.rows, places), (len(places), *batch.shape))
    first = _joined(held)
    site = model.march(first.rows)
    levels[..., first.part] = [site.element(place).level.reshape(first.shape) for place in places]
    at = places.index(model.place)
    samples = Samples(
        values=first.rows.reshape(*first.shape, -1),
        site=site,
        levels=levels[at],
        depth_over_bank=levels[at] - banks[at],
        columns=columns,
    )
    return Sampling(study, problem, model, first, samples, places, levels, banks)


def _joined(held: list[Batch]) -> Batch:
    """The first batches as one."""
    if len(held) == 1:
        return held[0]
    inputs = held[0].model.problem.inputs
    z = np.concatenate([batch.z for batch in held], axis=1)
    return Batch(held[0].model, 0, z, inputs.values(z).reshape(-1, inputs.dimension))
