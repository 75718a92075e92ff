"""Weirs, bridges and surveyed sections in a study: what is built, and what stands in for what is left out."""
# ruff: noqa: E501  (long lines of a study, tables)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bases import certain_basis
from overbank.hydraulics.crests import KINDS
from overbank.hydraulics.surveyed import METHODS
from overbank.hydraulics.tables import read_table
from overbank.site.bridge import Bridge
from overbank.site.channel import SurveyedChannel
from overbank.site.surveyed import SurveyedNormalDepth
from overbank.site.weir import Weir

from .river import BRIDGE, REACH, RIVER, TAILWATER, WEIR, WOOD, built_river, in_surveyed_channels, read_river
from .sound import edited

UNCERTAIN = (
    "flow.design_m3_s",
    "sill.crest.flow_factor",
    "meadow.section.zone_2.manning_n",
    "meadow.section.method",
    "meadow.section.shift_m",
    "road.blockage",
)
BREADTH = "breadth_m = 1.5\n"


def river(*changes: tuple[str, str]) -> str:
    return edited(*changes, text=RIVER)


def test_every_number_is_certain_or_an_input_or_follows_one(tmp_path: Path) -> None:
    problem = built_river(tmp_path)
    assert problem.inputs.names == UNCERTAIN
    assert [each.name for each in problem.followers if each.name not in problem.fixed] == ["meadow.bed_level_m"]
    assert {item.name for item in problem.assumptions} == {*UNCERTAIN, *problem.fixed, "meadow.bed_level_m"}


def test_structures_of_the_river(tmp_path: Path) -> None:
    site = built_river(tmp_path).site
    assert isinstance(site.tailwater, SurveyedNormalDepth)
    sill, meadow, road, _ = site.elements
    assert sill == Weir("sill", "broad_crested", "rectangle")
    assert isinstance(meadow, SurveyedChannel)
    assert (meadow.survey.zones, meadow.survey.height) == (3, 4.0)
    assert road == Bridge("road", ("arch", "pipe"), "trapezoid", True, False, True, True)


def test_the_river_runs_at_the_medians_and_for_samples(tmp_path: Path) -> None:
    problem = built_river(tmp_path)
    outcome = problem.site.march(problem.medians())
    levels = [float(outcome.tailwater[0]), *(float(element.level[0]) for element in outcome.elements)]
    assert np.all(np.diff(levels) > 0.0)
    _, values = problem.inputs.sample("sobol", 256, 3, 4)
    numbers = problem.numbers(values.reshape(256, -1))
    sampled = problem.site.march(numbers, 256)
    assert all(np.isfinite(element.level).all() for element in sampled.elements)
    for element in sampled.elements:
        only = problem.site.levels(numbers, 256, (element.id,))[0]
        np.testing.assert_allclose(only, element.level, atol=1e-12)


def test_beds_of_what_lies_above_follow_the_approach_and_the_survey(tmp_path: Path) -> None:
    """The lowest surveyed point is 10.0; a reach above stands on the bed at the upstream end of what lies below it."""
    assert built_river(tmp_path).fixed["wood.bed_level_m"] == 10.15
    on_weir = river((WEIR, ""), (REACH, ""), (WOOD, "")) + WEIR + WOOD
    assert built_river(tmp_path, on_weir).fixed["wood.bed_level_m"] == 10.0
    on_survey = river((BRIDGE, ""), ('at = "road"\n', ""))
    problem = built_river(tmp_path, on_survey)
    numbers = problem.medians()
    assert numbers["meadow.bed_level_m"] == pytest.approx(10.0)
    assert numbers["wood.bed_level_m"] == pytest.approx(10.0 + 0.001 * 120)


def test_the_bed_of_the_tailwater_stands_on_the_approach_of_a_bridge_and_on_a_survey(tmp_path: Path) -> None:
    plain = 'normal_depth = { slope = 0.0015, manning_n = 0.04, section = { shape = "rectangle", width_m = 14 } }'
    first = river(
        (WEIR, ""), (TAILWATER, plain), ("shift_m = { normal = { mean = 0.0, sd = 0.02 } }", "shift_m = 0.25")
    )
    assert built_river(tmp_path, first).fixed["tailwater.normal_depth.bed_level_m"] == 10.25
    on_bridge = river((WEIR, ""), (REACH, ""), (TAILWATER, plain))
    assert built_river(tmp_path, on_bridge).fixed["tailwater.normal_depth.bed_level_m"] == 10.15


def test_a_weir_and_a_bridge_in_a_surveyed_channel(tmp_path: Path) -> None:
    """Their beds are the lowest point, 9.2, and its shift; the roughness of the zones tells alpha."""
    problem = built_river(tmp_path, in_surveyed_channels())
    medians = problem.medians()
    assert medians["sill.approach.bed_level_m"] == pytest.approx(9.9)
    assert medians["road.approach.bed_level_m"] == pytest.approx(9.8)
    assert medians["wood.bed_level_m"] == pytest.approx(9.8)
    assert "road.approach.section.shift_m" in problem.inputs.names
    outcome = problem.site.march(medians)
    for name in ("sill", "road"):
        assert 1.0 < outcome.element(name).results["alpha"][0] < 1.2
        assert outcome.element(name).level[0] < 13.4
    _, values = problem.inputs.sample("sobol", 64, 3, 4)
    sampled = problem.site.march(problem.numbers(values.reshape(64, -1)), 64)
    assert all(np.isfinite(element.level).all() for element in sampled.elements)


def test_width_of_a_crest_is_that_of_a_rectangular_channel(tmp_path: Path) -> None:
    assert built_river(tmp_path).fixed["sill.crest.width_m"] == 16.0
    narrow = river(("breadth_m = 1.5", "breadth_m = 1.5\nwidth_m = 9.0"))
    assert built_river(tmp_path, narrow).fixed["sill.crest.width_m"] == 9.0


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_crest_with_its_published_modular_limit(kind: str, tmp_path: Path) -> None:
    own = {"broad_crested": BREADTH, "round_nosed": BREADTH, "given": "coefficient = 1.8\n"}.get(kind, "")
    problem = built_river(tmp_path, river(('kind = "broad_crested"', f'kind = "{kind}"'), (BREADTH, own)))
    limit = problem.fixed.get("sill.crest.modular_limit")
    rows = [row for row in read_table("crest_modular_limits") if row["kind"] == kind]
    if kind == "triangular":  # drowned along a curve of its own
        assert limit is None
    else:
        assert limit == float(rows[0]["mode"])
        assert rows[0]["source"] in certain_basis(problem)["sill.crest.modular_limit"]
    outcome = problem.site.march(problem.medians())
    assert 11.2 < outcome.element("sill").level[0] < 12.2


def test_a_modular_limit_of_the_users_own(tmp_path: Path) -> None:
    text = river((BREADTH, BREADTH + "modular_limit = { uniform = { low = 0.6, high = 0.7 } }\n"))
    assert "sill.crest.modular_limit" in built_river(tmp_path, text).inputs.names


def test_what_a_bridge_leaves_out(tmp_path: Path) -> None:
    skew = next(line for line in RIVER.splitlines() if line.startswith("skew"))
    blockage = 'blockage = { beta = { a = 1.2, b = 5.0 }, basis = "judged" }\npattern = "floating_raft"\n'
    side = next(line for line in RIVER.splitlines() if line.startswith("side_opening"))
    deck = RIVER[RIVER.index("deck = ") : RIVER.index("bank_level_m = 13.3")]
    problem = built_river(tmp_path, river((skew, ""), (blockage, ""), (side, ""), (deck, "")))
    assert problem.site.elements[2] == Bridge("road", ("arch",), "trapezoid", False, False, False, False)
    taken = {name.removeprefix("road."): value for name, value in problem.fixed.items() if name.startswith("road.")}
    # 0.3 and 0.5 near bridges (common practice); 0.5 and 0.8: TxDOT, Hydraulic Design Manual, chapter 9 section 4
    usual = {
        "contraction_loss": 0.3,
        "expansion_loss": 0.5,
        "sluice_coefficient": 0.5,
        "orifice_coefficient": 0.8,
        "afflux_factor": 1.0,
        "blockage": 0.0,
        "pattern": 0.0,
        "skew.angle_deg": 0.0,
    }
    assert {name: taken[name] for name in usual} == usual
    assert "TxDOT" in certain_basis(problem)["road.sluice_coefficient"]
    assert "from memory, unverified" in certain_basis(problem)["road.contraction_loss"]


def test_skew_says_which_length_is_given(tmp_path: Path) -> None:
    """20 degrees: a length along the road counts cos(20) of itself, one square to the flow the whole. Of two piers between
    three spans each span bears two thirds of one.
    """

    def factor(text: str) -> float:
        problem = built_river(tmp_path, text)
        bridge = problem.site.elements[2]
        assert isinstance(bridge, Bridge)
        return float(bridge.width_factor(problem.medians(), "road.opening", "arch"))

    assert factor(RIVER) == pytest.approx(0.9396926)
    assert factor(river(('"along the road"', '"square to the flow"'))) == 1.0
    piers = 'spans = "along the road", piers = "square to the road", pier_length_m = 2.0'
    across = factor(river(('spans = "along the road"', piers)))
    assert across == pytest.approx(0.9396926 - 2.0 / 3.0 * 2.0 * 0.3420201 / 6.0)


def test_the_rule_of_roughness_is_a_number_with_words(tmp_path: Path) -> None:
    problem = built_river(tmp_path)
    method = problem.inputs.items[problem.inputs.index("meadow.section.method")]
    assert method.distribution.atoms == ((0.0, 0.7), (1.0, 0.3))
    assert method.basis == "open"
    uncertain = RIVER[RIVER.index("method = ") : RIVER.index("shift_m")]
    for code, word in enumerate(METHODS):
        certain = built_river(tmp_path, river((uncertain, f'method = "{word}"\n')))
        assert certain.fixed["meadow.section.method"] == code
        assert {item.name: item.words for item in certain.assumptions}["meadow.section.method"] == word


def test_a_dependence_between_zones(tmp_path: Path) -> None:
    pair = '\n[[dependence]]\nbetween = ["meadow.section.zone_2.manning_n", "meadow.section.shift_m"]\nrank_correlation = 0.5\n'
    assert built_river(tmp_path, RIVER + pair).dependences[0].rank_correlation == 0.5


def test_points_of_a_survey_are_kept(tmp_path: Path) -> None:
    section = read_river(tmp_path).content.element[1].section
    assert section.points.offsets[:3] == (0.0, 2.0, 12.0)
    assert section.divisions == (12.0, 24.0)
