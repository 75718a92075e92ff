"""One run worked line by line."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.report.worked import worked


def _content(outcome: Outcome) -> dict[str, Any]:
    return {"worked": worked(outcome)}


SECTION = Section("worked", "One run by hand", "One run by hand", _content, shows=("medians",))
