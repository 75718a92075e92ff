"""A surveyed section between levees: the same as a survey of what lies between them; what cannot be."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.site.surveyed import WALLS
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from overbank.study.load import read_study

STUDY = """\
title = "A stream between levees (invented)"
[run]
samples = 64
replicates = 2
seed = 3
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = { lognormal = { median = 12.0, cov = 0.3 }, basis = "invented" }
[tailwater]
level_m = 11.5
[[element]]
kind = "channel"
id = "stream"
section = { shape = "surveyed", points = "section.csv", LIMITSzones = [{ manning_n = 0.035 }] }
length_m = 200.0
bed_slope = 0.001
bank_level_m = 12.8
"""

VALLEY = "0,12.5\n10,10.6\n20,10.7\n22,12.4\n23,12.4\n26,10.0\n30,10.0\n33,12.2\n34,12.3\n36,10.5\n50,10.8\n60,13.0\n"
BETWEEN = "23,12.4\n26,10.0\n30,10.0\n33,12.2\n"
LIMITS = "flows_within_m = [23, 33], "


def stream(folder: Path, points: str, limits: str) -> Problem:
    folder.mkdir(exist_ok=True)
    (folder / "section.csv").write_text("offset_m,level_m\n" + points, encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.replace("LIMITS", limits), encoding="utf-8")
    return build(read_study(folder / "study.toml"))


def levels(found: Problem) -> np.ndarray:
    drawn = {"flow.design_m3_s": np.linspace(1.0, 40.0, 50)}
    return np.array(found.site.march({**found.medians(), **drawn}, 50).element("stream").level)


def test_between_levees_is_the_survey_between_them(tmp_path: Path) -> None:
    inside = levels(stream(tmp_path / "a", VALLEY, LIMITS))
    np.testing.assert_array_equal(inside, levels(stream(tmp_path / "b", BETWEEN, "")))
    assert (inside > levels(stream(tmp_path / "c", VALLEY, "")) + 0.01).any()  # the plain behind them carried water


def test_a_cut_between_points_and_a_step_at_a_levee(tmp_path: Path) -> None:
    cut = stream(tmp_path / "a", VALLEY, "flows_within_m = [24.5, 31.5], ")
    by_hand = "24.5,11.2\n26,10.0\n30,10.0\n31.5,11.1\n"
    np.testing.assert_allclose(levels(cut), levels(stream(tmp_path / "b", by_hand, "")), atol=1e-9)
    wall = VALLEY.replace("23,12.4\n", "23,12.4\n23,10.2\n")
    stepped = stream(tmp_path / "c", wall, LIMITS)
    np.testing.assert_array_equal(
        levels(stepped), levels(stream(tmp_path / "d", BETWEEN.replace("26,", "23,10.2\n26,"), ""))
    )


def test_water_over_a_levee_is_said(tmp_path: Path) -> None:
    found = stream(tmp_path, VALLEY, LIMITS)
    for flow, said in ((5.0, False), (45.0, True)):
        numbers = {**found.medians(), "flow.design_m3_s": flow}
        words = {each.words for each in remarks(found.site, found.site.march(numbers, 1), numbers)}
        assert (WALLS in words) == said


FAULTS = {
    "outside": ("flows_within_m = [-1, 33], ", "offsets inside the survey, from 0 to 60"),
    "turned": ("flows_within_m = [33, 23], ", "two offsets [m], the left one first"),
    "one": ("flows_within_m = [23], ", "two offsets [m]"),
    "words": ('flows_within_m = ["a", 33], ', "two offsets [m]"),
    "no list": ("flows_within_m = 23, ", "two offsets [m]"),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(what: str, tmp_path: Path) -> None:
    limits, expected = FAULTS[what]
    with pytest.raises(StudyError) as caught:
        stream(tmp_path, VALLEY, limits)
    assert any("flows_within_m" in each.place and expected in each.expected for each in caught.value.faults)
