"""Overtopping at every bank."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.report.tables import places


def _content(outcome: Outcome) -> dict[str, Any] | None:
    lines = places(outcome)
    return {"places": lines, "how": _how(outcome)} if lines else None


def _how(outcome: Outcome) -> str:
    """What is meant by the first bank, as far as this run has looked for it."""
    if outcome.overtopping is None:
        return ""
    risen = outcome.overtopping.integrated
    return (
        f" as {risen} rises, everything else being as sampled"
        if risen
        else ", taken as the one with the most water over it"
    )


SECTION = Section("banks", "Every bank", "Every bank", _content, shows=("places",))
