"""One figure of an outcome by its name, for a notebook."""

from __future__ import annotations

from matplotlib.figure import Figure

from overbank.errors import DomainError
from overbank.outcome import Outcome
from overbank.report.figures import FIGURES


def figure(outcome: Outcome, name: str) -> Figure:
    """The figure of that name: exceedance, overtopping_by_blockage, blockage_distribution, drivers, long_section.

    Raises
    ------
    DomainError : there is no figure of that name
    """
    if name not in FIGURES:
        raise DomainError(f"figure: expected one of {', '.join(FIGURES)}; got {name!r}")
    return FIGURES[name](outcome)
