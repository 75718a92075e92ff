"""The stones that water moves, and water brought to rest: against a printed example and a closed form."""

from __future__ import annotations

import pytest

from overbank.site.moving_bed import Reach

FOOT = 0.3048


@pytest.mark.parametrize(
    ("velocity", "stone"), [(2.0, 0.00162), (4.0, 0.0129), (8.0, 0.104), (12.0, 0.349), (16.0, 0.828)]
)
def test_stones_that_begin_to_move(velocity: float, stone: float) -> None:
    """Critical size at a depth of 12 ft, in feet, from "Critical size for beginning of bed material movement", p. 3.65
    of a manual of river engineering for highways (read in a page that copies it and does not name it). It has
    0.0007 v^3 / y^0.5, whose coefficient is rounded: 1 / 11.25^3 is 0.00070233 and 6.19 in SI units is 11.21."""
    found = Reach("a", 12.0 * FOOT, velocity * FOOT).stone / FOOT
    assert found == pytest.approx(stone, rel=0.02)


def test_water_brought_to_rest_stands_up_by_its_velocity_head() -> None:
    """Bernoulli: as high as a stone thrown up with that velocity, v t - g t^2 / 2 at t = v / g."""
    velocity, gravity = 3.0, 9.81
    time = velocity / gravity
    assert Reach("a", 1.0, velocity).stopped == pytest.approx(velocity * time - gravity * time**2 / 2.0, rel=1e-4)
