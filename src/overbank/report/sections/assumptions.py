"""The register of assumptions."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import register
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any]:
    return {
        "assumptions": register.assumptions(outcome),
        "gaps": outcome.problem.gaps(),
        "dependences": register.dependences(outcome),
        "taken_rows": register.taken_rows(outcome),
    }


SECTION = Section("assumptions", "What was assumed", "What was assumed", _content)
