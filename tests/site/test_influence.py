"""How far upstream a structure is felt: against SciPy's ODE solver, varied-flow integrals and handbook formulas."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import atan, inf, isnan, log, sqrt

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from overbank.hydraulics.surveyed_table import survey_table
from overbank.hydraulics.tables import inlets
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel, SurveyedChannel
from overbank.site.culvert import Culvert
from overbank.site.influence import Influence, influences
from overbank.site.numbers import Column
from overbank.site.row import Site
from overbank.site.structure import Structure
from overbank.site.surveyed import SurveyedSection
from overbank.site.tailwater import FixedLevel, NormalDepth
from overbank.site.weir import Weir

GRAVITY, WIDE = 9.81, 1e6
"""A channel of this width is wide: its hydraulic radius is its depth."""


def channel(own: str, width: float, length: float, bed: float, slope: float, n: float) -> dict[str, Column]:
    return {
        f"{own}.section.width_m": width,
        f"{own}.length_m": length,
        f"{own}.bed_level_m": bed,
        f"{own}.bed_slope": slope,
        f"{own}.manning_n": n,
    }


def tailwater(width: float, slope: float, n: float) -> dict[str, Column]:
    """Normal depth below, its bed at 0."""
    path = "tailwater.normal_depth"
    return {
        f"{path}.section.width_m": width,
        f"{path}.bed_level_m": 0.0,
        f"{path}.slope": slope,
        f"{path}.manning_n": n,
    }


def weir(own: str, width: float, crest: float, bed: float = 0.0) -> dict[str, Column]:
    return {
        f"{own}.crest.level_m": crest,
        f"{own}.crest.width_m": width,
        f"{own}.crest.angle_deg": 0.0,
        f"{own}.crest.oblique_gain": 1.0,
        f"{own}.crest.flow_factor": 1.0,
        f"{own}.crest.coefficient": 1.7,
        f"{own}.crest.modular_limit": 0.7,
        f"{own}.approach.section.width_m": width,
        f"{own}.approach.bed_level_m": bed,
    }


SILL = Weir("sill", "given", "rectangle")


def normal_depth(flow: float, width: float, slope: float, n: float) -> float:
    """By Manning's formula, solved with SciPy."""

    def excess(y: float) -> float:
        area, perimeter = width * y, width + 2 * y
        return area * (area / perimeter) ** (2 / 3) / n * sqrt(slope) - flow

    return float(brentq(excess, 1e-3, 50.0, xtol=1e-13))


def surface(flow: float, width: float, slope: float, n: float) -> Callable[[float, np.ndarray], np.ndarray]:
    """dy/dx of gradually varied flow in a rectangle, x upstream."""

    def gradient(_: float, y: np.ndarray) -> np.ndarray:
        area, perimeter = width * y, width + 2 * y
        friction = (n * flow / area) ** 2 * (perimeter / area) ** (4 / 3)
        return np.asarray((friction - slope) / (1.0 - flow**2 * width / (GRAVITY * area**3)))

    return gradient


def wide(froude: float, afflux: float, slope: float = 1e-3, depth: float = 2.0) -> tuple[Influence, float]:
    """A weir in a wide channel of that normal depth and Froude number, its afflux a share of the depth.

    The crest is where its own formula (energy head, coefficient 1.7) needs that level.
    """
    velocity = froude * sqrt(GRAVITY * depth)
    n = sqrt(slope) * depth ** (2 / 3) / velocity
    level = depth * (1.0 + afflux)
    head = (velocity * depth / 1.7) ** (2 / 3)
    crest = level + (velocity * depth / level) ** 2 / (2 * GRAVITY) - head
    known = {
        "flow.design_m3_s": velocity * depth * WIDE,
        **tailwater(WIDE, slope, n),
        **weir("sill", WIDE, crest),
        "sill.crest.modular_limit": 0.95,
        **channel("reach", WIDE, 6.0 * depth / slope, 0.0, slope, n),
    }
    (found,) = influences(Site((SILL, Channel("reach", "rectangle")), NormalDepth("rectangle")), known)
    return found, n


@pytest.mark.parametrize(("width", "slope", "flow"), [(8.0, 0.001, 12.0), (30.0, 0.0004, 25.0)])
def test_backwater_of_a_weir_against_an_ode_solver(width: float, slope: float, flow: float) -> None:
    """An M1 curve: SciPy carries the level at the weir upstream; without the weir the flow is normal."""
    n, length = 0.035, 10_000.0
    known = {"flow.design_m3_s": flow, **tailwater(width, slope, n), **weir("sill", width, 2.2)}
    known |= channel("reach", width, length, 0.0, slope, n)
    site = Site((SILL, Channel("reach", "rectangle")), NormalDepth("rectangle"))
    (found,) = influences(site, known)
    normal = normal_depth(flow, width, slope, n)
    solved = solve_ivp(
        surface(flow, width, slope, n),
        (0.0, length),
        [site.march(known).elements[0].level[0]],
        method="LSODA",
        rtol=1e-10,
        atol=1e-11,
        dense_output=True,
    )
    np.testing.assert_allclose(found.afflux, solved.sol(found.distance)[0] - normal, atol=5e-6)
    for distance, left in ((found.to_tenth, 0.1 * found.at_structure), (found.to_small, 0.01)):
        exact = brentq(lambda x, left=left: solved.sol(x)[0] - normal - left, 0.0, length)
        assert distance == pytest.approx(exact, rel=2e-3)
    assert found.modelled == length
    assert found.notes() == ()


@pytest.mark.parametrize("froude", [0.1, 0.3, 0.5])
@pytest.mark.parametrize("afflux", [0.1, 0.5])
def test_distance_to_a_tenth_in_a_wide_channel(froude: float, afflux: float) -> None:
    """The exact integral of the wide-channel equation, x S / yn = int (1 - Fr^2/u^3) / (1 - u^(-10/3)) du (SciPy)."""
    found, _ = wide(froude, afflux)
    assert found.at_structure == pytest.approx(2.0 * afflux, rel=1e-4)

    def integrand(u: float) -> float:
        return float((1.0 - froude**2 / u**3) / (1.0 - u ** (-10 / 3)))

    exact = quad(integrand, 1.0 + 0.1 * afflux, 1.0 + afflux)[0]
    assert found.to_tenth * 1e-3 / 2.0 == pytest.approx(exact, rel=3e-3)


def test_a_small_afflux_decays_as_linear_theory_says() -> None:
    """ln(10) 0.3 (1 - Fr^2) = 0.691 (1 - Fr^2) times yn / S (closed form); the rule of thumb 0.7 D / S of Samuels
    (1989, "Backwater lengths in rivers", Proc. ICE; from memory, unverified) is that at a low Froude number."""
    found, _ = wide(0.1, 0.01)
    length = found.to_tenth * 1e-3 / 2.0
    assert length == pytest.approx(0.3 * log(10.0) * (1.0 - 0.1**2), rel=0.02)
    assert length == pytest.approx(0.7, rel=0.05)


def bresse(u: float) -> float:
    """Bresse's backwater function (J. A. C. Bresse 1860; in V. T. Chow 1959, "Open-Channel Hydraulics", chapter 9; from
    memory, unverified)."""
    return log((u * u + u + 1.0) / (u - 1.0) ** 2) / 6.0 - atan(sqrt(3.0) / (2.0 * u + 1.0)) / sqrt(3.0)


def test_bresses_function_within_its_own_limits() -> None:
    """Bresse takes Chezy's coefficient as constant, where Manning's lets it grow with the depth: 10 % of the length."""
    afflux, slope, depth = 0.5, 1e-3, 2.0
    found, n = wide(0.2, afflux)
    chezy = depth ** (1 / 6) / n
    first, last = 1.0 + afflux, 1.0 + 0.1 * afflux
    length = depth / slope * (first - last) + depth * (1 / slope - chezy**2 / GRAVITY) * (bresse(last) - bresse(first))
    assert found.to_tenth == pytest.approx(length, rel=0.10)
    assert found.to_tenth < length  # Manning's friction falls faster with the depth, so the afflux dies away sooner


def test_bresses_function_is_the_integral_that_it_stands_for() -> None:
    """Phi'(u) = -1 / (u^3 - 1), by SciPy: the formula above is written as it should be."""
    assert bresse(1.1) - bresse(2.0) == pytest.approx(quad(lambda u: 1.0 / (u**3 - 1.0), 1.1, 2.0)[0], rel=1e-10)


OPEN = {
    **{f"road.opening.{key}": value for key, value in {"span_m": 8.0, "rise_m": 30.0, "count": 1.0}.items()},
    "road.opening.bed_level_m": 0.0,
    "road.approach.section.width_m": 8.0,
    "road.approach.bed_level_m": 0.0,
    "road.skew.angle_deg": 0.0,
    **{f"road.{key}": 0.0 for key in ("blockage", "pattern")},
    "road.contraction_loss": 0.3,
    "road.expansion_loss": 0.5,
    "road.sluice_coefficient": 0.5,
    "road.orifice_coefficient": 0.8,
    "road.afflux_factor": 1.0,
}
BRIDGE = Bridge("road", ("box",), "rectangle", False, False, has_deck=False, has_approach_road=False)
REACH = Channel("reach", "rectangle")


def above_a_bridge(**changes: float) -> Influence:
    known = {"flow.design_m3_s": 12.0, **tailwater(8.0, 0.001, 0.035), **OPEN}
    known |= channel("reach", 8.0, 5000.0, 0.0, 0.001, 0.035)
    known |= {name.replace("__", "."): value for name, value in changes.items()}
    return influences(Site((BRIDGE, REACH), NormalDepth("rectangle")), known)[0]


def test_a_bridge_that_contracts_nothing_is_not_felt() -> None:
    found = above_a_bridge()
    assert np.max(np.abs(found.afflux)) < 1e-6
    assert (found.to_tenth, found.to_small) == (0.0, 0.0)


def test_a_tighter_bridge_is_felt_further() -> None:
    found = [above_a_bridge(road__opening__span_m=span) for span in (6.0, 4.0, 3.0)]
    assert 0.0 < found[0].at_structure < found[1].at_structure < found[2].at_structure
    assert found[0].to_small < found[1].to_small < found[2].to_small < inf
    for each in found:
        assert np.max(np.diff(each.afflux)) < 1e-6
        assert each.felt_to(each.at_structure * 0.5) < each.to_tenth


def test_a_bridge_in_a_survey_is_felt_as_one_in_the_same_rectangle() -> None:
    survey = SurveyedSection(survey_table((0.0, 1e-6, 8.0, 8.0 + 1e-6), (10.0, 0.0, 0.0, 10.0)), 10.0)
    road = replace(BRIDGE, approach_shape="surveyed", survey=survey)
    known = {"flow.design_m3_s": 12.0, **tailwater(8.0, 0.001, 0.035), **OPEN, "road.opening.span_m": 4.0}
    known |= channel("reach", 8.0, 5000.0, 0.0, 0.001, 0.035)
    known |= {"road.approach.section.zone_1.manning_n": 0.04}
    known |= {"road.approach.section.method": 0.0, "road.approach.section.shift_m": 0.0}
    found = influences(Site((road, REACH), NormalDepth("rectangle")), known)[0]
    np.testing.assert_allclose(found.afflux, above_a_bridge(road__opening__span_m=4.0).afflux, atol=1e-5)


BARREL: dict[str, Column] = {
    "lane.barrel.count": 1.0,
    "lane.barrel.span_m": 2.4,
    "lane.barrel.rise_m": 1.5,
    "lane.barrel.length_m": 40.0,
    "lane.barrel.upstream_invert_m": 0.04,
    "lane.barrel.downstream_invert_m": 0.0,
    "lane.barrel.manning_n": 0.014,
    "lane.barrel.bed_manning_n": 0.014,
    "lane.inlet.head_factor": 1.0,
    "lane.inlet.entrance_loss": 0.4,
    "lane.inlet.exit_loss": 1.0,
    "lane.blockage": 0.0,
    "lane.pattern": 0.0,
}
LANE = Culvert("lane", "box", inlets()["box", "wingwalls 30 to 75 deg"], has_screen=False, has_road=False)
STREAM = {"flow.design_m3_s": 6.0, **tailwater(4.0, 0.001, 0.035), **BARREL}


def vertical_walls(width: float) -> SurveyedSection:
    """The rectangle as a survey, its lowest points at level 7."""
    return SurveyedSection(survey_table((0.0, 1e-6, width, width + 1e-6), (17.0, 7.0, 7.0, 17.0)), 10.0)


@pytest.mark.parametrize("is_surveyed", [False, True])
def test_in_place_of_a_culvert_the_reach_above_goes_on(is_surveyed: bool) -> None:
    """In a channel in normal flow the level without the culvert is normal depth everywhere (Manning, SciPy)."""
    reach: Structure = REACH
    known = STREAM | channel("reach", 4.0, 3000.0, 0.04, 0.001, 0.035)
    if is_surveyed:
        reach = SurveyedChannel("reach", vertical_walls(4.0))
        known |= {"reach.section.zone_1.manning_n": 0.035, "reach.section.method": 0.0, "reach.section.shift_m": -6.96}
    site = Site((LANE, reach), NormalDepth("rectangle"))
    (found,) = influences(site, known)
    normal = normal_depth(6.0, 4.0, 0.001, 0.035)
    pool = site.march(known).elements[0].level[0]
    assert found.at_structure == pytest.approx(pool - 0.04 - normal, abs=2e-5)
    solved = solve_ivp(
        surface(6.0, 4.0, 0.001, 0.035), (0, 3000), [pool - 0.04], "LSODA", found.distance, rtol=1e-10, atol=1e-11
    )
    np.testing.assert_allclose(found.afflux, solved.y[0] - normal, atol=5e-5)
    assert 0.0 < found.to_tenth < found.to_small < 3000.0
    assert found.notes() == ()


def test_without_a_channel_above_the_distance_is_not_known() -> None:
    (found,) = influences(Site((LANE,), NormalDepth("rectangle")), STREAM)
    assert found.at_structure > 0.01
    assert isnan(found.to_tenth)
    assert isnan(found.to_small)
    assert found.in_words(found.to_small) == "not known"
    assert "add a channel element" in found.notes()[0]


def test_beyond_a_short_reach() -> None:
    known = STREAM | channel("reach", 4.0, 50.0, 0.04, 0.001, 0.035)
    (found,) = influences(Site((LANE, REACH), NormalDepth("rectangle")), known)
    assert (found.to_tenth, found.to_small, found.modelled) == (inf, inf, 50.0)
    assert found.in_words(found.to_tenth) == "more than 50 m"
    assert found.notes()[0] == f"{found.left:.2f} m are left at the upper end of the 50 m modelled above it"


def test_a_step_of_the_bed_is_told_and_stays() -> None:
    known = STREAM | channel("reach", 4.0, 50.0, 0.14, 0.001, 0.035)
    known |= {"lane.barrel.upstream_invert_m": 0.14, "lane.barrel.downstream_invert_m": 0.10}
    (found,) = influences(Site((LANE, REACH), NormalDepth("rectangle")), known)
    assert found.step == pytest.approx(0.10)
    assert "steps up by 0.10 m" in found.notes()[-1]


def test_the_difference_goes_on_through_structures_above() -> None:
    """Two reaches with a weir between them: above it the difference is that of two marches, one without the culvert."""
    known = STREAM | channel("reach", 4.0, 50.0, 0.04, 0.001, 0.035) | weir("sill", 4.0, 1.0, 0.09)
    known |= channel("wood", 4.0, 400.0, 0.09, 0.001, 0.035)
    wood = Channel("wood", "rectangle")
    site = Site((LANE, REACH, SILL, wood), NormalDepth("rectangle"))
    lane, sill = influences(site, known)
    assert (lane.passed, sill.passed) == (("sill",), ())
    assert (lane.modelled, sill.modelled) == (450.0, 400.0)
    without = Site((Channel("gap", "rectangle"), REACH, SILL, wood), NormalDepth("rectangle"))
    gap = channel("gap", 4.0, 40.0, 0.0, 0.001, 0.035)
    with_it, bare = site.march(known), without.march(known | gap)
    differences = [a.level[0] - b.level[0] for a, b in zip(with_it.elements, bare.elements, strict=True)]
    at_ends = [lane.afflux[np.flatnonzero(lane.distance == 50.0)[place]] for place in (0, 1)]
    np.testing.assert_allclose([*at_ends, lane.left], differences[1:], atol=1e-9)
    assert at_ends[1] < at_ends[0]
    assert "felt through “sill” above it" in lane.notes()


def test_no_way_through() -> None:
    known = STREAM | channel("reach", 4.0, 50.0, 0.04, 0.001, 0.035) | {"lane.blockage": 1.0}
    (found,) = influences(Site((LANE, REACH), NormalDepth("rectangle")), known)
    assert found.at_structure == inf
    assert isnan(found.to_tenth)
    assert found.in_words(found.to_tenth) == "no way through"


def test_a_steep_reach_ends_it() -> None:
    """Where the flow passes critical depth nothing is felt above (Chow 1959, chapter 9)."""
    known = STREAM | channel("reach", 4.0, 300.0, 0.04, 0.02, 0.02)
    (found,) = influences(Site((LANE, REACH), FixedLevel()), known | {"tailwater.level_m": 0.5})
    assert found.at_structure > 0.3
    assert 0.0 < found.to_tenth <= found.to_small < 100.0
    assert found.left == 0.0


def test_numbers_may_come_as_samples_of_one() -> None:
    known = STREAM | channel("reach", 4.0, 300.0, 0.04, 0.001, 0.035)
    site = Site((LANE, REACH), NormalDepth("rectangle"))
    arrays = {name: np.array([value]) for name, value in known.items()}
    assert influences(site, arrays)[0].to_tenth == influences(site, known)[0].to_tenth
