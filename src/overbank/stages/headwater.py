"""The level upstream of the place: its exceedance curve and its quantiles; and the probability of overtopping there."""

from __future__ import annotations

import numpy as np

from overbank.analysis import exceedance, overtopping
from overbank.analysis.pilot import Choice
from overbank.errors import DomainError
from overbank.findings.water import Headwater, Overtopping
from overbank.stages.climbing import Climb
from overbank.stages.rare import beyond_samples
from overbank.stages.sampling import Array, Sampling

QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities whose levels are always given."""


def over_the_bank(sampling: Sampling, climb: Climb | None, choice: Choice | None = None) -> tuple[Overtopping, Array]:
    """Probability of overtopping at the place by both methods, and that of each sample, shape (R, N)."""
    margins = sampling.samples.margins
    plain = overtopping.plain(margins, sampling.settings.design)
    if climb is None:
        each = overtopping.events(margins)
        return Overtopping(None, plain, True, None, 0, beyond_samples(sampling, None, plain, each), choice), each
    mended = climb.over(climb.critical[sampling.at], margins)
    threshold = overtopping.threshold(mended.probabilities)
    agree = overtopping.agree(threshold, plain)
    beyond = beyond_samples(sampling, climb, threshold, mended.probabilities)
    return Overtopping(threshold, plain, agree, climb.name, mended.replaced, beyond, choice), mended.probabilities


def headwater(sampling: Sampling, climb: Climb | None, grid: Array) -> Headwater:
    """Exceedance of the level at the place, at the levels of the grid: smooth by the ladder, and plain by counting."""
    plain = exceedance.plain(sampling.samples.levels, grid)
    curve = plain if climb is None else climb.exceedance()
    wanted = sorted({*QUANTILES, sampling.decision.assurance})
    return Headwater(curve, plain, {share: exceedance.quantile(curve, 1.0 - share) for share in wanted})


def level_grid(levels: Array, banks: Array, assurance: float) -> Array:
    """Levels at which the exceedance is computed, the median bank among them [m].

    Even steps over all but the outermost 0.05 % of the sampled levels, so that a few levels far out do not
    stretch them, and quantiles of their own where the levels thin out; far enough to reach the bank and the
    quantile of the assurance asked for.
    """
    finite = levels[np.isfinite(levels)]
    if finite.size == 0:
        raise DomainError("no sample gave a level: run `overbank check` and look at the deterministic run first")
    bank = float(np.median(banks))
    reach = min(max(0.9995, 1.0 - 0.5 * (1.0 - assurance)), 1.0)
    low, high = (float(level) for level in np.quantile(finite, (0.0005, reach)))
    margin = 0.02 * max(high - low, 0.01)
    even = np.linspace(low - margin, high + margin, 160)
    own = np.quantile(finite, np.linspace(0.005, 0.995, 100))
    return np.unique(np.concatenate([even, own, [bank, max(bank, high) + margin]]))
