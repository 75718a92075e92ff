"""The sections that only a study with alternatives has: each is whole, and says what its output holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from outputs.everything import everything
from overbank.commands.terminal import show_answer
from overbank.report.arrangements import alike, lines
from overbank.report.page import page
from overbank.report.reviewers_figures import order, worse_off
from overbank.words import change, rounded, scaled
from shared import shared_run

from .outcomes import outcome
from .reading import Page

ONLY = ("decision_map", "years", "money", "surveys_over_life")
MORE_STATES = ("samples = 256", "samples = 2048")
"""A flood seen tells nothing where few states of knowledge are left."""


def test_the_terminal_tells_the_year_of_every_alternative(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    made = shared_run(everything(tmp_path, MORE_STATES), ONLY)
    show_answer(made)
    said = capsys.readouterr().out.replace("\u00a0", " ")
    for each in made.years[1:]:
        row = next(line for line in said.splitlines() if f"in a year, {each.name}" in line)
        assert rounded(each.sheet.in_a_year, "p").value.replace("\u00a0", " ") in row


def test_years_money_and_what_would_change_the_choice(tmp_path: Path) -> None:
    made = shared_run(everything(tmp_path, MORE_STATES), ONLY)
    text = page(made, {})
    assert "Could not be done" not in text
    words = Page(text).text.replace("\u00a0", " ")
    assert made.years is not None
    assert made.decision_map is not None
    assert made.money is not None
    stands, wider = made.years
    assert wider.change is not None
    assert stands.after is not None
    for figure in (stands.sheet.over[30], wider.sheet.in_a_year, stands.after.in_a_year):
        assert rounded(figure, "p").value.replace("\u00a0", " ") in words
    assert change(wider.change.over[50], "p").value.replace("\u00a0", " ") in words
    assert "as it stands, after the floods seen" in words
    assert words.count("twice as much debris") == len({each.dependence for each in made.decision_map})
    for each in made.decision_map:
        assert each.turn is None or f"{each.turn[1]}, {abs(each.turn[0]):.2f} m" in words
    assert f"told in {sum(each.told for each in made.decision_map)} of 9 assumptions" in order(made)
    assert made.surveys_over_life is not None
    assert scaled(made.surveys_over_life.everything, 1.0, "", 0).value in words
    best = made.money.each[0].best
    assert best is not None
    assert rounded(best, "p").value.replace("\u00a0", " ") in words


def test_what_acts_in_time_only_is_not_told_as_a_difference_of_nought() -> None:
    made = outcome("flood in time")
    assert alike(made) == ("nobody",)
    assert [line.name for line in lines(made)] == ["as it stands"]
    assert worse_off(made) == "1 with the same levels in a steady flood"
    assert "With the very same levels" in page(made, {})
