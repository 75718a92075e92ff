"""Thousands of random bridges against the same equations written out forwards and solved by plain SciPy.

The program goes backwards, from a level to the flow that passes at it; here the level is found from the flow.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import bridges
from overbank.hydraulics.sections import box, rectangle

G2 = 2 * 9.81
NO_DECK = bridges.Deck(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
COUNT = 2000

Case = dict[str, float]


def random_case(draw: np.random.Generator) -> Case:
    """One box in a rectangular channel, from a brook to a river; mild and steep losses; dry and drowned below."""
    wide = draw.uniform(2.0, 30.0)
    rise = draw.uniform(0.5, 5.0)
    flow = wide * rise**1.5 * 10.0 ** draw.uniform(-1.0, 0.7)
    below = rise * draw.uniform(0.2, 2.0)
    span = wide * draw.uniform(0.2, 0.95)
    named = {"contraction": (0.1, 0.5), "expansion": (0.2, 0.9), "sluice": (0.3, 0.6), "orifice": (0.7, 0.9)}
    losses = {name: float(draw.uniform(*ends)) for name, ends in named.items()}
    sizes = {"wide": wide, "span": span, "rise": rise, "flow": flow, "below": below}
    return sizes | losses | {"factor": draw.uniform(0.6, 1.9)}


def higher_root(share: float, flow: float, wide: float, head: float, least: float) -> float:
    """The level with level + share V^2/2g = head, from `least` up; `least` where the head is too small."""

    def excess(level: float) -> float:
        return level + share * (flow / (wide * level)) ** 2 / G2 - head

    return least if excess(least) >= 0.0 else float(brentq(excess, least, head, xtol=1e-13, rtol=1e-14))


def free_level(c: Case) -> float:
    """Level upstream with a free surface: energy into the openings, and on upstream, choked or not."""
    flow, wide, span, rise, factor = (c[name] for name in ("flow", "wide", "span", "rise", "factor"))
    won, spent = max(1.0 - factor * c["expansion"], 0.0), 1.0 + factor * c["contraction"]
    start = max(c["below"], ((flow / wide) ** 2 / 9.81) ** (1 / 3))
    from_below = start + won * (flow / (wide * start)) ** 2 / G2

    def head(level: float, share: float) -> float:
        return level + share * (flow / (span * min(level, rise))) ** 2 / G2

    critical = min(((flow / span) ** 2 / 9.81) ** (1 / 3), rise)
    inside = critical
    if head(critical, won) < from_below:
        inside = brentq(lambda z: head(z, won) - from_below, critical, from_below, xtol=1e-13, rtol=1e-14)
    asked = max(head(inside, spent), head(critical, spent))
    least = (spent * (flow / wide) ** 2 / 9.81) ** (1 / 3)
    return max(higher_root(spent, flow, wide, asked, least), start)


def energy_upstream(c: Case) -> float:
    free, rise = free_level(c), c["rise"]
    alone = free + (c["flow"] / (c["wide"] * free)) ** 2 / G2
    head = c["factor"] * (c["flow"] / (c["span"] * rise)) ** 2 / G2
    orifice, drowned = (level + head / c["orifice"] ** 2 for level in (c["below"], 1.1 * rise))
    sluice, jet = 0.5 * rise + head / c["sluice"] ** 2, 0.61 * rise + head / 0.61**2
    under_pressure = max(orifice, min(sluice, max(drowned, jet)))
    share = np.clip((free - rise) / (0.2 * rise), 0.0, 1.0)
    return float(alone + share**2 * (3 - 2 * share) * max(under_pressure - alone, 0.0))


def found(c: Case) -> bridges.Bridged:
    """What the program finds."""
    openings = bridges.Openings(box(c["span"], c["rise"], 0.03), 1.0, 1.0, 0.0)
    groups = bridges.side_by_side(bridges.cleared(openings, 0.0, 0.0))
    names = ("contraction", "expansion", "sluice", "orifice", "factor")
    bridge = bridges.Bridge(groups, rectangle(c["wide"], 0.03), 0.0, *(c[name] for name in names))
    return bridges.bridged(bridge, NO_DECK, c["flow"], c["below"])


def test_level_from_flow_and_flow_from_level_are_one() -> None:
    """Every state comes up; levels agree within a tenth of a millimetre."""
    draw = np.random.default_rng(12)
    regimes: dict[float, int] = {}
    for _ in range(COUNT):
        c = random_case(draw)
        state = found(c)
        energy = energy_upstream(c)
        least = (c["flow"] / c["wide"]) ** (2 / 3) / 9.81 ** (1 / 3)
        level = max(higher_root(1.0, c["flow"], c["wide"], energy, least), c["below"])
        assert state.level == pytest.approx(level, abs=1e-4, rel=1e-7), c
        regimes[state.regime] = regimes.get(state.regime, 0) + 1
    assert set(regimes) == {1.0, 2.0, 3.0, 4.0, 5.0}
    assert min(regimes.values()) > 20


def test_the_published_formulas_hold_where_the_page_says() -> None:
    """Random bridges under pressure. Orifice: from 1.1 heights below and 1.2 upstream, unless the jet asks for more.

    Sluice: where it asks for no more than the orifice well drowned, the water below being lower than what it asks for.
    """
    draw = np.random.default_rng(13)
    held = {"orifice": 0, "sluice": 0}
    for _ in range(3 * COUNT):
        c = random_case(draw)
        free, rise = free_level(c), c["rise"]
        if free < 1.2 * rise:
            continue
        velocity = c["flow"] / (c["span"] * rise)
        head, alone = c["factor"] * velocity**2 / G2, free + (c["flow"] / (c["wide"] * free)) ** 2 / G2
        orifice, drowned = (level + head / c["orifice"] ** 2 for level in (c["below"], 1.1 * rise))
        sluice, jet = 0.5 * rise + head / c["sluice"] ** 2, 0.61 * rise + head / 0.61**2
        if c["below"] >= 1.1 * rise and orifice >= max(jet, alone):
            passed = c["orifice"] * sqrt(G2 * (found(c).energy - c["below"]) / c["factor"])
            assert passed == pytest.approx(velocity, rel=1e-6)
            held["orifice"] += 1
        if max(orifice, alone) <= sluice <= drowned:
            passed = c["sluice"] * sqrt(G2 * (found(c).energy - 0.5 * rise) / c["factor"])
            assert passed == pytest.approx(velocity, rel=1e-6)
            held["sluice"] += 1
    assert min(held.values()) > 20
