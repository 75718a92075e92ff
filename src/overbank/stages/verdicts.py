"""Whether the headline figures have settled: half of the samples against all of them."""

from __future__ import annotations

from overbank.analysis import by_blockage, convergence, exceedance, overtopping
from overbank.stages.answering import Answers

LEVEL, BLOCKAGE = 0.02, 0.02
"""Half widths wanted of a level [m] and of a blockage."""


def verdicts(answers: Answers) -> dict[str, convergence.Verdict]:
    """One verdict for the level of the assurance, the probability of overtopping and the largest blockage."""
    sampling, over = answers.sampling, answers.overtopping
    assurance, design = sampling.decision.assurance, sampling.settings.design
    target = sampling.decision.target_probability
    found = {
        f"level not exceeded with probability {assurance:g}": convergence.verdict(
            sampling.samples.levels, lambda t: exceedance.plain_quantile(t, 1.0 - assurance, design), LEVEL, "m"
        )
    }
    if over.threshold is not None:
        wanted = max(0.1 * over.threshold.value, 0.002)
        found["probability of overtopping"] = convergence.verdict(answers.probabilities, overtopping.threshold, wanted)
    else:
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
