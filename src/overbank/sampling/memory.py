"""Whether the samples of a study fit into the memory of this machine.

Samples go through in batches, but a few numbers are kept of every one: its levels, banks and critical values.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from overbank.errors import DomainError
from overbank.model import Model
from overbank.study.load import Study
from overbank.study.schema import Design

SURE = 2**18
"""So many samples always fit."""

FIXED = 0.5e9
"""What the program, a batch and the samples held in full need [bytes]."""

OF_A_PLACE, OF_A_SAMPLE = 6, 8
"""Numbers of a sample at every place that has a bank, and besides, that are there at the same time at the most."""

LIMITS = (Path("/sys/fs/cgroup/memory.max"), Path("/sys/fs/cgroup/memory/memory.limit_in_bytes"))
"""Where Linux says what a container may use [bytes], in version 2 and 1 of its control groups."""


def memory_needed(model: Model, design: Design, samples: int) -> float:
    """Memory that a run with so many samples needs at the most [bytes]. A Latin hypercube is made whole."""
    of_design = 2 * model.problem.inputs.dimension if design == "latin_hypercube" else 0
    return FIXED + 8.0 * (OF_A_PLACE * len(model.places) + OF_A_SAMPLE + of_design) * samples


def refuse_what_does_not_fit(study: Study, model: Model, samples: int) -> None:
    """A number of samples for which the system would end the run on the way.

    Raises
    ------
    DomainError : they need more memory than the machine has
    """
    if samples <= SURE:
        return
    needed, there = memory_needed(model, study.content.run.design, samples), memory_here()
    if needed > there:
        most = int(samples * (there - FIXED) / (needed - FIXED))
        raise DomainError(
            f"{study.path}, run.samples: expected samples that fit into the memory of this machine, {there / 1e9:.1f} "
            f"GB; got {samples:,}, which need about {needed / 1e9:.1f} GB. Take at most about {max(most, SURE):,}"
        )


def memory_here() -> float:
    """Memory of this machine, or what a container may use of it [bytes]."""
    least = float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
    for file in LIMITS:
        with suppress(OSError, ValueError):  # there is no such file, or it says "max"
            least = min(least, float(file.read_text(encoding="ascii")))
    return least
