"""Blockages that rest on inspection records: prior beside posterior, and what a reader must know of the records."""

from __future__ import annotations

from typing import NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.report.readings import blocked_words
from overbank.uncertain.records import Known, RecordedBlockage


class KnownLine(NamedTuple):
    """A quantity of the blockage: by the prior, and by the posterior with its 5 to 95 %."""

    words: str
    prior: str
    posterior: str
    span: str


class RecordGroup(NamedTuple):
    """One blockage from records: its name in words, prior beside posterior, and what it rests on."""

    name: str
    lines: tuple[KnownLine, ...]
    basis: str
    taken: str
    warnings: tuple[str, ...]


def records(outcome: Outcome) -> tuple[RecordGroup, ...]:
    """Every blockage from records, in the order of the inputs."""
    basis = {item.name: item.basis or "" for item in outcome.problem.assumptions}
    return tuple(
        _group(item.name, item.distribution, basis[item.name])
        for item in outcome.problem.inputs.items
        if isinstance(item.distribution, RecordedBlockage)
    )


def _group(name: str, distribution: RecordedBlockage, basis: str) -> RecordGroup:
    fit = distribution.fit
    taken = (
        "There are too few looks: the run takes the prior, and the posterior only stands beside it."
        if fit.kept
        else "The run takes the posterior predictive, an inflated beta that is nowhere further from the mean over all "
        f"draws than {100.0 * fit.miss:.1f}\u00a0percentage points."
    )
    lines = tuple(_line(each) for each in fit.known)
    return RecordGroup(f"blockage of {blocked_words(name)}", lines, basis, taken, distribution.warnings)


def _line(known: Known) -> KnownLine:
    prior, posterior, high = (f"{100.0 * share:.1f}\u00a0%" for share in (known.prior, known.posterior, known.high))
    return KnownLine(known.words, prior, posterior, f"{100.0 * known.low:.1f} to {high}")
