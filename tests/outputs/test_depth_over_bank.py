"""The depth over the bank of a pond whose level is normal: closed forms; and a plain count of the samples."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from overbank.outputs.depth_over_bank import DepthOverBank
from overbank.outputs.outcome import Outcome
from overbank.run import run
from pond import BANK, LEVEL, LEVEL_SD, pond


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return run(pond(tmp_path_factory.mktemp("pond")), only=("depth_over_bank", "overtopping"))


@pytest.fixture(scope="module")
def found(outcome: Outcome) -> DepthOverBank:
    return outcome.depth_over_bank


def test_the_curve_is_the_tail_of_the_level(found: DepthOverBank) -> None:
    """P(depth > d) = P(level > bank + d), the level being normal."""
    exact = norm.sf(BANK + found.curve.at, LEVEL, LEVEL_SD)
    np.testing.assert_allclose(found.curve.probability, exact, rtol=0.0, atol=0.004)
    assert found.curve.at[0] == 0.0
    assert np.mean((found.curve.low <= exact) & (exact <= found.curve.high)) > 0.8


@pytest.mark.parametrize("share", [0.9, 0.95, 0.99])
def test_quantiles_are_those_of_the_normal_level(found: DepthOverBank, share: float) -> None:
    exact = norm.ppf(share, LEVEL, LEVEL_SD) - BANK
    assert found.quantiles[share].value == pytest.approx(exact, abs=0.01)


def test_there_is_no_depth_where_the_water_stays_below_the_bank(found: DepthOverBank) -> None:
    assert norm.ppf(0.5, LEVEL, LEVEL_SD) < BANK
    assert found.quantiles[0.5].value == 0.0


def test_the_first_of_the_curve_is_the_plain_count(outcome: Outcome, found: DepthOverBank) -> None:
    assert found.curve.probability[0] == outcome.overtopping.plain.value
    depths = outcome.samples.levels - BANK
    for depth, probability in zip(found.curve.at, found.curve.probability, strict=True):
        assert np.mean(depths > depth) == pytest.approx(probability, abs=1e-3)


def test_a_bank_that_is_never_reached_has_no_depth(tmp_path: Path) -> None:
    high = run(pond(tmp_path, ("bank_level_m = 10.6", "bank_level_m = 20.0")), only=("depth_over_bank",))
    assert np.all(high.depth_over_bank.curve.probability == 0.0)
    assert all(depth.value == 0.0 for depth in high.depth_over_bank.quantiles.values())
