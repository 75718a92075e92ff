"""The questions of reviewers, and where each is answered; of a full run only."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.reviewers_index import index
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    return {"reviewers_index": index(outcome)} if outcome.asked is None else None


SECTION = Section("reviewers", "Reviewer's index", "Reviewer's index", _content)
