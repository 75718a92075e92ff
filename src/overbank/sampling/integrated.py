"""Which input the threshold method integrates out: tried on a small pilot."""

from __future__ import annotations

import numpy as np

from overbank.analysis import pilot
from overbank.analysis.pilot import Trial
from overbank.model import Model
from overbank.sampling.conditional import Conditional, short_nodes
from overbank.sampling.ladder import FALL_TOLERANCE, is_blockage
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.study.build import Problem

PILOT = 1024
"""Samples of the pilot, the first ones of every replicate."""

WATER = (FLOW, "tailwater.level_m", "tailwater.rating_shift_m")
"""Inputs besides blockages with which the water can only rise."""

FEW = 64
"""Samples on which it is found whether the depth over the bank rises or falls with any other input."""


def candidates(problem: Problem, place: str) -> tuple[str, ...]:
    """Inputs that may be integrated out, the blockages nearest to the place first, then the flow and the tailwater.

    A blockage above the place does nothing to the level there; below a side weir it can only lower it.
    """
    names = problem.inputs.names
    going_upstream = [element.id for element in problem.site.elements]
    nearest_first = going_upstream[going_upstream.index(place) :: -1]
    debris = [name for element in nearest_first for name in names if is_blockage(name) and _of(name) == element]
    return (*debris, *(name for name in WATER if name in names))


def _of(name: str) -> str:
    return name.split(".", maxsplit=1)[0]


def integrated_input(sampling: Sampling) -> pilot.Choice | None:
    """The pilot's choice, and what it says of every candidate; None without any candidate.

    Where debris, flow and tailwater do not serve, every other input is tried that is monotone: a roughness, a
    coefficient, a datum; only there, for each takes runs. What the level does not hold, such as the bank, is tried
    where nothing else is left: a ladder over it tells nothing of the level.
    """
    names = candidates(sampling.problem, sampling.model.place)
    z = first_scores(sampling, PILOT)
    trials = [_trial(sampling.model, name, 1, z) for name in names]
    choice = pilot.choose(trials, FALL_TOLERANCE) if trials else None
    if choice is not None and pilot.serves(choice, len(z)):
        return choice
    ways = {name: _way(sampling, name) for name in sampling.inputs.names if name not in names}
    for with_level in (True, False):
        own = {name: sign for name, (sign, moves) in ways.items() if sign != 0 and moves is with_level}
        trials += [_trial(sampling.model, name, sign, z) for name, sign in own.items()]
        choice = pilot.choose(trials, FALL_TOLERANCE) if trials else None
        if choice is not None and choice.name is not None:
            break
    return choice


def _trial(model: Model, name: str, sign: int, z: Array) -> Trial:
    return Trial(name, *Conditional(model, name, sign).tried(z), sign=sign)


def _way(sampling: Sampling, name: str) -> tuple[int, bool]:
    """1 where the depth over the bank rises with the input, -1 where it falls, 0 else; and whether the level moves."""
    column = sampling.inputs.index(name)
    nodes = short_nodes(name, sampling.inputs.items[column].distribution)
    levels, depths = levels_along(sampling.model, sampling.rows[sampling.chosen(FEW)], column, nodes)
    return pilot.direction(depths, FALL_TOLERANCE) or 0, pilot.direction(levels, FALL_TOLERANCE) != 0


def levels_along(model: Model, rows: Array, column: int, nodes: Array) -> tuple[Array, Array]:
    """Levels, and levels above the bank [m], of rows (M, d) with one input at each of K nodes, shape (K, M) each."""
    asked = np.tile(rows, (nodes.size, 1))
    asked[:, column] = np.repeat(nodes, len(rows))
    levels = model.levels(asked)
    shape = nodes.size, len(rows)
    return levels.reshape(shape), np.asarray(levels - model.banks(asked)).reshape(shape)


def first_scores(sampling: Sampling, count: int) -> Array:
    """The first correlated scores of every replicate, about `count` in all; shape (count, d)."""
    return sampling.z.reshape(-1, sampling.inputs.dimension)[sampling.chosen(count)]


def debris_at(problem: Problem, place: str) -> str | None:
    """The blockage that the answers about blockage are of: the nearest at or below the place."""
    return next((name for name in candidates(problem, place) if is_blockage(name)), None)
