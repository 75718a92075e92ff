"""The level below the first structure."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from overbank.hydraulics import sections, uniform
from overbank.site.tailwater import FixedLevel, NormalDepth, Rating

FLOW = np.array([0.5, 6.0, 20.0])
PATH = "tailwater.normal_depth"
NUMBERS = {
    f"{PATH}.bed_level_m": 29.9,
    f"{PATH}.slope": 0.003,
    f"{PATH}.manning_n": np.array([0.03, 0.045, 0.06]),
    f"{PATH}.section.bed_width_m": 2.5,
    f"{PATH}.section.side_slope": 1.5,
}


def test_normal_depth_follows_flow_and_roughness() -> None:
    water = NormalDepth("trapezoid").water(NUMBERS, FLOW)
    for i, n in enumerate((0.03, 0.045, 0.06)):
        s = sections.trapezoid(2.5, 1.5, n)
        y = uniform.normal_depth(s, FLOW[i], 0.003)
        assert water.level[i] == 29.9 + y
        assert water.energy[i] == pytest.approx(29.9 + y + uniform.velocity_head(s, FLOW[i], y), rel=1e-14)


def test_no_normal_depth_is_water_without_end() -> None:
    assert np.all(NormalDepth("trapezoid").water({**NUMBERS, f"{PATH}.slope": 0.0}, FLOW).level == inf)


def test_fixed_level() -> None:
    water = FixedLevel().water({"tailwater.level_m": 31.0}, FLOW)
    np.testing.assert_array_equal(water.level, [31.0] * 3)
    levels = np.array([31.0, 31.1, 31.2])
    np.testing.assert_array_equal(FixedLevel().water({"tailwater.level_m": levels}, FLOW).energy, levels)


def test_rating_between_and_beyond_its_points() -> None:
    rating = Rating((1.0, 5.0, 10.0), (30.0, 31.0, 31.5))
    water = rating.water({"tailwater.rating_shift_m": 0.1}, FLOW)
    np.testing.assert_allclose(water.level, [30.1, 31.2, 31.6])
    ((words, share),) = rating.remarks({}, FLOW, water.level)
    assert (words, share) == ("flow beyond the rating table, whose end level is held", pytest.approx(2 / 3))
    assert [share for _, share in rating.remarks({}, np.array([1.0, 10.0]), water.level)] == [0.0]
