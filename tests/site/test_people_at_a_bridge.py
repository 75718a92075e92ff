"""People on a road over a bridge: critical flow and continuity in closed form, and the water of a run."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.outputs.medians import deterministic_run
from overbank.site.people import hazard_of, over_road
from overbank.study.elements.people import EDITIONS
from overbank.study.load import read_study
from small import written

BRIDGE = """
title = "A bridge with a road over it (invented)"
decision = { target_probability = 0.05, assurance = 0.9 }
flow = { design_m3_s = { lognormal = { median = 14.0, cov = 0.2 } } }
tailwater = { level_m = 31.2 }

[[element]]
kind = "bridge"
id = "mill"
opening = { shape = "box", span_m = 3.0, rise_m = 1.5, bed_level_m = 30.0 }
approach = { section = { shape = "rectangle", width_m = 6.0 }, bed_level_m = 30.0 }
deck = { level_m = 32.0, length_m = 12.0 }
approach_road = { level_m = 31.9, length_m = 6.0 }
bank_level_m = 31.8
"""


def test_critical_depth_and_velocity() -> None:
    """d = 2/3 h, v = (g d)^0.5, and their product the flow of a broad crest, (2/3)^1.5 g^0.5 h^1.5 = 1.705 h^1.5."""
    head = np.array([-0.2, 0.0, 0.3, 1.2])
    water = over_road("here", head, np.full(4, -1.0))
    np.testing.assert_allclose(water.depth, [0.0, 0.0, 0.2, 0.8])
    np.testing.assert_allclose(water.velocity[2:], [(9.80665 * 0.2) ** 0.5, (9.80665 * 0.8) ** 0.5], rtol=1e-3)
    np.testing.assert_allclose((water.depth * water.velocity)[2:], 1.705 * head[2:] ** 1.5, rtol=1e-3)


def test_as_deep_as_the_water_below_with_the_flow_of_the_head() -> None:
    free, drowned = (over_road("here", np.array([0.6]), np.array([below])) for below in (0.3, 0.55))
    assert free.depth[0] == pytest.approx(0.4)
    assert drowned.depth[0] == 0.55
    assert (drowned.depth * drowned.velocity)[0] == pytest.approx((free.depth * free.velocity)[0])
    deepest = over_road("here", np.array([0.6]), np.array([9.0]))
    assert deepest.depth[0] == 0.6  # no deeper than the water upstream


def test_missing_and_endless_levels_pass_through() -> None:
    water = over_road("here", np.array([np.nan, np.inf]), np.array([0.1, 0.1]))
    assert np.isnan(water.depth[0])
    assert water.depth[1] == np.inf
    assert water.velocity[1] == np.inf


def test_the_water_of_a_run(tmp_path: Path) -> None:
    once = deterministic_run(read_study(written(tmp_path, BRIDGE)))
    (at,) = once.people
    assert (at.element, at.figures) == ("mill", ())
    level = float(once.outcome.element("mill").level[0])
    assert level > 32.0
    found = {water.place: water for water in at.waters}
    for place, crest in (("over the deck", 32.0), ("over the approach road", 31.9), ("over the bank", 31.8)):
        assert found[place].depth[0] == pytest.approx(2.0 / 3.0 * (level - crest))
        rating = hazard_of(found[place], "urban", EDITIONS[0])[0]
        assert rating[0] == pytest.approx(found[place].depth[0] * (found[place].velocity[0] + 0.5))  # below 0.25 m deep


def test_a_bridge_without_road_and_bank_has_nobody(tmp_path: Path) -> None:
    text = "\n".join(row for row in BRIDGE.splitlines() if not row.startswith(("deck", "approach_road", "bank")))
    more = '[[element]]\nkind = "channel"\nid = "reach"\nlength_m = 9.0\nbed_slope = 0.001\nmanning_n = 0.04\n'
    more += 'section = { shape = "rectangle", width_m = 6.0 }\nbank_level_m = 32.0\n'
    assert deterministic_run(read_study(written(tmp_path, f"{text}\n\n{more}"))).people == ()
