"""The authority's sheet: the floods of a year for every arrangement, before and after, in one table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from overbank.outputs.annual import YEARS
from overbank.outputs.learnt import NAMED
from overbank.outputs.outcome import Outcome
from overbank.outputs.years import InYears, Sheet
from overbank.report.sections.section import Section
from overbank.words import Rounded, change, rounded, share_words


class YearsLine(NamedTuple):
    """An arrangement, and figures with their intervals."""

    name: str
    figures: tuple[Rounded, ...]


def _content(outcome: Outcome) -> dict[str, Any] | None:
    found = outcome.years
    if found is None:
        return None
    heads = ["in a year", *(f"over {years} years" for years in YEARS)]
    heads += [f"assurance in the flood of {share_words(p)}" for p in NAMED]
    return {
        "heads": heads,
        "arrangements": [line for each in found for line in _lines(each)],
        "several": len(found) > 1,
    }


def _lines(found: InYears) -> Iterator[YearsLine]:
    yield YearsLine(found.name, tuple(rounded(each, "p") for each in _figures(found.sheet)))
    if found.after is not None:
        name = f"{found.name}, after the floods seen"
        yield YearsLine(name, tuple(rounded(each, "p") for each in _figures(found.after)))
    if found.change is not None:
        words = "difference to as it stands"
        yield YearsLine(words, tuple(change(each, "p") for each in _figures(found.change)))


def _figures(sheet: Sheet) -> tuple[Any, ...]:
    return (sheet.in_a_year, *sheet.over.values(), *sheet.assurance.values())


SECTION = Section(
    "years", "Years and assurance", "In a year, over many, and in named floods", _content, shows=("years",)
)
