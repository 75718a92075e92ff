"""overbank: how high the water stands upstream of a structure, and how much blockage to allow.

    study = overbank.read_study("studies/quillet-lane")
    outcome = overbank.run_study(study)
    outcome.overtopping.best, overbank.tables(outcome)["exceedance"], overbank.figure(outcome, "exceedance")
    overbank.write_results(outcome, "results")

Every name is fetched when it is first used, so that importing the package costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from overbank._jit import sweep
    from overbank.analysis.intervals import Estimate
    from overbank.commands.many import run_studies
    from overbank.errors import DomainError, Fault, FolderError, OverbankError, StudyError
    from overbank.outputs.medians import DeterministicRun
    from overbank.outputs.medians import deterministic_run as check_study
    from overbank.outputs.outcome import Outcome
    from overbank.outputs.surrogate import fit_surrogate
    from overbank.report.by_name import figure
    from overbank.results import sweep_study, tables, write_results
    from overbank.run import run as run_study
    from overbank.study.load import Study, make_study, read_study

__version__ = "0.1.0"

__all__ = [
    "DeterministicRun",
    "DomainError",
    "Estimate",
    "Fault",
    "FolderError",
    "Outcome",
    "OverbankError",
    "Study",
    "StudyError",
    "check_study",
    "figure",
    "fit_surrogate",
    "make_study",
    "read_study",
    "run_studies",
    "run_study",
    "sweep",
    "sweep_study",
    "tables",
    "write_results",
]

_HOMES = {
    "DeterministicRun": "outputs.medians",
    "DomainError": "errors",
    "Estimate": "analysis.intervals",
    "Fault": "errors",
    "FolderError": "errors",
    "Outcome": "outputs.outcome",
    "OverbankError": "errors",
    "Study": "study.load",
    "StudyError": "errors",
    "check_study": "outputs.medians:deterministic_run",
    "figure": "report.by_name",
    "fit_surrogate": "outputs.surrogate",
    "make_study": "study.load",
    "read_study": "study.load",
    "run_studies": "commands.many",
    "run_study": "run:run",
    "sweep": "_jit",
    "sweep_study": "results",
    "tables": "results",
    "write_results": "results",
}
"""The module of each public name, and its name there where it differs."""


def __getattr__(name: str) -> Any:
    """Fetch a public name from its module."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, there = _HOMES[name].partition(":")
    value = getattr(import_module(f"{__name__}.{module}"), there or name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
