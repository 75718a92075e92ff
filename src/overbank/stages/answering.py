"""The headline answers of one sampling, as a run and a comparison both need them."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.analysis.pilot import Choice
from overbank.findings.water import Blockage, Headwater, Overtopping
from overbank.stages.blocked import blockage
from overbank.stages.choosing import choose_stair, debris_at
from overbank.stages.climbing import Climb, climb
from overbank.stages.headwater import headwater, over_the_bank
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


def answer(sampling: Sampling) -> Answers:
    """Climb the ladder and read the answers off it."""
    choice = choose_stair(sampling)
    ladder = None if choice is None or choice.name is None else climb(sampling, choice.name)
    debris = _debris(sampling, choice, ladder)
    water = headwater(sampling, ladder)
    over, probabilities = over_the_bank(sampling, ladder, choice)
    blocked = None if debris is None else blockage(sampling, debris, water)
    return Answers(sampling, choice, ladder, debris, water, over, probabilities, blocked)


def _debris(sampling: Sampling, choice: Choice | None, ladder: Climb | None) -> Climb | None:
    """The ladder over the blockage, which may be the one climbed already; None where the water falls along it."""
    name = debris_at(sampling.problem, sampling.model.place)
    if name is None or choice is None:
        return None
    if ladder is not None and ladder.name == name:
        return ladder
    tried = next(candidate for candidate in choice.candidates if candidate.name == name)
    return climb(sampling, name) if tried.monotone else None
