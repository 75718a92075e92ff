"""Whole crossings against the plain solver beside this file, and what a crossing reports about itself."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from plain_crossing import Bars, Crossing, Inlet, Tube, pool

from overbank.hydraulics import crossing as kernels
from overbank.hydraulics import sections
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.tables import inlets

ENTRIES = [entry for entry in inlets().values() if entry.shape in ("box", "pipe", "arch", "ellipse")]
NO_SCREEN = kernels.Screen(*[0.0] * 8)
NO_ROAD = kernels.Road(0.0, 0.0, 0.0)


def random_crossing(rng: np.random.Generator) -> tuple[Crossing, float, float]:
    """Any inlet of the tables, with a screen, a road and debris or without them; then flow and tailwater."""
    entry = ENTRIES[rng.integers(len(ENTRIES))]
    span = rng.uniform(0.6, 5.0)
    rise = span if entry.shape == "pipe" else span * rng.uniform(0.5, 1.3)
    wall = max(rise - span / 2, rise * rng.uniform(0.1, 0.9)) if entry.shape == "arch" else 0.0
    n = rng.uniform(0.010, 0.035)
    tube = Tube(entry.shape, span, rise, n, n if rng.random() < 0.6 else rng.uniform(0.012, 0.05), wall)
    constants = (entry.form, entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)
    inlet = Inlet(*constants, rng.normal(1, 0.05), entry.entrance_loss, rng.choice([1.0, rng.uniform(0.3, 1)]))
    length = rng.uniform(5, 120)
    slope = rng.choice([0.0, rng.uniform(0, 0.01), rng.uniform(0.01, 0.1), rng.uniform(-0.005, 0)])
    upstream, count = 10 + slope * length, int(rng.integers(1, 4))
    bars = None
    if rng.random() < 0.6:
        bars = Bars(
            span * count * rng.uniform(1, 3),
            rise * rng.uniform(0.8, 2),
            upstream + rng.choice([0.0, rng.uniform(-0.2, 0.3)]),
            rng.uniform(0.75, 0.95),
            rng.uniform(0.05, 0.5),
            rng.uniform(0, 0.97),
            int(rng.integers(3)),
            rng.choice([0.0, 1.7]),
            rng.uniform(30.0, 90.0),
        )
    road = (upstream + rise * rng.uniform(1.1, 2.2), rng.uniform(4, 60), rng.uniform(1.4, 1.7))
    blocked = bars is None and rng.random() < 0.8
    flow = count * span * rise**1.5 * np.exp(rng.uniform(-3, 0.8))
    made = Crossing(
        tube,
        inlet,
        count,
        length,
        upstream,
        10.0,
        rng.uniform(0, 0.95) if blocked else 0.0,
        int(rng.integers(3)),
        bars,
        road if rng.random() < 0.7 else None,
    )
    return made, flow, 10 + rise * rng.uniform(-0.2, 1.7)


def compiled(c: Crossing) -> tuple[kernels.Barrels, kernels.Screen, kernels.Road]:
    """The same crossing in the words of the kernels."""
    t, i = c.tube, c.inlet
    codes = {"box": sections.RECTANGLE, "pipe": sections.CIRCLE, "arch": sections.ARCH, "ellipse": sections.ELLIPSE}
    s = sections.Section(float(codes[t.shape]), t.span, 0.0, t.rise, t.wall, 0.0, t.n, t.bed_n)
    row = InletRow(float(i.form), i.K, i.M, i.c, i.Y, i.slope_factor)
    barrels = kernels.Barrels(
        s,
        row,
        float(c.count),
        c.length,
        c.upstream,
        c.downstream,
        i.factor,
        i.entrance_loss,
        i.exit_loss,
        c.blockage,
        float(c.pattern),
    )
    b = c.bars
    screen = NO_SCREEN
    if b is not None:
        screen = kernels.Screen(
            *(b.width, b.height, b.sill, b.clear, b.clean_loss, b.blockage, float(b.pattern), float(b.over)),
            float(np.sin(np.radians(b.degrees))),
        )
    return barrels, screen, NO_ROAD if c.road is None else kernels.Road(*c.road)


@pytest.mark.parametrize("seed", range(4))
def test_pool_level_is_that_of_the_plain_solver(seed: int) -> None:
    """150 random crossings each: level within 0.1 mm, or 1e-5 of the head where debris holds up tens of metres."""
    rng = np.random.default_rng(seed)
    for _ in range(150):
        c, flow, tailwater = random_crossing(rng)
        expected = pool(c, flow, tailwater)
        got = kernels.pool_level(*compiled(c), flow, tailwater)
        assert abs(got - expected) < max(1e-4, 1e-5 * (expected - c.upstream)), (c, flow, tailwater, got, expected)


LANE = kernels.Barrels(
    sections.box(2.4, 1.5, 0.014),
    InletRow(1.0, 0.026, 1.0, 0.0347, 0.81, -0.5),
    1.0,
    22.0,
    30.1,
    30.0,
    1.0,
    0.4,
    1.0,
    0.0,
    0.0,
)
BARS = kernels.Screen(3.6, 2.0, 30.1, 0.862, 0.18, 0.5, 0.0, 1.7)
ROAD = kernels.Road(32.6, 14.0, 1.55)


def test_state_adds_up() -> None:
    """The flows sum, the level is the pool's, and the parts are those of the formulas they come from."""
    rng = np.random.default_rng(8)
    for _ in range(300):
        c, flow, tailwater = random_crossing(rng)
        b, screen, road = compiled(c)
        state = kernels.crossed(b, screen, road, flow, tailwater)
        assert state.level == kernels.pool_level(b, screen, road, flow, tailwater)
        assert state.barrel_flow + state.road_flow == pytest.approx(flow, rel=1e-12)
        assert state.level >= tailwater - 1e-9
        assert state.over_screen_flow <= state.barrel_flow + 1e-9
        if state.regime != kernels.NO_WAY_THROUGH:
            assert state.barrel_level == max(state.inlet_level, state.outlet_level)
            assert state.screen_drop >= -1e-6
            each = state.barrel_flow / b.number
            silt = c.tube.height_of_share(c.blockage) if c.pattern == kernels.BOTTOM_UP and c.blockage > 0 else 0.0
            s = sections.with_silt(b.section, silt)
            assert state.velocity_in == pytest.approx(each / sections.area(s, state.depth_in), rel=1e-6)
            assert state.velocity_out == pytest.approx(each / sections.area(s, state.depth_out), rel=1e-6)


def test_regimes() -> None:
    """One of each, told by what is seen: depths at both ends, levels, flows."""

    def regime(b: kernels.Barrels, flow: float, tailwater: float) -> float:
        return kernels.crossed(b, NO_SCREEN, NO_ROAD, flow, tailwater).regime

    steep = LANE._replace(downstream_invert=28.0, entrance_loss=0.2)
    rough = LANE._replace(section=sections.box(2.4, 1.5, 0.03))
    assert regime(steep._replace(row=LANE.row._replace(K=0.1)), 3.0, 28.2) == kernels.INLET_FREE
    assert regime(steep, 16.0, 28.2) == kernels.INLET_DROWNED
    assert regime(LANE, 3.0, 31.0) == kernels.OUTLET_FREE_SURFACE
    assert regime(rough, 9.0, 31.2) == kernels.OUTLET_PART_FULL
    assert regime(LANE, 6.0, 32.0) == kernels.OUTLET_FULL
    assert regime(LANE._replace(blockage=1.0), 6.0, 32.0) == kernels.NO_WAY_THROUGH
    over = kernels.crossed(LANE, BARS, ROAD, 7.5, 31.2)
    assert (over.regime, over.road_flow) == (kernels.OUTLET_FREE_SURFACE, 0.0)
    assert over.over_screen_flow > 0.0
    both = kernels.crossed(LANE, BARS._replace(blockage=0.9), ROAD, 7.5, 31.2)
    assert (both.regime, both.road_drowned) == (kernels.OUTLET_FREE_SURFACE, 0.0)
    assert min(both.over_screen_flow, both.road_flow) > 0.0
    drowned = kernels.crossed(LANE, NO_SCREEN, ROAD, 20.0, 33.5)
    assert (drowned.regime, drowned.road_drowned) == (kernels.OUTLET_FULL, 1.0)
    assert drowned.road_flow > 0.0


def test_the_screen_reports_what_passes_its_bars_and_its_drop() -> None:
    """Velocity on the gross wetted area, flow over the top as over a broad crest, drop to the water behind."""
    tops = []
    for flow, blockage in ((0.5, 0.0), (3.0, 0.5), (6.0, 0.9)):
        state = kernels.crossed(LANE, BARS._replace(blockage=blockage), NO_ROAD, flow, 30.9)
        over = 1.7 * 3.6 * max(state.level - 32.1, 0.0) ** 1.5  # the water behind stays below the top at 32.1
        assert state.barrel_level < 32.1
        assert state.over_screen_flow == pytest.approx(over, rel=1e-12)
        wetted = 3.6 * min(state.level - 30.1, 2.0)
        assert state.screen_velocity == pytest.approx((flow - over) / wetted, rel=1e-12)
        assert state.screen_drop == pytest.approx(state.level - state.barrel_level, abs=1e-12)
        tops.append(over > 0.0)
    assert tops == [False, False, True]


def test_a_silted_barrel_is_full_at_its_roof_and_not_at_its_old_rise() -> None:
    """Half silted, 0.75 m is left: with 1 m of water above the silt the barrel is full."""
    half = LANE._replace(blockage=0.5, pattern=float(kernels.BOTTOM_UP))
    state = kernels.crossed(half, NO_SCREEN, NO_ROAD, 3.0, 31.9)
    assert state.depth_out == pytest.approx(31.9 - 30.0 - 0.75)
    assert state.regime == kernels.OUTLET_FULL


def test_shut_barrels_send_everything_over_the_road() -> None:
    for pattern in (0.0, 1.0, 2.0):
        shut = LANE._replace(blockage=1.0, pattern=pattern)
        state = kernels.crossed(shut, NO_SCREEN, ROAD, 7.5, 31.2)
        assert state.level == pytest.approx(32.6 + (7.5 / (1.55 * 14.0)) ** (2 / 3), rel=1e-14)
        assert (state.barrel_flow, state.road_flow) == (0.0, 7.5)
        assert (state.regime, state.road_drowned) == (kernels.NO_WAY_THROUGH, 0.0)
        assert kernels.crossed(shut, NO_SCREEN, NO_ROAD, 7.5, 31.2).level == inf
        closed_top = BARS._replace(blockage=1.0, pattern=pattern, overflow_coefficient=0.0)
        assert kernels.crossed(LANE, closed_top, NO_ROAD, 7.5, 31.2).level == inf
        assert kernels.crossed(LANE, closed_top, ROAD, 7.5, 31.2).level == state.level


def test_what_is_not_there_changes_nothing() -> None:
    """A road far above, a screen of great width: the level of the barrels alone."""
    alone = kernels.pool_level(LANE, NO_SCREEN, NO_ROAD, 7.5, 31.2)
    assert kernels.pool_level(LANE, NO_SCREEN, kernels.Road(1e4, 14.0, 1.5), 7.5, 31.2) == alone
    wide = BARS._replace(width=1e5, blockage=0.0)
    assert kernels.pool_level(LANE, wide, NO_ROAD, 7.5, 31.2) == pytest.approx(alone, abs=1e-8)


def test_like_barrels_share_the_flow() -> None:
    one = kernels.pool_level(LANE, NO_SCREEN, NO_ROAD, 4.0, 31.2)
    assert kernels.pool_level(LANE._replace(number=3.0), NO_SCREEN, NO_ROAD, 12.0, 31.2) == one


def test_no_flow_and_no_end_of_water() -> None:
    still = kernels.crossed(LANE, BARS, ROAD, 0.0, 31.2)
    assert still.level == pytest.approx(31.2, abs=1e-12)
    assert not any(np.isnan(still))
    for screen in (NO_SCREEN, BARS):
        for road in (NO_ROAD, ROAD):
            endless = kernels.crossed(LANE, screen, road, 7.5, inf)
            assert endless.level == inf
            assert not any(np.isnan(endless))


def test_a_barrel_without_length_has_no_slope() -> None:
    short = LANE._replace(length=0.0, upstream_invert=30.0)
    level = kernels.pool_level(short, NO_SCREEN, NO_ROAD, 6.0, 31.4)
    head = 1.4 + 1.4 * (6.0 / (2.4 * 1.4)) ** 2 / (2 * 9.81)
    assert level == pytest.approx(30.0 + head, rel=1e-12)
