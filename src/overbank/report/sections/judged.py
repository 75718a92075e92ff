"""The register of what is judged: varied numbers that rest on judgement or on no basis, and how much each drives."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import QUOTE, index_of
from overbank.report.sections.section import Section
from overbank.words import rounded

MOST = 8
"""Lines on the front, those that drive the level most; all stand in the register."""


class Judged(NamedTuple):
    """A number: in plain words, its distribution, what it rests on, and its share of the variance of the level."""

    words: str
    value: str
    rests: str
    gap: bool
    share: str


def _content(outcome: Outcome) -> dict[str, Any]:
    varied = [item for item in outcome.problem.assumptions if item.uncertain]
    judged = [item for item in varied if item.basis is None or item.evidence in (None, "judgement")]
    judged.sort(key=lambda item: _total(outcome, item.name), reverse=True)
    lines = [
        Judged(
            _name(item.name), item.words, item.evidence or "not stated", item.basis is None, _share(outcome, item.name)
        )
        for item in judged[:MOST]
    ]
    return {"judged": lines, "all_judged": len(judged), "varied": len(varied)}


def _total(outcome: Outcome, name: str) -> float:
    """Total index of the level; nothing where there is none."""
    if outcome.drivers is None or outcome.drivers.level is None or name not in outcome.problem.inputs.names:
        return 0.0
    return index_of(outcome.drivers.level, name, "total").value


def _name(path: str) -> str:
    known = plain_name(path)
    return known.in_full if known.group == "flow" else f"{known.in_full}, {QUOTE.format(known.group)}"


def _share(outcome: Outcome, name: str) -> str:
    """The total index of the level; empty where it was not asked for or was refused."""
    if outcome.drivers is None or outcome.drivers.level is None or name not in outcome.problem.inputs.names:
        return ""
    return rounded(index_of(outcome.drivers.level, name, "total"), "%").value


SECTION = Section(
    "judged", "What is judged", "What is judged, and how much it drives the level", _content, part="front"
)
