"""The register of what is judged: varied numbers that rest on judgement or on no basis, and how much each drives."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import QUOTE, SHARED_OUT, share_of, shared_out
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
    judged.sort(key=lambda item: -1.0 if (each := _share(outcome, item.name)) is None else each.value, reverse=True)
    lines = [
        Judged(
            _name(item.name), item.words, item.evidence or "not stated", item.basis is None, _said(outcome, item.name)
        )
        for item in judged[:MOST]
    ]
    found = shared_out(outcome)
    how = "" if found is None else SHARED_OUT[found[1]]
    return {"judged": lines, "all_judged": len(judged), "varied": len(varied), "shared_out": how}


def _name(path: str) -> str:
    known = plain_name(path)
    return known.in_full if known.group == "flow" else f"{known.in_full}, {QUOTE.format(known.group)}"


def _share(outcome: Outcome, name: str) -> Estimate | None:
    """Its share of the variance of the level; None where that was not asked for or was refused."""
    found = shared_out(outcome)
    if found is None or name not in set(found[0]["input"]):
        return None
    return share_of(found[0], name, found[1])


def _said(outcome: Outcome, name: str) -> str:
    share = _share(outcome, name)
    return "" if share is None else rounded(share, "%").value


SECTION = Section(
    "judged", "What is judged", "What is judged, and how much it drives the level", _content, part="front"
)
