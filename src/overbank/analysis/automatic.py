"""As many samples as the asked-for precision needs: doubled until it is met, or said that it was not."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import agree
from overbank.errors import DomainError


@dataclass(frozen=True)
class Wanted:
    """Half width of a 95 % interval that is narrow enough: an absolute one, or a share of the figure if that is more.

    half_width : in the unit of the figure, above 0
    share : of the figure, 0 or more
    """

    half_width: float
    share: float = 0.0

    def __post_init__(self) -> None:
        if not (self.half_width > 0.0 and self.share >= 0.0):
            raise DomainError(
                "precision: expected a half width above 0 and a share of 0 or more; got "
                f"{self.half_width:g} and {self.share:g}"
            )

    def at(self, found: Estimate) -> float:
        """The half width that is narrow enough for this estimate; never endless."""
        share = self.share * abs(found.value)
        return max(self.half_width, share) if np.isfinite(share) else self.half_width


@dataclass(frozen=True)
class Step:
    """The figures, by name, from one number of samples."""

    samples: int
    found: Mapping[str, Estimate]


@dataclass(frozen=True)
class Search:
    """The numbers of samples that were tried, the last of them the one to use.

    steps : in the order tried
    met : whether every figure is as precise as wanted
    words : what came of it, in a sentence
    """

    steps: tuple[Step, ...]
    met: bool
    words: str

    @property
    def samples(self) -> int:
        """The number of samples to use."""
        return self.steps[-1].samples


def search(
    measure: Callable[[int], Mapping[str, Estimate]], wanted: Mapping[str, Wanted], first: int, most: int
) -> Search:
    """Double the samples until every figure's 95 % interval is narrow enough, or until they would exceed `most`.

    A narrow interval may come about by chance. So a figure must also agree with what half the samples gave: their
    intervals must overlap. The first number of samples alone never meets the precision.

    Parameters
    ----------
    measure : samples -> the figures, by name
    wanted : precision of each of these figures, by name
    first : samples to begin with
    most : samples never exceeded

    Raises
    ------
    DomainError : nothing is wanted; `first` below 1 or above `most`
    """
    if not wanted or not 1 <= first <= most:
        raise DomainError(
            f"precision: expected at least one figure and a number of samples from 1 to {most} to begin with; got "
            f"{len(wanted)} figures and {first}"
        )
    steps: list[Step] = []
    samples = first
    while samples <= most:
        steps.append(Step(samples, measure(samples)))
        missing = _missing(steps, wanted)
        if not missing:
            return Search(tuple(steps), True, f"{samples} samples give the precision asked for.")
        samples *= 2
    words = f"Even {steps[-1].samples} samples do not give the precision asked for: {'; '.join(missing)}."
    return Search(tuple(steps), False, words)


def _missing(steps: list[Step], wanted: Mapping[str, Wanted]) -> list[str]:
    """What is not yet as wanted, figure by figure, in words."""
    words = []
    found = steps[-1].found
    for name, precision in wanted.items():
        reached, enough = 0.5 * (found[name].high - found[name].low), precision.at(found[name])
        if not reached <= enough:
            known = f"plus or minus {reached:.3g}" if np.isfinite(reached) else "no interval"
            words.append(f"{name} has {known}, wanted is {enough:.3g}")
        elif len(steps) == 1:
            words.append(f"{name} has not been held against twice the samples")
        elif not agree(steps[-2].found[name], found[name]):
            words.append(f"{name} has moved further than its intervals allow")
    return words
