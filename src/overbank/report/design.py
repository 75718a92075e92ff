"""The usual design checks and how far upstream structures are felt: rows of text, ready for the page."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.outputs.checks import CheckedBarrels, CheckedFigure
from overbank.outputs.outcome import Outcome
from overbank.site.influence import Influence
from overbank.words import asked_words, measure, rounded


class FigureLine(NamedTuple):
    """One figure: at the medians, what it is set against, the margin, and how often it is less in the samples."""

    figure: str
    certain: str
    asked: str
    margin: str
    below: str


class FigureGroup(NamedTuple):
    """The figures of one element."""

    element: str
    lines: tuple[FigureLine, ...]


class FlowLine(NamedTuple):
    """How barrels flow in a share of the samples; `certain` marks that of the run at the medians."""

    words: str
    share: str
    interval: str
    certain: bool


class FlowGroup(NamedTuple):
    """How the barrels of one culvert flow."""

    element: str
    lines: tuple[FlowLine, ...]


class FeltLine(NamedTuple):
    """How far upstream one structure is felt."""

    element: str
    afflux: str
    tenth: str
    small: str
    notes: str


def figures(outcome: Outcome) -> tuple[FigureGroup, ...]:
    """The usual figures of every culvert and bridge, going upstream."""
    return tuple(
        FigureGroup(f"{element.id} ({element.kind})", lines)
        for element in outcome.deterministic.elements
        if (lines := tuple(_figure(each) for each in outcome.checks.figures if each.element == element.id))
    )


def _figure(each: CheckedFigure) -> FigureLine:
    margin = each.certain - each.asked
    return FigureLine(
        each.words,
        measure(each.certain, each.unit),
        asked_words(each.asked, each.unit, each.asked_by),
        measure(margin, each.unit, signed=True) if math.isfinite(margin) else "",
        _less(each),
    )


def _less(each: CheckedFigure) -> str:
    """How often the figure is less than what it is set against, and, where that is more than nought, than nought."""
    below = rounded(each.below, "p")
    said = f"{below.value} ({below.interval})"
    if each.negative is None or each.asked == 0.0:
        return said
    return f"{said}; less than nought {rounded(each.negative, 'p').value}"


def flows(outcome: Outcome) -> tuple[FlowGroup, ...]:
    """How the barrels of every culvert flow, going upstream."""
    return tuple(FlowGroup(each.element, _flows(each)) for each in outcome.checks.barrels)


def _flows(each: CheckedBarrels) -> tuple[FlowLine, ...]:
    return tuple(FlowLine(words, *rounded(share, "p"), words == each.certain) for words, share in each.shares.items())


def felt(outcome: Outcome) -> tuple[FeltLine, ...]:
    """How far upstream every structure is felt, with every number at its median."""
    return tuple(_felt(each) for each in outcome.influences)


def _felt(each: Influence) -> FeltLine:
    notes = ". ".join(note[0].upper() + note[1:] for note in each.notes())
    return FeltLine(
        f"{each.element} ({each.kind})",
        measure(each.at_structure, "m"),
        each.in_words(each.to_tenth),
        each.in_words(each.to_small),
        f"{notes}." if notes else "",
    )
