"""The exceedance of the level, and answers of single runs on its curve."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.freeboard import placed
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any]:
    return {"placed": placed(outcome)}


SECTION = Section(
    "level",
    "How high the water stands",
    "How high the water stands",
    _content,
    shows=("headwater",),
)
