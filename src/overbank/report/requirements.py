"""An authority's own figures line by line: what is asked, what the study has, and by how much that is more or less."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.outputs.requirements import AskedFor, Beside, Required
from overbank.study.requirements import UNITS
from overbank.words import change, known_decimals, rounded

DECIMALS = {"%": 1, "m": 2, "mm": 0, "ft": 2, "in": 1}
"""Decimals of a figure that no sampling scatters."""


class RequiredRow(NamedTuple):
    """One line: its name and reference, what is asked, what the study has with its interval and basis, and the two
    against each other."""

    name: str
    reference: str
    asked: str
    has: str
    interval: str
    basis: str
    against: str
    beside: tuple[str, ...]


def rows(outcome: Outcome) -> tuple[RequiredRow, ...]:
    """The lines of the file; nothing where the study names none."""
    return () if outcome.requirements is None else rows_of(outcome.requirements)


def rows_of(asked_for: AskedFor) -> tuple[RequiredRow, ...]:
    """The lines in words."""
    return tuple(_row(line) for line in asked_for.lines)


def _row(line: Required) -> RequiredRow:
    has, interval = _has(line)
    return RequiredRow(
        name=line.name,
        reference=line.reference,
        asked=f"{'at least' if line.at_least else 'at most'} {_asked(line.asked, line.unit)}",
        has=has,
        interval=interval,
        basis=line.basis,
        against=_against(line),
        beside=tuple(_beside(each) for each in line.beside),
    )


def _asked(asked: float, unit: str) -> str:
    """The figure as the authority gave it."""
    return f"{asked / UNITS[unit]:.6g}\u00a0{unit}"


def _has(line: Required) -> tuple[str, str]:
    """What the study has, and its interval; without an interval where nothing was sampled."""
    value = line.has.value
    if math.isnan(value):
        return "nothing", ""
    if math.isinf(value):
        return ("more" if value > 0 else "less") + " than all that was looked at", ""
    if math.isnan(line.has.low):
        return _said(value, line.unit, DECIMALS[line.unit]), ""
    if line.unit == "%":
        said = rounded(line.has, "p")
        return said.value, f"95\u00a0% interval {said.interval}"
    decimals = _decimals(line)
    low, high = (_said(end, line.unit, decimals) for end in (line.has.low, line.has.high))
    return _said(value, line.unit, decimals), f"95\u00a0% interval {low.partition(chr(0xA0))[0]} to {high}"


def _decimals(line: Required) -> int:
    """Decimals of the figure in its unit that its interval supports."""
    if math.isnan(line.has.low):
        return DECIMALS[line.unit]
    most = DECIMALS[line.unit] + (line.unit == "%" and line.asked < 0.01)
    return known_decimals(line.has, most, 1.0 / UNITS[line.unit])


def _said(number: float, unit: str, decimals: int) -> str:
    shown = f"{round(number / UNITS[unit], decimals) + 0.0:.{decimals}f}".replace("-", "\u2212")
    return f"{shown}\u00a0{unit}"


def _against(line: Required) -> str:
    """Meets the figure, or below or above it and by how much; never more than that."""
    if math.isnan(line.has.value):
        return "nothing to set against it"
    held = line.has.low <= line.asked <= line.has.high
    also = "; the interval holds the figure" if held else ""
    if line.short <= 0.0:
        return f"meets the figure{also}"
    side = "below" if line.at_least else "above"
    if math.isinf(line.short):
        return f"{side} the figure"
    return f"{side} the figure by {_by(line)}{also}"


def _by(line: Required) -> str:
    """The difference, never shown as nought."""
    unit, decimals = line.unit, _decimals(line)
    least = 10.0**-decimals
    named = "points" if unit == "%" else unit
    if line.short / UNITS[unit] < 0.5 * least:
        return f"less than {least:.{decimals}f}\u00a0{named}"
    return _said(line.short, unit, decimals).replace("%", "points")


def _beside(each: Beside) -> str:
    said = change(each.figure, "m") if each.is_length else rounded(each.figure, "p")
    return f"{each.words}: {said.value} ({_interval(each.figure, said.interval)})"


def _interval(figure: Estimate, words: str) -> str:
    return words if math.isnan(figure.low) else f"95\u00a0% interval {words}"
