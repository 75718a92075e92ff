"""A blockage and its pattern, and the rule that combines the roughness of a surveyed section."""

from __future__ import annotations

from typing import Annotated

from overbank.hydraulics.surveyed import METHODS
from overbank.study.blockages import blocked_share
from overbank.study.reading.numbers import OUTERMOST, Number
from overbank.study.reading.worded import worded

PATTERNS = ("uniform", "floating_raft", "bottom_up")
"""The words; the place of a word in this list is the number that stands for it."""

Blockage = Annotated[Number, blocked_share()]
Pattern = Annotated[Number, worded(PATTERNS)]
Method = Annotated[Number, worded(METHODS)]


def may_be(pattern: Number, word: str) -> bool:
    """Whether a pattern may be a word or one that stands behind it in the list."""
    return pattern.at_score(OUTERMOST) >= PATTERNS.index(word)


WORDED = {"pattern": PATTERNS, "method": METHODS}
"""Keys whose numbers are written as words, with their words."""
