"""One input at a time: the level with each input low and high, every other one at its median."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.model import Model
from overbank.outcome import Outcome
from overbank.report.names import plain_name
from overbank.report.readings import certain_level
from overbank.words import measure

SHARES = (0.10, 0.90)
"""Quantiles of each input that are tried."""


class Swing(NamedTuple):
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
    """The level that all are compared with, where it stands on the bars [%], and every input, the widest first."""

    level: str
    at: float
    swings: tuple[Swing, ...]


def changes(outcome: Outcome) -> dict[str, tuple[float, float]]:
    """Change of the level when an input goes from its median to its 10 % and its 90 % quantile [m]."""
    model, middle = Model(outcome.problem), certain_level(outcome)
    found = {}
    for item in outcome.problem.inputs.items:
        low, high = (model.level_with(item.name, float(item.distribution.quantile(share))) for share in SHARES)
        found[item.name] = (low - middle, high - middle)
    return found


def tests(outcome: Outcome) -> Tests | None:
    """None where there is no level with every number at its median."""
    middle = certain_level(outcome)
    if not math.isfinite(middle):
        return None
    found = dict(sorted(changes(outcome).items(), key=lambda item: -_swing(item[1])))
    ends = [change for pair in found.values() for change in pair if math.isfinite(change)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    span = max(high - low, 1e-9)
    swings = tuple(_line(outcome, name, pair, low, span) for name, pair in found.items())
    return Tests(measure(middle, "m"), round(-100.0 * low / span, 2), swings)


def _swing(pair: tuple[float, float]) -> float:
    spread = max(*pair, 0.0) - min(*pair, 0.0)
    return math.inf if math.isnan(spread) else spread


def _line(outcome: Outcome, name: str, pair: tuple[float, float], low: float, span: float) -> Swing:
    known = plain_name(name)
    distribution = outcome.problem.inputs.items[outcome.problem.inputs.index(name)].distribution
    values = tuple(f"{float(distribution.quantile(share)):.4g}" for share in SHARES)
    left: float | None = None
    width: float | None = None
    if all(math.isfinite(change) for change in pair):
        left = round(100.0 * (min(*pair, 0.0) - low) / span, 2)
        width = round(100.0 * _swing(pair) / span, 2)
    words = f"{known.group}: {known.part + ', ' if known.part else ''}{known.with_unit}"
    return Swing(words, name, (values[0], values[1]), (_said(pair[0]), _said(pair[1])), left, width)


def _said(change: float) -> str:
    return measure(round(change, 2) + 0.0, "m", signed=True)
