"""What a blockage does, what is assumed of it, and what inspection records say."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.records import records
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any]:
    return {"has_blockage": outcome.blockage is not None, "records": records(outcome)}


SECTION = Section(
    "blockage",
    "What blockage does",
    "What blockage does",
    _content,
    shows=("blockage",),
    figures=("overtopping_by_blockage", "blockage_distribution"),
)
