"""The usual design checks."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report import design
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    figures = design.figures(outcome)
    return {"design_figures": figures, "barrel_flows": design.flows(outcome)} if figures else None


SECTION = Section("design", "Usual design checks", "Usual design checks", _content, shows=("checks",))
