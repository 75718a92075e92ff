"""The traps of river hydraulics, one test each, named after its trap. What is asserted twice elsewhere stands here once
more, so that the list is whole.
"""

from __future__ import annotations

from math import cos, inf, radians, sin, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import (
    afflux,
    bridge_methods,
    bridges,
    crests,
    jump,
    profile,
    sections,
    surveyed,
    surveyed_levels,
    surveyed_profile,
    uniform,
    weir_level,
    weirs,
)
from overbank.hydraulics.surveyed_table import survey_table
from overbank.hydraulics.tables import read_table
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel
from overbank.site.row import Site
from overbank.site.tailwater import FixedLevel, NormalDepth
from overbank.uncertain.distributions import Lognormal
from overbank.uncertain.truncation import Truncated

G = 9.81
NO_DECK = bridges.Deck(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

# a channel between two flood plains (invented); its values at eight levels are in tests/published/channels.csv
COMPOUND = surveyed.Surveyed(
    survey_table([0, 2, 12, 14, 16, 20, 22, 24, 38, 40], [4, 2, 1.8, 0.2, 0, 0, 0.3, 1.8, 2.1, 4], [12.0, 24.0]),
    np.array([0.060, 0.035, 0.050]),
    float(surveyed.SUBDIVIDED),
    0.0,
)


def bridge(
    section: sections.Section, width: float, sides: float = 0.0, blockage: float = 0.0, pattern: float = 0.0
) -> bridges.Bridge:
    """One opening in a rectangular channel, with the usual coefficients; arches beside it, if any."""
    main = bridges.Openings(section, 1.0, 1.0, 0.0)
    side = bridges.Openings(sections.arch(2.0, 1.2, 0.5, 0.03), sides, 1.0, 0.9)
    groups = bridges.side_by_side(bridges.cleared(main, blockage, pattern), bridges.cleared(side, blockage, pattern))
    return bridges.Bridge(groups, sections.rectangle(width, 0.03), 0.0, 0.3, 0.5, 0.5, 0.8, 1.0)


def test_two_depths_for_one_energy() -> None:
    """Always the deep one; and with less than the least energy, critical depth: control, not failure."""
    s, flow = sections.rectangle(5.0, 0.02), 20.0
    least = uniform.critical_energy(s, flow)
    assert least == pytest.approx(1.76566, rel=1e-5)  # computed independently
    for energy in least * np.array([1.0 + 1e-9, 1.001, 1.1, 2.5 / least, 10.0]):
        deep = uniform.subcritical_depth(s, flow, float(energy))
        roots = np.roots([1.0, -energy, 0.0, (flow / 5.0) ** 2 / (2 * G)])
        assert deep == pytest.approx(max(roots.real), rel=1e-6)
        assert uniform.froude(s, flow, deep) <= 1.0 + 1e-6
    for energy in (0.0, 0.5 * least, 0.999 * least):
        assert uniform.subcritical_depth(s, flow, energy) == uniform.critical_depth(s, flow)
    choked = bridge(sections.box(2.5, 50.0, 0.03), 5.0)
    states = [bridges.bridged(choked, NO_DECK, flow, below) for below in (0.5, 1.2, 1.9)]
    assert {state.regime for state in states} == {bridges.CHOKED}
    assert [state.level for state in states] == pytest.approx([states[0].level] * 3, rel=1e-12)


def test_standard_step_undershoots_near_normal_depth() -> None:
    """Steps of 500 m by the standard method come to 1.0812 m, below normal depth of 1.0913 m; ours never pass it."""
    s, flow, slope = sections.trapezoid(10.0, 2.0, 0.013), 30.0, 0.001
    normal = uniform.normal_depth(s, flow, slope)
    assert normal == pytest.approx(1.0913, rel=1e-5)

    def step(below: float) -> float:
        friction = (flow / sections.conveyance(s, below)) ** 2
        head = uniform.specific_energy(s, flow, below) - 500.0 * slope

        def excess(y: float) -> float:
            mean = 0.5 * (friction + (flow / sections.conveyance(s, y)) ** 2)
            return uniform.specific_energy(s, flow, y) - head - 500.0 * mean

        return float(brentq(excess, uniform.critical_depth(s, flow), 1.1 * below))

    depth, least = 5.0, 5.0
    for _ in range(10):
        depth = step(depth)
        least = min(least, depth)
    assert least == pytest.approx(1.0812, abs=1e-4)  # computed independently
    survey = survey_table([0.0, 20.0, 30.0, 50.0], [10.0, 0.0, 0.0, 10.0])
    same = surveyed.Surveyed(survey, np.array([0.013]), 0.0, 0.0)
    critical = surveyed_levels.critical_level(same, flow).level
    for start in (5.0, 1.2, 0.95):
        ours = np.array([profile.depth_upstream(s, flow, slope, x, start) for x in np.arange(0.0, 20_000.0, 250.0)])
        side = 1.0 if start > normal else -1.0
        assert np.all(side * (ours - normal) >= -1e-7)
        assert np.all(side * np.diff(ours) <= 1e-14)  # round-off at normal depth
        theirs = [surveyed_profile.level_along(same, flow, critical, slope, x, start) for x in (500.0, 4500.0, 5000.0)]
        np.testing.assert_allclose(theirs, ours[[2, 18, 20]], atol=2e-6)


def test_supercritical_reach_above_the_control() -> None:
    """Slope 0.01: a pool of 2.5 m is felt for 99 m, to the depth behind a jump, and no further; the reach says so."""
    s, flow, slope = sections.rectangle(5.0, 0.02), 20.0, 0.01
    normal, critical = uniform.normal_depth(s, flow, slope), uniform.critical_depth(s, flow)
    assert normal < critical
    sequent = jump.sequent_depth(flow, 5.0, normal)
    assert sequent == pytest.approx(1.37305, rel=1e-5)  # computed independently
    assert profile.depth_upstream(s, flow, slope, 99.2988, 2.5) == pytest.approx(sequent, rel=1e-5)
    assert profile.depth_upstream(s, flow, slope, 150.0, 2.5) == critical
    reach = {"r.section.width_m": 5.0, "r.bed_level_m": 0.0, "r.bed_slope": slope, "r.manning_n": 0.02}
    numbers = {**reach, "flow.design_m3_s": flow, "r.length_m": np.array([50.0, 150.0, 150.0])}
    numbers["tailwater.level_m"] = np.array([2.5, 2.5, 2.0])
    found = Site((Channel("r", "rectangle"),), FixedLevel()).march(numbers, 3).element("r").results
    assert np.all(found["steep"] == 1.0)
    assert found["depth"][0] > 1.9
    assert found["depth"][1] == found["depth"][2] == pytest.approx(critical)


@pytest.mark.parametrize(("flow", "first", "second"), [(68.0, 1.965, 2.017), (70.0, 2.078, 2.116)])
def test_several_critical_levels(flow: float, first: float, second: float) -> None:
    """Two minima of energy, at kinks of the ground; the lowest energy is taken, the other told (grid of 0.5 mm)."""
    found = surveyed_levels.critical_level(COMPOUND, flow)
    minima, level = [], -inf
    while (level := surveyed_levels.next_energy_minimum(COMPOUND, flow, level)) < inf:
        minima.append(level)
        level += surveyed.BESIDE
    assert minima == pytest.approx([first, second], abs=0.002)
    energies = [surveyed.energy_level(COMPOUND, flow, minimum) for minimum in minima]
    assert found.level == minima[int(np.argmin(energies))]
    assert found.energy == min(energies)
    assert {found.level, found.other} == set(minima)


def test_three_normal_levels() -> None:
    """Whole-section roughness by Horton, Q 15, S 0.001; the lowest stable one is taken, the other told."""
    horton = COMPOUND._replace(method=float(surveyed.HORTON))
    levels = [surveyed_levels.next_normal_level(horton, 15.0, 0.001, above) for above in (-inf, 1.7, 1.9)]
    assert [level for level, _ in levels] == pytest.approx([1.61410, 1.82886, 2.18561], abs=1e-5)
    assert [stable for _, stable in levels] == [True, False, True]
    assert surveyed_levels.normal_level(horton, 15.0, 0.001) == pytest.approx((1.61410, 2.18561), abs=1e-5)
    assert surveyed_levels.normal_level(COMPOUND, 15.0, 0.001).next_level == inf


def test_a_pipe_carries_most_before_it_is_full() -> None:
    """The full-bore flow already at y/D 0.819629, the greatest at 0.938181; the lower root is taken, or none."""
    s = sections.pipe(1.0, 0.013)
    full = sections.conveyance(s, 1.0) * sqrt(0.002)
    assert uniform.normal_depth(s, full, 0.002) == pytest.approx(0.819629, abs=1e-6)
    assert 0.92 < uniform.normal_depth(s, 1.075 * full, 0.002) < 0.938181
    assert uniform.normal_depth(s, 1.07572 * full, 0.002) == inf


def test_an_arch_has_a_critical_depth_for_any_flow() -> None:
    """The surface narrows to nothing at the crown, so Froude's number falls to 0 there, whatever the flow."""
    s = sections.arch(6.0, 2.5, 1.0, 0.03)
    depths = [uniform.critical_depth(s, flow) for flow in (5.0, 30.0, 100.0, 1000.0)]
    assert np.all(np.diff(depths) > 0.0)
    assert 2.49 < depths[-1] < 2.5
    assert uniform.froude(s, 1000.0, 2.5) == 0.0


def test_opening_of_an_arch_changes_with_the_level() -> None:
    """Above the springing the share of the channel that an arch leaves shrinks; it is computed at every level."""
    b = bridge(sections.arch(6.0, 2.5, 1.0, 0.03), 10.0)
    shares = [bridges.bridged(b, NO_DECK, 5.0, below).opening_ratio for below in (0.6, 1.0, 1.6, 2.2, 2.8)]
    assert shares[:2] == pytest.approx([0.6, 0.6])
    assert np.all(np.diff(shares[1:]) < -0.01)
    radius, centre = (9.0 + 1.5**2) / 3.0, 2.5 - (9.0 + 1.5**2) / 3.0
    area = 6.0 + 2.0 * float(np.trapezoid(np.sqrt(radius**2 - (np.linspace(1.0, 2.2, 20_001) - centre) ** 2), dx=6e-5))
    assert shares[3] == pytest.approx(area / 22.0, rel=1e-7)


@pytest.mark.parametrize(("along_road", "share"), [(True, cos(radians(30.0))), (False, 1.0)])
def test_skew_projected_twice(along_road: bool, share: float) -> None:
    """20 m along the road at 30 degrees are 17.32 m across the flow, not 15.0; a length square to it stays. Piers that
    stand square to the road are turned by the same angle: one between two spans, half of it in each.
    """
    numbers = {"b.skew.angle_deg": 30.0, "b.skew.pier_length_m": 4.0, "b.opening.span_m": 20.0, "b.opening.count": 2.0}
    for square, pier in ((False, 0.0), (True, 0.5 * 4.0 * sin(radians(30.0)))):
        found = Bridge("b", ("box",), "rectangle", along_road, square, False, False)
        width = 20.0 * float(np.asarray(found.width_factor(numbers, "b.opening", "box")))
        assert width == pytest.approx(20.0 * share - pier)
    assert afflux.projected_opening(20.0, 30.0) == pytest.approx(17.3205, rel=1e-6)


@pytest.mark.parametrize("pattern", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("section", [sections.box(8.0, 2.0, 0.03), sections.arch(8.0, 2.5, 0.8, 0.03)])
@pytest.mark.parametrize("sides", [0.0, 2.0])
def test_jump_at_the_soffit(pattern: float, section: sections.Section, sides: float) -> None:
    """From a free surface to pressure, and where a second group of openings fills: flow rises strictly with the level.

    No plateau, no jump: a tenth of the step of flow is a tenth of the largest step of level.
    """
    b = bridge(section, 14.0, sides, 0.2, pattern)

    def steps(count: int, below: float) -> np.ndarray:
        return np.diff([bridges.bridge_level(b, NO_DECK, flow, below) for flow in np.linspace(1.0, 90.0, count)])

    for below in (0.5, 1.5, 2.6):
        coarse, fine = steps(150, below), steps(1491, below)
        assert coarse.min() > 1e-6
        assert fine.max() < 0.2 * coarse.max()
        levels = below + np.cumsum(fine)
        assert levels[-1] > 3.0


def test_datum_of_the_afflux() -> None:
    """The afflux of a bridge is the rise over the same river without it, at the same place, and not over the water a
    reach further down, where the bed is lower; HDS-1's backwater counts from normal level likewise.
    """
    slope, flow, wide = 0.002, 30.0, 12.0
    numbers = {"flow.design_m3_s": flow, "tailwater.normal_depth.slope": slope}
    for path in ("below", "tailwater.normal_depth"):
        numbers |= {f"{path}.section.width_m": wide, f"{path}.manning_n": 0.035, f"{path}.bed_level_m": 0.0}
    numbers |= {"below.length_m": 200.0, "below.bed_slope": slope}
    numbers |= {"road.contraction_loss": 0.3, "road.expansion_loss": 0.5}
    numbers |= {f"road.{key}": 1.0 for key in ("afflux_factor", "sluice_coefficient", "orifice_coefficient")}
    numbers |= {f"road.{key}": 0.0 for key in ("blockage", "pattern", "skew.angle_deg")}
    numbers |= {"road.opening.count": 1.0, "road.opening.span_m": 8.0, "road.opening.rise_m": 20.0}
    numbers |= {
        "road.opening.bed_level_m": 0.4,
        "road.approach.bed_level_m": 0.4,
        "road.approach.section.width_m": wide,
    }
    reach, road = Channel("below", "rectangle"), Bridge("road", ("box",), "rectangle", False, False, False, False)
    outcome = Site((reach, road), NormalDepth("rectangle")).march(numbers)
    without = Site((reach,), NormalDepth("rectangle")).march(numbers).element("below").level[0]
    rise = outcome.element("road").results["afflux"][0]
    assert outcome.element("road").level[0] - without == pytest.approx(rise, abs=1e-12)
    over_the_tailwater = outcome.element("road").level[0] - outcome.tailwater[0]
    assert over_the_tailwater - rise == pytest.approx(200.0 * slope, abs=1e-6)
    normal = without - 0.4
    loss = bridge_methods.borda_loss(8.0 / wide)
    backwater = bridge_methods.contraction_backwater(loss, flow, 8.0 * normal, wide * normal, wide, normal, 1.0, 1.0)
    assert 0.0 < backwater < rise < 4.0 * backwater


def test_yarnell_counts_downstream() -> None:
    """His depth and Froude number are those downstream; fed with the depth that was computed upstream he gives less."""
    right = afflux.yarnell_afflux(1.25, 120.0, 30.0, 6.0, 2.0)
    wrong = afflux.yarnell_afflux(1.25, 120.0, 30.0, 6.0, 2.0 + right)
    f2 = (120.0 / 60.0) ** 2 / (G * 2.0)
    assert right == pytest.approx(2.0 * 1.25 * f2 * (1.25 + 5.0 * f2 - 0.6) * (0.2 + 15.0 * 0.2**4))
    assert wrong < 0.85 * right


def test_gauged_head_with_a_coefficient_for_the_energy_head() -> None:
    """At h/p 0.5 the wrong head is 2 to 4 % of the flow (Cv). Each kind takes its own: a thin plate the gauged head."""
    head, height, width = 0.5, 1.0, 10.0
    for flow in (5.21868, 6.06064, 7.25601):  # broad, round-nosed, triangular: computed independently
        energy_head = head + (flow / (width * (head + height))) ** 2 / (2 * G)
        assert 1.015 < (energy_head / head) ** 1.5 < 1.04
    for kind in range(5):
        c = weir_level.Crest(
            *(sections.rectangle(width, 0.03), crests.plate_row(1.0), float(kind), height, width),
            *(1.0, 0.0, 1.0, 1.0, 1.6, 0.0, 0.0),
        )
        more = weir_level.weir_flow(c, head, 1.02 * head, -1.0, -1.0) / weir_level.weir_flow(c, head, head, -1.0, -1.0)
        assert more == pytest.approx(1.0 if kind == crests.THIN_PLATE else 1.02**1.5, rel=1e-9)
        ratio = weir_level.drowned_ratio(float(kind), head, 1.1 * head, 0.4, 0.5)
        assert ratio == pytest.approx(0.8 if kind == crests.THIN_PLATE else 0.5 / 0.55)


def test_villemonte_is_infinitely_steep_at_equal_levels() -> None:
    """Trickles over drowned crests: the drop is found to 1e-9 m by brackets, and goes to nothing with the flow."""
    c = weir_level.Crest(
        *(sections.rectangle(inf, 0.03), weir_level.NO_PLATE, float(crests.GIVEN), 0.0, 10.0),
        *(1.0, 0.0, 1.0, 1.0, 1.449, 0.0, -1.0),
    )
    drops = []
    for flow in (1e-9, 1e-6, 1e-3, 1.0, 5.0):
        level = weir_level.weir_level(c, flow, 0.9, 0.9)

        def passed(h: float) -> float:
            return 1.449 * 10.0 * h**1.5 * weirs.villemonte(0.9 / h, 1.5) if h > 0.9 else 0.0

        assert passed(level - 2e-9) <= flow <= passed(level + 2e-9)
        drops.append(level - 0.9)
    assert np.all(np.diff(drops) >= 0.0)
    assert drops[0] < 1e-9


def test_one_draw_of_roughness_for_reach_and_tailwater() -> None:
    """A sample's own roughness stands in all its places. Drawn apart for reach and tailwater, errors average out."""
    n = Lognormal(0.035, 0.25).value(np.random.default_rng(0).standard_normal(2000))
    numbers = {
        "flow.design_m3_s": 30.0,
        "tailwater.normal_depth.slope": 0.002,
        "r.bed_slope": 0.002,
        "r.length_m": 300.0,
    }
    for path in ("r", "tailwater.normal_depth"):
        numbers |= {f"{path}.section.width_m": 12.0, f"{path}.bed_level_m": 0.0, f"{path}.manning_n": n}
    site = Site((Channel("r", "rectangle"),), NormalDepth("rectangle"))
    together = site.march(numbers, 2000).element("r").level
    normal = [0.6 + uniform.normal_depth(sections.rectangle(12.0, x), 30.0, 0.002) for x in n]
    np.testing.assert_allclose(together, normal, atol=1e-6)
    apart = site.march({**numbers, "tailwater.normal_depth.manning_n": n[::-1].copy()}, 2000).element("r").level
    assert apart.std() < 0.85 * together.std()


def test_leaving_out_alpha() -> None:
    """At level 3.0 the compound section has alpha 1.594: without it the velocity head is 37 % low, and the level
    upstream of a rise of energy with it. HDS-1's expression drops from 0.4996 to 0.3789 m.
    """
    flow, level = 100.0, 3.0
    plain = (flow / surveyed.area(COMPOUND, level)) ** 2 / (2 * G)
    head = surveyed.energy_level(COMPOUND, flow, level) - level
    assert plain / head == pytest.approx(1.0 / 1.59377, rel=1e-5)
    with_alpha, without = (
        bridge_methods.contraction_backwater(1.15, 150.0, 60.0, 150.0, 60.0, 2.5, *alphas)
        for alphas in ((1.3, 1.5), (1.0, 1.0))
    )
    assert (with_alpha, without) == pytest.approx((0.499582, 0.378868), rel=1e-5)


def test_roughness_cut_off_at_the_greatest_of_its_class() -> None:
    """Bank at the level of Chow's greatest n for a clean winding stream, 0.045: a lognormal with a spread of 0.2 goes
    over it in a quarter of the cases, cut off there in none; cut off at twice the greatest n, next to nothing is lost.
    """
    row = next(row for row in read_table("channel_roughness") if row["id"] == "plain_winding")
    most = float(row["high"])
    whole = Lognormal(float(row["normal"]), 0.2)
    section = sections.rectangle(12.0, most)
    bank = uniform.normal_depth(section, 40.0, 0.001)

    def over(n: float) -> bool:
        return uniform.normal_depth(sections.rectangle(12.0, n), 40.0, 0.001) > bank

    assert [over(n) for n in (0.99 * most, 1.01 * most)] == [False, True]
    cut, trimmed = Truncated(whole, -inf, most), Truncated(whole, -inf, 2.0 * most)
    chances = [1.0 - float(of.cdf(most)) for of in (whole, cut, trimmed)]
    assert chances[0] > 0.25
    assert chances[1] == 0.0
    assert chances[2] == pytest.approx(chances[0], rel=0.01)
