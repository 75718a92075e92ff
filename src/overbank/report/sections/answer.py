"""The answer in one paragraph, and what it rests on."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome
from overbank.report.answer import answer
from overbank.report.sections.section import Section
from overbank.report.sections.targets import stricter


def _content(outcome: Outcome) -> dict[str, Any]:
    samples = "" if outcome.samples is None else f"{outcome.samples.levels.size:,}"
    return {
        "answer": answer(outcome),
        "samples": samples,
        "gaps": outcome.problem.gaps(),
        "limits": outcome.limits,
        "slips": outcome.slips,
        "stricter": "" if outcome.targets is None else stricter(outcome),
    }


SECTION = Section("answer", "The answer", "The answer", _content, part="front")
