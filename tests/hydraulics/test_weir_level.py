"""The level upstream of a weir: laws, a second route in plain SciPy, and a flume of common practice."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from overbank.hydraulics import crests, sections
from overbank.hydraulics.weir_level import (
    APPROACH_CRITICAL,
    DROWNED,
    FREE,
    LOW_SILL,
    NO_CREST,
    NO_PLATE,
    Crest,
    counted_velocity_head,
    weir_flow,
    weir_level,
    weir_state,
)

NEVER_FALLS = 3e-8
"""What rounding and the tolerance of the solver may take off a level [m]."""


def crest(**changes: object) -> Crest:
    """A straight crest 1 m high across a channel 10 m wide, changed as told."""
    plain = Crest(
        approach=sections.rectangle(10.0, 0.03),
        plate=NO_PLATE,
        kind=float(crests.GIVEN),
        level=11.0,
        width=10.0,
        breadth=1.0,
        angle_deg=0.0,
        gain=1.0,
        factor=1.0,
        coefficient=1.6,
        modular_limit=0.7,
        approach_bed=10.0,
    )
    return plain._replace(**changes)


@st.composite
def any_crest(draw: st.DrawFn) -> Crest:
    """Any kind, straight or oblique, contracted or not, high or sunk into the bed; trapezoid, rectangle or pool."""
    share = draw(st.sampled_from([0.2, 0.7, 1.0]))
    width = draw(st.floats(0.5, 30.0))
    side = draw(st.sampled_from([0.0, 0.5, 3.0]))
    approach = draw(
        st.sampled_from(
            [
                sections.rectangle(width / share, 0.03),
                sections.trapezoid(width / share, side, 0.03),
                sections.rectangle(inf, 0.03),
            ]
        )
    )
    return crest(
        approach=approach,
        plate=crests.plate_row(share),
        kind=float(draw(st.sampled_from(range(5)))),
        level=10.0 + draw(st.floats(-0.3, 3.0)),
        width=width,
        breadth=draw(st.floats(0.05, 5.0)),
        angle_deg=draw(st.sampled_from([0.0, 20.0, 45.0, 75.0])),
        gain=draw(st.floats(0.0, 2.0)),
        factor=draw(st.floats(0.6, 1.4)),
        coefficient=draw(st.floats(1.2, 2.2)),
        modular_limit=draw(st.floats(0.0, 0.9)),
    )


LAW = settings(max_examples=150, deadline=None)


@LAW
@given(
    c=any_crest(),
    flow=st.floats(1e-3, 300.0),
    more=st.floats(1.0, 3.0),
    depth=st.floats(0.0, 5.0),
    moving=st.booleans(),
)
def test_level_never_falls_when_the_flow_rises(c: Crest, flow: float, more: float, depth: float, moving: bool) -> None:
    """With the level below held; its energy level equal to it, or that of a channel 12 m wide and deep enough."""
    below = 10.0 + depth + ((0.1 * flow * more) ** 2 / 9.81) ** (1.0 / 3.0)
    levels = []
    for q in np.geomspace(flow, flow * more, 8):
        head = (q / (12.0 * (below - 10.0))) ** 2 / (2.0 * 9.81) if moving else 0.0
        levels.append(weir_level(c, q, below, below + head))
    assert np.all(np.diff(levels) >= -NEVER_FALLS)
    assert levels[0] >= below


@LAW
@given(c=any_crest(), flow=st.floats(1e-3, 300.0), depth=st.floats(1.0, 4.0), moving=st.booleans())
def test_level_never_falls_when_the_level_below_rises(c: Crest, flow: float, depth: float, moving: bool) -> None:
    """Subcritical depths below in a channel 12 m wide, its energy level passed on or not."""
    critical = ((flow / 12.0) ** 2 / 9.81) ** (1.0 / 3.0)
    levels = []
    for y in np.linspace(critical, depth * critical + 1.0, 8):
        head = (flow / (12.0 * y)) ** 2 / (2.0 * 9.81) if moving else 0.0
        levels.append(weir_level(c, flow, 10.0 + y, 10.0 + y + head))
    assert np.all(np.diff(levels) >= -NEVER_FALLS)


@LAW
@given(c=any_crest(), flow=st.floats(1e-2, 300.0), drowned=st.floats(-1.0, 3.0))
def test_the_level_found_passes_the_flow(c: Crest, flow: float, drowned: float) -> None:
    """Put back into the rating; equal levels have infinite slope, so the drop is given the solver's tolerance."""
    below = c.level + drowned
    state = weir_state(c, flow, below, below)
    if state.regime == APPROACH_CRITICAL or c.level < c.approach_bed:
        return
    lower = inf if state.regime == LOW_SILL else 1.0  # a low sill may pass more than the law of drowning says

    def passed(head: float) -> float:
        return weir_flow(c, head, head + counted_velocity_head(c, flow, head), drowned, drowned)

    assert passed(state.head - 2e-10) <= flow * (1.0 + 1e-9)
    assert passed(state.head + 2e-10) * lower >= flow * (1.0 - 1e-9)


@pytest.mark.parametrize(("height", "depth"), [(0.1, 1.5), (0.3, 2.0), (0.5, 2.0), (0.5, 3.0), (1.0, 3.0)])
def test_a_drowned_low_sill_is_a_bump(height: float, depth: float) -> None:
    """Energy over the bump by plain SciPy: contraction after Weisbach, widening after Borda; the channel 10 m wide.

    The law of drowning had 0.094 m where a sill of 0.5 m stands under 2 m of water, this balance 0.027 m.
    """
    flow, g2 = 20.0, 2.0 * 9.81
    over, slow = depth - height, flow / (10.0 * depth)
    jet = flow / (10.0 * over * (0.62 + 0.38 * (over / depth) ** 3))
    energy = depth + slow**2 / g2 + (jet - slow) ** 2 / g2
    upstream = brentq(lambda y: y + (flow / (10.0 * y)) ** 2 / g2 - energy, depth, 2.0 * depth, xtol=1e-13)
    state = weir_state(crest(level=10.0 + height), flow, 10.0 + depth, 10.0 + depth + slow**2 / g2)
    assert state.level == pytest.approx(10.0 + upstream, abs=1e-8)
    assert state.regime == LOW_SILL
    assert state.level < 10.0 + depth + 0.1
    if (height, depth) == (0.5, 2.0):
        assert state.level - 12.0 == pytest.approx(0.027, abs=0.0005)


def test_a_sill_that_vanishes_leaves_nothing() -> None:
    """As wide as its channel, from 0.3 m down to nothing: the rise goes to nothing, without a step."""
    rises = [
        weir_state(crest(level=10.0 + height), 20.0, 12.0, 12.0 + (20.0 / 20.0) ** 2 / (2.0 * 9.81)).level - 12.0
        for height in np.linspace(0.3, 0.0, 301)
    ]
    assert np.all(np.diff(rises) <= 1e-9)
    assert np.max(-np.diff(rises)) < 2e-4
    assert rises[-1] < 1e-9


@pytest.mark.parametrize("kind", range(5))
@pytest.mark.parametrize("drowned", [-1.0, 0.2, 0.5, 0.8])
def test_second_route_in_plain_scipy(kind: int, drowned: float) -> None:
    """The equations of each kind written out again, the velocity of approach included, and solved by brentq."""
    flow, height, width, breadth = 14.0, 1.0, 10.0, 1.0
    c = crest(kind=float(kind), plate=crests.plate_row(1.0))
    ideal = (2.0 / 3.0) ** 1.5 * sqrt(9.81)

    def excess(h: float) -> float:
        energy = h + (flow / (width * (h + height))) ** 2 / (2.0 * 9.81)
        coefficient = {
            0: 0.848 / 0.864 * max(0.864, 0.191 * h / breadth + 0.782) * ideal * energy**1.5,
            1: (1 - 0.006 * breadth / width) * (1 - 0.003 * breadth / h) ** 1.5 * ideal * energy**1.5,
            2: (0.602 + 0.075 * h / height) * 2 / 3 * sqrt(2 * 9.81) * (h + 0.001) ** 1.5 * (width - 0.0009) / width,
            3: 1.163 * (1 - 0.0003 / h) ** 1.5 * ideal * energy**1.5,
            4: 1.6 * energy**1.5,
        }[kind]
        ratio = drowned / h
        if kind == 3:
            factor = min(1.0, 1.035 * (0.817 - min(max(ratio, 0.0), 0.94) ** 4) ** 0.0647, 8.686 - 8.403 * ratio)
        else:
            past = max(ratio - 0.7, 0.0) / 0.3
            factor = (1.0 - past**1.5) ** 0.385
        return float(coefficient * width * factor - flow)

    low = max(drowned / 0.98, 0.05)
    assert weir_level(c, flow, 11.0 + drowned, 11.0 + drowned) - 11.0 == pytest.approx(
        brentq(excess, low, 5.0), abs=1e-8
    )


@pytest.mark.parametrize("kind", range(5))
def test_level_is_continuous_at_the_modular_limit(kind: int) -> None:
    c = crest(kind=float(kind), plate=crests.plate_row(1.0), modular_limit=0.0 if kind == crests.THIN_PLATE else 0.7)
    belows = np.linspace(10.5, 12.5, 4001)
    levels = np.array([weir_level(c, 8.0, z, z) for z in belows])
    steps = np.diff(levels)
    assert np.all(steps >= -NEVER_FALLS)
    assert np.max(steps) < 1.5 * (belows[1] - belows[0])
    free = np.diff(levels)[belows[1:] < 11.0]
    assert np.max(free) < 1e-8  # the crest is not drowned by water below it


@pytest.mark.parametrize("kind", [crests.BROAD_CRESTED, crests.ROUND_NOSED, crests.GIVEN])
@pytest.mark.parametrize("angle", [0.0, 45.0])
def test_froude_scaling_of_the_level(kind: int, angle: float) -> None:
    """All lengths by 25 and the flow by 25^2.5: every level by 25 exactly (a coefficient of Q = C b H^1.5 stays)."""
    scale = 25.0

    def above_bed(s: float) -> float:
        c = crest(
            approach=sections.trapezoid(8.0 * s, 1.0, 0.03),
            kind=float(kind),
            level=1.0 * s,
            width=10.0 * s,
            breadth=0.9 * s,
            angle_deg=angle,
            approach_bed=0.0,
        )
        return weir_level(c, 12.0 * s**2.5, 1.6 * s, 1.65 * s)

    assert above_bed(scale) == pytest.approx(scale * above_bed(1.0), rel=1e-9)


def test_approach_velocity_lowers_the_level_and_a_contraction_raises_it() -> None:
    wide, narrow = crest(), crest(width=6.0)
    pool = crest(approach=sections.rectangle(inf, 0.03))
    level = weir_level(wide, 12.0, 0.0, 0.0)
    assert level < weir_level(pool, 12.0, 0.0, 0.0) < level + 0.05
    assert weir_level(narrow, 12.0, 0.0, 0.0) > level + 0.2
    # energy head, closed form: (Q / C b)^(2/3)
    state = weir_state(wide, 12.0, 0.0, 0.0)
    assert state.energy - 11.0 == pytest.approx((12.0 / 16.0) ** (2.0 / 3.0), rel=1e-8)


def test_drowned_by_energy_heads_where_the_water_below_is_fast() -> None:
    """The greater of both ratios: energy heads where the channel below is the faster, static heads for a plate."""
    below, energy = 11.6, 11.75
    slow, fast = (weir_state(crest(), 12.0, below, e) for e in (below, energy))
    assert fast.level > slow.level
    assert fast.drowned_ratio == pytest.approx(0.75 / (fast.energy - 11.0), rel=1e-6)
    plate = crest(kind=float(crests.THIN_PLATE), plate=crests.plate_row(1.0), modular_limit=0.0)
    assert weir_level(plate, 12.0, below, energy) == weir_level(plate, 12.0, below, below)


def test_velocity_head_counts_up_to_half_the_head_and_half_the_mean_depth() -> None:
    """Slow: V^2/2g itself. Fast: half the head over a high crest, half of A/T where that is less; none in a pool."""
    assert counted_velocity_head(crest(), 4.0, 1.0) == pytest.approx((4.0 / 20.0) ** 2 / (2 * 9.81), rel=1e-12)
    assert counted_velocity_head(crest(), 400.0, 1.0) == 0.5
    flared = crest(approach=sections.trapezoid(1.0, 3.0, 0.03), level=10.0)
    assert counted_velocity_head(flared, 400.0, 1.0) == pytest.approx(0.5 * 4.0 / 7.0)
    assert counted_velocity_head(crest(approach=sections.rectangle(inf, 0.03)), 400.0, 1.0) == 0.0


def test_factor_and_gain_move_the_level_as_they_should() -> None:
    oblique = crest(angle_deg=45.0)
    levels = [weir_level(oblique._replace(gain=gain), 12.0, 0.0, 0.0) for gain in (0.0, 0.5, 1.0, 1.5)]
    assert np.all(np.diff(levels) < 0.0)
    assert levels[0] == weir_level(crest(), 12.0, 0.0, 0.0)
    assert weir_level(crest(factor=0.9), 12.0, 0.0, 0.0) > levels[0]


def test_states_are_told_apart() -> None:
    assert weir_state(crest(), 12.0, 10.5, 10.5).regime == FREE
    drowned = weir_state(crest(), 12.0, 11.8, 11.8)
    assert drowned.regime == DROWNED
    assert drowned.drowned_factor < 1.0
    # a low crest, far longer than the channel is wide, would draw more than the channel can bring
    long = crest(level=10.02, angle_deg=75.0, gain=2.0, coefficient=2.2)
    choked = weir_state(long, 12.0, 10.0, 10.0)
    assert choked.regime == APPROACH_CRITICAL
    assert choked.froude == pytest.approx(1.0, abs=1e-6)
    assert choked.level == pytest.approx(10.0 + (1.2**2 / 9.81) ** (1.0 / 3.0), rel=1e-9)
    for nothing in (crest(width=0.0), crest(factor=0.0), crest(coefficient=0.0)):
        assert weir_state(nothing, 12.0, 10.5, 10.5).regime == NO_CREST
        assert weir_level(nothing, 12.0, 10.5, 10.5) == inf
    assert weir_level(crest(), 12.0, inf, inf) == inf


def test_no_flow_leaves_the_water_at_the_crest_or_at_the_level_below() -> None:
    assert weir_level(crest(), 0.0, 10.2, 10.2) == 11.0
    assert weir_level(crest(), 0.0, 11.2, 11.2) == 11.2
    assert weir_level(crest(), 1e-9, 10.2, 10.2) == pytest.approx(11.0, abs=1e-5)
    assert weir_level(crest(), 1e-9, 11.2, 11.2) == pytest.approx(11.2, abs=1e-9)
    assert weir_state(crest(), 0.0, 10.2, 10.2).velocity == 0.0


# A flume: a square-edged broad crest 5.0 cm high raises uniform flow 4.5 cm deep to about 10.2 cm (common practice, no
# source). Its breadth is not known, so three are tried, and an ideal crest, on which the flow is critical without loss.
FLUME = crest(
    approach=sections.rectangle(1.0, 0.01),
    kind=float(crests.BROAD_CRESTED),
    level=0.05,
    width=1.0,
    approach_bed=0.0,
    modular_limit=0.66,
)
FLUME_CRESTS = {
    "breadth 5 cm": FLUME._replace(breadth=0.05),
    "breadth 10 cm": FLUME._replace(breadth=0.10),
    "breadth 20 cm": FLUME._replace(breadth=0.20),
    "ideal": FLUME._replace(kind=float(crests.GIVEN), coefficient=crests.CRITICAL_CREST),
}


def flume_flow(c: Crest) -> float:
    """Flow per metre that stands 10.2 cm deep before the crest, the undisturbed 4.5 cm below it."""
    return float(brentq(lambda q: weir_level(c, q, 0.045, 0.045) - 0.102, 1e-4, 0.1, xtol=1e-12))


@pytest.mark.parametrize("name", FLUME_CRESTS)
def test_flume_undisturbed_flow_is_subcritical(name: str) -> None:
    """Froude number of the undisturbed flow about 0.6 to 0.75, to two digits."""
    froude = flume_flow(FLUME_CRESTS[name]) / (0.045 * sqrt(9.81 * 0.045))
    assert 0.60 <= round(froude, 2) <= 0.75


@pytest.mark.parametrize("name", FLUME_CRESTS)
def test_flume_diagonal_crest_of_the_same_height_raises_the_water_less(name: str) -> None:
    straight = FLUME_CRESTS[name]
    flow = flume_flow(straight)
    rises = [weir_level(straight._replace(angle_deg=a), flow, 0.045, 0.045) - 0.045 for a in (0.0, 30.0, 45.0, 60.0)]
    assert rises[0] == pytest.approx(0.057, abs=1e-9)
    assert np.all(np.diff(rises) < -0.0005)
    no_gain = straight._replace(angle_deg=60.0, gain=0.0)
    assert weir_level(no_gain, flow, 0.045, 0.045) - 0.045 == pytest.approx(rises[0], abs=1e-9)
