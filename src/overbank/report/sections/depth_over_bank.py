"""How deep the water stands over the bank."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.report.readings import from_last_nought
from overbank.report.sections.section import Section
from overbank.words import rounded, share_words


class DepthLine(NamedTuple):
    """A depth over the bank, and how sure it is that the water stands no deeper."""

    assurance: str
    depth: str
    interval: str


def _content(outcome: Outcome) -> dict[str, Any]:
    quantiles = outcome.depth_over_bank.quantiles
    told = from_last_nought(quantiles).items()
    return {"depths": [DepthLine(share_words(share), *rounded(depth, "m")) for share, depth in told]}


SECTION = Section(
    "depth-over-bank",
    "How deep over the bank",
    "How deep the water stands over the bank",
    _content,
    shows=("depth_over_bank",),
)
