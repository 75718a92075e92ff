"""Weir, bridge and surveyed reach in the row: what they take from the numbers is what the formulas take."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest

from overbank.hydraulics import bridges, crests, sections, surveyed, surveyed_levels, weir_level
from overbank.hydraulics.crests import KINDS
from overbank.hydraulics.surveyed_table import survey_table
from overbank.site.bridge import Bridge
from overbank.site.channel import Channel, SurveyedChannel
from overbank.site.numbers import Numbers, Water
from overbank.site.row import Site
from overbank.site.structure import Structure
from overbank.site.surveyed import SEVERAL, SurveyedNormalDepth, SurveyedSection
from overbank.site.tailwater import FixedLevel
from overbank.site.weir import Weir

FLOW = np.array([4.0, 20.0, 45.0])
BELOW = Water(np.array([10.2, 11.0, 11.9]), np.array([10.25, 11.1, 12.0]))
CREST = {
    "sill.crest.level_m": 10.8,
    "sill.crest.width_m": 9.0,
    "sill.crest.breadth_m": 1.2,
    "sill.crest.angle_deg": 25.0,
    "sill.crest.oblique_gain": 0.8,
    "sill.crest.flow_factor": np.array([0.95, 1.0, 1.05]),
    "sill.crest.coefficient": 1.9,
    "sill.crest.modular_limit": 0.7,
    "sill.approach.bed_level_m": 10.0,
}
NEEDED = {"broad_crested": "breadth_m", "round_nosed": "breadth_m", "given": "coefficient"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("shape", ["rectangle", "trapezoid"])
def test_a_weir_takes_what_its_kind_has(kind: str, shape: str) -> None:
    channel = {"width_m": 12.0} if shape == "rectangle" else {"bed_width_m": 10.0, "side_slope": 1.0}
    numbers: Numbers = {
        **CREST,
        **{f"sill.approach.section.{key}": value for key, value in channel.items()},
        "sill.crest.modular_limit": 0.0 if kind == "thin_plate" else 0.7,
    }
    unused = {"breadth_m", "coefficient"} - {NEEDED.get(kind)} | ({"modular_limit"} if kind == "triangular" else set())
    numbers = {name: value for name, value in numbers.items() if name.removeprefix("sill.crest.") not in unused}
    weir = Weir("sill", kind, shape)
    found = weir.solve(FLOW, BELOW, numbers)
    own = sections.rectangle(12.0, 0.03) if shape == "rectangle" else sections.trapezoid(10.0, 1.0, 0.03)
    ratio = 9.0 / (12.0 if shape == "rectangle" else 10.0)
    plate = crests.plate_row(ratio) if kind == "thin_plate" else weir_level.NO_PLATE
    for i, flow in enumerate(FLOW):
        crest = weir_level.Crest(
            approach=own,
            plate=plate,
            kind=float(KINDS.index(kind)),
            level=10.8,
            width=9.0,
            breadth=0.0 if "breadth_m" in unused else 1.2,
            angle_deg=25.0,
            gain=0.8,
            factor=CREST["sill.crest.flow_factor"][i],
            coefficient=1.9 if kind == "given" else 0.0,
            modular_limit=0.0 if kind in ("thin_plate", "triangular") else 0.7,
            approach_bed=10.0,
        )
        expected = weir_level.weir_state(crest, flow, BELOW.level[i], BELOW.energy[i])
        assert [found[name][i] for name in expected._fields] == pytest.approx(list(expected), rel=1e-12)
    water = weir.headwater(FLOW, BELOW, numbers)
    np.testing.assert_array_equal(water.level, found["level"])
    np.testing.assert_array_equal(water.energy, found["energy"])


BRIDGE = {
    "road.opening.span_m": 4.0,
    "road.opening.rise_m": 2.4,
    "road.opening.wall_height_m": 1.0,
    "road.opening.count": 2.0,
    "road.opening.bed_level_m": 9.9,
    "road.side_opening.diameter_m": 1.5,
    "road.side_opening.count": 3.0,
    "road.side_opening.bed_level_m": 11.0,
    "road.approach.section.width_m": 14.0,
    "road.approach.bed_level_m": 10.0,
    "road.skew.angle_deg": 30.0,
    "road.skew.pier_length_m": 1.0,
    "road.contraction_loss": 0.3,
    "road.expansion_loss": 0.5,
    "road.sluice_coefficient": 0.5,
    "road.orifice_coefficient": 0.8,
    "road.afflux_factor": 1.2,
    "road.blockage": np.array([0.0, 0.3, 0.6]),
    "road.pattern": 1.0,
    "road.deck.level_m": 12.8,
    "road.deck.length_m": 12.0,
    "road.deck.coefficient": 1.6,
    "road.approach_road.level_m": 12.5,
    "road.approach_road.length_m": 20.0,
    "road.approach_road.coefficient": 1.5,
}


def raft_under(blockage: float, *groups: bridges.Openings) -> bridges.Bridge:
    """The formula's bridge of these numbers, with a raft under it."""
    clear = bridges.side_by_side(*(bridges.cleared(group, blockage, 1.0) for group in groups))
    share = 0.967  # of the flow at a skew of 30 degrees, HDS-5 table 7
    lost = (1.3 / share**2 - 1.0, 0.5, 0.5 * share, 0.8 * share)
    return bridges.Bridge(clear, sections.rectangle(14.0, 0.03), 10.0, *lost, 1.2)


@pytest.mark.parametrize("along_road", [True, False])
@pytest.mark.parametrize("square_piers", [True, False])
def test_a_bridge_projects_its_spans_once(along_road: bool, square_piers: bool) -> None:
    bridge = Bridge("road", ("arch", "pipe"), "rectangle", along_road, square_piers, True, True)
    found = bridge.solve(FLOW, BELOW, BRIDGE)
    projected = cos(radians(30.0)) if along_road else 1.0
    piers = 4.0 / 5.0 * sin(radians(30.0)) if square_piers else 0.0  # 1 m long, four of them between five spans
    arch, pipe = (projected - piers / span for span in (4.0, 1.5))
    for i, flow in enumerate(FLOW):
        expected = bridges.bridged(
            raft_under(
                BRIDGE["road.blockage"][i],
                bridges.Openings(sections.arch(4.0, 2.4, 1.0, 0.03), 2.0, arch, 9.9),
                bridges.Openings(sections.pipe(1.5, 0.03), 3.0, pipe, 11.0),
            ),
            bridges.Deck(12.8, 12.0, 1.6, 12.5, 20.0, 1.5),
            flow,
            BELOW.level[i],
        )
        assert [found[name][i] for name in expected._fields] == pytest.approx(list(expected), rel=1e-10)


def test_a_plain_bridge_has_no_side_openings_nor_crests() -> None:
    plain = Bridge("road", ("arch",), "rectangle", False, False, False, False)
    numbers = {name: value for name, value in BRIDGE.items() if "side" not in name and "deck" not in name}
    numbers = {name: value for name, value in numbers.items() if "approach_road" not in name}
    found = plain.solve(FLOW, BELOW, numbers)
    alone = raft_under(
        0.6,
        bridges.Openings(sections.arch(4.0, 2.4, 1.0, 0.03), 2.0, 1.0, 9.9),
        bridges.Openings(sections.rectangle(0.0, 0.03), 0.0, 1.0, 0.0),
    )
    assert found["level"][2] == bridges.bridge_level(alone, bridges.Deck(0.0, 0.0, 0.0, 0.0, 0.0, 0.0), 45.0, 11.9)
    assert not found["deck_flow"].any()


def net_width(spans: int, angle: float, side: int = 0) -> float:
    """Clear width across the flow of spans 6 m along the road with piers 4 m long that stand square to it."""
    numbers = {
        "road.skew.angle_deg": angle,
        "road.skew.pier_length_m": 4.0,
        "road.opening.span_m": 6.0,
        "road.opening.count": float(spans),
        "road.side_opening.span_m": 3.0,
        "road.side_opening.count": float(side),
    }
    shapes = ("box", "box") if side else ("box",)
    road = Bridge("road", shapes, "rectangle", True, True, False, False)
    main = spans * 6.0 * float(np.asarray(road.width_factor(numbers, "road.opening", "box")))
    return main + (
        side * 3.0 * float(np.asarray(road.width_factor(numbers, "road.side_opening", "box"))) if side else 0
    )


def test_piers_square_to_the_road_take_their_length_once_each() -> None:
    """By hand at 30 degrees, piers w wide: the opening b cos(phi), b = n 6 + (n - 1) w, less n - 1 piers of
    w cos(phi) + 4 sin(phi). So 5.196 m of one span, 8.392 of two, 11.588 of three; two groups stand in one row.

    The opening b cos(phi): HDS-1 (1978), figure 7 (read in a scan without a title that matches it); piers at their
    width square to the flow: common practice, no source.
    """
    for spans, by_hand in ((1, 5.1962), (2, 8.3923), (3, 11.5885)):
        assert net_width(spans, 30.0) == pytest.approx(by_hand, abs=1e-4)
    across = 2 * 6.0 * cos(radians(30.0)) + 3.0 * cos(radians(30.0)) - 2 * 4.0 * sin(radians(30.0))
    assert net_width(2, 30.0, side=1) == pytest.approx(across)
    for spans in (1, 2, 3):
        widths = [net_width(spans, angle) for angle in np.linspace(0.0, 60.0, 13)]
        assert widths[0] == pytest.approx(6.0 * spans)
        assert np.all(np.diff(widths) < 0.0)


def test_piers_across_the_flow_leave_a_span_its_least_share() -> None:
    shut = Bridge("road", ("arch",), "rectangle", True, True, False, False)
    factor = shut.width_factor({**BRIDGE, "road.skew.pier_length_m": 90.0}, "road.opening", "arch")
    assert factor == 0.05


# --- surveyed sections -----------------------------------------------------------------------------------

OFFSETS = np.array([0.0, 2.0, 12.0, 14.0, 16.0, 20.0, 22.0, 24.0, 38.0, 40.0])
LEVELS = np.array([4.0, 2.0, 1.8, 0.2, 0.0, 0.0, 0.3, 1.8, 2.1, 4.0])
SURVEY = SurveyedSection(survey_table(OFFSETS, LEVELS, (12.0, 24.0)), 4.0)


def of_survey(path: str, **others: float) -> dict[str, float]:
    zones = {f"section.zone_{zone + 1}.manning_n": n for zone, n in enumerate((0.06, 0.035, 0.05))}
    own = {**zones, "section.method": 0.0, "section.shift_m": 0.0, **others}
    return {f"{path}.{key}": value for key, value in own.items()}


TAIL = of_survey("tailwater.normal_depth", slope=0.001)
MEADOW = of_survey("meadow", length_m=200.0, bed_slope=0.001)


def test_normal_depth_in_a_survey_is_the_published_level() -> None:
    """Q 60, S 0.001: 2.88398 subdivided, 3.21616 by Horton, 3.22734 by Pavlovskii (computed independently)."""
    for method, expected in enumerate((2.88398, 3.21616, 3.22734)):
        numbers = {**TAIL, "tailwater.normal_depth.section.method": float(method)}
        water = SurveyedNormalDepth(SURVEY).water(numbers, np.array([60.0]))
        assert water.level[0] == pytest.approx(expected, abs=1e-5)
        assert water.energy[0] > water.level[0]


def test_several_normal_levels_the_lowest_is_taken_and_their_share_told() -> None:
    """Horton, S 0.001: three normal levels for Q 15, 1.61410 the lowest; one for Q 60."""
    numbers = {**TAIL, "tailwater.normal_depth.section.method": 1.0}
    tailwater, flow = SurveyedNormalDepth(SURVEY), np.array([15.0, 60.0, 15.0, 60.0])
    assert tailwater.water(numbers, flow).level[0] == pytest.approx(1.61410, abs=1e-5)
    told = dict(tailwater.remarks(numbers, flow, tailwater.water(numbers, flow).level))
    assert told[SEVERAL] == 0.5


def test_a_reach_of_the_survey_on_its_normal_level_keeps_it() -> None:
    numbers = {**TAIL, **MEADOW, "flow.design_m3_s": 60.0, "meadow.bank_level_m": 3.5}
    site = Site((SurveyedChannel("meadow", SURVEY),), SurveyedNormalDepth(SURVEY))
    outcome = site.march(numbers, 2)
    meadow = outcome.element("meadow")
    assert meadow.level == pytest.approx(outcome.tailwater + 0.2, abs=1e-5)
    assert meadow.results["depth"] == pytest.approx(2.88398, abs=1e-5)
    s = surveyed.Surveyed(SURVEY.table, np.array([0.06, 0.035, 0.05]), 0.0, 0.0)
    assert meadow.results["alpha"] == pytest.approx(surveyed.energy_coefficient(s, 2.88398), rel=1e-5)
    assert site.levels(numbers, 2, ("meadow",))[0] == pytest.approx(meadow.level, abs=1e-12)
    assert meadow.governs() == "subcritical"


def test_zones_method_and_shift_may_differ_from_sample_to_sample() -> None:
    zone = np.array([0.03, 0.04])
    numbers = {**MEADOW, "meadow.section.zone_2.manning_n": zone, "meadow.section.method": np.array([0.0, 2.0])}
    numbers |= {"meadow.section.shift_m": np.array([0.0, 0.3]), "flow.design_m3_s": 40.0, "tailwater.level_m": 1.0}
    site = Site((SurveyedChannel("meadow", SURVEY),), FixedLevel())
    together = site.march(numbers, 2).element("meadow")
    for i in range(2):
        one = {name: float(np.asarray(value).flat[-1 if i else 0]) for name, value in numbers.items()}
        assert site.march(one).element("meadow").level[0] == together.level[i]
        s = surveyed.Surveyed(SURVEY.table, np.array([0.06, zone[i], 0.05]), 2.0 * i, 0.3 * i)
        critical = surveyed_levels.critical_level(s, 40.0).level
        assert together.results["depth_below"][i] == pytest.approx(critical - 0.3 * i, abs=1e-9)


def test_a_missing_number_is_a_missing_level() -> None:
    """Of a weir, a bridge and a surveyed reach: a nan in one sample stays in that sample."""
    factor = np.array([1.0, np.nan, 1.0])
    weir = {**CREST, "sill.crest.flow_factor": factor, "sill.approach.section.width_m": 12.0}
    road = {**BRIDGE, "road.afflux_factor": factor}
    reach = {**MEADOW, "meadow.section.zone_2.manning_n": 0.035 * factor}
    for structure, numbers in (
        (Weir("sill", "broad_crested", "rectangle"), weir),
        (Bridge("road", ("arch", "pipe"), "rectangle", True, False, True, True), road),
        (SurveyedChannel("meadow", SURVEY), reach),
    ):
        assert np.isnan(structure.headwater(FLOW, BELOW, numbers).level).tolist() == [False, True, False]
        assert np.isnan(structure.solve(FLOW, BELOW, numbers)["level"]).tolist() == [False, True, False]
    tail = {**TAIL, "tailwater.normal_depth.section.zone_1.manning_n": 0.06 * factor}
    assert np.isnan(SurveyedNormalDepth(SURVEY).water(tail, FLOW).level).tolist() == [False, True, False]


# --- words -----------------------------------------------------------------------------------------------


SILL = Weir("sill", "given", "rectangle")
ROAD = Bridge("road", ("box",), "rectangle", False, False, has_deck=True, has_approach_road=False)


@pytest.mark.parametrize(
    ("structure", "state", "words"),
    [
        (SILL, {"regime": 1.0}, "free flow over the crest"),
        (SILL, {"regime": 2.0}, "crest drowned from below"),
        (SILL, {"regime": 3.0}, "critical depth upstream of the crest"),
        (SILL, {"regime": 9.0}, "no crest to flow over"),
        (ROAD, {"regime": 1.0, "over_deck": 0.0}, "free surface in the openings"),
        (ROAD, {"regime": 2.0, "over_deck": 0.0}, "openings choked, critical flow in them"),
        (
            *(ROAD, {"regime": 3.0, "over_deck": 1.0}),
            "soffit drowned upstream, free below; flow over the deck or its approaches",
        ),
        (
            *(ROAD, {"regime": 4.0, "over_deck": 1.0}),
            "openings drowned on both sides; flow over the deck or its approaches",
        ),
        (
            *(ROAD, {"regime": 9.0, "over_deck": 1.0}),
            "no way through the openings; flow over the deck or its approaches",
        ),
        (Channel("reach", "rectangle"), {"regime": 0.0}, "subcritical"),
    ],
)
def test_what_governs_in_words(structure: Structure, state: dict[str, float], words: str) -> None:
    assert structure.governs(state) == words
