"""How much water leaves over the crests along the sides of the row."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.outputs.spilled import QUANTILES, Spilled
from overbank.report.sections.section import Section
from overbank.words import rounded, scaled, share_words


class SpilledLine(NamedTuple):
    """A side crest, how likely water leaves over it, and how much."""

    element: str
    figures: tuple[tuple[str, str], ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    if not outcome.spilled:
        return None
    return {"spilled": [_line(each) for each in outcome.spilled], "shares": [share_words(share) for share in QUANTILES]}


def _line(found: Spilled) -> SpilledLine:
    flows = (scaled(flow, 1.0, "m³/s", 3) for flow in found.flows.values())
    return SpilledLine(found.element, (rounded(found.probability, "p"), *flows))


SECTION = Section("spilled", "Water that leaves", "How much water leaves over the side", _content, shows=("spilled",))
