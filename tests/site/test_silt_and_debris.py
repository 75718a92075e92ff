"""Silt in the barrels and debris on the screen together; debris as an area that larger screens bear more easily."""

from __future__ import annotations

from math import radians, sin

import numpy as np
import pytest
from scipy.optimize import brentq
from test_structures import BARREL, SCREEN

from overbank.hydraulics.tables import inlets
from overbank.site.culvert import Culvert
from overbank.site.numbers import Numbers, Water

LANE = Culvert("lane", "box", inlets()["box", "wingwalls 30 to 75 deg"], has_screen=True, has_road=False)
G2 = 19.62


def level(numbers: Numbers, flow: float = 3.0, below: float = 32.2) -> dict[str, float]:
    water = Water(np.array([below]), np.array([below]))
    return {name: float(values[0]) for name, values in LANE.solve(np.array([flow]), water, numbers).items()}


def test_silt_behind_a_screen_by_a_plain_sum() -> None:
    """Full barrels: friction of walls and silt at one velocity, (sum P n^1.5 / P)^(2/3), losses on V^2/2g.

    HDS-5 p. 34; then the screen, whose own drop is taken from the run.
    """
    plain = {**BARREL, **SCREEN, "lane.screen.blockage": 0.4}
    span, rise, length = (float(BARREL[f"lane.barrel.{key}"]) for key in ("span_m", "rise_m", "length_m"))
    n, loss, flow = float(BARREL["lane.barrel.manning_n"]), float(BARREL["lane.inlet.entrance_loss"]), 3.0
    each = flow / float(BARREL["lane.barrel.count"])
    for silt, silt_n in ((0.3, 0.03), (0.5, 0.045)):
        found = level({**plain, "lane.silt": silt, "lane.barrel.silt_manning_n": silt_n})
        height = (1.0 - silt) * rise
        area, perimeter = span * height, 2.0 * (span + height)
        mean = ((span * silt_n**1.5 + (perimeter - span) * n**1.5) / perimeter) ** (2.0 / 3.0)
        friction = (mean * each / area) ** 2 * (perimeter / area) ** (4.0 / 3.0) * length
        behind = 32.2 + friction + (float(BARREL["lane.inlet.exit_loss"]) + loss) * (each / area) ** 2 / G2
        assert found["barrel_level"] == pytest.approx(behind, abs=1e-6)
        assert found["level"] == pytest.approx(behind + found["screen_drop"], abs=1e-9)
        assert found["screen_drop"] > 0.0


def test_more_silt_and_more_debris_each_raise_the_water() -> None:
    plain = {**BARREL, **SCREEN, "lane.screen.blockage": 0.4}
    levels = [
        level({**plain, "lane.silt": silt, "lane.screen.blockage": 0.4 + silt / 2})["level"] for silt in (0, 0.2, 0.4)
    ]
    assert levels == sorted(levels)
    assert level({**plain, "lane.silt": 0.0}) == pytest.approx(level(plain))


def test_an_area_of_debris_is_a_share_of_the_bars() -> None:
    """A raft of 3 m2 on bars of w h / sin 60: as with that share written; more than the bars have is all of them."""
    written = {key: value for key, value in {**BARREL, **SCREEN}.items() if key != "lane.screen.blockage"}
    bars = float(SCREEN["lane.screen.width_m"]) * float(SCREEN["lane.screen.height_m"]) / sin(radians(60.0))
    found = level({**written, "lane.screen.debris_m2": 3.0})
    assert found == pytest.approx(level({**written, "lane.screen.blockage": 3.0 / bars}))
    assert level({**written, "lane.screen.debris_m2": 2.0 * bars}) == pytest.approx(
        level({**written, "lane.screen.blockage": 1.0})
    )


def test_the_same_debris_is_felt_less_by_a_larger_screen() -> None:
    """The drop behind a drowned screen of twice the width, by the loss of its own share: Weisbach, Borda and Carnot."""
    written = {key: value for key, value in {**BARREL, **SCREEN}.items() if key != "lane.screen.blockage"}
    width, height = float(SCREEN["lane.screen.width_m"]), float(SCREEN["lane.screen.height_m"])
    clear = float(SCREEN["lane.screen.gap_m"]) / (
        float(SCREEN["lane.screen.gap_m"]) + float(SCREEN["lane.screen.bar_m"])
    )
    lean, drops = sin(radians(60.0)), []
    for wide in (width, 2.0 * width):
        numbers = {
            **written,
            "lane.screen.overflow_coefficient": 0.0,
            "lane.screen.width_m": wide,
            "lane.screen.debris_m2": 6.0,
            "lane.screen.pattern": 0.0,
        }
        found = level(numbers, below=30.05 + height + 1.0)
        net = clear * (1.0 - 6.0 / (wide * height / lean))
        loss = (lean * (1.0 / (net * (0.62 + 0.38 * net**3)) - 1.0)) ** 2
        drop = brentq(lambda h, w=wide, k=loss: w * height * (G2 * h / k) ** 0.5 - 3.0, 0.0, 5.0)
        drops.append(found["screen_drop"])
        assert found["screen_drop"] == pytest.approx(drop, rel=1e-6)
    assert drops[1] < drops[0] / 3.0
