"""The usual design checks as figures with what is asked of them: margins of every sample, never verdicts.

What is asked is set by local standards and comes from the study, under `<id>.asked`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.site.numbers import Array, Numbers
from overbank.site.row import SiteOutcome


@dataclass(frozen=True)
class DesignCheck:
    """One figure of every sample, and what is asked of it.

    element : id of the structure; name : of the figure, beginning with "relief_" for relief barrels; words : what it is
    unit : "m", or empty for a ratio
    asked : what it is set against; asked_by : dotted path of that number, empty where no standard asks for it
    values : one a sample; `-inf` where there is no way through, nan where there is no solution
    """

    element: str
    name: str
    words: str
    unit: str
    asked: float
    asked_by: str
    values: Array

    @property
    def margins(self) -> Array:
        """The figure less what is asked."""
        return self.values - self.asked


PART_FULL, FULL_SOMEWHERE, FULL_BY_TAILWATER, FULL_BY_HEADWATER, SHUT = 0, 1, 2, 3, 9

FILLINGS = {
    PART_FULL: "part full along its whole length",
    FULL_SOMEWHERE: "full over part of its length",
    FULL_BY_TAILWATER: "full along its whole length, the tailwater above the soffit of its outlet",
    FULL_BY_HEADWATER: "full along its whole length by the headwater, the tailwater below that soffit",
    SHUT: "no way through",
}
"""How a barrel flows."""


@dataclass(frozen=True)
class Filling:
    """How a group of barrels flows in every sample: keys of `FILLINGS`, nan where there is no solution.

    element : id of the structure, or `<id>.relief` for its relief barrels
    """

    element: str
    codes: Array


def against(own: str, name: str, words: str, key: str, numbers: Numbers, values: Array) -> DesignCheck:
    """A figure of the structure `own`, set against what the study asks for under `asked.<key>`."""
    path = f"{own}.asked.{key}"
    asked = float(np.asarray(numbers[path]).flat[0])
    return DesignCheck(own, name, words, "m" if name.endswith("_m") else "", asked, path, values)


def design_checks(outcome: SiteOutcome, numbers: Numbers) -> tuple[DesignCheck, ...]:
    """The usual figures of every structure that has any, going upstream."""
    return tuple(check for structure, made in outcome.solved(numbers) for check in structure.design_checks(made))


def fillings(outcome: SiteOutcome, numbers: Numbers) -> tuple[Filling, ...]:
    """How all barrels flow, going upstream."""
    return tuple(filling for structure, made in outcome.solved(numbers) for filling in structure.fillings(made))
