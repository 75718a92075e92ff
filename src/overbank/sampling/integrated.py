"""Which input the threshold method integrates out: tried on a small pilot."""

from __future__ import annotations

from overbank.analysis import pilot
from overbank.sampling.conditional import Conditional
from overbank.sampling.ladder import FALL_TOLERANCE, is_blockage
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.study.build import Problem

PILOT = 1024
"""Samples of the pilot, the first ones of every replicate."""

WATER = (FLOW, "tailwater.level_m", "tailwater.rating_shift_m")
"""Inputs besides blockages with which the water can only rise."""


def candidates(problem: Problem, place: str) -> tuple[str, ...]:
    """Inputs that may be integrated out, the blockages nearest to the place first, then the flow and the tailwater.

    A blockage above the place does nothing to the level there.
    """
    names = problem.inputs.names
    going_upstream = [element.id for element in problem.site.elements]
    nearest_first = going_upstream[going_upstream.index(place) :: -1]
    debris = [name for element in nearest_first for name in names if is_blockage(name) and _of(name) == element]
    return (*debris, *(name for name in WATER if name in names))


def _of(name: str) -> str:
    return name.split(".", maxsplit=1)[0]


def integrated_input(sampling: Sampling) -> pilot.Choice | None:
    """The pilot's choice, and what it says of every candidate; None without any candidate."""
    names = candidates(sampling.problem, sampling.model.place)
    if not names:
        return None
    z = first_scores(sampling, PILOT)
    trials = [pilot.Trial(name, *Conditional(sampling.model, name).tried(z)) for name in names]
    return pilot.choose(trials, FALL_TOLERANCE)


def first_scores(sampling: Sampling, count: int) -> Array:
    """The first correlated scores of every replicate, about `count` in all; shape (count, d)."""
    return sampling.z.reshape(-1, sampling.inputs.dimension)[sampling.chosen(count)]


def debris_at(problem: Problem, place: str) -> str | None:
    """The blockage that the answers about blockage are of: the nearest at or below the place."""
    return next((name for name in candidates(problem, place) if is_blockage(name)), None)
