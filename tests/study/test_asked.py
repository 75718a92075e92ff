"""What a study asks of its culverts and bridges, what is taken where it asks for nothing, and faults in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from study.river import RIVER, built_river
from study.sound import SOUND, built, edited, only_fault

SCREEN = SOUND[SOUND.index("[element.screen]") : SOUND.index("[element.road]")]


def asking(table: str, *more: tuple[str, str]) -> str:
    return edited(('id = "lane"\n', f'id = "lane"\nasked = {table}\n'), *more)


def test_what_is_asked_is_a_certain_number_of_the_site(tmp_path: Path) -> None:
    table = '{ freeboard_to_soffit_m = { value = 0.3, basis = "the county (invented)" }, screen_area_ratio = 4 }'
    problem = built(tmp_path, asking(table))
    assert problem.fixed["lane.asked.freeboard_to_soffit_m"] == 0.3
    assert problem.fixed["lane.asked.screen_area_ratio"] == 4.0
    known = {item.name: item for item in problem.assumptions}
    assert known["lane.asked.freeboard_to_soffit_m"].basis == "the county (invented)"
    assert problem.origin("lane.asked.screen_area_ratio") == "study"


def test_defaults_are_the_programs_own_and_say_so(tmp_path: Path) -> None:
    problem = built(tmp_path, SOUND)
    assert problem.fixed["lane.asked.freeboard_to_soffit_m"] == 0.0
    assert problem.fixed["lane.asked.screen_area_ratio"] == 3.0
    known = {item.name: item for item in problem.assumptions}
    assert "common practice, no source" in (known["lane.asked.screen_area_ratio"].basis or "")
    assert problem.origin("lane.asked.screen_area_ratio") == "default"
    assert problem.origin("lane.screen.width_m") == "study"
    assert problem.origin("") == ""


def test_one_may_be_given_and_the_other_left(tmp_path: Path) -> None:
    problem = built(tmp_path, asking("{ freeboard_to_soffit_m = 0.3 }"))
    assert problem.origin("lane.asked.freeboard_to_soffit_m") == "study"
    assert problem.origin("lane.asked.screen_area_ratio") == "default"


def test_a_culvert_without_a_screen_is_asked_for_no_ratio(tmp_path: Path) -> None:
    dependence = SOUND[SOUND.index("[[dependence]]") :]
    bare = ((SCREEN, ""), (dependence, ""))
    assert "lane.asked.screen_area_ratio" not in built(tmp_path, edited(*bare)).fixed
    fault = only_fault(tmp_path, asking("{ screen_area_ratio = 3.0 }", *bare))
    assert "lane.asked.screen_area_ratio" in fault.place
    assert "only of a culvert with a screen" in fault.expected


def test_the_air_gap_of_a_bridge(tmp_path: Path) -> None:
    assert built_river(tmp_path).fixed["road.asked.air_gap_m"] == 0.0
    text = RIVER.replace('id = "road"\n', 'id = "road"\nasked = { air_gap_m = 0.6 }\n')
    assert built_river(tmp_path, text).fixed["road.asked.air_gap_m"] == 0.6


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("-0.1", "a height [m] from 0 to 10, one certain number"),
        ('"0.3"', "a height [m] from 0 to 10, one certain number"),
        ("{ normal = { mean = 0.3, sd = 0.1 } }", "a height [m] from 0 to 10, one certain number"),
    ],
)
def test_faults_of_what_is_asked(tmp_path: Path, written: str, expected: str) -> None:
    fault = only_fault(tmp_path, asking(f"{{ freeboard_to_soffit_m = {written} }}"))
    assert "lane.asked.freeboard_to_soffit_m" in fault.place
    assert fault.expected == expected
    assert fault.remedy


def test_a_misspelt_key(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, asking("{ freeboard_m = 0.3 }"))
    assert "Did you mean freeboard_to_soffit_m?" in fault.remedy
