"""The one picture of the front: how high the water stands, and how surely."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section


def _content(_outcome: Outcome) -> dict[str, Any]:
    return {}


SECTION = Section(
    "picture",
    "How high, in one picture",
    "How high the water stands, in one picture",
    _content,
    shows=("headwater",),
    figures=("exceedance",),
    part="front",
)
