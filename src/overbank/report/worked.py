"""One run worked line by line: the structure at the place that the answers are about, at the medians."""

from __future__ import annotations

import math

from overbank.outputs.outcome import Outcome
from overbank.site.by_hand.steps import Case, Worked
from overbank.study.kinds import KINDS


def worked(outcome: Outcome) -> Worked:
    """The steps at the place that the answers are about; a refusal in words where they cannot be worked by hand."""
    return worked_case(Case(outcome.problem.medians(), outcome.place, outcome.deterministic))


def worked_case(case: Case) -> Worked:
    """The steps of one run at one place."""
    if not math.isfinite(case.found["level"]):
        return _refused("with every number at its median there is no way through, so there is nothing to work")
    structure = case.element.structure
    by_hand = KINDS[structure.kind].by_hand
    if refusal := by_hand.refusal(case, structure):
        return _refused(refusal)
    steps = tuple(by_hand.steps(case, structure))
    return Worked(steps, case.element.governs(), f"{case.found['level']:.3f}\u00a0m", "", by_hand.SOURCES)


def _refused(why: str) -> Worked:
    return Worked((), "", "", why, "")
