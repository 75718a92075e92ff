"""What a sound study builds: every number by its dotted name, defaults filled in, uncertain ones as inputs."""
# ruff: noqa: E501  (long lines of a study, tables)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bases import certain_basis
from overbank.hydraulics.tables import inlets, read_table
from overbank.site.tailwater import FixedLevel, NormalDepth, Rating

from .sound import NORMAL_DEPTH, RATING, SOUND, built, edited

BLOCKAGE = "blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }\n"
PATTERN = 'pattern = { discrete = { values = ["uniform", "bottom_up"], weights = [0.7, 0.3] } }\n'
SCREEN = SOUND[SOUND.index("[element.screen]") : SOUND.index("[element.road]")]
NO_DEPENDENCE = (SOUND[SOUND.index("[[dependence]]") :], "")

UNCERTAIN = (
    "flow.design_m3_s",
    "lane.barrel.manning_n",
    "lane.inlet.head_factor",
    "lane.screen.blockage",
    "lane.screen.pattern",
    "lane.road.coefficient",
    "lane.bank_level_m",
    "garden.manning_n",
)
CERTAIN = {
    "tailwater.normal_depth.section.bed_width_m": 2.5,
    "tailwater.normal_depth.section.side_slope": 1.5,
    "tailwater.normal_depth.slope": 0.003,
    "tailwater.normal_depth.manning_n": 0.045,
    "tailwater.normal_depth.bed_level_m": 29.9,
    "lane.barrel.count": 1.0,
    "lane.barrel.span_m": 2.4,
    "lane.barrel.rise_m": 1.5,
    "lane.barrel.length_m": 22.0,
    "lane.barrel.upstream_invert_m": 30.1,
    "lane.barrel.downstream_invert_m": 30.0,
    "lane.inlet.entrance_loss": 0.4,  # FHWA HDS-5, 2nd ed. 2001, Table 12: wingwalls 30 to 75 deg, square crown
    "lane.inlet.exit_loss": 1.0,
    "lane.screen.width_m": 3.6,
    "lane.screen.height_m": 2.0,
    "lane.screen.bar_m": 0.02,
    "lane.screen.gap_m": 0.125,
    "lane.screen.inclination_deg": 60.0,
    "lane.screen.shape_factor": 2.42,  # Kirschmer 1926, rectangle
    "lane.screen.sill_level_m": 30.1,
    "lane.screen.overflow_coefficient": 1.7,
    "lane.road.level_m": 32.6,
    "lane.road.length_m": 14.0,
    "lane.asked.freeboard_to_soffit_m": 0.0,
    "lane.asked.screen_area_ratio": 3.0,
    "garden.section.width_m": 4.0,
    "garden.length_m": 80.0,
    "garden.bed_level_m": 30.1,
    "garden.bed_slope": 0.003,
    "garden.bank_level_m": 32.4,
}


def test_every_number_is_certain_or_an_input(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    assert problem.inputs.names == UNCERTAIN
    assert dict(problem.fixed) == CERTAIN
    assert [each.name for each in problem.followers if each.name not in problem.fixed] == ["lane.barrel.bed_manning_n"]
    assert {item.name for item in problem.assumptions} == {*UNCERTAIN, *CERTAIN, "lane.barrel.bed_manning_n"}


def test_order_of_keys_in_the_file_does_not_change_the_inputs(tmp_path: Path) -> None:
    swapped = edited((BLOCKAGE + PATTERN, PATTERN + BLOCKAGE))
    assert built(tmp_path, swapped).inputs.names == UNCERTAIN


def test_medians_and_samples_carry_every_number(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    medians = problem.medians()
    assert medians.keys() == {*UNCERTAIN, *CERTAIN, "lane.barrel.bed_manning_n"}
    assert medians["flow.design_m3_s"] == pytest.approx(7.5)  # the median that the study gives
    assert medians["lane.barrel.bed_manning_n"] == medians["lane.barrel.manning_n"]
    _, values = problem.inputs.sample("sobol", 64, 3, 4)
    numbers = problem.numbers(values.reshape(64, -1))
    np.testing.assert_array_equal(numbers["lane.barrel.bed_manning_n"], numbers["lane.barrel.manning_n"])
    assert np.shape(numbers["flow.design_m3_s"]) == (64,)
    assert numbers["lane.road.level_m"] == 32.6


def test_the_site_runs_at_the_medians(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    outcome = problem.site.march(problem.medians())
    assert [element.id for element in outcome.elements] == ["lane", "garden"]
    levels = [float(element.level[0]) for element in outcome.elements]
    assert float(outcome.tailwater[0]) < levels[0] < levels[1] < 33.5


def test_basis_evidence_survey_and_dependence_are_kept(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    flow = problem.inputs.items[0]
    assert flow.basis == "estimate"
    bank = problem.inputs.items[problem.inputs.index("lane.bank_level_m")]
    assert bank.survey is not None
    assert (bank.survey.sd_after, bank.survey.cost) == (0.02, 600.0)
    by_name = {item.name: item for item in problem.assumptions}
    assert by_name["flow.design_m3_s"].evidence == "local record"
    assert certain_basis(problem)["lane.barrel.length_m"] == "drawing"
    assert "Table 12" in certain_basis(problem)["lane.inlet.entrance_loss"]
    assert by_name["lane.inlet.entrance_loss"].assumed
    assert not by_name["lane.barrel.length_m"].assumed
    # normal scores of a rank correlation of 0.4 correlate by 2 sin(pi 0.4 / 6) (Pearson 1907; closed form)
    assert problem.inputs.copula.correlation[0, 3] == pytest.approx(0.41582338)
    assert problem.dependences[0].rank_correlation == 0.4


def test_gaps_are_the_uncertain_numbers_without_a_basis(tmp_path: Path) -> None:
    with_basis = {"flow.design_m3_s", "lane.barrel.manning_n"}
    assert built(tmp_path, SOUND).gaps() == tuple(name for name in UNCERTAIN if name not in with_basis)


def test_the_pattern_is_a_number_with_words(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    pattern = problem.inputs.items[problem.inputs.index("lane.screen.pattern")].distribution
    assert pattern.atoms == ((0.0, 0.7), (2.0, 0.3))
    assert pattern.words == "uniform with probability 0.7, bottom_up with probability 0.3"
    certain = built(tmp_path, edited((PATTERN, 'pattern = { value = "floating_raft", basis = "seen" }\n')))
    assert certain.fixed["lane.screen.pattern"] == 1.0
    assert {item.name: item.words for item in certain.assumptions}["lane.screen.pattern"] == "floating_raft"
    assert certain_basis(certain)["lane.screen.pattern"] == "seen"


def test_what_is_left_out_of_a_screen(tmp_path: Path) -> None:
    problem = built(tmp_path, edited((PATTERN, ""), ("inclination_deg = 60\n", "overflow = false\n")))
    assert problem.fixed["lane.screen.pattern"] == 0.0
    assert problem.fixed["lane.screen.inclination_deg"] == 90.0
    assert problem.fixed["lane.screen.overflow_coefficient"] == 0.0


@pytest.mark.parametrize("row", [row for row in read_table("bar_shapes") if row["formula"] == "kirschmer"])
def test_bar_shapes_take_their_published_factor(row: dict[str, str], tmp_path: Path) -> None:
    problem = built(tmp_path, edited(("gap_m = 0.125", f'gap_m = 0.125\nbar_shape = "{row["bar_shape"]}"')))
    assert problem.fixed["lane.screen.shape_factor"] == float(row["shape_factor"])
    assert row["source"] in certain_basis(problem)["lane.screen.shape_factor"]


def test_a_culvert_without_screen_and_road(tmp_path: Path) -> None:
    road = SOUND[SOUND.index("[element.road]") : SOUND.index('[[element]]\nkind = "channel"')]
    problem = built(tmp_path, edited((SCREEN, ""), (road, ""), NO_DEPENDENCE))
    culvert = problem.site.elements[0]
    assert (culvert.has_screen, culvert.has_road) == (False, False)
    assert (problem.fixed["lane.blockage"], problem.fixed["lane.pattern"]) == (0.0, 0.0)
    assert not [name for name in problem.medians() if ".screen." in name or ".road." in name]


def test_a_blocked_culvert_without_screen(tmp_path: Path) -> None:
    blocked = 'id = "lane"\nblockage = { uniform = { low = 0, high = 0.6 } }\npattern = "bottom_up"'
    problem = built(tmp_path, edited((SCREEN, ""), NO_DEPENDENCE, ('id = "lane"', blocked)))
    assert "lane.blockage" in problem.inputs.names
    assert problem.fixed["lane.pattern"] == 2.0


def test_levels_left_out_follow_what_they_stand_on(tmp_path: Path) -> None:
    text = edited(
        ("bed_level_m = 29.9, ", ""),
        ("downstream_invert_m = 30.00", "downstream_invert_m = { uniform = { low = 29.9, high = 30.0 } }"),
        ("upstream_invert_m = 30.10", "upstream_invert_m = { uniform = { low = 30.1, high = 30.2 } }"),
        ("bed_level_m = 30.1\n", ""),
    )
    reach = '[[element]]\nkind = "channel"\nid = "field"\nsection = { shape = "rectangle", width_m = 4.0 }\n'
    reach += "length_m = 50.0\nbed_slope = 0.002\nmanning_n = 0.05\n\n[[dependence]]"
    problem = built(tmp_path, text.replace("[[dependence]]", reach))
    _, values = problem.inputs.sample("monte_carlo", 16, 3, 2)
    numbers = problem.numbers(values.reshape(16, -1))
    inlet, outlet = numbers["lane.barrel.upstream_invert_m"], numbers["lane.barrel.downstream_invert_m"]
    np.testing.assert_array_equal(numbers["tailwater.normal_depth.bed_level_m"], outlet)
    np.testing.assert_array_equal(numbers["lane.screen.sill_level_m"], inlet)
    np.testing.assert_array_equal(numbers["garden.bed_level_m"], inlet)
    np.testing.assert_allclose(numbers["field.bed_level_m"], inlet + 0.003 * 80.0)
    words = {item.name: item.words for item in problem.assumptions}
    assert words["field.bed_level_m"] == "follows garden.bed_level_m + garden.bed_slope x garden.length_m"
    problem.site.march(numbers, 16)


def test_certain_levels_left_out_are_certain(tmp_path: Path) -> None:
    problem = built(tmp_path, edited(("bed_level_m = 29.9, ", ""), ("bed_level_m = 30.1\n", "")))
    assert problem.fixed["tailwater.normal_depth.bed_level_m"] == 30.0
    assert problem.fixed["garden.bed_level_m"] == 30.1


@pytest.mark.parametrize(
    ("tailwater", "kind", "name"),
    [
        (NORMAL_DEPTH, NormalDepth("trapezoid"), "tailwater.normal_depth.slope"),
        ("level_m = 31.0", FixedLevel(), "tailwater.level_m"),
        ('rating = "tailwater.csv"', Rating((0.0, 5.0, 10.0, 20.0), (29.9, 30.8, 31.2, 31.6)), "tailwater.rating_shift_m"),
    ],
)  # fmt: skip
def test_tailwaters(tailwater: str, kind: object, name: str, tmp_path: Path) -> None:
    (tmp_path / "tailwater.csv").write_text(RATING, encoding="utf-8")
    problem = built(tmp_path, edited((NORMAL_DEPTH, tailwater)))
    assert problem.site.tailwater == kind
    assert name in problem.fixed
    problem.site.march(problem.medians())


def test_an_uncertain_rating_shift_is_an_input(tmp_path: Path) -> None:
    (tmp_path / "tailwater.csv").write_text(RATING, encoding="utf-8")
    shifted = 'rating = "tailwater.csv"\nrating_shift_m = { normal = { mean = 0, sd = 0.05 } }'
    assert "tailwater.rating_shift_m" in built(tmp_path, edited((NORMAL_DEPTH, shifted))).inputs.names


BARRELS = {
    "box": "span_m = 2.4\nrise_m = 1.5",
    "pipe": "diameter_m = 1.8",
    "ellipse": "span_m = 2.4\nrise_m = 1.5",
    "arch": "span_m = 2.4\nrise_m = 1.5\nwall_height_m = 0.6",
    "pipe_arch": "span_m = 2.4\nrise_m = 1.5\ncorner_radius_m = 0.4\ncorner_height_m = 0.6",
    "egg": "span_m = 1.6\nrise_m = 2.4",
    "horseshoe": "diameter_m = 1.8",
    "traced": "points = [[0, 0.1, 1.2], [0.9, 0, 1.6], [2.4, 0.1, 1.2]]",
}


@pytest.mark.parametrize(("shape", "edge"), sorted(inlets()))
def test_every_inlet_of_every_shape_can_be_written(shape: str, edge: str, tmp_path: Path) -> None:
    text = edited(
        ('shape = "box"', f'shape = "{shape}"'),
        ("span_m = 2.4\nrise_m = 1.5", BARRELS[shape]),
        ("wingwalls 30 to 75 deg", edge),
    )
    problem = built(tmp_path, text)
    culvert = problem.site.elements[0]
    assert culvert.inlet == inlets()[shape, edge]
    assert problem.fixed["lane.inlet.entrance_loss"] == culvert.inlet.entrance_loss
    assert np.isfinite(problem.site.march(problem.medians()).elements[0].level).all()


def test_defaults_of_the_run_and_of_the_bank_that_counts(tmp_path: Path) -> None:
    text = edited(("[run]\nsamples = 1024\nreplicates = 8\nseed = 3\n", ""), ('at = "lane"\n', ""))
    bank = SOUND[SOUND.index("bank_level_m = { normal") : SOUND.index("[element.barrel]")]
    problem = built(tmp_path, text.replace(bank, "\n"))
    assert problem.at == "garden"
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    from overbank.study.load import read_study

    run = read_study(tmp_path).content.run
    assert (run.samples, run.replicates, run.design, run.seed) == (16384, 16, "sobol", 1)
