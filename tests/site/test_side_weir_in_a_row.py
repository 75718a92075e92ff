"""A side weir in a row: the flow that stays, by solves that share no code; and the law, with a barrel that shuts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from overbank.site.channel import Channel
from overbank.site.gate import Gate
from overbank.site.long_section import long_section
from overbank.site.numbers import Column
from overbank.site.row import Site, SiteOutcome
from overbank.site.side_weir import LEAVES, SideWeir
from overbank.site.tailwater import FixedLevel, Rating
from overbank.site.validity import remarks

G = 9.81
RATING = Rating((0.0, 2.0, 4.0, 8.0), (10.0, 10.8, 11.2, 11.8))
SIDE = SideWeir("side", "rectangle")
GATE = Gate("lock", has_top=False)
REACH = Channel("reach", "rectangle")
NUMBERS: dict[str, Column] = {
    "flow.design_m3_s": 5.0,
    "tailwater.rating_shift_m": 0.0,
    "tailwater.level_m": 10.4,
    "side.section.width_m": 4.0,
    "side.bed_level_m": 10.0,
    "side.length_m": 6.0,
    "side.crest_level_m": 10.9,
    "side.coefficient": 1.7,
    "lock.width_m": 3.0,
    "lock.opening_m": 0.6,
    "lock.contraction": 0.61,
    "lock.sill_level_m": 10.0,
    "lock.blockage": 0.0,
    "lock.approach.section.width_m": 4.0,
    "lock.approach.bed_level_m": 10.0,
    "reach.section.width_m": 4.0,
    "reach.length_m": 30.0,
    "reach.bed_level_m": 10.0,
    "reach.bed_slope": 0.001,
    "reach.manning_n": 0.03,
}


def marched(site: Site, samples: int = 1, **changed: Any) -> SiteOutcome:
    return site.march({**NUMBERS, **{name.replace("__", "."): each for name, each in changed.items()}}, samples)


def depth_of(energy: float, flow: float) -> float:
    """Subcritical depth in the channel 4 m wide."""
    critical = ((flow / 4.0) ** 2 / G) ** (1 / 3)
    return float(brentq(lambda y: y + (flow / (4.0 * y)) ** 2 / (2 * G) - energy, critical, energy, xtol=1e-14))


def flow_above(below: float, level: float, steps: int = 4000) -> tuple[float, float]:
    """Flow and level at the upper end, by small steps of the middle rule in plain Python."""
    energy = level - 10.0 + (below / (4.0 * (level - 10.0))) ** 2 / (2 * G)
    flow, step = below, 6.0 / steps
    for _ in range(steps):
        middle = flow + 0.5 * step * 1.7 * max(10.0 + depth_of(energy, flow) - 10.9, 0.0) ** 1.5
        flow += step * 1.7 * max(10.0 + depth_of(energy, middle) - 10.9, 0.0) ** 1.5
    return flow, 10.0 + depth_of(energy, flow)


def test_above_a_rating_by_plain_python() -> None:
    """The flow that stays is that for which flow above and study agree, found by bisection over the whole."""
    stays = brentq(lambda q: flow_above(q, float(np.interp(q, RATING.flows, RATING.levels)), 400)[0] - 5.0, 2.6, 5.0)
    level = flow_above(stays, float(np.interp(stays, RATING.flows, RATING.levels)))[1]
    found = marched(Site((SIDE,), RATING)).element("side").results
    assert found["flow_below"][0] == pytest.approx(stays, abs=2e-5)
    assert found["flow_above"][0] == pytest.approx(5.0, abs=1e-8)
    assert found["level"][0] == pytest.approx(level, abs=2e-5)


def test_an_endless_crest_by_one_balance_of_energy() -> None:
    """At its upper end the water stands at the crest with all that comes: P + (Q/A)^2/2g is the energy at the lower."""
    flows = np.array([3.0, 5.0, 8.0])
    found = marched(Site((SIDE,), RATING), 3, flow__design_m3_s=flows, side__length_m=1e6).element("side").results

    def excess(stays: float, comes: float) -> float:
        depth = float(np.interp(stays, RATING.flows, RATING.levels)) - 10.0
        heads = (stays / (4.0 * depth)) ** 2 - (comes / (4.0 * 0.9)) ** 2
        return depth - 0.9 + heads / (2 * G)

    expected = np.array([brentq(excess, 2.0, comes, args=(comes,)) for comes in flows.tolist()])
    assert found["flow_below"] == pytest.approx(expected, rel=1e-6)
    assert found["over_flow"] == pytest.approx(flows - expected, rel=1e-6)
    assert found["level"] == pytest.approx(np.full(3, 10.9), abs=1e-6)


def test_what_joins_and_what_leaves_add_up() -> None:
    upper = SideWeir("upper", "trapezoid")
    numbers: dict[str, Any] = {
        "upper__section.bed_width_m": 3.0,
        "upper__section.side_slope": 1.0,
        "upper__bed_level_m": 10.05,
        "upper__length_m": 5.0,
        "upper__crest_level_m": 11.0,
        "upper__coefficient": 1.5,
        "reach__inflow_m3_s": 1.5,
        "upper__inflow_m3_s": 0.5,
        "flow__design_m3_s": np.linspace(2.0, 9.0, 50),
    }
    found = marched(Site((GATE, SIDE, REACH, upper), FixedLevel()), 50, **numbers)
    over = [found.element(name).results["over_flow"] for name in ("side", "upper")]
    assert np.all(over[0][-20:] > 0.1)
    assert np.all(over[1][-5:] > 0.05)
    whole = found.flow + 2.0
    assert found.flows[0] + over[0] + over[1] == pytest.approx(whole, rel=1e-8)
    assert found.flows[3] + over[1] == pytest.approx(found.flow + 0.5, rel=1e-8)
    assert found.flows[2] == pytest.approx(found.flows[3] + 1.5, rel=1e-8)
    for name in ("lock", "side", "reach", "upper"):
        assert np.min(np.diff(found.element(name).level)) >= -1e-8


def test_the_law_with_debris_up_to_a_gate_that_shuts() -> None:
    """The level at the gate and above rises with the debris; shut, all goes over the side."""
    shares = np.linspace(0.0, 1.0, 401)
    site = Site((GATE, REACH, SIDE), FixedLevel())
    found = marched(site, 401, lock__blockage=shares, side__bed_level_m=10.03, flow__design_m3_s=3.0)
    for name in ("lock", "reach", "side"):
        level = found.element(name).level
        assert np.all(np.isfinite(level))
        assert np.min(np.diff(level)) >= -1e-7
    assert np.max(np.diff(found.flows[0])) <= 1e-9
    assert found.flows[0][-1] == pytest.approx(0.0, abs=1e-12)
    assert found.element("side").results["over_flow"][-1] == pytest.approx(3.0, rel=1e-8)
    still = found.element("lock").level[-1]
    assert found.element("reach").level[-1] == pytest.approx(still, abs=1e-9)
    assert found.element("side").level[-1] == pytest.approx(still, abs=1e-9)

    def spilled(level: float) -> float:
        """With nothing below: De Marchi's equation by small steps of Euler's rule."""
        flow, energy = 0.0, level - 10.03
        for _ in range(3000):
            flow += 0.002 * 1.7 * max(10.03 + depth_of(energy, max(flow, 1e-9)) - 10.9, 0.0) ** 1.5
        return flow

    assert still == pytest.approx(brentq(lambda level: spilled(level) - 3.0, 11.0, 12.0), abs=2e-4)
    assert still == pytest.approx(10.9 + (3.0 / (1.7 * 6.0)) ** (2.0 / 3.0), abs=0.05)


def test_the_law_with_flow_tailwater_and_a_lower_crest() -> None:
    site = Site((REACH, SIDE), FixedLevel())
    flows = marched(site, 300, flow__design_m3_s=np.linspace(0.0, 12.0, 300))
    waters = marched(site, 300, tailwater__level_m=np.linspace(10.2, 11.6, 300))
    crests = marched(site, 300, tailwater__level_m=11.1, side__crest_level_m=np.linspace(10.4, 11.6, 300))
    for found in (flows, waters, crests):
        for name in ("reach", "side"):
            assert np.min(np.diff(found.element(name).level)) >= -1e-7
    assert waters.flows[0][0] > waters.flows[0][-1]


def test_water_below_that_stands_over_the_crest_by_itself() -> None:
    """More goes over than comes: nothing goes down, the level is that of the water below, and a remark says so."""
    site, numbers = Site((SIDE,), FixedLevel()), {**NUMBERS, "tailwater.level_m": 11.6, "flow.design_m3_s": 2.0}
    found = site.march(numbers)
    assert found.flows[0][0] == 0.0
    said = {remark.words for remark in remarks(site, found, numbers)}
    assert LEAVES in said
    assert any("all that comes from above leaves" in words for words in said)


def test_one_sample_is_what_it_is_among_others() -> None:
    blockage: NDArray[np.float64] = np.array([0.0, 0.35, 0.9, 1.0, 0.99999])
    site = Site((GATE, SIDE, REACH), FixedLevel())
    together = marched(site, 5, lock__blockage=blockage)
    for i, share in enumerate(blockage):
        alone = marched(site, 1, lock__blockage=share)
        assert [float(each.level[0]) for each in alone.elements] == [float(each.level[i]) for each in together.elements]
    quick = site.levels({**NUMBERS, "lock.blockage": blockage}, 5, ("lock", "side", "reach"))
    assert np.array_equal(quick, [each.level for each in together.elements])


def test_the_long_section_holds_the_level_behind_a_shut_gate() -> None:
    site, numbers = Site((GATE, SIDE), FixedLevel()), {**NUMBERS, "lock.blockage": 1.0}
    stations = long_section(site, numbers, numbers, 1)
    assert np.all(np.isfinite([station.level[0] for station in stations]))
    assert stations[-1].chainage - stations[-2].chainage == 0.0


def test_a_coefficient_of_a_metre() -> None:
    """Still water, a short crest: Q = C L h^1.5 (the weir equation; De Marchi's limit for a wide channel)."""
    wide = {"side__section.width_m": 400.0, "side__length_m": 1.0, "tailwater__level_m": 11.4}
    found = marched(Site((SIDE,), FixedLevel()), 1, **wide)
    assert found.element("side").results["over_flow"][0] == pytest.approx(1.7 * 0.5**1.5, rel=1e-3)


def test_a_deck_that_takes_over_from_a_shut_gate() -> None:
    """Shut, with a top at 11.2 m: what the side cannot take at that level goes over the top, the rest over the side."""
    gate = Gate("lock", has_top=True)
    numbers = {"lock__blockage": 1.0, "lock__top_coefficient": 1.8, "side__bed_level_m": 10.0}
    low, high = (
        marched(Site((gate, SIDE), FixedLevel()), 1, lock__top_level_m=11.2, flow__design_m3_s=flow, **numbers)
        for flow in (1.0, 6.0)
    )
    assert low.flows[0][0] == pytest.approx(0.0, abs=1e-9)
    assert 10.9 < low.element("lock").level[0] < 11.2
    assert low.element("side").results["over_flow"][0] == pytest.approx(1.0, rel=1e-8)
    over = high.flows[0][0]
    head = float(high.element("lock").level[0]) - 11.2
    assert over == pytest.approx(1.8 * 3.0 * head**1.5, rel=1e-6)
    assert over + high.element("side").results["over_flow"][0] == pytest.approx(6.0, rel=1e-8)
