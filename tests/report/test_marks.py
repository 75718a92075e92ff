"""Flags above a plot never cover each other and no pole crosses a flag."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.report.marks import GAP, NO_PLACE, Flag, Flown, flown
from overbank.report.style import SMALL, text_width

WIDTH, SPARE = 6.0, 0.25


def span(placed: Flown) -> tuple[float, float]:
    length = text_width(placed.flag.words, SMALL) + GAP
    return (placed.pole - length, placed.pole) if placed.leftwards else (placed.pole, placed.pole + length)


@pytest.mark.parametrize("seed", range(40))
def test_flags_keep_apart(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.integers(1, 6))
    flags = [Flag(float(at), "w" * int(random.integers(4, 28)), "") for at in random.uniform(0.0, 1.0, count)]
    placed = flown(flags, (0.0, 1.0), WIDTH, SPARE)
    if any(each.row >= NO_PLACE for each in placed):
        pytest.fail("no arrangement was found")
    for each in placed:
        left, right = span(each)
        for other in placed:
            if other is each:
                continue
            low, high = span(other)
            if each.row == other.row:
                assert right <= low + 1e-9 or high <= left + 1e-9
            if left < other.pole < right:
                assert other.row < each.row


def test_flags_stay_on_the_sheet_where_they_can() -> None:
    placed = flown([Flag(0.02, "x" * 20, ""), Flag(0.98, "x" * 20, "")], (0.0, 1.0), WIDTH, SPARE)
    assert [each.leftwards for each in placed] == [False, True]
    assert [each.row for each in placed] == [0, 0]


def test_no_flags_need_no_row() -> None:
    assert flown([], (0.0, 1.0), WIDTH, SPARE) == []
