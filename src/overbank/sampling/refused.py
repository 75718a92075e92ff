"""Parts of an answer that may each be refused: what was refused leaves a note, and the rest goes on.

The same for levels without bound, which no mean or variance can hold.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np

from overbank.errors import DomainError
from overbank.sampling.samples import Array

T = TypeVar("T")


class RefusedParts:
    """Collects the notes of what was refused.

    notes : what a reader must know
    """

    def __init__(self) -> None:
        self.notes: list[str] = []

    def attempt(self, what: str, find: Callable[[], T]) -> T | None:
        """What is found, or None and a note that there is none of it, and why."""
        try:
            return find()
        except DomainError as error:
            self.notes.append(f"No {what}: {error}")
            return None

    def capped(self, levels: Array, own: Array) -> Array:
        """Levels without a way through as the highest finite one of the run's `own` levels, and a note of it.

        Always the same one, so that levels from different tables stay comparable.
        """
        endless = np.isposinf(levels)
        if not endless.any():
            return levels
        highest = float(np.max(own, where=np.isfinite(own), initial=-np.inf))
        if highest == -np.inf:
            return levels
        note = (
            f"Where a run had no way through, as in {np.mean(np.isposinf(own)):.2%} of the samples, its level is taken "
            f"as the highest finite one of the samples, {highest:.2f} m."
        )
        self.notes += [] if note in self.notes else [note]
        return np.where(endless, highest, levels)
