"""The profile along a surveyed reach: SciPy's ODE solver, simple sections, limits and laws; the loops over samples."""

from __future__ import annotations

from functools import partial
from math import inf

import numpy as np
import pytest
from by_energy import subcritical_level
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from overbank._jit import run_rows
from overbank.hydraulics import rows, sections, surveyed, surveyed_levels, surveyed_profile, surveyed_rows
from overbank.hydraulics.surveyed import HORTON, METHODS, SUBDIVIDED, Surveyed
from overbank.hydraulics.surveyed_table import SurveyTable, survey_table

Numbers = NDArray[np.float64]

# a channel between two flood plains (invented); its values at eight levels are in tests/published/channels.csv
OFFSETS = np.array([0.0, 2.0, 12.0, 14.0, 16.0, 20.0, 22.0, 24.0, 38.0, 40.0])
LEVELS = np.array([4.0, 2.0, 1.8, 0.2, 0.0, 0.0, 0.3, 1.8, 2.1, 4.0])
DIVISIONS = (12.0, 24.0)
MANNING = np.array([0.060, 0.035, 0.050])
TABLE = survey_table(OFFSETS, LEVELS, DIVISIONS)
COMPOUND = Surveyed(TABLE, MANNING, float(SUBDIVIDED), 0.0)
G = 9.81


def along(s: Surveyed, flow: float, slope: float, length: float, level: float) -> float:
    """Level upstream, above the bed there as the level downstream is above its own."""
    critical = surveyed_levels.critical_level(s, flow).level
    return surveyed_profile.level_along(s, flow, critical, slope, length, max(level, critical))


# --- SciPy's solver on quantities written out again -------------------------------------------------------


def clipped(low: float, high: float, level: float) -> tuple[Numbers, Numbers]:
    """The wet ground between two offsets as a polyline: surveyed points, the cuts with the zone lines, the shore."""
    x = np.unique(np.concatenate([OFFSETS[(low < OFFSETS) & (high > OFFSETS)], [low, high]]))
    z = np.interp(x, OFFSETS, LEVELS)
    shore = [
        x[i] + (level - z[i]) / (z[i + 1] - z[i]) * (x[i + 1] - x[i])
        for i in range(len(x) - 1)
        if (z[i] - level) * (z[i + 1] - level) < 0.0
    ]
    x = np.unique(np.concatenate([x, shore]))
    return x, np.interp(x, OFFSETS, LEVELS)


def written_out(level: float) -> tuple[float, float]:
    """Conveyance and alpha / A^2 of the compound section, zone by zone from its points; below 4 m, the end points."""
    edges = [0.0, *DIVISIONS, 40.0]
    conveyances, areas = [], []
    for low, high, n in zip(edges[:-1], edges[1:], MANNING, strict=True):
        x, z = clipped(low, high, level)
        wet = 0.5 * (z[:-1] + z[1:]) < level
        area = np.sum((np.diff(x) * (level - 0.5 * (z[:-1] + z[1:])))[wet])
        if area > 0.0:
            perimeter = np.sum(np.hypot(np.diff(x), np.diff(z))[wet])
            areas.append(area)
            conveyances.append(area * (area / perimeter) ** (2.0 / 3.0) / n)
    k, a = np.array(conveyances), np.array(areas)
    return float(k.sum()), float(np.sum(k**3 / a**2) / k.sum() ** 3)


PROFILES = {
    # flow, slope, level downstream, length: where the energy rises with the level all along
    "M1 over the plains": (60.0, 0.001, 3.8, 800.0),
    "M1 back into the channel": (15.0, 0.001, 2.6, 3000.0),
    "M2 over the plains": (60.0, 0.001, 2.6, 500.0),
    "M2 in the channel": (12.0, 0.002, 1.25, 150.0),
    "level bed": (20.0, 0.0, 1.9, 300.0),
    "adverse bed": (20.0, -0.0005, 2.2, 300.0),
}


@pytest.mark.parametrize("name", PROFILES)
def test_against_scipys_solver(name: str) -> None:
    """dE/dx = Sf - S, with the level of an energy by brentq and every quantity written out again."""
    flow, slope, below, length = PROFILES[name]
    head = flow**2 / (2 * G)

    def energy(level: float) -> float:
        return level + head * written_out(level)[1]

    critical = surveyed_levels.critical_level(COMPOUND, flow).level

    def level_of(wanted: float) -> float:
        return brentq(lambda z: energy(z) - wanted, critical, 3.999, xtol=1e-12)

    found = solve_ivp(
        lambda _, e: [(flow / written_out(level_of(e[0]))[0]) ** 2 - slope],
        (0.0, length),
        [energy(below)],
        method="LSODA",
        rtol=1e-9,
        atol=1e-10,
    )
    assert along(COMPOUND, flow, slope, length, below) == pytest.approx(level_of(found.y[0, -1]), abs=2e-5)


def test_where_the_energy_would_fall_the_level_passes_on_in_a_short_distance() -> None:
    """Q 68 has energy minima at 1.965 and 2.017 m with a maximum at the kink between: no step, no end there."""
    levels = np.array([along(COMPOUND, 68.0, 0.001, x, 0.0) for x in np.linspace(0.0, 12.0, 1201)])
    assert levels[0] == pytest.approx(1.965, abs=0.002)
    assert levels[-1] > 2.1
    assert np.all(np.diff(levels) >= 0.0)
    # along the whole stretch dZ/dx = (Sf - S) / 0.02 at most, away from critical level itself
    steepest = ((68.0 / surveyed.conveyance(COMPOUND, 2.0)) ** 2 - 0.001) / surveyed_profile.LEAST_RATE
    beyond = levels[:-1] > 2.01
    assert np.max(np.diff(levels)[beyond]) < 1.1 * steepest * 0.01


# --- limits ----------------------------------------------------------------------------------------------


def test_it_is_at_rest_at_normal_level_and_comes_to_it_from_both_sides() -> None:
    normal = surveyed_levels.normal_level(COMPOUND, 60.0, 0.001).level
    assert normal == pytest.approx(2.88398, abs=1e-5)  # subdivided, Q 60, S 0.001: computed independently
    for start in (normal, 2.3, 0.0, 3.9, 8.0):
        assert along(COMPOUND, 60.0, 0.001, 50_000.0, start) == pytest.approx(normal, abs=1e-6)


def test_three_normal_levels_each_stable_one_has_its_own_water() -> None:
    """Horton, Q 15, S 0.001: 1.61410 and 2.18561 are stable, 1.82886 between them is not."""
    s = COMPOUND._replace(method=float(HORTON))
    for start, end in ((0.0, 1.61410), (1.82, 1.61410), (1.84, 2.18561), (3.5, 2.18561)):
        assert along(s, 15.0, 0.001, 100_000.0, start) == pytest.approx(end, abs=1e-5)


def test_a_steep_reach_ends_at_critical_level() -> None:
    critical = surveyed_levels.critical_level(COMPOUND, 20.0).level
    assert along(COMPOUND, 20.0, 0.05, 500.0, 2.5) == pytest.approx(critical, abs=1e-9)
    assert along(COMPOUND, 20.0, 0.05, 5.0, 2.5) == pytest.approx(2.5 - 0.05 * 5.0, abs=0.02)  # still a pool


def test_a_deep_pool_is_level() -> None:
    assert along(COMPOUND, 0.5, 0.001, 700.0, 3.5) == pytest.approx(3.5 - 0.7, abs=1e-4)


def test_the_shift_of_the_datum_moves_everything_alike() -> None:
    moved = COMPOUND._replace(shift=7.5)
    assert along(moved, 60.0, 0.001, 200.0, 10.0) == pytest.approx(7.5 + along(COMPOUND, 60.0, 0.001, 200.0, 2.5))


def test_level_ground_flooded_at_once_takes_the_distance_that_the_energy_asks_for() -> None:
    """A bench beside a rough channel, next to a smooth one: alpha jumps as it floods, and the level waits there until
    the energy has risen as far, by the mean of the friction before and after.
    """
    table = survey_table([0, 0, 10, 10, 14, 20, 20], [3, 1, 1, 0, 0, 0, 3], [14.0])
    s = Surveyed(table, np.array([0.06, 0.03]), float(SUBDIVIDED), 0.0)
    below, above = (surveyed.energy_level(s, 9.0, 1.0 + change) for change in (-1e-9, 1e-9))
    before, after = ((9.0 / surveyed.conveyance(s, 1.0 + change)) ** 2 for change in (-1e-9, 1e-9))
    assert above - below > 0.02
    assert after > 1.3 * before
    reaches = [brentq(lambda x, z=z: along(s, 9.0, 0.0, x, 0.85) - z, 0.0, 400.0) for z in (1 - 1e-6, 1 + 1e-6)]
    assert reaches[1] - reaches[0] == pytest.approx((above - below) / (0.5 * (before + after)), abs=0.01)


# --- the loops over samples ------------------------------------------------------------------------------

COUNT = 1500


def random_reaches(seed: int) -> list[Numbers]:
    """Columns: roughness of three zones, method, shift, length, slope, flow, level and energy level below."""
    draw = np.random.default_rng(seed)
    level = draw.uniform(0.0, 4.5, COUNT)
    roughness = [n * draw.uniform(0.7, 1.4, COUNT) for n in MANNING]
    slope = 10.0 ** draw.uniform(-4.0, -2.0, COUNT) * draw.choice([0.0, 1.0, 1.0, -0.5], COUNT)
    length = 10.0 ** draw.uniform(0.0, 3.5, COUNT)
    method = draw.integers(0, 3, COUNT).astype(float)
    flow = draw.uniform(2.0, 90.0, COUNT)
    energy = level + draw.choice([0.0, 1.0], COUNT) * draw.uniform(0.0, 0.5, COUNT)
    return [*roughness, method, np.zeros(COUNT), length, slope, flow, level, energy]


def states(columns: list[Numbers], table: SurveyTable = TABLE) -> dict[str, Numbers]:
    names = surveyed_rows.SurveyedReach._fields
    found = run_rows(partial(surveyed_rows.surveyed_states, table), columns, len(names), len(columns[-1]))
    return dict(zip(names, found, strict=True))


def test_every_result_of_a_reach() -> None:
    columns = random_reaches(1)
    found = states(columns)
    only = run_rows(partial(surveyed_rows.surveyed_levels, TABLE), columns, 2, COUNT)
    np.testing.assert_array_equal(only, [found["level"], found["energy"]])
    length, slope, flow = columns[5:8]
    for i in range(0, COUNT, 50):
        s = Surveyed(TABLE, np.array([column[i] for column in columns[:3]]), columns[3][i], 0.0)
        z = found["level"][i] - length[i] * slope[i]
        critical = surveyed_levels.critical_level(s, flow[i])
        assert found["depth"][i] == pytest.approx(z, abs=1e-12)
        assert found["velocity"][i] == pytest.approx(flow[i] / surveyed.area(s, z), rel=1e-9)
        assert found["alpha"][i] == pytest.approx(surveyed.energy_coefficient(s, z), rel=1e-9)
        head = found["alpha"][i] * found["velocity"][i] ** 2 / (2 * G)
        assert found["energy"][i] == pytest.approx(found["level"][i] + head, abs=1e-9)
        steep = slope[i] > 0.0 and flow[i] < surveyed.conveyance(s, critical.level) * np.sqrt(slope[i])
        assert found["steep"][i] == steep
        assert found["next_normal"][i] == surveyed_levels.normal_level(s, flow[i], slope[i]).next_level
        entered = max(critical.level, columns[8][i], subcritical_level(s, flow[i], columns[9][i]))
        assert found["depth_below"][i] == pytest.approx(entered, abs=1e-9)


@pytest.mark.parametrize(
    ("survey", "section"),
    [
        (survey_table([0, 0, 5, 5], [9, 0, 0, 9]), sections.rectangle(5.0, 0.03)),
        (survey_table([0, 60, 64, 124], [30, 0, 0, 30]), sections.trapezoid(4.0, 2.0, 0.03)),
    ],
    ids=["rectangle", "trapezoid"],
)
def test_a_surveyed_simple_section_is_the_simple_section(survey: SurveyTable, section: sections.Section) -> None:
    """Levels of the reach of the other method, on level and adverse beds, steep ones, and above the end points."""
    draw = np.random.default_rng(2)
    flow, n, level = draw.uniform(1.0, 60.0, COUNT), draw.uniform(0.015, 0.06, COUNT), draw.uniform(0.0, 5.0, COUNT)
    slope = 10.0 ** draw.uniform(-4.0, -1.7, COUNT) * draw.choice([0.0, 1.0, 1.0, -0.3], COUNT)
    length = 10.0 ** draw.uniform(0.0, 3.5, COUNT)
    below = [10.0 + level, 10.0 + level + draw.uniform(0.0, 0.3, COUNT)]
    found = states([n, np.zeros(COUNT), np.full(COUNT, 10.0), length, slope, flow, *below], survey)
    simple = [*section[:6], n, n, length, 10.0, slope, flow, *below]
    expected = run_rows(rows.channel_states, simple, len(rows.Reach._fields), COUNT)
    for name, values in zip(rows.Reach._fields, expected, strict=True):
        np.testing.assert_allclose(found[name], values, atol=2e-5, err_msg=name)


def test_laws() -> None:
    """Level: never lower with a higher level below or rougher ground. Energy: never lower with more flow.

    With the level below held, the level itself may fall as the flow rises where the flow is nearly critical, its
    velocity head growing faster than its energy; so it is with every section.
    """
    columns = random_reaches(3)
    before = states(columns)
    for name, change in {
        "level below": {8: columns[8] + 0.01, 9: columns[9] + 0.01},
        "roughness": {i: 1.02 * columns[i] for i in range(3)},
    }.items():
        after = states([change.get(i, column) for i, column in enumerate(columns)])
        assert np.min(after["level"] - before["level"]) > -1e-7, name
    more = states([1.01 * column if i == 7 else column for i, column in enumerate(columns)])
    assert np.min(more["energy"] - before["energy"]) > -1e-7


@pytest.mark.parametrize("method", range(len(METHODS)))
def test_the_level_rises_with_the_flow_from_the_normal_level_below(method: int) -> None:
    flow = np.linspace(1.0, 90.0, 400)
    full = np.full_like
    tail = [*(full(flow, n) for n in MANNING), full(flow, float(method)), full(flow, -0.1), full(flow, 0.002), flow]
    names = surveyed_rows.SurveyedNormal._fields
    level, energy, _, _ = run_rows(partial(surveyed_rows.surveyed_normal_levels, TABLE), tail, len(names), flow.size)
    reach = [*tail[:4], full(flow, 0.0), full(flow, 150.0), full(flow, 0.001), flow, level, energy]
    assert np.min(np.diff(states(reach)["level"])) > 0.0


def test_normal_levels_tell_of_another() -> None:
    columns = [
        *(np.full(2, n) for n in MANNING),
        np.array([1.0, 0.0]),
        np.zeros(2),
        np.full(2, 0.001),
        np.full(2, 15.0),
    ]
    level, energy, _, other = run_rows(partial(surveyed_rows.surveyed_normal_levels, TABLE), columns, 4, 2)
    assert level[0] == pytest.approx(1.61410, abs=1e-5)
    assert other[0] == pytest.approx(2.18561, abs=1e-5)
    assert other[1] == inf
    for i, method in enumerate((HORTON, SUBDIVIDED)):
        s = COMPOUND._replace(method=float(method))
        assert energy[i] == pytest.approx(surveyed.energy_level(s, 15.0, level[i]), abs=1e-12)


def test_no_flow_and_no_way() -> None:
    still = [np.array([n, n]) for n in MANNING]
    still += [
        np.zeros(2),
        np.zeros(2),
        np.full(2, 100.0),
        np.full(2, 0.005),
        np.array([0.0, 5.0]),
        np.array([2.0, inf]),
    ]
    found = states([*still, np.array([2.0, inf])])
    assert found["level"].tolist() == [2.0, inf]
    assert found["energy"].tolist() == [2.0, inf]
    assert found["velocity"].tolist() == [0.0, 0.0]
    dry = states([*(column[:1] for column in still[:-1]), np.array([-1.0]), np.array([-1.0])])
    assert dry["depth"].tolist() == [0.0]
