"""How far upstream every structure is felt."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import design
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    felt = design.felt(outcome)
    return {"felt": felt} if felt else None


SECTION = Section("felt", "How far it is felt", "How far upstream a structure is felt", _content, shows=("medians",))
