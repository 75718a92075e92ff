"""How much blockage to allow, read in every way a reviewer may ask for it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from overbank.analysis import allowance, bands, by_blockage, exceedance, overtopping
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.findings.allowance import AssumedBlockage, Assured, FixedBlockage, LevelsOfFlood, Readings, Tolerated
from overbank.findings.years import Annual
from overbank.site.numbers import FLOW
from overbank.stages.answering import Answers
from overbank.stages.climbing import Climb
from overbank.stages.sampling import Sampling

TARGETS = (0.01, 0.05, 0.10, 0.20)
"""Probabilities of overtopping that are looked at besides that of the study."""

ASSURANCES = (0.5, 0.8, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities of the level that are looked at besides that of the study."""

FIXED = (0.30, 0.50, 0.67)
"""Fixed allowances whose worth in probability is told."""

LADDER = (0.0, 0.33, 0.50, 0.67, 0.90, 1.0)
"""Blockages at which the level of every flood is told."""

DEBRIS = (
    ("half as much debris", 2.0),
    ("as assumed", 1.0),
    ("twice as much debris", 0.5),
)
"""Other models of the blockage: powers of `climbing.score_below`."""

POWERS = tuple(power for _, power in DEBRIS)


def readings(answers: Answers, annual: Annual | None) -> Readings | None:
    """None when no blockage is uncertain."""
    debris = answers.debris
    if debris is None or answers.blockage is None:
        return None
    sampling = answers.sampling
    low, high = debris.distribution.support
    critical = debris.critical[sampling.at]
    targets = sorted({*TARGETS, sampling.decision.target_probability})
    return Readings(
        name=debris.name,
        tolerated=tuple(
            Tolerated(target, by_blockage.largest_allowed(critical, target, low, high)) for target in targets
        ),
        assured=tuple(_assured(answers, debris, share) for share in sorted({*ASSURANCES, sampling.decision.assurance})),
        fixed=tuple(_fixed(answers, debris, share) for share in FIXED),
        assumed=tuple(_assumed(answers, debris, words, power) for words, power in DEBRIS),
        floods=_floods(sampling, debris.name, annual),
    )


def _level_at(answers: Answers, debris: Climb) -> Callable[[float], float]:
    return lambda share: answers.sampling.model.level_with(debris.name, share)


def _assured(answers: Answers, debris: Climb, share: float) -> Assured:
    level = exceedance.quantile(answers.headwater.curve, 1.0 - share)
    return Assured(share, level, allowance.equivalent(_level_at(answers, debris), level))


def _fixed(answers: Answers, debris: Climb, share: float) -> FixedBlockage:
    """What an allowance fixed beforehand means: its level in one run, how often that is exceeded, and overtopping."""
    level = _level_at(answers, debris)(share)
    curve = answers.headwater.curve
    above = [np.interp(level, curve.at, row, left=1.0, right=0.0) for row in curve.replicates]
    set_to = by_blockage.curve(debris.critical[answers.sampling.at], np.array([share]))
    over = Estimate(float(set_to.probability[0]), float(set_to.low[0]), float(set_to.high[0]), set_to.method)
    return FixedBlockage(share, level, over_replicates(np.array(above), curve.method, (0.0, 1.0)), over)


def _assumed(answers: Answers, debris: Climb, words: str, power: float) -> AssumedBlockage:
    """The answers had the blockage been of another size, everything else as it is."""
    sampling = answers.sampling
    mended = debris.over(debris.critical[sampling.at], sampling.samples.margins, power)
    curve = debris.exceedance(power)
    level = bands.inverse(curve, 1.0 - sampling.decision.assurance, falling=True)
    return AssumedBlockage(
        words,
        overtopping.threshold(mended.probabilities),
        level,
        allowance.equivalent(_level_at(answers, debris), level),
    )


def _floods(sampling: Sampling, name: str, annual: Annual | None) -> tuple[LevelsOfFlood, ...]:
    """Levels of one run at every blockage of the ladder: in the design flood, and in every flood of a year."""
    row = sampling.model.medians()[0]
    design = float(np.asarray(sampling.model.numbers(row[np.newaxis, :])[FLOW]).flat[0])
    floods = [("the design flood", design)]
    if annual is not None:
        floods += [(f"annual probability {line.annual_probability:g}", line.flow) for line in annual.lines]
    return tuple(LevelsOfFlood(words, flow, _levels(sampling, name, flow)) for words, flow in floods)


def _levels(sampling: Sampling, name: str, flow: float) -> dict[float, float]:
    row = sampling.model.medians()
    numbers = sampling.model.numbers(row)
    found = {}
    for share in LADDER:
        changed = {**numbers, FLOW: flow, name: share}
        (level,) = sampling.problem.site.levels(changed, 1, (sampling.model.place,))
        found[share] = float(level[0])
    return found
