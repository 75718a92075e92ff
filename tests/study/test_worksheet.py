"""A blockage from a worksheet: the class of the table, a starting point with its grade, and one message if wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.guidelines import starting_points
from overbank.study.worksheet import STARTS, Worksheet
from small import BLOCKAGE, study

NAME = "lane.screen.blockage"
GIVEN = 'delivery = "high", location = "in the channel", longest_piece_m = 4.0, gap_m = 0.125, sources = "alders"'


def given(sheet: str = GIVEN) -> str:
    return f'blockage = {{ worksheet = {{ {sheet} }}, basis = "walked in May" }}'


@pytest.mark.parametrize(
    ("location", "low", "high"),
    [
        ("sheltered", "low", "low"),
        ("on the bank", "low", "medium"),
        ("in the channel", "medium", "high"),
        ("in the path", "medium", "high"),
    ],
)
def test_classes(location: str, low: str, high: str) -> None:
    """Diehl 1997, FHWA-RD-97-028: a gap wider than the longest piece and a sheltered one low (text read); the others as
    its flow chart has them (from memory, unverified)."""
    for delivery, told in (("low", low), ("high", high)):
        seen = {"delivery": delivery, "location": location, "longest_piece_m": 3.0}
        assert Worksheet.model_validate({**seen, "gap_m": 3.0}).row["potential"] == told
        assert Worksheet.model_validate({**seen, "gap_m": 3.01}).row["potential"] == "low"


def test_more_is_never_better() -> None:
    """More delivered, a place nearer the path, a narrower gap: the mean blocked share never falls."""
    means = {name: starting_points()[start].mean for name, start in STARTS.items()}
    assert means["low"] < means["medium"] < means["high"]
    found = [
        [
            means[
                Worksheet.model_validate(
                    {"delivery": delivery, "location": place, "longest_piece_m": 2.0, "gap_m": 1.0}
                ).row["potential"]
            ]
            for place in ("sheltered", "on the bank", "in the channel", "in the path")
        ]
        for delivery in ("low", "high")
    ]
    assert all(row == sorted(row) for row in found)
    assert all(a <= b for a, b in zip(*found, strict=True))


def test_it_stands_in_the_register_as_judgement(tmp_path: Path) -> None:
    problem = build(study(tmp_path, (BLOCKAGE, given())))
    item = next(each for each in problem.assumptions if each.name == NAME)
    assert item.evidence == "judgement"
    assert item.basis is not None
    for words in ("high potential, relative and no probability", "own proposal, not published", "alder", "walked"):
        assert words in item.basis
    distribution = problem.inputs.items[problem.inputs.index(NAME)].distribution
    assert distribution.mean == pytest.approx(starting_points()[STARTS["high"]].mean)


@pytest.mark.parametrize(
    ("sheet", "told"),
    [
        (GIVEN.replace('"high"', '"much"'), "low"),
        (GIVEN.replace("longest_piece_m = 4.0, ", ""), "longest_piece_m"),
        (GIVEN.replace("0.125", "-1"), "gap_m"),
    ],
)
def test_what_is_wrong_is_told(tmp_path: Path, sheet: str, told: str) -> None:
    with pytest.raises(StudyError, match=told):
        study(tmp_path, (BLOCKAGE, given(sheet)))
