"""The section about people: every figure of the run stands there, in words that judge nothing."""

from __future__ import annotations

import re
from dataclasses import replace
from math import inf, nan

import pytest

from overbank.analysis.intervals import Estimate
from overbank.outputs.people import RakingFacts
from overbank.report import people
from overbank.report.people import SPACE, measured, raking_facts, said

from .outcomes import outcome
from .pages import page

STUDIES = ("lane", "box", "no way through", "never a way through")

ADVICE = re.compile(
    r"\b(do not screen|don't screen|be screened|screen it|fit a screen|remove the screen|"
    r"recommend\w*|advis\w*|acceptable|unacceptable|(is|are) safe|too dangerous|should|ought)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("study", STUDIES)
def test_every_figure_stands_on_the_page(study: str) -> None:
    text = page(study).section("people")
    (group,) = people.people(outcome(study))
    cells = [cell for side in group.sides for line in side.lines for cell in (line.certain, line.span)]
    cells += [line.quantiles[1].value for side in group.sides for line in side.lines]
    cells += [cell for line in group.rating.lines for each in line.cells for cell in each]
    cells += [*group.raking, *group.taken, *people.CAUTIONS, group.full]
    for cell in cells:
        assert " ".join(cell.replace(SPACE, " ").split()) in text, cell
    for title in people.SIDES.values():
        assert title in text


@pytest.mark.parametrize("study", STUDIES)
def test_nothing_on_the_page_advises(study: str) -> None:
    assert ADVICE.findall(page(study).section("people")) == []


def test_both_sides_are_told_without_a_screen() -> None:
    (group,) = people.people(outcome("box"))
    assert [bool(side.lines) for side in group.sides] == [False, True]
    assert "Held on the bars: there are no bars before this inlet." in page("box").section("people")


def test_how_well_the_classes_are_known_stands_beside_them() -> None:
    group = people.people(outcome("lane"))[0]
    assert "from memory, unverified" in group.rating.source
    assert "read second hand" in group.second


def test_endless_figures_are_words() -> None:
    assert measured(inf, "N") == "endless"
    assert measured(inf, "s") == "nothing passes"
    assert measured(nan, "m") == "no solution"
    assert "endless" in page("never a way through").section("people")


def test_digits_that_count() -> None:
    assert said(Estimate(1765.8, 1731.0, 1802.0, ""), "N") == (f"1800{SPACE}N", f"1700 to 1800{SPACE}N")
    assert said(Estimate(0.503, 0.498, 0.512, ""), "m") == (f"0.50{SPACE}m", f"0.50 to 0.51{SPACE}m")
    assert said(Estimate(22.0, 22.0, 22.0, ""), "m") == (f"22.00{SPACE}m", "")
    assert said(Estimate(1.0, nan, nan, ""), "m/s") == (f"1.0{SPACE}m/s", "none can be given")


def test_facts_of_raking_in_words() -> None:
    found = next(each.raking for each in outcome("lane").people)
    assert found is not None
    words = " ".join(raking_facts(found))
    # 1.9 m upright at 60 deg: 1.9 / sin 60 = 2.19 m along the bars
    assert f"1.90{SPACE}m high upright, 2.19{SPACE}m along the bars" in words
    assert words.count("not stated") == 3
    some = next(each.full for each in outcome("lane").people)
    known = replace(found, platform_level_m=32.3, to_foot_m=2.5, rake_length_m=2.0, cross_bars=True, platform_wet=some)
    words = " ".join(raking_facts(known))
    assert f"the lowest 0.50{SPACE}m are out of its reach" in words
    assert "not stated" not in words
    assert "down to their foot" in " ".join(raking_facts(replace(known, rake_length_m=2.6)))
    alone = RakingFacts(60.0, 1.9, 2.19, None, None, 2.0, None, None)
    assert f"A rake reaches 2.00{SPACE}m along the bars." in list(raking_facts(alone))
