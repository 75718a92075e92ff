"""The starter study and the invented study: sound, complete, and sensible at the medians."""

from __future__ import annotations

from pathlib import Path

import pytest

import overbank.study
from overbank.commands.cli import SCHEMA, Kind
from overbank.study.build import build
from overbank.study.load import read_study
from overbank.study.requirements import SUBJECTS
from overbank.study.slips import slips

STARTER = Path(overbank.study.__file__).parent / "starter"
QUILLET_LANE = Path(__file__).parents[2] / "studies" / "quillet-lane"


KINDS = [STARTER / f"{kind.value}.toml" for kind in Kind]


@pytest.mark.parametrize("file", [*KINDS, QUILLET_LANE], ids=lambda path: path.stem)
def test_a_study_of_ours_is_sound_and_says_that_it_is_invented(file: Path) -> None:
    study = read_study(file)
    assert "(invented)" in study.title
    problem = build(study)
    outcome = problem.site.march(problem.medians())
    element = outcome.element(problem.at)
    assert element.bank_level is not None
    assert outcome.tailwater[0] < element.level[0] < element.bank_level[0], "dry at the medians"
    _, values = problem.inputs.sample("sobol", 1024, 1, 2)
    wet = problem.site.march(problem.numbers(values.reshape(1024, -1)), 1024).element(problem.at)
    assert wet.bank_level is not None
    assert 0.02 < float((wet.level > wet.bank_level).mean()) < 0.5, "a probability worth a study"


@pytest.mark.parametrize("file", KINDS, ids=lambda path: path.stem)
def test_a_starter_has_a_line_for_editors_and_no_slip(file: Path) -> None:
    study = read_study(file)
    assert study.text.startswith(f"#:schema {SCHEMA}\n")
    assert slips(study, build(study)) == ()
    assert max(map(len, study.text.splitlines())) < 250


def test_every_starter_is_one_to_begin_from() -> None:
    assert {path.name for path in STARTER.glob("*.toml")} == {*(path.name for path in KINDS), "requirements.toml"}


def test_every_uncertain_number_of_quillet_lane_has_a_basis_and_its_evidence() -> None:
    problem = build(read_study(QUILLET_LANE))
    assert problem.gaps() == ()
    assert all(item.evidence for item in problem.assumptions if item.uncertain)
    assert all(dependence.basis for dependence in problem.dependences)
    assert sum(item.survey is not None for item in problem.inputs.items) >= 2


def test_what_the_starter_shows_as_a_choice_is_sound_too(tmp_path: Path) -> None:
    """Lines that are commented out can be put in place of what they replace."""
    text = (STARTER / "screen.toml").read_text(encoding="utf-8")
    for comment in (
        "bed_manning_n",
        "entrance_loss",
        "exit_loss",
        "sill_level_m",
        "overflow_coefficient",
        "bed_level_m",
    ):
        assert text.count(f"# {comment}") == 1
        text = text.replace(f"# {comment}", comment)
    kept = [line for line in text.splitlines() if not line.startswith(('pattern         = "', "normal_depth"))]
    text = "\n".join(kept).replace("# pattern ", "pattern ").replace("# rating", "rating")
    (tmp_path / "tailwater.csv").write_text("flow_m3_s,level_m\n0,29.9\n10,31\n30,32\n", encoding="utf-8")
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    problem = build(read_study(tmp_path))
    assert {"row.screen.pattern", "tailwater.rating_shift_m"} <= set(problem.inputs.names)
    assert problem.fixed["row.barrel.bed_manning_n"] == 0.035


def test_the_tables_that_the_starter_ends_with_are_sound(tmp_path: Path) -> None:
    text = (STARTER / "screen.toml").read_text(encoding="utf-8")
    last = text.index("# [[alternative]]")
    shown = [line.removeprefix("# ") for line in text[last:].splitlines() if " = " in line or "[[" in line]
    (tmp_path / "study.toml").write_text("\n".join([text[:last], *shown]), encoding="utf-8")
    study = read_study(tmp_path)
    assert list(study.alternatives) == ["wider gaps between the bars"]
    assert len(study.content.observation) == 1
    assert [each.name for each in study.content.receptor] == ["sill of the first house"]


def test_the_example_of_an_authority_s_figures_is_sound_and_says_that_it_is_invented(tmp_path: Path) -> None:
    """It goes with the starter study as soon as the study names it, and explains every subject."""
    asked = (STARTER / "requirements.toml").read_text(encoding="utf-8")
    text = (STARTER / "screen.toml").read_text(encoding="utf-8")
    assert text.count("# requirements ") == 1
    (tmp_path / "requirements.toml").write_text(asked, encoding="utf-8")
    (tmp_path / "study.toml").write_text(text.replace("# requirements ", "requirements "), encoding="utf-8")
    found = read_study(tmp_path).content.decision.requirements
    assert found is not None
    assert "invented" in found.authority
    assert all("invented" in line.reference for line in found.line)
    assert all(f'"{subject}"' in asked for subject in SUBJECTS)
