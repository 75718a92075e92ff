"""Flow over roads: closed forms, brentq, and the drowning laws' own ends."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics.weirs import MODULAR_RATIO, road_drowning, road_flow, road_head, villemonte


def test_free_road_flow() -> None:
    """Q = C L h^1.5; with the frictionless coefficient (2/3)^1.5 sqrt(g) it is critical flow over the crest."""
    ideal = (2 / 3) ** 1.5 * sqrt(9.81)
    critical = 2 / 3 * 0.4
    assert road_flow(0.4, -1.0, 12.0, ideal) == pytest.approx(12.0 * critical * sqrt(9.81 * critical), rel=1e-12)
    assert road_flow(0.0, -1.0, 12.0, 1.5) == 0.0
    assert road_flow(-0.3, -1.0, 12.0, 1.5) == 0.0


@pytest.mark.parametrize("law", [road_drowning, lambda ratio: villemonte(ratio, 1.5)])
def test_drowning_falls_from_one_to_nothing_without_a_jump(law: object) -> None:
    ratios = np.linspace(-0.5, 1.0, 30_001)
    factors = np.array([law(ratio) for ratio in ratios])  # type: ignore[operator]
    assert factors[0] == 1.0
    assert factors[-1] == 0.0
    assert np.all(np.diff(factors) <= 0)
    assert np.abs(np.diff(factors)).max() < 0.05  # both end as a root: infinitely steep, not a jump
    assert law(1.7) == 0.0  # type: ignore[operator]


def test_road_drowns_from_four_fifths_on() -> None:
    assert road_drowning(MODULAR_RATIO) == 1.0
    assert road_drowning(0.9) == pytest.approx(sqrt(0.75))
    assert road_drowning(0.96) == pytest.approx(0.6)


def test_villemonte() -> None:
    """(1 - 0.8^1.5)^0.385 by hand: 0.8^1.5 = 0.715542."""
    assert villemonte(0.8, 1.5) == pytest.approx((1 - 0.715541753) ** 0.385, rel=1e-8)


def test_road_head_is_the_inverse_by_brentq() -> None:
    rng = np.random.default_rng(1)
    for _ in range(2000):
        flow, length, coefficient = np.exp(rng.uniform(-7, 4)), np.exp(rng.uniform(0, 5)), rng.uniform(1.4, 1.7)
        free = (flow / (coefficient * length)) ** (2 / 3)
        drowned = free * rng.uniform(-1, 4)
        got = road_head(flow, drowned, length, coefficient)
        low = max(drowned, 0.0)
        high = max(low / MODULAR_RATIO, free) * 1.01
        args = (drowned, length, coefficient)
        expected = brentq(lambda h, a=args, q=flow: road_flow(h, *a) - q, max(low, 1e-12), high, xtol=1e-14)
        assert got == pytest.approx(expected, abs=3e-9)


def test_road_head_at_the_ends() -> None:
    assert road_head(0.0, -2.0, 10.0, 1.5) == 0.0
    assert road_head(0.0, 0.7, 10.0, 1.5) == 0.7
    assert road_head(3.0, inf, 10.0, 1.5) == inf
    assert road_head(1e-12, 0.7, 10.0, 1.5) == pytest.approx(0.7, abs=1e-8)
    assert road_head(1e6, 0.7, 10.0, 1.5) == pytest.approx((1e6 / 15) ** (2 / 3), rel=1e-12)


def test_road_head_never_falls_with_flow_or_level_below() -> None:
    flows = np.linspace(0, 20, 4001)
    for drowned in (-1.0, 0.0, 0.3, 1.0):
        assert np.all(np.diff([road_head(q, drowned, 10.0, 1.5) for q in flows]) >= -2e-9)
    levels = np.linspace(-1, 3, 4001)
    for flow in (0.0, 0.01, 1.0, 10.0):
        assert np.all(np.diff([road_head(flow, d, 10.0, 1.5) for d in levels]) >= -2e-9)
