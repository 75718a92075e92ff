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
    """One thing wrong with a study file: where it is, what was expected, what came, what to do."""

    place: str
    expected: str
    got: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.place}: expected {self.expected}; got {self.got}. {self.remedy}"


class OverbankError(Exception):
    """Root of the errors raised on purpose; the command line prints it without a traceback, exit status 2."""


class StudyError(OverbankError):
    """All faults of one study file, found in one pass."""

    def __init__(self, source: str, faults: tuple[Fault, ...]) -> None:
        self.source = source
        self.faults = faults
        heading = f"{source}: {len(faults)} fault{'s' if len(faults) != 1 else ''}"
        super().__init__("\n".join([heading, *(f"  {fault}" for fault in faults)]))


class DomainError(OverbankError):
    """Asked for something outside what a formula or a method can answer."""


class FolderError(OverbankError):
    """A results folder cannot be written or read."""
