"""Laws of rivers over whose side water leaves: random rows with a side weir above them, and a reach above that.

More flow or more water below lifts every level. Whatever holds water up at one structure lifts the level there and at
all above it; below it the levels fall, for more leaves over the side: this is what such a crest is for.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from random_chains import Builder, Chain
from test_chains_never_fall import CHANGES, ending, fallen

from overbank.site.row import SiteOutcome
from overbank.site.side_weir import SideWeir

CHAINS = 12
SAMPLES = [48, pytest.param(170, marks=pytest.mark.slow)]
"""Of each chain; the second makes two thousand sites."""

ROUNDING = 5e-5
"""Beside the tolerance of one structure: what the solves of all below add up to where the flow is one of them [m]."""


def with_a_side_weir(seed: int, samples: int = 48) -> Chain:
    """The chain of a seed; above it a side weir 1 to 30 m long, and a reach."""
    builder = Builder(seed, samples, ("channel", "weir", "bridge", "culvert"), steep=False, surveyed=False)
    below = builder.chain()
    shape = builder.open_section("side")
    builder.put(
        "side",
        bed_level_m=builder.bed,
        length_m=np.exp(builder.draw(0.0, 3.4)),
        crest_level_m=builder.bed + builder.draw(0.2, 1.5),
        coefficient=builder.draw(1.0, 1.9),
    )
    elements = (*below.site.elements, SideWeir("side", shape), builder.channel("top"))
    return Chain(replace(below.site, elements=elements), builder.numbers, samples)


def hold(c: Chain, before: SiteOutcome, after: SiteOutcome, first: int, what: object) -> None:
    """No level from that of the first structure on fell; in the reach at the top the energy is held to it."""
    steep = np.zeros(c.samples, dtype=bool)
    for place, (a, b) in enumerate(zip(before.elements, after.elements, strict=True)):
        levels = a.level, b.level
        if a.structure.is_reach and not a.structure.spills:
            steep |= np.maximum(a.results["steep"], b.results["steep"]) > 0.0
        if a.id == "top":
            levels = a.results["energy"], b.results["energy"]
        excess = np.where(steep & (a.id != "top"), 0.0, fallen(*levels, a.level))
        worst = int(np.argmax(excess))
        told = (what, a.id, levels[0][worst], levels[1][worst], c.told(worst))
        assert place < first or excess[worst] <= ROUNDING, told


@pytest.mark.parametrize("samples", SAMPLES)
@pytest.mark.parametrize("what", ["flow", "tailwater", "blockage", "roughness"])
def test_levels_never_fall_from_what_holds_them_up(what: str, samples: int) -> None:
    met = 0
    for seed in range(CHAINS):
        c = with_a_side_weir(seed, samples)
        share = 10.0 ** np.random.default_rng(seed).uniform(-4.0, -0.3, c.samples)
        before = c.march()
        for changes in CHANGES[what](c, share):
            places = {each.id: place for place, each in enumerate(c.site.elements)}
            first = max(places.get(name.split(".")[0], 0) for name in changes)
            hold(c, before, c.march(**changes), first, (what, seed))
            met += 1
    assert met >= CHAINS // 4


def test_what_comes_is_what_stays_and_what_leaves() -> None:
    spilled = 0
    for seed in range(CHAINS):
        c = with_a_side_weir(seed)
        found = c.march().element("side").results
        fed = found["flow_below"] > 1e-9 * found["flow_above"]
        assert found["flow_above"][fed] == pytest.approx(c.numbers["flow.design_m3_s"][fed], rel=1e-7), seed
        spilled += int(np.sum(fed & (found["over_flow"] > 0.0)))
    assert spilled > 80


def test_a_ladder_of_blockages_up_to_shut() -> None:
    """As the threshold method climbs: at the structure and above it no rung below the one before, to the last one."""
    shut = 0
    for seed in range(100, 103):
        c = with_a_side_weir(seed)
        for name in ending(c, "blockage"):
            marched = [c.march(**{name: np.full(c.samples, x)}) for x in 1.0 - (1.0 - np.linspace(0.0, 1.0, 9)) ** 2]
            first = next(i for i, each in enumerate(c.site.elements) if name.startswith(f"{each.id}."))
            for lower, higher in pairwise(marched):
                hold(c, lower, higher, first, (name, seed))
            shut += int(np.sum(marched[-1].flows[first] < 1e-9))
            assert np.isfinite(marched[-1].elements[first].level).all()
    assert shut > 10
