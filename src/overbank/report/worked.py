"""One run worked line by line: the structure at the place that the answers are about, at the medians."""

from __future__ import annotations

import math

from overbank.outputs.outcome import Outcome
from overbank.report import worked_bridge, worked_culvert, worked_weir
from overbank.report.steps import Case, Step, Worked
from overbank.site.bridge import Bridge
from overbank.site.regimes import regime_words
from overbank.site.structures import Culvert
from overbank.site.weir import Weir


def worked(outcome: Outcome) -> Worked:
    """The steps at the place that the answers are about; a refusal in words where they cannot be worked by hand."""
    return worked_case(Case(outcome.problem, outcome.place, outcome.deterministic))


def worked_case(case: Case) -> Worked:
    """The steps of one run at one place."""
    refusal, steps, sources = _steps(case)
    if refusal:
        return Worked((), "", "", refusal, "")
    governs = regime_words(case.element.kind, case.found["regime"])
    return Worked(steps, governs, f"{case.found['level']:.3f}\u00a0m", "", sources)


def _steps(case: Case) -> tuple[str, tuple[Step, ...], str]:
    """Why there are none, the steps, and the sources of their formulas."""
    structure = next(element for element in case.problem.site.elements if element.id == case.place)
    if not math.isfinite(case.found["level"]):
        return "with every number at its median there is no way through, so there is nothing to work", (), ""
    match structure:
        case Culvert():
            refusal = worked_culvert.refusal(case, structure)
            return refusal, () if refusal else tuple(worked_culvert.steps(case, structure)), worked_culvert.SOURCES
        case Weir():
            refusal = worked_weir.refusal(case, structure)
            return refusal, () if refusal else tuple(worked_weir.steps(case, structure)), worked_weir.SOURCES
        case Bridge():
            refusal = worked_bridge.refusal(case, structure)
            return refusal, () if refusal else tuple(worked_bridge.steps(case, structure)), worked_bridge.SOURCES
    return "an open reach is a profile along its length, which is not worked by hand", (), ""
