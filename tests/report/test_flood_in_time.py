"""The section of the flood in time holds what the outputs hold, and its pictures can be drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.outputs.through_flood import OUTPUT
from overbank.outputs.years_in_time import YearsInTime
from overbank.report import passing
from overbank.report import reviewers_figures as told
from overbank.report.answer import answer
from overbank.report.captions import CAPTIONS
from overbank.report.figures import FIGURES
from overbank.report.sections.registry import SECTIONS
from overbank.sampling.rare_floods import OverYears
from overbank.words import rounded, scaled, share_words

from .outcomes import outcome

NAMES = ("course_of_flood", "hours_over_bank", "warning_by_travel")


def test_the_section_holds_the_figures_of_both_ways() -> None:
    made = outcome("flood in time")
    (section,) = [each for each in SECTIONS if each.anchor == "flood-in-time"]
    shown = section.content(made)
    assert shown is not None
    assert made.through_flood is not None
    assert shown["ways"] == ["nobody at work", "with the crew"]
    first = shown["flood_lines"][0]
    assert first.cells[0] == rounded(made.through_flood.nobody.over, "p")
    assert len(shown["flood_lines"]) == 2 + len(passing.FIGURES)
    assert [row.name for row in shown["arranged"]] == ["nobody"]
    assert len(shown["travel_lines"]) == 7
    warned = made.through_flood.warned
    assert warned is not None
    lines = dict(shown["warned_lines"])
    assert lines[f"warning time, not exceeded with {share_words(0.5)}"] == scaled(warned.hours[0.5], 1.0, "hours")
    assert lines["warning time, mean"] == scaled(warned.mean, 1.0, "hours")
    assert lines["the crew of the study works before the bank is reached"] == rounded(warned.in_time, "p")
    assert len(lines) == len(warned.hours) + 2
    tables = OUTPUT.tables(made.through_flood)
    hours = tables["hours_of_warning"]
    assert hours is not None
    assert list(hours["value"]) == [warned.mean.value, *(e.value for e in warned.hours.values()), warned.in_time.value]
    summed = OUTPUT.summary(made.through_flood)["through_the_flood"]["warning"]
    assert summed["mean_hours"]["value"] == pytest.approx(warned.mean.value, rel=1e-5)
    assert section.content(outcome("lane")) is None


def test_a_reviewer_is_told_how_often_it_goes_over_with_each_crew_and_in_time() -> None:
    made = outcome("flood in time")
    through = passing.through_of(made)
    assert through.crew is not None
    alone, helped = (rounded(each.over, "p").value for each in (through.nobody, through.crew))
    assert told.crews(made) == f"over the bank with nobody at work {alone}; the crew of the study {helped}"
    assert f"passed in time {helped}" in told.chances(made)
    assert told.crews(outcome("lane")) == ""


def test_its_pictures_show_the_course_and_the_time_over_the_bank() -> None:
    made = outcome("flood in time")
    through = passing.through_of(made)
    course = FIGURES["course_of_flood"](made)
    line = course.axes[2].get_lines()[0]
    np.testing.assert_array_equal(line.get_ydata(), through.course.level[1])
    hours = FIGURES["hours_over_bank"](made)
    np.testing.assert_array_equal(hours.axes[0].get_lines()[0].get_ydata(), through.best.hours_over.probability)
    by_travel = FIGURES["warning_by_travel"](made)
    assert through.by_travel is not None
    shares = [each.value for each in through.by_travel.in_time.values()]
    np.testing.assert_array_equal(by_travel.axes[0].get_lines()[0].get_ydata(), shares)
    for name in NAMES:
        assert "nan" not in CAPTIONS[name](made).described


def test_the_answer_says_what_the_steady_figures_leave_out() -> None:
    made = outcome("flood in time")
    best = passing.through_of(made).best
    (said,) = passing.sentences(made)
    words = "with what is blocked when the flood begins and nobody at work"
    assert words in said
    assert "with debris coming on and the crew coming as stated" in said
    assert (
        f"<strong>{rounded(best.over, 'p').value}</strong> (95\u00a0% interval {rounded(best.over, 'p').interval})"
        in said
    )
    assert f"below <strong>{rounded(best.level, 'm').value}</strong> ({rounded(best.level, 'm').interval})" in said
    assert words in answer(made)
    assert passing.sentences(outcome("lane")) == []


def test_the_floods_of_a_year_in_words() -> None:
    over = Probability(0.02, 0.01, 0.03, "", "", 100, 0)
    hours, none = Estimate(0.05, 0.04, 0.06, ""), Estimate(0.0, 0.0, 0.0, "")
    found = YearsInTime(over, over, OverYears(50, over), hours, hours, hours, {1.0: over, 2.0: none}, 64, 8)
    lines = dict(passing.year_lines(found))
    (said,) = passing.sentences(replace(outcome("flood in time"), years_in_time=found))
    year = rounded(over, "p")
    assert said.endswith(
        f"the floods of a year so passed go over with <strong>{year.value}</strong> ({year.interval})."
    )
    assert lines["the water goes over the bank in a year"] == rounded(over, "p")
    assert lines["at least once in 50 years"] == rounded(over, "p")
    assert [words for words in lines if "for more than" in words] == [
        "it stands over the bank for more than 1 h, in a year"
    ]
