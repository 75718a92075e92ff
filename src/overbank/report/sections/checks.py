"""The checks made, and how the intervals were found."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.register import checks
from overbank.report.sections.designs import sampling_words
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any]:
    return {"checks": checks(outcome), "sampled": outcome.samples is not None, **sampling_words(outcome)}


SECTION = Section("checks", "Checks made", "Checks made", _content, figures=("convergence",))
