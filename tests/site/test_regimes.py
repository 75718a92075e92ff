"""Regime codes in words: every code that a crossing can report has its own sentence."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from overbank.hydraulics import crossing
from overbank.hydraulics.surveyed_table import survey_table
from overbank.site.numbers import Water
from overbank.site.regimes import CONTROLS, regime_words
from overbank.site.structures import Channel
from overbank.site.surveyed import SurveyedChannel, SurveyedSection


def test_every_code_of_a_culvert_reads_differently() -> None:
    over = (0, crossing.OVER_ROAD, crossing.ROAD_DROWNED)
    relief = (0, crossing.THROUGH_RELIEF)
    codes = [sum(parts) for parts in product(CONTROLS, (0, crossing.OVER_SCREEN), over, relief)]
    words = [regime_words("culvert", float(code)) for code in codes]
    assert len(set(words)) == len(codes)
    assert regime_words("culvert", 213.0) == (
        "outlet control, free surface in the barrel; flow over the top of the screen; "
        "flow over the road, drowned from below"
    )


def test_channel() -> None:
    assert regime_words("channel", 0.0) == "subcritical"
    assert "steep" in regime_words("channel", 1.0)


def test_a_steep_reach_drowned_from_below_is_not_said_to_take_critical_depth() -> None:
    """Ten metres of a rectangle 4 m wide with 8 m3/s: critical depth (q^2/g)^(1/3); at 1 in 20 normal depth is less.

    A pool 2.3 m deep at the foot is still 1.8 m deep at the head, well above critical depth; one of 0.6 m is not.
    """
    numbers = {
        **{"reach.section.width_m": 4.0, "reach.length_m": 10.0, "reach.bed_level_m": 0.0},
        **{"reach.bed_slope": 0.05, "reach.manning_n": 0.03},
    }
    critical = (4.0 / 9.81) ** (1 / 3)
    level, mild = np.array([0.6, 2.3, 2.3]), np.array([0.05, 0.05, 0.001])
    results = Channel("reach", "rectangle").details(
        np.full(3, 8.0), Water(level, level), {**numbers, "reach.bed_slope": mild}
    )
    assert results["depth"][0] == pytest.approx(critical, rel=1e-8)
    assert results["depth"][1] > 2.0 * critical
    words = [regime_words("channel", code) for code in results["regime"]]
    assert words == [
        "steep for this flow: critical depth taken at its upstream end",
        "steep for this flow, but drowned from below all along",
        "subcritical",
    ]
    surveyed = SurveyedChannel("reach", SurveyedSection(survey_table((0, 1e-6, 4, 4 + 1e-6), (9, 0, 0, 9)), 9.0))
    zone = {"reach.section.zone_1.manning_n": 0.03, "reach.section.method": 0.0, "reach.section.shift_m": 0.0}
    again = surveyed.details(np.full(3, 8.0), Water(level, level), {**numbers, **zone, "reach.bed_slope": mild})
    np.testing.assert_array_equal(again["regime"], results["regime"])


def test_a_sample_without_a_solution_has_words_too() -> None:
    for kind in ("channel", "culvert", "weir", "bridge"):
        assert regime_words(kind, float("nan")) == "no solution"
