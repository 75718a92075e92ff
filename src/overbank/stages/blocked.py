"""What blockage does: the probability of overtopping with each blockage, the largest allowed, and the allowance."""

from __future__ import annotations

import numpy as np

from overbank.analysis import allowance, by_blockage
from overbank.findings.water import Blockage, Headwater
from overbank.stages.climbing import Climb
from overbank.stages.sampling import Sampling


def blockage(sampling: Sampling, climb: Climb, headwater: Headwater) -> Blockage:
    """From the ladder over the blockage."""
    distribution, critical = climb.distribution, climb.critical[sampling.at]
    low, high = distribution.support
    grid = np.unique(np.concatenate([np.linspace(low, high, 101), [value for value, _ in distribution.atoms]]))
    given = None
    if np.ptp(climb.mean) > 0.0:
        given = by_blockage.given(
            critical,
            grid,
            score_at=distribution.score(grid),
            score_below=distribution.score_below(grid),
            conditional_mean=climb.mean,
            spread=climb.spread,
        )
    decision = sampling.decision
    return Blockage(
        name=climb.name,
        fixed=by_blockage.curve(critical, grid),
        given=given,
        largest=by_blockage.largest_allowed(critical, decision.target_probability, low, high),
        allowance=allowance.equivalent(
            lambda share: sampling.model.level_with(climb.name, share),
            headwater.quantiles[decision.assurance],
            low,
            high,
        ),
    )
