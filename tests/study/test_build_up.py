"""A build-up in a study: its ways, what may be left out, and faults in the words of the house."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.uncertain.build_up import BuildUp
from small import BLOCKAGE, study

NAME = "lane.screen.blockage"
EVEN = "rate_per_day = 0.02, ceiling = 0.8, raked_every_days = 14"


def written(folder: Path, parameters: str, more: str = "") -> object:
    """The distribution of the blockage that those parameters give."""
    problem = build(study(folder, (BLOCKAGE, f"blockage = {{ build_up = {{ {parameters} }}{more} }}")))
    return problem.inputs.items[problem.inputs.index(NAME)].distribution


def test_both_ways_and_what_may_be_given(tmp_path: Path) -> None:
    assert written(tmp_path, EVEN) == BuildUp(0.02, 0.8, 14.0)
    random = EVEN.replace("raked_every", "raked_on_average_every") + ", at_one = 0.02, flood_hours = 4"
    assert written(tmp_path, random) == BuildUp.raked_at_random(0.02, 0.8, 14.0, at_one=0.02, flood_hours=4.0)


def test_without_a_basis_it_is_a_gap(tmp_path: Path) -> None:
    change = (BLOCKAGE, f"blockage = {{ build_up = {{ {EVEN} }} }}")
    assert NAME in build(study(tmp_path, change)).gaps()


@pytest.mark.parametrize(
    ("parameters", "expected", "remedy"),
    [
        ("rate_per_day = 0.02, ceiling = 0.8", "and raked_every_days, or rate_per_day", "Give one of the two sets."),
        (f"{EVEN}, raked_on_average_every_days = 3", "or rate_per_day", "Give one of the two sets."),
        (EVEN.replace("every", "evry"), "raked_every_days", "Did you mean raked_every_days?"),
        (f"{EVEN}, attended = 1.2", "attended between 0 and 1", "Correct the parameters of the distribution."),
        (EVEN.replace("0.8", "80"), "ceiling above 0 and not above 1", "Correct the parameters of the distribution."),
        (f"{EVEN}, flood_hours = '6'", "a number", "Remove the quotation marks."),
        (f"{EVEN}, at_one = 1", "a distribution that varies", "Write { value = 1 }."),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, parameters: str, expected: str, remedy: str) -> None:
    with pytest.raises(StudyError) as caught:
        written(tmp_path, parameters)
    (fault,) = caught.value.faults
    assert expected in fault.expected
    assert fault.remedy == remedy
    assert fault.place.startswith(f"line 31, {NAME}.build_up")
