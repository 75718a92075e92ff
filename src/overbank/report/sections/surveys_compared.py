"""Which survey would be worth its cost."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import surveys
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    if outcome.surveys is None:
        return None
    return {
        "survey_lines": surveys.lines(outcome),
        "worth_lines": surveys.worth_lines(outcome),
        "worth_notes": surveys.worth_notes(outcome),
        "choice_words": surveys.choice_words(outcome),
        "not_on_offer": surveys.not_on_offer(outcome),
        "survey_notes": outcome.surveys.notes,
        "over_life": outcome.surveys_over_life is not None,
    }


SECTION = Section(
    "surveys-compared",
    "Worth of surveys",
    "Which survey would be worth its cost",
    _content,
    shows=("surveys",),
    figures=("surveys",),
)
