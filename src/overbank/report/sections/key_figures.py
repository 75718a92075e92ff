"""The key figures with their intervals."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.register import agreement
from overbank.report.sections.section import Section
from overbank.report.tables import key_figures


def _content(outcome: Outcome) -> dict[str, Any] | None:
    groups = key_figures(outcome)
    if not groups:
        return None
    agreed = None if outcome.overtopping is None else agreement(outcome.overtopping)
    return {"key_figures": groups, "agreed": agreed, "has_blockage": outcome.blockage is not None}


SECTION = Section(
    "key-figures",
    "Key figures",
    "Key figures",
    _content,
    shows=("medians", "headwater", "overtopping", "blockage", "annual"),
)
