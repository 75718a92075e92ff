"""What a run has found: every figure with its interval and the method that gave it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.automatic import Search
from overbank.analysis.convergence import Verdict
from overbank.analysis.intervals import Estimate
from overbank.findings.allowance import Panel, Readings
from overbank.findings.checks import Checks
from overbank.findings.knowing import Drivers, LearntFromFloods, Surveys, Swing
from overbank.findings.people import People
from overbank.findings.requirements import AskedFor
from overbank.findings.water import Blockage, Comparison, Headwater, Overtopping, Places
from overbank.findings.years import Annual
from overbank.notebook import shown
from overbank.site.influence import Influence
from overbank.site.row import SiteOutcome
from overbank.site.validity import Remark
from overbank.study.build import Problem
from overbank.study.load import Study
from overbank.words import cautions, rounded, share_words

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Samples:
    """The sampled inputs and what the site made of them.

    levels, margins : upstream of the place, and that level minus the bank [m], of all samples; shape (R, N)
    values, site : inputs [R, n, d] and all results of the samples held in full: the first n of every replicate, which
        are all of them where there are not more than about 2^18
    columns : names of the inputs that have a column of the sampling design
    """

    values: Array
    site: SiteOutcome
    levels: Array
    margins: Array
    columns: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """Everything a run has found."""

    study: Study
    problem: Problem
    place: str
    deterministic: SiteOutcome
    samples: Samples
    overtopping: Overtopping
    places: Places
    headwater: Headwater
    blockage: Blockage | None
    readings: Readings | None
    panel: Panel | None
    comparison: Comparison | None
    annual: Annual | None
    drivers: Drivers
    swings: tuple[Swing, ...]
    surveys: Surveys | None
    learnt: LearntFromFloods | None
    automatic: Search | None
    checks: Checks
    people: tuple[People, ...]
    asked_for: AskedFor | None
    influences: tuple[Influence, ...]
    remarks: tuple[Remark, ...]
    verdicts: dict[str, Verdict]
    runs: int
    seconds: dict[str, float]

    @property
    def target(self) -> float:
        """Accepted probability of overtopping in the design flood."""
        return self.study.content.decision.target_probability

    @property
    def assurance(self) -> float:
        """Probability with which allowance and bank level shall hold."""
        return self.study.content.decision.assurance

    def _repr_html_(self) -> str:
        """The headline figures with their intervals, as a notebook shows them, and the cautions."""
        gaps = self.problem.gaps()
        first, *others = cautions()
        rests = f"{self.samples.levels.size:,} samples; intervals are those of the sampling, not of the assumptions."
        lacking = [f"Without a basis: {', '.join(gaps)}."] if gaps else []
        below = [rests, *lacking, first]
        return shown(self.study.title, ("", "figure", "95 % interval"), self._headlines(), below, others)

    def _headlines(self) -> list[tuple[str, str, str]]:
        """Words, figure and interval of each headline figure."""
        target, assurance = share_words(self.target), share_words(self.assurance)
        found = [
            (f"overtopping at {self.place} in the design flood, accepted {target}", self.overtopping.best, "p"),
            (f"level with {assurance} assurance", self.headwater.quantiles[self.assurance], "m"),
        ]
        if self.blockage is not None:
            found.append((f"largest blockage within {target}", self.blockage.largest, "%"))
            found.append((f"blockage allowance, {assurance} assurance", self.blockage.allowance, "%"))
        if self.annual is not None:
            found.append(("overtopping in a year", self.annual.probability, "p"))
        level = float(self.deterministic.element(self.place).level[0])
        known = f"{level:.2f}\u00a0m" if math.isfinite(level) else "no way through"
        last = ("level of one run, every number at its median", known, "not sampled")
        return [*(_headline(*each) for each in found), last]


def _headline(words: str, estimate: Estimate, unit: str) -> tuple[str, str, str]:
    """A figure in words with its interval, and what must be known beside it."""
    value, interval = rounded(estimate, unit)
    return words, value, f"{interval}; {estimate.note}" if estimate.note else interval
