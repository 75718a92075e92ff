"""Whether the headline figures have settled: half of the samples against all of them."""

from __future__ import annotations

from overbank.analysis import by_blockage, convergence, exceedance, overtopping
from overbank.analysis.intervals import Estimate
from overbank.stages.answering import Answers
from overbank.stages.sampling import Array

LEVEL, BLOCKAGE = 0.02, 0.02
"""Half widths wanted of a level [m] and of a blockage."""


def verdicts(answers: Answers) -> dict[str, convergence.Verdict]:
    """One verdict for the level of the assurance, the probability of overtopping and the largest blockage.

    None for a probability that does not come from the samples themselves: it has its own measures.
    """
    sampling, over = answers.sampling, answers.overtopping
    assurance, design = sampling.decision.assurance, sampling.settings.design
    target = sampling.decision.target_probability
    found = {
        f"level not exceeded with probability {assurance:g}": convergence.verdict(
            sampling.samples.levels, lambda levels: _level(answers, levels), LEVEL, "m"
        )
    }
    if over.beyond is None and over.threshold is not None:
        wanted = max(0.1 * over.threshold.value, 0.002)
        found["probability of overtopping"] = convergence.verdict(answers.probabilities, overtopping.threshold, wanted)
    elif over.beyond is None:
        wanted = max(0.1 * over.plain.value, 0.005)
        found["probability of overtopping"] = convergence.verdict(
            sampling.samples.margins, lambda t: overtopping.plain(t, design), wanted
        )
    if answers.debris is not None:
        low, high = answers.debris.distribution.support
        found["largest blockage within the target"] = convergence.verdict(
            answers.debris.critical[sampling.at], lambda t: by_blockage.largest_allowed(t, target, low, high), BLOCKAGE
        )
    return found


def _level(answers: Answers, levels: Array) -> Estimate:
    """Level of the assurance from the first samples of every replicate, by the method of the one that is quoted."""
    sampling, climb, samples = answers.sampling, answers.climb, levels.shape[1]
    share = sampling.decision.assurance
    if climb is None:
        return exceedance.plain_quantile(levels, 1.0 - share, sampling.settings.design)
    if samples == sampling.levels.shape[2]:
        return answers.headwater.quantiles[share]
    return exceedance.quantile(climb.exceedance(samples=samples), 1.0 - share)
