"""The floods of a year for every alternative, in one table."""

from __future__ import annotations

from typing import Any, NamedTuple

from overbank.outputs.annual import Annual
from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.words import rounded, share_words

FLOODS = (0.1, 0.02, 0.01, 0.005, 0.002)
"""Annual probabilities of the floods whose assurance is printed; the table beside the page has them all."""


class YearsLine(NamedTuple):
    """An arrangement, and figures with their intervals."""

    name: str
    figures: tuple[tuple[str, str], ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.years
    if found is None:
        return None
    life = found[0].annual.life
    heads = ["in a year", *([] if life is None else [f"over {life.years} years"])]
    heads += [f"assurance in the flood of {share_words(p)}" for p in FLOODS]
    return {"heads": heads, "arrangements": [YearsLine(each.name, _figures(each.annual)) for each in found]}


def _figures(annual: Annual) -> tuple[tuple[str, str], ...]:
    by_flood = {line.annual_probability: line.assurance for line in annual.lines}
    life = [] if annual.life is None else [annual.life.probability]
    return tuple(rounded(each, "p") for each in (annual.probability, *life, *(by_flood[p] for p in FLOODS)))


SECTION = Section(
    "years", "Every arrangement in years", "Every arrangement in the floods of a year", _content, shows=("years",)
)
