"""What the certain numbers of a problem rest on."""

from __future__ import annotations

from overbank.study.build import Problem


def certain_basis(problem: Problem) -> dict[str, str]:
    """Where certain numbers come from, those of the program's own defaults too."""
    return {item.name: item.basis for item in problem.assumptions if not item.uncertain and item.basis is not None}
