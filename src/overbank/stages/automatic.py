"""The answers with the samples that a study asks for, or with as many as the precision that it asks for needs."""

from __future__ import annotations

from collections.abc import Callable

from overbank.analysis.automatic import Search, Wanted, search
from overbank.analysis.intervals import Estimate
from overbank.stages.allowances import POWERS
from overbank.stages.answering import Answers, answer
from overbank.stages.comparing import common_columns
from overbank.stages.sampling import sample
from overbank.study.load import Study

PROBABILITY = "probability of overtopping"
"""Name of the second figure whose precision is wanted."""

SHARE = 0.1
"""Half width wanted of the probability of overtopping: this share of it or of the target, whichever is more."""


def answered(study: Study, report: Callable[[str], None]) -> tuple[Answers, Search | None]:
    """The answers, and how the number of samples was found; None where the study gives it.

    The runs of all numbers of samples that were tried are counted.
    """
    columns, settings = common_columns(study), study.content.run
    if settings.precision_m is None:
        report("sampling the site")
        sampling = sample(study, columns)
        report("climbing the ladder")
        return answer(sampling, POWERS), None
    last: list[Answers] = []
    level = f"level not exceeded with probability {study.content.decision.assurance:g}"

    def measure(samples: int) -> dict[str, Estimate]:
        report(f"trying {samples:,} samples")
        runs = last.pop().sampling.runs if last else 0
        found = answer(sample(study.with_samples(samples), columns), POWERS)
        found.sampling.runs += runs
        last.append(found)
        return {
            level: found.headwater.quantiles[found.sampling.decision.assurance],
            PROBABILITY: found.overtopping.best,
        }

    wanted = {
        level: Wanted(settings.precision_m),
        PROBABILITY: Wanted(SHARE * study.content.decision.target_probability, SHARE),
    }
    found = search(measure, wanted, settings.samples, settings.most)
    return last[0], found
