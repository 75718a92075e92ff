"""The swift flow of a steep barrel, its jump, and what a crossing reports of them: published and plain solves."""

from __future__ import annotations

import numpy as np
import pytest
from by_energy import sequent_head
from plain_crossing import G, Tube
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from overbank.hydraulics import crossing, jump, profile, sections, uniform
from overbank.hydraulics.culverts import InletRow

PIPE, BOX = sections.pipe(1.2, 0.013), sections.box(2.0, 1.5, 0.013)
SCREEN, ROAD = crossing.Screen(*[0.0] * 8), crossing.Road(0.0, 0.0, 0.0)
ROW = InletRow(1.0, 0.026, 1.0, 0.0347, 0.81, -0.5)


@pytest.mark.parametrize(
    ("s", "flow", "slope", "length", "depth", "velocity"),
    [
        *((PIPE, 2.5, 0.02, x, y, v) for x, y, v in ((5, 0.7286, 3.479), (10, 0.6875, 3.731), (20, 0.6435, 4.047))),
        (PIPE, 2.5, 0.02, 40, 0.60377, 4.3859),
        *((BOX, 8.0, 0.015, x, y, v) for x, y, v in ((10, 0.9540, 4.193), (25, 0.8735, 4.579), (100, 0.7705, 5.192))),
    ],
)
def test_depth_and_velocity_down_a_steep_barrel(
    s: sections.Section, flow: float, slope: float, length: float, depth: float, velocity: float
) -> None:
    """Computed independently: dx = (1 - F^2)/(S - Sf) dy stepped in ln(y - yn), step halved, g = 9.81."""
    got, _ = profile.swift_end(s, flow, slope, uniform.critical_depth(s, flow), length)
    assert got == pytest.approx(depth, abs=2e-4)
    assert flow / sections.area(s, got) == pytest.approx(velocity, abs=2e-3)


@pytest.mark.parametrize(
    ("tube", "s"), [(Tube("pipe", 1.2, 1.2, 0.013, 0.013), PIPE), (Tube("box", 2.0, 1.5, 0.013, 0.013), BOX)]
)
def test_time_of_the_water_by_scipy(tube: Tube, s: sections.Section) -> None:
    """solve_ivp in the depth, from a hair under critical depth: dx/dy and dt/dy = A/Q dx/dy."""
    flow, slope, length = 2.5, 0.02, 40.0

    def along(y: float, _: np.ndarray) -> list[float]:
        area = float(tube.area(y))
        froude = flow**2 * float(tube.width(y)) / (G * area**3)
        dx = (1 - froude) / (slope - float(tube.friction(flow, y)))
        return [dx, area / flow * dx]

    end, time = profile.swift_end(s, flow, slope, uniform.critical_depth(s, flow), length)
    found = solve_ivp(along, (tube.critical(flow), end), [0.0, 0.0], rtol=1e-9, atol=1e-9).y[:, -1]
    assert found[0] == pytest.approx(length, rel=1e-4)
    assert time == pytest.approx(found[1], rel=2e-3)


@pytest.mark.parametrize(
    ("s", "flow", "depth", "behind"),
    [
        (PIPE, 2.5, 0.56680, 1.28486),
        (BOX, 8.0, 0.6, 1.957),
        (BOX, 8.0, 0.8, 1.59761),
        (sections.pipe(1.5, 0.013), 1.5, 0.30, 1.1746),
        (sections.pipe(1.5, 0.013), 1.5, 0.35, 1.0414),
        (sections.pipe(1.5, 0.013), 1.5, 0.50, 0.7726),
    ],
)
def test_depth_behind_a_jump(s: sections.Section, flow: float, depth: float, behind: float) -> None:
    """Equal momentum, the pressure of a full barrel once the jump meets the roof; computed independently."""
    assert sequent_head(s, flow, depth) == pytest.approx(behind, abs=6e-4)


def test_depth_behind_a_jump_of_a_textbook() -> None:
    """0.8 m at 7 m/s in a wide rectangle: 2.46 m (fluid mechanics textbook, example 13-7, read at second hand)."""
    s = sections.rectangle(1.0, 0.013)
    assert sequent_head(s, 5.6, 0.8) == pytest.approx(2.46, abs=0.005)
    assert sequent_head(s, 5.6, 0.8) == pytest.approx(jump.sequent_depth(5.6, 1.0, 0.8), abs=1e-6)


def lane(tailwater: float) -> crossing.Crossed:
    """A box of 2 by 1.5 m, 60 m at 6 %, 6 m3/s."""
    barrels = crossing.Barrels(BOX, ROW, 1.0, 60.0, 13.6, 10.0, 1.0, 0.4, 1.0, 0.0, 0.0)
    return crossing.crossed(barrels, SCREEN, ROAD, 6.0, tailwater)


def test_the_outlet_of_a_steep_barrel_runs_swift_until_the_tailwater_has_the_greater_momentum() -> None:
    critical = uniform.critical_depth(BOX, 6.0)
    swift, _ = profile.swift_end(BOX, 6.0, 0.06, critical, 60.0)
    limit = brentq(lambda y: jump.momentum(BOX, 6.0, y) - jump.momentum(BOX, 6.0, swift), critical, 5.0)
    free, below, above = lane(10.2), lane(10.0 + limit - 0.01), lane(10.0 + limit + 0.01)
    assert free.depth_out == below.depth_out == pytest.approx(swift)
    assert free.velocity_out == pytest.approx(6.0 / (2.0 * swift))
    assert free.velocity_out > 2.0 * 6.0 / (2.0 * critical)
    assert above.depth_out == pytest.approx(limit + 0.01)
    assert above.velocity_most == pytest.approx(free.velocity_out, rel=0.01)
    assert free.level == below.level == above.level
    assert free.regime == above.regime == crossing.INLET_FREE


def test_the_jump_stands_where_both_curves_have_the_same_momentum_and_the_time_grows_with_it() -> None:
    """The head of water behind the jump is where a plain search along the barrel finds equal momentum."""
    tailwater, critical = 2.6, uniform.critical_depth(BOX, 6.0)
    at = np.linspace(0.05, 60.0, 4000)
    above = [profile.swift_end(BOX, 6.0, 0.06, critical, x)[0] for x in at]
    below = [profile.depth_above(BOX, 6.0, critical, 0.06, 60.0 - x, tailwater) for x in at]
    excess = [jump.momentum(BOX, 6.0, b) - jump.momentum(BOX, 6.0, a) for a, b in zip(above, below, strict=True)]
    first = int(np.argmax(np.array(excess) > 0))
    state = lane(10.0 + tailwater)
    assert 0 < first < 3999
    assert state.velocity_most == pytest.approx(6.0 / (2.0 * above[first]), rel=2e-3)
    times = [lane(10.0 + y).transit_time for y in (0.3, 2.2, 2.6, 3.0)]
    assert np.all(np.diff(times) > 0)


def test_the_level_rises_when_the_jump_reaches_the_inlet() -> None:
    levels = [lane(tailwater).level for tailwater in np.linspace(10.0, 15.5, 400)]
    assert np.diff(levels).min() > -1e-9
    assert levels[-1] > levels[0] + 0.5
