"""What drives the level and the overtopping."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import tables
from overbank.report.one_at_a_time import tests
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    alone = None if outcome.one_at_a_time is None else tests(outcome)
    if outcome.drivers is None and alone is None:
        return None
    return {"drivers": None if outcome.drivers is None else _drivers(outcome), "one_at_a_time": alone}


def _drivers(outcome: Outcome) -> dict[str, Any]:
    return {
        "notes": outcome.drivers.notes,
        "ranking": tables.ranking(outcome),
        "pairs": tables.pairs(outcome),
        "fair_words": tables.FAIR_WORDS,
    }


SECTION = Section(
    "ranking",
    "What drives it",
    "What drives it",
    _content,
    shows=("drivers", "one_at_a_time"),
    figures=("drivers", "along_inputs"),
)
