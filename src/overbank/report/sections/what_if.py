"""The answers with one assumption changed for all samples."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.outputs.variations import Variation
from overbank.report.sections.section import Section
from overbank.words import Rounded, change, rounded


class Line(NamedTuple):
    """An assumption, and what comes of it: figures with their intervals."""

    name: str
    figures: tuple[Rounded, ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.variations
    return {"variations": [_line(each) for each in found]} if found is not None and len(found) > 1 else None


def _line(each: Variation) -> Line:
    changes = (
        (Rounded("", ""), Rounded("", ""))
        if each.more is None or each.higher is None
        else (change(each.more, "p"), change(each.higher, "m"))
    )
    return Line(each.name, (rounded(each.probability, "p"), rounded(each.level, "m"), *changes))


SECTION = Section("what-if", "What if", "What if one assumption were another", _content, shows=("variations",))
