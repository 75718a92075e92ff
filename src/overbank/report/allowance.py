"""The allowance in every reading: tables over targets, floods and models."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.allowances import Readings
from overbank.outputs.outcome import Outcome
from overbank.words import measure, rounded, share_words


class Line(NamedTuple):
    """One row: what it is about, then value and interval of each figure."""

    words: str
    figures: tuple[tuple[str, str], ...]


class Table(NamedTuple):
    """A table with its caption, the heads of its columns and its rows."""

    caption: str
    heads: tuple[str, ...]
    lines: tuple[Line, ...]


def tables(outcome: Outcome) -> tuple[Table, ...]:
    """The readings; nothing without an uncertain blockage."""
    found = outcome.allowances
    if found is None:
        return ()
    several = (_floods(found),) if len(found.floods) > 1 else ()  # of one flood they stand on the curve already
    return (_tolerated(found), _assured(found), _fixed(found), _assumed(found, outcome), *several)


def _tolerated(found: Readings) -> Table:
    lines = tuple(Line(share_words(each.target), (_said(each.largest, "%"),)) for each in found.tolerated)
    head = ("accepted probability of overtopping", "largest blockage")
    return Table("Reading 1: the largest blockage that may always be there", head, lines)


def _assured(found: Readings) -> Table:
    lines = tuple(
        Line(share_words(each.assurance), (_said(each.level, "m"), _allowed(each.allowance))) for each in found.assured
    )
    head = ("assurance", "level not exceeded", "blockage that gives it in one run")
    return Table("Reading 2: the one blockage that stands for all the uncertainty", head, lines)


def _fixed(found: Readings) -> Table:
    lines = tuple(
        Line(
            share_words(each.blockage),
            ((measure(each.level, "m"), "one run"), _said(each.exceeded, "p"), _said(each.overtopping, "p")),
        )
        for each in found.fixed
    )
    head = ("fixed allowance", "level of one run", "the water stands higher", "overtopping, were it always so")
    return Table("Reading 3: what an allowance fixed beforehand means", head, lines)


def _assumed(found: Readings, outcome: Outcome) -> Table:
    lines = tuple(
        Line(each.words, (_said(each.probability, "p"), _said(each.level, "m"), _allowed(each.allowance)))
        for each in found.assumed
    )
    assurance = share_words(outcome.assurance)
    head = ("blockage model", "overtopping", f"level, {assurance} assurance", f"allowance, {assurance} assurance")
    return Table("How the answer moves with the model of the blockage", head, lines)


def _floods(found: Readings) -> Table:
    shares = tuple(found.floods[0].levels)
    lines = tuple(
        Line(
            f"{each.words}, {each.flow:.3g}\u00a0m³/s",
            tuple((measure(level, "m") if math.isfinite(level) else "no way", "") for level in each.levels.values()),
        )
        for each in found.floods
    )
    head = ("flood", *(f"{100.0 * share:.0f}\u00a0% blocked" for share in shares))
    return Table("Levels of one run at fixed blockages, every other number at its median", head, lines)


def _allowed(allowance: Estimate) -> tuple[str, str]:
    """A blockage; where none gives the level, that is said and why."""
    return _said(allowance, "%")


def _said(estimate: Estimate, unit: str) -> tuple[str, str]:
    said = rounded(estimate, unit)
    return said.value, said.interval
