"""The sluice gate: laws on random gates, and a second route in plain SciPy that shares no code."""

from __future__ import annotations

from math import inf, isnan, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import gate
from overbank.hydraulics.gate import Gate, GateState, gate_state

G = 9.81
COUNT = 4000
NEVER_FALLS = 1e-8
"""What rounding and the tolerance of the solver may take off a level [m]."""


def plain(width: float, opening: float, **changes: float) -> Gate:
    """A gate as wide as its channel, on the bed, without flow over its top."""
    return Gate(width, opening, 0.61, width, 0.0, 0.0, inf, 0.0)._replace(**changes)


def run(g: Gate, flow: float, below: float, width_below: float) -> GateState:
    """State of a gate with a rectangular channel below, at critical depth at least; still where that is endless."""
    if width_below == inf:
        return gate_state(g, flow, below, below)
    below = max(below, g.bed + ((flow / width_below) ** 2 / G) ** (1 / 3))
    velocity = flow / (width_below * (below - g.bed))
    return gate_state(g, flow, below, below + velocity**2 / (2 * G))


def smallest_flow(depth: float, opening: float, contraction: float, below: float) -> float:
    """Flow per width from the depth upstream: the smallest root of energy and momentum, or the free jet's."""
    jet = contraction * opening
    free = sqrt(2 * G * depth / (1 + jet / depth)) * jet
    q = np.linspace(1e-9, 1.05 * free, 4001)
    gap = energy_gap(q, depth, jet, below)
    crossed = np.flatnonzero((gap[:-1] < 0) & (gap[1:] >= 0))
    if not crossed.size or below <= jet:
        return free
    k = crossed[0]
    return float(brentq(lambda x: float(energy_gap(np.array(x), depth, jet, below)), q[k], q[k + 1], xtol=1e-14))


def energy_gap(q: np.ndarray, depth: float, jet: float, below: float) -> np.ndarray:
    """Energy of the drowned jet less that upstream [m]; missing where the jet is no longer drowned."""
    standing = below**2 + 2 * q**2 / G * (1 / below - 1 / jet)
    standing = np.sqrt(np.where(standing >= jet**2, standing, np.nan))
    return standing + q**2 / (2 * G * jet**2) - depth - q**2 / (2 * G * depth**2)


def test_flow_and_depth_by_a_plain_scan():
    """The published recipe: smallest positive flow. Depths of 1 to 4 m, openings to 0.3 of that, free and drowned."""
    draw = np.random.default_rng(5)
    regimes = set()
    for _ in range(300):
        depth = draw.uniform(1.0, 4.0)
        opening, contraction = depth * draw.uniform(0.02, 0.3), draw.uniform(0.55, 0.75)
        below = depth * draw.uniform(0.1, 0.97)
        q = smallest_flow(depth, opening, contraction, below)
        state = run(plain(3.0, opening, contraction=contraction), 3.0 * q, below, 3.0)
        assert state.level == pytest.approx(depth, abs=2e-6)
        regimes.add(state.regime)
    assert regimes == {gate.FREE_JET, gate.DROWNED_JET}


def test_levels_just_after_drowning_stay_at_the_highest():
    """Where the pair gives a falling level the level stays; here at most a quarter above the falling branch."""
    opening, jet, below = 0.25, 0.1525, 1.5
    flows = np.linspace(0.01, 2.0, 4001)
    levels = np.array([run(plain(1.0, opening), float(q), below, 1.0).level for q in flows])
    standing = below**2 + 2 * flows**2 / G * (1 / below - 1 / jet)
    drowned = standing > jet**2
    energy = np.sqrt(np.where(drowned, standing, jet**2)) + flows**2 / (2 * G * jet**2)
    deep = [
        brentq(lambda y, e=e, q=q: y + q**2 / (2 * G * y**2) - e, (q**2 / G) ** (1 / 3), e + 1e-9)
        for e, q in zip(energy, flows, strict=True)
    ]
    assert levels == pytest.approx(np.maximum.accumulate(np.maximum(deep, below)), abs=1e-5)
    assert 0.0 < np.max(levels - np.array(deep)) < 0.25 * np.max(deep)


@pytest.mark.parametrize(("flow", "below"), [(5.0, 2.012), (5.0, 1.2), (0.3, 0.9), (12.0, 0.2)])
def test_a_lip_out_of_the_water_is_not_there(flow, below):
    """A gate as wide as its channel leaves the level below, or critical depth, to a millionth of a metre."""
    stands = max(below, ((flow / 2.0) ** 2 / G) ** (1 / 3))
    head = stands + (flow / (2.0 * stands)) ** 2 / (2 * G)
    for opening in (head, 1.3 * head, 50.0):
        state = run(plain(2.0, opening), flow, below, 2.0)
        assert state.level == pytest.approx(stands, abs=1e-6)
        assert state.regime == gate.LIP_CLEAR


def test_a_narrow_opening_with_its_lip_clear_is_a_choke():
    """Critical depth over a sill: E = s + 1.5 (q^2/g)^(1/3) upstream, whatever stands far below."""
    g = plain(1.5, 9.0, approach_width=4.0, sill=0.3)
    head = 0.3 + 1.5 * ((6.0 / 1.5) ** 2 / G) ** (1 / 3)
    depth = brentq(lambda y: y + (6.0 / (4.0 * y)) ** 2 / (2 * G) - head, 2 * head / 3, head)
    assert run(g, 6.0, 0.2, 4.0).level == pytest.approx(depth, abs=1e-9)


def test_over_the_top_beside_the_jet():
    """Free jet of a pool and thin plate over the top, added at one level."""
    g = plain(2.0, 0.2, approach_width=inf, top=1.5, top_coefficient=1.8)
    jet = 0.2 * 0.61
    flow = 2.0 * jet * sqrt(2 * G * (1.9 - jet)) + 1.8 * 2.0 * 0.4**1.5
    state = gate_state(g, flow, 0.1, 0.1)
    assert state.level == pytest.approx(1.9, abs=1e-7)
    assert state.regime == gate.FREE_JET
    assert state.over_flow > 0.0
    assert state.gate_flow + state.over_flow == pytest.approx(flow, rel=1e-12)
    assert state.jet_velocity == pytest.approx(sqrt(2 * G * (1.9 - jet)), rel=1e-6)


def test_shut():
    g = plain(2.0, 0.0, top=1.5, top_coefficient=1.8)
    state = gate_state(g, 3.6 * 0.5**1.5, 0.2, 0.2)
    assert (state.level, state.regime) == (pytest.approx(2.0, abs=1e-9), gate.SHUT_GATE)
    assert gate_state(g._replace(top=inf), 1.0, 0.2, 0.2)[:3] == (inf, inf, gate.SHUT_GATE)
    assert gate_state(plain(2.0, 0.3), 1.0, inf, inf)[:3] == (inf, inf, gate.SHUT_GATE)
    assert gate_state(plain(2.0, 0.3), 0.0, 0.7, 0.7)[:3] == (0.7, 0.7, gate.LIP_CLEAR)


# --- laws over random gates -----------------------------------------------------------------------------


def random_cases(seed: int, count: int) -> list[tuple[Gate, float, float, float]]:
    """Gate, flow, level and width of the channel below: sills, narrow gates, pools, tops, all sizes."""
    draw = np.random.default_rng(seed)
    cases = []
    for _ in range(count):
        width = draw.uniform(0.3, 10.0)
        above, below = (width * draw.choice([1.0, draw.uniform(1.0, 3.0), inf]) for _ in range(2))
        sill = draw.choice([0.0, draw.uniform(0.0, 1.0)])
        opening = 10.0 ** draw.uniform(-2.0, 0.5)
        top = draw.choice([inf, sill + opening + draw.uniform(0.1, 3.0)])
        g = Gate(width, opening, draw.uniform(0.55, 0.8), above, 0.0, sill, top, 1.8)
        cases.append((g, width * 10.0 ** draw.uniform(-2.5, 1.0), 10.0 ** draw.uniform(-1.5, 0.6), below))
    return cases


CHANGES = {
    "flow": lambda g, flow, below, wide, f: (g, flow * f, below, wide),
    "level below": lambda g, flow, below, wide, f: (g, flow, below * f, wide),
    "closing": lambda g, flow, below, wide, f: (g._replace(opening=g.opening / f), flow, below, wide),
    "contraction": lambda g, flow, below, wide, f: (g._replace(contraction=g.contraction / f), flow, below, wide),
    "higher top": lambda g, flow, below, wide, f: (g._replace(top=g.top * f), flow, below, wide),
}


@pytest.mark.parametrize("what", CHANGES)
def test_the_level_never_falls(what):
    """Steps from a hundred-thousandth to three quarters."""
    draw = np.random.default_rng(2)
    for case in random_cases(1, COUNT):
        before = run(*case).level
        after = run(*CHANGES[what](*case, 1.0 + 10.0 ** draw.uniform(-5.0, -0.1))).level
        assert not isnan(after)
        assert after >= before - NEVER_FALLS * max(1.0, before), case


def test_there_is_no_jump():
    """A ten-millionth more flow, level below or closing moves the level by less than a ten-thousandth of itself."""
    for case in random_cases(3, COUNT):
        before = run(*case).level
        for what in ("flow", "level below", "closing"):
            after = run(*CHANGES[what](*case, 1.0 + 1e-7)).level
            assert after - before < 1e-4 * before, (what, case)


def test_never_below_the_level_below_and_the_flow_adds_up():
    for g, flow, below, wide in random_cases(4, COUNT):
        state = run(g, flow, below, wide)
        assert state.level >= below
        assert state.energy >= state.level
        assert state.gate_flow + state.over_flow == pytest.approx(flow, rel=1e-9)


def test_scale():
    """Lengths times 7, flow times 7^2.5: every level sevenfold (no flow over the top)."""
    for g, flow, below, wide in random_cases(6, 300):
        lengths = {"width": g.width, "opening": g.opening, "approach_width": g.approach_width, "sill": g.sill}
        small = g._replace(top=inf)
        large = small._replace(**{name: 7 * length for name, length in lengths.items()})
        state = run(large, 7**2.5 * flow, 7 * below, 7 * wide)
        assert state.level == pytest.approx(7 * run(small, flow, below, wide).level, rel=1e-7)
