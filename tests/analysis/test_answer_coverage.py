"""How often the 95 % intervals of the answers themselves hold the truth, over 200 repetitions: `pytest -m slow`.

The site is a formula: level = sum of five normal terms - ln(1 - b), b the blockage, so that levels, probabilities and
both blockages have a closed form or need one quadrature. They are found here as a run finds them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from known_answers import SIGMA, TOY_NODES, Toy, scores
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from overbank.analysis import allowance, by_blockage, exceedance, ladder, overtopping, polish
from overbank.analysis.intervals import Array, Estimate

pytestmark = pytest.mark.slow

REPETITIONS, REPLICATES, SAMPLES = 200, 16, 256
TARGET, ASSURANCE, SET = 0.05, 0.9, 0.5
SITE, SPREAD = Toy(scale=1.0, limit=1.0), float(np.sqrt(np.sum(SIGMA**2)))
NODES = np.unique(np.concatenate([TOY_NODES, np.linspace(0.05, 0.85, 9)]))
GRID = np.unique(np.append(np.linspace(-1.0, 2.5, 351), SITE.limit))


def exceeded(level: float) -> float:
    """P(the water stands higher), by one quadrature."""
    return replace(SITE, limit=level).exact()


LEVEL = float(brentq(lambda level: exceeded(level) - (1.0 - ASSURANCE), 0.0, 2.0, xtol=1e-9))
AT_BANK = exceeded(SITE.limit)
EXACT = {
    "probability, threshold method": AT_BANK,
    "probability, counted": AT_BANK,
    "level with assurance, threshold method": LEVEL,
    "level with assurance, counted": LEVEL,
    "exceedance curve at the bank": AT_BANK,
    "probability with the blockage set": float(ndtr((-np.log1p(-SET) - SITE.limit) / SPREAD)),
    "largest blockage within the target": float(-np.expm1(SPREAD * ndtri(1.0 - TARGET) - SITE.limit)),
    "blockage allowance": float(-np.expm1(-LEVEL)),
}
"""Figure -> its true value; all by closed form but the two that rest on the quadrature."""


def independent(seed: int) -> Array:
    return np.random.default_rng([seed, 17]).standard_normal((REPLICATES, SAMPLES, 6))


def answers(seed: int, design: str) -> Iterator[tuple[str, Estimate]]:
    """Every figure from one set of samples, the last column of which is the blockage's."""
    z = scores(REPLICATES, SAMPLES, 6, seed) if design == "sobol" else independent(seed)
    load = SITE.load(z[..., :5])
    depths = np.stack([SITE.depth_over_bank(node, load) for node in NODES])
    own = SITE.depth_over_bank(SITE.blockage(z[..., 5]), load)
    critical = polish.polish(
        lambda b, flat: SITE.depth_over_bank(b, load.ravel()[flat]), ladder.critical(NODES, depths), 1e-6
    ).value
    chance = ladder.tail_probability(critical, SITE.score_below, 0.0, 1.0)
    curve = exceedance.conditional(
        [
            exceedance.count(
                NODES,
                depths + SITE.limit,
                GRID,
                score_below=SITE.score_below,
                conditional_mean=0.0,
                conditional_spread=1.0,
                own_levels=own + SITE.limit,
                tolerance=1e-6,
            )
        ]
    )
    level = exceedance.quantile(curve, 1.0 - ASSURANCE)
    bank = int(np.searchsorted(GRID, SITE.limit))
    at_set = by_blockage.curve(critical, np.array([SET]))
    yield "probability, threshold method", overtopping.threshold(chance)
    yield "probability, counted", overtopping.plain(own, design)
    yield "level with assurance, threshold method", level
    yield "level with assurance, counted", exceedance.plain_quantile(own + SITE.limit, 1.0 - ASSURANCE, design)
    yield (
        "exceedance curve at the bank",
        Estimate(float(curve.probability[bank]), float(curve.low[bank]), float(curve.high[bank]), curve.method),
    )
    yield (
        "probability with the blockage set",
        Estimate(float(at_set.probability[0]), float(at_set.low[0]), float(at_set.high[0]), at_set.method),
    )
    yield "largest blockage within the target", by_blockage.largest_within(critical, TARGET)
    yield (
        "blockage allowance",
        allowance.equivalent(lambda b: float(SITE.depth_over_bank(np.array(b), 0.0)) + 1.0, level),
    )


@pytest.mark.parametrize("design", ["sobol", "monte_carlo"])
def test_intervals_of_the_answers_cover(design: str, capsys: pytest.CaptureFixture[str]) -> None:
    inside = dict.fromkeys(EXACT, 0)
    for seed in range(REPETITIONS):
        for name, found in answers(7000 + seed, design):
            inside[name] += found.low <= EXACT[name] <= found.high
    with capsys.disabled():
        for name, count in inside.items():
            print(f"\n{design}, {name}: {count / REPETITIONS:.1%} of {REPETITIONS}", end="")
    assert all(0.90 <= count / REPETITIONS <= 0.99 for count in inside.values()), inside
