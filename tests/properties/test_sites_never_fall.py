"""Whole sites: levels never fall upstream when flow, blockage or any roughness rises.

A reach, a culvert and a reach above it, over normal depth in the channel below; all invented. Tolerance as for single
crossings, 2e-5 m. One limit, and it is physical: in a *steep* reach drowned from a pool whose level hardly rises
with the flow, faster water has more of its energy in velocity, so its surface falls while its energy rises. So on
steep reaches the law is held for the energy level, on all others for both.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from overbank.hydraulics.tables import InletEntry, inlets
from overbank.site.channel import Channel
from overbank.site.culvert import Culvert
from overbank.site.row import Site, SiteOutcome
from overbank.site.tailwater import FixedLevel, NormalDepth

SAMPLES = 400
TOLERANCE = 2e-5
ENTRIES = [entry for entry in inlets().values() if entry.shape in ("box", "pipe", "arch", "ellipse")]
TAILWATER = "tailwater.normal_depth"
RISING = (
    "flow.design_m3_s",
    "lane.screen.blockage",
    "lane.blockage",
    "lane.barrel.manning_n",
    "lower.manning_n",
    "garden.manning_n",
    f"{TAILWATER}.manning_n",
)


def _channel(rng: np.random.Generator, path: str, span: np.ndarray) -> dict[str, np.ndarray]:
    return {
        f"{path}.section.bed_width_m": span * rng.uniform(0.5, 3, SAMPLES),
        f"{path}.section.side_slope": rng.uniform(0, 2, SAMPLES),
        f"{path}.manning_n": rng.uniform(0.02, 0.08, SAMPLES),
    }


def random_numbers(rng: np.random.Generator, shape: str, has_screen: bool) -> dict[str, np.ndarray]:
    """Numbers of SAMPLES sites, from mild to steep, barrels of 0.6 to 4.5 m."""

    def draw(low: float, high: float) -> np.ndarray:
        return rng.uniform(low, high, SAMPLES)

    span = np.exp(draw(-0.5, 1.5))
    rise = span if shape == "pipe" else span * draw(0.5, 1.2)
    length, n = draw(4, 80), draw(0.011, 0.035)
    invert = 10 + np.choose(rng.integers(3, size=SAMPLES), [draw(0, 0.01), draw(0, 0.08), draw(-0.005, 0)]) * length
    count = rng.integers(1, 4, SAMPLES).astype(float)
    numbers = {
        "lane.barrel.count": count,
        "lane.barrel.span_m": span,
        "lane.barrel.diameter_m": span,
        "lane.barrel.rise_m": rise,
        "lane.barrel.wall_height_m": np.maximum(rise - span / 2, rise * draw(0.05, 0.9)),
        "lane.barrel.length_m": length,
        "lane.barrel.upstream_invert_m": invert,
        "lane.barrel.downstream_invert_m": np.full(SAMPLES, 10.0),
        "lane.barrel.manning_n": n,
        "lane.barrel.bed_manning_n": np.where(rng.random(SAMPLES) < 0.6, n, draw(0.012, 0.05)),
        "lane.inlet.head_factor": rng.normal(1, 0.05, SAMPLES),
        "lane.inlet.entrance_loss": draw(0.2, 0.9),
        "lane.inlet.exit_loss": np.where(rng.random(SAMPLES) < 0.5, 1.0, draw(0.3, 1)),
        "lane.road.level_m": invert + rise * draw(1.1, 2),
        "lane.road.length_m": np.exp(draw(1, 4.5)),
        "lane.road.coefficient": draw(1.4, 1.7),
        "flow.design_m3_s": count * span * rise**1.5 * np.exp(draw(-3, 0.8)),
    }
    if has_screen:
        numbers |= {
            "lane.screen.width_m": span * count * draw(1, 3),
            "lane.screen.height_m": rise * draw(0.8, 2),
            "lane.screen.bar_m": draw(0.01, 0.03),
            "lane.screen.gap_m": draw(0.07, 0.3),
            "lane.screen.inclination_deg": draw(30, 90),
            "lane.screen.shape_factor": draw(0.8, 2.42),
            "lane.screen.blockage": draw(0, 0.98),
            "lane.screen.pattern": rng.integers(3, size=SAMPLES).astype(float),
            "lane.screen.sill_level_m": invert,
            "lane.screen.overflow_coefficient": np.where(rng.random(SAMPLES) < 0.3, 0.0, 1.7),
        }
    else:
        numbers |= {"lane.blockage": draw(0, 0.95), "lane.pattern": rng.integers(3, size=SAMPLES).astype(float)}
    for name, bed in (("garden", invert), ("lower", None)):
        slope = np.choose(rng.integers(3, size=SAMPLES), [draw(0, 0.004), draw(0, 0.08), draw(-0.002, 0)])
        reach = np.exp(draw(2, 6))
        numbers |= _channel(rng, name, span) | {f"{name}.length_m": reach, f"{name}.bed_slope": slope}
        numbers[f"{name}.bed_level_m"] = 10 - np.maximum(slope * reach, 0) if bed is None else bed
    numbers |= _channel(rng, TAILWATER, span)
    numbers[f"{TAILWATER}.bed_level_m"] = numbers["lower.bed_level_m"]
    numbers[f"{TAILWATER}.slope"] = np.exp(draw(np.log(5e-4), np.log(0.08)))
    return numbers


def falls(before: SiteOutcome, after: SiteOutcome) -> Iterator[tuple[str, str, np.ndarray]]:
    """How far levels and energy levels fell at every element, less the tolerance."""
    for a, b in zip(before.elements, after.elements, strict=True):
        allowed = TOLERANCE * np.maximum(1.0, (a.level - 10) / 20)
        steep = np.maximum(a.results["steep"], b.results["steep"]) > 0 if a.kind == "channel" else False
        yield a.id, "level", np.where(steep, 0.0, a.level - b.level - allowed)
        if a.kind == "channel":
            yield a.id, "energy", a.results["energy"] - b.results["energy"] - allowed


@pytest.mark.parametrize("entry", ENTRIES[::5], ids=lambda e: e.id)
@pytest.mark.parametrize("has_screen", [True, False])
def test_levels_never_fall(entry: InletEntry, has_screen: bool) -> None:
    rng = np.random.default_rng(ENTRIES.index(entry))
    culvert = Culvert("lane", entry.shape, entry, has_screen, has_road=True)
    parts = (Channel("lower", "trapezoid"), culvert, Channel("garden", "trapezoid"))
    site = Site(parts, NormalDepth("trapezoid"))
    numbers = random_numbers(rng, entry.shape, has_screen)
    before = site.march(numbers, SAMPLES)
    for name in (name for name in RISING if name in numbers):
        share = 10.0 ** rng.uniform(-4, -0.3, SAMPLES)
        old = numbers[name]
        new = old + (1 - old) * share if "blockage" in name else old * (1 + share)
        after = site.march({**numbers, name: new}, SAMPLES)
        for place, what, excess in falls(before, after):
            worst = int(np.argmax(excess))
            assert excess[worst] <= 0, (name, place, what, {key: v[worst] for key, v in numbers.items()}, new[worst])
            assert not np.isnan(excess).any()


def test_the_surface_of_a_steep_drowned_reach_can_fall_with_flow() -> None:
    """The limit of the law at its smallest: a pool held at 2 m, a reach of 8 m at 10 %; the energy rises."""
    reach = {
        "garden.section.width_m": 2.0,
        "garden.length_m": 8.0,
        "garden.bed_level_m": 10.0,
        "garden.bed_slope": 0.1,
        "garden.manning_n": 0.03,
        "tailwater.level_m": 12.0,
        "flow.design_m3_s": np.array([4.0, 4.4]),
    }
    results = Site((Channel("garden", "rectangle"),), FixedLevel()).march(reach, 2).element("garden").results
    assert np.all(results["steep"] == 1.0)
    assert results["level"][1] < results["level"][0] - 0.005
    assert results["energy"][1] > results["energy"][0]
