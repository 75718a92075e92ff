"""The site as it stands, and as every alternative changes it."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.arrangements import alike, lines, tolerance
from overbank.report.reviewers_figures import lost_screens
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    arrangements = lines(outcome)
    if not arrangements:
        return None
    lost = [words for name in outcome.study.alternatives for words in lost_screens(outcome, name)]
    return {
        **{"arrangements": arrangements, "tolerance": tolerance(outcome), "lost": lost, "alike": alike(outcome)},
        "in_time": outcome.through_flood is not None,
    }


SECTION = Section(
    "arrangements-compared",
    "Arrangements compared",
    "Arrangements compared",
    _content,
    shows=("comparison",),
    figures=("arrangements",),
)
