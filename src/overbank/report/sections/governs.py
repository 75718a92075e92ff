"""What governs at every element, in the samples and in the run at the medians."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.report.tables import certain_levels, regimes


def _content(outcome: Outcome) -> dict[str, Any]:
    sampled = () if outcome.samples is None else regimes(outcome)
    return {"regimes": sampled, "certain_levels": certain_levels(outcome)}


SECTION = Section("governs", "What governs", "What governs", _content, shows=("medians",))
