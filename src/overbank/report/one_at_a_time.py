"""One input at a time: the level with each input low and high, every other one at its median."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.outputs.one_at_a_time import Swing
from overbank.outputs.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import certain_level
from overbank.study.patterns import WORDED
from overbank.words import measure

LEAST = 0.005
"""A smaller change of the level would be written as none [m]."""


class Line(NamedTuple):
    """What one input does to the level: plain words, path, its two values, the two changes, and bars [% of the width].

    left, width : of the bar between both levels; None where a level is endless
    """

    words: str
    path: str
    values: tuple[str, str]
    changes: tuple[str, str]
    left: float | None
    width: float | None


class Tests(NamedTuple):
    """The level that all are compared with, where it stands on the bars [%], and what moves it, the widest first.

    idle : how many inputs move it by less than a centimetre is written with
    """

    level: str
    at: float
    swings: tuple[Line, ...]
    idle: int


def tests(outcome: Outcome) -> Tests | None:
    """None where there is no level with every number at its median."""
    middle = _middle(outcome)
    if not math.isfinite(middle):
        return None
    found = sorted(outcome.one_at_a_time, key=lambda each: -_swing(each.changes))
    ends = [change for each in found for change in each.changes if math.isfinite(change)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    span = max(high - low, 1e-9)
    told = [each for each in found if not _swing(each.changes) < LEAST]
    swings = tuple(_line(each, low, span) for each in told)
    return Tests(measure(middle, "m"), round(-100.0 * low / span, 2), swings, len(found) - len(told))


def _middle(outcome: Outcome) -> float:
    """The level with every number at its median [m], from the changes where that run itself was not asked for."""
    if outcome.medians is not None:
        return certain_level(outcome)
    pairs = [pair for each in outcome.one_at_a_time for pair in zip(each.levels, each.changes, strict=True)]
    return next((level - change for level, change in pairs if math.isfinite(change)), math.nan)


def _swing(pair: tuple[float, float]) -> float:
    spread = max(*pair, 0.0) - min(*pair, 0.0)
    return math.inf if math.isnan(spread) else spread


def _line(found: Swing, low: float, span: float) -> Line:
    known, pair = plain_name(found.name), found.changes
    values = tuple(_value(found.name, value) for value in found.values)
    left: float | None = None
    width: float | None = None
    if all(math.isfinite(change) for change in pair):
        left = round(100.0 * (min(*pair, 0.0) - low) / span, 2)
        width = round(100.0 * _swing(pair) / span, 2)
    words = f"{known.group}: {known.part + ', ' if known.part else ''}{known.with_unit}"
    return Line(words, found.name, (values[0], values[1]), (_said(pair[0]), _said(pair[1])), left, width)


def _value(name: str, value: float) -> str:
    """A value of an input; of one that stands for words, the word."""
    words = WORDED.get(name.rsplit(".", 1)[-1])
    return words[round(value)].replace("_", " ") if words else f"{value:.4g}"


def _said(change: float) -> str:
    return measure(round(change, 2) + 0.0, "m", signed=True)
