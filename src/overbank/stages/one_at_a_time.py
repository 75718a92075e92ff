"""One input at a time: the level with each input low and high, every other one at its median."""

from __future__ import annotations

from overbank.findings.knowing import Swing
from overbank.model import Model

SHARES = (0.10, 0.90)
"""Quantiles of each input that are tried."""


def swings(model: Model) -> tuple[Swing, ...]:
    """What each input does to the level when it goes from its median to its 10 % and to its 90 % quantile."""
    middle = float(model.levels(model.medians())[0])
    found = []
    for item in model.problem.inputs.items:
        low, high = (float(item.distribution.quantile(share)) for share in SHARES)
        levels = tuple(model.level_with(item.name, value) for value in (low, high))
        found.append(Swing(item.name, (low, high), (levels[0], levels[1]), (levels[0] - middle, levels[1] - middle)))
    return tuple(found)
