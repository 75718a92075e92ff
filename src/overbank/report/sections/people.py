"""What the water does to a person."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.people import CAUTIONS, people
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = people(outcome)
    return {"people": found, "people_cautions": CAUTIONS} if found else None


SECTION = Section("people", "People", "People", _content, shows=("people",))
