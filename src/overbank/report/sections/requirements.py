"""An authority's own figures line by line."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.requirements import rows
from overbank.report.sections.section import Section
from overbank.words import measure


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.requirements
    if found is None:
        return None
    at_once = [(each.words, measure(each.level, "m"), measure(each.spare, "m", signed=True)) for each in found.at_once]
    return {"asked_for": found, "required": rows(outcome), "at_once": at_once}


SECTION = Section(
    "requirements", "The authority's figures", "The authority's own figures", _content, shows=("requirements",)
)
