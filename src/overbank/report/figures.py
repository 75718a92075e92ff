"""Every figure of the report by its name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from matplotlib.figure import Figure

from overbank.outcome import Outcome
from overbank.report.curves import blockage_distribution, exceedance, overtopping_by_blockage
from overbank.report.long_section import long_section
from overbank.report.ranking import drivers

FIGURES: Mapping[str, Callable[[Outcome], Figure]] = MappingProxyType(
    {
        "exceedance": exceedance,
        "overtopping_by_blockage": overtopping_by_blockage,
        "blockage_distribution": blockage_distribution,
        "drivers": drivers,
        "long_section": long_section,
    }
)
"""Name -> the function that draws it from an outcome."""

OF_BLOCKAGE = frozenset({"overtopping_by_blockage", "blockage_distribution"})
"""Figures that a study without uncertain blockage has no use for."""


def figures_of(outcome: Outcome) -> tuple[str, ...]:
    """Names of the figures that say something about this outcome."""
    return tuple(name for name in FIGURES if outcome.blockage is not None or name not in OF_BLOCKAGE)
