"""Rare overtopping: importance sampling of the inputs that the threshold method leaves.

The threshold method turns the event into a conditional probability p(z) of the remaining inputs, here given as
independent normal scores z. When the event is rare, p is large only where few samples fall. So samples are drawn
from a density g where it is large (`search`) and weighted back,

    P = E_phi[p(z)] = E_g[p(z) phi(z) / g(z)],

by independent scrambles of Sobol' points, in which no sample of the search has a part. The tests compare with
closed forms from 2e-2 to 1e-6, with one and with four design points, in 2 to 20 dimensions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array, effective, join_notes, t_half_width, wilson
from overbank.analysis.ladder import Mask
from overbank.analysis.overtopping import HEAVY_SHARE, Probability
from overbank.analysis.search import MOST_ROUNDS, SPREADS, Conditional, found, sobol_points
from overbank.errors import DomainError

RARE = 1e-3
"""After an ordinary run of some thousand samples, importance sampling is worth its search below this probability; where
every model run counts, below 2e-2 already (measured in the benchmarks)."""

METHOD = "threshold method with importance sampling, Student t over replicates on a log scale"


@dataclass(frozen=True, kw_only=True, eq=False)
class Rare(Probability):
    """A rare probability with its 95 % interval, and how well it was sampled.

    centres : normal scores about which samples were drawn, a row a design point, shape (k, d)
    effective : effective number of samples, (sum w p)^2 / sum (w p)^2
    heaviest : largest share of the sum in one sample
    evaluations : conditional probabilities computed, those of the search included
    """

    centres: Array
    effective: float
    heaviest: float
    evaluations: int

    @property
    def sampling(self) -> str:
        """How well it was sampled, in words."""
        count = len(self.centres)
        return (
            f"importance sampling about {count} design point{'' if count == 1 else 's'}: {self.effective:.0f} "
            f"effective of {self.samples} samples, the heaviest carries {self.heaviest:.1%} of the probability"
        )


def probability(
    conditional: Conditional,
    pilot_scores: Array,
    pilot_probabilities: Array,
    *,
    seed: int,
    samples: int = 2048,
    replicates: int = 16,
    round_samples: int = 128,
) -> Rare:
    """P(over the bank) by importance sampling; for a pilot whose mean probability is below about `RARE`.

    Parameters
    ----------
    conditional : P(over | scores), from the threshold method; where inputs are dependent it correlates the scores
    pilot_scores : independent normal scores of an ordinary sample, shape (M, d); M of some hundred is plenty
    pilot_probabilities : its conditional probabilities, shape (M,); nan for a failed sample
    seed : equal seeds give equal bits
    samples : for the figure, in all replicates together; a power of two in each
    replicates : independent scrambles, 2 or more
    round_samples : in each round of the search; a power of two

    Returns
    -------
    Rare. When one sample carries more than a tenth of the sum, the interval is nan and the note says why. When no
    event was found at all, the value is 0 and the high end is the pilot's exact one-sided limit.

    Raises
    ------
    DomainError : shapes or numbers of samples that do not fit, or a replicate of nothing but failures
    """
    _check(pilot_scores, pilot_probabilities, samples, replicates, round_samples)
    streams = [np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(1 + replicates)]
    place = found(conditional, pilot_scores, pilot_probabilities, round_samples, streams[0])
    if place.proposal is None:
        return _nothing_found(pilot_probabilities, place.evaluations)
    each, dimension = samples // replicates, pilot_scores.shape[1]
    z = np.concatenate([place.proposal.draw(sobol_points(s, each, dimension + 1)) for s in streams[1:]])
    weights = np.exp(-place.proposal.log_ratio(z)).reshape(replicates, each)
    p = conditional(z).reshape(replicates, each)
    note = "" if place.settled else f"the search for where to sample had not settled after {MOST_ROUNDS} rounds"
    return _weighted(p, weights, note, place.proposal.centres[1:], place.evaluations + samples)


def _check(z: Array, p: Array, samples: int, replicates: int, round_samples: int) -> None:
    if z.ndim != 2 or z.shape[1] == 0 or p.shape != z.shape[:1]:
        raise DomainError(
            "rare probability: expected pilot scores of shape (M, d) with at least one input left, and M "
            f"probabilities; got {z.shape} and {p.shape}"
        )
    if replicates < 2 or samples % replicates:
        raise DomainError(
            f"rare probability: expected two or more replicates that share the samples; got {samples} samples in "
            f"{replicates} replicates"
        )
    for what, count in (("in each replicate", samples // replicates), ("in each round", round_samples)):
        if count < 1 or count & (count - 1):
            raise DomainError(f"rare probability: expected a power of two of samples {what}; got {count}")


def _weighted(p: Array, weights: Array, note: str, centres: Array, evaluations: int) -> Rare:
    """Mean over replicates of the weighted probabilities p (R, n); failed samples are left out and counted."""
    valid = ~np.isnan(p)
    counts = np.count_nonzero(valid, axis=1)
    if np.any(counts == 0):
        raise DomainError("rare probability: a replicate has no sample left; all of its runs failed")
    parts = np.where(valid, weights * p, 0.0)
    means = np.sum(parts, axis=1) / counts
    value, total = float(np.mean(means)), float(np.sum(parts))
    heaviest = float(np.max(parts)) / total if total > 0 else np.nan
    low, high, doubt = _interval(means, heaviest)
    return Rare(
        value,
        low,
        high,
        METHOD,
        join_notes(note, doubt, _failure_words(parts, weights, valid)),
        samples=int(counts.sum()),
        failed=p.size - int(counts.sum()),
        centres=centres,
        effective=effective(parts),
        heaviest=heaviest,
        evaluations=evaluations,
    )


def _interval(means: Array, heaviest: float) -> tuple[float, float, str]:
    """Student t on a log scale, value exp(-+ t s / value): never below 0; refused when a sample weighs too much."""
    value = float(np.mean(means))
    if value == 0.0:
        return np.nan, np.nan, "no sample drawn gave an event, so no interval is given: take more samples"
    if heaviest > HEAVY_SHARE:
        words = f"one sample carries {heaviest:.0%} of the probability, so no interval is given: take more samples"
        return np.nan, np.nan, words
    factor = float(np.exp(t_half_width(means) / value))
    return value / factor, min(1.0, value * factor), ""


def _failure_words(parts: Array, weights: Array, valid: Mask) -> str:
    """What the failed samples could hide."""
    if valid.all():
        return ""
    least, most = np.sum(parts) / parts.size, (np.sum(parts) + np.sum(weights[~valid])) / parts.size
    return (
        f"{np.count_nonzero(~valid)} of {parts.size} samples failed and are left out; had none or all of them gone "
        f"over, the probability would be {least:.3g} or {most:.3g}"
    )


def _nothing_found(pilot: Array, evaluations: int) -> Rare:
    """No event anywhere: the pilot limits the share of samples that have any probability at all."""
    valid = int(np.count_nonzero(~np.isnan(pilot)))
    note = (
        f"no event in {valid} samples of the other inputs, nor in {evaluations} more drawn up to {SPREADS[-1]:.0f} "
        "times as wide, whatever the value of the input integrated out"
    )
    return Rare(
        0.0,
        0.0,
        wilson(0, valid).high,
        "threshold method, exact one-sided 95 % limit",
        note,
        samples=valid,
        failed=pilot.size - valid,
        centres=np.empty((0, 0)),
        effective=0.0,
        heaviest=np.nan,
        evaluations=evaluations,
    )
