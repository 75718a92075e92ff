"""How often intervals hold the truth: a few seeds always, a hundred with few and with many samples on demand."""

from __future__ import annotations

from pathlib import Path

import pytest

from referee.coverage import FIRST_SEED, SIZES, STUDIES, Covered, counted, unlikely


def wrong(covered: Covered, samples: int, seeds: int, folder: Path) -> dict[str, str]:
    """Figures whose intervals hold the truth too seldom, in words."""
    found = counted(covered, samples, range(FIRST_SEED, FIRST_SEED + seeds), folder)
    return {name: words for name, held in found.items() if (words := unlikely(held))}


@pytest.mark.slow
@pytest.mark.parametrize("samples", SIZES)
@pytest.mark.parametrize("covered", STUDIES, ids=lambda each: each.directed.case.name)
def test_every_interval_holds_the_truth_as_often_as_it_says(covered: Covered, samples: int, tmp_path: Path) -> None:
    assert not wrong(covered, samples, 100, tmp_path)


@pytest.mark.parametrize("covered", STUDIES[1:4:2], ids=lambda each: each.directed.case.name)
def test_intervals_hold_the_truth_in_a_few_runs(covered: Covered, tmp_path: Path) -> None:
    assert not wrong(covered, 512, 6, tmp_path)


def test_what_is_unlikely() -> None:
    assert not unlikely([True] * 95 + [False] * 5)
    assert unlikely([True] * 75 + [False] * 25)
    assert not unlikely([True] * 100)
    assert unlikely([False] * 4)
