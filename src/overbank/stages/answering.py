"""The headline answers of one sampling, as a run and a comparison both need them."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.pilot import Choice
from overbank.findings.water import Blockage, Headwater, Overtopping
from overbank.stages.blocked import blockage
from overbank.stages.choosing import choose_stair, debris_at
from overbank.stages.climbing import Climb, climb, is_blockage
from overbank.stages.headwater import headwater, level_grid, over_the_bank
from overbank.stages.sampling import Array, Sampling


@dataclass(frozen=True)
class Answers:
    """What was found at the place that the answers are about.

    choice : of the input to integrate out; None when there is no candidate
    climb : over that input; None when nothing can be integrated out
    debris : over the blockage that the answers about blockage are of; None when none is uncertain
    probabilities : of overtopping of each sample, given all inputs but the one integrated out; shape (R, N)
    """

    sampling: Sampling
    choice: Choice | None
    climb: Climb | None
    debris: Climb | None
    headwater: Headwater
    overtopping: Overtopping
    probabilities: Array
    blockage: Blockage | None


def answer(sampling: Sampling, powers: tuple[float, ...] = (1.0,)) -> Answers:
    """Climb the ladder and read the answers off it.

    Parameters
    ----------
    powers : of the debris for which the level's exceedance is wanted besides; see `climbing.score_below`
    """
    choice = choose_stair(sampling)
    grid = level_grid(sampling.samples.levels, sampling.banks[sampling.at], sampling.decision.assurance)
    ladder = None if choice is None or choice.name is None else _climbed(sampling, choice.name, grid, powers)
    debris = _debris(sampling, choice, ladder, grid, powers)
    water = headwater(sampling, ladder, grid)
    over, probabilities = over_the_bank(sampling, ladder, choice)
    blocked = None if debris is None else blockage(sampling, debris, water)
    return Answers(sampling, choice, ladder, debris, water, over, probabilities, blocked)


def _climbed(sampling: Sampling, name: str, grid: Array, powers: tuple[float, ...]) -> Climb:
    return climb(sampling, name, grid, powers if is_blockage(name) else (1.0,))


def _debris(
    sampling: Sampling, choice: Choice | None, ladder: Climb | None, grid: Array, powers: tuple[float, ...]
) -> Climb | None:
    """The ladder over the blockage, which may be the one climbed already; None where the water falls along it."""
    name = debris_at(sampling.problem, sampling.model.place)
    if name is None or choice is None:
        return None
    if ladder is not None and ladder.name == name:
        return ladder
    tried = next(candidate for candidate in choice.candidates if candidate.name == name)
    return _climbed(sampling, name, grid, powers) if tried.monotone else None
