"""Floods in time against a brute-force solve in plain Python that shares no code, closed forms, and the laws."""

from __future__ import annotations

import math
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import gammainc, gammaln

from overbank.model import Model
from overbank.sampling import flood as floods
from overbank.sampling.crew import daylight
from overbank.sampling.flood import Draws, flood_of
from overbank.sampling.moments import crossed, time_over
from overbank.sampling.passage import Passage, capacities, passage
from overbank.study.flow import Flow
from trap import CREW, LAWFUL, NAME, PEAK, PLACE, SHAPE, Orifice, by_brute_force, some_floods

Array = NDArray[np.float64]

DEBRIS = {"rate_per_hour": 0.1}


def written(**tables: Any) -> Flow:
    return Flow.model_validate({"design_m3_s": 5.0, "hydrograph": SHAPE, **tables}, context={"folder": None})


def looks(size: int) -> Array:
    return np.random.default_rng(11).random(size)


def passed(
    flow: Flow, numbers: dict[str, Array], *, crew: bool = False, seed: int = 3, hour: float = 12.0
) -> tuple[floods.Flood, Passage]:
    size = len(numbers[PEAK])
    whole = {
        "flow.hydrograph.base_flow_m3_s": np.zeros(size),
        "flow.hydrograph.sharpness": np.full(size, 3.697),
        "flow.hydrograph.hours_to_peak": np.full(size, 3.0),
        "flow.debris.ceiling": np.ones(size),
        "flow.crew.fails_to_come": np.zeros(size),
        **numbers,
    }
    flood = flood_of(cast(Model, Orifice()), flow, cast(Any, whole), size)
    chance = Draws(np.full(size, 0.5), np.full(size, hour), looks(size), (seed,))
    return flood, passage(flood, PLACE, chance, np.arange(size), crew=crew)


@pytest.mark.parametrize("with_flow", [False, True])
@pytest.mark.parametrize("crew", [False, True])
def test_twenty_random_floods_are_those_of_a_brute_force_solve(*, crew: bool, with_flow: bool) -> None:
    """With a crew the moment of the call lies on a straight line between two steps; the orifice is steep, so that a
    hundredth of the time to peak is some per cent of the level."""
    numbers = some_floods()
    flow = written(debris={**DEBRIS, "grows_with": "flow" if with_flow else "time"}, crew=CREW)
    _, found = passed(flow, numbers, crew=crew)
    hours = time_over(found.times, found.levels - 3.0)
    rows = [
        by_brute_force({name: float(each[i]) for name, each in numbers.items()}, crew=crew, with_flow=with_flow)
        for i in range(20)
    ]
    highest, when, over = np.array(rows).T
    to_peak = numbers["flow.hydrograph.hours_to_peak"]
    assert np.max(np.abs(found.highest / highest - 1.0)) < (0.03 if crew else 0.002)
    assert np.max(np.abs(found.when - when) / to_peak) < 0.02
    assert np.max(np.abs(hours - over) / to_peak) < 0.01
    assert np.count_nonzero(over) > 8
    assert np.count_nonzero(when > 1.02 * to_peak) > 5


def test_what_is_blocked_follows_its_closed_form() -> None:
    """B = C - (C - B0) e^(-k t/C) in time; with the flow, t is the volume over the median flow (SciPy's gamma)."""
    numbers = {PEAK: np.array([4.0]), NAME: np.array([0.2]), "flow.debris.rate_per_hour": np.array([0.3])}
    numbers["flow.debris.ceiling"] = np.array([0.8])
    _, found = passed(written(debris=DEBRIS), numbers)
    np.testing.assert_allclose(found.blockage, 0.8 - 0.6 * np.exp(-0.3 * found.times / 0.8), rtol=1e-12)
    _, found = passed(written(debris={**DEBRIS, "grows_with": "flow"}), numbers)
    a = 3.697
    whole = math.exp(a - (a + 1.0) * math.log(a) + gammaln(a + 1.0))
    volume = 4.0 / 5.0 * 3.0 * whole * gammainc(a + 1.0, a * found.times / 3.0)
    np.testing.assert_allclose(found.blockage, 0.8 - 0.6 * np.exp(-0.3 * volume / 0.8), rtol=2e-5)


def test_without_debris_the_highest_level_is_the_steady_one_at_the_peak() -> None:
    numbers = {PEAK: np.linspace(1.0, 9.0, 9), NAME: np.full(9, 0.3), "flow.debris.rate_per_hour": np.zeros(9)}
    _, found = passed(written(debris=DEBRIS), numbers)
    np.testing.assert_allclose(found.highest, (numbers[PEAK] / 1.4) ** 2, rtol=1e-12)
    np.testing.assert_allclose(found.when, 3.0, rtol=1e-12)


def test_rafts_come_as_a_poisson_process() -> None:
    """Mean and variance of their number are both the mean number asked for (closed form); the same for any part."""
    chance = Draws(np.zeros(40_000), np.zeros(40_000), np.zeros(40_000), (5,))
    mean = np.array([0.5, 2.0])[:, None] * np.ones(40_000)
    count = chance.rafts(np.arange(40_000), mean)
    for row, asked in zip(count, (0.5, 2.0), strict=True):
        assert np.mean(row) == pytest.approx(asked, abs=4.0 * math.sqrt(asked / 40_000))
        assert np.var(row) == pytest.approx(asked, rel=0.05)
    part = np.array([17, 4, 30_000])
    np.testing.assert_array_equal(chance.rafts(part, mean[:, part]), count[:, part])


def test_a_flush_and_a_raft_close_a_share_of_what_is_open() -> None:
    """By hand: 1 - 0.9 x 0.75 once the flow has reached 4 of its 5 m3/s; every raft of 0.5 halves what is open."""
    numbers = {
        PEAK: np.array([5.0]),
        NAME: np.array([0.1]),
        "flow.debris.rate_per_hour": np.zeros(1),
        "flow.debris.first_flush": np.array([0.25]),
        "flow.debris.first_flush_flow_m3_s": np.array([4.0]),
    }
    _, found = passed(written(debris={**DEBRIS, "first_flush": 0.25, "first_flush_flow_m3_s": 4.0}), numbers)
    first = int(np.argmax(found.flows[:, 0] >= 4.0))
    np.testing.assert_allclose(found.blockage[:first, 0], 0.1, rtol=1e-12)
    np.testing.assert_allclose(found.blockage[first:, 0], 1.0 - 0.9 * 0.75, rtol=1e-12)
    rafts = {**numbers, "flow.debris.arrivals_per_hour": np.ones(1), "flow.debris.arrival_share": np.array([0.5])}
    _, found = passed(written(debris={**DEBRIS, "arrivals_per_hour": 1.0, "arrival_share": 0.5}), rafts)
    halves = np.log2(0.9 / (1.0 - found.blockage[:, 0]))
    np.testing.assert_allclose(halves, np.round(halves), atol=1e-9)
    assert halves[-1] >= 1.0


def no_lower(after: Passage, before: Passage) -> bool:
    """Every level at the ends of the steps; the highest in between is found to 2 in a thousand."""
    at_steps = bool(np.all(after.levels >= before.levels - 1e-9))
    return at_steps and bool(np.all(after.highest >= before.highest * (1.0 - 2e-3)))


@pytest.mark.parametrize("name", LAWFUL)
@pytest.mark.parametrize("grows", ["time", "flow"])
def test_the_highest_level_never_falls_without_a_crew(name: str, grows: str) -> None:
    numbers = some_floods(200)
    numbers["flow.debris.arrivals_per_hour"] = np.full(200, 0.1)
    numbers["flow.debris.arrival_share"] = np.full(200, 0.2)
    numbers["flow.debris.first_flush"] = np.full(200, 0.1)
    numbers["flow.debris.first_flush_flow_m3_s"] = np.full(200, 4.0)
    more = {"arrivals_per_hour": 0.1, "arrival_share": 0.2, "first_flush": 0.1, "first_flush_flow_m3_s": 4.0}
    flow = written(debris={**DEBRIS, **more, "grows_with": grows})
    before = passed(flow, numbers)[1]
    for factor in (1.02, 1.3):
        after = passed(flow, {**numbers, name: numbers[name] * factor})[1]
        assert no_lower(after, before)
        before = after


@pytest.mark.parametrize("grows", ["time", "flow"])
def test_the_highest_level_from_fewer_runs_is_that_of_all_steps(grows: str) -> None:
    """To the last bit, for the orifice's level never falls with flow or debris; from a third of its runs."""
    numbers = {**some_floods(200), "flow.debris.arrivals_per_hour": np.full(200, 0.1)}
    numbers["flow.debris.arrival_share"] = np.full(200, 0.2)
    debris = {**DEBRIS, "arrivals_per_hour": 0.1, "arrival_share": 0.2, "grows_with": grows}
    flood, found = passed(written(debris=debris), numbers)
    chance = Draws(np.full(200, 0.5), np.full(200, 12.0), looks(200), (3,))
    bank = np.quantile(found.highest, 0.7)
    alone = passage(flood, PLACE, chance, np.arange(200), crew=False, told_above=bank)
    for name in ("highest", "when", "blocked", "blockage"):
        np.testing.assert_array_equal(getattr(alone, name), getattr(found, name))
    over = found.highest > bank
    np.testing.assert_array_equal(alone.levels[:, over], found.levels[:, over])
    assert np.isneginf(alone.levels[0, ~over]).all()
    np.testing.assert_array_equal(*(time_over(each.times, each.levels - bank) for each in (alone, found)))
    assert np.count_nonzero(found.when > 1.05 * numbers["flow.hydrograph.hours_to_peak"]) > 50


def test_a_climate_to_come_multiplies_the_whole_flood() -> None:
    """A factor of 1.2 is the flood with 1.2 times its peak and its base flow, debris of its volume and all."""
    numbers = some_floods()
    flow = written(debris={**DEBRIS, "grows_with": "flow"})
    found = passed(flow, {**numbers, "flow.climate_factor": np.full(20, 1.2)})[1]
    larger = {name: 1.2 * numbers[name] for name in (PEAK, "flow.hydrograph.base_flow_m3_s")}
    expected = passed(flow, {**numbers, **larger})[1]
    np.testing.assert_allclose(found.flows, expected.flows, rtol=1e-12)
    np.testing.assert_allclose(found.blockage, expected.blockage, rtol=1e-12)
    np.testing.assert_allclose(found.highest, expected.highest, rtol=1e-12)


def test_a_crew_that_comes_later_never_lowers_the_water() -> None:
    numbers = some_floods(200)
    flow = written(debris=DEBRIS, crew=CREW)
    before = passed(flow, numbers, crew=True)[1]
    for later in (0.5, 1.0, 2.0, 50.0):
        delayed = {**numbers, "flow.crew.travel_hours": numbers["flow.crew.travel_hours"] + later}
        after = passed(flow, delayed, crew=True)[1]
        assert no_lower(after, before)
        before = after
    np.testing.assert_array_equal(before.highest, passed(flow, numbers)[1].highest)


def test_a_crew_works_only_when_and_where_it_may() -> None:
    """One that fails to come, one at night and one whose water stands too high all change nothing."""
    numbers = some_floods()
    alone = passed(written(debris=DEBRIS), numbers)[1].highest
    fails = {**numbers, "flow.crew.fails_to_come": np.full(20, 0.9)}
    np.testing.assert_array_equal(passed(written(debris=DEBRIS, crew=CREW), fails, crew=True)[1].highest, alone)
    never = {**numbers, "flow.crew.not_above_m": np.full(20, -1.0)}
    high = written(debris=DEBRIS, crew={**CREW, "not_above_m": -1.0})
    np.testing.assert_array_equal(passed(high, never, crew=True)[1].highest, alone)
    short = {**numbers, "flow.hydrograph.hours_to_peak": np.full(20, 0.5)}
    night = written(debris=DEBRIS, crew={**CREW, "daylight_hours": [11.0, 13.0]})
    dark = passed(night, short, crew=True, hour=0.0)[1].highest
    np.testing.assert_array_equal(dark, passed(written(debris=DEBRIS), short)[1].highest)


def test_a_forecast_calls_the_crew_before_the_peak() -> None:
    numbers = {**some_floods(), "flow.crew.called_hours_before_peak": np.full(20, 2.0)}
    del numbers["flow.crew.call_level_m"]
    crew = {"called_hours_before_peak": 2.0, "travel_hours": 1.0, "clears_per_hour": 0.1}
    flood, found = passed(written(debris=DEBRIS, crew=crew), numbers, crew=True)
    to_peak = numbers["flow.hydrograph.hours_to_peak"]
    np.testing.assert_allclose(found.called, np.maximum(to_peak - 2.0, 0.0), rtol=1e-12)
    np.testing.assert_allclose(found.at_work, found.called + numbers["flow.crew.travel_hours"], rtol=1e-12)
    assert no_lower(passed(written(debris=DEBRIS), numbers)[1], found)
    assert flood.size == 20


def test_a_rise_calls_the_crew() -> None:
    """Against the rise of the level between a hundred thousand moments; the steps are a sixteenth of the rise apart."""
    numbers = {**some_floods(), "flow.debris.rate_per_hour": np.zeros(20)}
    asked = numbers["flow.crew.call_rise_m_per_hour"] = np.linspace(0.05, 3.0, 20)
    del numbers["flow.crew.call_level_m"]
    crew = {"call_rise_m_per_hour": 1.0, "travel_hours": 1.0, "clears_per_hour": 0.1}
    _, found = passed(written(debris=DEBRIS, crew=crew), numbers, crew=True)
    to_peak, base = numbers["flow.hydrograph.hours_to_peak"], numbers["flow.hydrograph.base_flow_m3_s"]
    times = np.linspace(0.0, 1.0, 100_001)[:, None] * to_peak
    x = times / to_peak
    flows = base + (numbers[PEAK] - base) * (x * np.exp(1.0 - x)) ** numbers["flow.hydrograph.sharpness"]
    rises = np.diff((flows / (2.0 * (1.0 - numbers[NAME]))) ** 2, axis=0) / np.diff(times, axis=0)
    called = np.where((rises >= asked).any(axis=0), times[np.argmax(rises >= asked, axis=0), np.arange(20)], np.inf)
    heard = np.isfinite(called) & np.isfinite(found.called)
    assert np.count_nonzero(heard) > 12
    late = (found.called[heard] - called[heard]) / to_peak[heard]
    assert np.all((late > -0.02) & (late < 1.0 / 16.0))
    assert np.count_nonzero(np.isfinite(called) != np.isfinite(found.called)) <= 1


def test_a_crew_keeps_out_of_swift_water(monkeypatch: pytest.MonkeyPatch) -> None:
    """With an area of a metre by the level: at no velocity it does nothing, at any all that it would do."""
    monkeypatch.setattr(floods.Flood, "section_of", lambda _self, _place: lambda level, _chosen: level)
    numbers = some_floods()
    alone, helped = (passed(written(debris=DEBRIS, crew=CREW), numbers, crew=crew)[1] for crew in (False, True))
    swift = written(debris=DEBRIS, crew={**CREW, "not_above_m_s": 1.0})
    never = passed(swift, {**numbers, "flow.crew.not_above_m_s": np.zeros(20)}, crew=True)[1]
    always = passed(swift, {**numbers, "flow.crew.not_above_m_s": np.full(20, 1e9)}, crew=True)[1]
    np.testing.assert_array_equal(never.highest, alone.highest)
    np.testing.assert_array_equal(always.highest, helped.highest)
    assert np.any(helped.highest < alone.highest)


def test_hours_of_daylight_are_counted_by_hand() -> None:
    asked = ((8.0, 10.0, 2.0), (5.0, 8.0, 1.0), (16.0, 26.0, 1.0), (-20.0, 20.0, 20.0), (18.0, 23.0, 0.0))
    for start, end, hours in asked:
        assert daylight(np.array([start]), np.array([end]), (7.0, 17.0))[0] == pytest.approx(hours, abs=1e-12)


def test_times_over_the_bank_by_hand() -> None:
    times = np.array([[0.0], [1.0], [2.0], [3.0]])
    assert crossed(times, np.array([[-1.0], [1.0], [2.0], [-2.0]]))[0] == pytest.approx(0.5, abs=1e-12)
    assert time_over(times, np.array([[-1.0], [1.0], [2.0], [-2.0]]))[0] == pytest.approx(2.0, abs=1e-12)
    assert np.isinf(crossed(times, np.full((4, 1), -1.0))[0])
    assert time_over(times, np.full((4, 1), np.inf))[0] == pytest.approx(3.0, abs=1e-12)


def test_capacities_are_those_of_the_orifice() -> None:
    """q* = 2 (1 - b) sqrt(bank), closed form."""
    numbers = {PEAK: np.linspace(5.0, 9.0, 9), NAME: np.linspace(0.0, 0.6, 9)}
    flood, _ = passed(written(), numbers)
    found = capacities(flood, numbers, np.arange(9), np.full(9, 2.0))
    np.testing.assert_allclose(found, 2.0 * (1.0 - numbers[NAME]) * math.sqrt(2.0), rtol=2e-4)


def test_time_scales_as_froude_says() -> None:
    """Every hour twice as long and every rate half as large: the same levels at twice the times."""
    numbers = some_floods()
    twice = dict(numbers)
    for name in numbers:
        factor = 2.0 if name.endswith(("hours_to_peak", "travel_hours")) else 0.5 if name.endswith("_per_hour") else 1.0
        twice[name] = factor * numbers[name]
    flow = written(debris=DEBRIS, crew=CREW)
    one, other = (passed(flow, each, crew=True)[1] for each in (numbers, twice))
    np.testing.assert_allclose(other.highest, one.highest, rtol=1e-12)
    np.testing.assert_allclose(other.when, 2.0 * one.when, rtol=1e-12)


@pytest.mark.parametrize(("crew", "agree"), [(False, 2e-4), (True, 0.03)])
def test_halving_the_steps_changes_little(monkeypatch: pytest.MonkeyPatch, *, crew: bool, agree: float) -> None:
    numbers, flow = some_floods(200), written(debris=DEBRIS, crew=CREW)
    before = passed(flow, numbers, crew=crew)[1].highest
    monkeypatch.setattr(floods, "RISING", 2 * floods.RISING)
    monkeypatch.setattr(floods, "FALLING", 2 * floods.FALLING)
    after = passed(flow, numbers, crew=crew)[1].highest
    assert np.max(np.abs(after / before - 1.0)) < agree


def test_somebody_who_looks_every_so_often_calls_at_a_look() -> None:
    """Without telemetry: the first look at which the level stands so high, against the level at every look;
    where the level stands above it from the beginning, the first look of all (closed form)."""
    numbers = {**some_floods(60), "flow.debris.rate_per_hour": np.zeros(60)}
    every = numbers["flow.crew.seen_every_hours"] = np.linspace(0.3, 6.0, 60)
    crew = {**CREW, "seen_every_hours": 1.0}
    _, found = passed(written(debris=DEBRIS, crew=crew), numbers, crew=True)
    to_peak, base = numbers["flow.hydrograph.hours_to_peak"], numbers["flow.hydrograph.base_flow_m3_s"]
    called = np.full(60, np.inf)
    for i in range(60):
        hours = np.arange(looks(60)[i] * every[i], found.times[-1, i], every[i])
        x = hours / to_peak[i]
        flows = (
            base[i] + (numbers[PEAK][i] - base[i]) * (x * np.exp(1.0 - x)) ** numbers["flow.hydrograph.sharpness"][i]
        )
        high = (flows / (2.0 * (1.0 - numbers[NAME][i]))) ** 2 >= numbers["flow.crew.call_level_m"][i]
        called[i] = hours[np.argmax(high)] if high.any() else np.inf
    alike = np.isclose(found.called, called, rtol=1e-9) | (np.isinf(called) & np.isinf(found.called))
    assert np.count_nonzero(~alike) <= 2  # a look between the true crossing and that of the straight line
    assert np.count_nonzero(np.isfinite(called)) > 30
    always = {**numbers, "flow.crew.call_level_m": np.full(60, -1.0)}
    _, seen = passed(written(debris=DEBRIS, crew=crew), always, crew=True)
    first = every * looks(60)
    inside = first < seen.times[-1]
    np.testing.assert_allclose(seen.called[inside], first[inside], rtol=1e-12)
