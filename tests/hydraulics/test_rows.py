"""The loops over samples: what they take from a column is what the formulas take."""

from __future__ import annotations

from math import inf
from typing import Any

import numpy as np
import pytest
from test_crossing import compiled, random_crossing

from overbank._jit import run_rows
from overbank.hydraulics import columns as columns_of
from overbank.hydraulics import crossing, profile, rows, uniform
from overbank.hydraulics import sections as sec
from overbank.hydraulics.columns import size

CHANNEL = sec.trapezoid(2.5, 1.5, 0.04)


def channel(length: float, bed: float, slope: float, flow: float, level: float, energy: float) -> dict[str, float]:
    columns = [*CHANNEL, length, bed, slope, flow, level, energy]
    table = run_rows(rows.channel_states, columns, len(rows.Reach._fields), 1)
    return dict(zip(rows.Reach._fields, table[:, 0], strict=True))


def named(parts: Any) -> dict[str, Any]:
    """A named tuple with all its parts as mappings, without what no column holds."""
    held = {name for name, _ in columns_of.parts(type(parts))}
    found = {name: getattr(parts, name) for name in held}
    return {name: named(value) if hasattr(value, "_fields") else value for name, value in found.items()}


def laid(b: crossing.Barrels, screen: crossing.Screen, road: crossing.Road, flow: float, tailwater: float) -> list[Any]:
    """The columns of a crossing without relief barrels."""
    parts = {"main": named(b), "relief": None, "screen": named(screen), "road": named(road)}
    return columns_of.columns(rows.CrossingRow, {**parts, "flow": flow, "tailwater": tailwater})


def counted(row: type, start: int = 1) -> Any:
    """A named tuple whose numbers are all different: 1, 2, 3 and so on in the order of its fields."""
    values: dict[str, Any] = {}
    for name, part in columns_of.parts(row):
        values[name] = float(start) if part is float else counted(part, start)
        start += 1 if part is float else size(part)
    return row(**values)


def test_what_is_handed_over_by_name_arrives_under_its_name() -> None:
    """Every number of a crossing, a crest and a bridge, laid out by name and unpacked by the compiled loops."""
    whole = counted(rows.CrossingRow)
    crossed = rows.crossing_row(np.array(columns_of.columns(rows.CrossingRow, named(whole))), None, None)
    assert crossed == whole
    weir = counted(rows.WeirRow)
    assert rows.crest_of(np.array(columns_of.columns(rows.WeirRow, named(weir))), None, None) == weir.crest
    bridge = counted(rows.BridgeRow)
    laid_out = np.array(columns_of.columns(rows.BridgeRow, named(bridge)))
    assert rows.bridge_row(laid_out, None, None) == bridge


@pytest.mark.parametrize("wrong", [{"wdith": 1.0}, {"width": None}])
def test_a_wrong_or_missing_name_fails_at_once(wrong: dict[str, Any]) -> None:
    numbers = {**named(CHANNEL), **wrong}
    kept = {name: value for name, value in numbers.items() if value is not None}
    with pytest.raises(TypeError, match=r"Section: expected the numbers .*; got "):
        columns_of.columns(sec.Section, kept)


def test_crossings() -> None:
    rng = np.random.default_rng(5)
    cases = [random_crossing(rng) for _ in range(50)]
    table = []
    for c, flow, tailwater in cases:
        b, screen, road = compiled(c)
        table.append(laid(b, screen, road, flow, tailwater))
    columns = np.array(table).T
    levels = run_rows(rows.crossing_levels, list(columns), 2, len(cases))[0]
    states = run_rows(rows.crossing_states, list(columns), len(crossing.Crossed._fields), len(cases))
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
    level, energy, _ = run_rows(rows.normal_levels, columns, 3, 1)[:, 0]
    y = uniform.normal_depth(CHANNEL, 6.0, 0.003)
    assert level == 29.9 + y
    assert energy == 29.9 + uniform.specific_energy(CHANNEL, 6.0, y)


def test_a_supercritical_tailwater_hands_on_no_more_energy_than_critical_flow() -> None:
    """Its own energy is high, but water upstream of it passes critical depth; it must fall as the slope falls."""
    energies = []
    for slope in (0.2, 0.1, 0.05, 0.02, 0.01):
        level, energy, _ = run_rows(rows.normal_levels, [*CHANNEL, 0.0, slope, 6.0], 3, 1)[:, 0]
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


@pytest.mark.parametrize("column", range(size(rows.CrossingRow)))
def test_a_missing_number_is_a_missing_level(column: int) -> None:
    """A nan compares false with everything, so it would otherwise pass as some plausible level."""
    c, flow, tailwater = random_crossing(np.random.default_rng(12))
    b, screen, road = compiled(c)
    columns = np.array([laid(b, screen, road, flow, tailwater)]).T.repeat(2, axis=1)
    columns[column, 0] = np.nan
    levels = run_rows(rows.crossing_levels, list(columns), 2, 2)[0]
    states = run_rows(rows.crossing_states, list(columns), len(crossing.Crossed._fields), 2)
    assert np.isnan(levels[0])
    assert np.isnan(states[:, 0]).all()
    assert np.isfinite(levels[1])


@pytest.mark.parametrize("column", range(size(rows.ReachRow)))
def test_a_missing_number_of_a_channel(column: int) -> None:
    columns = [*CHANNEL, 80.0, 30.1, 0.003, 6.0, 31.9, 31.9]
    columns[column] = np.nan
    assert np.isnan(run_rows(rows.channel_states, columns, len(rows.Reach._fields), 1)).all()
    if column < size(rows.NormalRow):
        columns = [*CHANNEL, 30.1, 0.003, 6.0]
        columns[column] = np.nan
        assert np.isnan(run_rows(rows.normal_levels, columns, 3, 1)).all()
