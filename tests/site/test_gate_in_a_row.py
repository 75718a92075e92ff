"""A gate in a row: the closed form of a free jet, what governs, remarks, and the law from the study's own numbers."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest

from overbank.site.channel import Channel
from overbank.site.gate import Gate
from overbank.site.influence import influences
from overbank.site.numbers import Column, Water
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel
from overbank.site.validity import remarks

G = 9.81
GATE = Gate("lock", has_top=False)
TOPPED = Gate("lock", has_top=True)
NUMBERS: dict[str, Column] = {
    "lock.width_m": 3.0,
    "lock.opening_m": 0.4,
    "lock.contraction": 0.61,
    "lock.sill_level_m": 10.0,
    "lock.blockage": 0.0,
    "lock.approach.section.width_m": 3.0,
    "lock.approach.bed_level_m": 10.0,
    "lock.top_level_m": 12.5,
    "lock.top_coefficient": 1.8,
}


def still(level: float, samples: int = 1) -> Water:
    return Water(np.full(samples, level), np.full(samples, level))


def test_a_free_jet_by_its_closed_form() -> None:
    """Q = Cc a b sqrt(2 g y1 / (1 + Cc a / y1)), width 3 m, opening 0.4 m, 2 m upstream: 4.3289 m3/s (energy)."""
    jet = 0.61 * 0.4
    flow = 3.0 * jet * sqrt(2.0 * G * 2.0 / (1.0 + jet / 2.0))
    assert flow == pytest.approx(4.3289, abs=1e-4)
    found = GATE.solve(np.array([flow]), still(10.1), NUMBERS)
    assert found["level"][0] == pytest.approx(12.0, abs=1e-6)
    assert found["energy"][0] - found["level"][0] == pytest.approx((flow / 6.0) ** 2 / (2.0 * G), abs=1e-9)
    assert GATE.governs({"regime": found["regime"][0], "over_top": 0.0}) == "free jet below the lip"


def test_the_level_never_falls_with_debris_flow_or_the_level_below() -> None:
    shares = np.linspace(0.0, 1.0, 400)
    numbers = {**NUMBERS, "lock.blockage": shares}
    level = TOPPED.headwater(np.full(400, 5.0), still(10.9, 400), numbers).level
    assert np.min(np.diff(level)) >= -1e-7
    assert level[-1] == pytest.approx(12.5 + (5.0 / (1.8 * 3.0)) ** (2.0 / 3.0), abs=1e-6)
    level = TOPPED.headwater(np.linspace(0.1, 12.0, 400), still(11.0, 400), NUMBERS).level
    assert np.min(np.diff(level)) >= -1e-7
    below = np.linspace(10.0, 13.0, 400)
    level = TOPPED.headwater(np.full(400, 5.0), Water(below, below), NUMBERS).level
    assert np.min(np.diff(level)) >= -1e-7


def test_shut_without_a_top_there_is_no_way() -> None:
    shut = {**NUMBERS, "lock.opening_m": 0.0}
    assert GATE.headwater(np.array([2.0]), still(10.5), shut).level[0] == inf


@pytest.mark.parametrize(
    ("below", "opening", "words"),
    [
        (11.5, 0.4, "jet drowned: published methods differ by about 5 % of the flow"),
        (10.1, 0.62, "lip near the surface, where the jet's contraction fades: our own proposal"),
        (10.1, 2.0, "lip out of the water: no gate, but a gap in a wall"),
        (10.1, 0.0, "no way below the lip"),
    ],
)
def test_remarks(below: float, opening: float, words: str) -> None:
    site = Site((TOPPED,), FixedLevel())
    known = {**NUMBERS, "flow.design_m3_s": 4.0, "tailwater.level_m": below, "lock.opening_m": opening}
    assert words in [remark.words for remark in remarks(site, site.march(known), known)]


def test_a_gate_is_felt_as_its_level_less_that_of_the_channel_alone() -> None:
    """Still water of 11.5 m below: without the gate the level there is that, with the velocity head of the channel."""
    reach: dict[str, Column] = {
        **{"reach.section.width_m": 3.0, "reach.length_m": 100.0, "reach.bed_level_m": 10.0},
        **{"reach.bed_slope": 0.0005, "reach.manning_n": 0.03},
    }
    known = {**NUMBERS, **reach, "flow.design_m3_s": 3.0, "tailwater.level_m": 11.5}
    site = Site((GATE, Channel("reach", "rectangle")), FixedLevel())
    (found,) = influences(site, known)
    lifted = float(site.march(known).elements[0].level[0]) - 11.5
    assert found.at_structure == pytest.approx(lifted, abs=0.02)
    assert found.left < found.at_structure
