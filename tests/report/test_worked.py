"""One run line by line: every step done again with plain arithmetic from its own numbers; and the balance closes."""

from __future__ import annotations

from math import radians, sin, sqrt

import pytest
from scipy.optimize import brentq

from overbank.report.worked import worked
from overbank.site.by_hand.steps import Step

from .outcomes import outcome
from .pages import page

WORKED = ("lane", "no blockage", "box", "certain")


def steps(study: str) -> dict[str, Step]:
    return {step.symbol: step for step in worked(outcome(study)).steps}


@pytest.mark.parametrize("study", WORKED)
def test_the_steps_stand_on_the_page_and_end_at_the_level_of_the_run(study: str) -> None:
    found, made = worked(outcome(study)), outcome(study)
    level = float(made.deterministic.element(made.place).level[0])
    assert found.steps[-1].result == level
    assert found.level in page(study).text.replace(" m ", "\u00a0m ") or f"{level:.3f}" in page(study).text
    for step in found.steps:
        assert " ".join(step.formula.split()) in page(study).text


def test_inlet_control_by_hand() -> None:
    """HDS-5 form 1 for a box, K 0.026, M 1.0, slope factor -0.5, 6 m3/s through 2.4 by 1.5 m, 0.1 m fall in 22 m."""
    found = steps("lane")
    critical = (6.0**2 / (9.81 * 2.4**2)) ** (1.0 / 3.0)
    energy = 1.5 * critical
    intensity = 1.811 * 6.0 / (2.4 * 1.5 * sqrt(1.5))
    head = 1.5 * (energy / 1.5 + 0.026 * intensity - 0.5 * 0.1 / 22.0)
    assert found["Ec"].result == pytest.approx(energy, rel=1e-6)
    assert found["x"].result == pytest.approx(intensity, rel=1e-3)
    assert found["Hi"].result == pytest.approx(head, rel=1e-4)
    assert found["ei"].result == pytest.approx(30.1 + head, abs=1e-3)
    assert found["zi"].result == pytest.approx(in_the_garden(found["ei"].result, 1.0), abs=1e-6)


def in_the_garden(energy: float, share: float) -> float:
    """Level at which 6 m3/s in the reach above, 2.5 m wide with sides of 1 in 1.5, has an energy; by SciPy."""

    def excess(z: float) -> float:
        y = z - 30.1
        return z + share * (6.0 / ((2.5 + 1.5 * y) * y)) ** 2 / 19.62 - energy

    return float(brentq(excess, 30.1 + 0.85, energy, xtol=1e-12))


def test_outlet_control_by_hand() -> None:
    found = steps("lane")
    depth, velocity = found["y1"].result, found["v1"].result
    assert velocity == pytest.approx(6.0 / (2.4 * depth), rel=1e-6)
    entrance = float(outcome("lane").problem.medians()["lane.inlet.entrance_loss"])  # type: ignore[arg-type]
    # close above critical depth the published head falls as the depth rises; the level keeps to the middle of that dip
    critical = (6.0**2 / (9.81 * 2.4**2)) ** (1.0 / 3.0)
    by_profile = depth + (1.0 + entrance) * velocity**2 / 19.62
    medians = outcome("lane").problem.medians()
    roughness, slope = float(medians["lane.barrel.manning_n"]), 0.1 / 22.0  # type: ignore[arg-type]

    def friction(y: float) -> float:
        return (roughness * 6.0 / (2.4 * y)) ** 2 * ((2.4 + 2.0 * y) / (2.4 * y)) ** (4.0 / 3.0)

    shallow, at_critical = friction(0.95 * critical), friction(critical)
    mild = min(1.0, max(0.0, (shallow - slope) / (shallow - at_critical)))
    middle = 0.5 * entrance + 1.5 * ((1.0 + entrance) ** (1.0 / 3.0) - 1.0)
    held = critical + (1.0 + mild * middle) * critical / 2.0
    assert found["eo"].result == pytest.approx(30.1 + max(held, by_profile), abs=1e-6)
    if held > by_profile:
        assert f"with y1 {30.1 + by_profile:.3f}" in found["eo"].numbers
    level = in_the_garden(found["eo"].result, 1.0 + entrance)
    assert found["zo"].result == pytest.approx(max(level, 30.1 + depth), abs=1e-6)
    assert found["zb"].result == max(found["zi"].result, found["zo"].result)


def test_the_screen_by_hand() -> None:
    """The loss from the clear share, and the flow that it lets through at the levels found, by the integral."""
    found, medians = steps("lane"), outcome("lane").problem.medians()
    width, sill, blocked = (
        float(medians[f"lane.screen.{key}"])  # type: ignore[arg-type]
        for key in ("width_m", "sill_level_m", "blockage")
    )
    net = 0.125 / 0.145 * (1.0 - blocked)
    lean = sin(radians(60.0))
    loss = (lean * (1.0 / (net * (0.62 + 0.38 * net**3)) - 1.0)) ** 2
    assert found["ζ"].result == pytest.approx(loss, rel=1e-9)
    up, down = found["z"].result - sill, found["zb"].result - sill
    flow = sqrt(19.62 / loss) * width * (down * sqrt(up - down) + 2.0 / 3.0 * (up - down) ** 1.5)
    assert found["Qζ"].result == pytest.approx(flow, rel=1e-6)
    assert found["Qs"].result == pytest.approx(6.0, abs=1e-3)


def test_the_balance_closes_with_water_over_the_road() -> None:
    found = steps("box")
    assert found["Qr"].result > 1.0
    assert found["Q"].result == pytest.approx(found["Qb"].result + found["Qr"].result, rel=1e-6)
    # HDS-5 form 1 drowned: D (c x2 + Y - 0.5 S), c 0.0400, Y 0.80, 7 ft = 2.1336 m, slope 5 %
    head = 2.1336 * (0.04 * found["x"].result ** 2 + 0.80 - 0.5 * 0.05)
    assert found["Hi"].result == pytest.approx(head, rel=1e-3)


def test_what_cannot_be_worked_says_why() -> None:
    assert worked(outcome("never a way through")).refusal in page("never a way through").text
    assert not worked(outcome("never a way through")).steps
