"""What the water does to people, for every sample. Figures, never verdicts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics import hazard, people
from overbank.site.numbers import Array, Numbers
from overbank.site.row import SiteOutcome

SCREEN, BARREL = "screen", "barrel"
"""The two sides that are laid next to each other: held on the bars, and carried through the barrel."""


@dataclass(frozen=True)
class Bodies:
    """What is taken of people: drag coefficient [-]; area of an adult and of a child, turned to the flow [m2]."""

    drag_coefficient: float
    adult_area: float
    child_area: float


@dataclass(frozen=True)
class Felt:
    """One figure of every sample.

    side : `SCREEN` or `BARREL`; name : of the figure; words : what it is
    unit : "m", "m/s", "N" or "s"
    values : one a sample; `inf` where nothing flows through or there is no way through, nan where there is no solution
    """

    side: str
    name: str
    words: str
    unit: str
    values: Array


@dataclass(frozen=True)
class Wading:
    """Water that a person may stand in: where, its depth [m], 0 where dry, and its velocity [m/s]."""

    place: str
    depth: Array
    velocity: Array


@dataclass(frozen=True)
class AtStructure:
    """Everything about people at one structure."""

    element: str
    figures: tuple[Felt, ...]
    waters: tuple[Wading, ...]


def people_at(outcome: SiteOutcome, numbers: Numbers, element: str, bodies: Bodies) -> AtStructure:
    """The figures of one structure at which people are looked at, and the water that they may stand in."""
    for structure, solved in outcome.solved(numbers):
        if structure.id == element and (found := structure.people(solved, bodies)) is not None:
            return found
    raise ValueError(f"expected the id of a structure at which people are looked at, got {element!r}")


def hazard_of(water: Wading, land_use: str, edition: str) -> tuple[Array, Array, Array]:
    """Hazard rating, its class and the general class of every sample; classes are nan where it is dry."""
    ratings = hazard.rating(water.depth, water.velocity, land_use)
    dry = water.depth <= 0.0
    classes = hazard.rating_class(ratings, edition)
    general = hazard.general_class(water.depth, water.velocity)
    return ratings, np.where(dry, np.nan, classes), np.where(dry, np.nan, general)


def over_bank(head: Array) -> Wading:
    """Water over the bank, as over a broad crest: critical flow under the head, d = 2/3 h, v^2 = g d."""
    depth = 2.0 / 3.0 * np.maximum(head, 0.0)
    return Wading("over the bank", depth, sweep(people.crest_velocity)(depth))


def over_road(place: str, head: Array, below: Array) -> Wading:
    """Water over a broad crest under a head: critical, d = 2/3 h and v^2 = g d, or as deep as the water below.

    Where the water below stands higher the flow of the head is taken to go on undrowned, v = (2/3 h)^1.5 g^0.5 / d, at
    most; the head is that of the water upstream over the crest.

    Source: critical flow in a wide rectangular section, and continuity (closed forms).
    """
    critical = 2.0 / 3.0 * np.maximum(head, 0.0)
    depth = np.where(head > 0.0, np.maximum(critical, np.minimum(below, head)), critical)
    share = np.divide(critical, depth, out=np.ones_like(depth), where=(depth > 0.0) & np.isfinite(depth))
    return Wading(place, depth, sweep(people.crest_velocity)(critical) * share)
