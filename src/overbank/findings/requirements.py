"""What a run has to set against an authority's own figures."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.intervals import Estimate


@dataclass(frozen=True)
class Beside:
    """A further figure that belongs to a line: in words, and a probability, or a length [m]."""

    words: str
    figure: Estimate
    is_length: bool


@dataclass(frozen=True)
class Required:
    """One figure that an authority asks for, and what the study has of it: no verdict.

    name, about, unit, reference : as the file says; asked : a share, or in m
    at_least : whether so much is asked at least, or at most
    has : the same of the study; nan where it has nothing, and infinite beyond all that was looked at
    basis : how that was found, or why there is nothing
    beside : what else a reader wants to know with it
    """

    name: str
    about: str
    unit: str
    reference: str
    asked: float
    at_least: bool
    has: Estimate
    basis: str
    beside: tuple[Beside, ...] = ()

    @property
    def short(self) -> float:
        """By how much the study falls short of the figure, a share or in m; negative where it has more than asked."""
        return self.asked - self.has.value if self.at_least else self.has.value - self.asked


@dataclass(frozen=True)
class AskedFor:
    """All lines of a file, and who asks."""

    authority: str
    lines: tuple[Required, ...]
