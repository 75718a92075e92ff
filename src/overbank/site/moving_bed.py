"""What a reach tells of two things that no level here holds: how high water stands up against a wall, and scour."""

from __future__ import annotations

from typing import NamedTuple

from overbank.constants import GRAVITY
from overbank.site.row import SiteOutcome

BEGINS_TO_MOVE = 6.19
"""Coefficient of the velocity at which stones begin to move, of density 2650 kg/m3 [m^(1/2)/s] (FHWA HEC-18)."""


class Reach(NamedTuple):
    """A reach in one run: its depth [m] and velocity [m/s], at the upper end."""

    element: str
    depth: float
    velocity: float

    @property
    def stopped(self) -> float:
        """Height by which water that is brought to rest against a wall stands higher, v^2 / 2g [m] (closed form)."""
        return self.velocity**2 / (2.0 * GRAVITY)

    @property
    def stone(self) -> float:
        """Size of the largest stones of the bed that the water moves, D = (v / (6.19 y^(1/6)))^3 [m].

        Range: loose stones of a bed in uniform turbulent flow, larger than 0.2 mm; no bend, no pier, no jet.
        Source: critical velocity of the bed material in FHWA HEC-18, solved for the size (read where it is quoted).
        """
        return float((self.velocity / (BEGINS_TO_MOVE * self.depth ** (1.0 / 6.0))) ** 3)


def fastest_reach(outcome: SiteOutcome) -> Reach | None:
    """The reach with the fastest water of one run; None where the study models none that has a depth."""
    found = [
        Reach(each.id, float(each.results["depth"][0]), float(each.results["velocity"][0]))
        for each in outcome.elements
        if each.structure.is_reach
    ]
    return max((each for each in found if each.velocity > 0.0), key=lambda each: each.velocity, default=None)
