"""An authority's own figures line by line."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.requirements import rows
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    return None if outcome.requirements is None else {"asked_for": outcome.requirements, "required": rows(outcome)}


SECTION = Section(
    "requirements", "The authority's figures", "The authority's own figures", _content, shows=("requirements",)
)
