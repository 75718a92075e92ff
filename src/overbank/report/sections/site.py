"""The site in long section, in plan and across the flow."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section


def _content(_outcome: Outcome) -> dict[str, Any]:
    return {}


SECTION = Section(
    "site",
    "The site",
    "The site",
    _content,
    shows=("long_section",),
    figures=("long_section", "cross_sections"),
)
