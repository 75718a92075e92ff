"""Every error that overbank raises on purpose.

OverbankError
├── StudyError      the study file, or a file it names, cannot be used; carries every fault found
├── DomainError     a formula or a method was asked for something outside what it can answer
└── FolderError     a results folder cannot be written or read
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a study file: where it is, what was expected, what came, what to do.

    Examples
    --------
    >>> str(overbank.Fault("line 3", "a level [m]", "the text 'high'", "Write a number."))
    "line 3: expected a level [m]; got the text 'high'. Write a number."
    """

    place: str
    expected: str
    got: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.place}: expected {self.expected}; got {self.got}. {self.remedy}"


class OverbankError(Exception):
    """Root of the errors raised on purpose; the command line prints it without a traceback, exit status 2.

    Examples
    --------
    >>> issubclass(overbank.StudyError, overbank.OverbankError)
    True
    """


class StudyError(OverbankError):
    """All faults of one study file, found in one pass.

    Examples
    --------
    >>> try:
    ...     study.with_value("lane.screen.gap_m", -1.0)
    ... except overbank.StudyError as error:
    ...     len(error.faults)
    1
    """

    def __init__(self, source: str, faults: tuple[Fault, ...]) -> None:
        self.source = source
        self.faults = faults
        heading = f"{source}: {len(faults)} fault{'s' if len(faults) != 1 else ''}"
        super().__init__("\n".join([heading, *(f"  {fault}" for fault in faults)]))


class DomainError(OverbankError):
    """Asked for something outside what a formula or a method can answer.

    Examples
    --------
    >>> try:
    ...     study.alternative("Wider")
    ... except overbank.DomainError as error:
    ...     "Wider" in str(error)
    True
    """


class FolderError(OverbankError):
    """A results folder cannot be written or read.

    Examples
    --------
    >>> try:
    ...     overbank.write_results(outcome, folder / "studies")
    ... except overbank.FolderError as error:
    ...     "studies" in str(error)
    True
    """
