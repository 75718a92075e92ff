"""Whether the samples of a study fit into the memory of this machine.

Samples go through in batches, but a few numbers are kept of every one: its levels, banks and critical values. Of those
held in full all numbers and results are there; a ladder has a level of a batch at every place for each of its rungs.
"""

from __future__ import annotations

import math
import os
from bisect import bisect_right
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from overbank import shell
from overbank.errors import DomainError
from overbank.model import Model
from overbank.sampling.batches import BATCH, HELD
from overbank.study.load import Study
from overbank.study.schema import Design
from overbank.uncertain.conditioning import PANELS

FIXED = 0.5e9
"""What the program needs, and a small site with it [bytes]."""

OF_A_NUMBER = 3
"""Columns of a sample held in full for each uncertain number: its value and its scores."""

OF_A_RUNG = 80
"""Levels of a sample of a batch at every place, on the rungs of a ladder, that are there at the same time."""

OF_A_PLACE, OF_A_SAMPLE = 6, 8
"""Numbers of a sample at every place that has a bank, and besides, that are there at the same time at the most."""

OF_A_TABLE = 2 * (3 * PANELS + 2)
"""The same for a law without a closed form, of the input that is integrated out and of the blockage."""

GROUPS = Path("/sys/fs/cgroup")
"""Where Linux says what a container may use."""

OWN_GROUP = Path("/proc/self/cgroup")
"""Where Linux says which group this process is in."""


def memory_needed(model: Model, design: Design, samples: int) -> float:
    """Memory that a run with so many samples needs at the most [bytes]."""
    site, medians = model.problem.site, model.problem.medians()
    results = sum(2 + len(element.results) for element in site.march(medians).elements)
    held = min(samples, HELD * BATCH) * (results + OF_A_NUMBER * model.problem.inputs.dimension)
    rungs = min(samples, BATCH) * OF_A_RUNG * len(model.places)
    return FIXED + 8.0 * (kept(model, design) * samples + held + rungs)


def kept(model: Model, design: Design) -> int:
    """Numbers that are kept of every sample. A Latin hypercube is made whole."""
    inputs = model.problem.inputs
    of_design = 2 * inputs.dimension if design == "latin_hypercube" else 0
    of_law = OF_A_TABLE if any(map(inputs.copula.tabulated, range(inputs.dimension))) else 0
    return OF_A_PLACE * len(model.places) + OF_A_SAMPLE + of_design + of_law


def refuse_what_does_not_fit(study: Study, model: Model, samples: int) -> None:
    """A number of samples for which the system would end the run on the way.

    Raises
    ------
    DomainError : they need more memory than the machine has
    """
    there = memory_here()
    if there < FIXED:
        raise DomainError(
            f"{study.path}: expected {FIXED / 1e9:.1f} GB of memory, which any run may need; got {there / 1e9:.1f} GB, "
            "from the shell (ulimit), the container or the machine. Give it more"
        )
    design = study.content.run.design
    needed = memory_needed(model, design, samples)
    if needed > there:
        most = bisect_right(range(samples), there, key=lambda few: memory_needed(model, design, few)) - 1
        raise DomainError(
            f"{study.path}, run.samples: expected samples that fit into the memory of this machine, {there / 1e9:.1f} "
            f"GB; got {samples:,}, which need about {needed / 1e9:.1f} GB. Take at most about {most:,}"
        )


def memory_here() -> float:
    """Memory of this machine, or what a container or a shell lets this process use of it [bytes]."""
    return min([_of_machine(), *_of_groups(), *_of_shell()])


def _of_machine() -> float:
    """Memory of this machine [bytes]; endless where the system does not say it, as Windows does not in this way."""
    with suppress(AttributeError, ValueError, OSError):
        return float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
    return math.inf


def _of_groups() -> Iterator[float]:
    """The limits of the control groups around this process, of version 2 and 1 of them."""
    places = [GROUPS / "memory.max", GROUPS / "memory" / "memory.limit_in_bytes"]
    with suppress(OSError, ValueError, StopIteration):
        own = next(line[3:] for line in OWN_GROUP.read_text(encoding="utf-8").split("\n") if line.startswith("0::"))
        inner = GROUPS / own.lstrip("/")
        places += [place / "memory.max" for place in (inner, *inner.parents) if place.is_relative_to(GROUPS)]
    for file in places:
        with suppress(OSError, ValueError):  # there is no such file, or it says "max"
            yield float(file.read_text(encoding="ascii"))


def _of_shell() -> Iterator[float]:
    """What a shell's limits leave, besides what this process has reserved of its address space and never touched."""
    for _, limit in shell.limits():
        yield max(0.0, limit - _reserved())


def _reserved() -> float:
    """Address space of this process that no memory stands behind [bytes]; 0 where Linux does not say it."""
    with suppress(OSError, ValueError):
        pages = Path("/proc/self/statm").read_text(encoding="ascii").split()
        return float(os.sysconf("SC_PAGE_SIZE")) * (int(pages[0]) - int(pages[1]))
    return 0.0
