"""Remarks on a river, each brought about by one site, and its long section."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_river_structures import BRIDGE, CREST, MEADOW, SURVEY, TAIL

from overbank.site.bridge import Bridge
from overbank.site.channel import SurveyedChannel
from overbank.site.long_section import DRAWN_LENGTH, long_section
from overbank.site.numbers import Numbers
from overbank.site.row import Site
from overbank.site.surveyed import SurveyedNormalDepth
from overbank.site.tailwater import FixedLevel, NormalDepth, Tailwater
from overbank.site.validity import remarks
from overbank.site.weir import Weir

WEIR = Weir("sill", "broad_crested", "rectangle")
ROAD = Bridge("road", ("arch", "pipe"), "rectangle", True, False, True, True)
REACH = SurveyedChannel("meadow", SURVEY)


def said(structure: object, numbers: Numbers, tailwater: Tailwater | None = None) -> dict[str, float]:
    site = Site((structure,), tailwater or FixedLevel())
    samples = len(np.atleast_1d(numbers["flow.design_m3_s"]))
    return {remark.words: remark.share for remark in remarks(site, site.march(numbers, samples), numbers)}


def weir(**changes: object) -> Numbers:
    plain = {**CREST, "sill.approach.section.width_m": 12.0, "sill.crest.flow_factor": 1.0, "sill.crest.angle_deg": 0.0}
    return {**plain, "tailwater.level_m": 10.2, **{name.replace("__", "."): value for name, value in changes.items()}}


def test_a_weir_within_its_limits_says_nothing() -> None:
    assert said(WEIR, weir(flow__design_m3_s=6.0)) == {}


def test_limits_of_a_crest_with_their_share_and_source() -> None:
    """ISO 3846: h at least 0.06 m, h/p up to 1.6, h/L from 0.08; here h is 0.04, 0.6 and 1.7 m over 0.8 and 1.2 m."""
    found = said(WEIR, weir(flow__design_m3_s=np.array([0.1, 6.0, 6.1, 36.0])))
    assert found == {
        "head over the crest [m] below 0.06, the limit in ISO 3846": 0.25,
        "head over the crest's breadth outside 0.08 to 1.6, the limit in ISO 3846": 0.25,
        "head over the crest's height above 1.6, the limit in ISO 3846": 0.25,
    }


def test_nappe_of_a_plate_and_angle_of_a_crest() -> None:
    plate = Weir("sill", "thin_plate", "rectangle")
    found = said(plate, weir(flow__design_m3_s=6.0, tailwater__level_m=10.78, sill__crest__modular_limit=0.0))
    assert [words for words in found if words.startswith("height of the crest above the water below [m] below 0.05")]
    angled = weir(flow__design_m3_s=6.0, sill__crest__angle_deg=np.array([76.0]))
    assert [words for words in said(WEIR, angled) if words.startswith("angle of the crest [deg] outside 0 to 75")]


@pytest.mark.parametrize(
    ("flow", "below", "blockage", "words"),
    [
        (45.0, 10.5, 0.0, "openings choked: they pass the flow at its least energy"),
        (20.0, 12.45, 0.3, "water at the soffit: pressure formulas blended in, judged good to 10 to 30 % of the flow"),
        (0.5, 10.5, 1.0, "no way through the openings"),
        (0.2, 10.5, 1.0, "less than 50 mm of water over the approach road"),
    ],
)
def test_remarks_on_a_bridge(flow: float, below: float, blockage: float, words: str) -> None:
    numbers = {**BRIDGE, "road.blockage": blockage, "flow.design_m3_s": flow, "tailwater.level_m": below}
    assert said(ROAD, numbers)[words] == 1.0


def test_openings_larger_than_the_channel() -> None:
    numbers = {**BRIDGE, "road.blockage": 0.0, "flow.design_m3_s": 2.0, "tailwater.level_m": 10.5}
    words = "openings larger than the channel at the level below: nothing is contracted"
    assert words not in said(ROAD, numbers)
    assert said(ROAD, {**numbers, "road.opening.bed_level_m": 8.9})[words] == 1.0


def test_walls_above_the_end_points_and_several_normal_levels() -> None:
    """The section ends at 4 m. Horton has another normal level above 1.614 m for Q 15, none for Q 60 and Q 300."""
    several = "another normal level for the same flow and roughness"
    walls = "water above an end point of the survey: the section is taken to go on as vertical walls"
    numbers = {**TAIL, **MEADOW, "flow.design_m3_s": np.array([15.0, 60.0, 60.0, 300.0])}
    numbers |= {"tailwater.normal_depth.section.method": 1.0, "meadow.section.method": 1.0}
    site = Site((REACH,), SurveyedNormalDepth(SURVEY))
    found = {(r.element, r.words): r.share for r in remarks(site, site.march(numbers, 4), numbers)}
    assert found == {
        ("tailwater", f"{several} above it: the lowest is taken"): 0.25,
        ("tailwater", walls): 0.25,
        ("meadow", f"{several} in this reach: the lowest is taken"): 0.25,
        ("meadow", walls): 0.25,
    }


def test_walls_above_the_end_points_of_an_approach() -> None:
    """The survey ends 4 m above its lowest point, which its shift puts at 10 m."""
    road = replace(ROAD, approach_shape="surveyed", survey=SURVEY)
    own = {name.replace("meadow", "road.approach"): value for name, value in MEADOW.items() if ".section." in name}
    walls = "water above an end point of the survey: the section is taken to go on as vertical walls"
    for below, share in ((12.4, 0.0), (14.1, 1.0)):
        numbers = {**BRIDGE, **own, "road.approach.section.shift_m": 10.0, "road.blockage": 0.0}
        numbers |= {"flow.design_m3_s": 20.0, "tailwater.level_m": below}
        assert said(road, numbers).get(walls, 0.0) == share


def test_a_steep_surveyed_reach() -> None:
    numbers = {**MEADOW, "meadow.bed_slope": 0.05, "flow.design_m3_s": 20.0, "tailwater.level_m": 1.0}
    assert list(said(REACH, numbers)) == [
        "reach steep for the flow: no subcritical profile, critical depth taken as the level"
    ]


@pytest.mark.parametrize("surveyed", [False, True])
def test_a_tailwater_that_is_supercritical(surveyed: bool) -> None:
    """Slopes of 1 in 1000 and 1 in 10: uniform flow at a Froude number of about 0.4, and of about 3."""
    path = "tailwater.normal_depth"
    plain = {f"{path}.section.width_m": 12.0, f"{path}.manning_n": 0.03, f"{path}.bed_level_m": 0.0}
    numbers = {**TAIL, **MEADOW, **plain, "flow.design_m3_s": np.array([20.0, 20.0, 20.0, 20.0])}
    numbers |= {f"{path}.slope": np.array([0.001, 0.001, 0.001, 0.1]), "meadow.section.method": 0.0}
    site = Site((REACH,), SurveyedNormalDepth(SURVEY) if surveyed else NormalDepth("rectangle"))
    found = {r.words: r.share for r in remarks(site, site.march(numbers, 4), numbers) if r.element == "tailwater"}
    words = "normal flow below is supercritical: its depth counts as the level, critical energy is felt above it"
    assert found[words] == 0.25


def test_levels_beyond_any_sense() -> None:
    """Openings all but shut, no way round: v^2/2g of 0.8 % of the openings is a thousand metres."""
    plain = replace(ROAD, has_deck=False, has_approach_road=False)
    words = "no way through, in effect: the water would have to stand 50 m higher than below"
    numbers = {**BRIDGE, "flow.design_m3_s": 20.0, "tailwater.level_m": 10.5}
    assert words not in said(plain, {**numbers, "road.blockage": 0.3})
    assert said(plain, {**numbers, "road.blockage": 0.992})[words] == 1.0


def test_long_section_of_a_river() -> None:
    """Weir and bridge are drawn over the same short length; the reach lies between them."""
    numbers = {**TAIL, **MEADOW, **BRIDGE, **CREST, "road.blockage": 0.0, "sill.crest.flow_factor": 1.0}
    numbers |= {"sill.approach.section.width_m": 12.0, "flow.design_m3_s": 20.0, "sill.bank_level_m": 12.0}
    numbers |= {"meadow.section.shift_m": 10.0, "meadow.bed_level_m": 10.0}
    site = Site((WEIR, REACH, ROAD), SurveyedNormalDepth(SURVEY))
    stations = long_section(site, numbers, numbers, 1)
    outcome = site.march(numbers)
    assert [station.element for station in stations] == ["tailwater", *["sill"] * 3, *["meadow"] * 4, *["road"] * 3]
    assert stations[0].bed == 10.0
    crest, sill, soffit, road = stations[2], stations[3], stations[-2], stations[-1]
    assert (crest.chainage, crest.bed, crest.road) == (DRAWN_LENGTH, 10.0, 10.8)
    assert (sill.chainage, sill.bank) == (DRAWN_LENGTH, 12.0)
    assert (soffit.chainage, soffit.bed, soffit.roof, soffit.road) == (2 * DRAWN_LENGTH + 200.0, 10.0, 12.3, 12.8)
    assert np.isnan(crest.roof)
    assert np.isnan(road.bank)
    for station, element in ((sill, "sill"), (stations[7], "meadow"), (stations[8], "meadow"), (road, "road")):
        assert station.level == outcome.element(element).level
    assert stations[7].bed == pytest.approx(10.2)
    assert np.all(np.diff([float(station.level[0]) for station in stations]) >= 0.0)
