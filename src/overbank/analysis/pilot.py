"""Which input to integrate out: chosen on a small pilot sample among those with which the water only rises.

The threshold method takes one input, the integrated input, out of the sampling. Any input will do with which the depth
over the bank never falls; the best is the one that leaves the least variance of the conditional probability,

    Var P(over | all but X) = (1 - T_X) P (1 - P),

T_X being the total target index of X: the share of the event's variance that goes when X is integrated out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import falls, trusted
from overbank.errors import DomainError

FEW_EVENTS = 10
"""With fewer effective samples the pilot may have missed what matters to one candidate (common practice, no source)."""

MOST_FALLS = 0.01
"""Share of the pilot's samples in which the depth over the bank may fall, or a run fail, along the nodes (common
practice)."""


@dataclass(frozen=True, eq=False)
class Trial:
    """One candidate, tried on the pilot.

    name : of the input; where the water falls with it, the trial is of its negative (see `direction`)
    depths : level minus bank [m] at K nodes of the input, for N samples of all others, shape (K, N)
    probabilities : P(over | all others), from `ladder.critical` and `ladder.tail_probability`, shape (N,)
    sign : -1 where the trial is of the negative
    """

    name: str
    depths: Array
    probabilities: Array
    sign: int = 1


@dataclass(frozen=True)
class Candidate:
    """What the pilot says of one candidate.

    falls : share of samples in which the depth over the bank falls through zero along the nodes
    failed : share of samples with a failed run
    probability : P(over the bank), mean over the pilot
    remaining : variance of the conditional probability, in units of the squared probability; inf without any event
    removed : total target index, the share of the event's variance that is integrated out; nan without any event
    words : for the report
    sign : -1 where its negative is the candidate
    """

    name: str
    falls: float
    failed: float
    probability: float
    remaining: float
    removed: float
    words: str
    sign: int = 1

    @property
    def monotone(self) -> bool:
        return self.falls + self.failed <= MOST_FALLS


@dataclass(frozen=True)
class Choice:
    """The integrated input; None when the depth over the bank rises monotonically with no candidate."""

    name: str | None
    candidates: tuple[Candidate, ...]
    words: str

    @property
    def best(self) -> Candidate | None:
        """The candidate that is the integrated input."""
        return next((each for each in self.candidates if each.name == self.name), None)


def serves(choice: Choice, samples: int) -> bool:
    """Whether the integrated input leaves enough effective samples in a pilot of so many; else another may do
    better."""
    return choice.best is not None and 1.0 + choice.best.remaining <= samples / FEW_EVENTS


def direction(depths: Array, tolerance: float) -> int | None:
    """1 where the depth over the bank never falls along an input, -1 where it never rises, 0 where it does neither,
    else None.

    Any input will do to be integrated out that gives 1; or -1, such as a bank level or a discharge coefficient: then
    its negative is, whose ladder is the same one turned about.

    Parameters
    ----------
    depths : level minus bank [m] at ascending nodes of the input, for N samples of all others, shape (K, N)
    tolerance : a change this small is none [m]

    As many samples may be otherwise, or fail, as `choose` lets pass.
    """
    failed = np.any(np.isnan(depths), axis=0)
    kept = depths[:, ~failed]
    if kept.size == 0:
        return None
    lost = float(np.mean(failed))
    downward, upward = falls(kept, tolerance), falls(kept[::-1], tolerance)
    if not downward.any() and not upward.any():
        return 0 if lost <= MOST_FALLS else None
    rising, falling = float(np.mean(downward)) * (1.0 - lost) + lost, float(np.mean(upward)) * (1.0 - lost) + lost
    if min(rising, falling) > MOST_FALLS:
        return None
    return 1 if rising <= falling else -1


def choose(trials: Sequence[Trial], tolerance: float) -> Choice:
    """The monotone candidate that leaves the least variance; the first of those that leave the same.

    Parameters
    ----------
    trials : one for each candidate, on the same pilot samples
    tolerance : a fall this small is none [m]

    All candidates have the same true probability. A pilot that misses the few samples that matter to one of them
    shows too small a mean and a variance that is smaller still; so variances are compared in units of the squared
    mean, N / (effective number of samples) - 1, which then is mostly large. A wrong choice costs samples, never the
    answer.
    """
    if not trials:
        raise DomainError("integrated input: expected at least one candidate; got none")
    candidates = tuple(_candidate(trial, tolerance) for trial in trials)
    monotone = [candidate for candidate in candidates if candidate.monotone]
    if not monotone:
        return Choice(None, candidates, "the water rises monotonically with none of the candidates: plain count only")
    best = min(monotone, key=lambda candidate: candidate.remaining)
    words = f"{best.name}: {best.words}"
    if np.isfinite(best.removed) and not serves(Choice(best.name, candidates, words), trials[0].probabilities.size):
        words += "; few events in the pilot, so another input might serve better"
    return Choice(best.name, candidates, words)


def _candidate(trial: Trial, tolerance: float) -> Candidate:
    if trial.depths.ndim != 2 or trial.probabilities.shape != trial.depths.shape[1:]:
        raise DomainError(
            f"integrated input {trial.name}: expected depths over the bank (nodes, samples) and a probability for each "
            f"sample; got {trial.depths.shape} and {trial.probabilities.shape}"
        )
    lost = np.isnan(trial.probabilities) | np.any(np.isnan(trial.depths), axis=0)
    kept = trial.probabilities[~lost]
    fallen = float(np.mean(~trusted(trial.depths[:, ~lost], tolerance))) if kept.size else 0.0
    mean, variance = (float(np.mean(kept)), float(np.var(kept))) if kept.size else (np.nan, np.nan)
    remaining = variance / mean**2 if mean > 0.0 else np.inf
    removed = 1.0 - variance / (mean * (1.0 - mean)) if 0.0 < mean < 1.0 else np.nan
    words = _words(fallen, float(np.mean(lost)), mean, removed, trial.sign)
    return Candidate(trial.name, fallen, float(np.mean(lost)), mean, remaining, removed, words, trial.sign)


def _words(fallen: float, failed: float, probability: float, removed: float, sign: int) -> str:
    against = "falls" if sign > 0 else "rises"
    behaviour = (
        f"the depth over the bank {against} in {fallen:.1%} of the samples"
        if fallen
        else f"the depth over the bank never {against}"
    )
    if failed:
        behaviour += f" and {failed:.1%} of them failed"
    if fallen + failed > MOST_FALLS:
        return f"{behaviour}: not to be integrated out"
    if np.isfinite(removed):
        return f"{behaviour}; integrating it out removes {removed:.0%} of the variance of the event"
    return f"{behaviour}; {'every' if probability > 0.0 else 'no'} sample of the pilot goes over the bank"
