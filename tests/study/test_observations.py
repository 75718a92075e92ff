"""Floods seen, as a study writes them: what is read, what is refused, what the register says."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault

from .sound import SOUND, built, edited, faults, line_of, only_fault, read

MARK = """\

[[observation]]
flow_m3_s = { lognormal = { median = 5.0, cov = 0.15 }, basis = "gauge at the mill", evidence = "measured" }
level_m = 31.45
sd_m = 0.08
at = "garden"
basis = "wrack mark on the garden wall"

[[observation]]
flow_m3_s = 3.2
level_m = 31.1
sd_m = 0.05
"""
TEXT = SOUND + MARK


def spoilt(*changes: tuple[str, str]) -> str:
    return edited(*changes, text=TEXT)


def test_observations_are_read(tmp_path: Path) -> None:
    first, second = read(tmp_path, TEXT).content.observation
    assert first.flow_m3_s.distribution is not None
    assert first.flow_m3_s.median == pytest.approx(5.0)
    assert (first.level_m, first.sd_m, first.at) == (31.45, 0.08, "garden")
    assert first.basis == "wrack mark on the garden wall"
    assert second.flow_m3_s.distribution is None
    assert second.at is None
    assert read(tmp_path, SOUND).content.observation == []


def test_observations_are_in_the_register_and_not_among_the_inputs(tmp_path: Path) -> None:
    problem = built(tmp_path, TEXT)
    assert problem.inputs.names == built(tmp_path, SOUND).inputs.names
    listed = {item.name: item for item in problem.assumptions if item.name.startswith("observation")}
    assert list(listed) == [f"observation {n}.{key}" for n in (1, 2) for key in ("flow_m3_s", "level_m")]
    assert listed["observation 1.flow_m3_s"].basis == "gauge at the mill"
    assert listed["observation 1.level_m"].words == "31.45, standard deviation of the error 0.08"
    assert not listed["observation 2.flow_m3_s"].uncertain
    assert "observation 2.level_m" in problem.gaps()
    assert "observation 1.level_m" not in problem.gaps()


KEYS = "flow_m3_s, level_m, sd_m, at, basis"
CASES = [
    ("sd_m = 0.08", "sd_m = 0", "observation 1.sd_m", "a number above 0", "the number 0", "Correct the number."),
    ("sd_m = 0.08", "sdm = 0.08", "observation 1.sdm", f"one of the keys {KEYS}", "the unknown key sdm", "Did you mean sd_m?"),
    ("level_m = 31.45", "level_m = 31450", "observation 1.level_m", "a number from -500 to 9000", "the number 31450", "Correct the number."),
    ("level_m = 31.45", 'level_m = "31.45"', "observation 1.level_m", "a number from -500 to 9000", 'the text "31.45"', "Remove the quotation marks."),
    ("flow_m3_s = 3.2", "flow_m3_s = -3.2", "observation 2.flow_m3_s", "a flow [m3/s] from 0.0001 to 20000", "the number -3.2", "Correct the number (the unit stands at the end of its name)."),
    ("median = 5.0, cov = 0.15", "median = 5.0, cv = 0.15", "observation 1.flow_m3_s.lognormal.cv", "one of the keys median, cov, mean, sd, low, high", "the unknown key cv", "Did you mean cov?"),
    ('at = "garden"', 'at = "gardn"', "observation 1.at", "the id of an element", 'the text "gardn"', 'Write "garden".'),
    ('evidence = "measured"', "survey = { sd_after = 0.2, cost = 9 }", "observation 1.flow_m3_s.survey", "no survey of a flood that is over", "one", "Remove it."),
    ('at = "garden"', "at = 2", "observation 1.at", "a text in quotation marks", "the number 2", "Put it in quotation marks."),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[2]}: {case[4]}")
def test_one_fault_with_its_place_and_its_remedy(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, name, expected, got, remedy = case
    text = spoilt((old, new))
    line = line_of(new, text)
    assert only_fault(tmp_path, text) == Fault(f"line {line}, {name}", expected, got, remedy)


def test_a_missing_level_and_another_fault_come_in_one_pass(tmp_path: Path) -> None:
    found = faults(
        tmp_path, spoilt(("level_m = 31.1\n", ""), ('at = "garden"', 'at = "mill"'), ("seed = 3", "seed = -3"))
    )
    assert [fault.place.split(", ")[1] for fault in found] == ["run.seed", "observation 1.at", "observation 2.level_m"]
    assert found[2].expected == "the highest level that was seen [m]"
    assert found[2].remedy == "Add level_m = ... here."


def test_observations_in_single_brackets(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, SOUND + "\n[observation]\nlevel_m = 31.1\n")
    assert fault.remedy == "Write it as [[observation]], in double brackets."


def test_an_alternative_has_no_observations(tmp_path: Path) -> None:
    text = TEXT + '\n[[alternative]]\nname = "No garden"\nremove = ["garden"]\n'
    study = read(tmp_path, text)
    assert len(study.content.observation) == 2
    assert study.alternatives["No garden"].observation == []
