"""Every study of `directed`: the program's figures beside what is right."""

from __future__ import annotations

from pathlib import Path

import pytest

from referee.bare_sites import Directed, pond
from referee.directed import ALL, MOST_SPREAD
from referee.directed_water import ruled_by_the_bank
from referee.judging import HEADER, judged
from referee.results_adapter import (
    HEADLINES,
    in_the_spread,
    in_the_terminal,
    numbers_of_summary,
    results,
    run,
    steps_of_automatic,
    where_it_is_told,
)
from referee.site_adapter import SiteFunction

RARE = 1e-4


@pytest.mark.parametrize("directed", ALL, ids=lambda each: f"{each.item} {each.case.name}")
def test_figures_are_right(directed: Directed, tmp_path: Path) -> None:
    folder = directed.case.written(tmp_path)
    truth = directed.truth(directed.case, SiteFunction(folder))
    driven = any(name.startswith("event") for name in truth)
    said = results(folder, (*HEADLINES, "drivers") if driven else HEADLINES).figures
    missing = [name for name in truth if name not in said]
    lines = [judged(directed.case.name, name, said[name], each) for name, each in truth.items() if name in said]
    wrong = [line.words for line in lines if not line.agrees]
    vague = [
        line.words
        for line in lines
        if line.truth.value < RARE and not line.said.high - line.said.value <= MOST_SPREAD * line.truth.value
    ]
    assert not missing, f"nothing is said of: {', '.join(missing)}"
    assert not wrong, "\n".join([HEADER, *wrong])
    assert not vague, "\n".join(["so rare that only a figure, not a limit, tells it:", HEADER, *vague])


def test_the_level_does_not_hold_the_uncertainty_of_the_bank(tmp_path: Path) -> None:
    # 9: the distribution of the level is the same whatever is known of the bank, so that the bank cannot be in it
    banks = ("10.6", "{ normal = { mean = 10.6, sd = 0.2 } }")
    flow, shift = "design_m3_s = { normal = { mean = 5.0, sd = 0.5 } }", "{ normal = { mean = 0.0, sd = 0.1 } }"
    known, vague = (pond(f"bank {number}", flow, bank, shift) for number, bank in enumerate(banks))
    levels = [results(case.written(tmp_path / case.name)).figures["level 0.9"] for case in (known, vague)]
    assert levels[0].value == pytest.approx(levels[1].value, abs=2e-3)
    within, warning = in_the_spread(run(tmp_path / vague.name, ("headwater", "medians")))
    assert "bank" not in within
    assert "what is not known of the bank itself is not in the level, and may be in a freeboard" in warning


def test_an_automatic_number_of_samples_looks_at_the_floods_of_a_year(tmp_path: Path) -> None:
    # 15: with the level known to a millimetre the yearly figure may still be a guess
    case = pond(
        "automatic", "design_annual_probability = 0.01\nannual = { gumbel = { location = 3.0, scale = 0.6 } }",
        "{ normal = { mean = 10.55, sd = 0.05 } }", "{ normal = { mean = 0.0, sd = 0.05 } }",
    )  # fmt: skip
    text = case.text.replace("samples = 4096", 'samples = "auto"\nprecision_m = 0.01\nmost_samples = 16384')
    folder = case.written(tmp_path)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    assert any("year" in name for name in steps_of_automatic(run(folder)))


@pytest.mark.parametrize(
    ("name", "figure", "words"),
    [
        ("even clean exceeds the target", "largest", "even clean exceeds the target"),
        ("no blockage gives the level", "allowance", "no blockage up to 1 raises the median run to that level"),
    ],
)
def test_where_there_is_none_it_is_empty_with_words(
    name: str, figure: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 3: in summary.json, in every table that has it, and in the terminal
    directed = next(each for each in ALL if each.case.name == name)
    outcome = run(directed.case.written(tmp_path / "none"), (*HEADLINES, "targets", "allowances"))
    numbers, note = where_it_is_told(outcome, figure)
    assert numbers == [None] * 9
    assert note == f"none: {words}"
    assert in_the_terminal(outcome, figure, lambda: capsys.readouterr().out) == ("none", words)


def test_a_rare_probability_stands_in_the_summary(tmp_path: Path) -> None:
    # 7, 13: a figure of 3e-7 that is written as 0 says that it cannot happen
    directed = ruled_by_the_bank()
    folder = directed.case.written(tmp_path)
    truth = directed.truth(directed.case, SiteFunction(folder))["overtopping"].value
    numbers = numbers_of_summary(run(folder))
    assert any(number == pytest.approx(truth, rel=0.05) for number in numbers)


def test_every_complaint_has_a_study() -> None:
    assert {each.item for each in ALL} == {*range(1, 16)} - {9, 15}
