"""What is needed to run the study again."""

from __future__ import annotations

from typing import Any

from overbank import __version__
from overbank.outputs.outcome import Outcome
from overbank.report.sections.designs import sampling_words
from overbank.report.sections.section import Section
from overbank.study.load import given_words


def _content(outcome: Outcome) -> dict[str, Any]:
    return {
        "study": outcome.study,
        "command": _command(outcome),
        "document": [
            (key.replace("_", " "), said or "not stated")
            for key, said in outcome.study.content.document.model_dump().items()
        ],
        "given": {name: given_words(value) for name, value in outcome.study.given.items()},
        "whole": outcome.asked is None,
        "version": __version__,
        "runs": f"{outcome.runs:,}",
        "has_blockage": outcome.blockage is not None,
        **sampling_words(outcome),
    }


def _command(outcome: Outcome) -> str:
    """What a terminal would be told for the same run."""
    asked = "" if outcome.quick or outcome.asked is None else f" --only {','.join(outcome.asked)}"
    return f"overbank run {outcome.study.path.name}{' --quick' if outcome.quick else ''}{asked}"


SECTION = Section("reproduce", "How to run it again", "How to run it again", _content)
