"""A culvert that obstructs nothing changes nothing; velocity heads at both ends count where they are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import crossing, outlet_control, profile, sections, uniform
from overbank.hydraulics.culverts import STILL, Ends, InletRow
from overbank.hydraulics.outlet_control import Lay

SCREEN, ROAD = crossing.Screen(*[0.0] * 8), crossing.Road(0.0, 0.0, 0.0)
ROW = InletRow(1.0, 0.026, 1.0, 0.0347, 0.81, -0.5)
G2 = 19.62


def culvert(width: float, ends: Ends, rise: float = 4.0, loss: float = 0.4) -> crossing.Barrels:
    """20 m at 2 in 1000, n 0.03."""
    return crossing.Barrels(
        sections.box(width, rise, 0.03), ROW, 1.0, 20.0, 10.04, 10.0, 1.0, loss, 1.0, 0.0, 0.0, ends=ends
    )


@pytest.mark.parametrize("flow", [2.0, 8.0, 14.0])
def test_a_box_as_wide_as_its_channel_is_20_m_of_channel(flow: float) -> None:
    """Level upstream within 1 mm of the channel's own, V up to 2 m/s; from still water it stood 0.26 m higher."""
    channel = sections.rectangle(3.0, 0.03)
    below = uniform.normal_depth(channel, flow, 0.002)
    head = uniform.velocity_head(channel, flow, below)
    bare = 10.04 + profile.depth_upstream(channel, flow, 0.002, 20.0, below)
    state = crossing.crossed(culvert(3.0, Ends(head, channel, 10.04)), SCREEN, ROAD, flow, 10.0 + below)
    assert state.level == pytest.approx(bare, abs=1e-3)
    assert state.energy == pytest.approx(bare + head, abs=1e-3)
    still = crossing.pool_level(culvert(3.0, STILL), SCREEN, ROAD, flow, 10.0 + below)
    assert still == pytest.approx(bare + 1.4 * head, abs=2e-3)


def test_still_water_is_the_default_and_the_limit_of_a_wide_channel() -> None:
    still = crossing.crossed(culvert(2.0, STILL), SCREEN, ROAD, 6.0, 11.6)
    wide = crossing.crossed(culvert(2.0, Ends(0.0, sections.rectangle(1e4, 0.03), 10.0)), SCREEN, ROAD, 6.0, 11.6)
    assert still.energy == still.level
    assert wide.level == pytest.approx(still.level, abs=1e-6)


def test_energy_before_a_narrow_box_by_scipy() -> None:
    """Contraction from a channel of 5 m into 2 m: Ke on the difference of velocity heads, Bernoulli for the rest."""
    channel, flow, below = sections.rectangle(5.0, 0.03), 6.0, 1.6
    state = crossing.crossed(culvert(2.0, Ends(0.05, channel, 10.04)), SCREEN, ROAD, flow, 10.0 + below)
    y, head = state.depth_in, state.velocity_in**2 / G2

    def excess(z: float) -> float:
        above = (flow / (5.0 * z)) ** 2 / G2
        return z + above - (y + head + 0.4 * (head - above))

    assert state.level == pytest.approx(10.04 + brentq(excess, 1.0, 5.0), abs=1e-6)
    assert state.energy == pytest.approx(state.level + (flow / (5.0 * (state.level - 10.04))) ** 2 / G2, abs=1e-9)


def test_inlet_control_gives_the_depth_of_its_energy_in_the_approach() -> None:
    channel = sections.trapezoid(3.0, 1.5, 0.03)
    steep = culvert(1.5, STILL, rise=1.5)._replace(downstream_invert=8.0)
    pool = crossing.crossed(steep, SCREEN, ROAD, 3.0, 8.2)
    state = crossing.crossed(steep._replace(ends=Ends(0.0, channel, 10.0)), SCREEN, ROAD, 3.0, 8.2)
    assert pool.regime == state.regime == crossing.INLET_FREE
    assert state.energy == pytest.approx(pool.level, abs=1e-9)
    assert state.level < pool.level - 0.01


@pytest.mark.parametrize("exit_loss", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("head_below", [0.0, 0.05, 0.4])
def test_the_exit_loses_the_difference_of_velocity_heads(exit_loss: float, head_below: float) -> None:
    """HDS-5 p. 33, eq. 4c: y + V^2/2g = depth + Vd^2/2g + Ko (V^2 - Vd^2)/2g, the last not below 0; by brentq."""
    s, flow, below = sections.box(2.0, 3.0, 0.013), 4.0, 1.3

    def excess(y: float) -> float:
        head = (flow / (2.0 * y)) ** 2 / G2
        return y + head - exit_loss * max(head - head_below, 0.0) - below - head_below

    critical = uniform.critical_depth(s, flow)
    got = outlet_control.outlet_depth(s, flow, critical, Lay(0.0, 0.0, below, 0.5, exit_loss, head_below))
    assert got == pytest.approx(brentq(excess, critical, 3.0), abs=1e-8)


def test_the_level_never_falls_with_water_moving_at_both_ends() -> None:
    """3000 random boxes in channels wider and narrower: with more flow, tailwater, velocity below, roughness.

    The numbers of barrel and channel are drawn apart, so that most are far from matching. One limit: in a *steep*
    barrel that its tailwater drowns, the depth at the inlet end falls as the flow rises, and the surface before it may
    follow while the energy rises: 4 steps of 2 % of the flow in 3000, at most 5 mm.
    """
    falls = []
    rng = np.random.default_rng(6)
    for _ in range(3000):
        width, rise = rng.uniform(0.8, 4.0), rng.uniform(0.8, 3.0)
        channel = sections.trapezoid(width * rng.uniform(0.7, 2.5), rng.uniform(0, 2), 0.03)
        s = sections.box(width, rise, rng.uniform(0.01, 0.04))
        fall = 20.0 * rng.choice([0.0, 0.002, 0.03])
        numbers = [width * rise**1.5 * np.exp(rng.uniform(-3, 0.8)), rng.uniform(-0.2, 1.6) * rise, rng.uniform(0, 0.2)]

        def level(flow, below, head, n, s=s, channel=channel, fall=fall):
            ends = Ends(head, channel, 10.0 + fall)
            b = crossing.Barrels(
                s._replace(manning_n=n, bed_manning_n=n),
                ROW,
                1.0,
                20.0,
                10.0 + fall,
                10.0,
                1.0,
                0.4,
                1.0,
                0.0,
                0.0,
                ends=ends,
            )
            return crossing.pool_level(b, SCREEN, ROAD, flow, 10.0 + below)

        numbers.append(s.manning_n)
        before = level(*numbers)
        for k, step in enumerate((0.02 * numbers[0], 0.03, 0.02, 0.002)):
            more = list(numbers)
            more[k] += step
            if k == 0:  # the water below is of the same flow: at one level its velocity head grows with its square
                more[2] *= 1.02**2
            after = level(*more)
            if after < before - 1e-6:
                assert k == 0, (k, numbers, s, channel, fall)
                assert fall > 0.1, (numbers, s, channel)
                falls.append(before - after)
    assert len(falls) < 10
    assert max(falls, default=0.0) < 0.006


def test_silt_has_a_roughness_of_its_own() -> None:
    """A silted box by a plain sum: n = [sum(P n^1.5)/P]^(2/3), full barrel, losses on its velocity head (HDS-5 p. 34).

    Half of 1.5 m silted, silt 0.03 against walls 0.013: friction rises, and with it the level.
    """
    b = crossing.Barrels(sections.box(2.0, 1.5, 0.013), ROW, 1.0, 30.0, 10.0, 10.0, 1.0, 0.4, 1.0, 0.5, 2.0)
    levels = {n: crossing.pool_level(b._replace(silt_n=n), SCREEN, ROAD, 3.0, 12.0) for n in (0.013, 0.03, 0.05)}
    for n, level in levels.items():
        area, perimeter = 2.0 * 0.75, 2 * (2.0 + 0.75)
        mean = ((2.0 * n**1.5 + (perimeter - 2.0) * 0.013**1.5) / perimeter) ** (2 / 3)
        head = (3.0 / area) ** 2 / G2
        friction = (mean * 3.0 / area) ** 2 * (perimeter / area) ** (4 / 3) * 30.0
        assert level == pytest.approx(12.0 + friction + 1.4 * head, abs=1e-6)
    assert crossing.pool_level(b, SCREEN, ROAD, 3.0, 12.0) == levels[0.03]
    assert sections.with_silt(b.section, 1e-9, 0.05).bed_manning_n == pytest.approx(0.013, abs=1e-6)
