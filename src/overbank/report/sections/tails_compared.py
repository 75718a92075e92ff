"""How the answers move with the tails of the dependences that have their own."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import register
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    rows = register.tails_compared(outcome)
    return {"tails_compared": rows} if rows else None


SECTION = Section(
    "tails-compared",
    "With and without tails",
    "How the answer moves with the tails of the dependence",
    _content,
    shows=("tails",),
)
