"""What the floods that were seen teach."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.learnt import learnt
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    taught = learnt(outcome)
    return None if taught is None else {"learnt": taught}


SECTION = Section(
    "floods-seen", "Floods seen", "What the floods seen teach", _content, shows=("learnt",), figures=("learnt",)
)
