"""The usual design checks and the reach of influence on the page: figures of the run, and no verdicts."""

from __future__ import annotations

import re

import pytest

from overbank.report import design

from .outcomes import outcome
from .pages import page

SPACE = "\u00a0"

JUDGEMENTS = re.compile(
    r"\b(pass(?:es|ed)?|fails?|failed|adequate|inadequate|acceptable|unacceptable|(?:in)?sufficient|compl(?:y|ies|iant)"
    r"|satisf\w+|ok|safe|unsafe|good|bad|must|should|too small|too low|required to)\b",
    re.IGNORECASE,
)
SOME = ("lane", "box", "no blockage", "no way through", "never a way through", "floods of a year")


@pytest.mark.parametrize("study", SOME)
def test_every_figure_stands_on_the_page(study: str) -> None:
    made, text = outcome(study), page(study).section("design")
    for group in design.figures(made):
        assert group.element in text
        for line in group.lines:
            for cell in line:
                assert " ".join(cell.replace(SPACE, " ").split()) in text
    for flows in design.flows(made):
        assert sum(line.certain for line in flows.lines) <= 1
        for flow in flows.lines:
            assert flow.words in text


@pytest.mark.parametrize("study", SOME)
def test_nothing_on_the_page_judges(study: str) -> None:
    text = page(study).section("design")
    assert "figures and margins, not verdicts: local standards set what is required" in text
    assert JUDGEMENTS.findall(text) == []
    assert JUDGEMENTS.findall(page(study).section("felt")) == []


def test_numbers_of_the_lane() -> None:
    """Clean screen: 3.6 m by 1.9 m, gaps of 125 mm between bars of 20 mm, over a box of 2.4 m by 1.5 m."""
    (group,) = design.figures(outcome("lane"))
    lines = {line.figure: line for line in group.lines}
    clean = lines["open area of the screen over that of the barrels, clean"]
    assert clean.certain == f"{3.6 * 1.9 * 125 / 145 / 3.6:.2f}"
    assert clean.asked == "3.00, default"
    assert clean.margin == "\u2212" + f"{3.0 - 3.6 * 1.9 * 125 / 145 / 3.6:.2f}"
    assert clean.below.startswith(f"100{SPACE}%")
    in_barrel = lines["free height from the water to the soffit, in the barrel"]
    share = next(each for each in outcome("lane").checks.figures if each.name == "freeboard_to_soffit_m").below
    assert in_barrel.below.startswith(f"{100 * share.value:.1f}{SPACE}%")


def test_no_way_through_is_said_where_figures_would_stand() -> None:
    (group,) = design.figures(outcome("never a way through"))
    assert group.lines[0].certain == "no way through"
    assert group.lines[0].margin == ""
    (line,) = design.felt(outcome("never a way through"))
    assert (line.afflux, line.tenth, line.small) == ("no way through",) * 3


def test_how_far_the_lane_is_felt() -> None:
    (line,) = design.felt(outcome("lane"))
    (found,) = outcome("lane").influences
    assert line.afflux == f"{found.at_structure:.2f}{SPACE}m"
    assert line.tenth == "more than 80 m"
    assert f"{found.left:.2f} m are left" in line.notes
    assert line.notes.endswith(".")
