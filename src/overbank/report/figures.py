"""Every figure of the report by its name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from matplotlib.figure import Figure

from overbank.outputs.outcome import Outcome
from overbank.report.along import along_inputs, drawn_inputs
from overbank.report.arrangements import arrangements
from overbank.report.convergence import convergence, settles
from overbank.report.cross_sections import cross_sections
from overbank.report.curves import blockage_distribution, exceedance, overtopping_by_blockage
from overbank.report.frequency import frequency
from overbank.report.learnt import learnt_figure
from overbank.report.long_section import long_section
from overbank.report.passing import course_of_flood, has_course, hours_over_bank, warning_by_travel
from overbank.report.ranking import drivers
from overbank.report.sections.registry import SECTIONS
from overbank.report.surveys import surveys

FIGURES: Mapping[str, Callable[[Outcome], Figure]] = MappingProxyType(
    {
        "exceedance": exceedance,
        "overtopping_by_blockage": overtopping_by_blockage,
        "blockage_distribution": blockage_distribution,
        "arrangements": arrangements,
        "frequency": frequency,
        "course_of_flood": course_of_flood,
        "hours_over_bank": hours_over_bank,
        "warning_by_travel": warning_by_travel,
        "drivers": drivers,
        "along_inputs": along_inputs,
        "surveys": surveys,
        "learnt": learnt_figure,
        "long_section": long_section,
        "cross_sections": cross_sections,
        "convergence": convergence,
    }
)
"""Name -> the function that draws it from an outcome."""

NEEDS: Mapping[str, Callable[[Outcome], object]] = MappingProxyType(
    {
        "overtopping_by_blockage": lambda outcome: outcome.blockage,
        "blockage_distribution": lambda outcome: outcome.blockage,
        "arrangements": lambda outcome: outcome.comparison,
        "frequency": lambda outcome: outcome.annual,
        "course_of_flood": lambda outcome: outcome.through_flood and (has_course(outcome) or None),
        "hours_over_bank": lambda outcome: outcome.through_flood,
        "warning_by_travel": lambda outcome: outcome.through_flood and outcome.through_flood.by_travel,
        "surveys": lambda outcome: (outcome.surveys and outcome.surveys.narrowings) or None,
        "learnt": lambda outcome: outcome.learnt and outcome.learnt.taught,
        "drivers": lambda outcome: outcome.drivers,
        "along_inputs": lambda outcome: outcome.drivers and (drawn_inputs(outcome) or None),
        "convergence": lambda outcome: any(map(settles, (outcome.convergence or {}).values())) or None,
    }
)
"""What a figure needs of an outcome, without which it has nothing to show: an uncertain blockage, alternatives, annual
maxima, debris in time, surveys on offer, floods that were seen and could be learnt from, a headline figure that is a
number, an input that acts."""


def figures_of(outcome: Outcome) -> tuple[str, ...]:
    """Names of the figures that say something about this outcome."""
    shown = {name for section in SECTIONS if section.is_found(outcome) for name in section.figures}
    return tuple(name for name in FIGURES if name in shown and (name not in NEEDS or NEEDS[name](outcome) is not None))
