"""Published classes of hazard to people in flood water, from the tables: which class a depth and a velocity fall in."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overbank._jit import sweep
from overbank.hydraulics import people
from overbank.hydraulics.tables import read_table

Array = NDArray[np.float64]

DANGER_FOR_ALL = {"note of 2008": 2.0, "first report": 2.5}
"""Rating from which the danger is for all, by edition; both from memory, unverified."""


class HazardClass(NamedTuple):
    """A class of hazard: its short name, and what it means in the words of the publication."""

    id: str
    words: str


@cache
def land_uses() -> dict[str, tuple[float, float]]:
    """Debris factors in the middle and deep classes of depth, by the use of the land."""
    found: dict[str, list[float]] = {}
    for row in read_table("debris_factors"):
        found.setdefault(row["land_use"], []).append(float(row["debris_factor"]))
    return {use: (middle, deep) for use, (_, middle, deep) in found.items()}


@cache
def rating_classes() -> tuple[HazardClass, ...]:
    """Classes of the hazard rating, from least to worst."""
    return tuple(HazardClass(row["id"], row["class"]) for row in read_table("hazard_ratings"))


def rating(depth: ArrayLike, velocity: ArrayLike, land_use: str) -> Array:
    """Hazard rating d (v + 0.5) + DF, DF by the use of the land: `people.hazard_rating` for arrays."""
    debris = sweep(people.debris_factor)(depth, velocity, *land_uses()[land_use])
    return sweep(people.hazard_rating)(depth, velocity, debris)


def rating_class(ratings: ArrayLike, edition: str) -> Array:
    """Place of each rating in `rating_classes`; nan where there is no rating.

    A rating on a bound takes the worse class (own proposal). The editions are those of `DANGER_FOR_ALL`.
    """
    bounds = [float(row["rating_low"]) for row in read_table("hazard_ratings")]
    values = np.asarray(ratings, dtype=np.float64)
    places = np.searchsorted([*bounds[1:-1], DANGER_FOR_ALL[edition]], values, side="right")
    return np.where(np.isnan(values), np.nan, places)


@cache
def general_classes() -> tuple[HazardClass, ...]:
    """General classes H1 to H6, from least to worst."""
    return tuple(HazardClass(row["id"], row["class"]) for row in read_table("hazard_classes"))


def general_class(depth: ArrayLike, velocity: ArrayLike) -> Array:
    """Place of each depth [m] and velocity [m/s] in `general_classes`: the first whose three limits all hold.

    Limits are on depth times velocity, depth, and velocity, each kept when it is just met. nan where one is not known.
    Source: NSW Flood risk management guideline FB03 (2023), Figure 1; read second hand.
    """
    depth, velocity = np.broadcast_arrays(np.asarray(depth, np.float64), np.asarray(velocity, np.float64))
    product = np.where(velocity == 0.0, 0.0, depth * np.where(velocity == 0.0, 1.0, velocity))
    found = np.full(depth.shape, float(len(general_classes()) - 1))
    for place, row in reversed(list(enumerate(read_table("hazard_classes")[:-1]))):
        most = [float(row[column]) for column in ("depth_velocity_m2_s", "depth_m", "velocity_m_s")]
        holds = (product <= most[0]) & (depth <= most[1]) & (velocity <= most[2])
        found = np.where(holds, float(place), found)
    return np.where(np.isnan(depth) | np.isnan(velocity), np.nan, found)
