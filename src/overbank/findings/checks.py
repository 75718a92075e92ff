"""The usual design checks."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.overtopping import Probability


@dataclass(frozen=True)
class CheckedFigure:
    """A usual design check of an element: a figure, what is asked of it, and how likely it is to be less.

    name, words, unit : of the figure; the unit is "m", or empty for a ratio
    asked : what it is set against; asked_by : "study", "default" where the study asks for nothing, empty where nobody
        asks but the figure has a natural measure
    certain : the figure with every uncertain number at its median; `-inf` where there is no way through
    below : P(figure < asked); negative : P(figure < 0), None for a ratio
    """

    element: str
    name: str
    words: str
    unit: str
    asked: float
    asked_by: str
    certain: float
    below: Probability
    negative: Probability | None


@dataclass(frozen=True)
class CheckedBarrels:
    """How the barrels of a culvert flow, in words: with every number at its median, and as shares of the samples."""

    element: str
    certain: str
    shares: dict[str, Probability]


@dataclass(frozen=True)
class Checks:
    """The usual design checks: figures, not verdicts."""

    figures: tuple[CheckedFigure, ...]
    barrels: tuple[CheckedBarrels, ...]
