"""The allowance in every reading."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.allowance import tables
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    readings = tables(outcome)
    return {"readings": readings} if readings else None


SECTION = Section("allowance", "The allowance", "The allowance", _content, shows=("allowances",))
