"""The first stage: samples of all uncertain numbers, and the site run on every one of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.errors import DomainError
from overbank.model import Model
from overbank.outcome import Samples
from overbank.stages.memory import refuse_what_does_not_fit
from overbank.study.build import Problem, build
from overbank.study.load import Study
from overbank.study.schema import Decision, Run
from overbank.uncertain.designs import scores
from overbank.uncertain.inputs import Inputs

Array = NDArray[np.float64]


@dataclass
class Sampling:
    """A study with its model, its sampled numbers and what the site made of them.

    Samples are held in rows, replicate after replicate; `shape` is (replicates, samples of each).

    z : correlated normal scores [R, N, d]
    rows : sampled numbers [R N, d]
    places : ids of the structures that have a bank, going upstream
    banks : bank levels at these places [P, R N]
    runs : model runs so far
    """

    study: Study
    problem: Problem
    model: Model
    z: Array
    rows: Array
    samples: Samples
    places: tuple[str, ...]
    banks: Array
    runs: int

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
        """(replicates, samples of each)."""
        return self.z.shape[0], self.z.shape[1]

    @property
    def at(self) -> int:
        """Which of the places is the one that the answers are about."""
        return self.places.index(self.model.place)

    def first(self, count: int) -> NDArray[np.intp]:
        """Rows of the first samples of every replicate, about `count` in all. A stride would break Sobol' points."""
        replicates, samples = self.shape
        each = max(1, min(count // replicates, samples))
        return np.arange(replicates * samples).reshape(self.shape)[:, :each].ravel()

    def levels_with(
        self, column: int, numbers: Array, places: tuple[str, ...], chosen: NDArray[np.intp] | None = None
    ) -> Array:
        """Levels at some places [P, n] with one input set, for all samples or for those chosen."""
        rows = self.rows.copy() if chosen is None else self.rows[chosen]
        rows[:, column] = numbers
        self.runs += len(rows)
        return self.model.levels_at(rows, places)

    def margins(self) -> Array:
        """Level minus bank at every place in the site's own run of the samples [m]; shape (P, R, N)."""
        levels = np.array([self.samples.site.element(place).level for place in self.places])
        return (levels - self.banks).reshape(len(self.places), *self.shape)


def sample(study: Study, columns: tuple[str, ...] = ()) -> Sampling:
    """Sample the study's uncertain numbers and run the site on them.

    Parameters
    ----------
    study : from `read_study`, or one of its alternatives
    columns : names of all uncertain numbers that get a column of the sampling design, those of the study among them;
        only those of the study if left out

    Raises
    ------
    DomainError : nothing in the study is uncertain, or the samples do not fit into memory
    """
    problem = build(study)
    model, settings = Model(problem), study.content.run
    if problem.inputs.dimension == 0:
        raise DomainError(
            f"{study.path}: expected at least one uncertain number; got certain ones only. Give a number a "
            "distribution, or use `overbank check`, which runs the site once"
        )
    refuse_what_does_not_fit(study, model, settings.samples)
    inputs = problem.inputs
    columns = columns or inputs.names
    independent = scores(settings.design, settings.samples, len(columns), settings.seed, settings.replicates)
    z = inputs.copula.correlate(independent[..., [columns.index(name) for name in inputs.names]])
    values = inputs.values(z)
    rows = values.reshape(-1, problem.inputs.dimension)
    site = model.march(rows)
    places = tuple(element.id for element in site.elements if element.bank_level is not None)
    banks = np.array([site.element(place).bank_level for place in places])
    levels = site.element(model.place).level.reshape(values.shape[:2])
    bank = banks[places.index(model.place)].reshape(levels.shape)
    samples = Samples(values, site, levels, levels - bank)
    return Sampling(study, problem, model, z, rows, samples, places, banks, len(rows))
