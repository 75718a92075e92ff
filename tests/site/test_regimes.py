"""What governs, in words: every state that a crossing can report has its own sentence."""

from __future__ import annotations

from itertools import product
from math import nan

import numpy as np
import pytest

from overbank.hydraulics import crossing
from overbank.hydraulics.surveyed_table import survey_table
from overbank.hydraulics.tables import inlets
from overbank.site.channel import REGIMES, Channel, SurveyedChannel
from overbank.site.culvert import CONTROLS, Culvert
from overbank.site.numbers import Water
from overbank.site.row import ElementOutcome
from overbank.site.surveyed import SurveyedSection

CULVERT = Culvert("lane", "box", inlets()["box", "wingwalls 30 to 75 deg"], has_screen=True, has_road=True)


def test_every_state_of_a_culvert_reads_differently() -> None:
    names = ("regime", "over_screen", "over_road", "through_relief")
    states = [dict(zip(names, map(float, each), strict=True)) for each in product(CONTROLS, (0, 1), (0, 1, 2), (0, 1))]
    words = [CULVERT.governs(state) for state in states]
    assert len(set(words)) == len(states) == 8 * 12
    assert CULVERT.governs({"regime": 3.0, "over_screen": 1.0, "over_road": 2.0, "through_relief": 0.0}) == (
        "outlet control, free surface in the barrel; flow over the top of the screen; "
        "flow over the road, drowned from below"
    )


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
    results = Channel("reach", "rectangle").solve(
        np.full(3, 8.0), Water(level, level), {**numbers, "reach.bed_slope": mild}
    )
    assert results["depth"][0] == pytest.approx(critical, rel=1e-8)
    assert results["depth"][1] > 2.0 * critical
    assert [REGIMES[int(code)] for code in results["regime"]] == [
        "steep for this flow: critical depth taken at its upstream end",
        "steep for this flow, but drowned from below all along",
        "subcritical",
    ]
    surveyed = SurveyedChannel("reach", SurveyedSection(survey_table((0, 1e-6, 4, 4 + 1e-6), (9, 0, 0, 9)), 9.0))
    zone = {"reach.section.zone_1.manning_n": 0.03, "reach.section.method": 0.0, "reach.section.shift_m": 0.0}
    again = surveyed.solve(np.full(3, 8.0), Water(level, level), {**numbers, **zone, "reach.bed_slope": mild})
    np.testing.assert_array_equal(again["regime"], results["regime"])


def test_a_sample_without_a_solution_has_words_too() -> None:
    results = {name: np.array([nan, 1.0]) for name in crossing.Crossed._fields}
    element = ElementOutcome(CULVERT, results["level"], None, results)
    assert (element.governs(0), element.governs(1)[:13]) == ("no solution", "inlet control")
