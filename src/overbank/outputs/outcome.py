"""What a run has found: every figure with its interval and the method that gave it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from overbank.analysis.intervals import Estimate
from overbank.notebook import shown
from overbank.outputs.registry import ABSENT, Results
from overbank.sampling.samples import Samples
from overbank.site.influence import Influence
from overbank.site.row import SiteOutcome
from overbank.study.build import Problem
from overbank.study.load import Study
from overbank.study.slips import slips
from overbank.words import cautions, rounded, share_words


@dataclass(frozen=True, kw_only=True, repr=False)
class Outcome(Results):
    """Everything a run has found; an output that was not asked for is None.

    place : id of the structure whose bank counts
    samples : None where nothing that was asked for takes any
    asked : names of the outputs that were asked for; None where all were
    quick : whether it is only a first look, with few samples
    runs : of the model; seconds : that each stage took

    Examples
    --------
    >>> sorted(outcome.headwater.quantiles)
    [0.5, 0.8, 0.9, 0.95, 0.99]
    >>> 0.0 < outcome.blockage.largest.value < 1.0
    True
    """

    study: Study
    problem: Problem
    place: str
    samples: Samples = ABSENT
    asked: tuple[str, ...] | None = None
    quick: bool = False
    runs: int = 0
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def deterministic(self) -> SiteOutcome:
        """The site with every uncertain number at its median."""
        return self.medians.outcome

    @property
    def influences(self) -> tuple[Influence, ...]:
        """How far upstream each structure is felt."""
        return self.medians.influences

    @property
    def target(self) -> float:
        """Accepted probability of overtopping in the design flood."""
        return self.study.content.decision.target_probability

    @property
    def assurance(self) -> float:
        """Probability with which allowance and bank level shall hold."""
        return self.study.content.decision.assurance

    def __repr__(self) -> str:
        said = (f"{words}: {value}" for words, value, _ in self._headlines())
        return f"<Outcome {self.study.title!r}: {'; '.join(said)}>"

    def _repr_html_(self) -> str:
        """The headline figures with their intervals, as a notebook shows them, and the cautions."""
        gaps = self.problem.gaps()
        first, *others = cautions()
        lacking = [f"Without a basis: {', '.join(gaps)}."] if gaps else []
        below = [*self._rests(), *lacking, *(f"Does this look right? {words}." for words in self.slips), first]
        return shown(self.study.title, ("", "figure", "95 % interval"), list(self._headlines()), below, others)

    @property
    def slips(self) -> tuple[str, ...]:
        """Numbers of the study that can be true and look wrong, each with its line and why."""
        return slips(self.study, self.problem)

    @property
    def limits(self) -> tuple[str, ...]:
        """What was left out of this run, in words; nothing where it was run in full."""
        quick = ("A quick look with few samples: run the study in full before anything rests on it.",)
        asked = () if self.asked is None else (f"Only this was asked for: {', '.join(self.asked)}.",)
        return (*(quick if self.quick else ()), *asked)

    def _rests(self) -> Iterator[str]:
        """What the figures rest on."""
        yield from self.limits
        if self.samples is not None:
            many = f"{self.samples.levels.size:,} samples"
            yield f"{many}; intervals are those of the sampling, not of the assumptions."

    def _headlines(self) -> Iterator[tuple[str, str, str]]:
        """Words, figure and interval of each headline figure."""
        target, assurance = share_words(self.target), share_words(self.assurance)
        if self.overtopping is not None:
            words = f"overtopping at {self.place} in the design flood, accepted {target}"
            yield _headline(words, self.overtopping.best, "p")
        if self.headwater is not None:
            yield _headline(f"level with {assurance} assurance", self.headwater.quantiles[self.assurance], "m")
        if self.blockage is not None:
            yield _headline(f"largest blockage within {target}", self.blockage.largest, "%")
            yield _headline(f"blockage allowance, {assurance} assurance", self.blockage.allowance, "%")
        if self.annual is not None:
            yield _headline("overtopping in a year", self.annual.probability, "p")
        if self.medians is not None:
            level = float(self.deterministic.element(self.place).level[0])
            known = f"{level:.2f}\u00a0m" if math.isfinite(level) else "no way through"
            yield "level of one run, every number at its median", known, "not sampled"


def _headline(words: str, estimate: Estimate, unit: str) -> tuple[str, str, str]:
    """A figure in words with its interval, and what must be known beside it."""
    value, interval = rounded(estimate, unit)
    more = estimate.note and not math.isnan(estimate.value)
    return words, value, f"{interval}; {estimate.note}" if more else interval
