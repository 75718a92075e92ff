"""Whether the samples of a study fit into the memory of this machine: all of a run's large tables are held at once."""

from __future__ import annotations

import os

from overbank.errors import DomainError
from overbank.model import Model
from overbank.study.load import Study

SURE = 2**18
"""So many samples always fit."""

FIXED = 0.5e9
"""What the program and the tables that do not grow with the samples need [bytes]."""

RUNGS = 24
"""Nodes of a ladder at the most, about."""


def memory_needed(model: Model, samples: int) -> float:
    """Memory that a run with so many samples needs at the most [bytes].

    Scores, independent and correlated, and values of every input; the site's results; and the levels of every place
    that has a bank at every rung of the ladder, with those of the place asked about once more.
    """
    one = model.march(model.medians())
    places = sum(element.bank_level is not None for element in one.elements)
    results = sum(len(element.results) for element in one.elements)
    numbers = 3 * model.problem.inputs.dimension + results + places + RUNGS * (places + 1)
    return FIXED + 8.0 * numbers * samples


def refuse_what_does_not_fit(study: Study, model: Model, samples: int) -> None:
    """A number of samples for which the system would end the run on the way.

    Raises
    ------
    DomainError : they need more memory than the machine has
    """
    if samples <= SURE:
        return
    needed, there = memory_needed(model, samples), memory_here()
    if needed > there:
        most = int(samples * (there - FIXED) / (needed - FIXED))
        raise DomainError(
            f"{study.path}, run.samples: expected samples that fit into the memory of this machine, {there / 1e9:.1f} "
            f"GB; got {samples:,}, which need about {needed / 1e9:.1f} GB. Take at most about {max(most, SURE):,}"
        )


def memory_here() -> float:
    """Memory of this machine [bytes]."""
    return float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
