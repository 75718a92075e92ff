"""Level-pool routing against closed forms, a published table and an independent solve, and its water balance."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from overbank.hydraulics.pools import TablePool, of_areas
from overbank.sampling import routing
from overbank.sampling.routing import Moment, Routing, State

Array = NDArray[np.float64]
ONE = np.arange(1)


def pond(area: float, floor: float = 0.0) -> TablePool:
    """Vertical walls."""
    return TablePool(of_areas(np.array([floor, floor + 1.0]), np.array([area, area])), np.full(1, floor))


def routed(
    pool: TablePool, rating: Callable[[Array], Array], begin: tuple[float, float], hours: Array, inflow: list[float]
) -> tuple[Array, Array, float]:
    """Levels and outflows at some hours from (level, outflow), inflow by straight lines, and all that went out."""
    model = Routing(pool, lambda flow, _share, _chosen: rating(flow))

    def at(time: Array, _chosen: NDArray[np.intp]) -> Moment:
        return Moment(np.interp(time, hours, inflow), np.zeros_like(time))

    level = np.array([begin[0]])
    state = State(pool.volume(level, ONE), np.array([begin[1]]), level, *np.zeros((4, 1)))
    states = [state]
    for start, end in pairwise(hours):
        state = model.advance(state, np.array([start]), np.array([end]), ONE, at)
        states.append(state)
    return np.array([s.level[0] for s in states]), np.array([s.outflow[0] for s in states]), float(state.gone[0])


@pytest.fixture
def fine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Far smaller errors than a run asks for."""
    monkeypatch.setattr(routing, "TOLERANCE", 1e-8)
    monkeypatch.setattr(routing, "PARTS", (1, 2, 4, 8, 16, 32, 64, 128))
    monkeypatch.setattr(routing, "ROOT_M", 1e-12)
    monkeypatch.setattr(routing, "ROOT_SHARE", 1e-12)


@pytest.mark.usefixtures("fine")
def test_a_tank_over_a_weir_is_the_closed_form() -> None:
    """h = (h0^-1/2 + c t/(2A))^-2: 0.235564 m."""
    hours = np.linspace(0.0, 0.5, 17)
    levels, _, gone = routed(pond(4000.0), lambda q: (q / 5.1) ** (2.0 / 3.0), (1.2, 5.1 * 1.2**1.5), hours, [0.0] * 17)
    assert levels[-1] == pytest.approx((1.2**-0.5 + 5.1 * 1800.0 / 8000.0) ** -2, abs=1.5e-6)
    assert levels[-1] == pytest.approx(0.235564, abs=2e-6)
    assert gone == pytest.approx(4000.0 * (1.2 - levels[-1]), rel=1e-6)


@pytest.mark.usefixtures("fine")
def test_time_goes_with_the_root_of_the_length() -> None:
    """Froude: all lengths nine times, time three times, flow 243 times; the weir nine times as long."""
    hours = np.linspace(0.0, 2.0, 17)
    inflow = np.interp(hours, [0.0, 0.5, 2.0], [1.0, 6.0, 1.0])
    here, _, gone = routed(pond(4000.0), lambda q: (q / 5.1) ** (2.0 / 3.0), (0.2, 5.1 * 0.2**1.5), hours, list(inflow))
    there, _, went = routed(
        pond(4000.0 * 81.0),
        lambda q: (q / 45.9) ** (2.0 / 3.0),
        (1.8, 45.9 * 1.8**1.5),
        3.0 * hours,
        list(243.0 * inflow),
    )
    np.testing.assert_allclose(there / 9.0, here, rtol=1e-6)
    assert went / gone == pytest.approx(729.0, rel=1e-6)
    assert 0.3 < here.max() < 1.1


@pytest.mark.usefixtures("fine")
def test_a_tank_through_an_orifice_is_the_closed_form() -> None:
    """sqrt(h) falls linearly: 0.634345 m with g = 9.81 m/s2."""
    hours, k = np.linspace(0.0, 0.5, 17), 0.6 * 0.5 * math.sqrt(2.0 * 9.81)
    levels, _, _ = routed(pond(4000.0), lambda q: (q / k) ** 2, (1.2, k * math.sqrt(1.2)), hours, [0.0] * 17)
    assert levels[-1] == pytest.approx(0.634345, abs=3e-6)
    assert levels[-1] == pytest.approx((math.sqrt(1.2) - k * 1800.0 / 8000.0) ** 2, abs=2e-6)


@pytest.mark.usefixtures("fine")
def test_a_flap_that_the_water_outside_shuts_is_the_closed_form() -> None:
    """Outside at 3.0, inside from 2.0: nothing goes out until the pool has risen to it, then a linear reservoir.

    4000 m2 and 2 m3/s: to 3.0 in 2000 s, then q = I (1 - exp(-(t - 2000)/(A c))) with the level 3.0 + c q.
    """
    hours, c = np.linspace(0.0, 2.0, 73), 0.15
    levels, out, gone = routed(pond(4000.0), lambda q: 3.0 + c * q, (2.0, 0.0), hours, [2.0] * 73)
    seconds = 3600.0 * hours
    after = np.maximum(seconds - 2000.0, 0.0)
    flow = 2.0 * (1.0 - np.exp(-after / (4000.0 * c)))
    expected = np.where(seconds <= 2000.0, 2.0 + 2.0 * seconds / 4000.0, 3.0 + c * flow)
    np.testing.assert_allclose(levels, expected, atol=2e-3)
    np.testing.assert_allclose(out[-1], flow[-1], rtol=1e-4)
    assert np.all(out[seconds < 1990.0] == 0.0)
    assert gone == pytest.approx(2.0 * 7200.0 - 4000.0 * (levels[-1] - 2.0), rel=1e-6)


def test_a_pool_begins_low_only_behind_a_shut_flap() -> None:
    """The lower of what is held and the steady level, with nothing going out where it is held."""
    pool = TablePool(of_areas(np.array([0.0, 1.0]), np.array([100.0, 100.0])), np.zeros(3))
    model = Routing(pool, lambda flow, _share, _chosen: 3.0 + flow, np.array([2.5, 3.2, 9.0]))
    began = model.begin(Moment(np.ones(3), np.zeros(3)), np.arange(3))
    np.testing.assert_allclose(began.level, [2.5, 3.2, 4.0])
    np.testing.assert_allclose(began.outflow, [0.0, 0.0, 1.0])
    np.testing.assert_allclose(began.stored, [250.0, 320.0, 400.0])


@pytest.mark.usefixtures("fine")
def test_a_linear_reservoir_is_the_closed_form_and_peaks_on_the_falling_inflow() -> None:
    """O = S/K, inflow rising as m t from nothing: O = m (t - K + K e^(-t/K)); falling by the same formula once more."""
    storage_hours, slope, to_peak, end = 1.5, 2.0, 3.0, 9.0
    hours = np.linspace(0.0, 12.0, 97)
    inflow = np.interp(hours, [0.0, to_peak, end], [0.0, slope * to_peak, 0.0])

    def ramp(t: Array) -> Array:
        t = np.maximum(t, 0.0)
        return t - storage_hours + storage_hours * np.exp(-t / storage_hours)

    falling = slope * to_peak / (end - to_peak)
    closed = slope * ramp(hours) - (slope + falling) * ramp(hours - to_peak) + falling * ramp(hours - end)
    levels, outflow, _ = routed(pond(3600.0), lambda q: q * storage_hours, (0.0, 0.0), hours, inflow.tolist())
    np.testing.assert_allclose(outflow, closed, atol=2e-5)
    np.testing.assert_allclose(levels, closed * storage_hours, atol=2e-5)
    top = int(np.argmax(outflow))
    assert hours[top] > to_peak
    assert outflow[top] == pytest.approx(inflow[top], rel=2e-3)


CHOW_RATING = (0, 3, 8, 17, 30, 43, 60, 78, 97, 117, 137, 156, 173, 190, 205, 218, 231, 242, 253, 264, 275)
CHOW_INFLOW = (0, 60, 120, 180, 240, 300, 360, 320, 280, 240, 200, 160, 120, 80, 40, 0)
CHOW_OUTFLOW = (
    *(0, 2.4, 17.1, 61.1, 123.2, 182.2, 230.3, 259.3),
    *(270.0, 267.4, 254.9, 235.2, 206.9, 168.5, 124.1, 79.8),
)
"""Chow, Maidment & Mays 1988, Applied Hydrology, Example 8.2.1 (inputs from memory, recomputed): ft, ft3/s, 10 min."""


@pytest.mark.usefixtures("fine")
def test_chows_pond_is_that_of_the_book_to_what_its_long_steps_cost() -> None:
    """The book's storage indication goes in steps of ten minutes; explicit steps of a second judge both. The book's own
    way, in plain Python with the same pond, gives its table to the last digit: its long steps are what differs."""
    depths = np.arange(21) / 2.0
    hours = np.arange(16) / 6.0
    _, outflow, _ = routed(
        pond(43560.0), lambda q: np.interp(q, CHOW_RATING, depths), (0.0, 0.0), hours, list(CHOW_INFLOW)
    )
    depth, small = 0.0, []
    for second in range(9001):
        if second % 600 == 0:
            small.append(float(np.interp(depth, depths, CHOW_RATING)))
        inflow = np.interp(second / 3600.0, hours, CHOW_INFLOW)
        depth += (inflow - float(np.interp(depth, depths, CHOW_RATING))) / 43560.0
    np.testing.assert_allclose(outflow, small, atol=0.15)
    assert np.max(outflow) == pytest.approx(270.0, rel=0.005)
    assert int(np.argmax(outflow)) == 8
    np.testing.assert_allclose(outflow, CHOW_OUTFLOW, atol=1.5)
    np.testing.assert_allclose(_storage_indication(depths), CHOW_OUTFLOW, atol=0.051)


def _storage_indication(depths: Array) -> list[float]:
    """2 S/dt + Q of the next step from I1 + I2 + 2 S/dt - Q of this, dt ten minutes."""
    whole, found = 2.0 * 43560.0 * depths / 600.0 + CHOW_RATING, [0.0]
    left = 0.0
    for before, after in pairwise(CHOW_INFLOW):
        come = left + before + after
        found.append(float(np.interp(come, whole, CHOW_RATING)))
        left = come - 2.0 * found[-1]
    return found


def test_where_the_level_jumps_the_pool_fills_through_the_jump() -> None:
    """Nothing stands above 1 m below a flow of 2 m3/s, and 3 m at it: the outflow waits at 2 while the pool fills."""

    def rating(flow: Array) -> Array:
        return np.where(flow < 2.0, 0.5 * flow, 3.0 + 0.5 * (flow - 2.0))

    hours = np.linspace(0.0, 2.0, 9)
    levels, outflow, gone = routed(pond(1000.0), rating, (1.0, 1.9999), hours, [2.5] * 9)
    np.testing.assert_allclose(outflow[1:5], 2.0, atol=2e-3)
    np.testing.assert_allclose(np.diff(levels[:5]), 0.5 * 900.0 / 1000.0, rtol=2e-2)
    assert levels[-1] < 3.25
    assert gone == pytest.approx(2.5 * 7200.0 - 1000.0 * (levels[-1] - levels[0]), rel=1e-6)


def test_a_shut_place_keeps_all_that_comes() -> None:
    def shut(flow: Array) -> Array:
        return np.where(flow > 0.0, np.inf, 0.0)

    levels, outflow, _ = routed(pond(1000.0), shut, (0.0, 0.0), np.linspace(0.0, 2.0, 5), [1.0] * 5)
    np.testing.assert_allclose(levels, [0.0, 1.8, 3.6, 5.4, 7.2], rtol=1e-6)
    np.testing.assert_allclose(outflow, 0.0, atol=1e-8)
