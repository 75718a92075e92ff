"""Sections as they are drawn: widths and areas against elementary geometry."""

from __future__ import annotations

from itertools import pairwise
from math import acos, cos, pi, radians, sin, sqrt
from pathlib import Path

import numpy as np
import pytest

from overbank.hydraulics import sections
from overbank.hydraulics.surveyed_table import survey_table
from overbank.outputs.medians import deterministic_run
from overbank.site.cross_section import CrossSection, Line, channel_ground, extent, laid_out, ring, survey_ground
from overbank.site.surveyed import SurveyedSection
from overbank.study.load import read_study

STUDIES = Path(__file__).parents[2] / "studies"
OFFSETS, LEVELS = (0.0, 4.0, 6.0, 9.0, 12.0, 20.0), (13.0, 12.0, 10.0, 10.2, 12.1, 12.6)


def enclosed(line: Line) -> float:
    """Area inside a closed line, by the cross products of its corners."""
    x, y = np.array(line).T
    return 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))


def test_rings_enclose_the_areas_of_their_shapes() -> None:
    """Box and ellipse in closed form; an arch is a box and a segment of the circle through its three points."""
    half, crown = 2.75, 1.5
    radius = (half * half + crown * crown) / (2.0 * crown)
    segment = radius**2 * acos((radius - crown) / radius) - (radius - crown) * sqrt(radius**2 - (radius - crown) ** 2)
    for section, area, within in (
        (sections.box(2.4, 1.5, 0.014), 3.6, 1e-6),
        (sections.pipe(1.2, 0.014), pi * 0.36, 0.005),
        (sections.ellipse(2.0, 1.0, 0.014), pi * 0.5, 0.005),
        (sections.arch(5.5, 2.7, 1.2, 0.014), 5.5 * 1.2 + segment, 0.005),
    ):
        drawn = ring(section, 30.0, 1.0)
        assert enclosed(drawn) == pytest.approx(area, rel=within)
        assert np.mean(extent([drawn])) == pytest.approx(1.0)
        assert enclosed(ring(section, 30.0, 1.0, 0.5)) == pytest.approx(0.5 * enclosed(drawn))


def test_a_trapezoid_is_as_wide_at_the_water_as_its_slopes_make_it() -> None:
    numbers = {"a.section.bed_width_m": 2.5, "a.section.side_slope": 1.5}
    ground = channel_ground(numbers, "a", "trapezoid", 30.0, 33.0)
    ((left, right),) = CrossSection("", ground).wet(31.2)
    assert right - left == pytest.approx(2.5 + 2.0 * 1.5 * 1.2)
    assert not CrossSection("", ground).wet(30.0)


def test_a_survey_is_wet_where_its_ground_lies_below_the_water() -> None:
    survey = SurveyedSection(survey_table(OFFSETS, LEVELS), 2.6, tuple(zip(OFFSETS, LEVELS, strict=True)))
    fine = np.linspace(0.0, 20.0, 200_001)
    for level in (10.5, 12.3, 12.8):
        wet = CrossSection("", survey_ground(survey, 0.4, 15.0)).wet(level + 0.4)
        share = np.mean(np.interp(fine, OFFSETS, LEVELS) < level)
        assert sum(right - left for left, right in wet) == pytest.approx(20.0 * share, abs=2e-3)
    over = CrossSection("", survey_ground(survey, 0.0, 15.0)).wet(14.0)
    assert over == ((0.0, 20.0),)


def test_openings_are_laid_out_apart_and_around_the_middle() -> None:
    widths = [5.5, 5.5, 2.0]
    for room in (12.0, 30.0):
        middles = laid_out(widths, room, 3.0)
        ends = [(at - 0.5 * width, at + 0.5 * width) for at, width in zip(middles, widths, strict=True)]
        assert ends[0][0] + ends[-1][1] == pytest.approx(6.0)
        assert all(after[0] > before[1] for before, after in pairwise(ends))


def test_sections_hold_the_geometry_of_the_studies() -> None:
    """As the study files have it; a span along the road is seen from the river by the cosine of the skew."""
    lane = deterministic_run(read_study(STUDIES / "quillet-lane"))
    culvert = lane.problem.site.elements[0].across(lane.problem.medians(), 33.0)
    (opening,) = culvert.openings
    assert extent([opening]) == pytest.approx((-1.2, 1.2))
    assert extent([culvert.screen]) == pytest.approx((-1.8, 1.8))
    assert culvert.crests[0].line == ((-7.0, 32.6), (7.0, 32.6))
    arches = deterministic_run(read_study(STUDIES / "twin-arches" / "skewed.toml"))
    bridge = arches.problem.site.elements[0].across(arches.problem.medians(), 45.0)
    numbers = arches.problem.medians()
    angle = radians(float(np.asarray(numbers["arches.skew.angle_deg"])))
    piers = 0.5 * float(np.asarray(numbers.get("arches.skew.pier_length_m", 0.0))) * sin(angle)
    for each in bridge.openings:
        left, right = extent([each])
        assert right - left == pytest.approx(5.5 * cos(angle) - piers)
