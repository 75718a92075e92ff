"""What is wanted, in every sense, and what meets it."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.outputs.targets import ASSURED, Target
from overbank.report.sections.section import Section
from overbank.words import measure, rounded, share_words


class TargetLine(NamedTuple):
    """A sense, and figures with their intervals."""

    sense: str
    stated: bool
    accepted: str
    figures: tuple[tuple[str, str], ...]


def _content(outcome: Outcome) -> dict[str, Any]:
    found = outcome.targets
    return {"targets": [_line(each) for each in found]}


def _line(found: Target) -> TargetLine:
    rise = measure(found.rise, "m", signed=True) if math.isfinite(found.rise) else ""
    figures = (
        _said(found.found, "p"),
        _said(found.level, "m"),
        (rise, ""),
        _said(found.allowance, "%"),
        _said(found.largest, "%"),
    )
    return TargetLine(found.sense, found.wanted, share_words(found.accepted), figures)


def _said(estimate: Estimate | None, unit: str) -> tuple[str, str]:
    if estimate is None:
        return "", ""
    if math.isnan(estimate.value):
        return "none", ""
    return rounded(estimate, unit)


def stricter(outcome: Outcome) -> str:
    """Which of target and assurance asks for more, where the study states both and they disagree."""
    own = {each.sense: each for each in outcome.targets}
    if ASSURED not in own:
        return ""
    flood, assured = outcome.target, own[ASSURED].accepted
    words = "accepted probability" if flood < assured else "assurance"
    return (
        f"The study states both an accepted probability of {share_words(flood)} and an assurance of "
        f"{share_words(outcome.assurance)}, which leaves {share_words(assured)}: the {words} is the stricter. Level "
        "and allowance on this page are those of the assurance, the largest blockage that of the accepted probability."
    )


SECTION = Section("targets", "What meets the target", "What is wanted, and what meets it", _content, shows=("targets",))
