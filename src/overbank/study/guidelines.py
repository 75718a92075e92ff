"""Blockages of published guidelines and of our own starting points, by a word of their tables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from overbank.hydraulics.tables import read_table
from overbank.uncertain.bounded import InflatedBeta, Pert
from overbank.uncertain.distributions import Distribution


class StartingPoint(NamedTuple):
    """A blockage to start from, with where it comes from and how that is known."""

    distribution: Distribution
    basis: str
    how_known: str


def starting_words() -> tuple[str, ...]:
    """The keys of `starting_points`, without making their distributions, which takes a third of a second in all."""
    return tuple(row["case"] for row in read_table("blockage_starting_points"))


def guideline_words() -> tuple[str, ...]:
    """The keys of `guidelines`, likewise."""
    return *starting_words(), *(_words(row) for row in read_table("blockage_guidance"))


def _words(row: Mapping[str, str]) -> str:
    return f"{row['part']}, {row['class']}, {row['debris_potential']} debris potential"


@cache
def starting_points() -> dict[str, InflatedBeta]:
    """Our own starting points by the words of their case."""
    columns = ("at_zero", "a", "b", "at_one")
    rows = read_table("blockage_starting_points")
    return {row["case"]: InflatedBeta(*(float(row[column]) for column in columns)) for row in rows}


@cache
def guidelines() -> dict[str, StartingPoint]:
    """Everything that `guideline` may name: our starting points, then the most likely values of a published guideline.

    A most likely value m becomes a PERT between 0 and 1 with its mode at m, which is our own proposal.
    """
    found = {}
    for row in read_table("blockage_starting_points"):
        basis = f"{row['case']}: {row['source']} ({row['how_known']}); {row['note']}"
        found[row["case"]] = StartingPoint(starting_points()[row["case"]], basis, row["how_known"])
    for row in read_table("blockage_guidance"):
        case = _words(row)
        likely = float(row["most_likely_blockage"])
        basis = (
            f"{case}: most likely {100.0 * likely:g} % by {row['source']} ({row['how_known']}; {row['note']}); "
            "spread from 0 to 1 as a PERT: own proposal, not published"
        )
        found[case] = StartingPoint(Pert(0.0, likely, 1.0), basis, row["how_known"])
    return found
