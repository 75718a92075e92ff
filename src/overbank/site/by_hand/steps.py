"""What a run worked line by line is made of: its steps, and the case that they are steps of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from overbank.hydraulics.sections import Section
from overbank.site.numbers import Numbers
from overbank.site.row import ElementOutcome, SiteOutcome


class Step(NamedTuple):
    """One step: what it gives, its symbol and formula, the numbers put in, the result and its unit."""

    what: str
    symbol: str
    formula: str
    numbers: str
    result: float
    unit: str

    @property
    def said(self) -> str:
        """The result with its unit, four figures; levels and heights to the millimetre."""
        shown = f"{self.result:.3f}" if self.unit == "m" else f"{self.result:.4g}"
        shown = shown.replace("-", "\u2212")
        return f"{shown}\u00a0{self.unit}" if self.unit else shown


class Worked(NamedTuple):
    """The steps, what governs, the level the program has found, and the sources; or why there are no steps."""

    steps: tuple[Step, ...]
    governs: str
    level: str
    refusal: str
    sources: str


@dataclass(frozen=True)
class Case:
    """One run of a site with every uncertain number at its median, and the place at which it is worked."""

    medians: Numbers
    place: str
    run: SiteOutcome

    @property
    def element(self) -> ElementOutcome:
        """What was found at the place."""
        return self.run.element(self.place)

    @property
    def found(self) -> dict[str, float]:
        """The same by name."""
        return {name: float(values[0]) for name, values in self.element.results.items()}

    @property
    def flow(self) -> float:
        """Flow through the place [m3/s]."""
        return float(self.run.flows[self._at][0])

    @property
    def below(self) -> float:
        """Level just downstream of the place [m]."""
        at = self._at
        return float((self.run.elements[at - 1].level if at else self.run.tailwater)[0])

    @property
    def _at(self) -> int:
        """Its place in the row, counted from below."""
        return [element.id for element in self.run.elements].index(self.place)

    @property
    def numbers(self) -> dict[str, float]:
        """Every number of the site."""
        return {name: float(np.asarray(number).flat[0]) for name, number in self.medians.items()}

    def number(self, key: str) -> float:
        """A number of the place by its path within it."""
        return self.numbers[f"{self.place}.{key}"]


def six(number: float) -> str:
    """A number as it is put in: six figures, so that the results can be had again to all figures shown."""
    shown = f"{number:.6g}".replace("-", "\u2212")
    return f"({shown})" if number < 0.0 else shown


def channel_area(section: Section, depth: float) -> tuple[str, str]:
    """Formula and numbers of the area of an open channel."""
    if section.side_slope == 0.0:
        return "b y", f"{six(section.width)} \u00d7 {six(depth)}"
    return "(b + s y) y", f"({six(section.width)} + {six(section.side_slope)} \u00d7 {six(depth)}) \u00d7 {six(depth)}"
