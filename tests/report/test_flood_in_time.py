"""The section of the flood in time holds what the outputs hold, and its pictures can be drawn."""

from __future__ import annotations

import numpy as np

from overbank.report import passing
from overbank.report.captions import CAPTIONS
from overbank.report.figures import FIGURES
from overbank.report.sections.registry import SECTIONS
from overbank.words import rounded

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
    assert len(shown["warning_lines"]) == 7
    assert section.content(outcome("lane")) is None


def test_its_pictures_show_the_course_and_the_time_over_the_bank() -> None:
    made = outcome("flood in time")
    through = passing.through_of(made)
    course = FIGURES["course_of_flood"](made)
    line = course.axes[2].get_lines()[0]
    np.testing.assert_array_equal(line.get_ydata(), through.course.level[1])
    hours = FIGURES["hours_over_bank"](made)
    np.testing.assert_array_equal(hours.axes[0].get_lines()[0].get_ydata(), through.best.hours_over.probability)
    by_travel = FIGURES["warning_by_travel"](made)
    assert through.warning is not None
    shares = [each.value for each in through.warning.in_time.values()]
    np.testing.assert_array_equal(by_travel.axes[0].get_lines()[0].get_ydata(), shares)
    for name in NAMES:
        assert "nan" not in CAPTIONS[name](made).described
