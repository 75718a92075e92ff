"""Surveyed sections: fine slicing, simple sections in closed form, minima on a fine grid, laws, refusals."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from by_energy import subcritical_level
from fluids.open_flow import V_Manning
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from overbank.errors import DomainError
from overbank.hydraulics import sections, surveyed, surveyed_levels, uniform
from overbank.hydraulics.surveyed import HORTON, METHODS, PAVLOVSKII, SUBDIVIDED, Surveyed
from overbank.hydraulics.surveyed_table import survey_table

Numbers = NDArray[np.float64]

# a channel between two flood plains (invented); its values at eight levels are in tests/published/channels.csv
OFFSETS = np.array([0.0, 2.0, 12.0, 14.0, 16.0, 20.0, 22.0, 24.0, 38.0, 40.0])
LEVELS = np.array([4.0, 2.0, 1.8, 0.2, 0.0, 0.0, 0.3, 1.8, 2.1, 4.0])
DIVISIONS = (12.0, 24.0)
MANNING = np.array([0.060, 0.035, 0.050])
COMPOUND = Surveyed(survey_table(OFFSETS, LEVELS, DIVISIONS), MANNING, float(SUBDIVIDED), 0.0)
HORTON_COMPOUND = COMPOUND._replace(method=float(HORTON))

PANELS = 40_000


def sliced(x: Numbers, z: Numbers, divisions: tuple[float, ...], level: float) -> tuple[Numbers, Numbers, Numbers]:
    """Area, wetted perimeter and width of each zone, from thin strips; the walls above the end points are added."""
    edges = np.linspace(x[0], x[-1], PANELS + 1)
    ground = np.interp(edges, x, z)
    middle = 0.5 * (edges[:-1] + edges[1:])
    depth = level - 0.5 * (ground[:-1] + ground[1:])
    wet = depth > 0.0
    zone = np.searchsorted(divisions, middle)
    count = len(divisions) + 1
    wide = np.diff(edges) * wet
    area = np.bincount(zone, wide * depth, count)
    perimeter = np.bincount(zone, np.hypot(np.diff(edges), np.diff(ground)) * wet, count)
    perimeter[0] += max(0.0, level - z[0])
    perimeter[-1] += max(0.0, level - z[-1])
    return area, perimeter, np.bincount(zone, wide, count)


@st.composite
def any_survey(draw: st.DrawFn) -> tuple[Numbers, Numbers, tuple[float, ...], Numbers]:
    """Offsets, levels, divisions and roughness: sloping ground everywhere, so that strips are accurate."""
    count = draw(st.integers(3, 10))
    steps = draw(st.lists(st.floats(0.5, 5.0), min_size=count - 1, max_size=count - 1))
    x = np.concatenate([[0.0], np.cumsum(steps)])
    z = np.array(draw(st.lists(st.integers(0, 40), min_size=count, max_size=count, unique=True))) / 10.0
    zones = draw(st.integers(1, 3))
    divisions = tuple(float(x[-1] * k / zones) for k in range(1, zones))
    manning = np.array(draw(st.lists(st.floats(0.02, 0.1), min_size=zones, max_size=zones)))
    return x, z, divisions, manning


@pytest.mark.parametrize("method", [HORTON, PAVLOVSKII])
def test_velocity_head_of_a_small_channel_and_its_rate(method: int) -> None:
    """A flat bed 0.5 m wide between upright walls: 1 / A^2 and -2 B / A^3, closed form, with A below 1 m2."""
    table = survey_table(np.array([0.0, 0.2, 0.5]), np.zeros(3), ())
    ditch = Surveyed(table, np.array([0.03]), float(method), 0.0)
    for level in (0.2, 0.8, 1.6):
        conveyance, head, rate = surveyed.terms_at(ditch, *surveyed.place(ditch, level))
        assert conveyance == surveyed.conveyance(ditch, level) > 0.0
        assert (head, rate) == pytest.approx(((0.5 * level) ** -2, -2 * 0.5 / (0.5 * level) ** 3), rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(any_survey(), st.floats(0.05, 1.3))
def test_fine_slicing(survey: tuple[Numbers, Numbers, tuple[float, ...], Numbers], share: float) -> None:
    """Every quantity of every method, from thin strips and the formulas written out again."""
    x, z, divisions, n = survey
    s = Surveyed(survey_table(x, z, divisions), n, float(SUBDIVIDED), 0.0)
    level = float(z.min() + share * np.ptp(z))
    a, p, t = sliced(x, z, divisions, level)
    near = {"rel": 3e-3, "abs": 3e-3}
    assert surveyed.area(s, level) == pytest.approx(a.sum(), **near)
    assert surveyed.wetted_perimeter(s, level) == pytest.approx(p.sum(), **near)
    assert surveyed.top_width(s, level) == pytest.approx(t.sum(), **near)
    wet = a > 1e-3
    if not np.array_equal(wet, a > 0.0) or a.sum() < 0.01:
        return
    k = a[wet] * (a[wet] / p[wet]) ** (2.0 / 3.0) / n[wet]
    whole = a.sum() * (a.sum() / p.sum()) ** (2.0 / 3.0)
    by_method = {
        SUBDIVIDED: k.sum(),
        HORTON: whole / (np.sum(p * n**1.5) / p.sum()) ** (2.0 / 3.0),
        PAVLOVSKII: whole / np.sqrt(np.sum(p * n**2) / p.sum()),
    }
    for method, expected in by_method.items():
        assert surveyed.conveyance(s._replace(method=float(method)), level) == pytest.approx(expected, rel=0.01)
    alpha = np.sum(k**3 / a[wet] ** 2) / (k.sum() ** 3 / a.sum() ** 2)
    assert surveyed.energy_coefficient(s, level) == pytest.approx(alpha, rel=0.01)
    lotter = p.sum() * (a.sum() / p.sum()) ** (5.0 / 3.0) / np.sum(p[wet] * (a[wet] / p[wet]) ** (5.0 / 3.0) / n[wet])
    assert surveyed.composite_manning(s, level) == pytest.approx(lotter, rel=0.01)


@pytest.mark.parametrize("depth", [0.2, 1.0, 2.7, 3.0, 4.5])
def test_surveyed_rectangle_and_trapezoid_are_the_simple_sections(depth: float) -> None:
    """Vertical banks in the survey up to 3 m, and its own walls above; sloping banks up to 5 m."""
    rectangle = Surveyed(survey_table([0, 0, 4, 4], [3, 0, 0, 3]), np.array([0.03]), 0.0, 7.0)
    trapezoid = Surveyed(survey_table([0, 10, 14, 24], [5, 0, 0, 5]), np.array([0.03]), 0.0, 7.0)
    for s, simple in ((rectangle, sections.rectangle(4.0, 0.03)), (trapezoid, sections.trapezoid(4.0, 2.0, 0.03))):
        level = 7.0 + depth
        assert surveyed.area(s, level) == pytest.approx(sections.area(simple, depth), rel=1e-12)
        assert surveyed.wetted_perimeter(s, level) == pytest.approx(sections.wetted_perimeter(simple, depth), rel=1e-12)
        assert surveyed.top_width(s, level) == pytest.approx(sections.top_width(simple, depth), rel=1e-12)
        assert surveyed.conveyance(s, level) == pytest.approx(sections.conveyance(simple, depth), rel=1e-12)
        assert surveyed.energy_coefficient(s, level) == pytest.approx(1.0, rel=1e-12)
        flow = sections.conveyance(simple, depth) * 0.02
        normal = surveyed_levels.normal_level(s, flow, 0.0004)
        assert normal.level == pytest.approx(level, abs=1e-9)
        assert normal.next_level == inf
        critical = surveyed_levels.critical_level(s, flow)
        assert critical.level - 7.0 == pytest.approx(uniform.critical_depth(simple, flow), abs=1e-9)
        assert critical.energy - 7.0 == pytest.approx(uniform.critical_energy(simple, flow), abs=1e-9)
        assert critical.other == inf
        energy = uniform.specific_energy(simple, flow, depth)
        assert subcritical_level(s, flow, 7.0 + energy) == pytest.approx(level, abs=1e-7)
        assert surveyed.specific_energy(s, flow, level) == pytest.approx(energy, rel=1e-12)
        froude_squared = uniform.froude_squared(simple, flow, depth)
        assert surveyed.froude_squared(s, flow, level) == pytest.approx(froude_squared, rel=1e-9)


def test_manning_agrees_with_the_library() -> None:
    s = Surveyed(survey_table(OFFSETS, LEVELS), np.array([0.04]), 0.0, 0.0)
    area, perimeter = surveyed.area(s, 2.6), surveyed.wetted_perimeter(s, 2.6)
    velocity = V_Manning(Rh=area / perimeter, S=0.0012, n=0.04)
    assert surveyed.conveyance(s, 2.6) * 0.0012**0.5 == pytest.approx(area * velocity, rel=1e-9)


def test_methods_agree_where_the_roughness_is_the_same_and_the_section_compact() -> None:
    one = np.array([0.035, 0.035, 0.035])
    flows = [surveyed.conveyance(COMPOUND._replace(manning=one, method=float(m)), 1.5) for m in range(len(METHODS))]
    assert flows == pytest.approx([flows[0]] * 3, rel=1e-12)


def test_walls_above_the_end_points_are_wetted_by_the_outer_zones() -> None:
    s = Surveyed(survey_table([0, 10], [1.0, 0.0], [5.0]), np.array([0.03, 0.06]), 0.0, 0.0)
    rise = surveyed.wetted_perimeter(s, 3.0) - surveyed.wetted_perimeter(s, 2.0)
    assert rise == pytest.approx(2.0)
    assert surveyed.wetted_perimeter(s, 0.5) == pytest.approx(0.5 + np.hypot(5.0, 0.5))  # one wall: the low end


def test_wall_on_a_division_belongs_to_the_zone_on_its_left() -> None:
    table = survey_table([0, 4, 4, 9], [0, 0, 1, 1], [4.0])
    left, right = (table.perimeters[zone, -1] for zone in (0, 1))
    assert left[0] == pytest.approx(4.0 + 1.0 + 1.0)  # bed, wall, and the wall above the low end up to 1 m
    assert right[0] == pytest.approx(5.0)


def test_points_level_but_for_rounding_make_one_break() -> None:
    table = survey_table([0, 1, 2, 3, 4], [2, 0.1 + 0.2, 0, 0.3, 2])
    assert table.breaks.tolist() == [0.0, 0.3, 2.0]


@settings(max_examples=40, deadline=None)
@given(any_survey(), st.floats(0.1, 1.5), st.sampled_from(range(3)))
def test_froude_number_is_the_slope_of_the_energy(
    survey: tuple[Numbers, Numbers, tuple[float, ...], Numbers], share: float, method: int
) -> None:
    """1 - Fr^2 = dE/dZ by a central difference, alpha varying with the level; away from the surveyed levels."""
    x, z, divisions, n = survey
    s = Surveyed(survey_table(x, z, divisions), n, float(method), 0.3)
    level = float(0.3 + z.min() + share * np.ptp(z))
    step = 1e-5
    if np.min(np.abs(s.table.breaks + 0.3 - level)) < 0.02:
        return
    low, high = (surveyed.energy_level(s, 8.0, level + change) for change in (-step, step))
    froude_squared = surveyed.froude_squared(s, 8.0, level)
    assert froude_squared == pytest.approx(1.0 - (high - low) / (2.0 * step), rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("flow", [20.0, 55.0, 66.0, 68.0, 70.0, 75.0, 120.0])
@pytest.mark.parametrize("method", range(3))
def test_critical_level_has_the_least_energy_on_a_fine_grid(flow: float, method: int) -> None:
    s = COMPOUND._replace(method=float(method), shift=5.0)
    grid = 5.0 + np.linspace(0.05, 6.0, 60_001)
    energies = np.array([surveyed.energy_level(s, flow, level) for level in grid])
    found = surveyed_levels.critical_level(s, flow)
    assert found.energy <= energies.min() + 1e-12
    assert found.energy == pytest.approx(energies.min(), abs=1e-6)
    assert found.level == pytest.approx(grid[energies.argmin()], abs=2e-4)


def test_two_critical_levels_the_lower_energy_is_taken_and_the_other_told() -> None:
    """Where the banks are overtopped the energy has two minima, with a maximum at the kink between."""
    found = surveyed_levels.critical_level(COMPOUND, 68.0)
    assert found.level == pytest.approx(1.965, abs=0.002)
    assert found.other == pytest.approx(2.017, abs=0.002)
    kink, other = (surveyed.energy_level(COMPOUND, 68.0, level) for level in (2.0, found.other))
    assert kink > other > found.energy
    assert surveyed_levels.critical_level(COMPOUND, 40.0).other == inf


def test_three_normal_levels_the_lowest_stable_is_taken_and_the_next_told() -> None:
    found = surveyed_levels.normal_level(HORTON_COMPOUND, 15.0, 0.001)
    assert found == pytest.approx((1.61410, 2.18561), abs=1e-5)
    middle, stable = surveyed_levels.next_normal_level(HORTON_COMPOUND, 15.0, 0.001, 1.7)
    assert middle == pytest.approx(1.82886, abs=1e-5)
    assert not stable
    assert surveyed_levels.normal_level(COMPOUND, 15.0, 0.001).next_level == inf


def test_two_normal_levels_between_two_surveyed_points_are_found() -> None:
    """A rough plain that rises gently: by Horton the conveyance falls and rises again over it, with no point there."""
    table = survey_table([0, 0, 10, 10, 40, 40], [4, 0, 0, 1.8, 2.8, 4], [10.0])
    s = Surveyed(table, np.array([0.03, 0.06]), float(HORTON), 0.0)
    grid = np.linspace(1.2, 2.8, 16_001)
    conveyances = np.array([surveyed.conveyance(s, level) for level in grid])
    least = conveyances[grid > 1.81].min()
    for share in (0.003, 0.01, 0.03, 0.1):
        flow = least * (1.0 + share) * 0.03
        crossed = grid[:-1][(conveyances[:-1] * 0.03 < flow) != (conveyances[1:] * 0.03 < flow)]
        assert len(crossed) == 3
        assert surveyed_levels.normal_level(s, flow, 0.0009) == pytest.approx((crossed[0], crossed[2]), abs=2e-4)


def test_least_energy_just_below_level_ground() -> None:
    """Where a bench floods at once and alpha jumps up, the least energy can stand right below it: no root shows it."""
    table = survey_table([0, 0, 10, 10, 14, 20, 20], [3, 1, 1, 0, 0, 0, 3], [14.0])
    s = Surveyed(table, np.array([0.06, 0.03]), float(SUBDIVIDED), 0.0)
    found = []
    for flow in (20.0, 30.0, 60.0):
        grid = np.append(np.linspace(0.05, 3.5, 34_501), [1.0 - 1e-8, 1.0])
        least = min(surveyed.energy_level(s, flow, level) for level in grid)
        critical = surveyed_levels.critical_level(s, flow)
        assert critical.energy == pytest.approx(least, abs=1e-7)
        assert critical.energy <= least + 1e-12
        found.append(critical.level)
    assert found[0] < found[1] == pytest.approx(1.0, abs=2e-8)
    assert found[2] > 1.0


@pytest.mark.parametrize("method", range(3))
def test_levels_never_fall_as_the_flow_rises(method: int) -> None:
    s = COMPOUND._replace(method=float(method))
    flows = np.linspace(0.0, 90.0, 901)
    normal = np.array([surveyed_levels.normal_level(s, flow, 0.001).level for flow in flows])
    critical = np.array([surveyed_levels.critical_level(s, flow).level for flow in flows])
    assert np.all(np.diff(normal) >= -1e-9)
    assert np.all(np.diff(critical) >= -1e-6)
    assert normal[0] == critical[0] == 0.0
    jump = np.max(np.diff(normal[flows > 5.0]))
    assert jump > 0.4 if method != SUBDIVIDED else jump < 0.05  # whole-section methods jump out of the channel


@pytest.mark.parametrize("method", range(3))
def test_rougher_ground_never_lowers_the_normal_level(method: int) -> None:
    s = COMPOUND._replace(method=float(method))
    for flow in (15.0, 60.0):
        for zone in range(3):
            levels = []
            for factor in (1.0, 1.2, 1.5, 2.0):
                manning = MANNING.copy()
                manning[zone] *= factor
                levels.append(surveyed_levels.normal_level(s._replace(manning=manning), flow, 0.001).level)
            assert np.all(np.diff(levels) >= -1e-9)


def test_shift_of_the_datum_moves_every_level_alike() -> None:
    moved = COMPOUND._replace(shift=12.34)
    assert surveyed.bed_level(moved) == 12.34
    assert surveyed.area(moved, 14.34) == pytest.approx(surveyed.area(COMPOUND, 2.0), rel=1e-9)
    for found, own in (
        (surveyed_levels.normal_level(moved, 60.0, 0.001), surveyed_levels.normal_level(COMPOUND, 60.0, 0.001)),
        (surveyed_levels.critical_level(moved, 68.0), surveyed_levels.critical_level(COMPOUND, 68.0)),
    ):
        assert np.array(found) == pytest.approx(np.array(own) + 12.34, abs=1e-9)
    energy = surveyed.energy_level(COMPOUND, 60.0, 2.9)
    assert subcritical_level(moved, 60.0, energy + 12.34) == pytest.approx(2.9 + 12.34, abs=1e-9)


@pytest.mark.parametrize("method", range(3))
def test_froude_scaling(method: int) -> None:
    """Lengths by 25, flow by 25^2.5, roughness by 25^(1/6): every level by 25."""
    scale = 25.0
    small = COMPOUND._replace(method=float(method))
    table = survey_table(OFFSETS * scale, LEVELS * scale, tuple(scale * d for d in DIVISIONS))
    large = Surveyed(table, MANNING * scale ** (1.0 / 6.0), float(method), 0.0)
    for find in (
        lambda s, flow: surveyed_levels.normal_level(s, flow, 0.001).level,
        lambda s, flow: surveyed_levels.critical_level(s, flow).level,
    ):
        assert find(large, 60.0 * scale**2.5) == pytest.approx(scale * find(small, 60.0), rel=1e-8)


def test_a_level_bench_wetted_at_once_lowers_the_conveyance_and_is_found() -> None:
    """A flat bench in the same zone: the conveyance drops as it floods, and a normal level can lie in the drop."""
    bench = Surveyed(survey_table([0, 0, 20, 20, 24, 24], [3, 1, 1, 0, 0, 3]), np.array([0.03]), 0.0, 0.0)
    below, above = (surveyed.conveyance(bench, 1.0 + change) for change in (-1e-9, 1e-9))
    assert above < 0.6 * below
    flow = 0.8 * below * 0.001**0.5
    levels, level = [], -inf
    while (found := surveyed_levels.next_normal_level(bench, flow, 0.001, level))[0] < inf:
        levels.append(found)
        level = found[0] + surveyed.BESIDE
    assert [stable for _, stable in levels] == [True, False, True]
    assert levels[1][0] == 1.0
    assert surveyed_levels.normal_level(bench, flow, 0.001).level == levels[0][0] < 1.0


def test_dry_section_and_flat_or_rising_beds() -> None:
    assert (
        surveyed.area(COMPOUND, -0.1)
        == surveyed.conveyance(COMPOUND, -0.1)
        == surveyed.top_width(COMPOUND, -0.1)
        == 0.0
    )
    assert surveyed.wetted_perimeter(COMPOUND, -0.1) == 0.0
    assert surveyed.energy_level(COMPOUND, 1.0, -0.1) == inf
    assert surveyed.energy_level(COMPOUND, 0.0, 1.0) == 1.0
    assert surveyed_levels.normal_level(COMPOUND, 10.0, 0.0) == (inf, inf)
    assert surveyed_levels.critical_level(COMPOUND, 0.0).level == 0.0


@pytest.mark.parametrize(
    ("offsets", "levels", "divisions", "words"),
    [
        ([0.0], [1.0], (), "at least two points"),
        ([0.0, 1.0, 2.0], [1.0, 0.0], (), "3 offsets and 2 levels"),
        ([0.0, np.nan, 2.0], [1.0, 0.0, 1.0], (), "offset 2: expected a finite number"),
        ([0.0, 1.0, 2.0], [1.0, np.inf, 1.0], (), "level 2: expected a finite number"),
        ([0.0, 2.0, 1.0], [1.0, 0.0, 1.0], (), "point 3: expected an offset not below 2 m"),
        ([1.0, 1.0], [1.0, 0.0], (), "two offsets or more"),
        ([0.0, 1.0, 2.0], [1.0, 0.0, 1.0], (0.0,), "rising offsets between 0 and 2 m"),
        ([0.0, 1.0, 2.0], [1.0, 0.0, 1.0], (1.5, 0.5), "got 1.5, 0.5"),
        ([0.0, 1.0, 2.0], [1.0, 0.0, 1.0], (0.5, 2.5), "got 0.5, 2.5"),
    ],
)
def test_what_is_no_section_is_refused(
    offsets: list[float], levels: list[float], divisions: tuple[float, ...], words: str
) -> None:
    with pytest.raises(DomainError, match=words):
        survey_table(offsets, levels, divisions)
