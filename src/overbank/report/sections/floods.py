"""The floods of a year, their levels and how surely the water stays below the bank."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import floods
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    rows = floods.rows(outcome)
    if not rows:
        return None
    return {"floods": rows, "flood_kinds": floods.kinds(outcome), "flood_notes": floods.notes(outcome)}


SECTION = Section("floods", "Floods of a year", "Floods of a year", _content, shows=("annual",), figures=("frequency",))
