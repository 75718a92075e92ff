"""The cautions, which stand with every result."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.words import cautions


def _content(_outcome: Outcome) -> dict[str, Any]:
    return {"cautions": cautions()}


SECTION = Section("cautions", "Cautions", "Cautions", _content, part="front")
