"""The loops over samples: what they take from a column is what the formulas take."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from test_crossing import compiled, random_crossing

from overbank._jit import run_rows
from overbank.hydraulics import crossing, profile, rows, uniform
from overbank.hydraulics import sections as sec

CHANNEL = sec.trapezoid(2.5, 1.5, 0.04)


def channel(length: float, bed: float, slope: float, flow: float, level: float, energy: float) -> dict[str, float]:
    columns = [*CHANNEL, length, bed, slope, flow, level, energy]
    table = run_rows(rows.channel_states, columns, len(rows.CHANNEL_RESULTS), 1)
    return dict(zip(rows.CHANNEL_RESULTS, table[:, 0], strict=True))


def test_crossings() -> None:
    rng = np.random.default_rng(5)
    cases = [random_crossing(rng) for _ in range(50)]
    table = []
    for c, flow, tailwater in cases:
        b, screen, road = compiled(c)
        table.append([*[0.0] * rows.MAIN_AT, *b.section, *b.row, *b[2:-3], *screen, *road, flow, tailwater])
    columns = np.array(table).T
    assert len(columns) == rows.CROSSING_COLUMNS
    levels = run_rows(rows.crossing_levels, list(columns), 1, len(cases))[0]
    states = run_rows(rows.crossing_states, list(columns), len(rows.CROSSING_RESULTS), len(cases))
    for i, (c, flow, tailwater) in enumerate(cases):
        expected = crossing.crossed(*compiled(c), flow, tailwater)
        np.testing.assert_array_equal(states[:, i], expected)
        assert levels[i] == expected.level


def test_channel() -> None:
    state = channel(80.0, 30.1, 0.003, 6.0, 31.9, 31.9)
    depth = profile.depth_upstream(CHANNEL, 6.0, 0.003, 80.0, 31.9 - 30.1)
    assert state["depth"] == depth
    assert state["level"] == pytest.approx(30.1 + 0.24 + depth, rel=1e-14)
    velocity = 6.0 / sec.area(CHANNEL, depth)
    assert state["velocity"] == pytest.approx(velocity, rel=1e-14)
    assert state["energy"] == pytest.approx(state["level"] + velocity**2 / 19.62, rel=1e-12)
    assert state["steep"] == 0.0
    assert state["depth_below"] == pytest.approx(1.8)
    assert channel(80.0, 30.1, 0.05, 6.0, 31.0, 31.0)["steep"] == 1.0


def test_a_channel_takes_over_the_level_or_the_energy_whichever_stands_higher() -> None:
    """From a pool (level = energy) the level; from a faster reach the depth of equal energy; never below critical."""
    critical = uniform.critical_depth(CHANNEL, 6.0)
    assert channel(1e-9, 30.0, 0.003, 6.0, 31.5, 31.5)["depth_below"] == pytest.approx(1.5)
    faster = channel(1e-9, 30.0, 0.003, 6.0, 31.5, 31.9)["depth_below"]
    assert faster + (6.0 / sec.area(CHANNEL, faster)) ** 2 / 19.62 == pytest.approx(1.9, abs=1e-9)
    assert channel(1e-9, 30.0, 0.003, 6.0, 29.0, 29.5)["depth_below"] == critical


def test_normal_depth_below() -> None:
    columns = [*CHANNEL, 29.9, 0.003, 6.0]
    level, energy = run_rows(rows.normal_levels, columns, 2, 1)[:, 0]
    y = uniform.normal_depth(CHANNEL, 6.0, 0.003)
    assert level == 29.9 + y
    assert energy == 29.9 + uniform.specific_energy(CHANNEL, 6.0, y)


def test_a_supercritical_tailwater_hands_on_no_more_energy_than_critical_flow() -> None:
    """Its own energy is high, but water upstream of it passes critical depth; it must fall as the slope falls."""
    energies = []
    for slope in (0.2, 0.1, 0.05, 0.02, 0.01):
        level, energy = run_rows(rows.normal_levels, [*CHANNEL, 0.0, slope, 6.0], 2, 1)[:, 0]
        assert level == uniform.normal_depth(CHANNEL, 6.0, slope)
        energies.append(energy)
    assert energies[0] == uniform.critical_energy(CHANNEL, 6.0)
    assert np.all(np.diff(energies) >= 0)


def test_water_without_end_and_no_water() -> None:
    assert channel(80.0, 30.1, 0.003, 6.0, inf, inf)["level"] == inf
    still = channel(80.0, 30.1, 0.003, 0.0, 31.9, 31.9)
    assert still["level"] == pytest.approx(31.9)
    assert still["velocity"] == 0.0
    dry = channel(80.0, 30.1, 0.003, 0.0, 29.0, 29.0)
    assert dry["level"] == pytest.approx(30.34)
    assert not any(np.isnan(list(still.values())))
    assert not any(np.isnan(list(dry.values())))


@pytest.mark.parametrize("column", range(rows.CROSSING_COLUMNS))
def test_a_missing_number_is_a_missing_level(column: int) -> None:
    """A nan compares false with everything, so it would otherwise pass as some plausible level."""
    c, flow, tailwater = random_crossing(np.random.default_rng(12))
    b, screen, road = compiled(c)
    numbers = [*[0.0] * rows.MAIN_AT, *b.section, *b.row, *b[2:-3], *screen, *road, flow, tailwater]
    columns = np.array([numbers]).T.repeat(2, axis=1)
    columns[column, 0] = np.nan
    levels = run_rows(rows.crossing_levels, list(columns), 1, 2)[0]
    states = run_rows(rows.crossing_states, list(columns), len(rows.CROSSING_RESULTS), 2)
    assert np.isnan(levels[0])
    assert np.isnan(states[:, 0]).all()
    assert np.isfinite(levels[1])


@pytest.mark.parametrize("column", range(rows.CHANNEL_COLUMNS))
def test_a_missing_number_of_a_channel(column: int) -> None:
    columns = [*CHANNEL, 80.0, 30.1, 0.003, 6.0, 31.9, 31.9]
    columns[column] = np.nan
    assert np.isnan(run_rows(rows.channel_states, columns, len(rows.CHANNEL_RESULTS), 1)).all()
    if column < rows.NORMAL_COLUMNS:
        columns = [*CHANNEL, 30.1, 0.003, 6.0]
        columns[column] = np.nan
        assert np.isnan(run_rows(rows.normal_levels, columns, 2, 1)).all()
