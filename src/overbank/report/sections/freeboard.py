"""The margins from the water up to the bank."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.freeboard import ledger
from overbank.report.sections.section import Section, found

NEEDED = frozenset({"medians", "headwater", "blockage"})


def _content(outcome: Outcome) -> dict[str, Any] | None:
    if not found(outcome) >= NEEDED:
        return None
    margins = ledger(outcome)
    return None if margins is None else {"ledger": margins}


SECTION = Section("freeboard", "Freeboard", "Freeboard", _content, shows=("headwater",))
