"""Floods that fill a pool: against a brute-force solve in plain Python, the limits, the water balance and the laws."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from overbank.model import Model
from overbank.sampling import flood as floods
from overbank.sampling.flood import HOUR, Draws, Place, flood_of
from overbank.sampling.passage import Passage, passage
from overbank.study.flow import Flow
from overbank.study.reading.folder import Folder
from trap import CREW, LAWFUL, NAME, PEAK, SHAPE, Orifice, by_brute_force, some_floods

Array = NDArray[np.float64]
TABLE = "level_m,area_m2\n0,500\n2,4000\n6,4000\n"
POOL = "flow.pool.factor"


def flow_of(folder: Path, **tables: Any) -> Flow:
    (folder / "pool.csv").write_text(TABLE, encoding="utf-8")
    whole = {
        "design_m3_s": 5.0,
        "hydrograph": SHAPE,
        "debris": {"rate_per_hour": 0.1, "grows_with": "flow"},
        "crew": CREW,
        "pool": {"table": "pool.csv"},
    }
    return Flow.model_validate({**whole, **tables}, context={"folder": Folder(folder)})


def passed(flow: Flow, numbers: dict[str, Array], *, crew: bool = False, pool: bool = True) -> Passage:
    size = len(numbers[PEAK])
    whole = {"flow.crew.fails_to_come": np.zeros(size), POOL: np.ones(size), **numbers}
    flood = flood_of(cast(Model, Orifice()), flow, cast(Any, whole), size)
    chance = Draws(np.full(size, 0.5), np.full(size, 12.0), np.zeros(size), (3,))
    return passage(flood, Place("trap", NAME), chance, np.arange(size) % 30, crew=crew, pool=pool)


def volume(level: Array | float) -> Array:
    """Of the table, by hand: 500 h + 875 h^2 up to 2 m, 4500 + 4000 (h - 2) above."""
    low = np.minimum(level, 2.0)
    return np.asarray(500.0 * low + 875.0 * low**2 + 4000.0 * np.maximum(np.asarray(level) - 2.0, 0.0))


def depth(stored: float) -> float:
    if stored > 4500.0:
        return 2.0 + (stored - 4500.0) / 4000.0
    return (-500.0 + math.sqrt(250_000.0 + 3500.0 * max(stored, 0.0))) / 1750.0


def by_small_steps(n: dict[str, float], *, crew: bool, steps: int = 12_000) -> tuple[float, float]:
    """Highest level and its time: explicit steps of what is stored, in plain Python."""
    peak, base, to_peak = n[PEAK], n["flow.hydrograph.base_flow_m3_s"], n["flow.hydrograph.hours_to_peak"]
    sharp, blocked, arrives = n["flow.hydrograph.sharpness"], n[NAME], math.inf
    step = 8.0 * to_peak / steps
    stored = float(volume((base / (2.0 * (1.0 - blocked))) ** 2))
    highest, when = -1.0, 0.0
    for k in range(steps):
        time = k * step
        x = time / to_peak
        share = (x * math.exp(1.0 - x)) ** sharp
        inflow, level = base + (peak - base) * share, depth(stored)
        if level > highest:
            highest, when = level, time
        if crew and level >= n["flow.crew.call_level_m"] and math.isinf(arrives):
            arrives = time + n["flow.crew.travel_hours"]
        stored += 3600.0 * step * (inflow - 2.0 * (1.0 - blocked) * math.sqrt(level))
        if x <= 1.0 or share >= 0.01:
            room = max(1.0 - blocked / n["flow.debris.ceiling"], 0.0)
            blocked += step * n["flow.debris.rate_per_hour"] * room * inflow / 5.0
        if time >= arrives:
            blocked = max(blocked - step * n["flow.crew.clears_per_hour"], 0.0)
    return highest, when


@pytest.mark.parametrize(("crew", "agree"), [(False, 0.003), pytest.param(True, 0.03, marks=pytest.mark.slow)])
def test_twenty_random_floods_are_those_of_a_brute_force_solve(tmp_path: Path, *, crew: bool, agree: float) -> None:
    numbers = some_floods()
    found = passed(flow_of(tmp_path), numbers, crew=crew)
    rows = [by_small_steps({name: float(each[i]) for name, each in numbers.items()}, crew=crew) for i in range(20)]
    highest, when = np.array(rows).T
    dry = [
        by_brute_force({k: float(v[i]) for k, v in numbers.items()}, crew=crew, with_flow=True)[0] for i in range(20)
    ]
    assert np.max(np.abs(found.highest / highest - 1.0)) < agree
    assert np.max(np.abs(found.when - when) / numbers["flow.hydrograph.hours_to_peak"]) < 0.04
    assert np.max(highest / np.array(dry)) < 1.0 + agree
    assert np.min(highest / np.array(dry)) < 0.9


@pytest.mark.parametrize("crew", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_no_storage_is_the_steady_level_of_every_moment(tmp_path: Path, *, crew: bool) -> None:
    numbers, flow = some_floods(30), flow_of(tmp_path)
    nothing = passed(flow, {**numbers, POOL: np.zeros(30)}, crew=crew)
    steady = passed(flow, numbers, crew=crew, pool=False)
    rows = len(steady.levels)
    np.testing.assert_allclose(nothing.levels[:rows], steady.levels, rtol=1e-6, atol=1e-7)
    np.testing.assert_allclose(nothing.highest, steady.highest, rtol=1e-6)
    little = passed(flow, {**numbers, POOL: np.full(30, 1e-4)}, crew=crew)
    np.testing.assert_allclose(little.highest, steady.highest, rtol=2e-3)


def test_an_endless_pool_does_not_move(tmp_path: Path) -> None:
    numbers = {**some_floods(30), POOL: np.full(30, 1e9)}
    found = passed(flow_of(tmp_path), numbers)
    np.testing.assert_allclose(found.levels, found.levels[:1] * np.ones((len(found.levels), 1)), atol=1e-4)


def test_water_that_comes_goes_out_or_stays(tmp_path: Path) -> None:
    """By the rule of the steps to 1e-6 of the flood; by trapezia of the flows at the steps to 2 %."""
    found = passed(flow_of(tmp_path), some_floods(30))
    assert np.max(found.missing) < 1e-6
    rise = volume(found.levels[-1]) - volume(found.levels[0])
    steps = np.diff(found.times, axis=0)
    went = HOUR * np.sum(steps * 0.5 * (found.flows[1:] + found.flows[:-1]), axis=0)
    numbers = some_floods(30)
    fine = np.linspace(0.0, found.times[-1], 20_001)
    x = fine / numbers["flow.hydrograph.hours_to_peak"]
    base = numbers["flow.hydrograph.base_flow_m3_s"]
    inflow = base + (numbers[PEAK] - base) * (x * np.exp(1.0 - x)) ** numbers["flow.hydrograph.sharpness"]
    came = HOUR * np.trapezoid(inflow, fine, axis=0)
    np.testing.assert_allclose(went + rise, came, rtol=0.02)


def test_halving_the_steps_changes_next_to_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    numbers, flow = some_floods(30), flow_of(tmp_path)
    before = passed(flow, numbers).highest
    for name in ("RISING", "FALLING", "DRAINED"):
        monkeypatch.setattr(floods, name, 2 * getattr(floods, name))
    assert np.max(np.abs(passed(flow, numbers).highest - before)) < 2e-3


def stacked(*tables: dict[str, Array]) -> dict[str, Array]:
    """Several tables of numbers below each other."""
    return {name: np.concatenate([table[name] for table in tables]) for name in tables[0]}


def highest_of(found: Passage, tables: int) -> Array:
    return found.highest.reshape(tables, -1)


def test_the_highest_level_never_falls_and_never_rises_with_storage(tmp_path: Path) -> None:
    """To a thousandth of the level, which the orifice's square makes of a thousandth and a half of the flow."""
    base = {**some_floods(30), "flow.debris.arrivals_per_hour": np.full(30, 0.1), POOL: np.ones(30)}
    base["flow.debris.arrival_share"] = np.full(30, 0.2)
    debris = {"rate_per_hour": 0.1, "grows_with": "flow", "arrivals_per_hour": 0.1, "arrival_share": 0.2}
    pools = [{**base, POOL: np.full(30, factor)} for factor in (0.0, 0.3, 3.0, 10.0)]
    risen = [{**base, name: 1.2 * base[name]} for name in LAWFUL]
    found = highest_of(passed(flow_of(tmp_path, debris=debris), stacked(base, *pools, *risen)), 10)
    none, third, three, ten = found[1:5]
    for smaller, larger in pairwise((none, third, found[0], three, ten)):
        assert np.all(larger <= smaller * 1.001)
    for name, after in zip(LAWFUL, found[5:], strict=True):
        assert np.all(after >= found[0] * 0.999), name


@pytest.mark.slow
def test_a_crew_that_comes_later_never_lowers_the_water(tmp_path: Path) -> None:
    base = some_floods(30)
    travel = "flow.crew.travel_hours"
    later = [{**base, travel: base[travel] + hours} for hours in (0.0, 1.0, 50.0)]
    flow = flow_of(tmp_path)
    found = highest_of(passed(flow, stacked(*later), crew=True), 3)
    for early, late in pairwise(found):
        assert np.all(late >= early * 0.998)
    np.testing.assert_allclose(found[-1], passed(flow, base).highest, rtol=1e-3)
