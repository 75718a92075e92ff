"""One figure of an outcome by its name, for a notebook."""

from __future__ import annotations

from matplotlib.figure import Figure

from overbank.errors import DomainError
from overbank.outputs.outcome import Outcome
from overbank.report.figures import FIGURES, figures_of


def figure(outcome: Outcome, name: str) -> Figure:
    """The figure of that name: exceedance, overtopping_by_blockage, blockage_distribution, drivers, long_section,
    cross_sections and the others of a report.

    Raises
    ------
    DomainError : there is no figure of that name, or the study asks for nothing that it could show

    Examples
    --------
    >>> overbank.figure(outcome, "exceedance").axes[0].get_xlabel() != ""
    True
    """
    if name not in figures_of(outcome):
        none = "" if name not in FIGURES else ", for which the study asks nothing"
        raise DomainError(f"figure: expected one of {', '.join(figures_of(outcome))}; got {name!r}{none}")
    return FIGURES[name](outcome)
