"""A blockage from a row of a table: the row's own values, and how they are known in the register."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.hydraulics.tables import read_table
from overbank.study.build import build
from overbank.study.collect import Assumption
from overbank.study.guidelines import guideline_words, guidelines, starting_points, starting_words
from overbank.study.reading.table import UNKNOWN
from overbank.uncertain.distributions import Distribution
from small import BLOCKAGE, study

NAME = "lane.screen.blockage"


def taken(folder: Path, words: str, more: str = "") -> tuple[Distribution, Assumption]:
    """The distribution of the blockage and its line of the register."""
    problem = build(study(folder, (BLOCKAGE, f'blockage = {{ guideline = "{words}"{more} }}')))
    item = next(each for each in problem.assumptions if each.name == NAME)
    return problem.inputs.items[problem.inputs.index(NAME)].distribution, item


@pytest.mark.parametrize("row", read_table("blockage_starting_points"), ids=lambda row: row["id"])
def test_starting_points_are_the_table(row: dict[str, str]) -> None:
    """The mean stands in the table, computed independently: at_one + (1 - at_zero - at_one) a/(a + b)."""
    distribution, basis, how_known = guidelines()[row["case"]]
    assert distribution.mean == pytest.approx(float(row["mean"]), abs=5.1e-4)
    assert float(distribution.cdf(0.0)) == pytest.approx(float(row["at_zero"]))
    assert how_known == "own proposal, not published"
    assert how_known in basis


@pytest.mark.parametrize("row", read_table("blockage_guidance"), ids=lambda row: row["id"])
def test_most_likely_values_become_a_pert_with_that_mode(row: dict[str, str]) -> None:
    """Australian Rainfall and Runoff (2019), Book 6, chapter 6, from memory, unverified. Mean (0 + 4 m + 1)/6."""
    words = f"{row['part']}, {row['class']}, {row['debris_potential']} debris potential"
    distribution, basis, _ = guidelines()[words]
    assert distribution.mean == pytest.approx((4.0 * float(row["most_likely_blockage"]) + 1.0) / 6.0)
    assert distribution.support == (0.0, 1.0)
    assert "from memory, unverified" in basis
    assert "own proposal, not published" in basis


def test_no_row_is_lost() -> None:
    rows = len(read_table("blockage_starting_points")) + len(read_table("blockage_guidance"))
    assert len(guidelines()) == rows == 24
    assert guideline_words() == tuple(guidelines())
    assert starting_words() == tuple(starting_points())


def test_how_well_it_is_known_may_be_said(tmp_path: Path) -> None:
    _, item = taken(tmp_path, "screen, low debris, raked on alert", ', evidence = "published"')
    assert item.evidence == "published"


def test_a_guideline_in_a_study(tmp_path: Path) -> None:
    words = "inlet, clear opening narrower than L10, medium debris potential"
    distribution, item = taken(tmp_path, words, ', basis = "any branch is longer than the gaps are wide"')
    assert distribution.mean == pytest.approx(0.5)
    assert (item.evidence, item.kind) == ("judgement", "each flood")
    assert item.basis is not None
    assert "unverified" in item.basis
    assert item.basis.endswith("; any branch is longer than the gaps are wide")


@pytest.mark.parametrize(
    ("changed", "place", "remedy"),
    [
        ('guideline = "screen, low debris"', "guideline", 'Write "screen, low debris, raked on alert".'),
        ('guidline = "screen, low debris, raked on alert"', "guidline", "Did you mean guideline?"),
        ('guideline = "screen, low debris, raked on alert", value = 0.3', "value", UNKNOWN),
    ],
)  # fmt: skip
def test_what_is_refused(tmp_path: Path, changed: str, place: str, remedy: str) -> None:
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (BLOCKAGE, f"blockage = {{ {changed} }}"))
    (fault,) = caught.value.faults
    assert fault.place.endswith(f"{NAME}.{place}")
    assert fault.remedy == remedy
