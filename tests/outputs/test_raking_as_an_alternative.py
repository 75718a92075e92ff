"""More frequent raking as an arrangement: less debris, a lower level, on the same random numbers."""

from __future__ import annotations

import numpy as np
import pytest

import overbank
from overbank.outputs.outcome import Outcome
from overbank.run import run
from small import BLOCKAGE, edited, written

BUILD_UP = (
    "blockage = { build_up = { rate_per_day = 0.03, ceiling = 0.9, raked_every_days = 28, at_one = 0.03, "
    "flood_rate_per_hour = 0.05, flood_hours = 5, attended = 0.4, unattended_hours = 1.5 } }"
)
WEEKLY, ATTENDED = "raked every week", "somebody always comes"
ALTERNATIVES = f"""
[[alternative]]
name = "{WEEKLY}"
set = {{ "lane.screen.blockage.build_up.raked_every_days" = 7 }}

[[alternative]]
name = "{ATTENDED}"
set = {{ "lane.screen.blockage.build_up.attended" = 1.0 }}
"""


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    text = edited((BLOCKAGE, BUILD_UP), ("samples = 4096", "samples = 1024")) + ALTERNATIVES
    raked = overbank.read_study(written(tmp_path_factory.mktemp("raking"), text))
    return run(raked, only=("overtopping", "comparison"))


def test_the_threshold_method_and_the_count_agree_over_a_build_up(outcome: Outcome) -> None:
    over = outcome.overtopping
    assert over.integrated == "lane.screen.blockage"
    assert over.threshold is not None
    assert over.agree
    assert over.fallen == 0


def test_more_frequent_raking_lowers_the_water(outcome: Outcome) -> None:
    assert outcome.comparison is not None
    stands, weekly, attended = outcome.comparison.arrangements
    assert (weekly.name, attended.name) == (WEEKLY, ATTENDED)
    for each in (weekly, attended):
        assert each.difference is not None
        assert each.difference.probability.high < 0.0
        assert each.difference.mean.high < 0.0
        assert each.overtopping.best.value < stands.overtopping.best.value
        assert each.difference.higher.value == 0.0  # monotone in the same random numbers: no sample stands higher


def test_the_samples_are_those_of_the_build_up(outcome: Outcome) -> None:
    """Shares at the two atoms: shut 3 %, raked in the flood 0.97 * 0.4, each of 1024 Sobol' points in 8 replicates."""
    column = outcome.samples.values[..., outcome.problem.inputs.index("lane.screen.blockage")]
    left = 0.9 * (1.0 - np.exp(-0.05 * 1.5 / 0.9))
    assert np.mean(column == 1.0) == pytest.approx(0.03, abs=0.008)
    assert np.mean(np.isclose(column, left)) == pytest.approx(0.97 * 0.4, abs=0.008)
    assert outcome.problem.inputs.items[outcome.problem.inputs.index("lane.screen.blockage")].basis is None
