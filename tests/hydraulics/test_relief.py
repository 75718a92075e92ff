"""Relief barrels beside the main ones: against a plain bracketing solve of the pool's level, and exact limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from test_crossing import compiled, random_crossing

from overbank.hydraulics import relief
from overbank.hydraulics.crossing import Barrels, Road, Screen, crossed, level_over, level_through, pool_level

NO_ROAD = Road(0.0, 0.0, 0.0)
Case = tuple[Barrels, Screen, Road, Barrels, float, float]


def cases(number: int, seed: int) -> list[Case]:
    """Random crossings, the barrels of another one beside them, lifted or sunk by up to its rise."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(number):
        crossing, flow, tailwater = random_crossing(rng)
        (main, screen, road), (other, _, _) = compiled(crossing), compiled(random_crossing(rng)[0])
        lift = main.upstream_invert - other.upstream_invert + rng.uniform(-0.3, 1.2) * main.section.rise
        beside = other._replace(
            upstream_invert=other.upstream_invert + lift, downstream_invert=other.downstream_invert + lift
        )
        found.append((main, screen, road, beside, flow, tailwater))
    return found


def flow_at(level: float, way_level: object, most: float) -> float:
    """Flow at which one way needs the given level, between nothing and `most` [m3/s]."""
    if way_level(0.0) >= level:  # type: ignore[operator]
        return 0.0
    if way_level(most) <= level:  # type: ignore[operator]
        return most
    return float(brentq(lambda q: way_level(q) - level, 0.0, most, xtol=1e-12, rtol=1e-14))  # type: ignore[operator]


def plain_level(case: Case) -> float:
    """The level at which all ways together pass the flow: each way's own flow solved for, then the level."""
    main, screen, road, beside, flow, tailwater = case
    ways = [
        lambda q: level_through(main, screen, q, tailwater),
        lambda q: level_through(beside, relief.NO_SCREEN, q, tailwater),
    ]
    if road.length > 0.0:
        ways.append(lambda q: level_over(road, q, tailwater))
    low = min(way(0.0) for way in ways)
    high = min(way(flow) for way in ways)
    return float(
        brentq(lambda level: sum(flow_at(level, way, flow) for way in ways) - flow, low - 1e-6, high + 1e-6, xtol=1e-9)
    )


def test_level_and_split_against_a_plain_solve_of_the_pool() -> None:
    shared = 0
    for case in cases(60, seed=8):
        main, screen, road, beside, flow, tailwater = case
        state = relief.crossed_by_both(main, screen, beside, road, flow, tailwater)
        assert state.level == pytest.approx(plain_level(case), abs=3e-5)
        assert state.level == relief.shared_by_both(main, screen, beside, road, flow, tailwater)[1]
        assert state.barrel_flow + state.relief_flow + state.road_flow == pytest.approx(flow, rel=1e-12)
        shared += 0.01 * flow < state.relief_flow < 0.99 * flow
    assert shared > 20


def test_no_relief_barrels_is_the_plain_crossing() -> None:
    for main, screen, road, beside, flow, tailwater in cases(20, seed=9):
        none = beside._replace(number=0.0)
        assert relief.crossed_by_both(main, screen, none, road, flow, tailwater) == crossed(
            main, screen, road, flow, tailwater
        )


def test_relief_barrels_above_the_pool_do_nothing() -> None:
    for main, screen, road, beside, flow, tailwater in cases(20, seed=10):
        high = beside._replace(upstream_invert=1000.0, downstream_invert=999.9)
        level = relief.shared_by_both(main, screen, high, road, flow, tailwater)[1]
        if level < 1000.0:
            assert level == pytest.approx(pool_level(main, screen, road, flow, tailwater), abs=1e-6)


def test_like_barrels_at_one_level_are_one_group_of_both() -> None:
    """Two barrels and one of the same kind at the same level behave as three."""
    no_screen = relief.NO_SCREEN
    for main, _, road, _, flow, tailwater in cases(20, seed=11):
        two, one, three = (main._replace(number=float(k)) for k in (2, 1, 3))
        both = relief.shared_by_both(two, no_screen, one, road, flow, tailwater)[1]
        assert both == pytest.approx(pool_level(three, no_screen, road, flow, tailwater), abs=3e-5)


def test_relief_barrels_never_raise_the_level() -> None:
    for main, screen, road, beside, flow, tailwater in cases(40, seed=12):
        with_relief = relief.shared_by_both(main, screen, beside, road, flow, tailwater)[1]
        assert with_relief <= pool_level(main, screen, road, flow, tailwater) + 2e-5


def test_a_shut_screen_sends_everything_through_the_relief_barrels() -> None:
    for main, screen, _, beside, flow, tailwater in cases(20, seed=13):
        shut = screen if screen.width > 0.0 else Screen(3.0, 2.0, main.upstream_invert, 0.8, 1.0, 0.0, 0.0, 0.0)
        shut = shut._replace(blockage=1.0, overflow_coefficient=0.0)
        open_relief = beside._replace(blockage=0.0)
        state = relief.crossed_by_both(main, shut, open_relief, NO_ROAD, flow, tailwater)
        assert state.relief_flow == pytest.approx(flow, rel=1e-9)
        expected = pool_level(open_relief, relief.NO_SCREEN, NO_ROAD, flow, tailwater)
        assert state.level == pytest.approx(expected, abs=1e-6)
