"""Whole rivers in the limit: what is not there is not felt, what is alike scales, and small steps make small steps."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from random_chains import EVERY_KIND, Array, Chain, Numbers, chain, scaled

from overbank.hydraulics.oblique import skewed_share
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel
from overbank.site.row import Site
from overbank.site.structure import Structure
from overbank.site.tailwater import NormalDepth
from overbank.site.weir import Weir

WITH_DIMENSIONS = {"thin_plate", "triangular"}
"""Crests whose laws hold lengths of their own, for the skin of the water: they do not scale."""


def rows_of(seeds: range, **draw: object) -> Iterator[Chain]:
    return (chain(seed, **draw) for seed in seeds)  # type: ignore[arg-type]


@pytest.mark.parametrize("scale", [0.25, 8.0])
def test_froude_scaling(scale: float) -> None:
    met = 0
    for c in rows_of(range(300, 340)):
        if any(getattr(element, "crest", "") in WITH_DIMENSIONS for element in c.site.elements):
            continue
        for a, b in zip(c.march().elements, scaled(c, scale).march().elements, strict=True):
            # fixed tolerances of the solvers, 1e-7 m of level; 2e-6 of the depth along a profile
            np.testing.assert_allclose(b.level / scale, a.level, rtol=3e-6, atol=3e-6)
            met += 1
    assert met >= 50


def test_debris_that_is_not_there_has_no_pattern() -> None:
    """Zero blockage of bridges, barrels and screens, in each of the three patterns: one level."""
    for c in rows_of(range(400, 430)):
        clean: Numbers = {name: 0.0 for name in c.numbers if name.endswith("blockage")}
        patterns = [name for name in c.numbers if name.endswith("pattern")]
        marched = [c.march(**clean, **dict.fromkeys(patterns, code)) for code in (0.0, 1.0, 2.0)]
        for one, *others in zip(*(outcome.elements for outcome in marched), strict=True):
            for other in others:
                np.testing.assert_allclose(other.level, one.level, atol=2e-7)


def test_a_trace_of_debris_is_a_trace_of_level() -> None:
    """From none to a billionth of the openings: no step. In a round barrel that is a thousandth of the width silted."""
    for c in rows_of(range(430, 450), surveyed=False):
        names = [name for name in c.numbers if name.endswith("blockage")]
        none, trace = (c.march(**dict.fromkeys(names, value)) for value in (0.0, 1e-9))
        for a, b in zip(none.elements, trace.elements, strict=True):
            np.testing.assert_allclose(b.level, a.level, atol=1e-3)


def uniform_river(seed: int, samples: int = 200) -> tuple[Numbers, Array]:
    """Two reaches of one rectangular channel over its normal depth; numbers and width."""
    rng = np.random.default_rng(seed)
    wide, n, slope = rng.uniform(2, 20, samples), rng.uniform(0.02, 0.06, samples), rng.uniform(5e-4, 4e-3, samples)
    numbers: Numbers = {"flow.design_m3_s": wide * np.exp(rng.uniform(-1.5, 1.5, samples))}
    for path in ("lower", "upper", "tailwater.normal_depth"):
        numbers |= {f"{path}.section.width_m": wide, f"{path}.manning_n": n, f"{path}.bed_slope": slope}
        numbers |= {f"{path}.length_m": 100.0, f"{path}.bed_level_m": 10.0}
    numbers["upper.bed_level_m"] = 10.0 + 100.0 * slope
    numbers["tailwater.normal_depth.slope"] = slope
    return numbers, wide


def march(numbers: Numbers, *elements: Structure) -> Array:
    samples = len(np.atleast_1d(numbers["flow.design_m3_s"]))
    return Site(elements, NormalDepth("rectangle")).march(numbers, samples).elements[-1].level


LOWER, UPPER = Channel("lower", "rectangle"), Channel("upper", "rectangle")


@pytest.mark.parametrize("openings", [1, 3])
@pytest.mark.parametrize("turned", [False, True])
def test_a_bridge_without_piers_and_with_its_soffit_out_of_reach_vanishes(openings: int, turned: bool) -> None:
    """Square to the flow, or skewed with its longer span given along the road; whatever its coefficients.

    One limit: near critical flow, at Froude numbers above 0.77 with the usual coefficients, the level is held to that
    of choked openings, which lose the share s = 1 + factor Cc of critical velocity head: t yc, the other root of
    t + s/(2 t^2) = 1 + s/2.
    """
    numbers, wide = uniform_river(1)
    angle = 35.0 if turned else 0.0
    rng = np.random.default_rng(2)
    numbers |= {
        "road.opening.count": float(openings),
        "road.opening.span_m": wide / openings / np.cos(np.radians(angle)),
        "road.opening.rise_m": 100.0,
        "road.opening.bed_level_m": numbers["upper.bed_level_m"],
        "road.approach.section.width_m": wide,
        "road.approach.bed_level_m": numbers["upper.bed_level_m"],
        "road.skew.angle_deg": angle,
        "road.contraction_loss": 0.3,
        "road.expansion_loss": 0.5,
        "road.sluice_coefficient": 0.5,
        "road.orifice_coefficient": 0.8,
        "road.afflux_factor": rng.uniform(0.5, 4.0, wide.size),
        "road.blockage": 0.0,
        "road.pattern": rng.integers(3, size=wide.size).astype(float),
    }
    bridge = Bridge("road", ("box",), "rectangle", turned, False, False, False)
    below = march(numbers, LOWER)
    here = march(numbers, LOWER, bridge)
    depth = below - numbers["upper.bed_level_m"]
    critical = ((numbers["flow.design_m3_s"] / wide) ** 2 / 9.81) ** (1 / 3)
    contraction = 1.3 / float(skewed_share(angle)) ** 2 - 1.0
    quarter = 0.25 * (1.0 + contraction * numbers["road.afflux_factor"])
    held = critical * (quarter + np.sqrt(quarter**2 + 2.0 * quarter))
    calm = depth > held
    assert 0.7 < calm.mean() < 1.0
    np.testing.assert_allclose(here - below + depth, np.maximum(depth, held), atol=1e-8)
    with_it, without = march(numbers, LOWER, bridge, UPPER), march(numbers, LOWER, UPPER)
    np.testing.assert_allclose(with_it[calm], without[calm], atol=1e-8)
    a_pier = {**numbers, "road.opening.span_m": 0.9 * numbers["road.opening.span_m"]}
    assert np.all(march(a_pier, LOWER, bridge) > here + 1e-5)


@pytest.mark.parametrize("crest", ["broad_crested", "thin_plate"])
def test_a_weir_far_downstream_is_not_felt(crest: str) -> None:
    """Thirty times depth over slope away; at a fifth of depth over slope it is, by less than at its foot."""
    numbers, wide = uniform_river(3)
    bed = numbers["lower.bed_level_m"]
    slope = numbers["lower.bed_slope"]
    normal = march(numbers, LOWER) - bed - 100.0 * slope
    numbers |= {
        "sill.crest.level_m": bed + 1.2 * normal,
        "sill.crest.width_m": wide,
        "sill.crest.breadth_m": 1.0,
        "sill.crest.angle_deg": 0.0,
        "sill.crest.oblique_gain": 1.0,
        "sill.crest.flow_factor": 1.0,
        "sill.crest.modular_limit": 0.0 if crest == "thin_plate" else 0.66,
        "sill.approach.section.width_m": wide,
        "sill.approach.bed_level_m": bed,
    }
    weir = Weir("sill", crest, "rectangle")
    raised = march(numbers, weir) - bed - normal
    assert np.all(raised > 0.2 * normal)

    def felt(distance: Array) -> Array:
        far = {**numbers, "lower.length_m": distance}
        return march(far, weir, LOWER) - march(far, LOWER)

    assert np.max(np.abs(felt(30.0 * (normal + raised) / slope))) < 1e-5
    near = felt(0.2 * normal / slope)
    assert np.all((near > 0.0) & (near < raised))


@pytest.mark.parametrize("kinds", [("channel", "weir", "bridge"), EVERY_KIND], ids=["without culverts", "any"])
def test_small_steps_of_flow_make_small_steps_of_level(kinds: tuple[str, ...]) -> None:
    """Eight times as many steps of flow: the largest step of a level is an eighth, and not more than six tenths (all of
    it, were it a jump; half where a level climbs to the next road within two of the small steps).

    Long barrels that can stand part full and full for one flow jump between both, which is their own; few do.
    Surveyed sections, whose critical level may jump out of the channel, are left out.
    """
    jumps = places = 0
    for c in rows_of(range(500, 512), samples=12, kinds=kinds, surveyed=False):
        flow = c.numbers["flow.design_m3_s"]

        def largest(steps: int, c: Chain = c, flow: float | Array = flow) -> Array:
            sweep = [c.march(**{"flow.design_m3_s": flow * x}) for x in np.linspace(0.2, 3.0, steps + 1)]
            levels = np.array([[element.level for element in outcome.elements] for outcome in sweep])
            return np.abs(np.diff(levels, axis=0)).max(axis=0)

        coarse, fine = largest(24), largest(192)
        jumps += int(np.sum((fine > 1e-4) & (fine > 0.6 * coarse)))
        places += coarse.size
    assert jumps <= (0.03 * places if "culvert" in kinds else 0)


def test_a_sample_does_not_depend_on_its_neighbours() -> None:
    for c in rows_of(range(600, 606)):
        whole = c.march()
        some = np.array([3, 41, 17])
        few = {name: np.broadcast_to(value, c.samples)[some] for name, value in c.numbers.items()}
        for a, b in zip(whole.elements, c.site.march(few, 3).elements, strict=True):
            np.testing.assert_array_equal(a.level[some], b.level)


def test_levels_alone_are_those_of_the_march() -> None:
    for c in rows_of(range(606, 612)):
        ids = tuple(element.id for element in c.site.elements)
        alone = c.site.levels(c.numbers, c.samples, ids)
        np.testing.assert_allclose(alone, [element.level for element in c.march().elements], rtol=1e-13)
